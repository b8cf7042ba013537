"""Verdicts: probability of conformity, decision rules, reasons, frames."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import dblquad
from scipy.stats import binom, multivariate_normal, norm

import thermofit as tf
from thermofit.decide import Population, check
from thermofit.decide.conformity import (
    place_decisions,
    place_probability,
    reading_probability,
    region_probability,
)
from thermofit.decide.judge import SMALL_P, condemning_factor
from thermofit.decide.place import locate
from thermofit.decide.requirement import requirement_of
from thermofit.decide.rule import Prior, decision_rule
from thermofit.errors import InputError
from thermofit.tolerance import Tolerance

Array = NDArray[np.float64]

# Invented parts: fan-aspirated air sensors of glasshouse climate controllers.
CURVE = tf.Curve.steinhart_hart(a=1.129e-3, b=2.341e-4, c=8.775e-8, t_range_c=(-30.0, 100.0))
FAMILY = tf.Family(CURVE.replace(id="glasshouse-air"), r25_tol_pct=1.0, b_tol_pct=0.75)
REQUIREMENT = requirement_of(FAMILY)
T_C = np.array([0.0, 15.0, 25.0, 40.0, 60.0])

# With two-sided laws the seed is fixed, so that a binomial bound holds or fails for good.
SEED = 20240317


def deviating(gamma: float, beta: float, t_c: Array = T_C) -> Array:
    """Resistances of a part at a place of the plane, by the definition of the plane."""
    nominal, r25 = CURVE.resistance(t_c), CURVE.resistance(25.0)
    result: Array = r25 * np.exp(gamma + (1.0 + beta) * np.log(nominal / r25))
    return result


def points(
    gamma: float = 0.0, beta: float = 0.0, t_c: Array = T_C, u_t_k: float = 0.02
) -> tf.Points:
    r_ohm = deviating(gamma, beta, t_c)
    return tf.Points(t_c, r_ohm, u_t_k=u_t_k, u_r_ohm=0.001 * r_ohm)


# -- where a sensor lies ----------------------------------------------------------


@given(st.floats(-0.05, 0.05), st.floats(-0.05, 0.05))
def test_exact_readings_are_located_where_they_were_made(gamma: float, beta: float) -> None:
    v = check(points(gamma, beta), FAMILY)
    assert v.gamma == pytest.approx(gamma, abs=1e-12)
    assert v.beta == pytest.approx(beta, abs=1e-12)
    assert v.chi2 == pytest.approx(0.0, abs=1e-12)


def test_the_place_and_its_covariance_are_those_of_weighted_least_squares() -> None:
    """JCGM 100, 5.1.3, through the normal equations solved by NumPy."""
    rng = np.random.default_rng(SEED)
    a, u, y = rng.normal(size=7), rng.uniform(0.5, 2.0, 7), rng.normal(size=7)
    places = locate(np.zeros(7, dtype=np.intp), 1, y, a, u)
    design = np.stack([np.ones(7), a], axis=1) / u[:, np.newaxis]
    solution, rss, *_ = np.linalg.lstsq(design, y / u, rcond=None)
    np.testing.assert_allclose(places.estimate[0], solution, rtol=1e-12)
    np.testing.assert_allclose(places.covariance[0], np.linalg.inv(design.T @ design), rtol=1e-12)
    assert places.chi2[0] == pytest.approx(rss[0], rel=1e-12)


def test_leaving_a_reading_out_predicts_it_from_the_others() -> None:
    rng = np.random.default_rng(SEED)
    a, u, y = rng.normal(size=6), rng.uniform(0.5, 2.0, 6), rng.normal(size=6)
    zeros = np.zeros(6, dtype=np.intp)
    places = locate(zeros, 1, y, a, u)
    for j in range(6):
        rest = np.delete(np.arange(6), j)
        others = locate(zeros[rest], 1, y[rest], a[rest], u[rest])
        gamma, beta = others.estimate[0]
        assert places.left_out[j] == pytest.approx(y[j] - gamma - beta * a[j], rel=1e-10)
        drop = places.left_out_score[j] ** 2
        assert places.chi2[0] - others.chi2[0] == pytest.approx(drop, rel=1e-9)


@given(st.permutations(range(5)))
def test_the_order_of_readings_does_not_matter(order: list[int]) -> None:
    noisy = deviating(0.004, -0.003) * np.exp([0.001, -0.002, 0.0015, 0.0, -0.001])
    straight = check(tf.Points(T_C, noisy, u_t_k=0.05), FAMILY)
    turned = check(tf.Points(T_C[order], noisy[order], u_t_k=0.05), FAMILY)
    assert turned.probability == pytest.approx(straight.probability, rel=1e-10)
    assert turned.verdict == straight.verdict
    np.testing.assert_array_equal(turned.readings.verdict, straight.readings.verdict[order])


@given(st.floats(0.01, 1000.0))
def test_the_unit_of_resistance_does_not_matter(scale: float) -> None:
    """A part and its family in other units of resistance, such as kΩ as Ω."""
    r_ohm = deviating(0.006, 0.002)
    one = tf.Curve.from_table(np.arange(0.0, 61.0, 5.0), CURVE.resistance(np.arange(0.0, 61.0, 5)))
    table = scale * CURVE.resistance(np.arange(0.0, 61.0, 5.0))
    other = tf.Curve.from_table(np.arange(0.0, 61.0, 5.0), table)
    limits: dict[str, Any] = {"r25_pct": 1.0, "b_pct": 1.0, "u_r_pct": 0.1, "u_t_k": 0.05}
    before = check(tf.Points(T_C, r_ohm), one, **limits)
    after = check(tf.Points(T_C, scale * r_ohm), other, **limits)
    assert after.probability == pytest.approx(before.probability, rel=1e-7)
    assert after.gamma == pytest.approx(before.gamma, abs=1e-10)


# -- probability of conformity ----------------------------------------------------


@given(st.floats(-6.0, 6.0), st.floats(0.1, 3.0))
def test_one_sided_probability_is_the_normal_distribution_function(x: float, u: float) -> None:
    """JCGM 106:2012, clause 7: p = Φ((T_U − y)/u) for an upper limit T_U."""
    limits = np.array(-np.inf), np.array(1.0)
    p = reading_probability(np.array(x), np.array(u), np.array(0.0), *limits, "uniform")
    assert float(p) == pytest.approx(norm.cdf((1.0 - x) / u), rel=1e-12, abs=1e-300)


@given(st.floats(-6.0, 6.0), st.floats(0.1, 3.0))
def test_two_sided_probability_is_a_difference_of_two(x: float, u: float) -> None:
    limits = np.array(-1.0), np.array(1.0)
    p = reading_probability(np.array(x), np.array(u), np.array(0.0), *limits, "uniform")
    expected = norm.sf((-1.0 - x) / u) - norm.sf((1.0 - x) / u)
    assert float(p) == pytest.approx(expected, rel=1e-9, abs=1e-12)


SLANTED = Tolerance.of(dt_k=0.3, dt_range_c=(0, 70))
RECTANGLE = Tolerance.of(r25_pct=1.0, b_pct=0.75)
AT_ZERO = Tolerance.of(r_pct=1.0, r_at_c=0.0, b_pct=1.0)


@pytest.mark.parametrize("tolerance", [RECTANGLE, AT_ZERO, SLANTED], ids=str)
def test_probability_of_a_place_equals_numerical_integration(tolerance: Tolerance) -> None:
    """scipy.integrate.dblquad of the bivariate normal density over the polygon."""
    requirement = requirement_of(CURVE, tolerance=tolerance)
    v = requirement.region.vertices
    mean = np.array([0.004, -0.002])
    covariance = np.array([[4e-3, 1.5e-3], [1.5e-3, 3e-3]]) * 4e-3
    density = multivariate_normal(mean, covariance).pdf
    top, bottom = int(np.argmax(v[:, 1])), int(np.argmin(v[:, 1]))

    def side(beta: float) -> tuple[float, float]:
        """Where a line of constant β crosses the polygon."""
        across = []
        for one, two in zip(v, np.roll(v, -1, axis=0), strict=True):
            if (one[1] - beta) * (two[1] - beta) <= 0.0 and one[1] != two[1]:
                part = (beta - one[1]) / (two[1] - one[1])
                across.append(one[0] + part * (two[0] - one[0]))
        return min(across), max(across)

    expected, _ = dblquad(
        lambda gamma, beta: float(density([gamma, beta])), v[bottom, 1], v[top, 1],
        lambda beta: side(beta)[0], lambda beta: side(beta)[1], epsabs=1e-6,
    )  # fmt: skip
    p = region_probability(mean[np.newaxis], covariance[np.newaxis], requirement)
    assert p[0] == pytest.approx(expected, abs=2e-5)
    assert 0.01 < expected < 0.99


def test_probability_of_a_rectangle_equals_the_bivariate_distribution_function() -> None:
    """scipy.stats.multivariate_normal, by inclusion and exclusion at the four corners."""
    v = REQUIREMENT.region.vertices
    covariance = np.array([[2e-5, 1e-5], [1e-5, 3e-5]])
    cdf = multivariate_normal([0.005, 0.003], covariance, allow_singular=False).cdf
    (g0, b0), (g1, b1) = v.min(axis=0), v.max(axis=0)
    expected = cdf([g1, b1]) - cdf([g0, b1]) - cdf([g1, b0]) + cdf([g0, b0])
    p = region_probability(np.array([[0.005, 0.003]]), covariance[np.newaxis], REQUIREMENT)
    assert p[0] == pytest.approx(expected, abs=1e-5)


@given(st.floats(0.0, 0.02), st.floats(0.0, 0.015), st.floats(0.05, 0.95))
def test_moving_inward_raises_the_probability(gamma: float, beta: float, share: float) -> None:
    """On the way to the middle; the region is made symmetric for that."""
    tolerance = Tolerance.of(r25_pct=(100 * np.expm1(-0.01), 100 * np.expm1(0.01)), b_pct=0.75)
    far = check(points(gamma, beta), CURVE, tolerance=tolerance).probability
    near = check(points(share * gamma, share * beta), CURVE, tolerance=tolerance).probability
    assert near >= far - 1e-12


@given(st.floats(-0.9, 0.9), st.floats(-0.9, 0.9), st.floats(0.2, 0.95))
def test_a_smaller_uncertainty_sharpens_the_verdict(x: float, y: float, smaller: float) -> None:
    gamma, beta = (np.array([x, y]) * [0.0099, 0.0075]).tolist()
    coarse = check(points(gamma, beta, u_t_k=0.3), FAMILY).probability
    r_ohm = deviating(gamma, beta)
    fine = tf.Points(T_C, r_ohm, u_t_k=0.3 * smaller, u_r_ohm=0.001 * smaller * r_ohm)
    assert check(fine, FAMILY).probability >= coarse - 1e-12


def test_a_population_as_prior_pulls_by_its_weight() -> None:
    """Product of prior and likelihood, integrated on a grid (Bayes' theorem)."""
    prior = Population([0.002, -0.001], [[3e-5, 1e-5], [1e-5, 2e-5]])
    p = points(0.011, 0.004, u_t_k=0.2)
    for readings in (p, tf.Points([40.0], [float(p.r_ohm[3])], u_t_k=0.2, u_r_ohm=5.0)):
        v = check(readings, FAMILY, prior=prior)
        gamma, beta = np.meshgrid(*[np.linspace(-0.04, 0.04, 1201)] * 2, indexing="ij")
        log_posterior = np.log(
            multivariate_normal(prior.mean, prior.covariance).pdf(np.stack([gamma, beta], axis=-1))
        )
        for t, r, u_r in zip(readings.t_c, readings.r_ohm, v.readings.u_ohm, strict=True):
            nominal = np.log(CURVE.resistance(t))
            a = nominal - np.log(CURVE.resistance(25.0))
            deviation = np.log(r) - nominal
            log_posterior -= 0.5 * ((deviation - gamma - beta * a) / (u_r / r)) ** 2
        weight = np.exp(log_posterior - log_posterior.max())
        inside = REQUIREMENT.region.contains(gamma, beta)
        assert v.probability == pytest.approx(weight[inside].sum() / weight.sum(), abs=5e-3)
        assert v.prior is prior and "R25" in str(v)


def test_a_reading_by_itself_has_a_posterior_too() -> None:
    """Prior times likelihood along one temperature, by the trapezoidal rule (Bayes' theorem)."""
    prior = Population([0.002, -0.001], [[3e-5, 1e-5], [1e-5, 2e-5]])
    p = points(0.011, 0.004, u_t_k=0.2)
    r = check(p, FAMILY, prior=prior).readings
    for i, t in enumerate(T_C):
        a = np.log(CURVE.resistance(t) / CURVE.resistance(25.0))
        x = np.linspace(-0.08, 0.08, 200_001)
        variance = np.array([1.0, a]) @ prior.covariance @ [1.0, a]
        weight = norm.pdf(x, prior.mean @ [1.0, a], np.sqrt(variance))
        weight *= norm.pdf(np.log1p(r.deviation_pct[i] / 100.0), x, r.u_ohm[i] / r.r_ohm[i])
        low, high = np.log(np.array([r.low_ohm[i], r.high_ohm[i]]) / CURVE.resistance(t))
        inside = (x >= low) & (x <= high)
        assert r.probability[i] == pytest.approx(weight[inside].sum() / weight.sum(), abs=1e-4)


def test_a_wide_population_says_what_no_prior_says() -> None:
    wide = Population([0.0, 0.0], [[1e4, 0.0], [0.0, 1e4]])
    p = points(0.008, -0.004, u_t_k=0.1)
    uniform = check(p, FAMILY)
    assert check(p, FAMILY, prior=wide).probability == pytest.approx(uniform.probability, abs=1e-6)
    assert uniform.prior == "uniform" and "prior: uniform" in str(uniform)


# -- decisions --------------------------------------------------------------------


def at_most(risk: float, draws: int) -> int:
    """Count that binomial sampling of that risk exceeds once in 10⁵ times."""
    return int(binom.isf(1e-5, draws, risk))


def at_least(risk: float, draws: int) -> int:
    return int(binom.ppf(1e-5, draws, risk))


@pytest.mark.parametrize("risk", [0.05, 0.2])
def test_a_reading_of_a_part_on_a_limit_is_decided_wrongly_as_often_as_risked(risk: float) -> None:
    """ISO 14253-1: one limit, the other far away.  4,000 simulated measurements."""
    draws, rng = 4000, np.random.default_rng(SEED)
    one_sided = Tolerance.of(r25_pct=(-50.0, 1.0), b_pct=(0.0, 0.0))
    t_c, u_t_k = 25.0, 0.05
    alpha = CURVE.alpha(t_c)
    t_read = t_c + u_t_k * rng.normal(size=draws)
    r_true = 1.01 * CURVE.resistance(t_c)
    r_read = r_true * np.exp(0.002 * rng.normal(size=draws))
    v = check(
        tf.Points(t_read, r_read), CURVE, tolerance=one_sided, risk=risk, u_t_k=u_t_k, u_r_pct=0.2
    )
    for decision in ("accept", "reject"):
        count = int(np.count_nonzero(v.readings.verdict == decision))
        assert at_least(risk, draws) <= count <= at_most(risk, draws)
    assert alpha < 0.0


@pytest.mark.parametrize("where", ["edge", "corner"])
def test_a_sensor_on_a_limit_is_accepted_or_rejected_at_most_as_often_as_risked(where: str) -> None:
    draws, rng, risk = 4000, np.random.default_rng(SEED), 0.05
    gamma = float(np.log(1.01))
    beta = 0.0 if where == "edge" else 0.0075
    u_t_k = 0.02
    noise = np.hypot(CURVE.alpha(T_C) * u_t_k, 0.001)
    r_ohm = deviating(gamma, beta) * np.exp(noise * rng.normal(size=(draws, T_C.size)))
    frame = pd.DataFrame(
        {
            "sensor": np.repeat(np.arange(draws), T_C.size), "t_c": np.tile(T_C, draws),
            "r_ohm": r_ohm.ravel(), "u_t_k": u_t_k, "u_r_ohm": 0.001 * r_ohm.ravel(),
        }
    )  # fmt: skip
    verdicts = check(frame, FAMILY, risk=risk)
    accepted = int((verdicts["verdict"] == "accept").sum())
    rejected = int((verdicts["verdict"] == "reject").sum())
    assert accepted <= at_most(risk, draws)
    assert rejected <= at_most(risk, draws)
    if where == "edge":  # far from the other limits: as a single one, but for χ²
        assert accepted >= at_least(risk * (1.0 - 2.0 * SMALL_P), draws)
    disagreeing = int((verdicts["cause"] == "inconsistent readings").sum())
    assert at_least(SMALL_P, draws) <= disagreeing <= at_most(SMALL_P, draws)


def test_coarse_instruments_do_not_reject_a_perfect_sensor() -> None:
    """Its probability of conformity is small, but nothing says that it is bad."""
    draws, rng = 2000, np.random.default_rng(SEED)
    a = np.log(CURVE.resistance(T_C) / CURVE.resistance(25.0))
    u = np.full(T_C.size, 0.5)
    y = (u * rng.normal(size=(draws, T_C.size))).ravel()
    places = locate(np.repeat(np.arange(draws), 5), draws, y, np.tile(a, draws), np.tile(u, draws))
    p = place_probability(places, REQUIREMENT, "uniform")
    verdict = place_decisions(places, REQUIREMENT, decision_rule("guarded", 0.05), p)
    assert (p < 0.05).all()
    assert np.count_nonzero(verdict == "reject") <= at_most(0.05, draws)


@given(st.floats(-0.03, 0.03), st.floats(-0.02, 0.02), st.floats(0.005, 1.0))
def test_guarded_verdicts_follow_from_the_probability(
    gamma: float, beta: float, u_t_k: float
) -> None:
    v = check(points(gamma, beta, u_t_k=u_t_k), FAMILY)
    assert (v.verdict == "accept") == (v.probability >= 0.95)
    if v.verdict == "reject":
        assert v.probability <= 0.05
        assert not REQUIREMENT.region.contains(v.gamma, v.beta)


@pytest.mark.parametrize("risk", [0.01, 0.05, 0.3])
def test_acceptance_ends_where_the_probability_falls_below_one_less_the_risk(risk: float) -> None:
    low, high = 0.0, 0.02
    for _ in range(50):
        middle = 0.5 * (low + high)
        accepted = check(points(middle, 0.001), FAMILY, risk=risk).verdict == "accept"
        low, high = (middle, high) if accepted else (low, middle)
    assert check(points(low, 0.001), FAMILY).probability == pytest.approx(1.0 - risk, abs=1e-8)


@pytest.mark.parametrize("risk", [0.01, 0.05, 0.3])
def test_rejection_begins_where_the_ellipse_leaves_the_region(risk: float) -> None:
    """Far from the corners: γ beyond its limit by √χ²₂ standard uncertainties, (β at its best)."""
    low, high = 0.0, 0.05
    for _ in range(50):
        middle = 0.5 * (low + high)
        rejected = check(points(middle, 0.0), FAMILY, risk=risk).verdict == "reject"
        low, high = (low, middle) if rejected else (middle, high)
    v = check(points(high, 0.0), FAMILY)
    distance = (high - np.log(1.01)) / v.u_gamma
    assert distance == pytest.approx(np.sqrt(-2.0 * np.log(risk)), rel=1e-8)


@given(st.floats(-0.03, 0.03), st.floats(-0.02, 0.02), st.floats(0.005, 1.0))
def test_simple_acceptance_takes_the_estimate_at_its_word(
    gamma: float, beta: float, u_t_k: float
) -> None:
    v = check(points(gamma, beta, u_t_k=u_t_k), FAMILY, rule="simple")
    inside = REQUIREMENT.region.contains(v.gamma, v.beta)
    assert v.verdict == ("accept" if inside else "reject")


def test_a_guarded_band_lies_where_the_standard_says() -> None:
    """JCGM 106:2012, clause 8: g = 1.645 u for 5 % (normal quantile, from any table)."""
    v = check(points(u_t_k=0.1), FAMILY)
    r = v.readings
    for inner, limit, outer in (
        (r.accept_low_ohm, r.low_ohm, r.reject_below_ohm),
        (r.accept_high_ohm, r.high_ohm, r.reject_above_ohm),
    ):
        u_ohm = np.hypot(CURVE.alpha(T_C) * 0.1 * limit, 0.001 * deviating(0.0, 0.0))
        np.testing.assert_allclose(np.abs(inner - limit), 1.645 * u_ohm, rtol=2e-4)
        np.testing.assert_allclose(np.abs(outer - limit), 1.645 * u_ohm, rtol=2e-4)
    np.testing.assert_allclose(r.u_k, np.hypot(0.1, 0.001 / CURVE.alpha(T_C)), rtol=1e-9)
    # R25 ± 1 % at 25 °C, whatever B.
    assert r.high_ohm[2] == pytest.approx(1.01 * CURVE.resistance(25.0), rel=1e-12)


@pytest.mark.parametrize("t_c", [[25.0], [25.0, 25.0], [0.0, 60.0], [0.0, 25.0, 40.0, 60.0]])
@pytest.mark.parametrize("prior", ["uniform", Population([0, 0], [[1e-4, 0], [0, 1e-4]])], ids=str)
def test_readings_of_almost_nothing_reject(t_c: list[float], prior: Prior) -> None:
    """The meter's 10 Ω are many times such a reading, and nothing beside the limit."""
    p = tf.Points(t_c, [0.8] * len(t_c), u_t_k=0.05, u_r_ohm=10.0)
    v = check(p, CURVE, r25_pct=2.0, b_pct=1.0, prior=prior)
    assert v.verdict == "reject" and (v.readings.verdict == "reject").all()
    assert (v.readings.probability < 1e-6).all()
    assert not v.probability > 1e-6


def test_one_reading_of_almost_nothing_is_the_wrong_one_among_good_ones() -> None:
    r_ohm = deviating(0.0, 0.0) * [1.0, 1.0, 1e-4, 1.0, 1.0]
    v = check(tf.Points(T_C, r_ohm, u_t_k=0.05, u_r_ohm=10.0), FAMILY)
    assert (v.verdict, v.cause) == ("cannot tell", "inconsistent readings")
    assert "the one at 25 °C" in v.reason


@given(st.floats(0.01, 3e5), st.floats(1.0001, 10.0), st.floats(0.1, 5000.0))
def test_a_reading_further_out_is_never_judged_more_mildly(
    r_ohm: float, further: float, u_r_ohm: float
) -> None:
    def rank(*r: float) -> list[int]:
        p = tf.Points([25.0] * len(r), r, u_t_k=0.05, u_r_ohm=u_r_ohm)
        order = ["accept", "cannot tell", "reject"]
        return [order.index(word) for word in check(p, FAMILY).readings.verdict]

    nominal = float(CURVE.resistance(25.0))
    outer = r_ohm * further if r_ohm > nominal else r_ohm / further
    inner, beyond = rank(r_ohm, outer)
    assert beyond >= inner


def test_a_sensor_on_a_line_has_the_leverage_of_weighted_least_squares() -> None:
    """Leaving out, by doing it, where the place is sought on a line."""
    rng, line = np.random.default_rng(SEED), np.array([0.8, 0.6])
    a, u, y = rng.normal(size=5), rng.uniform(0.5, 2.0, 5), rng.normal(size=5)
    zeros = np.zeros(5, dtype=np.intp)
    places = locate(zeros, 1, y, a, u, line)
    for j in range(5):
        rest = np.delete(np.arange(5), j)
        others = locate(zeros[rest], 1, y[rest], a[rest], u[rest], line)
        gamma, beta = others.estimate[0]
        assert places.left_out[j] == pytest.approx(y[j] - gamma - beta * a[j], rel=1e-10)
        drop = places.left_out_score[j] ** 2
        assert places.chi2[0] - others.chi2[0] == pytest.approx(drop, rel=1e-9)


def test_a_prior_that_says_otherwise_keeps_a_place_outside_from_rejecting() -> None:
    """The ellipse lies outside, but such parts are so rare that it is more likely an error."""
    prior = Population([0.0, 0.0], [[0.002**2, 0.0], [0.0, 0.001**2]])
    p = points(0.025, 0.0, u_t_k=0.15)
    assert check(p, FAMILY).verdict == "reject"
    v = check(p, FAMILY, prior=prior)
    assert v.probability > 0.05 and v.verdict != "reject"


# -- reasons ----------------------------------------------------------------------


def test_a_good_sensor_is_accepted() -> None:
    v = check(points(0.002, -0.001), FAMILY)
    assert (v.verdict, v.cause) == ("accept", "conforms")
    assert (v.readings.verdict == "accept").all()


def test_a_shifted_sensor_says_by_how_much_r25_is_off() -> None:
    v = check(points(float(np.log(1.04)), 0.0), FAMILY)
    assert (v.verdict, v.cause) == ("reject", "shifted")
    assert "R25 is off by +4.0" in v.reason


def test_a_bent_sensor_says_by_how_much_b_is_off() -> None:
    v = check(points(0.0, 0.03), FAMILY)
    assert (v.verdict, v.cause) == ("reject", "bent")
    assert "B is off by +3.0" in v.reason


def test_a_sensor_can_be_shifted_and_bent() -> None:
    v = check(points(-0.04, -0.03), FAMILY)
    assert (v.verdict, v.cause) == ("reject", "shifted and bent")


def test_both_together_can_lead_out_where_neither_does() -> None:
    """Outside a slanted polygon, and within its extent on both axes."""
    requirement = requirement_of(CURVE, tolerance=SLANTED)
    highest = requirement.region.vertices.max(axis=0)
    gamma, beta = (0.9 * highest).tolist()
    v = check(points(gamma, beta, u_t_k=0.002), CURVE, tolerance=SLANTED)
    assert v.verdict == "reject"
    assert v.cause == "shifted and bent" and "together" in v.reason


@pytest.mark.parametrize("wrong", range(5))
def test_a_wrong_reading_is_named_with_its_error_in_kelvin(wrong: int) -> None:
    t_c = T_C.copy()
    t_c[wrong] += 2.0
    v = check(tf.Points(t_c, deviating(0.0, 0.0), u_t_k=0.02, u_r_ohm=1.0), FAMILY)
    assert (v.verdict, v.cause) == ("cannot tell", "inconsistent readings")
    assert f"the one at {t_c[wrong]:g} °C is off by +2 K" in v.reason.replace("+2.0", "+2")
    assert v.readings.left_out_k[wrong] == pytest.approx(2.0, abs=0.1)
    assert np.isnan(v.probability)


def test_three_readings_do_not_tell_which_is_wrong() -> None:
    """With one to spare any of them explains all of χ²."""
    t_c = np.array([0.0, 25.0, 60.0])
    r_ohm = deviating(0.0, 0.0, t_c) * [1.0, 1.1, 1.0]
    v = check(tf.Points(t_c, r_ohm, u_t_k=0.02), FAMILY)
    assert v.cause == "inconsistent readings" and "any one of these" in v.reason


def test_two_wrong_readings_are_not_put_on_one() -> None:
    r_ohm = deviating(0.0, 0.0) * [1.0, 1.1, 1.0, 0.85, 1.0]
    v = check(tf.Points(T_C, r_ohm, u_t_k=0.02), FAMILY)
    assert v.cause == "inconsistent readings" and "more than one is off" in v.reason
    # Whichever one is left out, the other still rejects.
    assert v.verdict == "reject" and "easure again" not in v.reason
    assert "2 of 5 readings lie outside their limits" in v.reason


@pytest.mark.parametrize(
    "t_c", [[0.0, 25.0, 60.0, 80.0], np.arange(0.0, 81.0, 10.0), np.arange(0.0, 81.0, 2.0)]
)
def test_a_part_of_another_material_is_rejected(t_c: Any) -> None:
    """B off by −14 %: no pair of γ and β meets its readings."""
    r_ohm = tf.family("ntc-10k-3434").curve.resistance(np.asarray(t_c))
    v = check(tf.Points(t_c, r_ohm, u_t_k=0.05), tf.family("ntc-10k-3977"))
    assert (v.verdict, v.cause) == ("reject", "another curve")
    assert "easure again" not in v.reason and "another material" in v.reason
    assert "B off by −14" in v.reason
    assert np.isnan(v.probability)


def test_a_bad_part_with_a_wrong_reading_is_rejected_whichever_it_is() -> None:
    r_ohm = deviating(0.05, 0.0) * [1.0, 1.0, 0.9, 1.0, 1.0]
    v = check(tf.Points(T_C, r_ohm, u_t_k=0.02), FAMILY)
    assert (v.verdict, v.cause) == ("reject", "inconsistent readings")
    assert "the one at 25 °C is off by" in v.reason and "the rest still reject" in v.reason


def test_what_is_rejected_on_top_keeps_to_its_part_of_the_risk() -> None:
    """Bonferroni: a hundredth of the risk, shared (normal quantile, scipy.stats)."""
    factor = condemning_factor(decision_rule("guarded", 0.05), np.array([1, 4]))
    np.testing.assert_allclose(factor, norm.isf([0.0005, 0.000125]), rtol=1e-12)


def test_only_what_is_beyond_its_limit_for_certain_is_blamed() -> None:
    """+4 % at 20 and 30 °C: R25 is known to 0.3 %, B to 1.4 % and no better."""
    rng, draws, t_c = np.random.default_rng(SEED), 400, np.array([20.0, 30.0])
    t_read = np.tile(t_c, draws) + 0.1 * rng.normal(size=2 * draws)
    frame = pd.DataFrame(
        {"sensor": np.repeat(np.arange(draws), 2), "t_c": t_read,
         "r_ohm": np.tile(1.04 * CURVE.resistance(t_c), draws)}
    )  # fmt: skip
    verdicts = check(frame, CURVE, r25_pct=2.0, b_pct=1.0, u_t_k=0.1)
    rejected = verdicts[verdicts["verdict"] == "reject"]
    blamed = rejected["cause"] == "shifted and bent"
    assert len(rejected) > 300 and blamed.mean() <= 0.05
    unknown = rejected[(rejected["beta"].abs() > 0.01) & ~blamed]
    assert unknown["reason"].str.contains("not known well enough").all() and len(unknown) > 50


def test_where_neither_is_known_both_are_named_with_their_uncertainties() -> None:
    t_c = np.array([60.0, 62.0])
    v = check(tf.Points(t_c, 1.05 * CURVE.resistance(t_c), u_t_k=0.1), FAMILY)
    assert (v.verdict, v.cause) == ("reject", "shifted or bent")
    assert "which of the two is not known" in v.reason


def test_a_reading_out_of_range_is_named_and_the_others_still_judged() -> None:
    t_c = np.array([25.0, 120.0])
    v = check(tf.Points(t_c, [10000.0, 400.0], u_t_k=0.05), FAMILY)
    assert (v.verdict, v.cause) == ("cannot tell", "out of range")
    assert "120 °C" in v.reason and "−30 to 100 °C" in v.reason
    assert v.readings.verdict.tolist() == ["accept", "cannot tell"]
    assert np.isfinite(v.readings.low_ohm).tolist() == [True, False]


def test_one_reading_rejects_but_does_not_accept() -> None:
    good = check(points(0.0, 0.0, T_C[2:3]), FAMILY)
    assert (good.verdict, good.cause) == ("cannot tell", "one temperature only")
    assert good.readings.verdict.tolist() == ["accept"]
    assert np.isnan(good.gamma) and np.isnan(good.probability)
    bad = check(points(0.05, 0.0, T_C[2:3]), FAMILY)
    assert (bad.verdict, bad.cause) == ("reject", "off at one temperature")
    assert "+5.13 %" in bad.reason  # e^0.05 − 1
    simple = check(points(0.0, 0.0, T_C[2:3]), FAMILY, rule="simple")
    assert simple.verdict == "cannot tell"


def test_repeated_readings_at_one_temperature_are_one_better_reading() -> None:
    r = CURVE.resistance(25.0)
    v = check(tf.Points([25.0] * 4, [r] * 4, u_t_k=0.1), FAMILY)
    assert v.cause == "one temperature only" and v.dof == 3
    apart = check(tf.Points([25.0, 25.0], [r, 1.2 * r], u_t_k=0.1), FAMILY)
    assert apart.cause == "inconsistent readings"


def test_a_perfect_sensor_says_that_the_instruments_are_too_coarse() -> None:
    v = check(points(u_t_k=0.5), FAMILY)
    assert (v.verdict, v.cause) == ("cannot tell", "too uncertain")
    assert "even a part exactly as nominal" in v.reason
    near = check(points(0.0098, 0.0), FAMILY)
    assert near.cause == "too uncertain" and "even a part" not in near.reason


def test_a_tolerance_of_r25_alone_takes_the_shape_as_exact_and_says_so() -> None:
    family = tf.Family(CURVE.replace(id="r25-only"), r25_tol_pct=1.0)
    v = check(points(0.002, 0.0), family)
    assert v.verdict == "accept" and v.beta == 0.0 and v.u_beta == 0.0
    assert any("shape of the curve is taken as exact" in note for note in v.notes)
    # One number of one unknown: a weighted mean, JCGM 100, so that p is one-dimensional.
    low, high = np.log([0.99, 1.01])
    expected = norm.cdf((high - 0.002) / v.u_gamma) - norm.cdf((low - 0.002) / v.u_gamma)
    assert v.probability == pytest.approx(expected, rel=1e-12)
    assert check(points(0.03, 0.0), family).cause == "shifted"
    bent = check(points(0.0, 0.03), family)
    assert (bent.verdict, bent.cause) == ("reject", "another curve")


def test_a_verdict_prints_and_has_no_truth_value() -> None:
    v = check(points(), FAMILY)
    with pytest.raises(TypeError, match="one of three"):
        bool(v)
    text = str(v)
    for told in ("accept", "glasshouse-air", "R(25 °C) ± 1 %, B ± 0.75 %", "risk 5 %", "χ²"):
        assert told in text
    assert len(v.readings.to_frame()) == 5
    assert v.to_frame().loc[0, "verdict"] == "accept"


def test_a_fit_is_checked_by_its_points() -> None:
    p = points(0.004, 0.002)
    assert check(tf.fit(p, equation="beta"), FAMILY).probability == check(p, FAMILY).probability


# -- many sensors -----------------------------------------------------------------


def fleet(count: int, seed: int = SEED) -> pd.DataFrame:
    """Readings of invented sensors, one to six each, in mixed order."""
    rng = np.random.default_rng(seed)
    rows = []
    for i in range(count):
        t_c = rng.choice(np.linspace(-10.0, 80.0, 19), rng.integers(1, 7), replace=False)
        gamma, beta = rng.normal(size=2) * [0.008, 0.005]
        noise = np.exp(0.002 * rng.normal(size=t_c.size))
        r_ohm = deviating(gamma, beta, t_c) * noise
        rows += [(f"S{i}", t, r, 0.03, 0.001 * r) for t, r in zip(t_c, r_ohm, strict=True)]
    order = rng.permutation(len(rows))
    names = ["sensor", "t_c", "r_ohm", "u_t_k", "u_r_ohm"]
    return pd.DataFrame([rows[i] for i in order], columns=names)


@pytest.mark.parametrize("prior", ["uniform", Population([0, 0], [[1e-4, 0], [0, 1e-4]])], ids=str)
def test_a_frame_says_what_its_sensors_say_one_by_one(prior: Prior) -> None:
    frame = fleet(60)
    together = check(frame, FAMILY, prior=prior)
    assert together["sensor"].tolist() == list(dict.fromkeys(frame["sensor"]))
    assert together["cause"].nunique() >= 4
    for name, row in together.set_index("sensor").iterrows():
        own = frame[frame["sensor"] == name].drop(columns="sensor")
        alone = check(tf.Points.from_frame(own), FAMILY, prior=prior)
        for column in ("probability", "gamma", "beta", "u_gamma", "u_beta", "correlation", "chi2"):
            assert row[column] == pytest.approx(
                getattr(alone, column), rel=1e-10, abs=1e-12, nan_ok=True
            )
        assert (row["verdict"], row["cause"], row["reason"]) == (
            alone.verdict, alone.cause, alone.reason
        )  # fmt: skip


def test_thousands_of_sensors_in_one_frame() -> None:
    count = 5000
    rng = np.random.default_rng(SEED)
    places = rng.normal(size=(count, 2)) * [0.004, 0.003]
    t_c = np.array([0.0, 25.0, 60.0])
    a = np.log(CURVE.resistance(t_c) / CURVE.resistance(25.0))
    r_ohm = CURVE.resistance(t_c) * np.exp(places[:, :1] + places[:, 1:] * a)
    frame = pd.DataFrame(
        {
            "sensor": np.repeat(np.arange(count), 3),
            "t_c": np.tile(t_c, count),
            "r_ohm": r_ohm.ravel(),
        }
    )
    verdicts = check(frame, FAMILY, u_t_k=0.01, u_r_pct=0.02)
    assert len(verdicts) == count
    inside = REQUIREMENT.region.contains(places[:, 0], places[:, 1])
    decided = verdicts["verdict"] != "cannot tell"
    assert (inside == (verdicts["verdict"] == "accept").to_numpy())[decided.to_numpy()].all()
    assert decided.mean() > 0.5


def test_a_sensor_with_bad_cells_says_so_and_stops_nobody_else() -> None:
    frame = fleet(4)
    frame = pd.concat(
        [
            frame,
            pd.DataFrame(
                {
                    "sensor": ["short", "blank", "word", "hot", "exact"],
                    "t_c": [25.0, np.nan, "warm", 160.0, 25.0],
                    "r_ohm": [0.0, 1e4, 1e4, 200.0, 1e4],
                    "u_t_k": [0.1, 0.1, 0.1, 0.1, 0.0],
                    "u_r_ohm": [1.0, 1.0, 1.0, 1.0, 0.0],
                }
            ),
        ],
        ignore_index=True,
    )
    verdicts = check(frame, FAMILY).set_index("sensor")
    good = check(fleet(4), FAMILY).set_index("sensor")
    pd.testing.assert_frame_equal(verdicts.loc[good.index], good)
    said = verdicts["reason"]
    assert "r_ohm 0.0 is no resistance" in said["short"]
    assert "t_c nan" in said["blank"] and "t_c warm" in said["word"]
    assert "160 °C" in said["hot"] and "no uncertainty at all" in said["exact"]
    bad = verdicts.loc[["short", "blank", "word", "hot", "exact"]]
    assert (bad["verdict"] == "cannot tell").all() and bad["probability"].isna().all()
    assert bad["cause"].tolist() == ["unusable readings"] * 3 + [
        "out of range", "unusable readings"
    ]  # fmt: skip


# -- what cannot be judged --------------------------------------------------------

BARE = tf.Points(T_C, deviating(0.0, 0.0))


def test_without_uncertainties_nothing_is_judged() -> None:
    ask = r"thermometer \(u_t_k, or --u-t .* meter \(u_r_pct, or --u-r\)"
    with pytest.raises(InputError, match=ask):
        check(BARE, FAMILY)
    with pytest.raises(InputError, match="uncertainty"):
        check(fleet(2)[["sensor", "t_c", "r_ohm"]], FAMILY)
    assert check(BARE, FAMILY, u_t_k=0.02, u_r_pct=0.1).verdict == "accept"


def test_one_axis_taken_as_exact_is_said() -> None:
    v = check(BARE, FAMILY, u_t_k=0.02)
    assert any("resistance is taken as exact" in note for note in v.notes)
    v = check(BARE, FAMILY, u_r_pct=0.02)
    assert any("temperature is taken as exact" in note for note in v.notes)


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ({"rule": "lenient"}, "guarded"),
        ({"risk": 0.0}, "risk"),
        ({"risk": 0.5}, "risk"),
        ({"risk": float("nan")}, "risk"),
        ({"risk": "5%"}, "0.05 for 5 %, not '5%'"),
        ({"risk": True}, "not True"),
        ({"rule": ["guarded"]}, "guarded"),
        ({"prior": np.zeros(2)}, "Population"),
        ({"tolerance": "1%"}, "must be a Tolerance, not '1%'; Tolerance.of"),
        ({"prior": "flat"}, "Population"),
        ({"u_t_k": 0.1}, "leave u_t_k out"),
        ({"u_r_pct": 0.1}, "leave u_r_pct out"),
        ({"tolerance": RECTANGLE, "b_pct": 1.0}, "contradict"),
    ],
)
def test_bad_arguments_are_refused(arguments: dict[str, object], told: str) -> None:
    with pytest.raises(InputError, match=told):
        check(points(), FAMILY, **arguments)  # type: ignore[call-overload]


