"""Which tolerance does a batch of measured sensors show?"""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Real
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.decide.bench import Bench, gather
from thermofit.decide.howe import half_width
from thermofit.decide.judge import inconsistent, measure
from thermofit.decide.population import Population
from thermofit.decide.requirement import Requirement
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.notebook import ShownInNotebooks
from thermofit.texttable import aligned
from thermofit.tolerance import Tolerance

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["B_CLASSES_PCT", "R25_CLASSES_PCT", "BatchTolerance", "batch_tolerance"]

Array = npt.NDArray[np.float64]

# Common practice of the trade; no standard lists them all.
R25_CLASSES_PCT = (0.1, 0.2, 0.5, 1.0, 2.0, 3.0, 5.0, 10.0, 20.0)
B_CLASSES_PCT = (0.5, 0.75, 1.0, 1.5, 2.0, 3.0, 5.0)

_LEAST = 3


@dataclass(frozen=True, eq=False)
class BatchTolerance(ShownInNotebooks):
    """What a batch of n located sensors shows of the parts that it comes from.

    Parameters
    ----------
    sensors : tuple
        Names of the sensors.
    gamma, beta : array, shape (n,)
        Their places: deviation of ln R25, relative deviation of B.
    covariance : array, shape (n, 2, 2)
        Uncertainty of each place (its ellipse).
    mean : array, shape (2,)
        Of the places.
    scatter : array, shape (2, 2)
        Covariance of the places, measurement noise included.
    noise : array, shape (2, 2)
        Mean of `covariance`.
    spread : array, shape (2, 2)
        Covariance of the parts themselves: scatter less noise, and no less than
        nothing in any direction.
    gamma_interval, beta_interval : tuple of float
        Tolerance intervals: both together hold `coverage` of the parts, with
        `confidence`.
    r25_pct, b_pct : float or None
        The smallest standard classes, ± %, that hold these intervals; None where
        the largest does not.
    coverage, confidence : float
    excluded : dict
        Sensors that could not be located, and why.
    notes : tuple of str
    """

    sensors: tuple[Any, ...]
    gamma: Array
    beta: Array
    covariance: Array
    mean: Array
    scatter: Array
    noise: Array
    spread: Array
    gamma_interval: tuple[float, float]
    beta_interval: tuple[float, float]
    r25_pct: float | None
    b_pct: float | None
    coverage: float
    confidence: float
    excluded: dict[Any, str]
    notes: tuple[str, ...]

    @property
    def tolerance(self) -> Tolerance | None:
        """The two classes as a tolerance; None where there is not one of each."""
        if self.r25_pct is None or self.b_pct is None:
            return None
        return Tolerance.of(r25_pct=self.r25_pct, b_pct=self.b_pct)

    @property
    def population(self) -> Population:
        """Mean and spread as a population, for `false_accept_risk` and priors.

        Raises
        ------
        InputError
            Noise swamps the spread, so that none is left in some direction.
        """
        if np.linalg.eigvalsh(self.scatter - self.noise).min() <= 0.0:
            raise InputError(
                "measurement noise swamps the spread of this batch, so that it shows no "
                "population; measure more accurately, or more sensors"
            )
        return Population(self.mean, self.spread)

    def to_frame(self) -> pd.DataFrame:
        """Give the places as a pandas frame, a row for each located sensor."""
        import pandas as pd

        u = np.sqrt(np.diagonal(self.covariance, axis1=-2, axis2=-1))
        return pd.DataFrame(
            {
                "sensor": list(self.sensors), "gamma": self.gamma, "beta": self.beta,
                "u_gamma": u[:, 0], "u_beta": u[:, 1],
                "correlation": self.covariance[:, 0, 1] / u.prod(axis=-1),
            }
        )  # fmt: skip

    def __str__(self) -> str:
        rows = [["", "mean / %", "spread / %", "noise / %", "from / %", "to / %", "class"]]
        for axis, (name, interval, pct) in enumerate(
            (
                ("R25", self.gamma_interval, self.r25_pct),
                ("B", self.beta_interval, self.b_pct),
            )
        ):
            ends = [np.expm1(end) if axis == 0 else end for end in (self.mean[axis], *interval)]
            s = [np.sqrt(matrix[axis, axis]) for matrix in (self.spread, self.noise)]
            cells = [f"{100.0 * value:+z.3f}" for value in ends]
            rows.append(
                [name, cells[0], *(f"{100.0 * value:.3f}" for value in s), *cells[1:],
                 "none" if pct is None else f"± {pct:g} %"]
            )  # fmt: skip
        lines = [
            f"{len(self.sensors)} sensors; the intervals hold {100 * self.coverage:g} % of the "
            f"parts with a confidence of {100 * self.confidence:g} %",
            aligned(rows, indent="  "),
        ]
        lines += [f"({note})" for note in self.notes]
        lines += [f"! {name} left out: {why}" for name, why in self.excluded.items()]
        return "\n".join(lines)


