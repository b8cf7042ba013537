"""Quick evaluation gives what the plain way gives, for one number and for millions."""

from __future__ import annotations

import tracemalloc

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit import evaluation
from thermofit.equations import (
    BentBeta,
    Beta,
    Equation,
    InversePolynomial,
    LogPolynomial,
    SteinhartHart,
)
from thermofit.equations.base import Array

CURVES = {
    form.name: tf.Curve(form, numbers, -40.0, 125.0)
    for form, numbers in (
        (Beta(), [10e3, 3977.0]),
        (SteinhartHart(), [1.132e-3, 2.334e-4, 9.21e-8]),
        (LogPolynomial(4, 10e3), [3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8]),
        (InversePolynomial(4, 10e3), [-14.6337, 4791.842, -115334.0, -3.730535e6]),
        (BentBeta(6), [10e3, 3892.0, -1.5e5, -3.7e6, 1e10, -1e13]),
    )
}
named = pytest.mark.parametrize("curve", CURVES.values(), ids=CURVES)

# The longest there are: of curves that take one work array.
BLOCK = 4 * evaluation.BLOCK


def plainly_ohm(curve: tf.Curve, t_c: Array) -> Array:
    return np.exp(curve._ln_r(1.0 / (t_c + 273.15)))


def plainly_c(curve: tf.Curve, r_ohm: Array) -> Array:
    result: Array = 1.0 / curve._inv_t(np.log(r_ohm)) - 273.15
    return result


@named
def test_long_arrays_agree_with_the_equation(curve: tf.Curve) -> None:
    t_c = np.random.default_rng(1).uniform(-40.0, 125.0, 3 * BLOCK + 17)
    r_ohm = curve.resistance(t_c)
    np.testing.assert_allclose(r_ohm, plainly_ohm(curve, t_c), rtol=3e-14)
    np.testing.assert_allclose(curve.temperature(r_ohm), plainly_c(curve, r_ohm), atol=5e-12)
    np.testing.assert_allclose(curve.temperature(r_ohm), t_c, rtol=0.0, atol=1e-10)


@named
@given(t_c=st.floats(-40.0, 125.0))
def test_one_number_agrees_with_an_array(curve: tf.Curve, t_c: float) -> None:
    r_ohm = curve.resistance(t_c)
    assert isinstance(r_ohm, float)
    assert r_ohm == pytest.approx(float(plainly_ohm(curve, np.array(t_c))), rel=3e-14)
    found = curve.temperature(r_ohm)
    assert isinstance(found, float)
    assert found == pytest.approx(t_c, rel=0.0, abs=1e-9)
    assert found == pytest.approx(float(plainly_c(curve, np.array(r_ohm))), rel=0.0, abs=5e-12)


@named
@pytest.mark.parametrize("workers", [2, 3, -1])
def test_the_number_of_threads_does_not_matter(curve: tf.Curve, workers: int) -> None:
    r_ohm = curve.resistance(np.linspace(-40.0, 125.0, 5 * BLOCK + 1))[::-1]
    alone = curve.temperature(r_ohm)
    np.testing.assert_array_equal(curve.temperature(r_ohm, workers=workers), alone)


@named
def test_what_is_outside_is_reported_once(curve: tf.Curve) -> None:
    t_c = np.full(4 * BLOCK, 25.0)
    t_c[BLOCK + 3], t_c[3 * BLOCK] = 130.0, -45.0
    with pytest.warns(tf.ExtrapolationWarning, match="^130 °C and 1 more are outside") as told:
        r_ohm = curve.resistance(t_c, workers=2)
    assert len(told) == 1
    assert told[0].filename == __file__
    with pytest.warns(tf.ExtrapolationWarning, match="and 1 more are outside"):
        back = curve.temperature(r_ohm)
    np.testing.assert_allclose(back, t_c, rtol=0.0, atol=1e-9)
    with pytest.raises(tf.ExtrapolationError, match="130 °C is outside"):
        curve.resistance(t_c, strict=True)


@named
def test_missing_readings_stay_missing(curve: tf.Curve) -> None:
    r_ohm = curve.resistance(np.linspace(-40.0, 125.0, 3 * BLOCK))
    r_ohm[[0, BLOCK + 5, -1]] = np.nan
    t_c = curve.temperature(r_ohm)
    np.testing.assert_array_equal(np.isnan(t_c), np.isnan(r_ohm))


