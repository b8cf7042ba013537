"""Many sensors fitted with a prior that says how their curves bend."""

from __future__ import annotations

import numpy as np

from thermofit.errors import FitError, InputError
from thermofit.estimate.many.block import blocks_of
from thermofit.estimate.many.collected import Collected
from thermofit.estimate.many.near_prior import Shared, near_prior
from thermofit.estimate.many.points import ManyPoints
from thermofit.estimate.many.result import ManyFits
from thermofit.estimate.prior import Prior
from thermofit.estimate.sources import sources_of_points
from thermofit.estimate.with_prior import fit_with_prior

__all__ = ["fit_many_with_prior"]


def fit_many_with_prior(
    points: ManyPoints, prior: Prior, shared_u_t_k: float = 0.0, shared_u_r_pct: float = 0.0
) -> ManyFits:
    """Fit the curves of a prior's equation to the points of many sensors.

    Parameters
    ----------
    points : ManyPoints
        With uncertainties.
    prior : Prior
    shared_u_t_k, shared_u_r_pct : float
        As for `thermofit.characterise`; what the readings of one sensor share.

    Returns
    -------
    ManyFits

    Raises
    ------
    FitError
        No uncertainties are stated.
    InputError
        A shared part that is negative.
    """
    if points.u_t_k is None and points.u_r_ohm is None:
        raise FitError(
            "a prior is weighed against the uncertainties of the readings, and none were given: "
            "state u_t_k, or u_r_ohm, or both"
        )
    for name, value in (("shared_u_t_k", shared_u_t_k), ("shared_u_r_pct", shared_u_r_pct)):
        if not (np.isfinite(value) and value >= 0.0):
            raise InputError(f"{name} must not be negative, not {value!r}")
    shared = Shared(shared_u_t_k, shared_u_r_pct / 100.0)
    found = Collected(points, prior.equation, 1, prior.t_range_c)
    soften = np.linalg.inv(np.linalg.cholesky(prior.covariance))
    terms, common = len(prior.mean) + 1, shared.count
    left: list[int] = []
    for group in points.groups:
        size = (common + group.count + terms - 1) * (common + terms) // 4
        with np.errstate(all="ignore"):
            for block in blocks_of(points, group, "temperature", size):
                left += found.put(block, near_prior(block, prior, soften, shared))
    found.one_by_one(
        left,
        lambda own: fit_with_prior(
            own, prior, sources_of_points(own, shared_u_t_k, shared_u_r_pct)
        ),
    )
    return found.result()
