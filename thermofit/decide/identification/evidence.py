"""How likely readings are if a sensor is of a family: the integral over its tolerance.

Readings of one sensor are linear in its place, as in `thermofit.decide.place`,

    y_i = ln R_i − ln R_nominal(T_i) = γ + β·a_i + κ·q_i + e_i,

with independent errors e_i and, for a curve that is a B value only, one more normal
number κ for its bend.  With parts spread evenly over the region Ω of area A,

    p(y) = 1/A · ∫_Ω N(y; γ + β·a, diag u² + q·qᵀ) dγ dβ,

which is the normal probability of Ω under the ellipse of (γ, β), by Owen's T.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.tolerance import Region, Strip

__all__ = ["Evidence", "evidence"]

Array = npt.NDArray[np.float64]

# Readings at one temperature leave a direction of the plane open.  A normal factor this
# many times as wide as the region closes it, and changes the integral by 5e-5 at most; it
# is at least as wide in (γ, β) that it does not draw the place of a sensor towards a
# family of hardly any tolerance.
_WIDE = 100.0
_WIDE_AT_LEAST = (2.0, 0.5)

# From here on Owen's T is rounding, and what is nearest of the region is taken.
_FAR = 6.5

# Where γ is known so much better for one β than for all, (γ, β) loses it to rounding.
_SHARP = 1e-11
_BLOCK = 4096


@dataclass(frozen=True, eq=False)
class Evidence:
    """What the readings of s sensors say of one family.

    Parameters
    ----------
    log_density : array, shape (s,)
        ln p(y), of the readings' ln R.
    chi2 : array, shape (s,)
        χ² of the part within the tolerance that fits the readings best.
    place : array, shape (s, 2)
        (γ, β) that fits them best, within or without.
    covariance : array, shape (s, 2, 2)
        Of the place.
    """

    log_density: Array
    chi2: Array
    place: Array
    covariance: Array


def evidence(y: Array, u: Array, a: Array, bend: Array, region: Region) -> Evidence:
    """Find how likely readings are under a family.

    Parameters
    ----------
    y : array, shape (s, n)
        Deviation of ln R from the nominal curve: n readings of each of s sensors.
    u : array, shape (s, n)
        Standard uncertainty of it, of each reading by itself.
    a, bend : array, shape (s, n)
        ln ρ(T), and what one standard uncertainty of the bend does to ln R.
    region : Region
        Where parts are spread evenly.

    Returns
    -------
    Evidence
    """
    parts = [
        _block(y[rows], u[rows], a[rows], bend[rows], region)
        for rows in (slice(start, start + _BLOCK) for start in range(0, len(y), _BLOCK))
    ]
    return Evidence(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _block(
    y: Array, u: Array, a: Array, bend: Array, region: Region
) -> tuple[Array, Array, Array, Array]:
    w = 1.0 / u**2
    bent = w * bend
    stiff = 1.0 + (bent * bend).sum(axis=-1)

    def product(one: Array, other: Array) -> Array:
        """Of two vectors in the metric of the inverse covariance (Sherman, Morrison)."""
        crossed = (bent * one).sum(axis=-1) * (bent * other).sum(axis=-1) / stiff
        result: Array = (w * one * other).sum(axis=-1) - crossed
        return result

    log_det = 2.0 * np.log(u).sum(axis=-1) + np.log(stiff)
    corners = region.vertices
    centre = 0.5 * (corners.min(axis=0) + corners.max(axis=0))
    closing = np.maximum(_WIDE * np.ptp(corners, axis=0), _WIDE_AT_LEAST) ** -2.0
    # About the middle of the region, where the closing factor is centred.
    y = y - centre[0] - centre[1] * a
    ones = np.ones_like(a)
    # In (δ, β) with δ = γ + β·m, the deviation at the mean temperature: readings at one
    # temperature know δ well and β not at all, and between γ and β that would be rounding.
    m = product(ones, a) / product(ones, ones)
    away_from_mean = a - m[:, np.newaxis]
    m00 = product(ones, ones) + closing[0]
    m01 = product(ones, away_from_mean) - closing[0] * m
    m11 = product(away_from_mean, away_from_mean) + closing[0] * m**2 + closing[1]
    h0, h1 = product(ones, y), product(away_from_mean, y)
    det = m00 * m11 - m01**2
    delta, beta = (m11 * h0 - m01 * h1) / det, (m00 * h1 - m01 * h0) / det
    place = np.stack([delta - m * beta, beta], axis=-1)
    left = y - delta[:, np.newaxis] - beta[:, np.newaxis] * away_from_mean
    chi2_least = product(left, left)
    least = chi2_least + place**2 @ closing
    level = np.stack([delta + centre[0] + m * centre[1], beta + centre[1]], axis=-1)
    known = np.stack([m11, -m01, -m01, m00], axis=-1).reshape(-1, 2, 2)
    known = known / det[:, np.newaxis, np.newaxis]
    shear = np.zeros_like(known)
    shear[:, 0, 0] = shear[:, 1, 1] = 1.0
    shear[:, 0, 1] = -m
    covariance = shear @ known @ np.swapaxes(shear, -1, -2)
    place = place + centre
    away, log_far = _beyond(level, m, m00, m01, m11, corners)
    sharp = known[:, 0, 0] < _SHARP * covariance[:, 0, 0]
    inside = np.empty(len(y))
    inside[~sharp] = region.normal_probability(place[~sharp], covariance[~sharp])
    for i in np.flatnonzero(sharp):
        inside[i] = _sheared(region, float(m[i])).normal_probability(level[i], known[i])
    with np.errstate(divide="ignore"):
        log_inside = np.where(away < _FAR, np.log(inside), log_far)
    density = (
        -0.5 * (y.shape[-1] * np.log(2.0 * np.pi) + log_det + least)
        + np.log(2.0 * np.pi) - 0.5 * np.log(det) + log_inside - np.log(region.area)
    )  # fmt: skip
    return density, chi2_least + away**2, place, covariance


def _sheared(region: Region, m: float) -> Region:
    """Give the region in (γ + β·m, β)."""
    return Region(tuple(Strip(s.p, s.q - s.p * m, s.low, s.high) for s in region.strips))


def _beyond(
    level: Array, m: Array, m00: Array, m01: Array, m11: Array, corners: Array
) -> tuple[Array, Array]:
    """Distance of places from a polygon, and ln of its probability where that is large.

    The distance is in standard uncertainties (Mahalanobis), 0 within.  From far away
    the polygon is taken as a rectangle that turns a side towards the place: exact for
    a limit at one temperature, and an upper limit of the probability else.
    """
    from scipy.special import log_ndtr, ndtr

    # Whitened by the root of the precision matrix, which is exact where the covariance is wide.
    root = np.sqrt(m00)
    across = m01 / root
    rest = np.sqrt(np.maximum(m11 - across**2, 0.0))
    away_delta = corners[:, 0] + m[:, np.newaxis] * corners[:, 1] - level[:, :1]
    away_beta = corners[:, 1] - level[:, 1:]
    x = root[:, np.newaxis] * away_delta + across[:, np.newaxis] * away_beta
    start = np.stack([x, rest[:, np.newaxis] * away_beta], axis=-1)
    edge = np.roll(start, -1, axis=1) - start
    square = (edge * edge).sum(axis=-1)
    part = -(start * edge).sum(axis=-1) / np.where(square > 0.0, square, 1.0)
    on_edges = start + np.clip(part, 0.0, 1.0)[..., np.newaxis] * edge
    # Corners run counter-clockwise, and whitening keeps that: inside, all edges pass on the left.
    turn = edge[..., 0] * -start[..., 1] + edge[..., 1] * start[..., 0]
    inside = (turn >= 0.0).all(axis=-1)
    closest = (on_edges**2).sum(axis=-1).argmin(axis=-1)
    nearest = np.take_along_axis(on_edges, closest[:, np.newaxis, np.newaxis], axis=1)[:, 0]
    length = np.hypot(nearest[:, 0], nearest[:, 1])
    towards = nearest / np.where(length > 0.0, length, 1.0)[:, np.newaxis]
    deep = np.einsum("smi,si->sm", start, towards).max(axis=-1)
    side = start[..., 1] * towards[:, :1] - start[..., 0] * towards[:, 1:]
    with np.errstate(divide="ignore", invalid="ignore"):
        log_far = (
            log_ndtr(-length)
            + np.log(-np.expm1(log_ndtr(-deep) - log_ndtr(-length)))
            + np.log(ndtr(side.max(axis=-1)) - ndtr(side.min(axis=-1)))
        )
    return np.where(inside, 0.0, length), log_far
