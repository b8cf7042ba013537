"""A plan as a technician reads it, and what it refuses."""

from __future__ import annotations

import pickle
from typing import Any

import numpy as np
import pytest

import thermofit as tf
from thermofit.budget import Budget, Contribution
from thermofit.decide import plan
from thermofit.errors import ExtrapolationError, InputError

METER = tf.Meter.parse("0.8%+3 @4k/1; 0.8%+3 @40k/10")
THERMOMETER = tf.Thermometer.parse("0.5C")
ICE = tf.ice_point()
HOT = tf.stirred_bath(70.0, THERMOMETER, uniformity_k=0.2)
NARROW = tf.Prior([3.97, -0.2], [[0.4, 0.0], [0.0, 0.005]], (-40.0, 40.0), "two lots of our own")


# Text


def test_the_text_says_which_baths_how_wide_what_dominates_and_what_one_more_brings() -> None:
    p = plan([HOT, ICE], METER, r25_ohm=10e3)
    lines = str(p).splitlines()
    assert lines[0] == "Where to measure, for 0 to 100 °C"
    assert " ".join(lines[2].split()) == "ice point, slush 0 0.058 0.10 33.2 kΩ"
    best = p.best(2)
    row = next(line for line in lines if line.startswith("  2 "))
    assert (
        row.split()
        == (
            f"2 0, 70 ± {best.largest_k:.2g} {best.largest_at_c:g} °C ± {best.mean_k:.2g} "
            + " ".join(f"± {half:.2g}" for half in best.half_width_at([0, 25, 50, 75, 100]))
        ).split()
    )
    assert f"Most of it, with 2 points: {best.dominating}" in lines
    extra = p.extra()
    at = lines.index(
        "One more bath at 50 °C (standard uncertainty 0.31 K, as at 70 °C) would take the largest"
    )
    assert lines[at + 2] == (
        f"  from ± {best.largest_k:.2g} to ± {extra.after.largest_k:.2g} K with 2 points"
    )
    assert "5 registered families" in str(p)


def test_cautions_of_the_baths_are_shown_once() -> None:
    text = str(plan([ICE, HOT], METER, r25_ohm=10e3))
    assert text.count("scald") == 1 and text.count("Keep the meter") == 1
    assert "scald" not in str(plan([ICE], METER, r25_ohm=10e3))


def test_no_resistances_are_shown_where_r25_is_not_known() -> None:
    assert "Ω" not in str(plan([(0.0, 0.1), (50.0, 0.2)], u_r_pct=0.3))
    assert "33.2 kΩ" in str(plan([(0.0, 0.1)], u_r_pct=0.3, r25_ohm=10e3))


def test_a_bath_that_was_named_is_the_one_the_text_speaks_of() -> None:
    p = plan([ICE, HOT], METER, r25_ohm=10e3, also=(40.0, 0.1), by="mean")
    assert "One more bath at 40 °C (standard uncertainty 0.10 K) would take the mean" in str(p)
    two = p.extra(choice=2)
    assert f"from ± {two.before.mean_k:.2g} to ± {two.after.mean_k:.2g} K with 2" in str(p)
    assert "its mean half-width" in str(p)
    assert p.extra().t_c == 40.0
    # One that is at hand already is not one more for the choices that have it.
    at_hand = str(plan([ICE, HOT], METER, r25_ohm=10e3, also=HOT))
    assert "One more bath" not in at_hand or "with 2 points" not in at_hand.split("One more")[1]


def test_no_bath_is_proposed_next_to_one_of_the_choice() -> None:
    warm = tf.stirred_bath(50.0, THERMOMETER, uniformity_k=0.2)
    near = tf.stirred_bath(47.0, THERMOMETER, uniformity_k=0.2)
    for there in (warm, near):
        assert "One more bath" not in str(plan([ICE, there], METER, r25_ohm=10e3))
    # A choice without it, here of ice and kettle, would gain by it.
    text = str(plan([ICE, warm, tf.boiling_water(pressure_hpa=1005)], METER, r25_ohm=10e3))
    head, told = text.split("One more bath at 50 °C (standard uncertainty 0.31 K) would")
    assert "with 2 points" in told and "with 3 points" not in told
    assert "as at 50" not in head + told
    # A bath that was named is another matter: it may be better than what is at hand.
    named = str(plan([ICE, warm], METER, r25_ohm=10e3, also=(50.0, 0.01)))
    assert "One more bath at 50 °C (standard uncertainty 0.010 K)" in named


