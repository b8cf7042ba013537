"""Probability of conformity (JCGM 106:2012, clause 7), of a reading and of a place."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.decide.place import Places
from thermofit.decide.population import Population
from thermofit.decide.requirement import Requirement
from thermofit.decide.rule import DecisionRule, Prior, decisions
from thermofit.errors import InputError

__all__ = ["place_decisions", "place_probability", "reading_probability", "region_probability"]

Array = npt.NDArray[np.float64]

# Sensors at a time: a polygon of many corners would otherwise take much memory.
_BLOCK = 8192


def reading_probability(
    deviation: Array, u: Array, a: Array, low: Array, high: Array, prior: Prior
) -> Array:
    """Probability that the part conforms at the temperature of a reading.

    Parameters
    ----------
    deviation, u : array
        Measured deviation of ln R, and its standard uncertainty.
    a : array
        ln ρ(T) there.
    low, high : array
        Limits of the deviation.
    prior : "uniform" or Population
        Uniform: the posterior is normal about the measured deviation.  A
        population: about the mean of both, weighted by their variances.

    Returns
    -------
    array
    """
    from scipy.special import ndtr

    if isinstance(prior, Population):
        mean, s = prior.along(a)
        share = s**2 / (s**2 + u**2)
        deviation, u = mean + share * (deviation - mean), u * np.sqrt(share)
    lower, upper = (low - deviation) / u, (high - deviation) / u
    # Above the middle, the difference of the upper tails, which are small there.
    flip = lower > 0.0
    lower, upper = np.where(flip, -upper, lower), np.where(flip, -lower, upper)
    probability: Array = ndtr(upper) - ndtr(lower)
    return probability


def place_probability(places: Places, requirement: Requirement, prior: Prior) -> Array:
    """Probability that (γ, β) lies in the region that the tolerance allows.

    Parameters
    ----------
    places : Places
    requirement : Requirement
    prior : "uniform" or Population
        With a population a sensor known at one temperature only has a
        probability too: the population tells what its reading does not.

    Returns
    -------
    array, shape (n,)
        NaN where readings and prior together do not determine the place.

    Raises
    ------
    InputError
        A population together with a region that is a line: none of its parts
        lies exactly on it.
    """
    if isinstance(prior, Population):
        if requirement.line is not None:
            raise InputError(
                f"{requirement.tolerance} limits one thing and takes the other as exact, but a "
                "Population has parts that differ in both; state limits of R25 and of B"
            )
        return region_probability(*_posterior(places, prior), requirement)
    return region_probability(places.estimate, places.covariance, requirement)


def region_probability(mean: Array, covariance: Array, requirement: Requirement) -> Array:
    """Probability that normally distributed places lie in the region.

    Parameters
    ----------
    mean : array, shape (n, 2)
    covariance : array, shape (n, 2, 2)
    requirement : Requirement
        Where its region is a line, all is taken along that.

    Returns
    -------
    array, shape (n,)
        NaN where the mean is.
    """
    if requirement.line is not None:
        along, u = _along(mean, covariance, requirement.line)
        low, high = (np.full(along.shape, end) for end in requirement.line_ends)
        return reading_probability(along, u, np.zeros_like(along), low, high, "uniform")
    known = np.isfinite(mean[:, 0])
    probability = np.full(len(known), np.nan)
    for block in _blocks(known):
        probability[block] = requirement.region.normal_probability(mean[block], covariance[block])
    return probability


def place_decisions(
    places: Places, requirement: Requirement, rule: DecisionRule, probability: Array
) -> npt.NDArray[np.str_]:
    """Decide on sensors by where their places lie.

    Guarded, a sensor is accepted if it conforms with probability 1 − risk at
    least, and rejected if the ellipse that holds its place with coverage
    1 − risk lies wholly outside the region (and the probability of conformity,
    which a prior may raise, is at most the risk).  A small probability alone
    does not reject: measured coarsely enough, a perfect part has one too.  So no
    conforming part, wherever in the region, is rejected more often than risk.

    A sensor with one temperature only is judged by its mean deviation there: it
    can be rejected by that, but not accepted.

    Parameters
    ----------
    places : Places
    requirement : Requirement
    rule : DecisionRule
    probability : array, shape (n,)
        From `place_probability`.

    Returns
    -------
    array of str, shape (n,)
    """
    from scipy.special import chdtri

    inside = np.zeros(len(places.located), dtype=bool)
    estimate = places.estimate[places.located]
    if requirement.line is None:
        inside[places.located] = requirement.region.contains(estimate[:, 0], estimate[:, 1])
        unknowns = 2
    else:
        low_end, high_end = requirement.line_ends
        along = estimate @ requirement.line
        inside[places.located] = (along >= low_end) & (along <= high_end)
        unknowns = 1
    outside = places.located & ~inside
    if rule.name == "simple":
        whole = decisions(inside, outside)
    else:
        away = np.zeros(len(outside))
        away[outside] = _distance(places, outside, requirement)
        beyond = away**2 > chdtri(unknowns, rule.risk)
        whole = decisions(probability >= 1.0 - rule.risk, beyond & (probability <= rule.risk))
    low, high = requirement.region.support(places.a_mean)
    with np.errstate(invalid="ignore"):  # infinite for a sensor without a usable reading
        g = rule.guard_factor * places.u_shift
    off = (places.shift < low - g) | (places.shift > high + g)
    once = np.where(off, "reject", "cannot tell")
    return np.where(places.located, whole, once)


def _posterior(places: Places, prior: Population) -> tuple[Array, Array]:
    """Mean and covariance of (γ, β) by Bayes' theorem for normal distributions."""
    prior_mean, prior_covariance = prior.mean, prior.covariance
    # One temperature: the reading is of γ + β·a alone.
    h = np.stack([np.ones_like(places.a_mean), places.a_mean], axis=-1)
    spread = h @ prior_covariance
    variance = (spread * h).sum(axis=-1) + places.u_shift**2
    gain = spread / variance[:, np.newaxis]
    mean = prior_mean + gain * (places.shift - h @ prior_mean)[:, np.newaxis]
    covariance = prior_covariance - gain[:, :, np.newaxis] * spread[:, np.newaxis, :]
    at = places.located
    own = places.covariance[at]
    matrix = np.swapaxes(np.linalg.solve(prior_covariance + own, prior_covariance), -1, -2)
    away = (places.estimate[at] - prior_mean)[..., np.newaxis]
    mean[at] = prior_mean + (matrix @ away)[..., 0]
    both = matrix @ own
    covariance[at] = 0.5 * (both + np.swapaxes(both, -1, -2))
    return mean, covariance


