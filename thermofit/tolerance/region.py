"""The region of (γ, β) that a tolerance allows: a convex polygon.

γ is the shift of ln R25 and β the scaling of the log ratio,

    ln R(T) = ln R25 + γ + (1 + β)·ln ρ(T),   ρ(T) = R(T)/R25 of the nominal curve,

so that what a part deviates by at one temperature, γ + β·ln ρ(T), is a
projection of its place in the plane.  Limits at one temperature are a strip of
the plane, and several limits an intersection of strips.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError

__all__ = ["Region", "Strip"]

Array = npt.NDArray[np.float64]

_FAR_GAMMA, _FAR_BETA = 50.0, 0.999
_BISECTIONS = 60


@dataclass(frozen=True)
class Strip:
    """Limits of one combination of γ and β: low ≤ p·γ + q·β ≤ high.

    Parameters
    ----------
    p, q : float
        Weights.  (1, ln ρ(T)) for a limit of the resistance at T, (0, 1) for one
        of the B value.
    low, high : float
        Limits; low ≤ 0 ≤ high, since the nominal part conforms.
    """

    p: float
    q: float
    low: float
    high: float

    def __post_init__(self) -> None:
        if not self.low <= 0.0 <= self.high:
            raise InputError(f"limits of {self.low:g} to {self.high:g} leave the nominal part out")


@dataclass(frozen=True)
class Region:
    """A convex polygon in the plane of γ and β.

    Parameters
    ----------
    strips : tuple of Strip
        Their intersection is the region.

    Raises
    ------
    InputError
        The limits leave the region open: a limit of the B value is missing, or
        any second limit.

    Examples
    --------
    >>> box = Region((Strip(1.0, 0.0, -0.01, 0.01), Strip(0.0, 1.0, -0.02, 0.02)))
    >>> round(box.area, 6)
    0.0008
    >>> box.support([0.5, 0.0])[1].round(6)
    array([0.02, 0.01])
    """

    strips: tuple[Strip, ...]

    def __post_init__(self) -> None:
        reach = np.abs(self._cut(_FAR_GAMMA, _FAR_BETA)).max(axis=0)
        if (reach >= 0.999 * np.array([_FAR_GAMMA, _FAR_BETA])).any():
            raise InputError(
                "these limits leave the tolerance open on one side: besides the resistance at one "
                "temperature, limit the B value or the resistance at another"
            )

    @cached_property
    def vertices(self) -> Array:
        """Corners (γ, β) in counter-clockwise order, shape (m, 2)."""
        # Cut a second time, out of a box not much larger than the region: the
        # rounding is then that of the region's own size.
        gamma, beta = 2.0 * np.abs(self._cut(_FAR_GAMMA, _FAR_BETA)).max(axis=0)
        vertices = self._cut(gamma or _FAR_GAMMA, beta or _FAR_BETA)
        vertices.flags.writeable = False
        return vertices

    def _cut(self, gamma: float, beta: float) -> Array:
        """Cut the region out of a box."""
        corners = [(-gamma, -beta), (gamma, -beta), (gamma, beta), (-gamma, beta)]
        for strip in self.strips:
            corners = _clip(corners, strip.p, strip.q, strip.high)
            corners = _clip(corners, -strip.p, -strip.q, -strip.low)
        distinct = [
            corner
            for place, corner in enumerate(corners)
            if np.abs(np.subtract(corner, corners[place - 1])).max() > 1e-15 or len(corners) == 1
        ]
        return np.array(distinct or corners[:1])

    @property
    def area(self) -> float:
        """Area in the plane; zero where nothing but a line is allowed."""
        return float(self._triangles[1].sum())

    def support(self, a: npt.ArrayLike) -> tuple[Array, Array]:
        """Limits of γ + β·a over the region: the worst case.

        Parameters
        ----------
        a : array_like, any shape
            ln ρ(T) at each temperature.

        Returns
        -------
        low, high : array
            Of the shape of `a`.
        """
        projected = self._project(np.asarray(a, dtype=np.float64))
        return projected.min(axis=-1), projected.max(axis=-1)

    def contains(self, gamma: npt.ArrayLike, beta: npt.ArrayLike) -> Any:
        """Whether places lie in the region, its edge included.

        Parameters
        ----------
        gamma, beta : array_like, broadcast together

        Returns
        -------
        bool or array of bool
        """
        inside = np.ones(np.broadcast_shapes(np.shape(gamma), np.shape(beta)), dtype=bool)
        for strip in self.strips:
            value = strip.p * np.asarray(gamma) + strip.q * np.asarray(beta)
            slack = 1e-12 * max(abs(strip.low), abs(strip.high))
            inside &= (value >= strip.low - slack) & (value <= strip.high + slack)
        return inside if inside.ndim else bool(inside)

    def uniform_quantile(self, a: npt.ArrayLike, p: float) -> Array:
        """Quantile of γ + β·a if parts are spread evenly over the region.

        The polygon is cut into triangles; the projection of a triangle has a
        distribution function of two parabolas.

        Parameters
        ----------
        a : array_like, any shape
            ln ρ(T) at each temperature.
        p : float
            Probability, 0 to 1.

        Returns
        -------
        array
            Of the shape of `a`.
        """
        a = np.asarray(a, dtype=np.float64)
        low, high = self.support(a)
        for _ in range(_BISECTIONS):
            middle = 0.5 * (low + high)
            below = self.uniform_cdf(a, middle) < p
            low, high = np.where(below, middle, low), np.where(below, high, middle)
        result: Array = 0.5 * (low + high)
        return result

    def uniform_cdf(self, a: Array, s: Array) -> Array:
        """Probability of γ + β·a ≤ s if parts are spread evenly over the region."""
        corners, areas = self._triangles
        if areas.sum() == 0.0:
            low, high = self.support(a)
            width = np.where(high > low, high - low, 1.0)
            even: Array = np.clip((s - low) / width, 0.0, 1.0)
            return even
        projected = np.sort(
            corners[..., 0] + np.multiply.outer(a, corners[..., 1]), axis=-1
        )  # a.shape + (triangles, 3)
        s1, s2, s3 = projected[..., 0], projected[..., 1], projected[..., 2]
        at = np.asarray(s)[..., np.newaxis]
        with np.errstate(divide="ignore", invalid="ignore"):
            rising = (at - s1) ** 2 / ((s2 - s1) * (s3 - s1))
            falling = 1.0 - (s3 - at) ** 2 / ((s3 - s1) * (s3 - s2))
            part = np.where(at < s2, rising, falling)
        part = np.where(at <= s1, 0.0, np.where(at >= s3, 1.0, part))
        total: Array = (part * areas).sum(axis=-1) / areas.sum()
        return total

    def normal_probability(self, mean: npt.ArrayLike, covariance: npt.ArrayLike) -> Any:
        """Probability that a normally distributed place lies in the region.

        Exact, by D. B. Owen's T function: Ann. Math. Stat. 27 (1956) 1075–1090.

        Parameters
        ----------
        mean : array_like, shape (…, 2)
            Expected (γ, β).
        covariance : array_like, shape (…, 2, 2)
            Positive definite.

        Returns
        -------
        float or array, shape (…)
        """
        from scipy.special import owens_t

        mean = np.asarray(mean, dtype=np.float64)
        root = np.linalg.cholesky(np.asarray(covariance, dtype=np.float64))
        shape = np.broadcast_shapes(mean.shape[:-1], root.shape[:-2])
        # Whitened, the distribution is round about the origin, and each edge
        # with the origin makes a triangle of known probability.
        away = np.moveaxis(self.vertices - mean[..., np.newaxis, :], -1, -2)
        white = np.linalg.solve(root, away)
        start = np.broadcast_to(white, (*shape, 2, white.shape[-1]))
        edge = np.roll(start, -1, axis=-1) - start
        length = np.hypot(edge[..., 0, :], edge[..., 1, :])
        unit = edge / np.where(length > 0.0, length, 1.0)[..., np.newaxis, :]
        # Distance of the edge's line from the origin, and the way along it from
        # the foot of that distance to either end.
        height = start[..., 0, :] * unit[..., 1, :] - start[..., 1, :] * unit[..., 0, :]
        first = (start * unit).sum(axis=-2)
        second = first + length
        with np.errstate(divide="ignore", invalid="ignore"):
            tangents = first / np.abs(height), second / np.abs(height)
        wedge = (np.arctan(tangents[1]) - np.arctan(tangents[0])) / (2.0 * np.pi)
        wedge -= owens_t(np.abs(height), tangents[1]) - owens_t(np.abs(height), tangents[0])
        part = np.where((height == 0.0) | (length == 0.0), 0.0, np.sign(height) * wedge)
        probability = np.clip(part.sum(axis=-1), 0.0, 1.0)
        return probability if probability.ndim else float(probability)

    def _project(self, a: Array) -> Array:
        """γ + β·a of every corner, shape a.shape + (m,)."""
        result: Array = self.vertices[:, 0] + np.multiply.outer(a, self.vertices[:, 1])
        return result

    @cached_property
    def _triangles(self) -> tuple[Array, Array]:
        """A fan of triangles: corners, shape (m − 2, 3, 2), and areas, shape (m − 2,)."""
        v = self.vertices
        if len(v) < 3:
            return np.empty((0, 3, 2)), np.empty(0)
        corners = np.stack([np.broadcast_to(v[0], v[1:-1].shape), v[1:-1], v[2:]], axis=1)
        one, two = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
        return corners, 0.5 * np.abs(one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0])


def _clip(
    corners: list[tuple[float, float]], p: float, q: float, limit: float
) -> list[tuple[float, float]]:
    """Cut a convex polygon along p·γ + q·β = limit and keep the side below.

    I. E. Sutherland, G. W. Hodgman, Commun. ACM 17 (1974) 32–42.
    """
    kept: list[tuple[float, float]] = []
    values = [p * gamma + q * beta - limit for gamma, beta in corners]
    for place, corner in enumerate(corners):
        before, now = values[place - 1], values[place]
        if (before < 0.0 < now) or (now < 0.0 < before):
            part = before / (before - now)
            last = corners[place - 1]
            kept.append(
                (last[0] + part * (corner[0] - last[0]), last[1] + part * (corner[1] - last[1]))
            )
        if now <= 0.0:
            kept.append(corner)
    return kept
