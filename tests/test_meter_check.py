"""A meter range checked on a resistor of known value."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.budget import Budget, Contribution
from thermofit.errors import InputError, ThermofitWarning
from thermofit.instruments import Meter, MeterRange

METER = Meter.parse("0.5%+3 @4k/1; 0.8%+3 @40k/10")
GAIN_ONLY = Meter.parse("1%", full_scale_ohm=40e3)

readings = st.floats(1e3, 39e3)


def test_correction_and_uncertainty_by_the_formula() -> None:
    # R = S·R_s/S_s with 10 kΩ ± 0.1 % shown as 10.05 kΩ; all written out (JCGM 100, equation 10).
    budget = METER.checked_on(10e3, 10050.0, tolerance_pct=0.1).measure(12060.0)
    assert budget.value == pytest.approx(12000.0)
    resistor = 12000.0 * 1e-3 / math.sqrt(3.0)
    counts, step = 30.0 / math.sqrt(3.0), 10.0 / math.sqrt(12.0)
    at_check, at_reading = 12000.0 / 10050.0, 10e3 / 10050.0
    expected = math.sqrt(resistor**2 + (counts**2 + step**2) * (at_check**2 + at_reading**2))
    assert budget.standard_uncertainty == pytest.approx(expected)
    assert budget.standard_uncertainty < METER.measure(12060.0).standard_uncertainty / 2.0


def test_sensitivities_are_slopes() -> None:
    def r_ohm(resistor: float = 10e3, at_check: float = 10050.0, shown: float = 12060.0) -> float:
        return METER.checked_on(resistor, at_check, tolerance_pct=0.1).measure(shown).value

    checked = METER.checked_on(10e3, 10050.0, tolerance_pct=0.1)
    parts = {part.name: part.sensitivity for part in checked.measure(12060.0).contributions}
    assert parts["check resistor"] == pytest.approx(r_ohm(10000.5) - r_ohm(9999.5), rel=1e-6)
    assert parts["check: meter counts"] == pytest.approx(
        r_ohm(at_check=10050.5) - r_ohm(at_check=10049.5), rel=1e-6
    )
    assert parts["meter counts"] == pytest.approx(r_ohm(shown=12061) - r_ohm(shown=12060), rel=1e-6)
    assert parts["meter resolution"] == parts["meter counts"]


@given(readings, readings, st.floats(-0.9, 0.9))
def test_a_gain_error_is_inverted_exactly(
    resistor_ohm: float, r_ohm: float, error_pct: float
) -> None:
    gain = 1.0 + error_pct / 100.0
    checked = GAIN_ONLY.checked_on(resistor_ohm, resistor_ohm * gain, u_ohm=0.0)
    budget = checked.measure(r_ohm * gain)
    assert budget.value == pytest.approx(r_ohm, rel=1e-12)
    assert budget.standard_uncertainty == 0.0


@given(readings, readings, st.floats(0.001, 0.7), st.integers(0, 3), st.floats(0.001, 10.0))
def test_it_never_claims_less_than_the_resistor(
    resistor_ohm: float, shown_ohm: float, tolerance_pct: float, counts: int, step_ohm: float
) -> None:
    meter = Meter((MeterRange(0.8, counts, step_ohm, 40e3),))
    checked = meter.checked_on(resistor_ohm, resistor_ohm, tolerance_pct=tolerance_pct)
    budget, before = checked.measure(shown_ohm), meter.measure(shown_ohm)
    (check,) = checked.checks
    relative = budget.standard_uncertainty / budget.value
    if check.helps:
        assert relative >= tolerance_pct / 100.0 / math.sqrt(3.0) * (1.0 - 1e-12)
    else:
        assert budget.standard_uncertainty == before.standard_uncertainty


@pytest.mark.parametrize(("k", "divisor"), [(None, math.sqrt(3.0)), (2.0, 2.0)])
def test_the_maker_is_believed_where_he_knows_more(k: float | None, divisor: float) -> None:
    meter = Meter((MeterRange(0.8, full_scale_ohm=40e3, k=k),))
    limit_ohm = 10e3 * 0.008 / divisor
    better = meter.checked_on(10e3, 10010.0, u_ohm=0.999 * limit_ohm)
    worse = meter.checked_on(10e3, 10010.0, u_ohm=1.001 * limit_ohm)
    assert better.measure(10010.0).value == pytest.approx(10e3)
    assert worse.measure(10010.0).value == 10010.0
    assert worse.measure(10e3).standard_uncertainty == meter.measure(10e3).standard_uncertainty
    assert "nothing is corrected" in str(worse.measure(10e3))
    assert "corrected by 0.999001" in str(better.measure(10e3))


def test_counts_keep_the_coverage_factor_of_the_range() -> None:
    meter = Meter((MeterRange(0.8, 3, 10.0, 40e3, k=2.0),))
    parts = meter.checked_on(10e3, 10e3, tolerance_pct=0.1).measure(10e3).contributions
    counts = [part.effect for part in parts if part.name.endswith("meter counts")]
    assert counts == pytest.approx([-15.0, 15.0])


def test_a_low_place_in_the_range_teaches_nothing() -> None:
    # At 300 Ω the three counts of 10 Ω are 10 %, against a gain of 0.8 %.
    meter = METER.checked_on(300.0, 300.0, tolerance_pct=0.01, range_ohm=40e3)
    assert meter.measure(30e3).value == METER.measure(30e3).value
    assert not meter.checks[0].helps


def test_only_the_range_that_was_checked_is_corrected() -> None:
    checked = METER.checked_on(10e3, 10050.0, tolerance_pct=0.1)
    assert checked.measure(1870.0) == METER.measure(1870.0)
    assert checked.measure(1870.0, range_ohm=40e3).value == pytest.approx(1870.0 / 1.005)
    by_hand = METER.checked_on(2e3, 2010.0, tolerance_pct=0.1, range_ohm=40e3)
    assert by_hand.measure(1870.0) == METER.measure(1870.0)


def test_a_new_check_takes_the_place_of_the_old_one() -> None:
    first = METER.checked_on(10e3, 10050.0, tolerance_pct=0.1)
    assert first.checked_on(20e3, 20040.0, tolerance_pct=0.1) == METER.checked_on(
        20e3, 20040.0, tolerance_pct=0.1
    )
    both = first.checked_on(2e3, 2002.0, tolerance_pct=0.05)
    assert both.measure(20100.0).value == pytest.approx(20e3)
    assert both.measure(1001.0).value == pytest.approx(1e3)
    assert METER.checks == ()


def test_two_readings_share_the_check() -> None:
    checked = METER.checked_on(10e3, 10050.0, tolerance_pct=0.1)
    one, other = checked.measure(10050.0), checked.measure(20100.0)
    shared = sum(
        mine.effect * theirs.effect
        for mine, theirs in zip(one.contributions, other.contributions, strict=True)
        if mine.name != "meter resolution"
    )
    assert one.covariance(other) == pytest.approx(shared)
    low = checked.checked_on(3e3, 3e3, tolerance_pct=0.1)
    assert low.measure(3e3).covariance(low.measure(10e3)) == 0.0


@pytest.mark.parametrize(
    ("known", "resistor"), [({"tolerance_pct": 0.1}, 1e-3 / math.sqrt(3.0)), ({"u_ohm": 3.0}, 1e-3)]
)
def test_one_resistor_for_two_ranges_is_one_error(known: dict[str, float], resistor: float) -> None:
    meter = Meter.parse("0.5%+1 @4k/1; 0.8%+1 @40k/1")
    checked = meter.checked_on(3e3, 3e3, **known)  # type: ignore[arg-type]
    checked = checked.checked_on(3e3, 3e3, range_ohm=40e3, **known)  # type: ignore[arg-type]
    assert checked.measure(3e3).covariance(checked.measure(30e3)) == pytest.approx(
        resistor * 3e3 * resistor * 30e3
    )


def test_leads_are_taken_off_the_check_and_off_the_readings() -> None:
    meter = Meter((MeterRange(1.0, 1, 0.01, 400.0),))
    leads = meter.leads(0.50)
    checked = meter.checked_on(100.0, 101.50, tolerance_pct=0.05, leads=leads)  # gain 1.01
    corrected = checked.leads(0.50)
    assert checked.measure(202.50, leads=corrected).value == pytest.approx(200.0)
    # The leads are one error, which at the resistor's own value the check has taken out.
    at_check = checked.measure(101.50, leads=leads)
    combined = sum(part.effect for part in at_check.contributions if "leads" in part.shared)
    assert combined == pytest.approx(0.0, abs=0.011 * leads.standard_uncertainty)


def test_leads_read_in_a_checked_range_are_corrected_too() -> None:
    checked = METER.checked_on(2e3, 2010.0, tolerance_pct=0.1)
    assert checked.leads(10.05).value == pytest.approx(10.0)


def test_what_is_out_of_all_limits_is_said() -> None:
    # Both allow 0.8 % of 10.14 kΩ + 30 Ω + half a step of 10 Ω + 10 Ω of the resistor: 126 Ω.
    within = METER.checked_on(10e3, 10120.0, tolerance_pct=0.1)
    assert "out of its stated limits" not in str(within.measure(10e3))
    with pytest.warns(ThermofitWarning, match=r"meter or the resistor is out .*± 126 Ω"):
        beyond = METER.checked_on(10e3, 10140.0, tolerance_pct=0.1)
    assert "out of its stated limits" in str(beyond.measure(10e3))
    with pytest.warns(ThermofitWarning, match="out of its stated limits"):
        METER.checked_on(10e3, 9860.0, tolerance_pct=0.1)
    # Leads may be off by their 95 % interval too, ± 3 Ω at u = 1.53 Ω.
    leads = Budget(0.0, "Ω", [Contribution("leads", 3.0, k=1.96, unit="Ω")])
    METER.checked_on(10e3, 10128.0, tolerance_pct=0.1, leads=leads)
    with pytest.warns(ThermofitWarning):
        METER.checked_on(10e3, 10128.0, tolerance_pct=0.1)
    # A standard uncertainty allows its 95 % interval.
    METER.checked_on(10e3, 10140.0, u_ohm=12.7)
    with pytest.warns(ThermofitWarning):
        METER.checked_on(10e3, 10140.0, u_ohm=10.0)


@given(st.lists(st.integers(998, 1002), min_size=2, max_size=8))
def test_repeated_readings_scatter_as_the_guide_says(steps: list[int]) -> None:
    # s²/n with n − 1 degrees of freedom: JCGM 100, 4.2.2 and 4.2.3.
    shown = [10.0 * step for step in steps]
    n, mean = len(shown), sum(shown) / len(shown)
    u_ohm = math.sqrt(sum((one - mean) ** 2 for one in shown) / (n - 1) / n)
    budget = METER.measure(shown)
    (scatter,) = [part for part in budget.contributions if part.name == "meter scatter"]
    assert budget.value == pytest.approx(mean)
    assert scatter.effect == pytest.approx(u_ohm)
    assert scatter.dof == n - 1
    once = METER.measure(mean).standard_uncertainty
    assert budget.standard_uncertainty == pytest.approx(math.hypot(once, u_ohm))
    # Of a check it stays, in part of the reading.
    checked = METER.checked_on(10e3, shown, tolerance_pct=0.1)
    (kept,) = [
        part for part in checked.measure(mean).contributions if part.name == "check: meter scatter"
    ]
    assert abs(kept.effect) == pytest.approx(u_ohm * 10e3 / mean)
    assert kept.dof == n - 1


@pytest.mark.parametrize(
    ("resistor_ohm", "shown_ohm", "settings", "words"),
    [
        (10e3, 10e3, {}, "once: tolerance_pct"),
        (10e3, 10e3, {"tolerance_pct": 0.1, "u_ohm": 1.0}, "once: tolerance_pct"),
        (10e3, 10e3, {"tolerance_pct": -0.1}, "at least 0"),
        (10e3, 10e3, {"u_ohm": math.nan}, "finite"),
        (1e3, 10e3, {"u_ohm": 1.0}, "check both prefixes"),
        (10e3, 8.9e3, {"u_ohm": 1.0}, "check both prefixes"),
        (0.0, 10e3, {"u_ohm": 1.0}, "above 0"),
        (10e3, 0.0, {"u_ohm": 1.0}, "above 0"),
        (50e3, 50e3, {"u_ohm": 1.0}, "beyond the largest range"),
        (10e3, 10e3, {"u_ohm": 1.0, "range_ohm": 400e3}, "no range"),
    ],
)
def test_checks_that_make_no_sense(
    resistor_ohm: float, shown_ohm: float, settings: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        METER.checked_on(resistor_ohm, shown_ohm, **settings)


def test_a_check_belongs_to_its_meter() -> None:
    checks = METER.checked_on(10e3, 10e3, tolerance_pct=0.1).checks
    with pytest.raises(InputError, match="ranges that it does not have"):
        Meter(GAIN_ONLY.ranges, checks=checks)
    with pytest.raises(InputError, match="two of one range"):
        Meter(METER.ranges, checks=checks * 2)
