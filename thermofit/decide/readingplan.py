"""A plan of readings, and what it decides wrongly over a population (JCGM 106:2012, 9.5)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from thermofit.decide.conformity import place_probability
from thermofit.decide.guardband import GuardedLimits, guarded_limits
from thermofit.decide.judge import condemning_factor, sensor_decisions
from thermofit.decide.place import locate
from thermofit.decide.population import Population
from thermofit.decide.requirement import Requirement
from thermofit.decide.rule import DecisionRule, Prior

__all__ = ["ReadingPlan", "Risk"]

Array = npt.NDArray[np.float64]

_BLOCK = 20_000  # parts simulated at a time
_TAIL = 12.0  # standard deviations beyond which nothing is left, 1e-33


@dataclass(frozen=True)
class Risk:
    """A probability over a population.

    Parameters
    ----------
    probability : float
        Part of all parts measured that are decided wrongly in this way.
    standard_error : float
        Of the probability; 0 where it was integrated and not simulated.
    conforming : float
        Part of the population that conforms.
    method : str
        How it was found, in words.
    """

    probability: float
    standard_error: float
    conforming: float
    method: str

    def __str__(self) -> str:
        error = f" (standard error {self.standard_error:.1g})" if self.standard_error else ""
        return (
            f"{self.probability:.3g}{error} of all parts measured, of which "
            f"{100.0 * self.conforming:.2f} % conform; {self.method}"
        )


@dataclass(frozen=True, eq=False)
class ReadingPlan:
    """Readings to be taken of each part, shape (n,).

    ln R and ln ρ(T) of the nominal curve; the meter's uncertainty as a part of the
    resistance and in ohms; that of the temperature, and of the reading, in ln R.
    """

    population: Population
    requirement: Requirement
    rule: DecisionRule
    prior: Prior
    ln_r: Array
    a: Array
    relative: Array
    u_r_ohm: Array
    u_ln_t: Array
    u: Array
    draws: int
    seed: int

    def limits(self, k: float | Array) -> GuardedLimits:
        """Limits as deviations of ln R; −∞ where no reading is rejected as too low."""
        ends = self.requirement.region.support(self.a)
        ohms = guarded_limits(k, self.ln_r, *ends, self.relative, self.u_r_ohm, self.u_ln_t)
        below = np.where(np.isnan(ohms.reject_below), 0.0, ohms.reject_below)
        with np.errstate(divide="ignore"):
            logs = [np.log(end) - self.ln_r for end in ohms._replace(reject_below=below)]
        return GuardedLimits(*logs)

    def risk(self, *, accepting: bool) -> Risk:
        """Of accepting what does not conform, or of rejecting what does."""
        return (self.integrate if self.u.size == 1 else self.simulate)(accepting=accepting)

    def integrate(self, *, accepting: bool) -> Risk:
        """One reading: integrate over the parts that are decided wrongly."""
        from scipy.integrate import quad
        from scipy.special import ndtr

        mean, s = (float(value[0]) for value in self.population.along(self.a))
        u = float(self.u[0])
        low, high, below, inner_low, inner_high, above = (
            float(end[0]) for end in self.limits(self.rule.guard_factor)
        )

        def accepted(x: float) -> float:
            # From the side on which the probability is small, so that it stays exact.
            first, second = (inner_low - x) / u, (inner_high - x) / u
            return float(
                ndtr(second) - ndtr(first) if first < 0.0 else ndtr(-first) - ndtr(-second)
            )

        def rejected(x: float) -> float:
            return float(ndtr((below - x) / u) + ndtr((x - above) / u))

        def density(x: float) -> float:
            return float(np.exp(-0.5 * ((x - mean) / s) ** 2) / (s * np.sqrt(2.0 * np.pi)))

        def integral(decided: Callable[[float], float], start: float, end: float) -> float:
            start, end = max(start, mean - _TAIL * s), min(end, mean + _TAIL * s)
            if end <= start:
                return 0.0
            # What happens, happens within some u of a limit or some s of the mean.
            bends = [limit + k * u for limit in (low, high) for k in (-8.0, -3.0, 3.0, 8.0)]
            bends += [mean + k * s for k in (-6.0, -2.0, 0.0, 2.0, 6.0)]
            points = [start, *sorted(x for x in bends if start < x < end), end]
            pieces = (
                quad(lambda x: density(x) * decided(x), *ends, epsabs=0.0, epsrel=1e-10)[0]
                for ends in pairwise(points)
            )
            return float(sum(pieces))

        if not accepting:
            probability = integral(rejected, low, high)
        elif np.isnan(inner_low):
            probability = 0.0  # the guard bands leave nothing to accept
        else:
            reach = _TAIL * u
            probability = integral(accepted, low - reach, low)
            probability += integral(accepted, high, high + reach)
        conforming = integral(lambda _: 1.0, low, high)
        return Risk(probability, 0.0, conforming, "one reading, integrated")

    def simulate(self, *, accepting: bool) -> Risk:
        """Several readings: simulate parts and readings, and decide as `check` does."""
        rng = np.random.default_rng(self.seed)
        root = np.linalg.cholesky(self.population.covariance)
        readings, wrong = self.a.size, 0
        strict = self.limits(condemning_factor(self.rule, readings))
        for start in range(0, self.draws, _BLOCK):
            n = min(_BLOCK, self.draws - start)
            true = self.population.mean + rng.standard_normal((n, 2)) @ root.T
            deviation = true[:, :1] + true[:, 1:] * self.a
            deviation = deviation + self.u * rng.standard_normal((n, readings))
            places = locate(
                np.repeat(np.arange(n), readings), n, deviation.ravel(),
                np.tile(self.a, n), np.tile(self.u, n),
            )  # fmt: skip
            probability = place_probability(places, self.requirement, self.prior)
            condemned = strict.rejects(deviation).sum(axis=-1)
            verdict = sensor_decisions(places, self.requirement, self.rule, probability, condemned)
            decided = verdict == ("accept" if accepting else "reject")
            conforms = self.requirement.region.contains(true[:, 0], true[:, 1])
            wrong += int(np.count_nonzero(decided & (conforms != accepting)))
        share = wrong / self.draws
        # With none or all counted the usual formula says 0; one more of each says no less.
        safe = (wrong + 1.0) / (self.draws + 2.0)
        error = float(np.sqrt(max(share * (1.0 - share), safe * (1.0 - safe)) / self.draws))
        conforming = float(
            self.requirement.region.normal_probability(
                self.population.mean, self.population.covariance
            )
        )
        method = f"{readings} readings, {self.draws} parts simulated with seed {self.seed}"
        return Risk(share, error, conforming, method)
