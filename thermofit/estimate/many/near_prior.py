"""A prior and the readings of many sensors, weighed for a block at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.conflict import CONFLICT_P
from thermofit.estimate.many.block import Block, Mask
from thermofit.estimate.many.covariance import lower_triangle
from thermofit.estimate.many.limits import HOTTEST_K, LARGEST_SLOPE, MARGIN, MOST_AMPLIFIED_CENTRED
from thermofit.estimate.many.orthogonal import solve_many
from thermofit.estimate.many.outcome import Outcome, Solved
from thermofit.estimate.prior import KILOKELVIN, Prior
from thermofit.estimate.update import LEAST_OWN
from thermofit.units import T0_K, ZERO_C_K

__all__ = ["Shared", "near_prior"]

_MOST_REWEIGHTINGS = 12
_SETTLED = 1e-11
_LEAST_PIVOT = 1e-12
_NEWTON_STEPS = 5

# Part of its variance that a reading must have for itself.
_OWN_PART = 1e-3

# ln R25 in ohms.
_LN_R25 = (-200.0, 200.0)


@dataclass(frozen=True, eq=False)
class Shared:
    """What all readings of a sensor have in common: standard uncertainties in K, and of ln R."""

    t_k: float
    ln_r: float

    @property
    def count(self) -> int:
        """Number of common errors."""
        return (self.t_k > 0.0) + (self.ln_r > 0.0)


def near_prior(block: Block, prior: Prior, soften: Array, shared: Shared) -> Outcome:
    """Fit the curve of a prior's equation to the readings of each sensor.

    Parameters
    ----------
    block : Block
    prior : Prior
    soften : array, shape (k − 1, k − 1)
        Inverse of the Cholesky factor of its covariance.
    shared : Shared

    Returns
    -------
    Outcome
        Sensors whose readings disagree with the prior are not sound.
    """
    work, b, k = block.work, block.size, len(prior.mean) + 1
    u = work("u", *block.t_k.shape)
    np.subtract(block.inv_t, 1.0 / T0_K, out=u)
    u *= KILOKELVIN
    solved, chi2, variance, sound = _settle(block, prior, soften, shared, u)
    skip = shared.count
    s, own_factor = solved.coefficients[skip:], solved.factor[skip:, skip:]
    sound &= block.possible & (solved.pivot > _LEAST_PIVOT)
    sound &= _usual(block, prior, s, own_factor, variance)
    if block.count > 1:
        sound &= chi2 < 0.999 * _conflict_chi2(block.count - 1)
    residuals, reached = _residuals_k(block, s, u, _furthest(block, prior))
    sound &= reached
    c, factor = work("coefficients", k, b), work("plain factor", k, k, b)
    c[...] = s
    for i in range(k):
        factor[i, i:] = own_factor[i, i:]
        if i:
            c[i] *= KILOKELVIN**i
            factor[i, i:] *= KILOKELVIN**i
    np.exp(c[0], out=c[0])
    factor[0] *= c[0]
    sound &= np.isfinite(c).all(axis=0)
    return Outcome(c, lower_triangle(factor, work), sound, residuals, chi2)


def _settle(
    block: Block, prior: Prior, soften: Array, shared: Shared, u: Array
) -> tuple[Solved, Array, Array, Mask]:
    """Weigh readings against the prior, with their slopes taken from the result itself.

    What readings share are further unknowns, each with a standard uncertainty of one; they come
    first, so that the trailing part of the factor is that of the curve with them left open.

    Returns
    -------
    solved : Solved
        Shared errors, then ln R25 and B, b2 … in powers of 10³ K.
    chi2 : array, shape (b,)
    variance : array, shape (m, b)
        Of each reading, in ln R.
    sound : array of bool, shape (b,)
    """
    work, (m, b) = block.work, u.shape
    k, skip = len(prior.mean) + 1, shared.count
    n = skip + m
    sound = np.ones(b, dtype=bool)
    var_t, var_r = block.u_inv_t, block.u_ln_r
    var_t *= var_t
    var_r *= var_r
    common_t = shared.t_k * block.inv_t * block.inv_t
    own_t, own_r = work("own_t", m, b), work("own_r", m, b)
    np.subtract(var_t, common_t * common_t, out=own_t)
    np.subtract(var_r, shared.ln_r**2, out=own_r)
    for own, total in ((own_t, var_t), (own_r, var_r)):
        if skip:
            sound &= (own >= -1e-12 * total).all(axis=0)
        np.maximum(own, 0.0, out=own)
    columns, wanted = work("columns", skip + k, n + k - 1, b), work("wanted", n + k - 1, b)
    slope, before = work("slope", m, b), work("before", m, b)
    variance, weight = work("variance", m, b), work("weight", m, b)
    _slope(prior.mean, u, slope)
    moving = np.ones(b, dtype=bool)
    for _ in range(_MOST_REWEIGHTINGS):
        np.multiply(slope, slope, out=before)
        np.multiply(before, var_t, out=variance)
        variance += var_r
        before *= own_t
        before += own_r
        sound &= (before >= _OWN_PART * variance).all(axis=0)
        np.multiply(variance, LEAST_OWN, out=weight)
        before += weight
        np.sqrt(before, out=before)
        np.divide(1.0, before, out=weight)
        _lay_out(columns, wanted, prior, soften, shared, u, common_t * slope, weight, block.ln_r)
        solved = solve_many(columns, wanted, work)
        before[...] = slope
        _slope(solved.coefficients[skip + 1 :], u, slope)
        before -= slope
        before /= slope
        np.abs(before, out=before)
        moving = ~(np.maximum.reduce(before, axis=0) <= _SETTLED)
        if not np.fmax.reduce(before, axis=None) > _SETTLED or not var_t.any():
            break
    if var_t.any():
        sound &= ~moving
    chi2 = np.einsum("nb,nb->b", wanted, wanted)
    return solved, chi2, variance, sound


def _lay_out(
    columns: Array, wanted: Array, prior: Prior, soften: Array, shared: Shared, u: Array,
    common: Array, weight: Array, ln_r: Array,
) -> None:  # fmt: skip
    """Fill the weighted columns and observations: shared errors, readings, prior."""
    skip, k = shared.count, len(prior.mean) + 1
    readings = slice(skip, skip + len(u))
    columns[...] = 0.0
    wanted[:skip] = 0.0
    for place in range(skip):
        columns[place, place] = 1.0
    if shared.t_k:
        np.multiply(common, weight, out=columns[0, readings])
    if shared.ln_r:
        np.multiply(shared.ln_r, weight, out=columns[skip - 1, readings])
    columns[skip, readings] = weight
    for power in range(1, k):
        np.multiply(columns[skip + power - 1, readings], u, out=columns[skip + power, readings])
        columns[skip + power, readings.stop :] = soften[:, [power - 1]]
    np.multiply(ln_r, weight, out=wanted[readings])
    wanted[readings.stop :] = (soften @ prior.mean)[:, np.newaxis]


def _slope(bend: Array, u: Array, out: Array) -> None:
    """Fill d ln R/d(1/T) in kelvin, of B, b2 … in powers of 10³ K."""
    top = len(bend)
    out[...] = top * bend[top - 1]
    for j in range(top - 1, 0, -1):
        out *= u
        out += j * bend[j - 1]
    out *= KILOKELVIN


def _furthest(block: Block, prior: Prior) -> Array:
    """Largest |u| of the valid range and of the readings, in 1/(10³ K), shape (b,)."""
    low, high = (t_c + ZERO_C_K for t_c in prior.t_range_c)
    cold = 1.0 / np.minimum(block.t_k[0], low) - 1.0 / T0_K
    hot = 1.0 / T0_K - 1.0 / np.maximum(block.t_k[-1], high)
    result: Array = KILOKELVIN * np.maximum(cold, hot)
    return result


def _usual(block: Block, prior: Prior, s: Array, factor: Array, variance: Array) -> Mask:
    """Where resistance falls, the curve is monotone over its range and no digits are lost."""
    k, t_k, ln_r = len(s), block.t_k, block.ln_r
    usual: Mask = (t_k[0] > 0.0) & (t_k[-1] < HOTTEST_K)
    usual &= (s[0] > _LN_R25[0]) & (s[0] < _LN_R25[1])
    if block.count > 1:
        away = block.inv_t - block.inv_t.mean(axis=0)
        together = np.einsum("mb,mb->b", away, ln_r)
        usual &= (together > 0.0) | (t_k[0] == t_k[-1])
    reach = MARGIN * _furthest(block, prior)
    varying, power = np.zeros(block.size), np.ones(block.size)
    for j in range(2, k):
        power *= reach
        varying += j * power * np.abs(s[j])
    usual &= (s[1] - varying) * KILOKELVIN > 1.0 / LARGEST_SLOPE
    furthest = np.maximum.reduce(np.abs(KILOKELVIN * (block.inv_t - 1.0 / T0_K)), axis=0)
    amplified, power = np.zeros(block.size), np.ones(block.size)
    for j in range(k):
        amplified += power * np.sqrt(np.einsum("jb,jb->b", factor[j, j:], factor[j, j:]))
        power *= furthest
    least = np.minimum.reduce(variance, axis=0)
    usual &= amplified**2 < MOST_AMPLIFIED_CENTRED * least / block.count
    return usual


def _conflict_chi2(dof: int) -> float:
    """χ² that readings reach by chance with the probability at which they count as in conflict."""
    from scipy.special import chdtri

    return float(chdtri(dof, CONFLICT_P))


def _residuals_k(block: Block, s: Array, u: Array, furthest: Array) -> tuple[Array, Mask]:
    """Measured minus fitted temperature, and where the curve surely reaches all readings."""
    work, shape = block.work, u.shape
    x, slope, residuals = work("solution", *shape), work("slope", *shape), work("value", *shape)
    x[...] = u
    for _ in range(_NEWTON_STEPS):
        residuals[...] = s[-1]
        for j in range(len(s) - 2, -1, -1):
            residuals *= x
            residuals += s[j]
        residuals -= block.ln_r
        _slope(s[1:], x, slope)
        slope *= 1.0 / KILOKELVIN
        residuals /= slope
        x -= residuals
    reached: Mask = np.all(np.abs(x) < MARGIN * furthest, axis=0)
    np.multiply(x, 1.0 / KILOKELVIN, out=residuals)
    residuals += 1.0 / T0_K
    np.divide(1.0, residuals, out=residuals)
    np.subtract(block.t_k, residuals, out=residuals)
    return residuals, reached