@pytest.mark.parametrize("name", ["u_t_k", "u_r_pct"])
def test_infinite_uncertainties_are_refused(name: str) -> None:
    with pytest.raises(InputError, match=f"{name} must be finite"):
        check(BARE, FAMILY, **{name: float("inf")})  # type: ignore[call-overload]


@pytest.mark.parametrize(
    ("column", "cells", "told"),
    [
        ("t_c", pd.date_range("2024-03-17", periods=2), "dates or times"),
        ("r_ohm", pd.to_timedelta([1, 2], unit="s"), "dates or times"),
        ("r_ohm", [True, False], "truth values"),
    ],
)
def test_columns_of_other_kinds_are_refused(column: str, cells: Any, told: str) -> None:
    frame = pd.DataFrame({"sensor": ["A", "A"], "t_c": [0.0, 25.0], "r_ohm": [3e4, 1e4]})
    frame[column] = cells
    with pytest.raises(InputError, match=f"column '{column}' of the frame has {told}"):
        check(frame, FAMILY, u_t_k=0.1)


@pytest.mark.parametrize("cell", [True, pd.Timestamp("2024-03-17")])
def test_a_cell_of_another_kind_is_no_number(cell: Any) -> None:
    frame = pd.DataFrame({"sensor": ["A", "B"], "t_c": [25.0, 25.0]})
    frame["r_ohm"] = pd.Series([10e3, cell], dtype=object)
    verdicts = check(frame, FAMILY, u_t_k=0.1)
    assert verdicts["cause"].tolist() == ["one temperature only", "unusable readings"]


