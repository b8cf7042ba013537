"""Step responses: the numbers are those of the sensor, the uncertainties are honest."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.thermal_logs import T_C, T_S, log_of, quietly, sensor, sleeve, times, two_parts
from thermofit.errors import InputError, ThermofitWarning
from thermofit.thermal import StepLog, fit_step

FEW = settings(max_examples=6)


# -- values -------------------------------------------------------------------------


@pytest.mark.parametrize("step_k", [9.0, -4.0, 0.3])
@pytest.mark.parametrize("tau_s", [6.0, 20.0, 37.0])
def test_a_log_without_noise_gives_the_sensor_back(tau_s: float, step_k: float) -> None:
    t_s = times(np.random.default_rng(1), 80, 3.0)
    r = fit_step(t_s, sensor(t_s, tau_s, 50.0, 22.0, step_k), step_s=48.5)
    assert r.form == "one constant" and r.start_seen
    assert r.tau_s == pytest.approx(tau_s, rel=1e-6)
    assert r.time_constants_s == pytest.approx([tau_s], rel=1e-6)
    assert (r.start_c, r.final_c) == pytest.approx((22.0, 22.0 + step_k), abs=1e-6)
    assert (r.onset_s, r.dead_time_s) == pytest.approx((50.0, 1.5), abs=1e-5)
    assert not r.warnings


def test_a_sleeve_without_noise_gives_both_constants_back() -> None:
    t_s = times(np.random.default_rng(1), 80, 3.0)
    r = fit_step(t_s, sleeve(t_s, 25.0, 8.0, 50.0))
    assert r.form == "lag"
    assert r.time_constants_s == pytest.approx([25.0, 8.0], rel=1e-6)
    # After the time to 63.2 % the truth is there, whatever the constants are.
    at = sleeve(np.array([50.0 + r.tau_s]), 25.0, 8.0, 50.0)
    assert at[0] == pytest.approx(32.0 - 10.0 / math.e, abs=1e-6)
    assert r.temperature(r.onset_s + r.tau_s) == pytest.approx(at[0], abs=1e-6)


def test_a_quick_part_and_a_slow_part_without_noise_come_back() -> None:
    t_s = times(np.random.default_rng(1), 120, 2.0)
    r = fit_step(t_s, two_parts(t_s, 40.0, 6.0, 0.35))
    assert r.form == "two constants"
    assert r.time_constants_s == pytest.approx([40.0, 6.0], rel=1e-6)
    assert r.fit.parameters[-1] == pytest.approx(0.35, rel=1e-5)
    assert two_parts(np.array([40.0 + r.tau_s]), 40.0, 6.0, 0.35)[0] == pytest.approx(
        32.0 - 10.0 / math.e, abs=1e-6
    )


def test_a_log_that_begins_after_the_step_still_gives_the_constant() -> None:
    t_s = times(np.random.default_rng(2), 40, 3.0)
    with pytest.warns(ThermofitWarning, match="start of the step was not seen"):
        r = fit_step(t_s, sensor(t_s, 20.0, -5.0, 22.0, 9.0))
    assert not r.start_seen and np.isnan(r.onset_s)
    assert r.tau_s == pytest.approx(20.0, rel=1e-6)
    assert r.final_c == pytest.approx(31.0, abs=1e-6)
    assert "onset_s" not in r.intervals()


def test_one_reading_before_the_step_does_not_show_the_start() -> None:
    t_s = np.arange(0.0, 120.0, 3.0)
    r = quietly(t_s, sensor(t_s, 20.0, 1.0, 22.0, 9.0))
    assert not r.start_seen
    assert quietly(t_s, sensor(t_s, 20.0, 4.0, 22.0, 9.0)).start_seen


def test_values_and_uncertainties_are_those_of_ordinary_least_squares() -> None:
    """On clean noise, scipy's own least squares of the same form agrees."""
    from scipy.optimize import curve_fit

    t_s, t_c = log_of(5, count=150)
    r = fit_step(t_s, t_c)
    p, covariance = curve_fit(sensor, t_s, t_c, p0=[15.0, 40.0, 22.0, 9.0])
    u = np.sqrt(np.diag(covariance))
    # A biweight is 95 % as efficient, and weighs a few readings down: near, not the same.  Least
    # squares takes the readings after the onset for known, which makes it look better known.
    for name, value, u_value in zip(("tau_s", "onset_s", "start_c", "step_k"), p, u, strict=True):
        interval = r.interval(name)
        assert abs(interval.value - value) < 0.5 * u_value
        least, most = (1.05, 1.25) if name == "onset_s" else (0.93, 1.10)
        assert least * u_value < interval.standard_uncertainty < most * u_value


