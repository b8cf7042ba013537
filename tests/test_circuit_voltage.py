"""The node voltage of a sensor's circuit, against circuit theory done another way."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import ConstantCurrent, Converter, Divider
from thermofit.errors import InputError

ADC = Converter(bits=12)
BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
DIVIDER = Divider(pullup_ohm=10e3, supply_v=5.0, converter=ADC)

ohms = st.floats(10.0, 1e6)
volts = st.floats(0.5, 30.0)
leakages = st.floats(-1e-7, 1e-7)


def nodal_analysis(
    edges: list[tuple[int, int, float, float]], drawn_a: list[float]
) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Solve G·v = i for a network of resistors with sources in series.

    An edge runs from a node to another, or to ground (−1), through a resistor and a source of
    `emf_v` that lifts its first node; a source in series with a resistor is its Norton equivalent.
    """
    count = len(drawn_a)
    conductance, injected = np.zeros((count, count)), -np.array(drawn_a)
    for one, other, r_ohm, emf_v in edges:
        g = 1.0 / r_ohm
        conductance[one, one] += g
        injected[one] += g * emf_v
        if other >= 0:
            conductance[other, other] += g
            conductance[one, other] -= g
            conductance[other, one] -= g
            injected[other] -= g * emf_v
    solution: np.ndarray[Any, np.dtype[np.float64]] = np.linalg.solve(conductance, injected)
    return solution


@given(ohms, ohms, ohms, ohms, volts, leakages, st.booleans())
def test_a_divider_is_what_nodal_analysis_gives(
    r: float, pull: float, series: float, parallel: float, supply: float, leakage: float, up: bool
) -> None:
    side: dict[str, Any] = {"pullup_ohm": pull} if up else {"pulldown_ohm": pull}
    divider = Divider(
        **side, supply_v=supply, converter=ADC, series_ohm=series, parallel_ohm=parallel,
        leakage_a=leakage,
    )  # fmt: skip
    pin, middle = 0, 1
    at_pull, at_sensor = (supply, 0.0) if up else (0.0, supply)
    edges = [
        (pin, -1, pull, at_pull),
        (pin, middle, series, 0.0),
        (middle, -1, r, at_sensor),
        (middle, -1, parallel, at_sensor),
    ]
    v = nodal_analysis(edges, [leakage, 0.0])
    assert divider.voltage(r) == pytest.approx(v[pin], rel=1e-9, abs=1e-9)
    # Power in the sensor itself, from the voltage across it.
    assert divider.sensor_power_w(r) == pytest.approx(
        (v[middle] - at_sensor) ** 2 / r, rel=1e-6, abs=1e-18
    )


@given(ohms, ohms, ohms, st.floats(1e-6, 1e-5), leakages)
def test_a_current_source_is_what_nodal_analysis_gives(
    r: float, series: float, parallel: float, current: float, leakage: float
) -> None:
    fed = ConstantCurrent(
        current_a=current, supply_v=1e3, converter=ADC, series_ohm=series, parallel_ohm=parallel,
        leakage_a=leakage,
    )  # fmt: skip
    edges = [(0, 1, series, 0.0), (1, -1, r, 0.0), (1, -1, parallel, 0.0)]
    v = nodal_analysis(edges, [leakage - current, 0.0])
    assert fed.voltage(r) == pytest.approx(v[0], rel=1e-9)
    assert fed.sensor_power_w(r) == pytest.approx(v[1] ** 2 / r, rel=1e-9)


@given(ohms, ohms, st.booleans(), leakages)
def test_the_extremes_are_a_short_and_an_open_sensor(
    pull: float, r: float, up: bool, leakage: float
) -> None:
    side: dict[str, Any] = {"pullup_ohm": pull} if up else {"pulldown_ohm": pull}
    divider = Divider(**side, supply_v=5.0, converter=ADC, leakage_a=leakage)
    shorted, healthy, opened = divider.voltage([0.0, r, np.inf])
    assert shorted == (0.0 if up else 5.0)
    # An open sensor leaves the leakage to the fixed resistor alone.
    assert opened == pytest.approx((5.0 if up else 0.0) - leakage * pull, abs=1e-12)
    assert min(shorted, opened) < healthy < max(shorted, opened)


