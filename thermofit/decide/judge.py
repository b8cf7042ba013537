"""Sensors on the bench, judged all at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.bench import Bench
from thermofit.decide.conformity import place_decisions, place_probability, reading_probability
from thermofit.decide.guardband import GuardedLimits, guarded_limits
from thermofit.decide.place import Places, locate
from thermofit.decide.requirement import Requirement
from thermofit.decide.rule import DecisionRule, Prior
from thermofit.decide.verdict import Readings

__all__ = [
    "Judgement",
    "Measured",
    "condemning_factor",
    "inconsistent",
    "judge",
    "measure",
    "p_values",
    "sensor_decisions",
]

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

# Readings that agree as badly as these by chance once in a hundred times are
# not believed, as in the doubts about a fit.
SMALL_P = 0.01


@dataclass(frozen=True, eq=False)
class Measured:
    """Readings as deviations from the nominal curve, and the places that they give.

    Parameters
    ----------
    usable : array of bool, shape (m,)
        Readings within the valid range, of sensors without a problem.
    out_of_range : array of bool, shape (m,)
        Readings outside the valid range, of sensors without a problem.
    skipped : array of bool, shape (n,)
        Sensors with a problem or a reading out of range; they are not located.
    places : Places
        Of the n sensors; ``left_out`` and its score are of the readings of those
        that were not skipped, in their order.
    ln_r, a, alpha, low, high : array, shape (m,)
        Of the nominal curve ln R, ln ρ and α, and the limits of the deviation of ln
        R.  NaN where not usable, as those below.
    deviation, u, u_own : array, shape (m,)
        Of the reading the deviation of ln R, its standard uncertainty seen from
        the limits, and that of the reading as it is.
    """

    usable: Bools
    out_of_range: Bools
    skipped: Bools
    places: Places
    ln_r: Array
    a: Array
    alpha: Array
    low: Array
    high: Array
    deviation: Array
    u: Array
    u_own: Array


@dataclass(frozen=True, eq=False)
class Judgement:
    """Verdicts of n sensors and of their m readings, as arrays.

    ``condemned`` are the readings that reject their sensor each by itself, however
    many it has; see `condemning_factor`.
    """

    measured: Measured
    verdict: npt.NDArray[np.str_]
    probability: Array
    p_value: Array
    inconsistent: Bools
    condemned: Bools
    readings: Readings


def measure(bench: Bench, requirement: Requirement) -> Measured:
    """Compare readings with the nominal curve and locate their sensors.

    Parameters
    ----------
    bench : Bench
    requirement : Requirement

    Returns
    -------
    Measured
    """
    n, sensor = len(bench.names), bench.sensor
    skipped = np.zeros(n, dtype=bool)
    skipped[list(bench.problems)] = True
    out_of_range = ~skipped[sensor] & ~requirement.in_range(bench.t_c)
    inside = ~skipped[sensor] & ~out_of_range
    skipped[sensor[out_of_range]] = True
    ln_r, a, alpha = np.full((3, len(sensor)), np.nan)
    ln_r[inside], a[inside], alpha[inside] = requirement.nominal(bench.t_c[inside])
    low, high = requirement.region.support(a)
    with np.errstate(invalid="ignore"):
        deviation = np.log(bench.r_ohm) - ln_r
        own, seen = (
            np.hypot(np.hypot(bench.relative, bench.u_r_ohm / r_ohm), alpha * bench.u_t_k)
            for r_ohm in (bench.r_ohm, _mean_ohm(bench.r_ohm, deviation, low, high))
        )
    # A reading in range is judged by itself whatever the sensor's others are.
    whole = ~skipped[sensor]
    places = locate(sensor[whole], n, deviation[whole], a[whole], seen[whole], requirement.line)
    return Measured(
        inside, out_of_range, skipped, places, ln_r, a, alpha, low, high, deviation, seen, own
    )


def _mean_ohm(r_ohm: Array, deviation: Array, low: Array, high: Array) -> Array:
    """Resistance at which ohms become a part of the resistance: that of the reading.

    Outside its limits, the logarithmic mean of the reading and the limit next to
    it, so that a distance from the limit in ln R is as many standard uncertainties
    as the same one in ohms: a reading of almost nothing does not count as one that
    says almost nothing.
    """
    away = deviation - np.clip(deviation, low, high)
    outside = away != 0.0
    step = np.where(outside, away, 1.0)
    mean: Array = np.where(outside, r_ohm * -np.expm1(-step) / step, r_ohm)
    return mean


def judge(bench: Bench, requirement: Requirement, rule: DecisionRule, prior: Prior) -> Judgement:
    """Judge sensors and their readings.

    Parameters
    ----------
    bench : Bench
    requirement : Requirement
    rule : DecisionRule
    prior : "uniform" or Population

    Returns
    -------
    Judgement
    """
    measured = measure(bench, requirement)
    places = measured.places
    probability = place_probability(places, requirement, prior)
    readings, condemned = _readings(bench, measured, rule, prior)
    disagree = inconsistent(places)
    counted = np.bincount(bench.sensor, condemned, len(bench.names))
    verdict = sensor_decisions(places, requirement, rule, probability, counted)
    # A single reading says of its sensor what it says by itself.
    alone = ~places.located & (places.count == 1)
    rejected = np.bincount(bench.sensor, readings.verdict == "reject", len(bench.names)) > 0
    verdict = np.where(alone, np.where(rejected, "reject", "cannot tell"), verdict)
    verdict = np.where(measured.skipped, "cannot tell", verdict)
    return Judgement(
        measured,
        verdict,
        np.where(disagree, np.nan, probability),
        p_values(places),
        disagree,
        condemned,
        readings,
    )


def sensor_decisions(
    places: Places, requirement: Requirement, rule: DecisionRule, probability: Array,
    condemned: npt.ArrayLike,
) -> npt.NDArray[np.str_]:  # fmt: skip
    """Decide on sensors by their places or, where readings disagree, by the readings.

    Readings that disagree do not make a place.  They reject all the same if two or
    more do so each by itself (`condemned` counts them): whichever one is left out as
    wrong, the rest still reject.
    """
    verdict = place_decisions(places, requirement, rule, probability)
    apart = np.where(np.asarray(condemned) >= 2, "reject", "cannot tell")
    return np.where(inconsistent(places), apart, verdict)


def condemning_factor(rule: DecisionRule, count: npt.ArrayLike) -> Array:
    """Guard band with which any one of `count` readings rejects a sensor.

    Bonferroni, and for a hundredth of the risk only: this comes on top of what the
    place rejects, where readings disagree, so that both together keep to the risk.
    """
    from scipy.special import ndtri

    factor: Array = -ndtri(SMALL_P * rule.risk / np.maximum(count, 1))
    return factor


def p_values(places: Places) -> Array:
    """Probability of a larger χ² by chance; NaN without readings to spare."""
    from scipy.special import chdtrc

    spare = places.dof > 0
    result: Array = np.where(spare, chdtrc(np.where(spare, places.dof, 1), places.chi2), np.nan)
    return result


def inconsistent(places: Places) -> Bools:
    """Whether a sensor's readings disagree by more than their uncertainties allow."""
    result: Bools = p_values(places) < SMALL_P
    return result


