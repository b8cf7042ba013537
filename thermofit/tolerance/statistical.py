"""Coverage intervals of parts that are spread within their tolerance."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Integral, Real
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError
from thermofit.tolerance.box import Box
from thermofit.tolerance.region import Region

__all__ = ["Distribution", "Spread", "draw_box", "draw_region", "simulated_interval"]

Array = npt.NDArray[np.float64]
Distribution = Literal["uniform", "normal", "truncated-normal"]
Method = Literal["auto", "analytic", "monte-carlo"]

_DRAWS = 10_000
_MOST_DRAWS = 100_000_000


@dataclass(frozen=True)
class Spread:
    """How parts are spread within their limits, and what interval is wanted.

    Parameters
    ----------
    distribution : {"uniform", "normal", "truncated-normal"}
        "uniform": evenly over the region.  "normal": the limits mean `k` standard
        deviations, and parts beyond them exist.  "truncated-normal": the same,
        with the parts beyond the limits sorted out.
    coverage : float
        Probability of the interval, with equal tails.
    k : float
        Standard deviations from the middle to a limit.
    correlation : float
        Between the deviation at the reference temperature and that of B; with
        limits that no part exceeds it is that of a Gaussian copula.
    method : {"auto", "analytic", "monte-carlo"}
        "auto" simulates where nothing is known in closed form.
    seed : int
        Of the simulation.
    numerical_tolerance_pct : float
        To which a simulated limit of the resistance is to be known, in percent.

    Raises
    ------
    InputError
        A value out of its range.
    """

    distribution: Distribution
    coverage: float = 0.95
    k: float = 2.0
    correlation: float = 0.0
    method: Method = "auto"
    seed: int = 1
    numerical_tolerance_pct: float = 0.01

    def __post_init__(self) -> None:
        for name, allowed in (
            ("distribution", get_args(Distribution)),
            ("method", get_args(Method)),
        ):
            if getattr(self, name) not in allowed:
                raise InputError(
                    f"{name} must be one of {', '.join(allowed)}, not {getattr(self, name)!r}"
                )
        for name in ("coverage", "k", "correlation", "numerical_tolerance_pct"):
            value = getattr(self, name)
            if not isinstance(value, Real) or isinstance(value, bool):
                raise InputError(f"{name} must be a number, not {value!r}")
        if not isinstance(self.seed, Integral) or isinstance(self.seed, bool) or self.seed < 0:
            raise InputError(f"seed must be a whole number from 0, not {self.seed!r}")
        if not 0.0 < self.coverage < 1.0:
            raise InputError(
                f"coverage must lie between 0 and 1, such as 0.95, not {self.coverage!r}"
            )
        if not (np.isfinite(self.k) and self.k > 0.0):
            raise InputError(f"k must be positive, not {self.k!r}")
        if not -1.0 < self.correlation < 1.0:
            raise InputError(f"correlation must lie between -1 and 1, not {self.correlation!r}")
        if not self.numerical_tolerance_pct > 0.0:
            raise InputError(
                f"numerical_tolerance_pct must be positive, not {self.numerical_tolerance_pct!r}"
            )

    @property
    def closed_form(self) -> bool:
        """Whether the interval is known without a simulation."""
        if self.method == "monte-carlo" or self.distribution == "truncated-normal":
            return False
        return self.distribution == "normal" or self.correlation == 0.0

    def __str__(self) -> str:
        words = f"{self.coverage * 100:g} % of parts, {self.distribution.replace('-', ' ')}"
        if self.distribution != "uniform":
            words += f", limits at k = {self.k:g}"
        if self.correlation:
            words += f", correlation {self.correlation:g}"
        return words + ("" if self.closed_form else ", simulated")


def draw_box(box: Box, spread: Spread, count: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Draw parts from a box with single limits.

    Returns
    -------
    x, beta : array, shape (count,)
        Deviation at the reference temperature, and β.
    """
    low = np.array([box.x_low, box.beta_low], dtype=np.float64)
    high = np.array([box.x_high, box.beta_high], dtype=np.float64)
    centre, half = 0.5 * (low + high), 0.5 * (high - low)
    r = spread.correlation
    root = np.array([[1.0, 0.0], [r, np.sqrt(1.0 - r * r)]])

    def standard(size: int) -> Array:
        drawn: Array = rng.standard_normal((size, 2)) @ root.T
        return drawn

    parts = standard(count)
    if spread.distribution == "normal":
        parts /= spread.k
    else:
        from scipy.special import ndtr, ndtri

        even = ndtr(parts)
        if spread.distribution == "uniform":
            parts = 2.0 * even - 1.0
        else:
            # Through the distribution function, so that no draw is thrown away.
            low_tail = ndtr(-spread.k)
            parts = ndtri(low_tail + (1.0 - 2.0 * low_tail) * even) / spread.k
    x, beta = (centre + half * parts).T
    return x, beta


