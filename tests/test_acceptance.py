"""The bench table, against the verdict on readings at its limits."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.decide import acceptance_limits, check
from thermofit.decide.rule import RuleName
from thermofit.errors import ExtrapolationError, InputError
from thermofit.units import parse_resistance

# Invented: an air sensor of a glasshouse climate controller.
CURVE = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
FAMILY = tf.Family(CURVE.replace(id="air"), r25_tol_pct=2.0, b_tol_pct=1.0)


def test_a_sensor_at_25_degrees_is_limited_by_r25_alone() -> None:
    """By hand: ± 2 % of 10 kΩ, and 1.645 times the standard uncertainty of 0.3 %."""
    limits = acceptance_limits(FAMILY, 25.0, u_t_k=0.0, u_r_pct=0.3)
    assert float(limits.low_ohm) == pytest.approx(9800.0, rel=1e-9)
    assert float(limits.high_ohm) == pytest.approx(10200.0, rel=1e-9)
    more, less = 1.0 + 1.6448536 * 0.003, 1.0 - 1.6448536 * 0.003
    assert float(limits.accept_low_ohm) == pytest.approx(9800.0 * more, rel=1e-8)
    assert float(limits.accept_high_ohm) == pytest.approx(10200.0 * less, rel=1e-8)
    assert float(limits.reject_below_ohm) == pytest.approx(9800.0 * less, rel=1e-8)
    assert float(limits.reject_above_ohm) == pytest.approx(10200.0 * more, rel=1e-8)
    assert float(limits.u_k) == pytest.approx(0.003 / (3977.0 / 298.15**2), rel=1e-9)


def test_constant_b_widens_away_from_25_degrees_as_the_textbook_says() -> None:
    """R = 1.02·R25·exp(B·1.01·(1/T − 1/T0)): both limits at their worst, at 0 °C."""
    limits = acceptance_limits(FAMILY, 0.0, u_t_k=0.1)
    u = 1.0 / 273.15 - 1.0 / 298.15
    assert float(limits.high_ohm) == pytest.approx(10200.0 * np.exp(1.01 * 3977.0 * u), rel=1e-12)
    assert float(limits.low_ohm) == pytest.approx(9800.0 * np.exp(0.99 * 3977.0 * u), rel=1e-12)
    assert any("taken as exact" in note for note in limits.notes)


@given(
    st.floats(-20.0, 100.0), st.floats(0.001, 0.2), st.floats(0.01, 0.4),
    st.sampled_from(["u_r_pct", "u_r_ohm"]), st.sampled_from([0.01, 0.05, 0.2]),
)  # fmt: skip
def test_a_reading_just_inside_a_limit_is_decided_as_the_table_says(
    t_c: float, u_t_k: float, u_r: float, name: str, risk: float
) -> None:
    r_nominal = CURVE.resistance(t_c)
    meter: dict[str, Any] = {name: u_r if name == "u_r_pct" else 0.01 * u_r * r_nominal}
    table = acceptance_limits(FAMILY, t_c, u_t_k=u_t_k, risk=risk, **meter)

    def decided(r_ohm: float) -> str:
        if name == "u_r_pct":
            bare = tf.Points([t_c], [r_ohm])
            v = check(bare, FAMILY, risk=risk, u_t_k=u_t_k, u_r_pct=u_r)
        else:
            stated = tf.Points([t_c], [r_ohm], u_t_k=u_t_k, u_r_ohm=meter[name])
            v = check(stated, FAMILY, risk=risk)
        return str(v.readings.verdict[0])

    for limit, inwards in ((table.reject_below_ohm, 1.0), (table.reject_above_ohm, -1.0)):
        assert decided(float(limit) * (1.0 + 1e-7 * inwards)) != "reject"
        assert decided(float(limit) * (1.0 - 1e-7 * inwards)) == "reject"
    if np.isfinite(table.accept_low_ohm):
        width = float(table.accept_high_ohm / table.accept_low_ohm) - 1.0
        if width > 1e-5:
            for limit, inwards in ((table.accept_low_ohm, 1.0), (table.accept_high_ohm, -1.0)):
                assert decided(float(limit) * (1.0 + 1e-7 * inwards)) == "accept"
                assert decided(float(limit) * (1.0 - 1e-7 * inwards)) == "cannot tell"


@given(st.floats(0.001, 0.3), st.floats(1.01, 5.0))
def test_better_instruments_leave_less_untold(u_t_k: float, coarser: float) -> None:
    t_c = np.array([-10.0, 25.0, 70.0])
    fine = acceptance_limits(FAMILY, t_c, u_t_k=u_t_k)
    coarse = acceptance_limits(FAMILY, t_c, u_t_k=coarser * u_t_k)
    assert (coarse.reject_below_ohm < fine.reject_below_ohm).all()
    assert (coarse.reject_above_ohm > fine.reject_above_ohm).all()
    able = np.isfinite(coarse.accept_low_ohm)
    assert (coarse.accept_low_ohm > fine.accept_low_ohm)[able].all()


@given(
    st.floats(-20.0, 100.0), st.floats(0.0, 0.3), st.floats(0.1, 5000.0),
    st.sampled_from(["guarded", "simple"]),
)  # fmt: skip
def test_a_reading_exactly_on_a_limit_is_decided_as_the_table_says(
    t_c: float, u_t_k: float, u_r_ohm: float, rule: RuleName
) -> None:
    """To the last digit, however coarse the meter; the table has more rows than one."""
    plan: dict[str, Any] = {"u_t_k": u_t_k, "u_r_ohm": u_r_ohm, "rule": rule}
    table = acceptance_limits(FAMILY, [t_c, 10.0, 20.0, 30.0, 50.0], **plan)
    ends = [float(end[0]) for end in (
        table.reject_below_ohm, table.accept_low_ohm, table.accept_high_ohm, table.reject_above_ohm
    )]  # fmt: skip

    def decided(r_ohm: float) -> str:
        p = tf.Points([t_c], [r_ohm], u_t_k=u_t_k, u_r_ohm=u_r_ohm)
        v = check(p, FAMILY, rule=rule)
        found = (v.readings.reject_below_ohm, v.readings.accept_low_ohm,
                 v.readings.accept_high_ohm, v.readings.reject_above_ohm)  # fmt: skip
        np.testing.assert_array_equal(np.concatenate(found), ends)
        assert (v.verdict == "reject") == (v.readings.verdict[0] == "reject")
        return str(v.readings.verdict[0])

    if np.isfinite(ends[0]):
        assert decided(ends[0]) != "reject"
        assert decided(float(np.nextafter(ends[0], 0.0))) == "reject"
    if np.isfinite(ends[1]):
        assert decided(ends[1]) == decided(ends[2]) == "accept"
        assert decided(float(np.nextafter(ends[1], 0.0))) != "accept"
        assert decided(float(np.nextafter(ends[2], np.inf))) != "accept"
    assert decided(ends[3]) != "reject"
    assert decided(float(np.nextafter(ends[3], np.inf))) == "reject"


def test_a_meter_too_coarse_to_reject_anything_low_has_no_such_limit() -> None:
    """By hand: 1 kΩ and 19 kΩ, and 1.645 times 3 kΩ."""
    limits = acceptance_limits(CURVE, 25.0, u_t_k=0.0, u_r_ohm=3000.0, r25_pct=90.0, b_pct=1.0)
    assert np.isnan(limits.reject_below_ohm)
    assert float(limits.accept_low_ohm) == pytest.approx(1000.0 + 1.6448536 * 3000.0, rel=1e-7)
    assert float(limits.accept_high_ohm) == pytest.approx(19000.0 - 1.6448536 * 3000.0, rel=1e-7)
    assert float(limits.reject_above_ohm) == pytest.approx(19000.0 + 1.6448536 * 3000.0, rel=1e-7)
    assert str(limits).splitlines()[3].split()[1] == "none"


def test_what_is_printed_is_rounded_to_the_safe_side() -> None:
    t_c = np.linspace(-20.0, 100.0, 25)
    limits = acceptance_limits(FAMILY, t_c, u_t_k=0.1, u_r_pct=0.2)
    columns = (limits.reject_below_ohm, limits.accept_low_ohm, limits.accept_high_ohm,
               limits.reject_above_ohm)  # fmt: skip
    for row, line in enumerate(str(limits).splitlines()[3 : 3 + t_c.size]):
        shown = [parse_resistance(cell) for cell in re.split(r"\s{2,}", line.strip())[1:5]]
        for value, exact, way in zip(
            shown, [column[row] for column in columns], (-1, 1, -1, 1), strict=True
        ):
            assert 0.0 <= way * (value - exact) <= 1e-4 * exact


def test_the_table_is_a_value_of_plain_arrays() -> None:
    t_c = np.array([0.0, 25.0])
    limits = acceptance_limits(FAMILY, t_c, u_t_k=0.1, u_r_pct=0.2)
    t_c[:] = 50.0
    assert limits.t_c.tolist() == [0.0, 25.0]
    scalar = acceptance_limits(FAMILY, 25, u_t_k=0.1, u_r_pct=0.2)
    for table in (limits, scalar):
        for name in table.to_frame():
            value = getattr(table, str(name))
            assert type(value) is np.ndarray and value.dtype == np.float64, name
            assert value.shape == table.t_c.shape


def test_instruments_too_coarse_to_accept_anything_are_told() -> None:
    limits = acceptance_limits(FAMILY, [0.0, 25.0], u_t_k=2.0, u_r_pct=1.0)
    assert np.isnan(limits.accept_low_ohm).all() and np.isnan(limits.accept_high_ohm).all()
    assert (limits.reject_below_ohm < limits.low_ohm).all()
    assert any("too coarse to accept any part at 0, 25 °C" in note for note in limits.notes)
    assert "none" in str(limits)


def test_simple_acceptance_has_no_guard_band() -> None:
    limits = acceptance_limits(FAMILY, [0.0, 60.0], u_t_k=0.1, u_r_pct=0.2, rule="simple")
    np.testing.assert_array_equal(limits.accept_low_ohm, limits.low_ohm)
    np.testing.assert_array_equal(limits.reject_above_ohm, limits.high_ohm)


def test_the_table_keeps_its_shape_and_prints() -> None:
    t_c = np.array([[0.0, 10.0, 20.0], [30.0, 40.0, 50.0]])
    limits = acceptance_limits(FAMILY, t_c, u_t_k=0.1, u_r_pct=0.2)
    assert limits.accept_low_ohm.shape == (2, 3)
    frame = limits.to_frame()
    np.testing.assert_array_equal(frame["t_c"], t_c.ravel())
    assert "accept_high_ohm" in frame and "family" not in frame
    assert len(str(limits).splitlines()) == 2 + 1 + 6 + 1


@pytest.mark.parametrize(
    ("t_c", "arguments", "told"),
    [
        (25.0, {"u_t_k": -0.1}, "u_t_k must not be negative"),
        (25.0, {"u_t_k": 0.1, "u_r_pct": -1.0}, "u_r_pct must not be negative"),
        (25.0, {"u_t_k": 0.1, "u_r_pct": 1.0, "u_r_ohm": 1.0}, "give one"),
        (25.0, {"u_t_k": float("inf")}, "u_t_k must be finite"),
        (25.0, {"u_t_k": 0.1, "u_r_ohm": float("inf")}, "u_r_ohm must be finite"),
        (25.0, {"u_t_k": 0.1, "risk": "5%"}, "not '5%'"),
        (25.0, {"u_t_k": 0.1, "tolerance": "1%"}, "must be a Tolerance"),
        (25.0, {"u_t_k": 0.0}, "without any uncertainty"),
        (25.0, {"u_t_k": 0.1, "rule": "strict"}, "guarded"),
        (25.0, {"u_t_k": 0.1, "risk": 0.7}, "below 0.5"),
        (float("nan"), {"u_t_k": 0.1}, "must be finite"),
    ],
)
def test_bad_input_is_refused(t_c: float, arguments: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError, match=told):
        acceptance_limits(FAMILY, t_c, **arguments)


def test_a_temperature_out_of_range_is_named() -> None:
    with pytest.raises(ExtrapolationError, match="130 °C lies outside the valid range of air"):
        acceptance_limits(FAMILY, [25.0, 130.0], u_t_k=0.1)
    with pytest.raises(InputError, match="states no tolerance"):
        acceptance_limits(CURVE, 25.0, u_t_k=0.1)
