"""How likely readings are under a family: integrals, distances, likeness, in the plane."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.integrate import dblquad
from scipy.optimize import lsq_linear
from scipy.stats import multivariate_normal, norm, truncnorm

import thermofit as tf
from thermofit.decide.identification.apart import alike_groups, overlap, spread_of
from thermofit.decide.identification.bend import BEND_K, U_BEND_K, bend_shape
from thermofit.decide.identification.comparison import Readings, compare
from thermofit.decide.identification.evidence import evidence
from thermofit.decide.identification.hypothesis import (
    Hypothesis,
    another_ntc,
    family_hypothesis,
)
from thermofit.decide.identification.level import cut_off
from thermofit.tolerance import Region, Strip, Tolerance

Array = NDArray[np.float64]

BOX = Region((Strip(1.0, 0.0, -0.05, 0.03), Strip(0.0, 1.0, -0.02, 0.01)))
SLANTED = Tolerance.of(dt_k=0.5, dt_range_c=(0, 70)).region(tf.Curve.beta(r25_ohm=10e3, b_k=3977))
SEED = 20240317


def one_sensor(y: Array, u: Array, a: Array, bend: Array, region: Region) -> tuple[float, float]:
    found = evidence(y[np.newaxis], u[np.newaxis], a[np.newaxis], bend[np.newaxis], region)
    return float(found.log_density[0]), float(found.chi2[0])


@pytest.mark.parametrize("region", [BOX, SLANTED], ids=["box", "slanted"])
@pytest.mark.parametrize("count", [1, 2, 3])
def test_the_density_of_readings_is_an_integral_over_the_tolerance(
    region: Region, count: int
) -> None:
    """Against SciPy's adaptive quadrature and its multivariate normal density."""
    a = np.array([1.0, -1.6, 0.1])[:count]
    y = np.array([0.031, 0.012, 0.024])[:count]
    u, bend = np.array([0.008, 0.005, 0.006])[:count], np.array([0.02, 0.01, -0.01])[:count]
    covariance = np.diag(u**2) + np.outer(bend, bend)

    def density(beta: float, gamma: float) -> float:
        inside = region.contains(gamma, beta)
        return float(inside and multivariate_normal.pdf(y, gamma + beta * a, covariance))

    lowest, highest = region.vertices.min(axis=0), region.vertices.max(axis=0)
    if region is BOX:
        integral = dblquad(density, lowest[0], highest[0], lowest[1], highest[1], epsabs=1e-9)[0]
        expected, tolerance = integral / region.area, 2e-4
    else:
        rng = np.random.default_rng(SEED)
        tried = rng.uniform(lowest, highest, (200_000, 2))
        tried = tried[region.contains(*tried.T)]
        expectations = tried[:, :1] + tried[:, 1:] * a
        values = multivariate_normal.pdf(y - expectations, np.zeros(count), covariance)
        expected = float(np.mean(values))
        tolerance = 5.0 * float(np.std(values)) / (expected * np.sqrt(len(values)))
    assert np.exp(one_sensor(y, u, a, bend, region)[0]) == pytest.approx(expected, rel=tolerance)


@given(st.floats(-0.1, 0.1), st.floats(-4.0, -1.0))
def test_one_reading_at_25_degrees_speaks_of_r25_alone(y: float, magnitude: float) -> None:
    """Even spread seen through normal noise: a difference of two distribution functions."""
    u = 10.0**magnitude
    ends = (0.03 - y) / u, (-0.05 - y) / u
    expected = (norm.cdf(ends[0]) - norm.cdf(ends[1])) / 0.08
    if expected < 1e-6:
        return
    found, _ = one_sensor(np.array([y]), np.array([u]), np.zeros(1), np.zeros(1), BOX)
    assert np.exp(found) == pytest.approx(expected, rel=1e-3)


@given(st.floats(-0.2, 0.2), st.floats(-0.1, 0.1), st.integers(1, 4))
def test_chi2_is_that_of_the_best_part_within_the_tolerance(
    gamma: float, beta: float, count: int
) -> None:
    """Against SciPy's least squares with bounds, of the whitened readings."""
    a = np.array([1.0, -1.6, 0.1, -0.7])[:count]
    u, bend = np.full(count, 0.01), np.array([0.02, 0.01, -0.01, 0.005])[:count]
    y = gamma + beta * a + np.array([0.003, -0.002, 0.004, 0.0])[:count]
    root = np.linalg.cholesky(np.diag(u**2) + np.outer(bend, bend))
    design = np.linalg.solve(root, np.stack([np.ones(count), a], axis=-1))
    best = lsq_linear(design, np.linalg.solve(root, y), ([-0.05, -0.02], [0.03, 0.01]), tol=1e-12)
    found = one_sensor(y, u, a, bend, BOX)[1]
    assert found == pytest.approx(2.0 * best.cost, rel=2e-3, abs=1e-4)


