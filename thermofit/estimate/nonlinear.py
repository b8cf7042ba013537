"""Nonlinear least squares through lmfit, with analytic Jacobians."""

from __future__ import annotations

from typing import Any

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.errors import FitError
from thermofit.estimate.linear import Solution, factorise
from thermofit.estimate.plane import Plane

__all__ = ["fit_nonlinear", "solution_at"]

_MAX_REWEIGHTINGS = 12
_MAX_EVALUATIONS = 2_000
_MAX_STEPS = 30

# How far from the minimum lmfit may stop where Gauss–Newton steps go on from there, and where
# it has to do all by itself.
_NEAR, _FULL = 1e-8, 1e-15

# What a step changes of the predicted values, as a part of them, when it counts for nothing.
_ROUNDING = 3e-14


def fit_nonlinear(equation: Equation, plane: Plane, start: Array) -> Solution:
    """Minimise the error in temperature, or in resistance, exactly.

    Parameters
    ----------
    equation : Equation
    plane : Plane
    start : array, shape (k,)
        Coefficients to start from.

    Returns
    -------
    Solution

    Raises
    ------
    FitError
        No minimum was found from these starting values.
    """
    first = equation.to_fitted(start)
    sigma = plane.effective(equation, start)
    _refuse_unusable(sigma, equation, start)
    fitted = _settle(equation, plane, first, sigma)
    if fitted is None:
        fitted = _reweight(equation, plane, first, sigma)
    return solution_at(equation, plane, fitted)


def _settle(equation: Equation, plane: Plane, fitted: Array, sigma: Array) -> Array | None:
    """Go near the minimum with lmfit, and on by Gauss–Newton steps until only rounding moves.

    Each step has the weights of where it starts.  None where the steps do not shrink at least by
    half each time: the curve is far from the points, for what they are worth, and the minimum must
    be looked for with more care.
    """
    before = np.inf
    try:
        fitted = _minimise(equation, plane, fitted, sigma, _NEAR)
        for _ in range(_MAX_STEPS):
            c = equation.from_fitted(fitted)
            predicted, derivative = plane.predict(equation, c)
            sigma = plane.effective(equation, c)
            q, factor = factorise(derivative / sigma[:, np.newaxis])
            along = q.T @ ((plane.observed - predicted) / sigma)
            fitted = fitted + factor @ along
            size = float(np.linalg.norm(along))
            if size <= _ROUNDING * float(np.linalg.norm(plane.observed / sigma)):
                return fitted
            if not size <= 0.5 * before:
                return None
            before = size
    except FitError:
        return None
    return None


def _reweight(equation: Equation, plane: Plane, fitted: Array, sigma: Array) -> Array:
    """Minimise to the end with fixed weights, renew them, and again, until they stand still."""
    for _ in range(_MAX_REWEIGHTINGS):
        fitted = _minimise(equation, plane, fitted, sigma, _FULL)
        before = sigma
        sigma = plane.effective(equation, equation.from_fitted(fitted))
        _refuse_unusable(sigma, equation, equation.from_fitted(fitted))
        if (np.abs(sigma - before) <= 1e-10 * sigma).all():
            break
    return fitted


def solution_at(equation: Equation, plane: Plane, fitted: Array) -> Solution:
    """Covariance and leverage of coefficients that are known already.

    The factorisation of the Jacobian gives the covariance, not the optimiser:
    an optimiser's estimate fails for fits that leave no residuals.
    """
    c = equation.from_fitted(fitted)
    _, derivative = plane.predict(equation, c)
    q, factor = factorise(derivative / plane.effective(equation, c)[:, np.newaxis])
    return Solution(fitted, factor, np.einsum("ij,ij->i", q, q))


def _minimise(
    equation: Equation, plane: Plane, fitted: Array, sigma: Array, tolerance: float
) -> Array:
    """Levenberg–Marquardt from lmfit; coefficients on their fitted scale."""
    import lmfit

    names = [entry.name for entry in equation.coefficients]
    parameters = lmfit.Parameters()
    for name, value in zip(names, fitted, strict=True):
        parameters.add(name, value=float(value))
    # What the optimiser sees where the equation has no value: worse than
    # anything, so that the step is taken back.
    worst = np.full(sigma.shape, 1e8 * float(np.max(plane.observed / sigma)))

    # The optimiser asks for the derivative where it has just asked for the value.
    last: dict[bytes, tuple[Array, Array]] = {}

    def evaluate(values: Any) -> tuple[Array, Array]:
        at = np.array([values[name].value for name in names])
        if at.tobytes() not in last:
            last.clear()
            last[at.tobytes()] = plane.predict(equation, equation.from_fitted(at))
        return last[at.tobytes()]

    def misses(values: Any) -> Array:
        miss = (evaluate(values)[0] - plane.observed) / sigma
        return miss if np.isfinite(miss).all() else worst

    def jacobian(values: Any) -> Array:
        slope = evaluate(values)[1] / sigma[:, np.newaxis]
        return np.nan_to_num(slope, nan=0.0, posinf=0.0, neginf=0.0)

    result = lmfit.minimize(
        misses, parameters, method="leastsq", Dfun=jacobian, max_nfev=_MAX_EVALUATIONS,
        ftol=tolerance, xtol=tolerance, gtol=0.0, calc_covar=False,
    )  # fmt: skip
    found = np.array([result.params[name].value for name in names])
    if not np.isfinite(misses(result.params)).all() or result.aborted:
        raise FitError(
            f"no {equation.label} curve was found from the starting values "
            f"{equation.from_fitted(fitted).tolist()}; give others with start=…"
        )
    return found


def _refuse_unusable(sigma: Array, equation: Equation, c: Array) -> None:
    if not (np.isfinite(sigma).all() and (sigma > 0.0).all()):
        raise FitError(
            f"the {equation.label} curve with the values {c.tolist()} has no value at some of "
            "the points; give other starting values with start=…"
        )