def test_interval_of_tau_is_that_of_its_logarithm() -> None:
    r = fit_step(*log_of(6, noise_k=0.5))
    interval = r.interval("tau_s", coverage=0.95)
    from scipy.stats import t as student

    k = student.ppf(0.975, r.dof) * interval.standard_uncertainty / interval.value
    assert interval.low == pytest.approx(interval.value * np.exp(-k))
    assert interval.high == pytest.approx(interval.value * np.exp(k))
    wider = r.interval("tau_s", coverage=0.99)
    assert wider.low < interval.low and wider.high > interval.high


def test_response_time_of_one_constant_is_a_multiple_of_it() -> None:
    r = fit_step(*log_of(7))
    ninety = r.response_time(0.9)
    assert ninety.value == pytest.approx(r.tau_s * np.log(10.0))
    assert ninety.standard_uncertainty == pytest.approx(r.u_tau_s * np.log(10.0))
    assert r.response_time().value == pytest.approx(r.tau_s)


# -- laws ---------------------------------------------------------------------------


@FEW
@given(st.integers(0, 10_000), st.floats(-1e5, 1e5), st.floats(-60.0, 60.0))
def test_another_clock_and_another_zero_leave_the_time_constant(
    seed: int, later_s: float, warmer_k: float
) -> None:
    t_s, t_c = log_of(seed)
    one, other = quietly(t_s, t_c), quietly(t_s + later_s, t_c + warmer_k)
    assert other.tau_s == pytest.approx(one.tau_s, rel=1e-5)
    assert other.u_tau_s == pytest.approx(one.u_tau_s, rel=1e-3)
    assert other.onset_s == pytest.approx(one.onset_s + later_s, abs=1e-3)
    assert other.start_c == pytest.approx(one.start_c + warmer_k, abs=1e-4)


@FEW
@given(st.integers(0, 10_000), st.floats(1e-3, 1e3))
def test_a_slower_clock_scales_all_times(seed: int, factor: float) -> None:
    t_s, t_c = log_of(seed)
    one, other = quietly(t_s, t_c), quietly(t_s * factor, t_c)
    assert other.tau_s == pytest.approx(one.tau_s * factor, rel=1e-5)
    assert other.u_tau_s == pytest.approx(one.u_tau_s * factor, rel=1e-3)
    assert other.onset_s == pytest.approx(one.onset_s * factor, rel=1e-5)


@FEW
@given(st.integers(0, 10_000), st.floats(-8.0, 8.0).filter(lambda k: abs(k) > 0.01))
def test_a_larger_or_a_mirrored_step_has_the_same_time_constant(seed: int, factor: float) -> None:
    t_s, t_c = log_of(seed)
    one, other = quietly(t_s, t_c), quietly(t_s, 20.0 + factor * (t_c - 20.0))
    assert other.tau_s == pytest.approx(one.tau_s, rel=1e-5)
    assert other.step_k == pytest.approx(one.step_k * factor, rel=1e-5)
    assert other.noise_k == pytest.approx(one.noise_k * abs(factor), rel=1e-3)


@FEW
@given(st.integers(0, 10_000))
def test_resistances_with_a_curve_are_temperatures(seed: int) -> None:
    t_s, t_c = log_of(seed)
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    by_t = quietly(t_s, t_c)
    by_r = quietly(t_s, r_ohm=curve.resistance(t_c), curve=curve)
    assert by_r.tau_s == pytest.approx(by_t.tau_s, rel=1e-6)
    assert any("taken as exact" in note for note in by_r.notes)


# -- wild readings, noise -------------------------------------------------------------


def test_wild_readings_hardly_move_the_time_constant() -> None:
    rng = np.random.default_rng(8)
    moved = []
    for seed in range(12):
        t_s, t_c = log_of(seed, count=100)
        clean = quietly(t_s, t_c)
        wild = rng.choice(len(t_s), 3, replace=False)
        t_c[wild] += rng.choice([-1.0, 1.0], 3) * rng.uniform(1.0, 30.0, 3)
        r = quietly(t_s, t_c)
        assert r.outliers[wild].all() and r.outliers.sum() <= 6
        moved.append(abs(r.tau_s - clean.tau_s) / clean.u_tau_s)
    # One of them may take the most telling reading of all, the first after the onset.
    assert max(moved) < 2.0 and np.mean(np.array(moved) < 1.0) > 0.9 and np.median(moved) < 0.3


def test_correlated_noise_widens_the_intervals_and_is_told() -> None:
    rng = np.random.default_rng(9)
    t_s = 2.0 * np.arange(200.0)
    noise = np.zeros(200)
    for at in range(1, 200):
        noise[at] = 0.7 * noise[at - 1] + 0.03 * rng.standard_normal()
    white = noise.std() * rng.standard_normal(200)
    clean = sensor(t_s, 20.0, 101.0, 22.0, 9.0)
    with pytest.warns(ThermofitWarning, match="noise is correlated"):
        r = fit_step(t_s, clean + noise, constants=1)
    assert r.neighbour_correlation == pytest.approx(0.7, abs=0.12)
    # (1 + r)/(1 − r) is 5.7 in variance; r is known to some 0.05.
    assert 1.8 < r.u_tau_s / fit_step(t_s, clean + white, constants=1).u_tau_s < 3.0


