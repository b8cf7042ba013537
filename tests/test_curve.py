"""A curve in use: kinds of input, range, B value, uncertainty, and bad numbers."""

from __future__ import annotations

import copy
import pickle
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.errors import ExtrapolationError, ExtrapolationWarning, InputError, NotMonotoneError

CURVE = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
WITH_COVARIANCE = tf.Curve.beta(
    r25_ohm=10e3, b_k=3977.0, covariance=[[400.0, -30.0], [-30.0, 25.0]]
)


def test_series_keep_their_index_and_frames_their_labels() -> None:
    readings = pd.Series([32e3, 10e3, 4e3], index=["a", "b", "c"], name="r_ohm")
    t_c = CURVE.temperature(readings)
    assert isinstance(t_c, pd.Series)
    assert list(t_c.index) == ["a", "b", "c"]
    assert t_c["b"] == pytest.approx(25.0)
    frame = pd.DataFrame({"inlet": [32e3, 10e3], "outlet": [4e3, 5e3]}, index=[7, 9])
    converted = CURVE.temperature(frame)
    assert list(converted.columns) == ["inlet", "outlet"]
    assert list(converted.index) == [7, 9]


def test_missing_readings_stay_missing() -> None:
    t_c = CURVE.temperature([10e3, float("nan")])
    assert t_c[0] == pytest.approx(25.0)
    assert np.isnan(t_c[1])
    nullable = pd.Series([10e3, None], dtype="Float64")
    assert np.isnan(CURVE.temperature(nullable).iloc[1])


@pytest.mark.parametrize("r_ohm", [0.0, -5.0, float("inf"), [10e3, -1.0]])
def test_open_and_short_are_not_temperatures(r_ohm: object) -> None:
    with pytest.raises(InputError, match="positive and finite"):
        CURVE.temperature(r_ohm)  # type: ignore[call-overload]


def test_nothing_is_colder_than_absolute_zero() -> None:
    with pytest.raises(InputError, match="absolute zero"):
        CURVE.resistance(-273.15)


@pytest.mark.parametrize("value", ["warm", [1, "x"], 1j])
def test_what_is_no_number_is_named(value: object) -> None:
    with pytest.raises(InputError, match="must be numbers"):
        CURVE.resistance(value)  # type: ignore[call-overload]


def test_outside_the_range_is_a_warning_and_with_strict_an_error() -> None:
    with pytest.warns(ExtrapolationWarning, match=r"130 °C and 1 more are outside.*-40 to 125 °C"):
        CURVE.resistance([130.0, -50.0, 20.0])
    with pytest.raises(ExtrapolationError, match="150 °C is outside"):
        CURVE.resistance(150.0, strict=True)
    with pytest.raises(ExtrapolationError, match=r"1\.0000 MΩ is outside"):
        CURVE.temperature(1e6, strict=True)
    assert CURVE.resistance([-40.0, 125.0], strict=True).shape == (2,)


@given(st.floats(-40.0, 125.0), st.floats(1.0, 60.0))
def test_ends_of_the_range_are_inside_it(low: float, width: float) -> None:
    curve = tf.Curve.steinhart_hart(a=1.132e-3, b=2.334e-4, c=9.21e-8, t_range_c=(low, low + width))
    ends = curve.resistance([low, low + width], strict=True)
    curve.temperature(ends, strict=True)


def test_a_range_that_nobody_stated_says_so() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    assert (curve.t_min_c, curve.t_max_c, curve.range_basis) == (-40.0, 125.0, "assumed")
    assert "assumed" in repr(curve)
    with pytest.warns(ExtrapolationWarning, match="assumed"):
        curve.resistance(200.0)


@given(st.floats(-40.0, 124.0), st.floats(-40.0, 124.0))
def test_b_value_of_a_constant_b_curve_is_its_b(t1_c: float, t2_c: float) -> None:
    if abs(t1_c - t2_c) > 0.1:
        assert CURVE.b_value(t1_c, t2_c) == pytest.approx(3977.0, rel=1e-9)
        assert CURVE.b_value(t2_c, t1_c) == pytest.approx(CURVE.b_value(t1_c, t2_c), rel=1e-12)


