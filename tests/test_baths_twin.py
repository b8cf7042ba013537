"""A known-good twin in the same water."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.baths import SCALDING, Bath, stirred_bath, twin_bath
from thermofit.budget import Budget, Contribution
from thermofit.errors import ExtrapolationError, InputError
from thermofit.instruments import Meter, Thermometer

KNOWN = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-20, 110), covariance=np.zeros((2, 2)))
CHARACTERISED = tf.Curve.beta(
    r25_ohm=10e3, b_k=3977, t_range_c=(-20, 110), covariance=[[100.0, 0.0], [0.0, 25.0]], dof=7.0
)
FAMILY = tf.Family(
    tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-20, 110), id="ntc-10k-3977"),
    r25_tol_pct=1.0, b_tol_pct=0.75,
)  # fmt: skip
METER = Meter.parse("0.8%+3 @40k/10")
GAIN_ONLY = Meter.parse("0.8%", full_scale_ohm=400e3)

temperatures = st.floats(1.0, 98.0)
limits = st.floats(0.0, 50.0)


def effect(bath: Bath, name: str) -> float:
    """Effect of one contribution, by its name."""
    (found,) = [part.effect for part in bath.budget.contributions if part.name == name]
    return found


def exactly(r_ohm: float) -> Budget:
    """A resistance of which everything is known."""
    return Budget(r_ohm, "Ω", [])


@given(temperatures)
def test_a_twin_of_which_all_is_known_tells_the_temperature(t_c: float) -> None:
    bath = twin_bath(KNOWN, exactly(KNOWN.resistance(t_c)), uniformity_k=0.0)
    assert bath.t_c == pytest.approx(t_c, abs=1e-9)
    assert bath.u_t_k == 0.0


def test_sensitivity_to_the_resistance_is_the_slope_of_the_curve_with_its_sign() -> None:
    r_ohm = KNOWN.resistance(55.0)
    bath = twin_bath(KNOWN, METER.measure(r_ohm), uniformity_k=0.1)
    slope = (KNOWN.temperature(r_ohm + 1.0) - KNOWN.temperature(r_ohm - 1.0)) / 2.0
    accuracy_ohm = (0.008 * r_ohm + 30.0) / math.sqrt(3.0)
    assert slope < 0.0
    assert effect(bath, "meter accuracy") == pytest.approx(slope * accuracy_ohm, rel=1e-6)
    assert effect(bath, "meter resolution") == pytest.approx(slope * 10 / math.sqrt(12), rel=1e-6)
    assert effect(bath, "uniformity of the bath") == pytest.approx(0.1 / math.sqrt(3.0))


def test_platinum_makes_a_twin_too_and_its_sign_is_the_other_one() -> None:
    pt100 = tf.Curve.callendar_van_dusen(r0_ohm=100.0)
    pt100 = tf.Curve(
        pt100.equation, pt100.coefficients, covariance=np.zeros((len(pt100.coefficients),) * 2)
    )
    meter = Meter.parse("0.1%", full_scale_ohm=400.0)
    # IEC 60751: 119.40 Ω at 50 °C, 0.00386 of 100 Ω per kelvin there; from memory.
    bath = twin_bath(pt100, meter.measure(119.40), uniformity_k=0.0)
    assert bath.t_c == pytest.approx(50.0, abs=0.02)
    assert effect(bath, "meter accuracy") == pytest.approx(0.1194 / 0.386 / math.sqrt(3), rel=0.01)


def test_a_characterised_twin_brings_the_uncertainty_of_its_curve() -> None:
    bath = twin_bath(CHARACTERISED, exactly(10e3), uniformity_k=0.0)
    # At 25 °C only u(R25) = 10 Ω counts: 10 Ω over 10 kΩ · B/T² (IEC 60539-1).
    assert bath.u_t_k == pytest.approx(1e-3 / (3977.0 / 298.15**2))
    assert bath.budget.dof == pytest.approx(7.0)


@pytest.mark.parametrize("t_c", [5.0, 25.0, 70.0])
def test_a_family_brings_its_tolerance_as_limits(t_c: float) -> None:
    bath = twin_bath(FAMILY, exactly(FAMILY.curve.resistance(t_c)), uniformity_k=0.0)
    # The farthest parts: R25 1 % off, and B 0.75 % off so that it adds.
    reads = []
    for sign in (-1.0, 1.0):
        b_sign = sign if t_c < 25.0 else -sign
        part = tf.Curve.beta(
            r25_ohm=10e3 * (1.0 + 0.01 * sign), b_k=3977.0 * (1.0 + 0.0075 * b_sign)
        )
        reads.append(abs(FAMILY.curve.temperature(part.resistance(t_c)) - t_c))
    assert bath.u_t_k == pytest.approx(max(reads) / math.sqrt(3.0), rel=1e-9)
    assert "R(25 °C) ± 1 %, B ± 0.75 %" in str(bath)


def test_a_family_that_is_known_by_itself_brings_both() -> None:
    family = replace(FAMILY, curve=CHARACTERISED.replace(id="measured"))
    both = twin_bath(family, exactly(3e3), uniformity_k=0.0)
    curve = twin_bath(CHARACTERISED, exactly(3e3), uniformity_k=0.0)
    limits_only = twin_bath(FAMILY, exactly(3e3), uniformity_k=0.0)
    assert both.u_t_k == pytest.approx(math.hypot(curve.u_t_k, limits_only.u_t_k))


def test_a_family_without_a_tolerance_of_b_says_what_that_means() -> None:
    assert "B taken as exact" in str(
        twin_bath(replace(FAMILY, b_tol_pct=None), exactly(3e3), uniformity_k=0.0)
    )
    assert "exact" not in str(twin_bath(FAMILY, exactly(3e3), uniformity_k=0.0))


@given(temperatures, limits, limits, st.floats(0.0, 0.5), st.integers(0, 2), st.floats(0.1, 0.9))
def test_knowing_anything_better_makes_the_bath_better(
    t_c: float, gain: float, offset: float, uniformity_k: float, which: int, factor: float
) -> None:
    def u_t_k(sizes: list[float]) -> float:
        parts = [
            Contribution(name, size, unit="Ω") for name, size in zip("ab", sizes, strict=False)
        ]
        resistance = Budget(CHARACTERISED.resistance(t_c), "Ω", parts)
        return twin_bath(CHARACTERISED, resistance, uniformity_k=sizes[2]).u_t_k

    sizes = [gain, offset, uniformity_k]
    better = [size * factor if at == which else size for at, size in enumerate(sizes)]
    assert u_t_k(better) <= u_t_k(sizes) * (1.0 + 1e-12)
    # Strictly so where it is worth more than the rounding.
    if sizes[which] > 1e-2:
        assert u_t_k(better) < u_t_k(sizes)


@given(temperatures)
def test_one_meter_cancels_between_twin_and_sensor(t_c: float) -> None:
    """A gain error of the range moves the sensor's own temperature as much as the bath's."""
    reading = GAIN_ONLY.measure(KNOWN.resistance(t_c))
    bath = twin_bath(KNOWN, reading, uniformity_k=0.0)
    kelvin_per_ohm = 1.0 / (reading.value * KNOWN.alpha(t_c))
    own_u_k = abs(kelvin_per_ohm) * reading.standard_uncertainty
    assert bath.u_t_k == pytest.approx(own_u_k)
    covariance = kelvin_per_ohm * reading.covariance(bath.budget)
    variance = own_u_k**2 + bath.u_t_k**2 - 2.0 * covariance
    assert variance == pytest.approx(0.0, abs=1e-9 * own_u_k**2)


@given(temperatures, st.floats(-0.8, 0.8))
def test_a_gain_error_does_cancel_between_two_of_a_kind(t_c: float, error_pct: float) -> None:
    shown = KNOWN.resistance(t_c) * (1.0 + error_pct / 100.0)
    bath = twin_bath(KNOWN, GAIN_ONLY.measure(shown), uniformity_k=0.0)
    assert KNOWN.temperature(GAIN_ONLY.measure(shown).value) == pytest.approx(bath.t_c, abs=1e-9)
    # And alone it is within the limits that the budget states, to second order.
    limit_k = math.sqrt(3.0) * bath.u_t_k
    assert abs(bath.t_c - t_c) <= limit_k * 1.01


def test_a_resistance_too_high_and_a_temperature_too_low_go_together() -> None:
    reading = METER.measure(3e3)
    bath = twin_bath(KNOWN, reading, uniformity_k=0.1)
    accuracy_ohm = reading.contributions[0].effect
    kelvin_per_ohm = 1.0 / (3e3 * KNOWN.alpha(KNOWN.temperature(3e3)))
    assert reading.covariance(bath.budget) == pytest.approx(kelvin_per_ohm * accuracy_ohm**2)
    assert reading.covariance(bath.budget) < 0.0
    other = Meter.parse("0.8%+3 @40k/10", name="other meter").measure(3e3)
    assert other.covariance(bath.budget) == 0.0


def test_correlations_of_the_resistance_come_along() -> None:
    parts = [Contribution(name, 3.0, k=1, unit="Ω") for name in "ab"]
    resistance = Budget(3e3, "Ω", parts, [("a", "b", 1.0)])
    bath = twin_bath(KNOWN, resistance, uniformity_k=0.0)
    slope = 3e3 * abs(KNOWN.alpha(bath.t_c))
    assert bath.u_t_k == pytest.approx(6.0 / slope)


def test_hot_water_scalds() -> None:
    assert SCALDING in twin_bath(KNOWN, exactly(2e3), uniformity_k=0.1).cautions
    assert SCALDING not in twin_bath(KNOWN, exactly(9e3), uniformity_k=0.1).cautions


@pytest.mark.parametrize(
    ("twin", "resistance", "words"),
    [
        (tf.Curve.beta(r25_ohm=10e3, b_k=3977), exactly(3e3), "no covariance.*characterise"),
        (replace(FAMILY, r25_tol_pct=None, b_tol_pct=None), exactly(3e3), "no tolerance of R25"),
        (replace(FAMILY, r25_tol_pct=None), exactly(3e3), "no tolerance of R25"),
        (
            tf.Family(
                tf.Curve.beta(r25_ohm=1.0, b_k=3977, id="ratios"), b_tol_pct=1.0, ratio_only=True
            ),
            exactly(0.3), "ratios only",
        ),
        ("ntc-10k-3977", exactly(3e3), "Curve or a Family"),
        (KNOWN, Budget(55.0, "°C", []), "resistance in Ω"),
        (KNOWN, exactly(KNOWN.resistance(-5.0)), "frozen"),
        (KNOWN, exactly(KNOWN.resistance(105.0)), "boiling point"),
        (KNOWN, exactly(-3e3), "no resistance"),
    ],
)  # fmt: skip
def test_twins_that_make_no_sense(twin: Any, resistance: Budget, words: str) -> None:
    with pytest.raises(InputError, match=words):
        twin_bath(twin, resistance, uniformity_k=0.1)


def test_other_calls_that_make_no_sense() -> None:
    with pytest.raises(ExtrapolationError, match="valid range"):
        twin_bath(KNOWN, exactly(KNOWN.resistance(110.0) * 0.9), uniformity_k=0.1, liquid="oil")
    with pytest.raises(InputError, match="uniformity_k"):
        twin_bath(KNOWN, exactly(3e3), uniformity_k=-0.1)


def test_oil_may_be_hotter_and_high_places_boil_earlier() -> None:
    hot = exactly(KNOWN.resistance(105.0))
    assert twin_bath(KNOWN, hot, uniformity_k=0.1, liquid="oil").t_c == pytest.approx(105.0)
    with pytest.raises(InputError, match="boiling point"):
        twin_bath(KNOWN, exactly(KNOWN.resistance(97.0)), uniformity_k=0.1, pressure_hpa=850.0)


@given(st.lists(st.floats(60.0, 70.0), min_size=2, max_size=8))
def test_repeated_readings_of_a_thermometer_scatter_as_the_guide_says(shown: list[float]) -> None:
    # s²/n with n − 1 degrees of freedom: JCGM 100, 4.2.2 and 4.2.3.
    n, mean = len(shown), sum(shown) / len(shown)
    u_k = math.sqrt(sum((t_c - mean) ** 2 for t_c in shown) / (n - 1) / n)
    bath = stirred_bath(shown, Thermometer.parse("0.5C"), uniformity_k=0.0)
    (scatter,) = [part for part in bath.budget.contributions if "scatter" in part.name]
    assert bath.t_c == pytest.approx(mean)
    assert scatter.effect == pytest.approx(u_k, abs=1e-12)
    assert scatter.dof == n - 1
    assert bath.u_t_k == pytest.approx(math.hypot(0.5 / math.sqrt(3.0), u_k))


def test_repeated_readings_of_a_twin_bring_their_scatter_to_the_bath() -> None:
    once = twin_bath(KNOWN, METER.measure(3e3), uniformity_k=0.1)
    often = twin_bath(KNOWN, METER.measure([2990.0, 3000.0, 3010.0]), uniformity_k=0.1)
    # s = 10 Ω of three readings.
    scatter_k = 10.0 / math.sqrt(3.0) / (3e3 * abs(KNOWN.alpha(often.t_c)))
    assert often.u_t_k == pytest.approx(math.hypot(once.u_t_k, scatter_k))
    assert math.isfinite(often.budget.dof)
