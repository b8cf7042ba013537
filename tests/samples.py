"""Curves and types that several tests of curve sets share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import thermofit as tf

BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet", source="bench", t_range_c=(-20, 110))
TABLE = tf.Curve.from_table(
    [0, 25, 50, 75, 100], [32554, 10000, 3602, 1481, 679], id="outlet", source="a data sheet"
)

Write = Callable[..., Path]
"""What the fixture `write` gives: writes a set by hand and returns its path."""
