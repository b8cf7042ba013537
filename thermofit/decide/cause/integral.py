"""How probable readings are under a cause: the integral over the places of its sensors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.assumptions import Drift
from thermofit.decide.cause.linear import Linear
from thermofit.decide.identification.apart import spread_of
from thermofit.decide.identification.evidence import evidence
from thermofit.tolerance import Region

__all__ = ["over_drift", "over_normal", "over_region", "without_place"]

Array = npt.NDArray[np.float64]

# A factor that closes directions of the plane on which the readings say nothing.
_WIDE = 100.0
# Cells this much less probable, in ln p, than the best are left out: below e⁻¹⁰⁰ of the sum.
_HOPELESS = 100.0
_LOOSE = 2.0


@dataclass(frozen=True, eq=False)
class _Information:
    """ln p(y | γ, β) = level + hᵀθ − θᵀMθ/2, in N cells."""

    level: Array
    h: Array
    m: Array


def _information(linear: Linear) -> _Information:
    y = linear.residual
    if not y.shape[1]:
        n = len(y)
        return _Information(np.zeros(n), np.zeros((n, 2)), np.zeros((n, 2, 2)))
    sigma = linear.covariance
    joined = np.concatenate([y[..., np.newaxis], linear.design], axis=-1)
    solved = np.linalg.solve(sigma, joined)
    square = np.einsum("nir,nis->nrs", joined, solved)
    level = -0.5 * (
        y.shape[1] * np.log(2.0 * np.pi) + np.linalg.slogdet(sigma)[1] + square[:, 0, 0]
    )
    return _Information(level, square[:, 0, 1:], square[:, 1:, 1:])


def without_place(linear: Linear) -> Array:
    """Ln p of readings that do not depend on the sensor's place, shape (N,)."""
    result: Array = _information(linear).level + linear.log_event
    return result


def over_region(linear: Linear, region: Region) -> Array:
    """Ln p of readings of parts spread evenly over a region, shape (N,).

    The readings are two numbers' worth of information, so that two readings at made-up
    temperatures say the same, and `evidence` knows the integral for those.
    """
    every = _information(linear)
    hopeful = _hopeful(every, region)
    found = _Information(every.level[hopeful], every.h[hopeful], every.m[hopeful])
    closing = (_WIDE * np.ptp(region.vertices, axis=0)) ** -2.0
    root = np.linalg.cholesky(found.m + np.diag(closing))
    place = np.linalg.solve(found.m + np.diag(closing), found.h[..., np.newaxis])[..., 0]
    first, across, rest = root[:, 0, 0], root[:, 1, 0], root[:, 1, 1]
    # The root turned by 45°, so that both columns hold a part of γ.
    a = np.stack([across + rest, across - rest], axis=-1) / first[:, np.newaxis]
    u = np.repeat(np.sqrt(2.0) / first[:, np.newaxis], 2, axis=1)
    y = place[:, :1] + place[:, 1:] * a
    density = evidence(y, u, a, np.zeros_like(a), region).log_density
    scale = np.log(2.0 * np.pi) + 2.0 * np.log(u[:, 0])
    best = 0.5 * (found.h * place).sum(axis=-1)
    result = np.full(every.level.shape, -np.inf)
    result[hopeful] = found.level + best + density + scale
    result += linear.log_event
    return result


def _hopeful(found: _Information, region: Region) -> npt.NDArray[np.bool_]:
    """Say which cells are worth their integral, by that over a wide normal distribution instead."""
    middle, spread = spread_of(region)
    proxy = _normal(found, middle, _LOOSE**2 * spread[np.newaxis])[0][:, 0]
    hopeful: npt.NDArray[np.bool_] = proxy >= proxy.max() - _HOPELESS
    return hopeful


def over_normal(linear: Linear, mean: Array, spread: Array) -> Array:
    """Ln p of readings of parts that are normally distributed, shape (N, k).

    Parameters
    ----------
    linear : Linear
    mean : array, shape (2,)
    spread : array, shape (k, 2, 2)
        Covariances of k distributions.
    """
    return _normal(_information(linear), mean, spread)[0] + linear.log_event[:, np.newaxis]


def over_drift(linear: Linear, drift: Drift, region: Region) -> Array:
    """Ln p of readings of parts out of tolerance, shape (N, k): each component by itself.

    Their mean over k, weighed by nothing else, is that of all of them.
    """
    spread = drift.variance[:, :, np.newaxis] * np.eye(2)
    level, mean, covariance = _normal(_information(linear), np.zeros(2), spread)
    hopeful = level >= level.max() - _HOPELESS
    outside = np.full(level.shape, -np.inf)
    inside = np.asarray(region.normal_probability(mean[hopeful], covariance[hopeful]))
    with np.errstate(divide="ignore"):
        outside[hopeful] = np.log(np.clip(1.0 - inside, 0.0, 1.0))
    result: Array = level + outside - np.log(drift.outside.mean()) + linear.log_event[:, np.newaxis]
    return result


def _normal(found: _Information, mean: Array, spread: Array) -> tuple[Array, Array, Array]:
    """Ln p, and mean and covariance of the place given the readings, each of shape (N, k, …)."""
    level = found.level + found.h @ mean - 0.5 * np.einsum("i,nij,j->n", mean, found.m, mean)
    h = (found.h - found.m @ mean)[:, np.newaxis]
    covariance = np.linalg.inv(found.m[:, np.newaxis] + np.linalg.inv(spread))
    away = np.einsum("nkij,nkj->nki", covariance, np.broadcast_to(h, covariance.shape[:3]))
    dets = np.linalg.slogdet(covariance)[1] - np.linalg.slogdet(spread)[1]
    log_p: Array = level[:, np.newaxis] + 0.5 * (h * away).sum(axis=-1) + 0.5 * dets
    return log_p, mean + away, covariance
