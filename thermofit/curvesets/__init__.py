"""Curve sets: curves and families in an open CSV format.

The format is described in ``docs/curve-set.md`` and, for programs, by the Table
Schema in ``curves/curve-set.schema.json``.
"""

from thermofit.curvesets.curveset import CurveSet
from thermofit.curvesets.reader import read_curve_set
from thermofit.curvesets.writer import add_curve, write_curve_set

__all__ = ["CurveSet", "add_curve", "read_curve_set", "write_curve_set"]
