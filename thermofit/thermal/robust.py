"""Least squares that a few wild readings do not move, and honest covariances of it.

Tukey's biweight with the scale from a quantile of the residuals; the covariance is that of
an M-estimator, Huber and Ronchetti, Robust Statistics, 2nd ed., section 7.6 (from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.errors import FitError
from thermofit.thermal.model import Shape

__all__ = ["RobustFit", "fit_robustly", "gain"]

Array = npt.NDArray[np.float64]

# 95 % as efficient as least squares where the noise is normal (common knowledge of the field).
_TUKEY: Final = 4.685
_HUBER: Final = 1.345
# The scale is that of normal noise of which 80 % lies within.  The median alone would see
# little but the settled parts of a log, which a logger of coarse steps shows without noise.
_QUANTILE: Final = 0.8
_WITHIN: Final = 1.2816

_MONOTONE_ROUNDS = 2
_MOST_ROUNDS = 30
# Weights that change less than this move the parameters by far less than their uncertainty.
_SETTLED = 1e-3
# Residuals smaller than this part of the step are rounding.
_ROUNDING = 1e-10


@dataclass(frozen=True, eq=False)
class RobustFit:
    """Parameters of a shape, fitted.

    Parameters
    ----------
    shape : Shape
    onset : float
        The onset, where it is no parameter.
    parameters : array, shape (k,)
    residuals, weights : array, shape (n,)
        Measured less fitted; 1 for a good reading and 0 for one that was left out.
    scale : float
        Standard deviation of the noise, from a quantile of the residuals.
    covariance : array, shape (k, k)
        For noise without correlation.
    noise : float
        Standard deviation of the noise that the covariance rests on.
    dof : float
        Readings that count, less parameters.
    """

    shape: Shape
    onset: float
    parameters: Array
    residuals: Array
    weights: Array
    scale: float
    covariance: Array
    noise: float
    dof: float

    @property
    def onset_s(self) -> float:
        """The onset, fitted or fixed."""
        return float(self.parameters[0]) if self.shape.onset_free else self.onset

    @property
    def start(self) -> float:
        """Temperature before the step."""
        return float(self.parameters[int(self.shape.onset_free)])

    @property
    def step(self) -> float:
        """Final less start temperature."""
        return float(self.parameters[self.shape.onset_free + 1])


def fit_robustly(
    shape: Shape, t: Array, y: Array, begin: Array, onset: float, floor: float
) -> RobustFit:
    """Fit a shape to readings of which a few may be wild.

    Parameters
    ----------
    shape : Shape
    t, y : array, shape (n,)
        Times and temperatures.
    begin : array, shape (k,)
        Where to begin.
    onset : float
        The onset, where it is no parameter.
    floor : float
        The least scale: what the resolution of the readings hides.

    Returns
    -------
    RobustFit

    Raises
    ------
    FitError
        The readings do not determine the parameters.
    """
    p, weights, scale = begin, np.zeros_like(y), 0.0
    least = max(floor, _ROUNDING * float(np.ptp(y)))
    # The first round only weighs: one wild reading could drive the first solution far away.
    for round_ in range(_MOST_ROUNDS):
        if round_:
            p = _weighted(shape, t, y, p, onset, np.sqrt(weights))
        residuals = y - shape.evaluate(p, t, onset)[0]
        scale = max(_spread(residuals, shape.size), least)
        u = np.abs(residuals / scale)
        if round_ <= _MONOTONE_ROUNDS:
            weights = _HUBER / np.maximum(u, _HUBER)
            continue
        before, weights = weights, np.maximum(1.0 - (u / _TUKEY) ** 2, 0.0) ** 2
        if np.abs(weights - before).max() < _SETTLED:
            break
    return _with_covariance(shape, t, y, p, onset, scale, least)


def _weighted(shape: Shape, t: Array, y: Array, p: Array, onset: float, root: Array) -> Array:
    from scipy.optimize import leastsq

    kept: dict[bytes, tuple[Array, Array]] = {}

    def at(q: Array) -> tuple[Array, Array]:
        key = q.tobytes()
        if key not in kept:
            kept.clear()
            kept[key] = shape.evaluate(q, t, onset)
        return kept[key]

    def miss(q: Array) -> Array:
        return root * (at(q)[0] - y)

    def slope(q: Array) -> Array:
        return root[:, None] * at(q)[1]

    # Far from the solution an exponential may overflow; the step is then taken back.
    with np.errstate(all="ignore"):
        found = leastsq(
            miss, p, Dfun=slope, full_output=True, ftol=1e-13, xtol=1e-12, maxfev=200
        )  # fmt: skip
    solution: Array = found[0]
    if not np.isfinite(solution).all():
        raise FitError("the readings do not determine a step response")
    return solution


def _spread(residuals: Array, used: int) -> float:
    """Scale of the residuals; the smallest ones are as small as the parameters made them."""
    return float(np.quantile(np.sort(np.abs(residuals))[used:], _QUANTILE)) / _WITHIN


def _with_covariance(
    shape: Shape, t: Array, y: Array, p: Array, onset: float, scale: float, least: float
) -> RobustFit:
    value, jacobian = shape.evaluate(p, t, onset)
    residuals = y - value
    u = (residuals / scale) / _TUKEY
    inside = np.abs(u) < 1.0
    weights = np.where(inside, (1.0 - u**2) ** 2, 0.0)
    bend = np.where(inside, (1.0 - u**2) * (1.0 - 5.0 * u**2), 0.0)
    n, k = len(y), shape.size
    dof = float(inside.sum() - k)
    if dof < 1.0:
        raise FitError(
            f"{int(inside.sum())} readings that agree are too few for the {k} parameters of a "
            "step response; log more of the step"
        )
    mean = float(bend.mean())
    correction = 1.0 + k / n * float(bend.var()) / mean**2
    scatter = float(np.sum((weights * residuals) ** 2)) / (n - k)
    noise = float(correction * np.sqrt(max(scatter, least**2)) / mean)
    covariance = _inverse(jacobian, weights, noise)
    if shape.onset_free and np.isfinite(covariance[0, 0]):
        # Which readings lie after the onset is as uncertain as the onset.
        blur = float(np.sqrt(covariance[0, 0]))
        covariance = _inverse(shape.evaluate(p, t, onset, blur)[1], weights, noise)
    return RobustFit(
        shape, onset, p, residuals, weights, scale, covariance, noise, dof
    )  # fmt: skip


def _inverse(jacobian: Array, weights: Array, noise: float) -> Array:
    """Covariance of the parameters; infinite where the readings do not determine them."""
    # Columns of like size, so that seconds and kelvins do not spoil the factorisation.
    root = np.sqrt(weights / weights.mean())[:, None] * jacobian
    size = np.linalg.norm(root, axis=0)
    size[size == 0.0] = 1.0
    factor = np.linalg.qr(root / size, mode="r")
    if np.abs(np.diag(factor)).min() < 1e-9:
        return np.full((len(size), len(size)), np.inf)
    inverse = np.linalg.inv(factor) / size[:, None]
    with np.errstate(over="ignore", invalid="ignore"):
        covariance: Array = noise**2 * inverse @ inverse.T
    return covariance if np.isfinite(covariance).all() else np.full(covariance.shape, np.inf)


def gain(small: Array, large: RobustFit) -> float:
    """Measure how much better a larger shape does, as a variable of χ².

    Parameters
    ----------
    small : array, shape (n,)
        Residuals of the smaller shape.
    large : RobustFit

    Returns
    -------
    float
        Under the smaller shape about χ² with as many degrees of freedom as the larger one
        has parameters more.
    """
    u = large.residuals / large.scale
    bend = np.where(np.abs(u) < _TUKEY, (1 - (u / _TUKEY) ** 2) * (1 - 5 * (u / _TUKEY) ** 2), 0)
    psi2 = float(np.sum((large.weights * u) ** 2)) / (len(u) - large.shape.size)
    floor = max(psi2, 1e-3)  # where the resolution is all the scatter there is
    fall = float(np.sum(_loss(small / large.scale)) - np.sum(_loss(u)))
    return 2.0 * fall * float(bend.mean()) / floor


def _loss(u: Array) -> Array:
    loss: Array = _TUKEY**2 / 6.0 * (1.0 - np.maximum(1.0 - (u / _TUKEY) ** 2, 0.0) ** 3)
    return loss