def draw_region(region: Region, count: int, rng: np.random.Generator) -> tuple[Array, Array]:
    """Draw parts evenly from a region.

    Returns
    -------
    gamma, beta : array, shape (count,)
    """
    corners, areas = region._triangles
    if areas.sum() == 0.0:
        ends = region.vertices
        along = rng.random((count, 1))
        gamma, beta = (ends[0] * (1.0 - along) + ends[-1] * along).T
        return gamma, beta
    chosen = corners[rng.choice(len(areas), size=count, p=areas / areas.sum())]
    one, two = rng.random((2, count, 1))
    flip = one + two > 1.0
    one, two = np.where(flip, 1.0 - one, one), np.where(flip, 1.0 - two, two)
    place = chosen[:, 0] + one * (chosen[:, 1] - chosen[:, 0]) + two * (chosen[:, 2] - chosen[:, 0])
    gamma, beta = place.T
    return gamma, beta


def simulated_interval(source: Box | Region, lever: Array, spread: Spread) -> tuple[Array, Array]:
    """Interval of the deviation by simulation, to a stated numerical tolerance.

    The adaptive procedure of JCGM 101:2008, 7.9: runs of max(10⁴, 100/(1 −
    coverage)) draws until twice the standard deviation of the mean of each end is
    within the tolerance.

    Parameters
    ----------
    source : Box or Region
    lever : array, any shape
        ln ρ(T), less that of the reference temperature for a box.
    spread : Spread

    Returns
    -------
    low, high : array
        Of the shape of `lever`.

    Raises
    ------
    InputError
        The tolerance is not reached with 10⁸ draws, or the distribution needs
        separate limits of the resistance and of B.
    """
    if isinstance(source, Region) and (spread.distribution != "uniform" or spread.correlation):
        raise InputError(
            f"a {spread.distribution} spread, or a correlation, needs limits of the resistance at "
            "one temperature and of the B value; over other regions parts can be spread evenly"
        )
    if isinstance(source, Box) and np.ndim(source.x_low) + np.ndim(source.beta_low):
        raise InputError("a simulation takes one tolerance at a time, not an array")
    rng = np.random.default_rng(spread.seed)
    flat = np.ravel(lever)
    tails = [0.5 * (1.0 - spread.coverage), 0.5 * (1.0 + spread.coverage)]
    wanted = spread.numerical_tolerance_pct / 100.0
    draws = max(_DRAWS, int(np.ceil(100.0 / (1.0 - spread.coverage))))
    sums, squares, runs = np.zeros((2, flat.size)), np.zeros((2, flat.size)), 0
    while True:
        if isinstance(source, Box):
            shift, beta = draw_box(source, spread, draws, rng)
        else:
            shift, beta = draw_region(source, draws, rng)
        ends = np.array([np.quantile(shift + beta * a, tails) for a in flat]).reshape(-1, 2).T
        sums, squares, runs = sums + ends, squares + ends**2, runs + 1
        if runs < 10:
            continue
        variance = np.maximum(squares / runs - (sums / runs) ** 2, 0.0) / (runs - 1)
        if 2.0 * np.sqrt(variance.max(initial=0.0)) <= wanted:
            break
        if runs * draws >= _MOST_DRAWS:
            raise InputError(
                f"{_MOST_DRAWS:.0e} draws do not reach {spread.numerical_tolerance_pct:g} %; "
                "raise numerical_tolerance_pct"
            )
    low, high = sums / runs
    return low.reshape(np.shape(lever)), high.reshape(np.shape(lever))
