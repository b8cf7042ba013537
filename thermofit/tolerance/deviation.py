"""The nominal curve as the tolerance mathematics sees it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import ExtrapolationError
from thermofit.units import T0_K, ZERO_C_K

__all__ = ["log_ratio", "quiet_ln_r", "reading_error"]

Array = npt.NDArray[np.float64]


def quiet_ln_r(curve: Curve, t_c: npt.ArrayLike) -> Array:
    """Ln of the nominal resistance, also somewhat beyond the valid range.

    A tolerance band of the last valid temperature needs the curve a little
    beyond it; only where the curve has no value at all is that an error.
    """
    t = np.asarray(t_c, dtype=np.float64)
    low, high = curve._reach("resistance")
    inv_t = 1.0 / (t + ZERO_C_K)
    with np.errstate(all="ignore"):
        ln_r = np.where((inv_t >= low) & (inv_t <= high), curve._ln_r(inv_t), np.nan)
    if np.isnan(ln_r).any():
        missing = float(np.atleast_1d(t)[np.isnan(np.atleast_1d(ln_r))].flat[0])
        raise ExtrapolationError(f"the nominal curve has no value at {missing:g} °C")
    return ln_r


def log_ratio(curve: Curve, t_c: npt.ArrayLike) -> Array:
    """ln ρ(T) = ln R(T) − ln R25 of the nominal curve."""
    ln_r = quiet_ln_r(curve, np.append(np.asarray(t_c, dtype=np.float64), T0_K - ZERO_C_K))
    result: Array = (ln_r[:-1] - ln_r[-1]).reshape(np.shape(t_c))
    return result


def reading_error(curve: Curve, t_c: Array, ln_r: Array) -> Array:
    """Error in kelvin of a reader that assumes the nominal curve, by exact inversion.

    NaN where the nominal curve never has the resistance.
    """
    low, high = curve._reach("temperature")
    with np.errstate(all="ignore"):
        inv_t = np.where((ln_r >= low) & (ln_r <= high), curve._inv_t(ln_r), np.nan)
        inv_t = np.where(inv_t > 0.0, inv_t, np.nan)
    result: Array = 1.0 / inv_t - ZERO_C_K - t_c
    return result
