"""Sensors on the bench, judged all at once."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.bench import Bench
from thermofit.decide.conformity import place_decisions, place_probability, reading_probability
from thermofit.decide.place import Places, locate
from thermofit.decide.requirement import Requirement
from thermofit.decide.rule import DecisionRule, Prior
from thermofit.decide.verdict import Readings

__all__ = ["Judgement", "Measured", "inconsistent", "judge", "measure", "p_values"]

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
    ln_r, a, alpha, deviation, u : array, shape (m,)
        Of the nominal curve ln R, ln ρ and α; of the reading the deviation of ln
        R and its standard uncertainty.  NaN where not usable.
    """

    usable: Bools
    out_of_range: Bools
    skipped: Bools
    places: Places
    ln_r: Array
    a: Array
    alpha: Array
    deviation: Array
    u: Array


@dataclass(frozen=True, eq=False)
class Judgement:
    """Verdicts of n sensors and of their m readings, as arrays."""

    measured: Measured
    verdict: npt.NDArray[np.str_]
    probability: Array
    p_value: Array
    inconsistent: Bools
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
    ln_r, a, alpha, deviation, u = np.full((5, len(sensor)), np.nan)
    ln_r[inside], a[inside], alpha[inside] = requirement.nominal(bench.t_c[inside])
    with np.errstate(invalid="ignore"):
        deviation = np.log(bench.r_ohm) - ln_r
        u = np.hypot(bench.u_r_ohm / bench.r_ohm, alpha * bench.u_t_k)
    # A reading in range is judged by itself whatever the sensor's others are.
    whole = ~skipped[sensor]
    places = locate(sensor[whole], n, deviation[whole], a[whole], u[whole], requirement.line)
    return Measured(inside, out_of_range, skipped, places, ln_r, a, alpha, deviation, u)


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
    verdict = place_decisions(places, requirement, rule, probability)
    disagree = inconsistent(places)
    verdict = np.where(disagree | measured.skipped, "cannot tell", verdict)
    return Judgement(
        measured,
        verdict,
        np.where(disagree, np.nan, probability),
        p_values(places),
        disagree,
        _readings(bench, measured, requirement, rule, prior),
    )


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
    bench: Bench, measured: Measured, requirement: Requirement, rule: DecisionRule, prior: Prior
) -> Readings:
    ln_r, a, u, deviation = measured.ln_r, measured.a, measured.u, measured.deviation
    low, high = requirement.region.support(a)
    below, accept_low, accept_high, above = rule.guarded_limits(low, high, u, u)
    left_out = np.full(len(a), np.nan)
    left_out[~measured.skipped[bench.sensor]] = measured.places.left_out
    r_nominal = np.exp(ln_r)
    return Readings(
        t_c=bench.t_c,
        r_ohm=bench.r_ohm,
        low_ohm=r_nominal * np.exp(low),
        high_ohm=r_nominal * np.exp(high),
        accept_low_ohm=r_nominal * np.exp(accept_low),
        accept_high_ohm=r_nominal * np.exp(accept_high),
        reject_below_ohm=r_nominal * np.exp(below),
        reject_above_ohm=r_nominal * np.exp(above),
        deviation_pct=100.0 * np.expm1(deviation),
        u_ohm=u * bench.r_ohm,
        u_k=u / np.abs(measured.alpha),
        probability=reading_probability(deviation, u, a, low, high, prior),
        verdict=rule.decide(deviation, u, low, high),
        left_out_k=-left_out / measured.alpha,
    )