@pytest.mark.parametrize("name", ["u_t_k", "u_r_pct"])
def test_negative_uncertainties_are_refused(name: str) -> None:
    with pytest.raises(InputError, match=f"{name} must not be negative"):
        check(BARE, FAMILY, **{name: -0.1})  # type: ignore[call-overload]


def test_readings_without_any_uncertainty_are_refused() -> None:
    with pytest.raises(InputError, match="no uncertainty at all"):
        check(BARE, FAMILY, u_t_k=0.0, u_r_pct=0.0)


def test_a_family_must_state_a_tolerance_that_can_judge() -> None:
    with pytest.raises(InputError, match="states no tolerance"):
        check(points(), CURVE)
    with pytest.raises(InputError, match="limits no resistance"):
        check(points(), CURVE, b_pct=1.0)
    with pytest.raises(InputError, match="nominal part only"):
        check(points(), CURVE, r25_pct=0.0, b_pct=0.0)
    with pytest.raises(InputError, match="Family or a Curve"):
        check(points(), "glasshouse-air")  # type: ignore[call-overload]
    ratio = tf.Family(
        tf.Curve.beta(r25_ohm=1.0, b_k=3977, id="ratio"), r25_tol_pct=1.0, ratio_only=True
    )
    with pytest.raises(InputError, match="leaves R25 open"):
        check(points(), ratio)
    assert check(points(), CURVE, r25_pct=1.0, b_pct=1.0).verdict == "accept"