def test_a_choice_and_an_extra_point_print() -> None:
    p = plan([ICE, HOT], METER, r25_ohm=10e3)
    text = str(p.best(2))
    assert str(p.best(2).contributions).splitlines()[-1] in text
    assert text.splitlines()[-1] == f"  most of it: {p.best(2).dominating}"
    extra = p.extra(100.0, 0.1)
    assert str(extra) == (
        "one more bath at 100 °C (standard uncertainty 0.10 K) would take the largest half-width "
        f"of 0, 70 °C alone from {extra.before.largest_k:.2g} to {extra.after.largest_k:.2f} K, "
        f"the mean from {extra.before.mean_k:.2g} to {extra.after.mean_k:.2g} K"
    )
    assert repr(p) == "<Plan of 3 choices for 0 to 100 °C>"
    assert repr(p.best(2)).startswith("<Choice of 0, 70 °C, largest ± ")


def test_no_extra_bath_is_spoken_of_where_the_sensor_is_not_known_there() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-20, 40))
    p = plan([(0.0, 0.1), (30.0, 0.1)], u_r_pct=0.1, sensor=curve)
    assert "One more" not in str(p)
    with pytest.raises(InputError, match=r"say which bath is meant, such as extra\(40\)"):
        p.extra()
    assert p.extra(15.0).t_c == 15.0
    assert "One more" not in str(
        plan([(0.0, 0.1)], u_r_pct=0.1, prior=NARROW, t_range_c=(0, 40), counts=1)
    )


def test_a_plan_is_a_value() -> None:
    p = plan([ICE, HOT], METER, r25_ohm=10e3)
    again = pickle.loads(pickle.dumps(p))
    assert str(again) == str(p)
    with pytest.raises(AttributeError):
        p.coverage = 0.9  # type: ignore[misc]


def test_a_prior_of_ones_own_is_used() -> None:
    p = plan([(0.0, 0.1), (40.0, 0.1)], u_r_pct=0.1, t_range_c=(-10, 40), prior=NARROW)
    assert "two lots of our own" in str(p)
    best = p.best(2)
    fit = tf.characterise(list(best.readings), prior=NARROW)
    u_k = fit.temperature(fit.curve.resistance(best.t_c)).standard_uncertainty
    np.testing.assert_allclose(best.u_k, u_k, rtol=1e-6)


# What is refused


@pytest.mark.parametrize(
    ("baths", "message"),
    [
        ([], "no baths to choose from"),
        (ICE, r"a sequence such as \[tf.ice_point\(\)"),
        (50.0, "a sequence such as"),
        ((50.0, 0.1), "a bath is a Bath such as .* not 50.0"),
        ([ICE, 50.0], "a pair of its temperature in °C and its standard uncertainty in K, not 50"),
        (
            [(50.0, -0.1)],
            "standard uncertainty of the bath at 50 °C must be at least 0 K, not -0.1",
        ),
        ([(50.0, float("nan"))], "standard uncertainty of the bath at 50 °C must be a finite"),
        ([("hot", 0.1)], "temperature of a bath must be a finite number in °C, not 'hot'"),
        ([(-250.0, 0.1)], "the bath at -250 °C lies outside -40 to 125 °C"),
        ([(-300.0, 0.1)], "the bath at -300 °C lies outside"),
        ([(212.0, 0.1)], r"the bath at 212 °C lies outside .*\(is it in °F\?\)"),
        ([Budget(1e4, "Ω", [])], "the budget of a bath is in °C, not in Ω"),
        ([ICE, HOT, tf.ice_point()], "two baths are the same, at 0 °C .*0.058 K: leave one out"),
        ([(50.0, 0.1), (20.0, 0.1), (50.0, 0.1)], "two baths are the same, at 50 °C"),
    ],
)
def test_baths_that_are_none_are_refused(baths: Any, message: str) -> None:
    with pytest.raises(InputError, match=message):
        plan(baths, METER, r25_ohm=10e3)


@pytest.mark.parametrize(
    ("more", "message"),
    [
        ({}, "the sensor is not known: give r25_ohm, roughly"),
        ({"sensor": tf.family("ntc-10k-3977"), "u_r_pct": 0.3}, "got both"),
        ({"r25_ohm": 0.0}, "r25_ohm must be above 0 Ω"),
        ({"r25_ohm": 1e6}, "in the bath at 0 °C the sensor is expected to have 3.32.* MΩ: .*range"),
        ({"sensor": 10e3}, "sensor is a Curve or a Family, not 10000.0; .* r25_ohm="),
        ({"r25_ohm": 1e4, "t_range_c": (100, 0)}, "from a lower to a higher .* from 100 to 0 °C"),
        ({"r25_ohm": 1e4, "t_range_c": (20, 20)}, "from a lower to a higher"),
        ({"r25_ohm": 1e4, "t_range_c": (-250, 0)}, "is known from -40 to 125 °C; narrow it"),
        ({"r25_ohm": 1e4, "t_range_c": (32, 212)}, r"\(is it in °F\?\)"),
        ({"r25_ohm": 1e4, "t_range_c": 50}, r"a pair of temperatures in °C such as \(0, 100\)"),
        ({"r25_ohm": 1e4, "t_range_c": (0, float("inf"))}, "upper end of t_range_c must be a fin"),
        ({"r25_ohm": 1e4, "by": "median"}, "by 'largest' or by 'mean', not by 'median'"),
        ({"r25_ohm": 1e4, "coverage": 95}, "coverage must lie between 0 and 1"),
        ({"r25_ohm": 1e4, "counts": 3}, "how many of the 2 baths .*, 1 to 2, not 3"),
        ({"r25_ohm": 1e4, "counts": (0, 1)}, "1 to 2, not 0"),
        ({"r25_ohm": 1e4, "counts": ()}, "counts is empty"),
        ({"r25_ohm": 1e4, "counts": (1.5,)}, "1 to 2, not 1.5"),
        ({"r25_ohm": 1e4, "also": 50.0}, "a bath is a Bath such as"),
    ],
)
def test_what_cannot_be_planned_is_refused(more: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError, match=message):
        plan([ICE, HOT], METER, **more)