@pytest.mark.parametrize("away", [5.0, 6.4, 6.6, 8.0, 20.0])
def test_far_from_the_tolerance_one_reading_is_as_unlikely_as_the_normal_tail(away: float) -> None:
    """ln of (1 − Φ(z))/width from SciPy, at 25 °C; the far edge is too far to matter."""
    y, u = np.array([0.03 + 0.01 * away]), np.array([0.01])
    found, chi2 = one_sensor(y, u, np.zeros(1), np.zeros(1), BOX)
    assert found == pytest.approx(norm.logsf(away) - np.log(0.08), abs=1e-3)
    assert chi2 == pytest.approx(away**2, rel=1e-3)


@pytest.mark.parametrize("away", [6.4, 6.6, 9.0])
def test_far_from_a_tight_tolerance_the_density_is_that_of_its_middle(away: float) -> None:
    """Three coarse readings hardly vary over ± 0.01 %: SciPy's density at the nominal part."""
    tiny = Region((Strip(1.0, 0.0, -1e-4, 1e-4), Strip(0.0, 1.0, -1e-4, 1e-4)))
    a, u = np.array([1.0, -1.0, 0.0]), np.full(3, 0.02)
    y = np.full(3, away * 0.02 / np.sqrt(3.0))
    expected = float(multivariate_normal.logpdf(y, np.zeros(3), np.diag(u**2)))
    assert one_sensor(y, u, a, np.zeros(3), tiny)[0] == pytest.approx(expected, abs=0.02)


@pytest.mark.parametrize("wide", [0.02, 6.9], ids=["listed", "R25 free"])
@pytest.mark.parametrize(("u", "count"), [(1e-3, 200), (1e-5, 200), (1e-5, 5000)])
def test_many_equal_readings_are_one_of_their_mean(wide: float, u: float, count: int) -> None:
    """p(y₁ … yₙ) = p(mean)·(2π)^((1−n)/2)·u^(1−n)/√n, also where an exact thermometer repeats."""
    region = Region((Strip(1.0, 0.0, -wide, wide), Strip(0.0, 1.0, -0.02, 0.01)))
    y, a = np.full(count, 0.011), np.full(count, 1.2)
    density, chi2 = one_sensor(y, np.full(count, u), a, np.zeros(count), region)
    gamma = np.linspace(-0.02, 0.01, 20001) * 1.2
    known = u / np.sqrt(count)
    ends = [norm.cdf((end + gamma - 0.011) / known) for end in (wide, -wide)]
    of_mean = np.log(np.mean(ends[0] - ends[1]) / (2.0 * wide))
    expected = of_mean - (count - 1) * (np.log(u) + 0.5 * np.log(2.0 * np.pi))
    expected -= 0.5 * np.log(count)
    assert density == pytest.approx(expected, abs=1e-3)
    assert chi2 == pytest.approx(0.0, abs=1e-6)


def test_the_place_is_that_of_the_readings_however_tight_the_tolerance() -> None:
    """Two readings, two unknowns: γ = 0.05 and β = 0.02, of a family of ± 0.01 %."""
    tiny = Region((Strip(1.0, 0.0, -1e-4, 1e-4), Strip(0.0, 1.0, -1e-4, 1e-4)))
    a = np.array([[1.0, -1.6]])
    found = evidence(0.05 + 0.02 * a, np.full((1, 2), 0.02), a, np.zeros((1, 2)), tiny)
    np.testing.assert_allclose(found.place, [[0.05, 0.02]], rtol=0.01)


def test_far_outside_the_density_still_falls() -> None:
    """Where the normal probability is rounding, a family further away must not gain."""
    y = np.arange(0.03, 0.5, 0.01)[:, np.newaxis] + np.zeros((1, 2))
    u, a = np.full(y.shape, 0.01), np.broadcast_to([1.0, -1.6], y.shape)
    found = evidence(y, u, a, np.zeros(y.shape), BOX)
    assert np.isfinite(found.log_density).all()
    assert (np.diff(found.log_density[1:]) < 0.0).all()


def family_of(r25_ohm: float, b_k: float, id: str, r25_tol_pct: float | None = None) -> Hypothesis:
    """An invented family with a curve of its own (constant B, and stated to be so)."""
    curve = tf.Curve.beta(r25_ohm=r25_ohm, b_k=b_k, id=id)
    family = tf.Family(curve, r25_tol_pct, source_kind="coefficients")
    return family_hypothesis(
        family, tolerances={}, assumed_r25_pct=5.0, assumed_b_pct=2.0, r25_range_ohm=None
    )


