"""Back to ice after the hot bath."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.baths import ReturnToIce, back_to_ice
from thermofit.budget import Budget, Contribution
from thermofit.errors import ExtrapolationError, InputError
from thermofit.instruments import Meter

METER = Meter.parse("0.8%+3 @40k/10")
ALPHA_PER_K = -0.051

resistances = st.floats(1e2, 3.9e4)
sizes = st.floats(0.01, 10.0)


def reading(r_ohm: float, shared_ohm: float, own_ohm: float) -> Budget:
    """A resistance with an error that others have too, and one of its own."""
    return Budget(
        r_ohm,
        "Ω",
        [
            Contribution("accuracy", shared_ohm, k=1, unit="Ω", shared="meter"),
            Contribution("own", own_ohm, k=1, unit="Ω"),
        ],
    )


def test_what_both_readings_share_cancels() -> None:
    result = back_to_ice(METER.measure(32600.0), METER.measure(32600.0), alpha_per_k=ALPHA_PER_K)
    # Left are two resolutions of 10 Ω, rectangular (JCGM 100, F.2.2.1).
    u = math.sqrt(2.0) * 10.0 / math.sqrt(12.0) / 32600.0
    assert result.u_shift_pct == pytest.approx(100.0 * u)
    assert result.u_shift_k == pytest.approx(u / 0.051)
    other = Meter.parse("0.8%+3 @40k/10", name="other meter").measure(32600.0)
    assert back_to_ice(METER.measure(32600.0), other).u_shift_pct > 0.5


@given(resistances, resistances, sizes, sizes, sizes)
def test_the_uncertainty_is_that_of_a_ratio_with_covariance(
    before_ohm: float, after_ohm: float, shared_ohm: float, one_ohm: float, other_ohm: float
) -> None:
    before = reading(before_ohm, shared_ohm, one_ohm)
    after = reading(after_ohm, shared_ohm, other_ohm)
    result = back_to_ice(before, after)
    # JCGM 100, equation (16), of after/before.
    variance = (
        (before.standard_uncertainty / before_ohm) ** 2
        + (after.standard_uncertainty / after_ohm) ** 2
        - 2.0 * before.covariance(after) / (before_ohm * after_ohm)
    )
    assert result.shift_pct == pytest.approx(100.0 * (after_ohm / before_ohm - 1.0), abs=1e-9)
    assert result.u_shift_pct == pytest.approx(
        100.0 * after_ohm / before_ohm * math.sqrt(variance), rel=1e-6
    )


@given(resistances, resistances, sizes, sizes, st.floats(0.0, 0.2))
def test_before_and_after_change_the_sign_and_nothing_else(
    before_ohm: float, after_ohm: float, one_ohm: float, other_ohm: float, ice_k: float
) -> None:
    pair = reading(before_ohm, 5.0, one_ohm), reading(after_ohm, 5.0, other_ohm)
    settings: dict[str, Any] = {"alpha_per_k": ALPHA_PER_K, "ice_difference_k": ice_k}
    there, back = back_to_ice(*pair, **settings), back_to_ice(*pair[::-1], **settings)
    assert there.shift_k is not None and back.shift_k is not None
    assert there.shift_k == pytest.approx(-back.shift_k, abs=1e-12)
    assert there.u_shift_k == pytest.approx(back.u_shift_k)
    assert there.shifted == back.shifted
    assert (1.0 + there.shift_pct / 100.0) * (1.0 + back.shift_pct / 100.0) == pytest.approx(1.0)


def test_kelvin_are_what_a_reader_would_believe() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-20, 110))
    before = Budget(curve.resistance(0.0), "Ω", [])
    after = Budget(curve.resistance(0.1), "Ω", [])
    result = back_to_ice(before, after, curve=curve)
    assert result.shift_k == pytest.approx(0.1, rel=1e-3)
    # Constant B: −B/T² (IEC 60539-1).
    assert result.alpha_per_k == pytest.approx(-3977.0 / 273.15**2)
    assert result == back_to_ice(before, after, alpha_per_k=curve.alpha(0.0))


def test_without_a_coefficient_there_are_only_percents() -> None:
    result = back_to_ice(METER.measure(32600.0), METER.measure(32210.0))
    assert result.shift_k is None and result.u_shift_k is None
    assert " K" not in str(result)
    assert "-1.196 %" in str(result)


def test_the_ice_may_differ_and_that_counts() -> None:
    before, after = METER.measure(32600.0), METER.measure(32520.0)
    same = back_to_ice(before, after, alpha_per_k=ALPHA_PER_K)
    kitchen = back_to_ice(before, after, alpha_per_k=ALPHA_PER_K, ice_difference_k=0.1)
    assert same.u_shift_k is not None
    assert kitchen.u_shift_k == pytest.approx(math.hypot(same.u_shift_k, 0.1 / math.sqrt(3.0)))
    assert same.shifted and not kitchen.shifted
    assert "equally cold" in str(same) and "equally cold" not in str(kitchen)


@pytest.mark.parametrize(
    ("after_ohm", "shifted", "words"),
    [
        (32600.0, False, "no shift beyond what the readings do not know"),
        (32590.0, False, "no shift"),
        (32300.0, True, "moisture that leaks in parallel"),
        (32900.0, True, "damaged element or contact"),
    ],
)
def test_words_of_the_bench(after_ohm: float, shifted: bool, words: str) -> None:
    result = back_to_ice(
        METER.measure(32600.0), METER.measure(after_ohm), alpha_per_k=-0.051, ice_difference_k=0.05
    )
    assert result.shifted is shifted
    assert words in str(result)
    assert ("dry it, wait, measure again" in str(result)) is shifted
    assert bool(result.hint) is shifted


def test_the_line_is_drawn_at_the_stated_coverage() -> None:
    def shifted(times_u: float, coverage: float) -> bool:
        before = Budget(1e4, "Ω", [Contribution("own", 5.0, k=1, unit="Ω")])
        after = Budget(1e4 * math.exp(times_u * 5e-4), "Ω", [])
        return back_to_ice(before, after, coverage=coverage).shifted

    # Quantiles of the normal distribution: 1.96 at 95 %, 2.576 at 99 %.
    assert not shifted(1.95, 0.95) and shifted(1.97, 0.95) and shifted(-1.97, 0.95)
    assert not shifted(2.57, 0.99) and shifted(2.58, 0.99)


def test_few_readings_ask_for_more() -> None:
    """Two readings each: Student's t at few degrees of freedom, not the normal quantile."""
    meter = Meter.parse("0.8%", full_scale_ohm=40e3)
    before, after = meter.measure([9990.0, 10010.0]), meter.measure([10030.0, 10050.0])
    result = back_to_ice(before, after)
    ratio = result.log_ratio
    assert ratio.dof == pytest.approx(2.0, rel=0.01)
    assert ratio.value > 1.96 * ratio.standard_uncertainty
    assert not result.shifted


