"""Guard bands in ohms, as wide as the uncertainty of a reading at the limit itself.

What a meter adds to a reading may be fixed in ohms, so that it weighs differently
at each resistance.  Taken at the limit and not at the reading, the guard band
does not depend on what is read: a reading further out is never judged more
mildly, and the limits of a bench table are those that `check` compares with.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from thermofit.decide.rule import decisions

__all__ = ["GuardedLimits", "guarded_limits"]

Array = npt.NDArray[np.float64]


class GuardedLimits(NamedTuple):
    """Limits of readings in ohms, arrays of one shape.

    The acceptance limits are NaN where the guard bands leave nothing between
    them, ``reject_below`` where no resistance is small enough to be rejected.
    """

    low: Array
    high: Array
    reject_below: Array
    accept_low: Array
    accept_high: Array
    reject_above: Array

    def decide(self, r_ohm: Array) -> npt.NDArray[np.str_]:
        """Decide on readings; NaN cannot be told."""
        return decisions(
            accept=(r_ohm >= self.accept_low) & (r_ohm <= self.accept_high),
            reject=self.rejects(r_ohm),
        )

    def rejects(self, r_ohm: Array) -> npt.NDArray[np.bool_]:
        """Whether readings lie beyond the limits of rejection."""
        beyond: npt.NDArray[np.bool_] = (r_ohm < self.reject_below) | (r_ohm > self.reject_above)
        return beyond


def guarded_limits(
    k: float | Array,
    ln_r: Array,
    low: Array,
    high: Array,
    relative: Array,
    u_r_ohm: Array,
    u_ln_t: Array,
) -> GuardedLimits:
    """Move limits inwards for acceptance and outwards for rejection.

    Parameters
    ----------
    k : float or array
        Width of the guard band in standard uncertainties.
    ln_r : array
        Of the nominal curve.
    low, high : array
        Limits of the deviation of ln R.
    relative, u_r_ohm : array
        Standard uncertainty of the meter, the part of the resistance and the ohms.
    u_ln_t : array
        That of the temperature times the temperature coefficient.

    Returns
    -------
    GuardedLimits
    """
    low_ohm, high_ohm = np.exp(ln_r + low), np.exp(ln_r + high)
    part = np.hypot(relative, u_ln_t)
    g_low, g_high = (k * np.hypot(part * limit, u_r_ohm) for limit in (low_ohm, high_ohm))
    accept_low, accept_high = low_ohm + g_low, high_ohm - g_high
    empty = accept_low > accept_high
    below = low_ohm - g_low
    return GuardedLimits(
        low=low_ohm,
        high=high_ohm,
        reject_below=np.where(below > 0.0, below, np.nan),
        accept_low=np.where(empty, np.nan, accept_low),
        accept_high=np.where(empty, np.nan, accept_high),
        reject_above=high_ohm + g_high,
    )
