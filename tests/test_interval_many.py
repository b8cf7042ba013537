"""Many readings with their uncertainty at once: what each has by itself, and quickly."""

from __future__ import annotations

import tracemalloc
from fractions import Fraction
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats
from uncertainties import correlated_values, ufloat, umath

import thermofit as tf
from thermofit.equations.base import Array
from thermofit.errors import ExtrapolationError, ExtrapolationWarning, InputError
from thermofit.evaluation import BLOCK
from thermofit.interval import Interval, coverage_factor

# Invented: a sensor measured in a stirred bath from −20 to 100 °C, with scatter.
AT_C = np.linspace(-20.0, 100.0, 13)
SENSOR = tf.Curve.log_polynomial(
    r_ref_ohm=10e3, coefficients=[3.354016e-3, 2.56985e-4, 2.620131e-6, 6.383091e-8]
)
R_OHM = np.asarray(SENSOR.resistance(AT_C + np.random.default_rng(3).normal(0.0, 0.02, 13)))
EQUATIONS = ("log-polynomial-4", "steinhart-hart", "beta", "inverse-polynomial-4", "bent-beta-5")
KNOWN = {e: tf.fit(tf.Points(AT_C, R_OHM, u_t_k=0.02), equation=e).curve for e in EQUATIONS}
SCATTER = {e: tf.fit(tf.Points(AT_C, R_OHM), equation=e).curve for e in EQUATIONS}
CURVES = {f"{e}, {what}": curves[e] for what, curves in (("known", KNOWN), ("scatter", SCATTER))
          for e in EQUATIONS}  # fmt: skip
named = pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES)
# What the plain way, one by one, loses in rounding with the covariance of powers of ln R or 1/T
# that are not centred; the quick way is held to exact fractions below.
LOST = {"steinhart-hart": 1e-11, "inverse-polynomial-4": 1e-8}
FIELDS = ("value", "standard_uncertainty", "low", "high", "dof")


def readings(curve: tf.Curve, count: int) -> tuple[Array, Array, Array]:
    """Temperatures, and resistances with their standard uncertainty."""
    t_c = np.random.default_rng(5).uniform(-19.0, 99.0, count)
    r_ohm = np.asarray(curve.resistance(t_c))
    return t_c, r_ohm, r_ohm * np.linspace(1e-5, 1e-2, count)


def assert_alike(one: Interval, other: Interval, rtol: float = 1e-12) -> None:
    for name in FIELDS:
        ours, theirs = getattr(one, name), getattr(other, name)
        # Of temperatures in °C that come near nought, kelvins are what has digits.
        atol = 300.0 * rtol if name in ("value", "low", "high") else 0.0
        np.testing.assert_allclose(ours, theirs, rtol=rtol, atol=atol, err_msg=name)
    assert one.note == other.note


def one_by_one(call: Any, values: Array, u: Array | None, **how: Any) -> Interval:
    """Fifty at a time, which are not worth any preparation."""
    parts = [
        call(values[s : s + 50], None if u is None else u[s : s + 50], **how)
        for s in range(0, values.size, 50)
    ]
    joined = {name: np.concatenate([getattr(p, name) for p in parts]) for name in FIELDS}
    return Interval(**joined, coverage=parts[0].coverage, unit=parts[0].unit, note=parts[0].note)


# -- equal to one by one, and to others -----------------------------------------------


@named
@pytest.mark.parametrize("with_own", [False, True])
def test_many_readings_have_what_each_has(curve: tf.Curve, with_own: bool) -> None:
    t_c, r_ohm, u_r_ohm = readings(curve, 600)
    u_t_k = np.linspace(1e-3, 0.5, 600) if with_own else None
    u_ohm = u_r_ohm if with_own else None
    rtol = LOST.get(curve.equation.name, 1e-12)
    for call, values, u in ((curve.temperature_interval, r_ohm, u_ohm),
                            (curve.resistance_interval, t_c, u_t_k)):  # fmt: skip
        assert_alike(call(values, u), one_by_one(call, values, u), rtol)


