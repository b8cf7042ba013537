"""Curve sets: curves and families in an open CSV format.

The format is described in ``docs/curve-set.md`` and, for programs, by the Table
Schema in ``curves/curve-set.schema.json``.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from thermofit.curvesets.curveset import CurveSet
from thermofit.curvesets.reader import read_curve_set

if TYPE_CHECKING:
    from thermofit.curvesets.writer import add_curve, write_curve_set

__all__ = ["CurveSet", "add_curve", "read_curve_set", "write_curve_set"]

# Whoever reads a set does not wait for what writes one.
_LATER = ("add_curve", "write_curve_set")


def __getattr__(name: str) -> Any:
    if name in _LATER:
        return getattr(importlib.import_module("thermofit.curvesets.writer"), name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
