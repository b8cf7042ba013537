"""Logs of which something is doubtful, which is told, and logs that are none, which are refused."""

from __future__ import annotations

import contextlib
import warnings
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.thermal_logs import T_C, T_S, log_of, quietly, sensor, times
from thermofit.errors import FitError, InputError, ThermofitError, ThermofitWarning
from thermofit.thermal import fit_step

# -- doubts -------------------------------------------------------------------------------


def test_a_log_that_ends_too_soon_says_so_and_knows_less() -> None:
    rng = np.random.default_rng(11)
    t_s = times(rng, 240, 1.0)
    t_c = sensor(t_s, 20.0, 41.0, 22.0, 9.0) + 0.05 * rng.standard_normal(240)
    whole = quietly(t_s, t_c)
    early = t_s < 41.0 + 15.0
    with pytest.warns(ThermofitWarning, match=r"ends before the temperature settles, with \d\d %"):
        r = fit_step(t_s[early], t_c[early])
    assert r.done < 0.75
    assert r.u_tau_s > 3.0 * whole.u_tau_s
    assert r.interval("final_c").low < 31.0 < r.interval("final_c").high


def test_too_few_readings_in_the_rise_are_told() -> None:
    t_s = np.arange(0.0, 400.0, 12.0)
    t_c = sensor(t_s, 8.0, 101.0, 22.0, 9.0) + 0.02 * np.sin(7.0 * t_s**1.5)
    with pytest.warns(ThermofitWarning) as caught:
        fit_step(t_s, t_c)
    words = " ".join(str(item.message) for item in caught)
    assert "readings lie within three time constants" in words
    assert "slower than the time constant" in words


def test_a_gap_in_the_step_is_told() -> None:
    t_s, t_c = log_of(12, count=120)
    kept = (t_s < 45.0) | (t_s > 62.0)
    with pytest.warns(ThermofitWarning, match="gap of"):
        fit_step(t_s[kept], t_c[kept])


def test_a_drift_after_the_step_is_not_fitted_in_silence() -> None:
    rng = np.random.default_rng(13)
    t_s = times(rng, 150, 2.0)
    t_c = sensor(t_s, 15.0, 60.0, 22.0, 9.0) + 0.02 * rng.standard_normal(150)
    t_c += 0.006 * np.maximum(t_s - 60.0, 0.0)
    r = quietly(t_s, t_c)
    assert r.warnings


# -- refusals ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("t_s", "t_c", "words"),
    [
        (T_S, np.full_like(T_S, 22.0), "never moves"),
        (T_S[::-1], T_C, "runs backwards: reading 2"),
        (np.where(T_S == 30.0, 27.0, T_S), T_C, "repeats: reading 11"),
        (T_S, np.where(T_S == 30.0, np.nan, T_C), "reading 11 is nan"),
        (np.where(T_S == 30.0, np.inf, T_S), T_C, "reading 11 is inf"),
        (T_S[:4], T_C[:4], "4 readings are too few"),
        (T_S[:7], T_C, "7 times do not go with 40"),
        (T_S, T_C - 400.0, "absolute zero"),
        (T_S, T_C * 500.0, "if these are ohms"),
        ([[0.0, 1.0]], [[1.0, 2.0]], "one row"),
        (T_S, list("abcd"), "numbers"),
    ],
)
def test_logs_that_are_none_are_refused(t_s: Any, t_c: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        fit_step(t_s, t_c)


def test_a_straight_line_has_no_time_constant() -> None:
    noise_k = 0.02 * np.random.default_rng(1).standard_normal(len(T_S))
    with pytest.raises(FitError, match="along a straight line"):
        fit_step(T_S, 22.0 + 0.05 * T_S + noise_k)


def test_a_jump_between_two_readings_has_no_time_constant() -> None:
    noise_k = 0.02 * np.random.default_rng(1).standard_normal(len(T_S))
    with pytest.raises(FitError, match=r"lies between two readings.*intervals of 3 s; log faster"):
        fit_step(T_S, np.where(T_S < 50.0, 22.0, 31.0) + noise_k)


@pytest.mark.parametrize("seed", range(12))
def test_noise_alone_is_no_step(seed: int) -> None:
    rng = np.random.default_rng(seed)
    t_c = 22.0 + 0.1 * rng.standard_normal(150)
    t_c[:50] = np.round(t_c[:50], 2)
    with pytest.raises(FitError, match=r"no step stands out of the noise.*larger step"):
        quietly(2.0 * np.arange(150.0), t_c)


def test_a_step_within_the_noise_is_refused() -> None:
    rng = np.random.default_rng(1)
    t_s = 2.0 * np.arange(2000.0)
    t_c = sensor(t_s, 200.0, 2000.0, 22.0, 0.05) + 0.1 * rng.standard_normal(2000)
    with pytest.raises(FitError, match=r"moves by 0\.0"):
        fit_step(t_s, t_c)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"r_ohm": T_C}, "resistances.*give the curve"),
        ({"t_c": T_C, "curve": tf.Curve.beta(r25_ohm=1e4, b_k=3977)}, "leave the curve out"),
        ({"t_c": T_C, "r_ohm": T_C}, "both are given"),
        ({}, "neither are given"),
        ({"r_ohm": -T_C, "curve": tf.Curve.beta(r25_ohm=1e4, b_k=3977)}, "above zero"),
        ({"r_ohm": T_C, "curve": "ntc-10k-3977"}, "Family or a Curve"),
        ({"t_c": T_C, "constants": 3}, "'auto', 1 or 2"),
        ({"t_c": T_C, "coverage": 95}, "between 0 and 1"),
        ({"t_c": T_C, "step_s": np.nan}, "finite"),
        ({"t_c": T_C, "window_s": (500.0, 600.0)}, "no reading lies between"),
        ({"t_c": T_C, "window_s": (60.0, 0.0)}, "from first to last, not from 60 to 0 s"),
        ({"t_c": T_C, "window_s": (60.0,)}, "a pair"),
        ({"t_c": T_C, "window_s": 60.0}, "a pair"),
        ({"r_ohm": T_C, "curve": tf.family("ntc-ratio-3544")}, "leaves R25 open"),
    ],
)
def test_calls_that_make_no_sense(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        fit_step(T_S, **settings)


@given(
    st.lists(
        st.tuples(st.floats(allow_nan=True), st.floats(allow_nan=True)), min_size=1, max_size=30
    )
)
@settings(max_examples=60)
def test_nothing_but_an_error_of_ours_comes_of_rubbish(pairs: list[tuple[float, float]]) -> None:
    t_s, t_c = np.array(pairs).T
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ThermofitWarning)
        for t in (t_s, np.arange(len(t_s))):
            with contextlib.suppress(ThermofitError):
                assert fit_step(t, t_c).tau_s > 0.0
