"""Least squares of many sensors at once by orthogonalisation."""

from __future__ import annotations

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.many.block import Work
from thermofit.estimate.many.outcome import Solved

__all__ = ["solve_many"]


def solve_many(columns: Array, wanted: Array, work: Work) -> Solved:
    """Solve b weighted least-squares problems, one of each sensor.

    Parameters
    ----------
    columns : array, shape (k, m, b)
        Weighted columns; overwritten.
    wanted : array, shape (m, b)
        Weighted observations; what is left of them when the columns are taken out
        stands there in the end.
    work : Work

    Returns
    -------
    Solved

    Notes
    -----
    Modified Gram–Schmidt with the observations as a last column, which is as
    stable as Householder's QR factorisation: Å. Björck, Numerical Methods for Least Squares
    Problems, SIAM 1996, section 2.4.  The columns are not scaled to unit length:  A = Q·U,
    U with a diagonal of ones, F = U⁻¹·D^−½, D the squares of the lengths.
    """
    k, m, b = columns.shape
    part, spare = work("part", b), work("spare", m, b)
    upper, length = work("upper", k, k, b), work("length", k, b)
    found, pivot = work("found", k, b), work("pivot", b)
    before = work("before", k, b)
    np.einsum("jmb,jmb->jb", columns, columns, out=before)
    for j in range(k):
        own = columns[j]
        np.einsum("mb,mb->b", own, own, out=length[j])
        for i in range(j + 1, k + 1):
            other = columns[i] if i < k else wanted
            share = upper[j, i] if i < k else found[j]
            np.einsum("mb,mb->b", own, other, out=share)
            share /= length[j]
            np.multiply(own, share, out=spare)
            other -= spare
    np.divide(length, before, out=before)
    np.minimum.reduce(before, axis=0, out=pivot)
    # U·s = t from the last row up, and U⁻¹ column by column.
    factor = work("factor", k, k, b)
    np.sqrt(length, out=length)
    for j in reversed(range(k)):
        for i in range(j + 1, k):
            np.multiply(upper[j, i], found[i], out=part)
            found[j] -= part
    for column in range(k):
        np.divide(1.0, length[column], out=factor[column, column])
        for j in reversed(range(column)):
            np.multiply(upper[j, column], factor[column, column], out=factor[j, column])
            for i in range(j + 1, column):
                np.multiply(upper[j, i], factor[i, column], out=part)
                factor[j, column] += part
            np.negative(factor[j, column], out=factor[j, column])
    return Solved(found, factor, pivot)