def test_a_source_runs_out_of_voltage() -> None:
    fed = ConstantCurrent(current_a=1e-4, supply_v=3.3, converter=ADC)
    assert fed.voltage(10e3) == pytest.approx(1.0)
    assert fed.voltage(1e6) == 3.3
    assert fed.voltage(np.inf) == 3.3
    assert fed.kelvin_per_count(BETA, -30.0) == np.inf


@given(
    st.floats(0.0, 80.0), ohms, st.floats(0.0, 1e3), st.floats(1e3, 1e6), st.booleans(),
    st.floats(-1e-7, 1e-7),
)  # fmt: skip
def test_the_resolution_is_the_slope_of_the_count_position(
    t_c: float, pull: float, series: float, parallel: float, up: bool, leakage: float
) -> None:
    side: dict[str, Any] = {"pullup_ohm": pull} if up else {"pulldown_ohm": pull}
    circuits = (
        Divider(**side, supply_v=5.0, converter=ADC, series_ohm=series, parallel_ohm=parallel,
                leakage_a=leakage),
        ConstantCurrent(current_a=1e-5, supply_v=1e3, converter=Converter(bits=12, reference_v=2.5),
                        series_ohm=series, parallel_ohm=parallel, leakage_a=leakage),
    )  # fmt: skip
    step = 0.01
    for circuit in circuits:
        if circuit.converter.saturated(circuit.counts_at(BETA, t_c)):
            assert circuit.kelvin_per_count(BETA, t_c) == np.inf
            continue
        above, below = circuit.position(BETA.resistance(np.array([t_c + step, t_c - step])))
        by_difference = abs(2.0 * step / (above - below))
        assert circuit.kelvin_per_count(BETA, t_c) == pytest.approx(by_difference, rel=1e-4)


@given(st.floats(-20.0, 100.0), st.floats(2500.0, 5000.0))
def test_the_handbook_resistor_puts_the_inflection_in_the_middle(t_c: float, b_k: float) -> None:
    """R_p = R_m·(B − 2·T_m)/(B + 2·T_m), the usual linearisation; common practice, no source.

    For a constant B value the voltage of the divider has its inflection, and so its steepest
    place, at T_m.
    """
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=b_k, t_range_c=(-60.0, 160.0))
    t_k = t_c + 273.15
    pull = curve.resistance(t_c) * (b_k - 2.0 * t_k) / (b_k + 2.0 * t_k)
    divider = Divider(pullup_ohm=pull, supply_v=5.0, converter=ADC)
    near = t_c + np.array([-1.0, 0.0, 1.0])
    low, middle, high = divider.voltage(curve.resistance(near))
    bend = high - 2.0 * middle + low
    other = divider.with_pull(1.5 * pull).voltage(curve.resistance(near))
    bend_elsewhere = other[2] - 2.0 * other[1] + other[0]
    assert abs(bend) < 0.02 * abs(bend_elsewhere)
    steepest = divider.kelvin_per_count(curve, t_c)
    assert (steepest <= divider.kelvin_per_count(curve, t_c + np.array([-5.0, 5.0]))).all()


def test_pull_up_and_pull_down_mirror_each_other() -> None:
    up = Divider(pullup_ohm=10e3, supply_v=5.0, converter=ADC)
    down = Divider(pulldown_ohm=10e3, supply_v=5.0, converter=ADC)
    r = np.geomspace(10.0, 1e6, 50)
    assert up.voltage(r) + down.voltage(r) == pytest.approx(np.full(50, 5.0))
    assert up.sensor_power_w(r) == pytest.approx(down.sensor_power_w(r))


def test_what_goes_in_comes_out_alike() -> None:
    assert isinstance(DIVIDER.voltage(10e3), float)
    assert DIVIDER.voltage(np.full((2, 3), 10e3)).shape == (2, 3)
    series = pd.Series([10e3, 20e3], index=["inlet", "outlet"])
    for result in (
        DIVIDER.voltage(series), DIVIDER.counts(series), DIVIDER.sensor_power_w(series),
        DIVIDER.counts_at(BETA, series / 1e3), DIVIDER.kelvin_per_count(BETA, series / 1e3),
        DIVIDER.resistance(series / 10.0), DIVIDER.temperature(BETA, series / 10.0),
    ):  # fmt: skip
        assert list(result.index) == ["inlet", "outlet"]
    assert np.isnan(DIVIDER.voltage(np.nan)) and np.isnan(DIVIDER.counts(np.nan))


