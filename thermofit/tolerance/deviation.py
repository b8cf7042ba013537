"""The nominal curve as the tolerance mathematics sees it."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import ExtrapolationError
from thermofit.units import T0_K, ZERO_C_K

__all__ = [
    "in_kelvin", "log_ratio", "quiet_ln_r", "reading_error", "reference_ln_r", "refuse_reference",
]  # fmt: skip

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
                f"{curve.t_min_c:g} to {curve.t_max_c:g} °C{in_kelvin(curve, t)}"
            )


def in_kelvin(curve: Curve, t_c: float) -> str:
    """Say of a temperature outside the valid range that it would be inside as one in kelvin."""
    if not curve.in_range(t_c - ZERO_C_K):
        return ""
    return f"; temperatures are in °C, and {t_c:g} K are {t_c - ZERO_C_K:.5g} °C"


def log_ratio(curve: Curve, t_c: npt.ArrayLike) -> Array:
    """ln ρ(T) = ln R(T) − ln R25 of the nominal curve."""
    ln_r = curve._quiet_ln_r(np.append(np.asarray(t_c, dtype=np.float64), T0_K - ZERO_C_K))
    if np.isnan(ln_r[-1]):
        raise ExtrapolationError(
            "the nominal curve has no value at 25 °C, and R(T)/R25 is needed here; only a band "
            "from limits of R at one temperature of the curve, and of B, does without it"
        )
    if np.isnan(ln_r).any():
        quiet_ln_r(curve, t_c)
    result: Array = (ln_r[:-1] - ln_r[-1]).reshape(np.shape(t_c))
    return result


def reference_ln_r(curve: Curve, t_ref_c: float) -> Array:
    """Ln of the nominal resistance at the temperature from which deviations are reckoned."""
    ln_r = curve._quiet_ln_r(t_ref_c)
    if np.isnan(ln_r):
        raise ExtrapolationError(
            f"the nominal curve has no value at {t_ref_c:g} °C, where its resistance is taken as "
            "exact if B alone is limited; limit the resistance at a temperature of the curve as "
            "well (r_pct with r_at_c)"
        )
    return ln_r


def reading_error(curve: Curve, t_c: Array, ln_r: Array) -> Array:
    """Error in kelvin of a reader that assumes the nominal curve, by exact inversion.

    NaN where the nominal curve never has the resistance.
    """
    result: Array = 1.0 / curve._quiet_inv_t(ln_r) - ZERO_C_K - t_c
    return result
