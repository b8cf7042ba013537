"""Weighted polynomials of many sensors by sums of powers."""

from __future__ import annotations

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.many.block import Work
from thermofit.estimate.many.forms import Form
from thermofit.estimate.many.outcome import Solved

__all__ = ["solve_by_moments"]


def solve_by_moments(
    form: Form, z: Array, y: Array, weight: Array, centre: Array, half: Array, work: Work
) -> Solved:
    """Fit Σ s_j·basis_j(z) to y by weighted least squares.

    Parameters
    ----------
    form : Form
    z, y : array, shape (m, b)
        z between −1 and 1; what is left of y when it is nearly fitted.
    weight : array, shape (m, b)
        Inverse variances; overwritten.
    centre, half : array, shape (b,)
    work : Work

    Returns
    -------
    Solved

    Notes
    -----
    Normal equations: with z between −1 and 1 and few powers, their condition is a few hundred,
    and since y is what earlier coefficients left, the digits that they cost are digits of a
    correction.  `Solved.pivot` tells where points lie so that more are lost.
    """
    k, b = form.terms, z.shape[1]
    top = form.powers[-1]
    moment, wanted = work("moment", 2 * top + 1, b), work("wanted", top + 1, b)
    for power in range(2 * top + 1):
        if power:
            weight *= z
        np.add.reduce(weight, axis=0, out=moment[power])
        if power <= top:
            np.einsum("mb,mb->b", weight, y, out=wanted[power])
    normal, found = work("normal", k, k, b), work("found", k, b)
    if form.squareless:
        two, three = form.third(centre, half)
        normal[0, 0], normal[1, 0], normal[1, 1] = moment[0], moment[1], moment[2]
        normal[2, 0] = two * moment[2] + three * moment[3]
        normal[2, 1] = two * moment[3] + three * moment[4]
        normal[2, 2] = (
            two * two * moment[4] + 2.0 * two * three * moment[5] + three * three * moment[6]
        )
        found[:2] = wanted[:2]
        found[2] = two * wanted[2] + three * wanted[3]
    else:
        for i in range(k):
            normal[i, : i + 1] = moment[i : 2 * i + 1]
        found[...] = wanted
    return _solve(normal, found, work)


def _solve(normal: Array, found: Array, work: Work) -> Solved:
    """Solve by N = L·D·Lᵀ, L with a diagonal of ones; its lower triangle becomes L."""
    k, b = found.shape
    part, pivot, own = work("part", b), work("pivot", b), work("own", b)
    inverse, scaled = work("inverse", k, b), work("scaled", k, b)
    pivot[...] = np.inf
    for i in range(k):
        own[...] = normal[i, i]
        for j in range(i):
            for before in range(j):
                np.multiply(scaled[before], normal[j, before], out=part)
                normal[i, j] -= part
            # N is still D·L here.
            scaled[j] = normal[i, j]
            np.multiply(scaled[j], inverse[j], out=normal[i, j])
            np.multiply(scaled[j], normal[i, j], out=part)
            normal[i, i] -= part
            np.multiply(normal[i, j], found[j], out=part)
            found[i] -= part
        np.divide(normal[i, i], own, out=part)
        np.minimum(pivot, part, out=pivot)
        np.divide(1.0, normal[i, i], out=inverse[i])
    found *= inverse
    for i in reversed(range(k)):
        for j in range(i + 1, k):
            np.multiply(normal[j, i], found[j], out=part)
            found[i] -= part
    # F = L⁻ᵀ·D^−½, column by column.
    factor = work("factor", k, k, b)
    np.sqrt(inverse, out=inverse)
    for column in range(k):
        factor[column, column] = inverse[column]
        for i in reversed(range(column)):
            np.multiply(normal[column, i], factor[column, column], out=factor[i, column])
            for j in range(i + 1, column):
                np.multiply(normal[j, i], factor[j, column], out=part)
                factor[i, column] += part
            np.negative(factor[i, column], out=factor[i, column])
    return Solved(found, factor, pivot)
