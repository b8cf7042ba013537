"""Codes: conventions, both directions, and what the ends of the scale mean."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import Circuit, ConstantCurrent, Converter, Divider
from thermofit.errors import ExtrapolationWarning, InputError

CURVES = [
    tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-60.0, 160.0)),
    tf.family("ntc-47k-4108").curve,
    tf.family("ntc-5k-3988").curve,
    tf.family("pt-1000-iec60751").curve,
]
converters = st.builds(
    Converter,
    bits=st.integers(4, 24),
    scale=st.sampled_from(["2^bits", "2^bits-1"]),
    rounding=st.sampled_from(["down", "nearest"]),
)
networks: dict[str, Any] = {
    "series_ohm": st.floats(0.0, 1e3),
    "parallel_ohm": st.none() | st.floats(1e5, 1e7),
    "leakage_a": st.floats(-1e-7, 1e-7),
    "converter": converters,
}
circuits = st.one_of(
    st.builds(Divider, pullup_ohm=st.floats(100.0, 1e5), supply_v=st.floats(2, 24), **networks),
    st.builds(Divider, pulldown_ohm=st.floats(100.0, 1e5), supply_v=st.floats(2, 24), **networks),
    st.builds(ConstantCurrent, current_a=st.floats(1e-6, 1e-4), supply_v=st.just(24.0), **networks),
)


# -- conventions ---------------------------------------------------------------------


def test_the_usual_convention_by_hand() -> None:
    """Ten bits at 5 V: a count is 5 V/1024 = 4.8828125 mV, and 2.5 V lies at the edge of 512."""
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    assert divider.position(10e3) == 512.0 and divider.counts(10e3) == 512.0
    assert divider.counts(10e3 * (1.0 - 1e-6)) == 511.0
    # Code 512 stands for the middle, 512.5/1024 of the supply.
    assert divider.voltage(divider.resistance(512)) == pytest.approx(512.5 * 5.0 / 1024.0)


def test_the_other_conventions_by_hand() -> None:
    full = Converter(bits=8, scale="2^bits-1")
    near = Converter(bits=8, rounding="nearest")
    assert (Converter(bits=8).steps, full.steps, near.steps) == (256, 255, 256)
    assert full.top_code == near.top_code == 255
    assert (near.code(99.49), near.code(99.5), near.middle(99.0)) == (99.0, 100.0, 99.0)
    assert (full.code(99.99), full.middle(99.0)) == (99.0, 99.5)
    # The reference voltage itself is beyond the last code, unless it is its position.
    assert Converter(bits=8).code(256.0) == 255.0 and full.code(255.0) == 255.0


@given(converters, st.floats(-1e3, 1e8))
def test_codes_stay_on_the_scale(converter: Converter, position: float) -> None:
    code = converter.code(position)
    assert code == int(code) and 0.0 <= code <= converter.top_code
    if not converter.saturated(code):
        assert abs(converter.middle(code) - position) <= 0.5


def test_a_reference_of_its_own_is_no_supply() -> None:
    own = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10, reference_v=2.5))
    assert not own.ratiometric
    assert own.position(5e3) == pytest.approx(1024.0 * (5.0 / 3.0) / 2.5)
    # A ratiometric reading does not know the supply.
    for supply in (3.0, 5.0, 24.0):
        divider = Divider(pullup_ohm=10e3, supply_v=supply, converter=Converter(bits=10))
        assert divider.position(5e3) == pytest.approx(1024.0 / 3.0)


# -- both directions -----------------------------------------------------------------


@given(circuits, st.sampled_from(CURVES), st.floats(0.0, 100.0))
def test_temperature_to_counts_and_back_is_within_a_count(
    circuit: Circuit, curve: tf.Curve, t_c: float
) -> None:
    code = circuit.counts_at(curve, t_c)
    assume(not circuit.converter.saturated(code))
    r_back = circuit.resistance(code)
    assume(np.isfinite(r_back))  # the middle of the outermost code may be beyond an open sensor
    # The middle of the code has that code, and the position left is half a count at most.
    assert circuit.counts(r_back) == code
    assert circuit.position(r_back) == pytest.approx(circuit.converter.middle(code), rel=1e-7)
    assert abs(circuit.position(curve.resistance(t_c)) - circuit.position(r_back)) <= 0.5001
    # In kelvin: the temperature lies between those of the two edges of the code.
    edges = circuit.converter.middle(code) + np.array([-0.5001, 0.5001])
    r_edges = circuit._sensor_at(edges, circuit._nominal)
    low, high = sorted(r_edges)
    assert low <= curve.resistance(t_c) <= high


@given(circuits, st.sampled_from(CURVES), st.floats(10.0, 60.0))
def test_a_decoded_temperature_is_that_of_the_decoded_resistance(
    circuit: Circuit, curve: tf.Curve, t_c: float
) -> None:
    code = circuit.counts_at(curve, t_c)
    r_ohm = circuit.resistance(code)
    assume(np.isfinite(r_ohm) and curve.resistance(100.0) < r_ohm < curve.resistance(0.0))
    t_back = circuit.temperature(curve, code)
    assert curve.resistance(t_back) == pytest.approx(r_ohm, rel=1e-9)
    assert circuit.counts_at(curve, t_back) == code


def test_an_average_of_codes_lies_between_them() -> None:
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    low, middle, high = divider.resistance([511.0, 511.5, 512.0])
    assert low < middle < high
    assert divider.position(middle) == pytest.approx(512.0)


# -- the ends of the scale -----------------------------------------------------------


def test_the_first_and_the_last_code_are_no_temperature() -> None:
    curve = CURVES[0]
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    assert divider.counts([0.0, np.inf]).tolist() == [0.0, 1023.0]
    assert np.isnan(divider.resistance([0, 1023])).all()
    with pytest.warns(ExtrapolationWarning):
        readings = divider.temperature(curve, [0, 1, 1022, 1023])
    assert np.isnan(readings[[0, 3]]).all()
    assert readings[1] > 160.0 and readings[2] < -60.0
    assert divider.converter.saturated(0) is True
    assert divider.converter.saturated([0, 1, 1022, 1023]).tolist() == [True, False, False, True]


def test_a_code_that_no_sensor_gives_is_no_temperature() -> None:
    """With 1 kΩ in series the node is never below a third of the supply, nor with 10 kΩ across
    the sensor above 11/13 of it."""
    divider = Divider(
        pullup_ohm=2e3, supply_v=3.0, converter=Converter(bits=10), series_ohm=1e3,
        parallel_ohm=10e3,
    )  # fmt: skip
    assert divider.voltage([0.0, np.inf]) == pytest.approx([1.0, 3.0 * 11.0 / 13.0])
    assert np.isnan(divider.resistance([300, 340, 868, 900])).all()
    assert np.isfinite(divider.resistance([342, 860])).all()


def test_a_source_without_voltage_left_is_no_temperature() -> None:
    """Above its 5 V the source gives nothing, though the converter has codes up to 6 V."""
    fed = ConstantCurrent(
        current_a=50e-6, supply_v=5.0, converter=Converter(bits=10, reference_v=6.0)
    )  # fmt: skip
    assert fed.counts(np.inf) == 853.0
    assert np.isnan(fed.resistance([860, 1000])).all()
    assert fed.resistance(800) == pytest.approx(800.5 / 1024.0 * 6.0 / 50e-6)


def test_missing_codes_stay_missing() -> None:
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    assert np.isnan(divider.temperature(CURVES[0], [np.nan, 512.0])).tolist() == [True, False]


# -- bad input -----------------------------------------------------------------------


@pytest.mark.parametrize("counts", [-1, 1024, np.inf])
def test_codes_that_the_converter_does_not_have(counts: float) -> None:
    divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    with pytest.raises(InputError, match="10 bits, which has 0 to 1023"):
        divider.temperature(CURVES[0], [512, counts])


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"bits": 0}, "from 1 to 32, not 0"),
        ({"bits": 33}, "from 1 to 32, not 33"),
        ({"bits": 1024}, "1024 steps has 10"),
        ({"bits": 10.0}, "whole number"),
        ({"bits": True}, "whole number"),
        ({"reference_v": 0.0}, "reference_v must be above 0"),
        ({"reference_pct": 1.0}, "reference is the supply"),
        ({"gain_pct": -0.1}, "at least 0"),
        ({"gain_pct": 100.0}, "below 100 %"),
        ({"offset_counts": np.inf}, "finite"),
        ({"noise_counts": -1.0}, "at least 0"),
        ({"samples": 0}, "from 1 on"),
        ({"scale": "1024"}, "2\\^bits"),
        ({"rounding": "up"}, "down"),
    ],
)
def test_converters_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        Converter(**({"bits": 10} | settings))


def test_small_integers_of_numpy_do_not_overflow() -> None:
    bits: Any = np.int8(10)
    assert Converter(bits=bits) == Converter(bits=10)
    assert Converter(bits=bits).top_code == 1023
    assert Converter(bits=bits, scale="2^bits-1").steps == 1023


def test_codes_may_be_a_list() -> None:
    adc = Converter(bits=10)
    assert adc.middle([1, 2]).tolist() == [1.5, 2.5]
    assert adc.saturated([0, 5]).tolist() == [True, False]
    for call in (adc.middle, adc.saturated, adc.code):
        with pytest.raises(InputError, match="must be numbers"):
            call("512")


@pytest.mark.parametrize("bits", [1, 32])
def test_the_smallest_and_the_largest_converter(bits: int) -> None:
    assert Converter(bits=bits).top_code == 2**bits - 1
