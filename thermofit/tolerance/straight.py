"""Bands of many straight lines in the plane, such as those of constant B, from a few numbers each.

Along a line ln R, the limits of its deviation and the 1/T that a reader takes from them are sums
of products: of a number of the part and one of the temperature.  Each is one product of two small
matrices, and what is left to do for every element is `exp`, `expm1` and a handful of steps.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.tolerance.groups import Group
from thermofit.tolerance.stacked import MOST_AWAY, MOST_LN_R
from thermofit.tolerance.usual import UsualLimits
from thermofit.units import ZERO_C_K

__all__ = ["Lines"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]


class Lines:
    """Worst-case bands of lines that are limited at a common temperature.

    Parameters
    ----------
    group : Group
        Polynomials of two terms, n of them.
    t_c : array, shape (m,)
        Temperatures in °C.
    limits : UsualLimits
        At one reference temperature; see `UsualLimits.at_one_temperature`.
    most : int
        The most rows that a block has.
    """

    work_rows = 2

    def __init__(self, group: Group, t_c: Array, limits: UsualLimits, most: int) -> None:
        t_k = t_c + ZERO_C_K
        # With a row for each of a block: the step that needs it is twice as quick then.
        self.t_k = np.tile(t_k, (most, 1))
        self.inv_ref = 1.0 / (float(limits.t_ref_c[group.rows[0]]) + ZERO_C_K)
        self.factors = _factors(1.0 / t_k, self.inv_ref)
        ln_r_ref, b_k = group.stack.line(self.inv_ref)
        x_low, x_high, beta_low, beta_high = limits.ends[:, group.rows, 0]
        # A limit has one slope on this side of the reference, and another one beyond it.
        one, other = b_k * beta_low, b_k * beta_high
        less, more = np.minimum(one, other), np.maximum(one, other)
        self.ln_r = np.stack([ln_r_ref, b_k, b_k])
        self.away = [np.stack([x_low, less, more]), np.stack([x_high, more, less])]
        self.inv_t = [np.concatenate([away / b_k, [np.ones_like(b_k)]]) for away in self.away]
        # α = −B/T², from the numbers of ln R.
        none = np.zeros_like(t_k)
        self.of_alpha = np.stack([none, -(self.factors[3] ** 2), none])
        self.reach = group.stack.reach[:2, :, 0]

    def usual(self) -> Truth:
        """Whether a line has all resistances of its band, of a usual size, shape (n,)."""
        inv_t = self.factors[3]
        # A limit is farthest away at the ends.  It rises or falls steadily with 1/T, as no part's
        # B is off by its whole.
        ends = _factors(np.array([inv_t.min(), inv_t.max()]), self.inv_ref)[:3].T
        low, high = self.reach
        low, high = np.maximum(low, -MOST_LN_R), np.minimum(high, MOST_LN_R)
        result = np.ones(low.shape, dtype=bool)
        for terms in self.away:
            away = ends @ terms
            ln_r = ends @ self.ln_r + away
            result &= ((ln_r >= low) & (ln_r <= high) & (np.abs(away) < MOST_AWAY)).all(axis=0)
        return result

    def block(self, place: Array, part: slice, work: Array) -> Truth:
        """Fill some rows; see `thermofit.tolerance.blocks`."""
        r_low, r, r_high, dr_low, dr_high, dt_low, dt_high, dt1_low, dt1_high, alpha = place
        share, per_alpha = work
        ln_r = self.ln_r[:, part].T
        np.matmul(ln_r, self.of_alpha, out=alpha)
        np.matmul(ln_r, self.factors[:3], out=r)
        np.exp(r, out=r)
        np.divide(1.0, alpha, out=per_alpha)
        for away, inv_t, r_end, dr, dt, dt1 in (
            (self.away[0], self.inv_t[0], r_low, dr_low, dt_low, dt1_low),
            (self.away[1], self.inv_t[1], r_high, dr_high, dt_high, dt1_high),
        ):
            np.matmul(away[:, part].T, self.factors[:3], out=share)
            np.expm1(share, out=share)
            np.multiply(share, 100.0, out=dr)
            np.multiply(share, per_alpha, out=dt1)
            np.multiply(share, r, out=r_end)
            r_end += r
            np.matmul(inv_t[:, part].T, self.factors, out=dt)
            np.divide(1.0, dt, out=dt)
            dt -= self.t_k[: len(dt)]
        return np.ones(len(r), dtype=bool)


def _factors(inv_t: Array, inv_ref: float) -> Array:
    """What the numbers of a part are multiplied with, shape (4, m)."""
    u = inv_t - inv_ref
    return np.stack([np.ones_like(u), np.maximum(u, 0.0), np.minimum(u, 0.0), inv_t])