def test_correlations_of_a_reading_come_along() -> None:
    parts = [Contribution(name, 3.0, k=1, unit="Ω") for name in "ab"]
    before = Budget(3e3, "Ω", parts, [("a", "b", 1.0)])
    result = back_to_ice(before, Budget(3e3, "Ω", []))
    assert result.u_shift_pct == pytest.approx(0.2)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"alpha_per_k": -5.1}, "−0.051"),
        ({"alpha_per_k": 0.0}, "no temperature coefficient"),
        ({"alpha_per_k": math.nan}, "alpha_per_k"),
        ({"ice_difference_k": 0.1}, "alpha_per_k or a curve"),
        ({"ice_difference_k": -0.1, "alpha_per_k": -0.05}, "at least 0"),
        ({"coverage": 95.0}, "coverage"),
        ({"alpha_per_k": -0.05, "curve": tf.Curve.beta(r25_ohm=10e3, b_k=3977)}, "leave one"),
    ],
)
def test_settings_that_make_no_sense(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        back_to_ice(METER.measure(32600.0), METER.measure(32600.0), **settings)


def test_readings_that_make_no_sense() -> None:
    one = METER.measure(32600.0)
    with pytest.raises(InputError, match="the reading after is in '°C'"):
        back_to_ice(one, Budget(0.0, "°C", []))
    with pytest.raises(InputError, match="resistance before"):
        ReturnToIce(Budget(0.0, "Ω", []), one)
    warm = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(10, 60))
    with pytest.raises(ExtrapolationError, match="leaves out the ice"):
        back_to_ice(one, one, curve=warm)
