"""The thermal time constant by the method of MIL-PRF-23648."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.errors import FitError, InputError, ThermofitWarning
from thermofit.thermal import StepLog, fit_step, mil_time_constant


@given(st.floats(2.0, 200.0), st.floats(76.0, 120.0), st.floats(0.05, 0.8))
def test_on_an_exponential_the_military_method_gives_the_time_constant(
    tau_s: float, start_c: float, interval: float
) -> None:
    # MIL-PRF-23648: from 75 °C, 63.2 % of the way to 25 °C is passed at 43.4 °C.
    t_s = np.arange(0.0, 4.0, interval) * tau_s
    t_c = 25.0 + (start_c - 25.0) * np.exp(-t_s / tau_s)
    found = mil_time_constant(t_s, t_c, ambient_c=25.0)
    assert found.value == pytest.approx(tau_s * np.log(50.0 / 18.4), rel=1e-9)
    assert found.value == pytest.approx(tau_s, rel=4e-4)


def test_the_military_method_agrees_with_the_fit() -> None:
    rng = np.random.default_rng(2)
    t_s = np.arange(0.0, 120.0, 1.0)
    t_c = 25.0 + 55.0 * np.exp(-t_s / 20.0) + 0.05 * rng.standard_normal(120)
    found = mil_time_constant(t_s, t_c, ambient_c=25.0, u_t_k=0.05)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ThermofitWarning)
        tau_s = fit_step(t_s, t_c).tau_s
    assert found.low < tau_s < found.high
    # By hand: u/slope at both marks, 50/20 and 18.4/20 K/s.
    assert found.standard_uncertainty == pytest.approx(
        0.05 * 20.0 * np.hypot(1 / 50.0, 1 / 18.4), rel=0.1
    )


def test_noise_that_passes_a_mark_twice_counts() -> None:
    t_s = np.array([0.0, 1.0, 2.0, 3.0, 20.0, 40.0])
    t_c = np.array([76.0, 74.8, 75.2, 74.0, 43.6, 30.0])
    found = mil_time_constant(t_s, t_c, ambient_c=25.0)
    assert found.standard_uncertainty > 0.3


@pytest.mark.parametrize(
    ("start_c", "end", "ambient_c", "error", "words"),
    [
        (74.9, 100.0, 25.0, FitError, "begins at 74.9 °C, below 75"),
        (80.0, 20.0, 25.0, FitError, "ends before the sensor has cooled"),
        (80.0, 100.0, 27.0, InputError, "air of 25 °C"),
        (80.0, 100.0, np.nan, InputError, "finite"),
    ],
)
def test_logs_that_are_not_by_the_method(
    start_c: float, end: float, ambient_c: float, error: type[Exception], words: str
) -> None:
    t_s = np.arange(0.0, end, 1.0)
    t_c = 25.0 + (start_c - 25.0) * np.exp(-t_s / 30.0)
    with pytest.raises(error, match=words):
        mil_time_constant(t_s, t_c, ambient_c=ambient_c)


def test_a_log_is_taken_as_it_was_read() -> None:
    t_s = np.arange(0.0, 60.0, 3.0)
    t_c = 25.0 + 55.0 * np.exp(-t_s / 20.0)
    by_log = mil_time_constant(StepLog(t_s, t_c), ambient_c=25.0)
    assert by_log.value == mil_time_constant(t_s, t_c, ambient_c=25.0).value
    with pytest.raises(InputError, match="leave t_c out"):
        mil_time_constant(StepLog(t_s, t_c), t_c, ambient_c=25.0)
    with pytest.raises(InputError, match="has resistances"):
        mil_time_constant(StepLog(t_s, r_ohm=t_c), ambient_c=25.0)


def test_two_coolings_have_no_one_time() -> None:
    """The mean of both passages would be half an hour off, with an uncertainty to match."""
    t_s = np.arange(0.0, 60.0, 3.0)
    t_c = 25.0 + 55.0 * np.exp(-t_s / 20.0)
    with pytest.raises(FitError, match="one cooling"):
        mil_time_constant(
            np.concatenate([t_s, 3600.0 + t_s]), np.concatenate([t_c, t_c]), ambient_c=25.0
        )