def test_a_logger_of_coarse_steps_is_not_taken_for_a_perfect_one() -> None:
    t_s, t_c = log_of(10, count=120, noise_k=0.005)
    r = quietly(t_s, np.round(t_c, 1))
    assert abs(r.tau_s - 20.0) < 3.0 * r.u_tau_s
    # A step of 0.1 K hides 0.1/√12 K (JCGM 100, F.2.2.1).
    assert r.noise_k >= 0.1 / np.sqrt(12.0) * 0.999
    # Where most of the log stands still, its scatter is nothing, and what is hidden counts.
    rest = np.concatenate([np.full(400, 22.0), np.round(t_c, 1)])
    r = quietly(np.concatenate([t_s[0] - np.arange(400.0, 0.0, -1.0), t_s]), rest)
    assert r.fit.noise >= 0.1 / np.sqrt(12.0) * 0.999
    assert not r.outliers.any()


def test_long_logs_are_thinned_out_for_the_beginning_only() -> None:
    t_s = np.arange(0.0, 6000.0, 1.0)
    t_c = sensor(t_s, 30.0, 2001.5, 22.0, 9.0) + 0.05 * np.random.default_rng(2).standard_normal(
        6000
    )
    r = fit_step(t_s, t_c)
    assert abs(r.tau_s - 30.0) < 3.0 * r.u_tau_s and r.u_tau_s < 0.1


def test_a_log_has_its_own_readings() -> None:
    log = StepLog(T_S, T_C, source="bench.csv")
    assert fit_step(log).source == "bench.csv"
    with pytest.raises(InputError, match="leave t_c and r_ohm out"):
        fit_step(log, T_C)


def test_a_window_chooses_one_step_of_two() -> None:
    t_s = np.arange(0.0, 400.0, 2.0)
    t_c = sensor(t_s, 15.0, 50.0, 22.0, 9.0) + sensor(t_s, 15.0, 251.0, 0.0, -9.0)
    # What is left of the first step, 2 mK, is no noise, and is told.
    r = quietly(t_s, t_c, window_s=(180.0, 390.0))
    assert any("correlated" in text for text in r.warnings)
    assert r.onset_s == pytest.approx(251.0, abs=0.01) and r.step_k == pytest.approx(-9.0, abs=0.01)
    assert r.t_s[0] == 180.0 and r.t_s[-1] == 390.0


# -- as something else ----------------------------------------------------------------------


def test_the_report_names_its_coverage_and_its_doubts() -> None:
    t_s, t_c = log_of(14)
    t_c[30] += 5.0
    kept = t_s < 80.0
    r = quietly(t_s[kept], t_c[kept], step_s=39.0, coverage=0.9)
    text = str(r)
    for words in ("time to 63.2 %", "90 % from", "dead time", "step done", "! the log ends before"):
        assert words in text
    assert "wild reading" in str(quietly(t_s, t_c))
    assert "τ" in repr(r)


def test_the_frame_adds_up() -> None:
    r = fit_step(*log_of(15))
    frame = r.to_frame()
    assert list(frame) == ["t_s", "t_c", "fitted_c", "residual_k", "weight", "outlier"]
    assert (frame["fitted_c"] + frame["residual_k"]).to_numpy() == pytest.approx(r.t_c)
    assert frame["fitted_c"].to_numpy() == pytest.approx(r.temperature(r.t_s))


def test_the_summary_goes_through_json() -> None:
    r = fit_step(*log_of(16), step_s=40.0)
    back = json.loads(json.dumps(r.to_dict(), allow_nan=False))
    assert back["tau_s"]["value"] == r.tau_s
    assert back["dead_time_s"]["low"] < back["dead_time_s"]["value"]
    assert back["form"] == "one constant" and back["readings"] == 60


def test_unknown_quantities_are_told_what_there_is() -> None:
    r = fit_step(*log_of(17))
    with pytest.raises(InputError, match="it has tau_s"):
        r.interval("tau_2_s")
    with pytest.raises(InputError, match="below 1"):
        r.response_time(1.0)


def test_fitted_temperatures_are_of_the_kind_of_their_times() -> None:
    import pandas as pd

    r = fit_step(*log_of(18))
    assert isinstance(r.temperature(50), float)
    series = r.temperature(pd.Series([50.0], index=["a"]))
    assert series["a"] == r.temperature(50.0)
    with pytest.raises(InputError, match="must be numbers"):
        r.temperature("50 s")
