"""Broken sensors and wiring: what the controller believes, and which way it errs."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import (
    Circuit,
    ConstantCurrent,
    Converter,
    Divider,
    FaultLimits,
    FaultRow,
    Faults,
    faults,
)
from thermofit.errors import ExtrapolationWarning, InputError

ADC = Converter(bits=10)
NTC = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, id="inlet", t_range_c=(-60.0, 160.0))
PULL_UP = Divider(pullup_ohm=10e3, supply_v=5.0, converter=ADC)
PULL_DOWN = Divider(pulldown_ohm=10e3, supply_v=5.0, converter=ADC)
FED = ConstantCurrent(
    current_a=50e-6, supply_v=5.0, converter=Converter(bits=12, reference_v=2.5)
)  # fmt: skip
CIRCUITS: list[Circuit] = [PULL_UP, PULL_DOWN, FED]


def only(found: Faults, kind: Any) -> FaultRow:
    (row,) = found.of(kind)
    return row


# -- which way a fault errs ------------------------------------------------------------


@pytest.mark.parametrize("circuit", CIRCUITS, ids=["pull-up", "pull-down", "current"])
def test_an_open_ntc_reads_colder_and_a_shorted_one_warmer(circuit: Circuit) -> None:
    found = faults(circuit, NTC, t_c=20.0)
    opened, shorted = only(found, "open"), only(found, "sensor shorted")
    assert (opened.errs, shorted.errs) == ("colder", "warmer")
    assert opened.end_of_scale and shorted.end_of_scale
    assert opened.reads_c < 0.0 and shorted.reads_c > 120.0
    assert "heating would run" in opened.then_runs
    assert "heating would not" in shorted.then_runs


@pytest.mark.parametrize("circuit", CIRCUITS, ids=["pull-up", "pull-down", "current"])
def test_a_platinum_sensor_errs_the_other_way(circuit: Circuit) -> None:
    found = faults(circuit, tf.family("pt-1000-iec60751").curve, t_c=20.0)
    assert only(found, "open").errs == "warmer"
    assert only(found, "sensor shorted").errs == "colder"


@given(st.sampled_from(CIRCUITS), st.floats(5.0, 40.0), st.floats(300.0, 1e4), st.floats(2e3, 1e6))
def test_contacts_read_colder_and_moisture_warmer(
    circuit: Circuit, t_c: float, contact: float, leak: float
) -> None:
    found = faults(circuit, NTC, t_c=t_c, contact_ohm=[contact], leakage_ohm=[leak])
    healthy = only(found, "none")
    assert healthy.errs == "right" and abs(healthy.reads_c - t_c) < 0.4
    for kind, way, r_ohm in (
        ("corroded contact", "colder", NTC.resistance(t_c) + contact),
        ("moisture", "warmer", 1.0 / (1.0 / NTC.resistance(t_c) + 1.0 / leak)),
    ):
        row = only(found, kind)
        assert row.r_ohm == pytest.approx(r_ohm)
        assert row.voltage_v == pytest.approx(circuit.voltage(r_ohm))
        assert row.counts == circuit.counts(r_ohm)
        if row.counts == healthy.counts:
            assert row.errs == "right"
        else:
            assert row.errs == way
            assert (row.reads_c < healthy.reads_c) == (way == "colder")
        if not row.end_of_scale:
            assert row.reads_c == circuit.temperature(NTC, row.counts)


def test_shorts_of_the_line_hold_it_at_their_voltage() -> None:
    """By hand: with a resistor of 1 kΩ before the line, and 10 kΩ pulling to 5 V, a line at
    ground leaves 5 V/11 at the pin."""
    guarded = PULL_UP.replace(series_ohm=1e3)
    found = faults(guarded, NTC, t_c=20.0)
    assert only(found, "short to ground").voltage_v == pytest.approx(5.0 / 11.0)
    assert only(found, "short to supply").voltage_v == pytest.approx(5.0)
    found = faults(PULL_DOWN.replace(series_ohm=1e3), NTC, t_c=20.0)
    assert only(found, "short to ground").voltage_v == pytest.approx(0.0)
    assert only(found, "short to supply").voltage_v == pytest.approx(50.0 / 11.0)
    # Without it the pin is at the voltage itself.
    found = faults(FED, NTC, t_c=20.0)
    assert only(found, "short to ground").voltage_v == 0.0
    assert only(found, "short to supply").voltage_v == 5.0
    lifted = faults(FED.replace(series_ohm=1e3), NTC, t_c=20.0)
    assert only(lifted, "short to ground").voltage_v == pytest.approx(0.05)


def test_a_source_of_current_has_no_more_than_its_supply() -> None:
    found = faults(FED.replace(series_ohm=1e6), NTC, t_c=20.0)
    assert only(found, "short to ground").voltage_v == 5.0


def test_where_the_healthy_sensor_cannot_be_read_nothing_is_known() -> None:
    coarse = PULL_UP.replace(converter=Converter(bits=3))
    found = faults(coarse, NTC, t_c=-50.0)
    assert only(found, "none").end_of_scale
    assert only(found, "none").errs == only(found, "open").errs == "unknown"
    assert only(found, "sensor shorted").errs == "warmer"


def test_leakage_shows_at_a_line_that_is_held() -> None:
    """1 µA through 1 kΩ and 10 kΩ side by side is 0.909 mV."""
    guarded = PULL_UP.replace(series_ohm=1e3, leakage_a=1e-6)
    found = faults(guarded, NTC, t_c=20.0)
    assert only(found, "short to supply").voltage_v == pytest.approx(5.0 - 1e-2 / 11.0)


def test_a_sagging_supply_is_seen_by_a_reference_that_does_not_follow() -> None:
    fixed = PULL_UP.replace(converter=Converter(bits=10, reference_v=5.0))
    row = only(faults(fixed, NTC, t_c=20.0, sag_pct=[10.0]), "supply sag")
    assert row.voltage_v == pytest.approx(0.9 * fixed.voltage(NTC.resistance(20.0)))
    assert row.errs == "warmer" and row.reads_c > 23.0
    row = only(faults(PULL_UP, NTC, t_c=20.0, sag_pct=[10.0]), "supply sag")
    assert row.errs == "right" and row.voltage_v == pytest.approx(
        0.9 * PULL_UP.voltage(NTC.resistance(20.0))
    )
    # The current does not follow the supply, but a reference that is the supply does.
    own = FED.replace(converter=Converter(bits=12))
    row = only(faults(own, NTC, t_c=20.0, sag_pct=[10.0]), "supply sag")
    position = own.position(NTC.resistance(20.0)) / 0.9
    assert row.counts == np.floor(position) and row.errs == "colder"


def test_a_wrong_part_reads_by_its_own_curve() -> None:
    other = tf.family("ntc-5k-3988").curve
    found = faults(PULL_UP, NTC, t_c=[0.0, 25.0], wrong=other)
    rows = found.of("wrong part")
    assert [row.detail for row in rows] == ["ntc-5k-3988"] * 2
    assert rows[1].r_ohm == pytest.approx(5e3)
    assert rows[1].errs == "warmer"
    assert rows[1].reads_c == pytest.approx(NTC.temperature(5e3), abs=0.1)
    family = tf.family("ntc-5k-3988")
    two = faults(PULL_UP, NTC, t_c=25.0, wrong={"a": family, "b": NTC}).of("wrong part")
    assert [(row.detail, row.errs) for row in two] == [("a", "warmer"), ("b", "right")]


def test_a_fault_of_less_than_a_count_is_not_seen() -> None:
    t_c = PULL_UP.temperature(NTC, 500)  # the middle of a code
    found = faults(PULL_UP, NTC, t_c=t_c, contact_ohm=[1.0], leakage_ohm=[1e9])
    assert only(found, "corroded contact").errs == "right"
    assert only(found, "moisture").errs == "right"


# -- detection -------------------------------------------------------------------------


def test_unknown_limits_verify_nothing() -> None:
    found = faults(PULL_UP, NTC, t_c=20.0, fallback_c=60.0)
    assert {row.detection for row in found} == {"fault detection not verified"}
    assert {row.caught for row in found} == {None}
    assert all(row.uses_c == row.reads_c for row in found)


@pytest.mark.parametrize(
    "limits",
    [
        FaultLimits(low_counts=20, high_counts=1000),
        FaultLimits(low_v=0.1, high_v=4.88),
        FaultLimits(low_ohm=200.0, high_ohm=420e3),
    ],
)
def test_limits_in_any_unit_catch_open_and_short(limits: FaultLimits) -> None:
    found = faults(PULL_UP, NTC, t_c=20.0, limits=limits, fallback_c=60.0)
    for kind in ("open", "sensor shorted", "short to ground", "short to supply"):
        row = only(found, kind)
        assert row.caught is True and row.uses_c == 60.0
        assert row.detection == "caught, uses 60 °C"
        # A fallback above the true temperature is warmer, whatever the fault.
        assert row.use_errs == "warmer"
        # What it would compute errs as ever.
        shorted = kind in ("sensor shorted", "short to ground")
        assert row.errs == ("warmer" if shorted else "colder")
    for row in (only(found, "none"), *found.of("corroded contact"), *found.of("moisture")):
        healthy = row.kind == "none"
        assert row.caught is False
        assert row.detection == ("taken for healthy" if healthy else "not caught")
        assert row.uses_c == row.reads_c and row.use_errs == row.errs


def test_a_limit_is_itself_still_good() -> None:
    limits = FaultLimits(low_counts=20, high_counts=1000)
    codes = [19, 20, 1000, 1001]
    assert limits.caught(PULL_UP, codes).tolist() == [True, False, False, True]
    assert limits.caught(PULL_UP, 19) is True
    one_sided = FaultLimits(high_counts=1000)
    assert one_sided.caught(PULL_UP, [0, 1023]).tolist() == [False, True]


def test_a_fallback_that_is_not_stated_is_not_guessed() -> None:
    limits = FaultLimits(low_counts=20, high_counts=1000)
    row = only(faults(PULL_UP, NTC, t_c=20.0, limits=limits), "open")
    assert row.caught is True and np.isnan(row.uses_c)
    assert row.detection == "caught, fallback not stated"
    assert (row.errs, row.use_errs, row.then_runs) == ("colder", "unknown", "not known")


@pytest.mark.parametrize(("fallback", "way"), [(60.0, "warmer"), (5.0, "colder"), (20.0, "right")])
def test_a_fallback_errs_by_itself(fallback: float, way: str) -> None:
    limits = FaultLimits(low_counts=20, high_counts=1000)
    found = faults(PULL_UP, NTC, t_c=20.0, limits=limits, fallback_c=fallback)
    opened, shorted = only(found, "open"), only(found, "sensor shorted")
    assert opened.use_errs == shorted.use_errs == way
    assert opened.then_runs == shorted.then_runs
    assert ("heating would run" in opened.then_runs) == (way == "colder")


# -- words -----------------------------------------------------------------------------


def test_the_table_cautions_and_says_what_would_run() -> None:
    found = faults(PULL_UP, NTC, t_c=20.0, wrong=tf.family("ntc-5k-3988").curve)
    text = str(found)
    for words in (
        "Switch the controlled load off", "Isolate the power", "fed from the mains",
        "fault detection not verified", "reading colder: heating would run", "1.00 kΩ in series",
        "100 kΩ in parallel", "the reference along with it", "or beyond",
    ):  # fmt: skip
        assert words in text
    frame = found.to_frame()
    assert len(frame) == len(found.rows) == 11
    assert frame.loc[frame["kind"] == "open", "errs"].tolist() == ["colder"]


def test_a_reading_beyond_the_curve_has_no_number() -> None:
    found = faults(PULL_UP, tf.family("pt-1000-iec60751").curve, t_c=20.0)
    row = only(found, "open")
    assert np.isnan(row.reads_c) and row.beyond_curve and row.errs == "warmer"
    assert "beyond the curve" in str(found)


def test_an_extrapolated_reading_is_said_to_be_one() -> None:
    table = tf.Curve.from_table([0, 25, 50], [32554, 10000, 3602])
    found = faults(PULL_UP, table, t_c=20.0)
    assert only(found, "open").beyond_curve and not only(found, "none").beyond_curve
    assert only(found, "open").reads_c < -50.0
    assert "extrapolated" in str(found)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"contact_ohm": [0.0]}, "contact_ohm must be above 0"),
        ({"leakage_ohm": [-1.0]}, "leakage_ohm must be above 0"),
        ({"sag_pct": [100.0]}, "leaves no supply"),
        ({"fallback_c": np.nan}, "fallback_c must be a finite"),
        ({"wrong": 5e3}, "mapping of names"),
        ({"wrong": {"other": 5e3}}, "Family or a Curve, not float"),
        ({"t_c": [[20.0]]}, "shape"),
        ({"t_c": np.nan}, "no resistance at nan"),
        ({"t_c": []}, "not of shape \\(0,\\)"),
        ({"limits": {"low_counts": 20}}, "FaultLimits"),
        ({"contact_ohm": "1k"}, "contact_ohm must be numbers"),
        ({"contact_ohm": [[1e3]]}, "contact_ohm is one size or a list"),
    ],
)
def test_faults_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        faults(PULL_UP, NTC, **({"t_c": 20.0} | settings))


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({}, "at least one"),
        ({"low_counts": 1000, "high_counts": 20}, "no range"),
        ({"low_v": -1.0}, "at least 0"),
        ({"high_ohm": np.nan}, "finite"),
    ],
)
def test_limits_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        FaultLimits(**settings)


def test_one_size_needs_no_list() -> None:
    one = faults(PULL_UP, NTC, t_c=20.0, contact_ohm=470, leakage_ohm=1e6, sag_pct=5)
    several = faults(PULL_UP, NTC, t_c=20.0, contact_ohm=[470.0], leakage_ohm=[1e6], sag_pct=[5.0])
    assert [row.detail for row in one] == [row.detail for row in several]
    assert only(one, "corroded contact").r_ohm == NTC.resistance(20.0) + 470.0


def test_limits_that_a_healthy_sensor_breaks_are_told() -> None:
    limits = FaultLimits(high_counts=500)
    row = only(faults(PULL_UP, NTC, t_c=20.0, limits=limits, fallback_c=12.0), "none")
    assert row.caught and row.detection == "taken for a fault though healthy"
    assert row.uses_c == 12.0 and row.use_errs == "colder"


def test_a_wrong_part_without_a_resistance_there_is_refused() -> None:
    """R = a·exp(b/(T + c)) has none where T is −c: here at 290 K, 16.85 °C."""
    other = tf.Curve.shifted_exponential(a_ohm=1.0, b_k=500.0, c_k=-290.0, t_range_c=(50.0, 90.0))
    with pytest.warns(ExtrapolationWarning), pytest.raises(InputError, match="curve of blue has"):
        faults(PULL_UP, NTC, t_c=16.85, wrong={"blue": other})


def test_only_a_circuit_has_faults() -> None:
    with pytest.raises(InputError, match="Divider or a ConstantCurrent"):
        faults("divider", NTC, t_c=20.0)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("code", "words"), [(np.nan, "missing"), (1024, "has 0 to 1023"), ("x", "must be numbers")]
)
def test_limits_speak_of_codes_that_there_are(code: Any, words: str) -> None:
    with pytest.raises(InputError, match=words):
        FaultLimits(low_counts=20).caught(PULL_UP, code)