@named
def test_all_of_these_curves_go_the_quick_way(curve: tf.Curve) -> None:
    assert curve._u_to_temperature is not None
    assert curve._u_to_resistance is not None


@pytest.mark.parametrize("equation", ["log-polynomial-4", "steinhart-hart"])
def test_temperatures_are_those_of_the_uncertainties_package(equation: str) -> None:
    curve = KNOWN[equation]
    assert curve.covariance is not None
    _, r_ohm, u_r_ohm = readings(curve, 400)
    ours = curve.temperature_interval(r_ohm, u_r_ohm)
    a = correlated_values(list(curve.coefficients.values()), curve.covariance)
    ref = curve.equation.settings.get("r_ref_ohm", 1.0)
    powers = (0, 1, 3) if equation == "steinhart-hart" else (0, 1, 2, 3)
    for place, (r, u) in enumerate(zip(r_ohm.tolist(), u_r_ohm.tolist(), strict=True)):
        x = umath.log(ufloat(r, u) / ref)
        t_k = 1.0 / sum(c * x**power for c, power in zip(a, powers, strict=True))
        assert ours.value[place] + 273.15 == pytest.approx(t_k.nominal_value, rel=1e-12)
        assert ours.standard_uncertainty[place] == pytest.approx(t_k.std_dev, rel=1e-9)


@named
def test_the_variance_is_the_quadratic_form_to_the_last_digits(curve: tf.Curve) -> None:
    """Against fractions, in which nothing is lost."""
    quick = curve._u_to_temperature
    assert quick is not None
    assert curve.covariance is not None
    scale = [Fraction(float(v)) for v in curve.equation.fitted_scale(curve._c)]
    for z in (-1.0, -0.4, 0.0, 0.3, 1.0):
        x = quick.middle + z / quick.scale
        power = Fraction(x) - Fraction(quick.evaluator.shift)
        size = len(scale)
        powers = (0, 1, 3) if curve.equation.name == "steinhart-hart" else range(size)
        g = [power**p for p in powers]
        exact = sum(
            g[i] * Fraction(float(curve.covariance[i, j])) / scale[i] / scale[j] * g[j]
            for i in range(size) for j in range(size)
        )  # fmt: skip
        assert np.polyval(quick.variance, z) == pytest.approx(float(exact), rel=1e-11)


@named
def test_intervals_are_those_of_student_with_effective_degrees_of_freedom(curve: tf.Curve) -> None:
    _, r_ohm, u_r_ohm = readings(curve, 500)
    for coverage in (0.5, 0.95, 0.999):
        found = curve.temperature_interval(r_ohm, u_r_ohm, coverage=coverage)
        half = coverage_factor(coverage, found.dof) * found.standard_uncertainty
        np.testing.assert_allclose(found.high - found.value, half, rtol=1e-9)
        np.testing.assert_allclose(found.value - found.low, half, rtol=1e-9)
        assert found.dof.min() >= curve.dof * (1.0 - 1e-12)


def test_few_degrees_of_freedom_and_high_coverage_are_exact_too() -> None:
    for dof in (0.6, 1.0, 2.0):
        curve = tf.Curve(SENSOR.equation, SENSOR.coefficients, -40.0, 125.0, dof=dof,
                         covariance=np.diag([1e-6, 1e-7, 1e-9, 1e-11]) ** 2)  # fmt: skip
        _, r_ohm, u_r_ohm = readings(curve, 400)
        many = curve.temperature_interval(r_ohm, u_r_ohm, coverage=0.9999)
        each = one_by_one(curve.temperature_interval, r_ohm, u_r_ohm, coverage=0.9999)
        assert_alike(many, each)


# -- laws -----------------------------------------------------------------------------


