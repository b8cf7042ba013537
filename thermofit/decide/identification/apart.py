"""Which families cannot be told apart, by the readings at hand or by any."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import numpy.typing as npt

from thermofit.decide.identification.comparison import LEAST_U, Readings
from thermofit.decide.identification.hypothesis import Expected, Hypothesis
from thermofit.tolerance import Region

__all__ = ["ALIKE", "Group", "alike_groups", "overlap", "spread_of"]

Array = npt.NDArray[np.float64]

ALIKE = 0.9
"""Bhattacharyya coefficient of the readings of two families from which they count as alike.

A decision between the two is then right in 72 % of cases at best.
"""

_MANY = 10.0  # as a hundred readings at each temperature are worth
_MOST = 8


@dataclass(frozen=True)
class Group:
    """Families that cannot be told apart.

    Parameters
    ----------
    ids : tuple of str
        The more probable first.
    probability : float
        Of all of them together.
    by : {"these readings", "any reading in the range"}
        What cannot tell them apart.  By these readings: however often they are
        repeated at the same temperatures.  In the range: as far as all families in
        question are valid there.
    right_at_best : float
        Upper limit of how often a decision between two of them is right that are
        as probable beforehand, of those pairs that are the least alike.
    """

    ids: tuple[str, ...]
    probability: float
    by: Literal["these readings", "any reading in the range"]
    right_at_best: float


def spread_of(region: Region) -> tuple[Array, Array]:
    """Mean and covariance of places spread evenly over a region.

    Parameters
    ----------
    region : Region

    Returns
    -------
    mean : array, shape (2,)
    covariance : array, shape (2, 2)
    """
    corners = region.vertices
    fan = np.stack([np.broadcast_to(corners[0], corners[1:-1].shape), corners[1:-1], corners[2:]])
    one, two = fan[1] - fan[0], fan[2] - fan[0]
    share = np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])
    share = share / share.sum()
    middles = fan.mean(axis=0)
    mean = share @ middles
    # Of a triangle about its middle: a twelfth of the sum over its corners.
    own = np.einsum("cti,ctj->tij", fan - middles, fan - middles) / 12.0
    away = middles - mean
    covariance: Array = np.einsum("t,tij->ij", share, own) + np.einsum(
        "t,ti,tj->ij", share, away, away
    )
    return mean, covariance


def overlap(one: Hypothesis, other: Hypothesis, readings: Readings, share: float = 1.0) -> float:
    """How alike the readings of two families are: 1 for the same, 0 for quite others.

    Bhattacharyya's coefficient of two normal distributions with the mean and the
    covariance of each family's readings.  What is not known of the shape of either
    counts for both, since a shape that only one of them states does not tell them
    apart.

    Parameters
    ----------
    one, other : Hypothesis
    readings : Readings
        Of one sensor; their resistances do not matter.
    share : float
        Factor on the uncertainty of the readings.

    Returns
    -------
    float
        NaN where a temperature lies outside a valid range.
    """
    t_c = readings.t_c[0]
    at = [hypothesis.expected(t_c) for hypothesis in (one, other)]
    if any(np.isnan(each.ln_r).any() for each in at):
        return float("nan")
    open_shape = sum(
        (np.outer(each.bend, each.bend) + np.diag(each.shape**2) for each in at),
        np.zeros((t_c.size, t_c.size)),
    )
    means, covariances = zip(
        *(
            _readings_of(hypothesis, each, readings, share)
            for hypothesis, each in zip((one, other), at, strict=True)
        ),
        strict=True,
    )
    first, second = (covariance + open_shape for covariance in covariances)
    middle = 0.5 * (first + second)
    step = means[0] - means[1]
    logs = [np.linalg.slogdet(matrix)[1] for matrix in (first, second, middle)]
    away = step @ np.linalg.solve(middle, step) / 8.0
    return float(np.exp(-away - 0.5 * (logs[2] - 0.5 * (logs[0] + logs[1]))))


def _readings_of(
    hypothesis: Hypothesis, at: Expected, readings: Readings, share: float
) -> tuple[Array, Array]:
    mean, covariance = spread_of(hypothesis.region)
    design = np.stack([np.ones_like(at.a), at.a], axis=-1)
    u = share * np.hypot(readings.u_ln_r[0], at.alpha * readings.u_t_k[0])
    return at.ln_r + design @ mean, design @ covariance @ design.T + np.diag(u**2 + LEAST_U**2)


def alike_groups(
    hypotheses: Sequence[Hypothesis], probability: Array, readings: Readings, over: Readings
) -> tuple[Group, ...]:
    """Gather families that cannot be told apart.

    Parameters
    ----------
    hypotheses : sequence of Hypothesis
        The more probable first.
    probability : array
        Of each.
    readings : Readings
        As taken, of one sensor.
    over : Readings
        Readings all over the range, of one sensor.

    Returns
    -------
    tuple of Group
        Those that no reading tells apart, then those that these readings do not.
    """
    found: list[Group] = []
    plans: tuple[tuple[Literal["these readings", "any reading in the range"], Readings], ...] = (
        ("any reading in the range", over),
        ("these readings", _few(readings)),
    )
    for by, plan in plans:
        left = list(range(len(hypotheses)))
        while left:
            # All members are alike pair by pair: likeness is not handed on.
            members, least = [left[0]], 1.0
            for j in left[1:]:
                pairs = [overlap(hypotheses[i], hypotheses[j], plan, 1.0 / _MANY) for i in members]
                if all(pair >= ALIKE for pair in pairs):
                    members.append(j)
                    least = min(least, *pairs)
            left = [j for j in left if j not in members]
            ids = tuple(hypotheses[j].id for j in members)
            if len(ids) > 1 and not any(set(ids) == set(group.ids) for group in found):
                right = 0.5 * (1.0 + np.sqrt(max(1.0 - least**2, 0.0)))
                found.append(Group(ids, float(probability[members].sum()), by, float(right)))
    return tuple(found)


def _few(readings: Readings) -> Readings:
    """Keep each temperature once, and not more of them than tell a shape."""
    where = np.unique(readings.t_c[0], return_index=True)[1]
    if len(where) > _MOST:
        where = where[np.round(np.linspace(0, len(where) - 1, _MOST)).astype(int)]
    return Readings(*(x[:, where] for x in (
        readings.t_c, readings.ln_r, readings.u_ln_r, readings.u_t_k
    )))  # fmt: skip