@named
@pytest.mark.parametrize("bad", [0.0, -1.0, np.inf])
def test_an_open_or_short_sensor_deep_in_an_array_is_found(curve: tf.Curve, bad: float) -> None:
    r_ohm = np.full(3 * BLOCK, 10e3)
    r_ohm[2 * BLOCK + 9] = bad
    with pytest.raises(tf.InputError, match="is no resistance of a sensor"):
        curve.temperature(r_ohm)


@named
def test_results_go_where_they_are_asked_for(curve: tf.Curve) -> None:
    r_ohm = curve.resistance(np.linspace(-40.0, 125.0, 2 * BLOCK)).reshape(2, -1)
    place = np.full(r_ohm.shape, np.nan)
    assert curve.temperature(r_ohm, out=place) is place
    np.testing.assert_array_equal(place, curve.temperature(r_ohm))
    spread = curve.temperature(np.asfortranarray(r_ohm))
    np.testing.assert_array_equal(spread, place)


@pytest.mark.parametrize(
    ("out", "told"),
    [
        (np.empty(3), r"of shape \(2,\)"),
        (np.empty(2, dtype=np.float32), "float32"),
        ([0.0, 0.0], "list"),
        (np.empty(4)[::2], "contiguous"),
    ],
)
def test_a_place_that_does_not_fit_is_refused(out: object, told: str) -> None:
    with pytest.raises(tf.InputError, match=told):
        CURVES["beta"].temperature([9e3, 10e3], out=out)  # type: ignore[call-overload]


@pytest.mark.parametrize("workers", [0, -2, 1.5, True])
def test_no_threads_are_refused(workers: object) -> None:
    with pytest.raises(tf.InputError, match="workers must be a number of threads"):
        CURVES["beta"].temperature([9e3, 10e3], workers=workers)  # type: ignore[call-overload]


def test_a_long_array_needs_little_memory_beside_its_result() -> None:
    curve = CURVES["log-polynomial-4"]
    r_ohm = curve.resistance(np.linspace(-40.0, 125.0, 1_000_000))
    place = np.empty_like(r_ohm)
    curve.temperature(r_ohm[:1000])
    tracemalloc.start()
    curve.temperature(r_ohm, out=place)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2 * 2**20


def test_an_equation_with_a_value_of_its_own_is_not_taken_for_its_parent() -> None:
    class Shifted(Beta):
        def value(self, x: Array, c: Array) -> Array:
            return np.asarray(Beta.value(self, x, c) + 0.1)

        def inverse(self, y: Array, c: Array) -> Array | None:  # type: ignore[override]
            del y, c
            return None

    form: Equation = Shifted()
    curve = tf.Curve(form, [10e3, 3977.0], -40.0, 125.0)
    assert curve.resistance(25.0) == pytest.approx(10e3 * np.exp(0.1))
    assert curve.temperature(curve.resistance(60.0)) == pytest.approx(60.0, abs=1e-9)


@pytest.mark.parametrize("workers", [1, 2])
def test_results_may_take_the_place_of_the_readings_or_of_a_part_of_them(workers: int) -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
    r_ohm = np.geomspace(2e3, 20e3, 200_001)
    t_c = curve.temperature(r_ohm.copy())
    for read, written in (
        (slice(None), slice(None)),
        (slice(None, -1), slice(1, None)),
        (slice(1, None), slice(None, -1)),
    ):
        place = r_ohm.copy()
        curve.temperature(place[read], out=place[written], workers=workers)
        np.testing.assert_array_equal(place[written], t_c[read])


def test_readings_in_their_own_place_are_warned_of_as_readings() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(0.0, 60.0))
    r_ohm = np.array([10e3, 700.0])
    with pytest.warns(tf.ExtrapolationWarning, match=r"700\.00 Ω is outside"):
        curve.temperature(r_ohm, out=r_ohm)
    untouched = np.array([10e3, 700.0])
    with pytest.raises(tf.ExtrapolationError, match=r"700\.00 Ω"):
        curve.temperature(untouched, out=untouched, strict=True)
    assert untouched.tolist() == [10e3, 700.0]