class AtZero(tf.Family):
    """A family whose resistance is limited at 0 °C, which is invented."""

    @property
    def tolerance(self) -> Tolerance | None:
        return Tolerance.of(r_pct=1, r_at_c=0.0, b_pct=1)


def test_a_family_keeps_the_tolerance_that_it_states() -> None:
    family = AtZero(FAMILY.curve)
    told = check(points(), family)
    assert str(told.tolerance) == "R(0 °C) ± 1 %, B ± 1 %"
    half = check(points(), family, b_pct=0.5)
    assert str(half.tolerance) == "R(0 °C) ± 1 %, B ± 0.5 %"
    limits = tf.acceptance_limits(family, [0.0], u_t_k=0.01, b_pct=5)
    assert limits.high_ohm[0] == pytest.approx(1.01 * limits.nominal_ohm[0])
    other = check(points(), family, r25_pct=2)
    assert str(other.tolerance) == "R(25 °C) ± 2 %, B ± 1 %"


def test_acceptance_limits_tell_temperatures_in_kelvin() -> None:
    with pytest.raises(InputError, match=r"293.15 °C lies outside .*293.15 K are 20 °C"):
        tf.acceptance_limits(FAMILY, [293.15], u_t_k=0.1)
    with pytest.raises(InputError, match=r"200 °C lies outside the valid range .* 100 °C$"):
        tf.acceptance_limits(FAMILY, 200.0, u_t_k=0.1)


