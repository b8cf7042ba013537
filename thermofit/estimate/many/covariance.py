"""Covariances of many sensors, kept as their lower triangles."""

from __future__ import annotations

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.many.block import Work

__all__ = ["lower_triangle", "places", "square"]


def places(k: int) -> list[tuple[int, int]]:
    """Rows and columns of the lower triangle of a k × k matrix, row by row."""
    return [(i, j) for i in range(k) for j in range(i + 1)]


def lower_triangle(factor: Array, work: Work) -> Array:
    """F·Fᵀ of upper triangular factors, shape (k, k, b), as its lower triangle."""
    k, _, b = factor.shape
    out = work("covariance", k * (k + 1) // 2, b)
    for row, (i, j) in enumerate(places(k)):
        np.einsum("lb,lb->b", factor[i, i:], factor[j, i:], out=out[row])
    return out


def square(triangle: Array) -> Array:
    """Full matrices, shape (n, k, k), of lower triangles, shape (k·(k + 1)/2, n)."""
    k = int((np.sqrt(8 * len(triangle) + 1) - 1) // 2)
    out = np.empty((triangle.shape[1], k, k))
    for row, (i, j) in enumerate(places(k)):
        out[:, i, j] = out[:, j, i] = triangle[row]
    return out
