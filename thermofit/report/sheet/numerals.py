"""How numbers stand on a page, and what points differ from a curve by."""

from __future__ import annotations

from decimal import ROUND_CEILING, Decimal

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.points import Points
from thermofit.report.canvas import two_digits
from thermofit.units import ZERO_C_K

__all__ = ["at_most", "minus", "off_by_k", "signed", "small"]


def minus(number: str) -> str:
    """Write a number with a minus sign rather than a hyphen."""
    return number.replace("-", "−")


def small(value: float) -> str:
    """Write an amount to two digits, without an exponent where a bench has such amounts."""
    value = float(value)
    return minus(f"{value:.1e}") if 0.0 < value < 1e-4 else two_digits(value)


def at_most(value: float) -> str:
    """Write a bound to two digits, rounded up; a dash where there is none."""
    if not np.isfinite(value):
        return "–"
    exact = Decimal(float(value))
    return small(float(exact.quantize(Decimal((0, (1,), exact.adjusted() - 1)), ROUND_CEILING)))


def signed(value: float) -> str:
    """Write a difference in kelvin; a dash where there is none."""
    return minus(f"{value:+.3f}") if np.isfinite(value) else "–"


def off_by_k(curve: Curve, points: Points) -> npt.NDArray[np.float64]:
    """Measured less fitted temperature in kelvin; NaN where the curve has none."""
    with np.errstate(all="ignore"):
        fitted = 1.0 / curve._quiet_inv_t(np.log(points.r_ohm)) - ZERO_C_K
    return np.asarray(points.t_c - fitted)
