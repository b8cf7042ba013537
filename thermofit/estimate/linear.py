"""Weighted linear least squares by orthogonal factorisation."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.errors import FitError
from thermofit.estimate.plane import Plane

__all__ = ["Solution", "factorise", "fit_linear", "least_squares"]

_RANK_TOLERANCE = 1e-11
_MAX_REWEIGHTINGS = 50


@dataclass(frozen=True)
class Solution:
    """Outcome of a least-squares fit.

    Parameters
    ----------
    coefficients : array, shape (k,)
        On their fitted scale.
    factor : array, shape (k, k)
        F with F·Fᵀ the covariance of the coefficients for the weights used.
    leverage : array, shape (n,)
        Diagonal of the hat matrix.
    """

    coefficients: Array
    factor: Array
    leverage: Array


def least_squares(design: Array, y: Array, sigma: Array) -> Solution:
    """Solve a weighted linear least-squares problem by QR factorisation.

    Parameters
    ----------
    design : array, shape (n, k), n ≥ k
        Design matrix.
    y : array, shape (n,)
        Observations.
    sigma : array, shape (n,)
        Standard uncertainty of each observation, in the unit of `y`.

    Returns
    -------
    Solution
        With n = k it goes through every observation.

    Raises
    ------
    FitError
        The observations do not determine the coefficients.

    References
    ----------
    Å. Björck, Numerical Methods for Least Squares Problems, SIAM 1996, ch. 2.

    Examples
    --------
    >>> s = least_squares(np.array([[1.0, 0], [1, 1], [1, 2]]), np.array([1.0, 3, 5]), np.ones(3))
    >>> s.coefficients.round(9)
    array([1., 2.])
    """
    q, factor = factorise(design / sigma[:, np.newaxis])
    return Solution(
        coefficients=factor @ (q.T @ (y / sigma)),
        factor=factor,
        leverage=np.einsum("ij,ij->i", q, q),
    )


def factorise(weighted: Array) -> tuple[Array, Array]:
    """Factorise a weighted design matrix A = Q·F⁻¹ with orthonormal columns in Q.

    Parameters
    ----------
    weighted : array, shape (n, k), n ≥ k

    Returns
    -------
    q : array, shape (n, k)
        Orthonormal columns.
    factor : array, shape (k, k)
        Upper triangular F; F·Fᵀ = (AᵀA)⁻¹ without AᵀA being formed.

    Raises
    ------
    FitError
        The columns depend on each other.
    """
    size = np.sqrt(np.einsum("ij,ij->j", weighted, weighted))
    if not (np.isfinite(size).all() and (size > 0.0).all()):
        raise FitError("the points say nothing about one of the coefficients")
    q, r = np.linalg.qr(weighted / size)
    pivots = np.abs(np.diag(r))
    if pivots.min() < _RANK_TOLERANCE * pivots.max():
        raise FitError(
            "the points lie too close together to determine the coefficients; "
            "spread them over the range, or use an equation with fewer coefficients"
        )
    return q, np.linalg.solve(r, np.eye(len(r))) / size[:, np.newaxis]


def fit_linear(equation: Equation, plane: Plane) -> Solution:
    """Fit an equation that is linear in its coefficients.

    The errors of both axes are carried to the explicit value by the slope of
    the curve; since the slope follows from the fit, the weights are renewed until
    they stand still.

    Parameters
    ----------
    equation : Equation
        With ``equation.linear``.
    plane : Plane

    Returns
    -------
    Solution

    Raises
    ------
    FitError
        The points do not determine the coefficients.
    """
    x, y, u_x, _ = plane.axes(equation)
    basis, back = equation.scaled_basis(x)
    offset = y - _offset(equation, x)
    spread = x - x.mean()
    slope = np.full(x.shape, (spread @ y) / (spread @ spread))
    sigma = plane.sigma(equation, slope)
    for _ in range(_MAX_REWEIGHTINGS):
        scaled = least_squares(basis, offset, sigma)
        if not u_x.any():
            break
        fitted = back @ scaled.coefficients
        before = sigma
        slope = equation.slope(x, equation.from_fitted(fitted))
        sigma = plane.sigma(equation, slope)
        if (np.abs(sigma - before) <= 1e-13 * sigma).all():
            break
    return Solution(back @ scaled.coefficients, back @ scaled.factor, scaled.leverage)


def _offset(equation: Equation, x: Array) -> Array:
    """Part of the value that no coefficient carries, such as ln R_ref."""
    zero = equation.from_fitted(np.zeros(len(equation.coefficients)))
    return equation.value(x, zero)