def test_b_value_needs_two_temperatures() -> None:
    with pytest.raises(InputError, match="two different"):
        CURVE.b_value(25, 25)


# α = −B/T² for a constant-B curve (IEC 60539-1, from the definition of B).
@given(st.floats(-40.0, 125.0))
def test_alpha_of_a_constant_b_curve(t_c: float) -> None:
    assert CURVE.alpha(t_c) == pytest.approx(-3977.0 / (t_c + 273.15) ** 2, rel=1e-12)


@given(st.floats(-39.0, 124.0))
def test_alpha_is_the_slope_of_ln_r(t_c: float) -> None:
    curve = tf.Curve.steinhart_hart(a=1.132e-3, b=2.334e-4, c=9.21e-8)
    pair = np.log(curve.resistance([t_c - 0.01, t_c + 0.01]))
    assert curve.alpha(t_c) == pytest.approx((pair[1] - pair[0]) / 0.02, rel=1e-7)


@pytest.mark.parametrize(
    ("numbers", "complaint"),
    [
        ({"r25_ohm": -10e3, "b_k": 3977}, "r25_ohm must be positive"),
        ({"r25_ohm": 10e3, "b_k": float("nan")}, "b_k must be finite"),
        ({"r25_ohm": 10e3, "b_k": 3977, "t_range_c": (50, 10)}, "from a lower to a higher"),
        ({"r25_ohm": 10e3, "b_k": 3977, "t_range_c": (-300, 10)}, "absolute zero"),
        ({"r25_ohm": 10e3, "b_k": 3977, "covariance": [[1.0]]}, r"shape \(2, 2\)"),
        ({"r25_ohm": 10e3, "b_k": 3977, "covariance": [[1, 2], [3, 9]]}, "symmetric"),
        ({"r25_ohm": 10e3, "b_k": 3977, "covariance": [[-1, 0], [0, 1]]}, "diagonal"),
        ({"r25_ohm": 10e3, "b_k": 3977, "covariance": [[1, 2], [2, 1]]}, "correlation"),
        ({"r25_ohm": 10e3, "b_k": 3977, "dof": 0}, "degrees of freedom"),
    ],
)
def test_unusable_numbers_are_refused_by_name(numbers: dict[str, object], complaint: str) -> None:
    with pytest.raises(InputError, match=complaint):
        tf.Curve.beta(**numbers)  # type: ignore[arg-type]


def test_a_resistance_that_rises_is_no_ntc() -> None:
    with pytest.raises(NotMonotoneError, match="signs"):
        tf.Curve.beta(r25_ohm=10e3, b_k=-3977)


def test_the_wrong_count_of_coefficients_names_those_there_are() -> None:
    with pytest.raises(InputError, match=r"3 coefficients \(a, b, c\), not 2"):
        tf.Curve(tf.Curve.steinhart_hart(a=1e-3, b=2e-4, c=1e-7).equation, [1.0, 2.0])


# JCGM 100, 5.2: the uncertainty of ln R = ln R25 + B·u, propagated by hand.
@given(st.floats(-40.0, 125.0))
def test_uncertainty_of_a_constant_b_curve_is_propagated_with_its_covariance(t_c: float) -> None:
    u_axis = 1.0 / (t_c + 273.15) - 1.0 / 298.15
    variance = 400.0 / 10e3**2 + 2.0 * u_axis * -30.0 / 10e3 + 25.0 * u_axis**2
    r_ohm = WITH_COVARIANCE.resistance(t_c)
    by_resistance = WITH_COVARIANCE.resistance_interval(t_c)
    assert by_resistance.standard_uncertainty == pytest.approx(r_ohm * variance**0.5, rel=1e-9)
    by_temperature = WITH_COVARIANCE.temperature_interval(r_ohm)
    kelvin = variance**0.5 / abs(WITH_COVARIANCE.alpha(t_c))
    assert by_temperature.standard_uncertainty == pytest.approx(kelvin, rel=1e-6)
    assert by_temperature.low < t_c < by_temperature.high


