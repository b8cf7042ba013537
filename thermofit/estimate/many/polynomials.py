"""Polynomials in the plane through or near the points of many sensors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.many.block import Block, Mask
from thermofit.estimate.many.covariance import lower_triangle
from thermofit.estimate.many.forms import Form
from thermofit.estimate.many.limits import (
    HOTTEST_K,
    LARGEST_SLOPE,
    LN_R_LIMITS,
    MARGIN,
    SMALLEST_SLOPE,
)
from thermofit.estimate.many.moments import solve_by_moments
from thermofit.estimate.many.outcome import Outcome, Solved

__all__ = ["near_points"]

_MOST_REWEIGHTINGS = 12
_SETTLED = 2e-11
_LEAST_PIVOT = 1e-4
_NEWTON_STEPS = 4


@dataclass(frozen=True, eq=False)
class _Scaled:
    """A polynomial in z = (x − centre)/half, and the points.

    Parameters
    ----------
    z, y : array, shape (m, b)
    centre, half : array, shape (b,)
    """

    form: Form
    z: Array
    y: Array
    centre: Array
    half: Array


def near_points(block: Block, form: Form, reference_ohm: Array | float, stated: bool) -> Outcome:
    """Fit a polynomial to the points of each sensor, with errors in temperature made small.

    Parameters
    ----------
    block : Block
        With at least as many points as the form has coefficients.
    form : Form
    reference_ohm : array, shape (b,), or float
        Reference resistance, where the form has one.
    stated : bool
        Whether the uncertainties were stated; else they follow from the scatter.

    Returns
    -------
    Outcome
    """
    work, k, spare = block.work, form.terms, block.count - form.terms
    scaled = _scale(block, form, reference_ohm)
    s, solved, slope, variance, settled = _settle(block, scaled)
    back = form.back(scaled.centre, scaled.half)
    c, factor = work("coefficients", k, block.size), work("plain factor", k, k, block.size)
    part = work("part", block.size)
    for i in range(k):
        c[i] = 0.0
        for j in range(i, k):
            c[i] += np.multiply(back[i][j], s[j], out=part)
        for column in range(i, k):
            own = factor[i, column]
            own[...] = 0.0
            for j in range(i, column + 1):
                own += np.multiply(back[i][j], solved.factor[j, column], out=part)
    sound = block.possible & settled & _usual(block, scaled, s, solved, factor, variance)
    residuals, reached = _residuals_k(block, scaled, s)
    sound &= reached
    if not spare:
        residuals[...] = 0.0
    chi2 = None
    if not stated:
        total = np.einsum("mb,mb->b", residuals, residuals)
        factor *= np.sqrt(total / spare) if spare else np.nan
    elif spare:
        per_k = np.multiply(block.inv_t, block.inv_t, out=work("left", *slope.shape))
        per_k *= residuals
        if not form.of_resistance:
            per_k *= slope
            per_k /= scaled.half
        per_k *= per_k
        per_k /= variance
        chi2 = np.add.reduce(per_k, axis=0)
    if form.logarithmic:
        np.exp(c[0], out=c[0])
        factor[0] *= c[0]
    sound &= np.isfinite(c).all(axis=0)
    return Outcome(c, lower_triangle(factor, work), sound, residuals, chi2)


def _scale(block: Block, form: Form, reference_ohm: Array | float) -> _Scaled:
    work, shape = block.work, block.t_k.shape
    z, ln_ref = work("z", *shape), np.log(reference_ohm)
    shift: Array | float = form.shift
    if form.of_resistance:
        x, y, shift = block.ln_r, block.inv_t, ln_ref
        low, high = block.ln_r_ends
    else:
        x = block.inv_t
        y = np.subtract(block.ln_r, ln_ref, out=work("values", *shape))
        low, high = x[-1], x[0]
    middle, half = 0.5 * (high + low), 0.5 * (high - low)
    np.subtract(x, middle, out=z)
    z *= 1.0 / half
    return _Scaled(form, z, y, middle - shift, half)


def _settle(block: Block, scaled: _Scaled) -> tuple[Array, Solved, Array, Array, Mask]:
    """Solve with weights that are renewed until they stand still.

    Returns
    -------
    coefficients : array, shape (k, b)
        Of the basis.
    solved : Solved
        The last correction of them, with their covariance.
    slope : array, shape (m, b)
        Derivative by z at the points; not set where ln R is the exact argument.
    variance : array, shape (m, b)
        Effective variances of the values.
    settled : array of bool, shape (b,)
    """
    form, work, shape = scaled.form, block.work, block.t_k.shape
    u_x, u_y = block.u_ln_r, block.u_inv_t
    if not form.of_resistance:
        u_x, u_y = u_y, u_x
    # Variances of the values, and of z.
    u_y *= u_y
    exact_x = not u_x.any()
    z, left = scaled.z, work("left", *shape)
    slope, variance, fresh = work("slope", *shape), work("variance", *shape), work("fresh", *shape)
    s = work("s", form.terms, block.size)
    settled = _straight(z, scaled.y, s)
    np.multiply(z, s[1], out=left)
    left += s[0]
    np.subtract(scaled.y, left, out=left)
    if exact_x:
        np.divide(1.0, u_y, out=fresh)
        solved = solve_by_moments(form, z, left, fresh, scaled.centre, scaled.half, work)
        s += solved.coefficients
        if not form.of_resistance:
            form.slope(z, s, scaled.centre, scaled.half, slope)
        return s, solved, slope, u_y, settled
    u_x /= scaled.half
    u_x *= u_x
    slope[...] = s[1]
    _effective(slope, u_x, u_y, variance)
    for _ in range(_MOST_REWEIGHTINGS):
        np.divide(1.0, variance, out=fresh)
        solved = solve_by_moments(form, z, left, fresh, scaled.centre, scaled.half, work)
        s += solved.coefficients
        form.slope(z, s, scaled.centre, scaled.half, slope)
        _effective(slope, u_x, u_y, fresh)
        variance, fresh = fresh, variance
        fresh -= variance
        fresh /= variance
        np.abs(fresh, out=fresh)
        # What is no number takes no part.
        if not np.fmax.reduce(fresh, axis=None) > _SETTLED:
            break
        form.value(z, s, scaled.centre, scaled.half, left)
        np.subtract(scaled.y, left, out=left)
    else:
        settled &= np.fmax.reduce(fresh, axis=0) <= _SETTLED
    return s, solved, slope, variance, settled


def _straight(z: Array, y: Array, s: Array) -> Mask:
    """Fill the coefficients with those of the line through the coldest and the hottest point.

    Returns
    -------
    array of bool, shape (b,)
        Where resistance falls with temperature on the whole.
    """
    s[...] = 0.0
    s[1] = (y[0] - y[-1]) / (z[0] - z[-1])
    s[0] = y[0] - s[1] * z[0]
    falls: Mask = s[1] > 0.0
    if not ((z[1:] < z[:-1]).all() and (y[1:] < y[:-1]).all()):
        away = z - np.add.reduce(z, axis=0) / len(z)
        falls &= np.einsum("mb,mb->b", away, y) > 0.0
    return falls


def _effective(slope: Array, var_z: Array, var_y: Array, out: Array) -> None:
    np.multiply(slope, slope, out=out)
    out *= var_z
    out += var_y


def _usual(
    block: Block, scaled: _Scaled, s: Array, solved: Solved, factor: Array, variance: Array
) -> Mask:
    """Where the points determine the curve, it is monotone and no digits are lost."""
    form, b, t_k = scaled.form, block.size, block.t_k
    usual: Mask = (t_k[0] > 0.0) & (t_k[-1] < HOTTEST_K)
    low, high = block.ln_r_ends
    usual &= (low > LN_R_LIMITS[0]) & (high < LN_R_LIMITS[1])
    usual &= solved.pivot > _LEAST_PIVOT
    least, most = form.least_and_most_slope(s, scaled.centre, scaled.half, MARGIN)
    if form.of_resistance:
        usual &= (least > SMALLEST_SLOPE) & (most < LARGEST_SLOPE)
    else:
        usual &= (least > 1.0 / LARGEST_SLOPE) & (most < 1.0 / SMALLEST_SLOPE)
    furthest, power = np.abs(scaled.centre) + scaled.half, np.ones(b)
    amplified, exponent = np.zeros(b), 0
    for row, wanted in enumerate(form.powers):
        while exponent < wanted:
            power *= furthest
            exponent += 1
        own = np.einsum("jb,jb->b", factor[row, row:], factor[row, row:])
        amplified += np.sqrt(own) * power
    share = form.terms / block.count
    usual &= amplified**2 < form.most_amplified * share * np.minimum.reduce(variance, axis=0)
    return usual


def _residuals_k(block: Block, scaled: _Scaled, s: Array) -> tuple[Array, Mask]:
    """Measured minus fitted temperature, and where the curve surely reaches all points."""
    form, work, shape = scaled.form, block.work, block.t_k.shape
    residuals = work("residuals", *shape)
    where = scaled.centre, scaled.half
    if form.of_resistance:
        form.value(scaled.z, s, *where, residuals)
        ends = np.array([[-MARGIN], [MARGIN]]) * np.ones(block.size)
        low, high = form.value(ends, s, *where, np.empty_like(ends))
        reached = (low <= scaled.y.min(axis=0)) & (high >= scaled.y.max(axis=0))
    else:
        x, slope = work("solution", *shape), work("newton", *shape)
        x[...] = scaled.z
        for _ in range(_NEWTON_STEPS):
            form.value(x, s, *where, residuals)
            residuals -= scaled.y
            form.slope(x, s, *where, slope)
            residuals /= slope
            x -= residuals
        reached = (np.abs(x) < MARGIN).all(axis=0)
        np.multiply(x, scaled.half, out=residuals)
        residuals += scaled.centre + form.shift
    np.divide(1.0, residuals, out=residuals)
    np.subtract(block.t_k, residuals, out=residuals)
    return residuals, reached
