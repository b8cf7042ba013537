"""From the display back to the sensor, and to what would explain it."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import Circuit, ConstantCurrent, Converter, Divider, faults, seen
from thermofit.errors import InputError

NTC = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, id="inlet", t_range_c=(-100.0, 250.0))
PULL_UP = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
CIRCUITS: list[Circuit] = [
    PULL_UP,
    PULL_UP.replace(converter=Converter(bits=12, rounding="nearest"), series_ohm=470.0),
    Divider(pulldown_ohm=4.7e3, supply_v=3.3, converter=Converter(bits=10, scale="2^bits-1"),
            parallel_ohm=470e3),
    ConstantCurrent(current_a=50e-6, supply_v=5.0, converter=Converter(bits=12, reference_v=2.5)),
]  # fmt: skip
circuits = st.sampled_from(CIRCUITS)

# Where the last code is the reference voltage itself, a short of the third leaves no reading.
ENDING = [
    *CIRCUITS[:2],
    Divider(pulldown_ohm=4.7e3, supply_v=3.3, converter=Converter(bits=10)),
    CIRCUITS[3],
]


# -- what it sees ----------------------------------------------------------------------


@given(circuits, st.floats(0.0, 60.0), st.sampled_from([0.1, 0.5, 1.0]))
def test_the_codes_are_all_those_that_are_shown_so(
    circuit: Circuit, t_c: float, step: float
) -> None:
    """Every code is decoded and rounded as a display does it; those of one display are found."""
    reading = round(round(t_c / step) * step, 6)
    codes = np.arange(1, circuit.converter.top_code)
    r = circuit._sensor_at(circuit.converter.middle(codes), circuit._nominal)
    usable = (r > 100.0) & (r < 1e6)
    decoded = circuit.temperature(NTC, codes[usable])
    # A temperature on the edge of two displays may go either way.
    assume((np.abs(np.abs(decoded - reading) - 0.5 * step) > 1e-6).all())
    shown = codes[usable][np.abs(decoded - reading) < 0.5 * step]
    found = seen(circuit, NTC, reading, display_step_k=step)
    if shown.size:
        assert (found.low_counts, found.high_counts) == (shown.min(), shown.max())
        assert not any("nearest" in note for note in found.notes)
    else:
        nearest = codes[usable][np.argmin(np.abs(decoded - reading))]
        assert abs(found.low_counts - nearest) <= 1.0 and found.low_counts == found.high_counts
        assert any("nearest" in note for note in found.notes)


@given(circuits, st.floats(0.0, 60.0))
def test_a_healthy_sensor_has_what_is_seen(circuit: Circuit, t_c: float) -> None:
    reading = circuit.temperature(NTC, circuit.counts_at(NTC, t_c))
    found = seen(circuit, NTC, reading, display_step_k=0.01, actual_c=t_c)
    assert found.low_ohm <= NTC.resistance(t_c) * (1 + 1e-9)
    assert found.high_ohm >= NTC.resistance(t_c) * (1 - 1e-9)
    assert found.low_v - 1e-9 <= circuit.voltage(NTC.resistance(t_c)) <= found.high_v + 1e-9
    assert found.of("none") is not None
    for kind in ("corroded contact", "moisture", "open", "sensor shorted", "supply sag"):
        assert found.of(kind) is None


def test_what_is_seen_by_hand() -> None:
    """Code 588 stands for 588.5/1024 of the supply, and 10 kΩ·588.5/435.5 = 13513 Ω."""
    reading = PULL_UP.temperature(NTC, 588)
    found = seen(PULL_UP, NTC, reading, display_step_k=0.02)
    assert found.low_counts == found.high_counts == 588.0
    assert found.low_v == pytest.approx(588.0 * 5.0 / 1024.0)
    assert found.high_v == pytest.approx(589.0 * 5.0 / 1024.0)
    assert found.low_ohm == pytest.approx(10e3 * 588.0 / 436.0)
    assert found.high_ohm == pytest.approx(10e3 * 589.0 / 435.0)
    assert "state actual_c" in found.notes[-1]


# -- there and back ---------------------------------------------------------------------


@given(circuits, st.floats(5.0, 40.0), st.floats(300.0, 5e4), st.floats(2e3, 5e5))
def test_a_fault_is_found_again_with_its_size(
    circuit: Circuit, t_c: float, contact: float, leak: float
) -> None:
    rows = faults(circuit, NTC, t_c=t_c, contact_ohm=[contact], leakage_ohm=[leak])
    for kind, size in (("corroded contact", contact), ("moisture", leak)):
        (row,) = rows.of(kind)  # type: ignore[arg-type]
        assume(row.errs != "right" and not row.end_of_scale)
        found = seen(circuit, NTC, row.reads_c, display_step_k=0.01, actual_c=t_c)
        explained = found.of(kind)
        assert explained is not None
        assert explained.low * (1 - 1e-6) <= size <= explained.high * (1 + 1e-6)
        other = "moisture" if kind == "corroded contact" else "corroded contact"
        assert found.of(other) is None


@given(st.floats(10.0, 40.0), st.floats(1.0, 40.0))
def test_a_sag_is_found_again(t_c: float, sag: float) -> None:
    fixed = PULL_UP.replace(converter=Converter(bits=10, reference_v=5.0), leakage_a=1e-7)
    own_supply = ConstantCurrent(current_a=50e-6, supply_v=5.0, converter=Converter(bits=12))
    strong = own_supply.replace(current_a=150e-6)
    for circuit in (fixed, own_supply, strong):
        (row,) = faults(circuit, NTC, t_c=t_c, sag_pct=[sag]).of("supply sag")
        assume(row.errs != "right" and not row.end_of_scale)
        found = seen(circuit, NTC, row.reads_c, display_step_k=0.01, actual_c=t_c)
        explained = found.of("supply sag")
        assert explained is not None
        assert explained.low - 1e-6 <= sag <= explained.high + 1e-6
    for circuit in (fixed, own_supply):
        reading = circuit.temperature(NTC, circuit.counts_at(NTC, t_c))
        healthy = seen(circuit, NTC, reading, display_step_k=0.01, actual_c=t_c)
        assert healthy.of("none") is not None and healthy.of("supply sag") is None
    # What reads by a ratio is not moved by its supply.
    colder = seen(PULL_UP, NTC, t_c - 5.0, actual_c=t_c)
    assert colder.of("supply sag") is None


@pytest.mark.parametrize("circuit", ENDING, ids=["up", "up-series", "down", "current"])
@pytest.mark.parametrize("kind", ["open", "sensor shorted"])
def test_open_and_short_are_found_again(circuit: Circuit, kind: Any) -> None:
    (row,) = faults(circuit, NTC, t_c=20.0).of(kind)
    found = seen(circuit, NTC, row.reads_c, actual_c=20.0)
    assert found.of(kind) is not None
    if row.end_of_scale:
        assert (found.high_ohm == np.inf) == (kind == "open")
        assert (found.low_ohm == 0.0) == (kind == "sensor shorted")


def test_a_display_at_the_end_of_the_scale() -> None:
    (row,) = faults(PULL_UP, NTC, t_c=20.0).of("open")
    for colder_k in (0.0, 3.0):
        found = seen(PULL_UP, NTC, row.reads_c - colder_k, actual_c=20.0)
        assert found.high_counts == 1023.0
        assert any("anywhere beyond" in note for note in found.notes)
        assert {one.kind for one in found.explanations} >= {"open", "short to supply"}
        contact = found.of("corroded contact")
        assert contact is not None and contact.high == np.inf and "or more" in contact.text
    (row,) = faults(PULL_UP, NTC, t_c=20.0).of("sensor shorted")
    found = seen(PULL_UP, NTC, row.reads_c, actual_c=20.0)
    leak = found.of("moisture")
    assert leak is not None and leak.low == 0.0 and "or less" in leak.text
    assert {one.kind for one in found.explanations} >= {"sensor shorted", "short to ground"}


def test_leakage_does_not_hide_an_open_sensor() -> None:
    """1 µA into the pin pulls it below ground where nothing is connected; code 0 is what it is."""
    leaky = Divider(
        pulldown_ohm=10e3, supply_v=5.0, converter=Converter(bits=10), leakage_a=1e-6
    )  # fmt: skip
    found = seen(leaky, NTC, -90.0, actual_c=20.0)
    assert found.low_counts == 0.0 and found.high_ohm == np.inf
    assert found.of("open") is not None


def test_the_fallback_is_recognised() -> None:
    found = seen(PULL_UP, NTC, 60.0, actual_c=20.0, fallback_c=60.0)
    assert found.explanations[0].kind == "fallback"
    assert "taken" not in found.explanations[0].text and "broken" in found.explanations[0].text
    # A reading of 60 °C may also be a leak of that size.
    assert found.of("moisture") is not None
    assert seen(PULL_UP, NTC, 60.1, fallback_c=60.0).of("fallback") is None
    assert seen(PULL_UP, NTC, 60.4, fallback_c=60.0, display_step_k=1.0).of("fallback")


def test_a_wrong_part_is_recognised() -> None:
    other = tf.family("ntc-5k-3988").curve
    (row,) = faults(PULL_UP, NTC, t_c=20.0, wrong=other).of("wrong part")
    found = seen(PULL_UP, NTC, round(row.reads_c, 1), actual_c=20.0, wrong={"5 kΩ": other})
    explained = found.of("wrong part")
    assert explained is not None and explained.text.startswith("5 kΩ has 6.2")
    assert seen(PULL_UP, NTC, 20.0, actual_c=20.0, wrong=other).of("wrong part") is None


def test_the_report_says_it_in_words() -> None:
    text = str(seen(PULL_UP, NTC, 18.3, actual_c=20.0))
    assert "a display of 18.3 °C means counts 58" in text
    assert "at a true 20 °C, that would be explained by:" in text
    assert "- corroded contact:" in text and "in series" in text
    assert "! Switch the controlled load off" in text
    frame = seen(PULL_UP, NTC, 18.3, actual_c=20.0).to_frame()
    assert frame["kind"].tolist() == ["corroded contact"] and frame["unit"].tolist() == ["Ω"]


def test_a_family_stands_for_its_nominal_curve() -> None:
    family = tf.family("ntc-10k-3977")
    ours, theirs = (
        str(seen(PULL_UP, part, 18.3, actual_c=20.0)) for part in (family, family.curve)
    )
    assert ours == theirs
    assert PULL_UP.counts_at(family, 25.0) == 512.0
    assert PULL_UP.temperature(family, 600) == PULL_UP.temperature(family.curve, 600)
    with pytest.raises(InputError, match="leaves R25 open"):
        seen(PULL_UP, tf.family("ntc-ratio-3544"), 18.3)
    with pytest.raises(InputError, match=r"thermofit\.family"):
        seen(PULL_UP, "ntc-10k-3977", 18.3)  # type: ignore[arg-type]


def test_a_display_outside_the_valid_range_is_said_to_be_so() -> None:
    narrow = NTC.replace(t_range_c=(0.0, 50.0))
    assert any("valid range of 0 to 50" in note for note in seen(PULL_UP, narrow, -5.0).notes)
    assert not any("valid range" in note for note in seen(PULL_UP, narrow, 5.0).notes)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"reading_c": np.nan}, "reading_c must be a finite"),
        ({"reading_c": "20"}, "reading_c must be a finite"),
        ({"display_step_k": 0.0}, "above 0"),
        ({"actual_c": np.inf}, "actual_c must be a finite"),
        ({"fallback_c": np.nan}, "fallback_c must be a finite"),
        ({"wrong": 3, "actual_c": 20.0}, "mapping of names"),
        ({"reading_c": -300.0}, "no resistance at -300"),
    ],
)
def test_displays_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    call = {"reading_c": 20.0} | settings
    with pytest.raises(InputError, match=words):
        seen(PULL_UP, NTC, call.pop("reading_c"), **call)


# -- tolerances ----------------------------------------------------------------------------


def test_an_error_that_healthy_parts_may_have_is_no_fault_yet() -> None:
    """At 20 °C the sensor has 4.63 %/K: 1 % of it and 1 % of the resistor are 0.216 K each, and
    half a count is 0.044 K."""
    family = tf.Family(NTC, r25_tol_pct=1.0)
    divider = PULL_UP.replace(pull_pct=1.0)
    found = seen(divider, family, 20.3, actual_c=20.0)
    assert found.explanations[0].kind == "tolerances" and found.of("moisture") is not None
    allowed = found.of("tolerances")
    budget = divider.error_budget(family, 20.0)
    assert allowed is not None
    assert (allowed.low, allowed.high) == (budget.worst_low_k[0], budget.worst_high_k[0])
    assert "healthy parts at their limits err by -0.47 to +0.48 K" in str(found)
    # Beyond the limits, and the half digit that the display rounds off, it must be a fault.
    beyond = round(20.0 + allowed.high + 0.06, 1)
    assert seen(divider, family, beyond + 0.1, actual_c=20.0).of("tolerances") is None
    # Exact parts have no tolerance, and what reads right needs none.
    assert seen(PULL_UP, NTC, 20.3, actual_c=20.0).of("tolerances") is None
    assert seen(divider, family, 20.0, actual_c=20.0).of("tolerances") is None


def test_a_size_is_said_to_take_all_else_for_exact() -> None:
    assert "otherwise exact" in str(seen(PULL_UP, NTC, 18.3, actual_c=20.0))


def test_at_an_end_of_the_scale_the_voltage_has_no_end() -> None:
    """The reference is half the supply, so that an open sensor puts twice that on the pin."""
    own = PULL_UP.replace(converter=Converter(bits=10, reference_v=2.5))
    found = seen(own, NTC, -90.0)
    assert found.low_counts == 1023.0 and found.high_v == np.inf
    assert "2.4976 V or more" in str(found)
    found = seen(PULL_UP, NTC, 600.0)
    assert found.low_counts == 0.0 and found.low_v == -np.inf and found.low_ohm == 0.0


def test_who_measures_the_sensor_disconnects_it() -> None:
    text = str(seen(PULL_UP, NTC, 18.3, actual_c=20.0))
    assert "both its leads disconnected" in text and "Isolate the power" in text


def test_only_what_is_a_circuit_and_a_display_is_seen() -> None:
    with pytest.raises(InputError, match="Divider or a ConstantCurrent"):
        seen("divider", NTC, 20.0)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="display_step_k, right"):
        seen(PULL_UP, NTC, 20.0, display_step_k=1000.0)
    # A wrong part is looked at though there is no temperature to compare it at.
    with pytest.raises(InputError, match="mapping of names"):
        seen(PULL_UP, NTC, 20.0, wrong=5e3)  # type: ignore[arg-type]