# -- bad input -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({}, "pullup_ohm .sensor to ground. or"),
        ({"pullup_ohm": 1e4, "pulldown_ohm": 1e4}, "not both"),
        ({"pullup_ohm": 0.0}, "pullup_ohm must be above 0"),
        ({"pulldown_ohm": -1e4}, "pulldown_ohm must be above 0"),
        ({"pullup_ohm": np.inf}, "finite"),
        ({"pullup_ohm": "10k"}, "finite number in Ω"),
        ({"pullup_ohm": 1e4, "supply_v": 0.0}, "supply_v must be above 0"),
        ({"pullup_ohm": 1e4, "supply_v": -5.0}, "supply_v must be above 0"),
        ({"pullup_ohm": 1e4, "series_ohm": -1.0}, "series_ohm must be at least 0"),
        ({"pullup_ohm": 1e4, "parallel_ohm": 0.0}, "parallel_ohm must be above 0"),
        ({"pullup_ohm": 1e4, "leakage_a": 1e-3}, "beyond the supply of 5 V"),
        ({"pullup_ohm": 1e4, "leakage_a": -1e-3}, "beyond the supply of 5 V"),
        ({"pullup_ohm": 1e4, "leakage_limit_a": 1e-3}, "1e-6 for 1 µA"),
        ({"pullup_ohm": 1e4, "leakage_limit_a": -1e-9}, "at least 0"),
        ({"pullup_ohm": 1e4, "pull_pct": -1.0}, "pull_pct must be at least 0"),
        ({"pullup_ohm": 1e4, "pull_pct": 100.0}, "below 100 %"),
        ({"pullup_ohm": 1e4, "supply_pct": np.nan}, "finite"),
        ({"pullup_ohm": 1e4, "ambient_c": (50.0, 0.0)}, "from low to high"),
        ({"pullup_ohm": 1e4, "ambient_c": (1.0, 2.0, 3.0)}, "pair"),
        ({"pullup_ohm": 1e4, "pull_ppm_per_k": 100.0}, "needs ambient_c"),
        ({"pullup_ohm": 1e4, "pull_ppm_per_k": -1.0}, "at least 0"),
        ({"pullup_ohm": 1e4, "pull_ppm_per_k": 1e5, "ambient_c": (0.0, 60.0)}, "below 100 %"),
        ({"pullup_ohm": 1e4, "series_pct": 1.0}, "series_ohm, which is not given"),
        ({"pullup_ohm": 1e4, "parallel_pct": 1.0}, "parallel_ohm, which is not given"),
        ({"pullup_ohm": 1e4, "converter": 10}, "Converter"),
    ],
)
def test_dividers_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    fields: dict[str, Any] = {"supply_v": 5.0, "converter": ADC} | settings
    with pytest.raises(InputError, match=words):
        Divider(**fields)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"current_a": 0.0}, "current_a must be above 0"),
        ({"current_a": 1e-4, "leakage_a": 1e-4}, "as large as the current"),
        ({"current_a": 1e-4, "leakage_limit_a": 2e-4}, "as large as the current"),
        ({"current_a": 1e-4, "current_ppm_per_k": 50.0}, "needs ambient_c"),
        ({"current_a": 1e-4, "current_pct": 150.0}, "below 100 %"),
    ],
)
def test_current_sources_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    fields: dict[str, Any] = {"supply_v": 5.0, "converter": ADC} | settings
    with pytest.raises(InputError, match=words):
        ConstantCurrent(**fields)


def test_a_sensor_has_no_negative_resistance() -> None:
    with pytest.raises(InputError, match="-5 Ω is negative"):
        DIVIDER.voltage([10e3, -5.0])
    with pytest.raises(InputError, match="must be numbers"):
        DIVIDER.counts("10k")
