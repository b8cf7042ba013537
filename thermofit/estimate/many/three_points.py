"""Steinhart–Hart through three points, with its covariance, in closed form."""

from __future__ import annotations

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.many.block import Block
from thermofit.estimate.many.limits import (
    HOTTEST_K,
    LARGEST_SLOPE,
    LN_R_LIMITS,
    MOST_AMPLIFIED,
    SMALLEST_SLOPE,
)
from thermofit.estimate.many.outcome import Outcome

__all__ = ["through_three_points"]


def through_three_points(block: Block) -> Outcome:
    """Solve 1/T = a + b·x + c·x³, x = ln R, through three points of each sensor.

    Parameters
    ----------
    block : Block
        With three points of each sensor.

    Returns
    -------
    Outcome

    Notes
    -----
    Divided differences give the coefficients: that of x³ between i and j is xᵢ² + xᵢxⱼ + xⱼ², so
    c = ([y₁y₂] − [y₀y₁]) / ((x₂ − x₀)·S) with S = x₀ + x₁ + x₂.

    The curve that is 1 at point j and 0 at the other two, k and l, has these as roots, and
    −(xₖ + xₗ) as the third, since there is no square:  gⱼ·(x − xₖ)(x − xₗ)(x + xₖ + xₗ), with
    gⱼ = 1/((xⱼ − xₖ)(xⱼ − xₗ)·S).  Written out, an error of yⱼ changes c by gⱼ, b by
    −gⱼ·(xₖ² + xₖxₗ + xₗ²) and a by gⱼ·xₖxₗ(xₖ + xₗ); the covariance is the sum over the points,
    with the effective variance of each.  A. Quarteroni, R. Sacco, F. Saleri, Numerical
    Mathematics, 2nd ed., Springer 2007, section 8.2 (divided differences).
    """
    x, y, work = block.ln_r, block.inv_t, block.work
    b = block.size
    c, covariance = work("coefficients", 3, b), work("covariance", 6, b)
    shift, total, other = work("shift", 3, b), work("total", b), work("other", b)
    # Differences of x: opposite point 0, 1 and 2.
    np.subtract(x[2], x[1], out=shift[0])
    np.subtract(x[2], x[0], out=shift[1])
    np.subtract(x[1], x[0], out=shift[2])
    np.add(x[0], x[1], out=total)
    total += x[2]
    pairs, product = work("pairs", 3, b), work("product", 3, b)
    np.subtract(total, x, out=pairs)
    np.multiply(x[1], x[2], out=product[0])
    np.multiply(x[0], x[2], out=product[1])
    np.multiply(x[0], x[1], out=product[2])
    square = work("square", 3, b)
    np.multiply(pairs, pairs, out=square)
    square -= product  # xₖ² + xₖxₗ + xₗ²
    product *= pairs  # xₖxₗ(xₖ + xₗ)
    _coefficients(x, y, shift, total, square[2], c, other)
    slope, x2 = work("slope", 3, b), work("x2", 3, b)
    np.multiply(x, x, out=x2)
    np.multiply(x2, c[2], out=slope)
    slope *= 3.0
    slope += c[1]
    # Effective variances, in the places of the uncertainties.
    variance, by_x = block.u_inv_t, block.u_ln_r
    variance *= variance
    by_x *= slope
    by_x *= by_x
    variance += by_x
    weight = work("weight", 3, b)
    np.multiply(shift[1], shift[2], out=weight[0])
    np.multiply(shift[0], shift[2], out=weight[1])
    np.multiply(shift[0], shift[1], out=weight[2])
    weight *= total
    weight *= weight
    np.divide(variance, weight, out=weight)
    _covariance(weight, square, product, covariance, by_x)
    sound = block.possible.copy()
    for usable in (
        block.t_k[1] > block.t_k[0],
        block.t_k[2] > block.t_k[1],
        block.t_k[0] > 0.0,
        block.t_k[2] < HOTTEST_K,
        x[1] < x[0],
        x[2] < x[1],
        x[0] < LN_R_LIMITS[1],
        x[2] > LN_R_LIMITS[0],
        c[1] > SMALLEST_SLOPE,
        slope[0] > SMALLEST_SLOPE,
        slope[2] > SMALLEST_SLOPE,
        slope[0] < LARGEST_SLOPE,
        slope[2] < LARGEST_SLOPE,
        covariance[0] < MOST_AMPLIFIED * np.minimum.reduce(variance, axis=0, out=other),
    ):
        sound &= usable
    return Outcome(c, covariance, sound)


def _coefficients(
    x: Array, y: Array, shift: Array, total: Array, square: Array, c: Array, other: Array
) -> None:
    """Fill c with the three coefficients; `square` is that of points 0 and 1."""
    first = c[1]
    np.subtract(y[1], y[0], out=first)
    first /= shift[2]
    np.subtract(y[2], y[1], out=other)
    other /= shift[0]
    other -= first
    other /= shift[1]
    np.divide(other, total, out=c[2])
    np.multiply(c[2], square, out=other)
    first -= other
    np.multiply(x[0], x[0], out=other)
    other *= c[2]
    other += c[1]
    other *= x[0]
    np.subtract(y[0], other, out=c[0])


def _covariance(weight: Array, square: Array, product: Array, out: Array, spare: Array) -> None:
    """Sum over the points of weight·(product, −square, 1)⊗(product, −square, 1)."""
    np.add.reduce(weight, axis=0, out=out[5])
    np.multiply(weight, square, out=spare)
    np.add.reduce(spare, axis=0, out=out[4])
    np.negative(out[4], out=out[4])
    np.einsum("ij,ij->j", spare, square, out=out[2])
    np.einsum("ij,ij->j", spare, product, out=out[1])
    np.negative(out[1], out=out[1])
    np.multiply(weight, product, out=spare)
    np.add.reduce(spare, axis=0, out=out[3])
    np.einsum("ij,ij->j", spare, product, out=out[0])