def bench(t_c: list[float], u_t_k: float = 0.1, u_r: float = 0.001) -> Readings:
    t = np.array([t_c])
    return Readings(t, np.zeros(t.shape), np.full(t.shape, u_r), np.full(t.shape, u_t_k))


def test_two_readings_of_half_the_weight_are_one_reading() -> None:
    """The ratio of two families' probabilities does not change."""
    hypotheses = tuple(family_of(10e3, b, f"b-{b:.0f}") for b in (3900.0, 3977.0))
    ln_r = np.log([[33.0e3, 1.74e3]])
    once = Readings(np.array([[0.0, 70.0]]), ln_r, np.full((1, 2), 0.004), np.zeros((1, 2)))
    twice = Readings(*(np.hstack([x, x]) for x in (
        once.t_c, ln_r, np.sqrt(2.0) * once.u_ln_r, once.u_t_k
    )))  # fmt: skip
    ratios = [np.diff(compare(r, hypotheses).log_density[0, :2])[0] for r in (once, twice)]
    assert ratios[1] == pytest.approx(ratios[0], abs=1e-4)


def test_a_temperature_that_is_uncertain_counts_through_the_slope() -> None:
    """u(T) at the slope α is worth |α|·u(T) of ln R; the slope by central differences."""
    hypothesis = family_of(10e3, 3977.0, "air")
    t, ln_r = np.array([[20.0]]), np.log([[12.6e3]])
    curve = hypothesis.curve
    slope = np.log(curve.resistance(20.001) / curve.resistance(19.999)) / 0.002
    by_t = compare(Readings(t, ln_r, np.zeros((1, 1)), np.full((1, 1), 0.3)), (hypothesis,))
    by_r = compare(Readings(t, ln_r, np.full((1, 1), abs(slope) * 0.3), np.zeros((1, 1))),
                   (hypothesis,))  # fmt: skip
    assert by_t.log_density[0, 0] == pytest.approx(by_r.log_density[0, 0], abs=1e-7)


# -- what a B value leaves open ----------------------------------------------------


def test_the_bend_leaves_r25_and_the_b_value_as_they_are() -> None:
    shape, _ = bend_shape(1.0 / (np.array([25.0, 85.0]) + 273.15), 85.0)
    np.testing.assert_allclose(shape, 0.0, atol=1e-18)


@given(st.floats(-20.0, 120.0))
def test_the_slope_of_the_bend_is_its_derivative(t_c: float) -> None:
    inv_t, step = 1.0 / (t_c + 273.15), 1e-7
    ends = [bend_shape(np.array(inv_t + sign * step), 85.0)[0] for sign in (1.0, -1.0)]
    slope = bend_shape(np.array(inv_t), 85.0)[1]
    assert float(slope) == pytest.approx(float(ends[0] - ends[1]) / (2.0 * step), abs=1e-9)


@pytest.mark.parametrize(
    "id", ["ntc-10k-3434", "ntc-33k-4544", "ntc-47k-4108", "ntc-100k-4311", "ntc-10k-3977"]
)
def test_real_materials_bend_as_is_taken(id: str) -> None:
    """κ of the published curves, at 0 to 70 °C, lies within one standard uncertainty."""
    curve = tf.family(id).curve
    t_c = np.array([0.0, 10.0, 40.0, 50.0, 60.0, 70.0])
    inv_t = 1.0 / (t_c + 273.15)
    b_k = curve.b_value(25.0, 85.0)
    left = np.log(curve.resistance(t_c) / curve.resistance(25.0)) - b_k * (inv_t - 1.0 / 298.15)
    kappa = left / (b_k * bend_shape(inv_t, 85.0)[0])
    assert (np.abs(kappa - BEND_K) < U_BEND_K).all()


@pytest.mark.parametrize("id", ["ntc-10k-3434", "ntc-33k-4544", "ntc-47k-4108", "ntc-100k-4311"])
def test_a_real_material_fits_a_family_that_states_its_b_value_only(id: str) -> None:
    """Read without error from 0 to 100 °C, with a bench's uncertainties; a line would not fit."""
    curve = tf.family(id).curve
    t_c = np.linspace(0.0, 100.0, 11)
    line = tf.Curve.beta(r25_ohm=curve.r25_ohm, b_k=curve.b_value(25.0, 85.0), id="only-b")
    readings = Readings(
        t_c[np.newaxis], np.log(curve.resistance(t_c))[np.newaxis],
        np.full((1, 11), 0.001), np.full((1, 11), 0.05),
    )  # fmt: skip
    arguments = {"tolerances": {}, "assumed_r25_pct": 1.0, "assumed_b_pct": 1.0,
                 "r25_range_ohm": None}  # fmt: skip
    open_bend, exact = (
        family_hypothesis(tf.Family(line, source_kind=kind), **arguments)  # type: ignore[arg-type]
        for kind in ("nominal", "coefficients")
    )
    found = compare(readings, (open_bend, exact, another_ntc((10.0, 10e6))))
    assert found.chi2[0, 0] < 11.0
    assert found.chi2[0, 1] > 50.0
    assert found.log_density[0, 0] > found.log_density[0, 2]


