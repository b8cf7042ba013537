"""Curves and types that several tests share."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import thermofit as tf

BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet", source="bench", t_range_c=(-20, 110))
TABLE = tf.Curve.from_table(
    [0, 25, 50, 75, 100], [32554, 10000, 3602, 1481, 679], id="outlet", source="a data sheet"
)

AIR = tf.Curve.beta(
    r25_ohm=10e3,
    b_k=3977.0,
    t_range_c=(-40.0, 125.0),
    covariance=[[400.0, -30.0], [-30.0, 25.0]],
    id="air",
)
AIR_FAMILY = tf.Family(AIR, r25_tol_pct=1.0, b_tol_pct=0.75)

Write = Callable[..., Path]
"""What the fixture `write` gives: writes a set by hand and returns its path."""
