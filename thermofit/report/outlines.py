"""Outlines in the plane of (γ, β): ellipses, and where a decision would change."""

from __future__ import annotations

from itertools import pairwise
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.decide.conformity import place_decisions, place_probability
from thermofit.decide.place import Places
from thermofit.decide.requirement import Requirement
from thermofit.decide.rule import Decision, DecisionRule, Prior

__all__ = ["decision_outline", "ellipse", "polygon"]

Array = npt.NDArray[np.float64]

_ANGLES: Final = 121
_BISECTIONS: Final = 18
# How far beyond the region, in standard uncertainties of a place, a decision may still change.
_REACH: Final = 6.0
_STEPS: Final = 12
_MANY: Final = 20


def ellipse(mean: Array, covariance: Array, coverage: float) -> Array:
    """Outline of the ellipse that holds a place with a probability, shape (n, 2).

    One that is known to lie on a line has a stretch of that line.
    """
    from scipy.special import chdtri

    values, vectors = np.linalg.eigh(covariance)
    unknowns = 1 if values[0] < 1e-9 * values[1] else 2
    axes = vectors * np.sqrt(np.maximum(values, 0.0) * chdtri(unknowns, 1.0 - coverage))
    angle = np.linspace(0.0, 2.0 * np.pi, _ANGLES)
    outline: Array = mean + np.stack([np.cos(angle), np.sin(angle)], axis=-1) @ axes.T
    return outline


def polygon(vertices: Array) -> Array:
    """Closed outline of a region, shape (n, 2); edges of few in steps, as the axes bend them."""
    closed = np.concatenate([vertices, vertices[:1]])
    if len(vertices) > _MANY:
        return closed
    share = np.arange(_STEPS)[:, np.newaxis] / _STEPS
    edges = [start + share * (end - start) for start, end in pairwise(closed)]
    return np.concatenate([*edges, closed[:1]])


def decision_outline(
    requirement: Requirement, rule: DecisionRule, prior: Prior, covariance: Array, wanted: Decision
) -> Array | None:
    """Outline within which a sensor is accepted, or beyond which it is rejected.

    Parameters
    ----------
    requirement : Requirement
        With a region that is no line.
    rule : DecisionRule
    prior : "uniform" or Population
    covariance : array, shape (2, 2)
        Uncertainty of the place, wherever it is.
    wanted : {"accept", "reject"}

    Returns
    -------
    array, shape (n, 2), or None
        Closed; None where no place at all is accepted.
    """

    def inside(estimate: Array) -> npt.NDArray[np.bool_]:
        places = _as_if(estimate, covariance)
        probability = place_probability(places, requirement, prior)
        decided = place_decisions(places, requirement, rule, probability)
        kept: npt.NDArray[np.bool_] = (decided == wanted) == (wanted == "accept")
        return kept

    vertices = requirement.region.vertices
    middle = vertices.mean(axis=0)
    # Both are convex, or two convex ones about one point, so that rays from it meet them once.
    starts = np.concatenate([middle + 0.5 * (vertices - middle), middle[np.newaxis]])
    likely = place_probability(_as_if(starts, covariance), requirement, prior)
    start = starts[int(np.argmax(likely))]
    if not inside(start[np.newaxis])[0]:
        return None
    size = np.ptp(vertices, axis=0) + _REACH * np.sqrt(np.diagonal(covariance))
    angle = np.linspace(0.0, 2.0 * np.pi, _ANGLES)
    rays = np.stack([np.cos(angle), np.sin(angle)], axis=-1) * size
    near, far = np.zeros(_ANGLES), np.full(_ANGLES, 2.0)
    for _ in range(_BISECTIONS):
        half = 0.5 * (near + far)
        within = inside(start + half[:, np.newaxis] * rays)
        near, far = np.where(within, half, near), np.where(within, far, half)
    outline: Array = start + near[:, np.newaxis] * rays
    return outline


def _as_if(estimate: Array, covariance: Array) -> Places:
    """Places as if sensors had been found there, all with one uncertainty."""
    n = len(estimate)
    nothing, none = np.zeros(n), np.zeros(n, dtype=np.intp)
    return Places(
        estimate=estimate,
        covariance=np.broadcast_to(covariance, (n, 2, 2)),
        located=np.ones(n, dtype=bool),
        count=none,
        chi2=nothing,
        dof=none,
        a_mean=nothing,
        shift=nothing,
        u_shift=np.ones(n),
        left_out=np.empty(0),
        left_out_score=np.empty(0),
    )