# -- what cannot be told apart ------------------------------------------------------


@pytest.mark.parametrize("region", [BOX, SLANTED], ids=["box", "slanted"])
def test_mean_and_covariance_are_those_of_an_even_spread(region: Region) -> None:
    mean, covariance = spread_of(region)
    if region is BOX:
        np.testing.assert_allclose(mean, [-0.01, -0.005], atol=1e-15)
        np.testing.assert_allclose(covariance, np.diag([0.08**2, 0.03**2]) / 12.0, atol=1e-15)
        return
    rng = np.random.default_rng(SEED)
    tried = rng.uniform(region.vertices.min(axis=0), region.vertices.max(axis=0), (400_000, 2))
    tried = tried[region.contains(*tried.T)]
    spread = np.sqrt(np.diag(covariance))
    np.testing.assert_allclose(mean / spread, tried.mean(axis=0) / spread, atol=0.02)
    np.testing.assert_allclose(np.cov(tried.T) / covariance, 1.0, atol=0.02)


@given(st.floats(3300.0, 4500.0), st.floats(3300.0, 4500.0))
@settings(max_examples=40)
def test_likeness_is_mutual_and_at_most_one(b_one: float, b_other: float) -> None:
    one, other = family_of(10e3, b_one, "one"), family_of(10e3, b_other, "other")
    plan = bench([0.0, 70.0])
    likeness = overlap(one, other, plan)
    assert likeness == pytest.approx(overlap(other, one, plan), rel=1e-9, abs=1e-12)
    assert 0.0 <= likeness <= 1.0 + 1e-9
    assert overlap(one, one, plan) == pytest.approx(1.0, rel=1e-9)


def test_likeness_of_one_reading_is_the_coefficient_of_two_normal_distributions() -> None:
    """Closed form for equal variances: exp(−(m1 − m2)²/(8·s²)), at 25 °C and hardly any noise."""
    one = family_of(10e3, 3977.0, "one", r25_tol_pct=5.0)
    other = family_of(10.2e3, 3977.0, "other", r25_tol_pct=5.0)
    width = np.log(1.05 / 0.95)
    expected = np.exp(-(np.log(1.02) ** 2) / (8.0 * width**2 / 12.0))
    found = overlap(one, other, bench([25.0], 0.0, 1e-5))
    assert found == pytest.approx(expected, rel=1e-4)


def test_groups_are_of_what_these_readings_or_no_readings_tell_apart() -> None:
    hypotheses = [
        family_of(10e3, 3977.0, "one"), family_of(10e3, 3978.0, "twin"),
        family_of(10e3, 3435.0, "other"), family_of(5e3, 3977.0, "small"),
    ]  # fmt: skip
    groups = alike_groups(
        hypotheses, np.array([0.4, 0.3, 0.2, 0.1]), bench([25.0]), bench([0.0, 35.0, 70.0])
    )
    assert [(group.ids, group.by) for group in groups] == [
        (("one", "twin"), "any reading in the range"),
        (("one", "twin", "other"), "these readings"),
    ]
    assert groups[0].probability == pytest.approx(0.7)
    assert 0.5 <= groups[0].right_at_best < 0.6


@given(st.floats(-0.1, 0.1), st.floats(-3.0, 1.0))
@example(0.01953125, -3.0)  # a limit near the peak
@settings(max_examples=50)
def test_a_normal_distribution_cut_off_has_the_moments_that_scipy_gives(
    middle: float, magnitude: float
) -> None:
    u = 10.0**magnitude
    ends = (-0.02 - middle) / u, (0.02 - middle) / u
    if max(ends[0], -ends[1]) > 5.0:
        return  # so far out that SciPy's variance is rounding
    mean, variance = cut_off(middle, u, -0.02, 0.02)
    expected = truncnorm(*ends, loc=middle, scale=u)
    assert mean == pytest.approx(expected.mean(), abs=1e-4)
    assert np.sqrt(variance) == pytest.approx(expected.std(), rel=2e-3)


def test_far_beyond_a_limit_what_is_left_is_exponential() -> None:
    """Mean and standard deviation of the excess: u²/distance, to first order."""
    mean, variance = cut_off(1.0, 0.001, -0.02, 0.02)
    scale = 0.001**2 / 0.98
    assert 0.02 - mean == pytest.approx(scale, rel=0.03)
    assert np.sqrt(variance) == pytest.approx(scale, rel=0.03)
