"""Bands of many polynomials in the plane, of any degree and with any limits of the usual kind."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.tolerance.groups import Group
from thermofit.tolerance.single import deviation
from thermofit.tolerance.stacked import MOST_AWAY, MOST_LN_R, Stack, weights
from thermofit.tolerance.statistical import Spread
from thermofit.tolerance.usual import UsualLimits
from thermofit.units import ZERO_C_K

__all__ = ["Polynomials"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]

# Steeper than this, 1/T all but turns with ln R, and the rounding of 1/T alone takes digits from
# the temperature coefficient: such a curve is left to the plain way.
_STEEPEST_PER_K = 1.0


class Polynomials:
    """Curves of one degree in one direction, solved by Newton steps for the other one.

    Parameters
    ----------
    group : Group
        Of n curves, whose branches have all temperatures.
    t_c : array, shape (m,)
        Temperatures in °C.
    limits : UsualLimits
    spread : Spread, optional
    """

    work_rows = 5

    def __init__(
        self, group: Group, t_c: Array, limits: UsualLimits, spread: Spread | None
    ) -> None:
        self.rows, self.limits, self.spread = group.rows, limits, spread
        self.stack = stack = group.stack
        self.t_k = t_c + ZERO_C_K
        self.inv_t = 1.0 / self.t_k
        inv_ref = 1.0 / (limits.t_ref_c[group.rows] + ZERO_C_K)
        self.ref_ln_r = stack.ln_r_once(inv_ref)[:, np.newaxis]
        if stack.by_resistance:
            self.near, self.weights = stack.ln_r_near(self.inv_t), weights(self.inv_t)

    def block(self, place: Array, part: slice, work: Array) -> Truth:
        """Fill some rows; see `thermofit.tolerance.blocks`."""
        r_low, r, r_high, dr_low, dr_high, dt_low, dt_high, dt1_low, dt1_high, alpha = place
        lever, low, high, share, spare = work
        stack = self.stack.rows(part)
        settled = np.ones(len(r), dtype=bool)
        taylor: list[Array] = []
        if stack.by_resistance:
            np.matmul(self.near[part], self.weights, out=spare)
            ln_r, settled = stack.corrected(self.inv_t, spare, lever)
            x = ln_r - stack.shift
            np.divide(-self.inv_t * self.inv_t, stack.slope(x), out=alpha)
            if not _all_within(alpha, _STEEPEST_PER_K):
                settled &= (np.abs(alpha) < _STEEPEST_PER_K).all(axis=1)
        else:
            x = self.inv_t - stack.shift
            ln_r, *taylor = stack.taylor(x)
            np.multiply(-self.inv_t * self.inv_t, taylor[0], out=alpha)
        np.exp(ln_r, out=r)
        of_usual_size = _all_within(ln_r, MOST_LN_R)
        np.subtract(ln_r, self.ref_ln_r[part], out=lever)
        box = self.limits.box(self.rows[part])
        if self.spread is None:
            box.fill_worst_case(lever, low, high, share)
        else:
            low[...], high[...] = deviation(box, lever, self.spread)
        for away, r_end, dr, dt, dt1 in (
            (low, r_low, dr_low, dt_low, dt1_low),
            (high, r_high, dr_high, dt_high, dt1_high),
        ):
            np.expm1(away, out=share)
            np.multiply(share, 100.0, out=dr)
            np.divide(share, alpha, out=dt1)
            if of_usual_size and _all_within(away, MOST_AWAY):
                share += 1.0
                np.multiply(share, r, out=r_end)
                np.add(ln_r, away, out=share)
            else:
                np.exp(np.add(ln_r, away, out=share), out=r_end)
            _leave_out(away, share, stack)
            if stack.by_resistance:
                inv_t = stack.value(np.add(x, away, out=share))
            else:
                inv_t, well = stack.moved(x, away, taylor, share)
                settled &= well
                inv_t += self.inv_t
            np.divide(1.0, inv_t, out=dt)
            dt -= self.t_k
        return settled


def _leave_out(away: Array, ln_r: Array, stack: Stack) -> None:
    """Make those deviations NaN where the curve has no such ln R."""
    low, high = stack.reach[0], stack.reach[1]
    # The ends of a whole block are found more quickly than those of its rows.
    if not (ln_r.min() >= low.max() and ln_r.max() <= high.min()):
        away[~((ln_r >= low) & (ln_r <= high))] = np.nan


def _all_within(values: Array, most: float) -> bool:
    """Whether values lie between −most and most."""
    return bool(values.max() < most and values.min() > -most)