def test_a_reading_adds_its_own_uncertainty_and_the_note_says_what_is_meant() -> None:
    curve_only = WITH_COVARIANCE.temperature_interval(10e3)
    reading = WITH_COVARIANCE.temperature_interval(10e3, 50.0)
    own = 50.0 / 10e3 / abs(WITH_COVARIANCE.alpha(25.0))
    assert "curve only" in curve_only.note
    assert "reading" in reading.note
    expected = np.hypot(curve_only.standard_uncertainty, own)
    assert reading.standard_uncertainty == pytest.approx(expected, rel=1e-9)


def test_without_covariance_the_uncertainty_is_unknown_and_not_zero() -> None:
    interval = CURVE.temperature_interval(10e3, 50.0)
    assert np.isnan(interval.standard_uncertainty)
    assert np.isnan(interval.low)
    assert "unknown" in interval.note


@pytest.mark.parametrize("u", [-1.0, float("nan"), [1.0, 2.0, 3.0]])
def test_unusable_uncertainties_are_refused(u: object) -> None:
    with pytest.raises(InputError, match="u_r_ohm"):
        WITH_COVARIANCE.temperature_interval([10e3, 20e3], u)


def test_intervals_keep_shape_and_index() -> None:
    readings = pd.Series([32e3, 10e3], index=["a", "b"])
    interval = WITH_COVARIANCE.temperature_interval(readings, 10.0)
    assert list(interval.high.index) == ["a", "b"]
    frame = interval.to_frame()
    assert list(frame.columns) == ["value", "standard_uncertainty", "low", "high"]
    assert list(frame.index) == ["a", "b"]
    assert WITH_COVARIANCE.temperature_interval(np.full((2, 3), 10e3)).low.shape == (2, 3)


def test_curves_are_values() -> None:
    same = pickle.loads(pickle.dumps(WITH_COVARIANCE))
    assert same == WITH_COVARIANCE
    assert hash(same) == hash(WITH_COVARIANCE)
    assert copy.deepcopy(WITH_COVARIANCE) == WITH_COVARIANCE
    for again in (same, copy.copy(same), copy.deepcopy(same)):
        assert again.temperature(12e3) == WITH_COVARIANCE.temperature(12e3)
        assert again.alpha([0.0, 60.0]).tolist() == WITH_COVARIANCE.alpha([0.0, 60.0]).tolist()
    assert WITH_COVARIANCE.replace(id="x") != WITH_COVARIANCE
    assert WITH_COVARIANCE != "a curve"
    with pytest.raises(AttributeError):
        WITH_COVARIANCE.t_min_c = 0.0  # type: ignore[misc]
    assert WITH_COVARIANCE.covariance is not None
    with pytest.raises(ValueError, match="read-only"):
        WITH_COVARIANCE.covariance[0, 0] = 1.0


def test_coefficients_go_by_name_and_by_place() -> None:
    c = CURVE.coefficients
    assert (c["b_k"], c[1], dict(c)) == (3977.0, 3977.0, {"r25_ohm": 10e3, "b_k": 3977.0})
    assert np.asarray(c).tolist() == [10e3, 3977.0]
    with pytest.raises(KeyError, match="r25_ohm, b_k"):
        c["beta"]


@given(st.permutations([(0.0, 27219.0), (25.0, 10000.0), (50.0, 4161.0), (85.0, 1452.0)]))
def test_rows_of_a_table_may_come_in_any_order(rows: list[tuple[float, float]]) -> None:
    t_c, r_ohm = zip(*rows, strict=True)
    assert tf.Curve.from_table(t_c, r_ohm) == tf.Curve.from_table(
        [0.0, 25.0, 50.0, 85.0], [27219.0, 10000.0, 4161.0, 1452.0]
    )


