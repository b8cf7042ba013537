"""The nominal curve as the tolerance mathematics sees it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import ExtrapolationError
from thermofit.units import T0_K, ZERO_C_K

__all__ = ["log_ratio", "quiet_ln_r", "reading_error", "refuse_reference"]

Array = npt.NDArray[np.float64]


def quiet_ln_r(curve: Curve, t_c: npt.ArrayLike) -> Array:
    """Ln of the nominal resistance, also somewhat beyond the valid range.

    A tolerance band of the last valid temperature needs the curve a little
    beyond it; only where the curve has no value at all is that an error.
    """
    ln_r = curve._quiet_ln_r(t_c)
    if np.isnan(ln_r).any():
        missing = float(np.atleast_1d(np.asarray(t_c))[np.isnan(np.atleast_1d(ln_r))].flat[0])
        raise ExtrapolationError(f"the nominal curve has no value at {missing:g} °C")
    return ln_r


def refuse_reference(curve: Curve, *t_c: float) -> None:
    """Refuse a temperature at which a tolerance is stated but the curve is not valid."""
    for t in t_c:
        if not curve.in_range(t):
            raise ExtrapolationError(
                f"a tolerance is stated at {t:g} °C, outside the valid range of the nominal curve, "
                f"{curve.t_min_c:g} to {curve.t_max_c:g} °C"
            )


def log_ratio(curve: Curve, t_c: npt.ArrayLike) -> Array:
    """ln ρ(T) = ln R(T) − ln R25 of the nominal curve."""
    ln_r = quiet_ln_r(curve, np.append(np.asarray(t_c, dtype=np.float64), T0_K - ZERO_C_K))
    result: Array = (ln_r[:-1] - ln_r[-1]).reshape(np.shape(t_c))
    return result


def reading_error(curve: Curve, t_c: Array, ln_r: Array) -> Array:
    """Error in kelvin of a reader that assumes the nominal curve, by exact inversion.

    NaN where the nominal curve never has the resistance.
    """
    result: Array = 1.0 / curve._quiet_inv_t(ln_r) - ZERO_C_K - t_c
    return result