def _readings(
    bench: Bench, measured: Measured, rule: DecisionRule, prior: Prior
) -> tuple[Readings, Bools]:
    u_ln_t = np.abs(measured.alpha) * bench.u_t_k

    def limits_for(k: float | Array) -> GuardedLimits:
        return guarded_limits(
            k, measured.ln_r, measured.low, measured.high, bench.relative, bench.u_r_ohm, u_ln_t
        )

    limits = limits_for(rule.guard_factor)
    strict = limits_for(condemning_factor(rule, measured.places.count)[bench.sensor])
    left_out = np.full(len(measured.a), np.nan)
    left_out[~measured.skipped[bench.sensor]] = measured.places.left_out
    readings = Readings(
        t_c=bench.t_c,
        r_ohm=bench.r_ohm,
        low_ohm=limits.low,
        high_ohm=limits.high,
        accept_low_ohm=limits.accept_low,
        accept_high_ohm=limits.accept_high,
        reject_below_ohm=limits.reject_below,
        reject_above_ohm=limits.reject_above,
        deviation_pct=100.0 * np.expm1(measured.deviation),
        u_ohm=measured.u_own * bench.r_ohm,
        u_k=measured.u_own / np.abs(measured.alpha),
        probability=reading_probability(
            measured.deviation, measured.u, measured.a, measured.low, measured.high, prior
        ),
        verdict=limits.decide(bench.r_ohm),
        left_out_k=-left_out / measured.alpha,
    )
    return readings, strict.rejects(bench.r_ohm)
