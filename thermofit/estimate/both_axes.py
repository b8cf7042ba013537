"""Errors on both axes by orthogonal distance regression (odrpack)."""

from __future__ import annotations

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.errors import FitError
from thermofit.estimate.linear import Solution
from thermofit.estimate.nonlinear import solution_at
from thermofit.estimate.plane import Plane

__all__ = ["fit_both_axes"]


def fit_both_axes(equation: Equation, plane: Plane, near: Solution) -> Solution:
    """Minimise the weighted distance from the points to the curve in the plane.

    Parameters
    ----------
    equation : Equation
    plane : Plane
        With stated uncertainties on both axes.
    near : Solution
        Outcome of an effective-variance fit, from which to start.

    Returns
    -------
    Solution

    Raises
    ------
    FitError
        An uncertainty is missing or zero, or no minimum was found.

    References
    ----------
    J. W. Zwolak, P. T. Boggs, L. T. Watson, "Algorithm 869: ODRPACK95", ACM
    Trans. Math. Softw. 33 (2007) 27.
    """
    from odrpack import odr_fit

    x, y, u_x, u_y = plane.axes(equation)
    if not plane.stated or not ((u_x > 0.0).all() and (u_y > 0.0).all()):
        raise FitError(
            "a fit by orthogonal distance needs standard uncertainties above zero on both "
            "axes; state them, or leave the errors of one axis to effective variance"
        )

    # In steps of the uncertainties that the first fit found, the coefficients
    # are of order one and hardly correlated.
    def coefficients(steps: Array) -> Array:
        return equation.from_fitted(near.coefficients + near.factor @ steps)

    def value(x: Array, steps: Array) -> Array:
        return equation.value(x, coefficients(steps))

    def by_steps(x: Array, steps: Array) -> Array:
        return (equation.gradient(x, coefficients(steps)).T @ near.factor).T

    def by_argument(x: Array, steps: Array) -> Array:
        return equation.slope(x, coefficients(steps))

    zero = np.zeros(len(near.coefficients))
    result = odr_fit(
        value, x, y, zero,
        weight_x=1.0 / u_x**2, weight_y=1.0 / u_y**2,
        jac_beta=by_steps, jac_x=by_argument,
        scale_beta=np.ones_like(zero), sstol=1e-14, partol=1e-12, maxit=200,
    )  # fmt: skip
    if not result.success:
        raise FitError(f"orthogonal distance regression found no minimum: {result.stopreason}")
    steps = np.asarray(result.beta, dtype=np.float64)
    return solution_at(equation, plane, near.coefficients + near.factor @ steps)
