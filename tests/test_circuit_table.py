"""The table of a circuit, the ends of the scale in it, and what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

import thermofit as tf
from tests.circuits import BETA, DIVIDER, FAMILY, beta_ohm
from thermofit.circuit import ConstantCurrent, Converter, Divider
from thermofit.errors import ExtrapolationWarning, InputError


def test_limits_that_reach_the_end_of_the_scale_are_no_number() -> None:
    """With 6 bits and a small resistor, half the codes are below that of −20 °C."""
    divider = Divider(
        pullup_ohm=1e3, pull_pct=5.0, supply_v=5.0, converter=Converter(bits=6, offset_counts=1.0)
    )  # fmt: skip
    table = divider.table(BETA, [-20.0, 60.0])
    assert divider.counts_at(BETA, -20.0) == 63.0
    assert np.isnan(table.low_k[0]) and np.isfinite(table.high_k).all()
    assert np.isfinite(table.low_k[1])
    assert "an end of the converter's scale" in str(table)
    with pytest.raises(InputError, match="cannot read -35 °C"):
        divider.replace(converter=Converter(bits=6, offset_counts=2.0)).error_budget(
            BETA, -35.0
        ).at(-35.0)


@pytest.mark.parametrize(
    ("position", "readable"),
    [(1021.6, True), (1022.2, False), (2.2, False), (2.8, True)],
)
def test_a_code_away_from_the_ends_there_is_no_number(position: float, readable: bool) -> None:
    """An offset of 1.3 counts and half a count more reach the middle of the first code, at 0.5,
    or of the last, at 1023.5; the reference is half the supply, so that more could be decoded."""
    divider = Divider(
        pullup_ohm=10e3, supply_v=5.0,
        converter=Converter(bits=10, reference_v=2.5, offset_counts=1.3),
    )  # fmt: skip
    volts = position / 1024.0 * 2.5
    wide = BETA.replace(t_range_c=(-60.0, 400.0))
    t_c = wide.temperature(10e3 * volts / (5.0 - volts))
    table = divider.table(wide, t_c)
    assert np.isfinite(table.low_k[0]) == (readable or position < 512.0)
    assert np.isfinite(table.high_k[0]) == (readable or position > 512.0)
    assert divider.error_budget(wide, t_c).effects[0].u_k[0] > 0.0


def test_the_table_has_what_the_circuit_says() -> None:
    table = DIVIDER.table(FAMILY, [0.0, 25.0, 50.0])
    frame = table.to_frame()
    assert frame["r_ohm"].to_numpy() == pytest.approx(beta_ohm(frame["t_c"].to_numpy()))
    assert frame["voltage_v"].to_numpy() == pytest.approx(DIVIDER.voltage(table.r_ohm))
    assert frame["counts"].tolist() == DIVIDER.counts(table.r_ohm).tolist()
    assert frame["kelvin_per_count"].to_numpy() == pytest.approx(
        DIVIDER.kelvin_per_count(BETA, table.t_c)
    )
    half = 0.5 * (table.expected_high_k - table.expected_low_k)
    assert half == pytest.approx(1.959964 * table.budget.standard_uncertainty_k)
    assert "R(25 °C) ± 1 %, B ± 0.75 %" in str(table) and "50" in str(table)
    rows = table.budget.to_frame()
    assert len(rows) == 3 * len(table.budget.effects)
    assert set(rows["contribution"]) >= {"pull resistor", "leakage", "noise"}


def test_outside_the_valid_range_a_warning_is_heard() -> None:
    with pytest.warns(ExtrapolationWarning, match="130"):
        DIVIDER.table(BETA, [25.0, 130.0])


@pytest.mark.parametrize(
    ("part", "settings", "words"),
    [
        ("inlet", {}, "Family or a Curve, not str"),
        (tf.family("ntc-ratio-3544"), {}, "leaves R25 open"),
        (BETA, {"r25_pct": 1.0, "tolerance": tf.Tolerance.of(r25_pct=1.0)}, "give one"),
        (BETA, {"r25_pct": -1.0}, "not negative"),
        (BETA, {"dissipation_mw_per_k": 0.0}, "above 0"),
        (BETA, {"coverage": 1.0}, "between 0 and 1"),
    ],
)
def test_tables_that_cannot_be(part: Any, settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        DIVIDER.table(part, 25.0, **settings)


def test_temperatures_are_a_list() -> None:
    with pytest.raises(InputError, match="shape"):
        DIVIDER.error_budget(BETA, [[0.0, 25.0]])


def test_beyond_the_scale_nothing_is_known_of_a_reading() -> None:
    """At −20 °C, 107 kΩ and 45 µA put 4.8 V on a converter that ends at 2.5 V: whatever the limits
    are, it is the last code, and no count is worth a kelvin."""
    fed = ConstantCurrent(
        current_a=45e-6, supply_v=12.0, converter=Converter(bits=12, reference_v=2.5, gain_pct=0.1)
    )
    assert fed.voltage(beta_ohm(-20.0)) > 4.8
    table = fed.table(FAMILY, [-20.0, 25.0], dissipation_mw_per_k=2.0)
    assert fed.kelvin_per_count(BETA, -20.0) == table.kelvin_per_count[0] == np.inf
    for column in (table.low_k, table.high_k, table.expected_low_k, table.expected_high_k):
        assert np.isnan(column[0]) and np.isfinite(column[1])
    for effect in table.budget.effects:
        assert np.isnan([effect.low_k[0], effect.high_k[0], effect.u_k[0]]).all(), effect.name
    row = str(table).splitlines()[1].split()
    assert row[-3:] == ["∞", "?", "?"]
    assert "nan" not in str(table) and "nan" not in str(table.budget)
    assert "(?: an end of the converter's scale" in str(table.budget)


def test_the_table_says_which_error_is_the_worst() -> None:
    header = str(DIVIDER.table(FAMILY, 25.0, coverage=0.99)).splitlines()[0]
    assert "worst error / K" in header and "99 % of errors / K" in header


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"tolerance": "1 %"}, "must be a Tolerance"),
        ({"t_c": []}, "not of shape \\(0,\\)"),
    ],
)
def test_budgets_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        DIVIDER.error_budget(BETA, **({"t_c": 25.0} | settings))


@pytest.mark.parametrize("span", [5.0, (0.0,), (0.0, 30.0, 60.0), "ab", (60.0, 0.0)])
def test_the_span_of_the_controller_is_a_pair(span: Any) -> None:
    with pytest.raises(InputError, match="ambient_c"):
        DIVIDER.replace(ambient_c=span)


def test_no_interval_is_wider_than_the_worst_case() -> None:
    """Where one resistor is all there is to err, 95 % lie within less than its limits, though
    1.96·a/√3 is more than its half-width a."""
    divider = Divider(
        pullup_ohm=10e3, pull_pct=5.0, supply_v=5.0, converter=Converter(bits=16)
    )  # fmt: skip
    table = divider.table(BETA, [0.0, 25.0, 50.0])
    assert (table.expected_low_k == table.low_k).all()
    assert (table.expected_high_k == table.high_k).all()
    # Where the worst case is not known, the interval of a reading within the scale still is, and
    # of one at its end it is not.
    own = Divider(
        pullup_ohm=10e3, supply_v=5.0,
        converter=Converter(bits=10, reference_v=2.5, offset_counts=1.3),
    )  # fmt: skip
    table = own.table(BETA, [25.1, 24.97])
    assert table.counts.tolist() == [1021.0, 1023.0]
    assert np.isnan(table.low_k).all() and np.isfinite(table.high_k).all()
    assert np.isfinite(table.expected_low_k).tolist() == [True, False]
    assert np.isfinite(table.expected_high_k).tolist() == [True, False]