def test_a_meter_is_one_or_is_stated_by_its_uncertainty() -> None:
    with pytest.raises(InputError, match="got none of them"):
        plan([ICE])
    with pytest.raises(InputError, match=r"not 0.3; a standard uncertainty in percent is u_r_pct"):
        plan([ICE], 0.3)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="u_r_pct must be at least 0 %"):
        plan([ICE], u_r_pct=-0.1)


def test_readings_without_any_uncertainty_are_refused() -> None:
    with pytest.raises(InputError, match="at 50 °C would have no uncertainty at all"):
        plan([ICE, (50.0, 0.0)], u_r_pct=0.0)
    assert plan([(50.0, 0.0)], u_r_pct=0.1).best(1).half_width_at(50.0) > 0.0
    assert plan([(50.0, 0.1)], u_r_pct=0.0).best(1).half_width_at(50.0) == pytest.approx(
        0.196, 1e-3
    )


def test_a_sensor_that_is_no_ntc_or_not_known_there_is_refused() -> None:
    with pytest.raises(InputError, match=r"rises with temperature at 0 °C; .* platinum"):
        plan([ICE], u_r_pct=0.1, sensor=tf.Curve.callendar_van_dusen(r0_ohm=100))
    known = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(0, 50))
    with pytest.raises(ExtrapolationError, match="70"):
        plan([HOT], u_r_pct=0.1, sensor=known)


def test_a_family_of_ratios_needs_r25_for_a_meter() -> None:
    from dataclasses import replace

    curve = tf.Curve.beta(r25_ohm=1.0, b_k=3977, id="ratio")
    ratios = replace(tf.Family(curve), ratio_only=True)
    with pytest.raises(InputError, match="give r25_ohm, roughly"):
        plan([ICE], METER, sensor=ratios)
    assert plan([ICE], METER, sensor=ratios, r25_ohm=10e3).readings[0].resistance.value > 30e3


def test_too_many_choices_are_refused_with_the_way_out() -> None:
    many = [(float(t), 0.1) for t in range(20)]
    with pytest.raises(InputError, match=r"20 baths give 6195 choices .* at most 2000 .* counts=2"):
        plan(many, u_r_pct=0.1)
    assert len(plan(many, u_r_pct=0.1, counts=2).choices) == 190


def test_budgets_that_state_correlations_are_refused() -> None:
    parts = [Contribution("a", 0.1), Contribution("b", 0.1)]
    with pytest.raises(InputError, match="one label"):
        plan([Budget(20.0, "°C", parts, [("a", "b", 0.5)])], u_r_pct=0.1)


def test_an_extra_point_that_is_none_is_refused() -> None:
    p = plan([ICE, HOT], METER, r25_ohm=10e3)
    with pytest.raises(InputError, match="two baths are the same, at 70 °C"):
        p.extra(HOT)
    with pytest.raises(InputError, match=r"u_t_k = 0.1 K belongs to a temperature alone"):
        p.extra(HOT, 0.1)
    with pytest.raises(InputError, match="must be at least 0 K"):
        p.extra(50.0, -0.1)
    with pytest.raises(InputError, match="the bath at 150 °C lies outside"):
        p.extra(150.0)
    with pytest.raises(InputError, match="no choice of 3 points was compared, but of 1, 2"):
        p.extra(50.0, choice=3)
    with pytest.raises(InputError, match="no choice of 5 points"):
        p.best(5)


def test_a_curve_that_turns_within_the_range_is_refused() -> None:
    bent = tf.Prior([3.0, 4.0], [[0.01, 0.0], [0.0, 0.01]], (-10.0, 125.0), "nonsense")
    with pytest.raises(InputError, match="turns"):
        plan([(0.0, 0.1)], u_r_pct=0.1, prior=bent)