def batch_tolerance(
    sensors: Any,
    curve_or_family: Curve | Family,
    *,
    coverage: float = 0.95,
    confidence: float = 0.95,
    u_t_k: Any = None,
    u_r_pct: Any = None,
) -> BatchTolerance:
    """Find the tolerance that a batch of measured sensors shows.

    Each sensor's place (γ, β) comes from its readings as for `check`.  The parts'
    own spread is the scatter of the places less their mean covariance of
    measurement (the method of moments).  The intervals are two-sided normal
    tolerance intervals about the mean, after Howe, from the upper confidence limit
    of the scatter less the noise.  Each axis gets half of what coverage and
    confidence leave over (Bonferroni), so that both axes together hold the stated
    coverage with the stated confidence, however they are correlated.  Parts are
    taken as normally distributed, and readings as independent of each other: a
    thermometer that is off shifts the whole batch, and does not show.

    Parameters
    ----------
    sensors : sequence or mapping of Points or Fit, or pandas.DataFrame
        A frame has the columns that `check` takes.
    curve_or_family : Curve or Family
        Nominal curve; a family's tolerance is not used.
    coverage : float
        Part of all parts that the classes are to hold.
    confidence : float
        Probability, over batches like this one, that they do.
    u_t_k, u_r_pct
        As for `check`.

    Returns
    -------
    BatchTolerance
        Sensors that cannot be located (one temperature only, a reading out of
        range, cells that cannot be used, readings that disagree) are listed with
        their reason, and not counted.

    Raises
    ------
    InputError
        Fewer than three sensors located, no uncertainties, a coverage or
        confidence that is none.

    References
    ----------
    W. G. Howe, J. Am. Stat. Assoc. 64 (1969) 610–620.  ISO 16269-6.

    Examples
    --------
    Invented readings of four air sensors of glasshouse climate controllers:

    >>> from thermofit.points import Points
    >>> c = Curve.beta(r25_ohm=10e3, b_k=3977)
    >>> batch = [Points([0.0, 60.0], r, u_t_k=0.02) for r in (
    ...     [33950, 2456], [33800, 2448], [34010, 2463], [33870, 2450])]
    >>> b = batch_tolerance(batch, c)
    >>> b.r25_pct, b.b_pct
    (3.0, 0.5)
    """
    for name, value in (("coverage", coverage), ("confidence", confidence)):
        if not (isinstance(value, Real) and 0.0 < value < 1.0):
            raise InputError(f"{name} must lie between 0 and 1, such as 0.95, not {value!r}")
    family = curve_or_family
    if not isinstance(family, Curve | Family):
        raise InputError(f"a batch is held against a Curve or a Family, not {family!r}")
    if isinstance(family, Family) and family.ratio_only:
        raise InputError(f"{family.id} leaves R25 open; give a curve with the R25 of your parts")
    curve = family.curve if isinstance(family, Family) else family
    bench = gather(sensors, u_t_k, u_r_pct)
    # Any region with an area does: only the nominal curve is used.
    tolerance = Tolerance.of(r25_pct=R25_CLASSES_PCT[-1], b_pct=B_CLASSES_PCT[-1])
    against = Requirement(curve.id or repr(curve), curve, tolerance, tolerance.region(curve), None)
    places, excluded = _located(bench, against)
    kept = np.array([name not in excluded for name in bench.names])
    n = int(np.count_nonzero(kept))
    if n < _LEAST:
        raise InputError(
            f"only {n} of {len(bench.names)} sensors can be located, and a spread needs {_LEAST} "
            "at least" + "".join(f"\n  {name}: {why}" for name, why in excluded.items())
        )
    estimate, covariance = places[0][kept], places[1][kept]
    mean, scatter = estimate.mean(axis=0), np.cov(estimate.T)
    noise = covariance.mean(axis=0)
    spread, notes = _without(scatter, noise, n)
    # Half of what is left over to each of the two axes.
    half = half_width(
        np.diag(scatter), np.diag(noise), n, 0.5 + 0.5 * coverage, 0.5 + 0.5 * confidence
    )
    low, high = mean - half, mean + half
    return BatchTolerance(
        sensors=tuple(name for name in bench.names if name not in excluded),
        gamma=estimate[:, 0],
        beta=estimate[:, 1],
        covariance=covariance,
        mean=mean,
        scatter=scatter,
        noise=noise,
        spread=spread,
        gamma_interval=(float(low[0]), float(high[0])),
        beta_interval=(float(low[1]), float(high[1])),
        r25_pct=_smallest(R25_CLASSES_PCT, 100.0 * np.expm1(low[0]), 100.0 * np.expm1(high[0])),
        b_pct=_smallest(B_CLASSES_PCT, 100.0 * low[1], 100.0 * high[1]),
        coverage=coverage,
        confidence=confidence,
        excluded=excluded,
        notes=(*bench.notes, *notes),
    )


def _located(bench: Bench, against: Requirement) -> tuple[tuple[Array, Array], dict[Any, str]]:
    """Places of all sensors, and why some have none."""
    measured = measure(bench, against)
    places, disagree = measured.places, inconsistent(measured.places)
    excluded: dict[Any, str] = {}
    for i, name in enumerate(bench.names):
        if i in bench.problems:
            excluded[name] = bench.problems[i]
        elif measured.skipped[i]:
            excluded[name] = f"a reading outside the valid range, {against.range_text}"
        elif not places.located[i]:
            excluded[name] = "readings at one temperature only"
        elif disagree[i]:
            excluded[name] = "its readings disagree; see check"
    return (places.estimate, places.covariance), excluded


def _without(scatter: Array, noise: Array, n: int) -> tuple[Array, list[str]]:
    """Scatter less noise, with no direction below zero; and what to say of it."""
    from scipy.special import chdtri

    values, vectors = np.linalg.eigh(scatter - noise)
    spread = (vectors * np.maximum(values, 0.0)) @ vectors.T
    notes = []
    if values.min() <= 0.0:
        notes.append(
            "measurement noise swamps the spread in some direction: none is left there, which "
            "does not mean that the parts are alike"
        )
    for axis, name in enumerate(("R25", "B")):
        if (n - 1) * scatter[axis, axis] <= chdtri(n - 1, 0.05) * noise[axis, axis]:
            notes.append(
                f"the scatter of {name} is no larger than measurement noise explains (95 %); "
                "measure more accurately to see the parts' own"
            )
    return spread, notes


def _smallest(classes: tuple[float, ...], low_pct: float, high_pct: float) -> float | None:
    return next((pct for pct in classes if -pct <= low_pct and high_pct <= pct), None)