@settings(max_examples=30)
@given(st.sampled_from(list(CURVES)), st.floats(0.0, 0.02), st.floats(0.3, 0.95))
def test_more_doubt_makes_wider_intervals(name: str, share: float, coverage: float) -> None:
    curve = CURVES[name]
    r_ohm = readings(curve, 300)[1]
    narrow = curve.temperature_interval(r_ohm, share * r_ohm, coverage=coverage)
    doubtful = curve.temperature_interval(r_ohm, (share + 1e-3) * r_ohm, coverage=coverage)
    sure = curve.temperature_interval(r_ohm, share * r_ohm, coverage=0.5 + 0.5 * coverage)
    np.testing.assert_allclose(narrow.value, curve.temperature(r_ohm), rtol=0.0, atol=1e-10)
    assert (doubtful.standard_uncertainty > narrow.standard_uncertainty).all()
    assert (sure.low < narrow.low).all()
    assert (sure.high > narrow.high).all()


@named
def test_there_and_back_the_uncertainty_is_the_same(curve: tf.Curve) -> None:
    t_c, r_ohm, _ = readings(curve, 300)
    in_ohm = curve.resistance_interval(t_c).standard_uncertainty
    in_kelvin = curve.temperature_interval(r_ohm).standard_uncertainty
    slope = np.abs(curve.alpha(t_c)) * r_ohm
    np.testing.assert_allclose(in_ohm / slope, in_kelvin, rtol=1e-9)


def test_threads_give_the_same() -> None:
    curve = SCATTER["log-polynomial-4"]
    t_c, r_ohm, u_r_ohm = readings(curve, 3 * BLOCK + 11)
    for call, values, u in ((curve.temperature_interval, r_ohm, u_r_ohm),
                            (curve.resistance_interval, t_c, 0.1)):  # fmt: skip
        one, two = (call(values, u, workers=workers) for workers in (1, 2))
        for name in FIELDS:
            assert getattr(one, name).tobytes() == getattr(two, name).tobytes()
    with pytest.raises(InputError, match="workers"):
        curve.temperature_interval(r_ohm, workers=0)


# -- what is out of the ordinary ------------------------------------------------------


@named
def test_missing_readings_and_those_beyond_the_range_leave_the_others_alone(
    curve: tf.Curve,
) -> None:
    t_c, r_ohm, u_r_ohm = readings(curve, 2 * BLOCK)
    beyond = float(np.exp(curve._quiet_ln_r(110.0)))
    odd_r, odd_t = r_ohm.copy(), t_c.copy()
    odd_r[[3, 9]], odd_t[[3, 9]] = (np.nan, beyond), (np.nan, 110.0)
    for call, values, odd, u in ((curve.temperature_interval, r_ohm, odd_r, u_r_ohm),
                                 (curve.resistance_interval, t_c, odd_t, 0.1)):  # fmt: skip
        plain = call(values, u)
        with pytest.warns(ExtrapolationWarning, match="outside the curve's valid range"):
            found = call(odd, u)
        assert np.isnan([found.value[3], found.standard_uncertainty[3], found.low[3]]).all()
        assert np.isfinite([found.value[9], found.standard_uncertainty[9]]).all()
        others = np.delete(np.arange(values.size), [3, 9])
        for name in FIELDS:
            ours, theirs = getattr(found, name)[others], getattr(plain, name)[others]
            rtol = LOST.get(curve.equation.name, 1e-12)
            atol = 300.0 * rtol if name in ("value", "low", "high") else 0.0
            np.testing.assert_allclose(ours, theirs, rtol=rtol, atol=atol)
        with pytest.raises(ExtrapolationError):
            call(odd, u, strict=True)
    odd_r[5] = -1.0
    with pytest.raises(InputError, match="-1 Ω is no resistance"):
        curve.temperature_interval(odd_r)


def test_a_curve_without_covariance_says_that_nothing_is_known() -> None:
    r_ohm = readings(SENSOR, 400)[1]
    for u_r_ohm in (None, 0.01 * r_ohm):
        found = SENSOR.temperature_interval(r_ohm, u_r_ohm)
        assert np.isnan(found.standard_uncertainty).all()
        assert "no covariance" in found.note