def test_uncertainties_of_a_frame_have_its_index() -> None:
    frame = fleet(3).drop(columns=["u_t_k", "u_r_ohm"])
    u_t_k = pd.Series(np.linspace(0.01, 0.1, len(frame)), index=frame.index)
    assert check(frame, FAMILY, u_t_k=u_t_k)["verdict"].tolist() == (
        check(frame, FAMILY, u_t_k=u_t_k.to_numpy())["verdict"].tolist()
    )
    for name in ("u_t_k", "u_r_pct"):
        with pytest.raises(InputError, match=f"the frame and {name} have different indexes"):
            check(frame, FAMILY, **{name: u_t_k.iloc[::-1]})  # type: ignore[call-overload]


def test_platinum_needs_a_tolerance_in_kelvin() -> None:
    pt100 = tf.Curve.callendar_van_dusen(r0_ohm=100.0)
    p = tf.Points([0.0, 50.0], pt100.resistance([0.0, 50.0]), u_t_k=0.02)
    for stated in ({"r25_pct": 0.1, "b_pct": 0.1}, {}):
        with pytest.raises(InputError, match=r"is no NTC.*tolerance_band.*dt_k and dt_range_c"):
            check(p, pt100, **stated)  # type: ignore[call-overload]
    in_kelvin = Tolerance.of(dt_k=0.3, dt_range_c=(0, 100))
    assert check(p, pt100, tolerance=in_kelvin).verdict == "accept"


def test_a_population_needs_limits_of_both() -> None:
    prior = Population([0, 0], [[1e-4, 0], [0, 1e-4]])
    with pytest.raises(InputError, match="takes the other as exact"):
        check(points(), CURVE, r25_pct=1.0, prior=prior)


@pytest.mark.parametrize("column", ["sensor", "t_c", "r_ohm"])
def test_a_frame_must_have_its_columns(column: str) -> None:
    with pytest.raises(InputError, match=f"no column '{column}'"):
        check(fleet(2).drop(columns=column), FAMILY)


def test_an_empty_frame_and_a_nameless_sensor_are_refused() -> None:
    with pytest.raises(InputError, match="no rows"):
        check(fleet(2).iloc[:0], FAMILY)
    frame = fleet(3)
    frame.loc[1, "sensor"] = None
    with pytest.raises(InputError, match="row 2 of the frame does not name its sensor"):
        check(frame, FAMILY)
    with pytest.raises(InputError, match="Points or the Fit"):
        check([points()], FAMILY)  # type: ignore[call-overload]


def test_checking_warns_of_nothing() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        check(fleet(30), FAMILY)