def test_uncertainty_of_steinhart_hart_is_what_moving_its_coefficients_gives() -> None:
    """Against draws of the coefficients from their covariance (JCGM 101)."""
    c = np.array([1.132e-3, 2.334e-4, 9.21e-8])
    u = np.array([2e-6, 3e-7, 1e-9])
    correlation = np.array([[1.0, -0.9, 0.7], [-0.9, 1.0, -0.8], [0.7, -0.8, 1.0]])
    covariance = correlation * np.outer(u, u)
    curve = tf.Curve.steinhart_hart(a=c[0], b=c[1], c=c[2], covariance=covariance)
    drawn = np.random.default_rng(2).multivariate_normal(c, covariance, 200_000)
    ln_r = np.log(10e3)
    t_c = 1.0 / (drawn @ [1.0, ln_r, ln_r**3]) - 273.15
    stated = curve.temperature_interval(10e3).standard_uncertainty
    # Relative standard deviation of a standard deviation: 1/sqrt(2n), five times.
    assert t_c.std() == pytest.approx(stated, rel=5.0 / np.sqrt(400_000))


def test_only_numbers_are_numbers() -> None:
    masked = np.ma.masked_array([10e3, 5e3], mask=[False, True])
    t_c = CURVE.temperature(masked)
    assert t_c[0] == pytest.approx(25.0)
    assert np.isnan(t_c[1])
    wrong_ones: list[Any] = [
        "25", ["10000"], None, [True], np.array(["2020-01-01"], "datetime64[D]"),
    ]  # fmt: skip
    for wrong in wrong_ones:
        with pytest.raises(InputError, match="must be numbers"):
            CURVE.temperature(wrong)
    with pytest.raises(InputError, match="must be numbers"):
        CURVE.temperature(pd.Series(["abc"]))
    with pytest.raises(InputError, match="must be numbers"):
        CURVE.temperature(pd.Series(pd.to_datetime(["2020-01-01"])))
    assert CURVE.temperature(np.float32(10e3)) == pytest.approx(25.0)
    assert CURVE.temperature([10_000]).tolist() == pytest.approx([25.0])


def test_values_and_uncertainties_are_matched_by_index_or_refused() -> None:
    r_ohm = pd.Series([10e3, 20e3], index=["a", "b"])
    u_r_ohm = pd.Series([10.0, 20.0], index=["b", "a"])
    with pytest.raises(InputError, match="different indexes"):
        WITH_COVARIANCE.temperature_interval(r_ohm, u_r_ohm)
    with pytest.raises(InputError, match="does not go with"):
        WITH_COVARIANCE.temperature_interval(10e3, [1.0, 2.0, 3.0])
    frame = pd.DataFrame({"in": [10e3, 20e3], "out": [5e3, 6e3]})
    assert len(WITH_COVARIANCE.temperature_interval(frame).to_frame()) == 4


def test_looking_at_a_curve_leaves_warnings_alone() -> None:
    """The B value of a curve that does not reach 25 °C is asked for without touching filters."""
    import warnings

    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(30, 60))
    before = list(warnings.filters)
    assert curve.b_25_85_k == pytest.approx(3977.0)
    assert list(warnings.filters) == before


def test_a_fitted_range_has_half_a_percent_of_slack_and_a_stated_one_none() -> None:
    equation, numbers = CURVE.equation, [10e3, 3977.0]
    fitted = tf.Curve(equation, numbers, 0.0, 100.0, range_basis="data")
    stated = tf.Curve(equation, numbers, 0.0, 100.0)
    assert fitted.in_range([-0.51, -0.49, 100.49, 100.51]).tolist() == [False, True, True, False]
    assert stated.in_range([-0.01, 0.0, 100.0, 100.01]).tolist() == [False, True, True, False]
    assert fitted.resistance(100.49, strict=True) > 0.0


def test_ranges_may_be_arrays_and_may_be_replaced() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=np.array([0.0, 60.0]))  # type: ignore[arg-type]
    assert curve.replace(t_range_c=(10.0, 20.0)).t_max_c == 20.0


def test_coefficients_are_values_too() -> None:
    c = CURVE.coefficients
    assert c == {"r25_ohm": 10e3, "b_k": 3977.0}
    assert "b_k" in c
    assert 0 not in c  # type: ignore[comparison-overlap]
    again = pickle.loads(pickle.dumps(c))
    assert again == c
    with pytest.raises(ValueError, match="read-only"):
        np.asarray(again)[0] = 1.0