def test_an_exact_curve_adds_nothing_to_the_reading() -> None:
    curve = SENSOR.replace(covariance=np.zeros((4, 4)), dof=5.0)
    _, r_ohm, u_r_ohm = readings(curve, 400)
    found = curve.temperature_interval(r_ohm, u_r_ohm)
    expected = np.abs(u_r_ohm / r_ohm / curve.alpha(found.value))
    np.testing.assert_allclose(found.standard_uncertainty, expected, rtol=1e-12)
    assert np.isposinf(found.dof).all()
    assert (curve.temperature_interval(r_ohm).standard_uncertainty == 0.0).all()


def test_a_covariance_whose_digits_are_lost_is_unknown_and_not_nought() -> None:
    """Negative along the curve, as one becomes that was copied by hand."""
    curve = tf.Curve.beta(
        r25_ohm=10e3, b_k=3977.0, t_range_c=(0.0, 50.0),
        covariance=[[1e4, 1.0000000005e3], [1.0000000005e3, 1e2]],
    )  # fmt: skip
    t_c = 1.0 / (1.0 / 298.15 - 1e-5 * np.linspace(0.1, 19.0, 400)) - 273.15
    many = curve.resistance_interval(t_c)
    each = one_by_one(curve.resistance_interval, t_c, None)
    assert (
        np.isnan(many.standard_uncertainty).tolist() == np.isnan(each.standard_uncertainty).tolist()
    )


def test_results_are_dressed_as_the_readings_are() -> None:
    curve = SCATTER["steinhart-hart"]
    _, r_ohm, u_r_ohm = readings(curve, 400)
    series = pd.Series(r_ohm, index=np.arange(400) * 2, name="inlet")
    found = curve.temperature_interval(series, pd.Series(u_r_ohm, index=series.index))
    for name in FIELDS:
        assert getattr(found, name).index.equals(series.index)
    assert found.to_frame().index.equals(series.index)
    square = curve.temperature_interval(r_ohm.reshape(20, 20), u_r_ohm.reshape(20, 20))
    np.testing.assert_array_equal(square.high.ravel(), found.high)
    assert curve.temperature_interval(r_ohm.reshape(20, 20), 1.0).dof.shape == (20, 20)
    assert isinstance(curve.temperature_interval(10e3, 1.0).dof, float)


@pytest.mark.parametrize("name", ["log-polynomial-4, scatter", "inverse-polynomial-4, known"])
def test_a_long_array_takes_little_memory_beyond_its_results(name: str) -> None:
    curve = CURVES[name]
    _, r_ohm, u_r_ohm = readings(curve, 500_000)
    curve.temperature_interval(r_ohm[:400], u_r_ohm[:400])
    tracemalloc.start()
    found = curve.temperature_interval(r_ohm, u_r_ohm)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    results = 5 if np.isfinite(found.dof).all() else 4
    assert peak < results * r_ohm.nbytes + 3 * 2**20


@pytest.mark.parametrize("count", [1, 1000, 100_000])
def test_missing_readings_do_not_say_that_the_curve_has_no_covariance(count: int) -> None:
    nothing = np.full(count, np.nan)
    known = CURVES["log-polynomial-4, known"]
    assert "no covariance" not in known.temperature_interval(nothing, 1.0).note
    assert "no covariance" not in known.temperature_interval(nothing).note
    mixed = np.append(nothing, 10e3)
    assert "no covariance" not in known.temperature_interval(mixed).note
    assert "no covariance" in known.replace(covariance=None).temperature_interval(mixed).note


@pytest.mark.parametrize("dof", [np.inf, 3.0])
def test_the_highest_coverage_below_one_has_a_factor(dof: float) -> None:
    nearly = float(np.nextafter(1.0, 0.0))
    factor = coverage_factor(nearly, dof)
    # The tail on either side is 2^-54 (definition of the float after 1).
    assert np.isfinite(factor)
    assert float(stats.t(dof).sf(factor)) == pytest.approx(2.0**-54, rel=1e-9)