def _along(mean: Array, covariance: Array, line: Array) -> tuple[Array, Array]:
    """Places along a line, and their standard uncertainties."""
    along: Array = mean @ line
    return along, np.sqrt(line @ covariance @ line)


def _distance(places: Places, chosen: npt.NDArray[np.bool_], requirement: Requirement) -> Array:
    """Distance of places outside the region from it, in standard uncertainties (Mahalanobis)."""
    if requirement.line is not None:
        along, u = _along(places.estimate, places.covariance, requirement.line)
        low, high = requirement.line_ends
        return (np.maximum(low - along, along - high) / u)[chosen]
    distance = np.empty(len(chosen))
    for block in _blocks(chosen):
        root = np.linalg.cholesky(places.covariance[block])
        away = requirement.region.vertices - places.estimate[block][:, np.newaxis, :]
        start = np.linalg.solve(root, np.swapaxes(away, -1, -2))  # (block, 2, corners)
        edge = np.roll(start, -1, axis=-1) - start
        part = np.clip(-(start * edge).sum(axis=1) / (edge * edge).sum(axis=1), 0.0, 1.0)
        nearest = start + part[:, np.newaxis, :] * edge
        distance[block] = np.hypot(nearest[:, 0], nearest[:, 1]).min(axis=-1)
    return distance[chosen]


def _blocks(chosen: npt.NDArray[np.bool_]) -> list[npt.NDArray[np.intp]]:
    places = np.flatnonzero(chosen)
    return [places[start : start + _BLOCK] for start in range(0, len(places), _BLOCK)]
