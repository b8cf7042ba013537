"""Meters and thermometers: what their makers print, as standard uncertainties."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.errors import InputError
from thermofit.instruments import Meter, MeterRange, Thermometer, resolution_of, self_heating

METER = Meter.parse("0.5%+3 @4k/1; 0.8%+3 @40k/10")


def effect(budget: Any, name: str) -> float:
    """Effect of one contribution, by its name."""
    (found,) = [part.effect for part in budget.contributions if part.name == name]
    return float(found)


def test_accuracy_is_percent_and_counts() -> None:
    # 0.8 % of 32.60 kΩ is 260.8 Ω; three counts of 10 Ω are 30 Ω.
    accuracy = effect(METER.measure(32600.0), "meter accuracy")
    assert accuracy == pytest.approx((260.8 + 30.0) / math.sqrt(3.0))
    assert effect(METER.measure(32600.0), "meter resolution") == pytest.approx(10 / math.sqrt(12))


def test_a_stated_k_makes_it_normal() -> None:
    budget = Meter.parse("1% k=2").measure(1000.0)
    assert budget.standard_uncertainty == pytest.approx(5.0)
    assert "stated k = 2" in str(budget)
    assert "rectangular since no k is stated" in str(METER.measure(1000.0))


@pytest.mark.parametrize(
    ("shown_ohm", "full_scale_ohm"), [(1.0, 4e3), (4e3, 4e3), (4001.0, 40e3), (40e3, 40e3)]
)
def test_the_range_is_the_most_sensitive_that_fits(shown_ohm: float, full_scale_ohm: float) -> None:
    assert METER.range_for(shown_ohm).full_scale_ohm == full_scale_ohm


def test_a_range_by_hand() -> None:
    assert effect(METER.measure(1000.0, range_ohm=40e3), "meter accuracy") == pytest.approx(
        38.0 / math.sqrt(3.0)
    )
    with pytest.raises(InputError, match="beyond the range"):
        METER.measure(4001.0, range_ohm=4e3)
    with pytest.raises(InputError, match=r"it has 4\.0000 kΩ, 40\.000 kΩ"):
        METER.measure(1000.0, range_ohm=20e3)


def test_beyond_the_meter() -> None:
    with pytest.raises(InputError, match=r"beyond the largest range.*40\.000 kΩ"):
        METER.measure(40001.0)


@given(st.floats(1e-3, 10.0), st.integers(0, 50), st.floats(1.0, 4e4))
def test_units_do_not_matter(pct: float, counts: int, shown: float) -> None:
    in_ohm = Meter.parse(f"{pct!r}%+{counts} @40k/10").measure(shown)
    in_megohm = Meter.parse(f"{pct!r}%+{counts} @40G/10M").measure(shown * 1e6)
    assert in_megohm.standard_uncertainty == pytest.approx(in_ohm.standard_uncertainty * 1e6)


def test_two_readings_share_the_error_of_their_range_only() -> None:
    one, same, other = (METER.measure(r_ohm) for r_ohm in (32600.0, 10000.0, 1870.0))
    accuracy = [effect(budget, "meter accuracy") for budget in (one, same)]
    assert one.covariance(same) == pytest.approx(accuracy[0] * accuracy[1])
    assert one.covariance(other) == 0.0


def test_leads_are_subtracted_and_shared() -> None:
    leads = METER.leads([1.0, 3.0])
    assert leads.value == 2.0
    one, other = METER.measure(102.0, leads=leads), METER.measure(30002.0, leads=leads)
    assert one.value == 100.0
    assert effect(one, "leads") == pytest.approx(-leads.standard_uncertainty)
    assert one.covariance(other) == pytest.approx(leads.standard_uncertainty**2)
    assert one.dof > leads.dof > 1.0


@given(st.floats(100.0, 3e4), st.floats(0.0, 1.0))
def test_a_parallel_path_is_within_what_is_reported(r_ohm: float, share: float) -> None:
    bound = 1e6
    shown = 1.0 / (1.0 / r_ohm + share / bound)  # the path has any conductance up to the bound's
    exact = Meter.parse("0.000001%", full_scale_ohm=40e3)
    budget = exact.measure(shown, parallel_at_least_ohm=bound)
    assert budget.value / r_ohm == pytest.approx(1.0 + r_ohm * (0.5 - share) / bound, rel=1e-3)
    limit = abs(effect(budget, "parallel path")) * math.sqrt(3.0)
    assert abs(budget.value - r_ohm) <= limit * 1.05


def test_sensitivities_of_a_parallel_path_are_slopes() -> None:
    def r_ohm(shown: float) -> float:
        return METER.measure(shown, parallel_at_least_ohm=1e5).value

    part = METER.measure(3e4, parallel_at_least_ohm=1e5).contributions[0]
    assert part.sensitivity == pytest.approx((r_ohm(30001.0) - r_ohm(29999.0)) / 2.0, rel=1e-6)


def test_repeated_readings_bring_their_scatter() -> None:
    budget = METER.measure([998.0, 1000.0, 1002.0])
    assert budget.value == pytest.approx(1000.0)
    assert effect(budget, "meter scatter") == pytest.approx(2.0 / math.sqrt(3.0))


def test_power_of_the_test_current() -> None:
    current = Meter((MeterRange(0.5, full_scale_ohm=40e3, test_current_a=1e-4),))
    voltage = Meter((MeterRange(0.5, full_scale_ohm=40e3, test_voltage_v=0.5),))
    assert current.power_w(10e3) == pytest.approx(1e-4)  # (0.1 mA)² · 10 kΩ
    assert voltage.power_w(10e3) == pytest.approx(25e-6)  # (0.5 V)² / 10 kΩ
    with pytest.raises(InputError, match="test_current_a"):
        METER.power_w(10e3)


@given(st.floats(1e-6, 1e-2), st.floats(1e-4, 1.0), st.floats(0.0, 20.0), st.floats(0.0, 20.0))
def test_self_heating_is_power_over_dissipation(
    power_w: float, factor: float, factor_pct: float, power_pct: float
) -> None:
    rise = self_heating(
        power_w, dissipation_w_per_k=factor, medium="stirred water",
        dissipation_limit_pct=factor_pct, power_limit_pct=power_pct,
    )  # fmt: skip
    assert rise.value == pytest.approx(power_w / factor)
    # Relative uncertainties of a quotient add in squares (JCGM 100, 5.1.6).
    assert rise.standard_uncertainty / rise.value == pytest.approx(
        math.hypot(factor_pct, power_pct) / 100.0 / math.sqrt(3.0), abs=1e-12
    )


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"power_w": -1.0}, "power"),
        ({"dissipation_w_per_k": 0.0}, "dissipation factor"),
        ({"medium": "oil"}, "still air, moving air, stirred water"),
        ({"dissipation_limit_pct": 101.0}, "100 %"),
        ({"power_limit_pct": -1.0}, "at least 0"),
    ],
)
def test_self_heating_that_makes_no_sense(settings: dict[str, Any], words: str) -> None:
    usual: dict[str, Any] = {
        "power_w": 1e-4, "dissipation_w_per_k": 2e-3, "medium": "still air",
        "dissipation_limit_pct": 20.0,
    }  # fmt: skip
    usual |= settings
    with pytest.raises(InputError, match=words):
        self_heating(usual.pop("power_w"), **usual)


@pytest.mark.parametrize(
    ("text", "limit_at_100_k"),
    [
        ("0.5C", 0.5), ("±0.5 °C", 0.5), ("0.9F", 0.5), ("0.5%+0.3C", 0.8), ("0.3C + 0.5%", 0.8),
        ("class A", 0.35), ("Class B", 0.8),  # IEC 60751, from memory
    ],
)  # fmt: skip
def test_thermometers_as_they_are_written(text: str, limit_at_100_k: float) -> None:
    thermometer = Thermometer.parse(text)
    assert thermometer.limit_at_k(100.0) == pytest.approx(limit_at_100_k)
    assert thermometer.measure(100.0).standard_uncertainty == pytest.approx(
        limit_at_100_k / math.sqrt(3.0)
    )


def test_resolution_and_k_of_a_thermometer() -> None:
    budget = Thermometer.parse("0.5C/0.1C k=2").measure(20.0)
    assert effect(budget, "thermometer accuracy") == pytest.approx(0.25)
    assert effect(budget, "thermometer resolution") == pytest.approx(0.1 / math.sqrt(12.0))
    assert budget.uncertainty_unit == "K"


def test_two_readings_of_one_thermometer_share_its_error() -> None:
    thermometer = Thermometer.parse("0.6C")
    assert thermometer.measure(0.0).covariance(thermometer.measure(70.0)) == pytest.approx(0.12)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("0.5", "no temperature unit"),
        ("-0.5C", "at least 0"),
        ("-1%+0.3C", "at least 0"),
        ("0C", "no accuracy"),
        ("class Z", "classes"),
        ("0.5C+0.3C", "cannot be read"),
        ("0.5C/0C", "above 0"),
        ("0.5C k=0", "above 0"),
        ("good", "number"),
    ],
)
def test_thermometers_that_make_no_sense(text: str, words: str) -> None:
    with pytest.raises(InputError, match=words):
        Thermometer.parse(text)


def test_thermometer_readings_and_statements_that_make_no_sense() -> None:
    with pytest.raises(InputError, match=r"-273\.15"):
        Thermometer.parse("0.5C").measure(-300.0)
    with pytest.raises(InputError, match="keep one"):
        Thermometer(limit_k=0.1, platinum_class="A")
    with pytest.raises(InputError, match="no reading"):
        Thermometer.parse("0.5C").measure([])
    with pytest.raises(InputError, match="resolution_k"):
        Thermometer.parse("0.5C/0.1C", resolution_k=0.1)


@pytest.mark.parametrize(
    ("text", "settings", "words"),
    [
        ("0.8%+3", {}, "resolution_ohm"),
        ("0.8%+3", {"resolution_ohm": 0.0}, "above 0"),
        ("-0.8%+3", {"resolution_ohm": 10.0}, "at least 0"),
        ("0.8%+-3", {"resolution_ohm": 10.0}, "at least 0"),
        ("0%", {}, "no accuracy"),
        ("0.8+3", {"resolution_ohm": 10.0}, "cannot be read"),
        ("0.8%+three", {"resolution_ohm": 10.0}, "not a number"),
        ("0.8%+3 @10/40k", {}, "swapped"),
        ("0.8%+3 @40k/10", {"full_scale_ohm": 4e3}, "so does an argument"),
        ("0.8%+3 @40k/10; 1%+3 @4k/1", {"resolution_ohm": 1.0}, "in each"),
        ("0.8%+3 @40k/10; 1%+3 @40k/10", {}, "two ranges of one full scale"),
        ("0.5%", {"test_current_a": 1e-4, "test_voltage_v": 1.0}, "leave one out"),
    ],
)
def test_meters_that_make_no_sense(text: str, settings: dict[str, float], words: str) -> None:
    with pytest.raises(InputError, match=words):
        Meter.parse(text, **settings)  # type: ignore[arg-type]


@pytest.mark.parametrize("shown_ohm", [0.0, -5.0, math.nan, math.inf, "32.6k", None])
def test_readings_that_make_no_sense(shown_ohm: Any) -> None:
    with pytest.raises(InputError, match="meter reading"):
        METER.measure(shown_ohm)


def test_corrections_that_make_no_sense() -> None:
    with pytest.raises(InputError, match="shorted"):
        METER.measure(1.0, leads=METER.leads(2.0))
    with pytest.raises(InputError, match="dry it"):
        METER.measure(10e3, parallel_at_least_ohm=10e3)
    with pytest.raises(InputError, match="at least 0"):
        METER.leads(-0.1)
    with pytest.raises(InputError, match="no range"):
        Meter(())


@pytest.mark.parametrize(
    ("text", "step_ohm"),
    [
        ("32.6k", 100.0), ("32.60 kΩ", 10.0), ("1870", 1.0), ("4k72", 10.0), ("470R", 1.0),
        ("-0.3", 0.1), ("1,87k", 10.0), ("2M2", 1e5),
    ],
)  # fmt: skip
def test_the_last_digit_is_the_resolution(text: str, step_ohm: float) -> None:
    assert resolution_of(text) == pytest.approx(step_ohm)
