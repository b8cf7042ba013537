"""Reference temperatures, against published values."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.baths import (
    SCALDING,
    Bath,
    boiling_temperature_c,
    boiling_water,
    freezing_depression_k,
    ice_point,
    room_air,
    standard_pressure_hpa,
    stirred_bath,
)
from thermofit.baths.boiling import _saturation_c
from thermofit.errors import InputError
from thermofit.instruments import Thermometer

HALF_DEGREE = Thermometer.parse("0.5C")


def effect(bath: Bath, name: str) -> float:
    """Effect of one contribution, by its name."""
    (found,) = [part.effect for part in bath.budget.contributions if part.name == name]
    return found


# IAPWS R7-97(2012), table 36: saturation temperature in K at pressures in MPa; from memory.
@pytest.mark.parametrize(
    ("pressure_mpa", "t_k"), [(0.1, 372.755919), (1.0, 453.035632), (10.0, 584.149488)]
)
def test_saturation_line_as_published(pressure_mpa: float, t_k: float) -> None:
    assert _saturation_c(pressure_mpa * 1e4) + 273.15 == pytest.approx(t_k, abs=5.1e-7)


def test_water_boils_at_a_hundred_almost() -> None:
    # ITS-90 boiling point at the standard atmosphere: 99.974 °C; IAPWS-IF97: 99.9743 °C.
    assert round(boiling_temperature_c(1013.25), 4) == 99.9743
    assert boiling_water(pressure_hpa=1013.25, probe="steam").t_c == boiling_temperature_c(1013.25)


# ISO 2533:1975, standard atmosphere at geometric altitudes; from memory.
@pytest.mark.parametrize(
    ("altitude_m", "pressure_hpa"), [(0.0, 1013.25), (1000.0, 898.76), (3000.0, 701.21)]
)
def test_standard_atmosphere(altitude_m: float, pressure_hpa: float) -> None:
    assert standard_pressure_hpa(altitude_m) == pytest.approx(pressure_hpa, abs=0.006)


@given(st.floats(500.0, 1085.0), st.floats(0.1, 5.0))
def test_the_boiling_point_rises_with_pressure(pressure_hpa: float, more_hpa: float) -> None:
    assert boiling_temperature_c(pressure_hpa + more_hpa) > boiling_temperature_c(pressure_hpa)


@given(st.floats(-400.0, 5000.0), st.floats(1.0, 500.0))
def test_the_boiling_point_falls_with_altitude(altitude_m: float, more_m: float) -> None:
    low, high = boiling_water(altitude_m=altitude_m), boiling_water(altitude_m=altitude_m + more_m)
    assert high.t_c < low.t_c


def test_altitude_alone_carries_the_weather() -> None:
    bath = boiling_water(altitude_m=0.0, probe="steam")
    # ± 25 hPa is about ± 0.7 K at sea level; common practice, no source.
    assert effect(bath, "weather") * math.sqrt(3.0) == pytest.approx(0.7, abs=0.02)
    assert bath.u_t_k > 3.0 * boiling_water(pressure_hpa=1013.25, probe="steam").u_t_k


def test_a_pressure_reduced_to_sea_level_is_taken_back() -> None:
    standard = boiling_water(altitude_m=1000.0)
    reduced = boiling_water(altitude_m=1000.0, sea_level_pressure_hpa=1013.25)
    assert reduced.t_c == pytest.approx(standard.t_c)
    assert reduced.u_t_k < standard.u_t_k
    lower = boiling_water(altitude_m=1000.0, sea_level_pressure_hpa=1003.25)
    assert lower.t_c < reduced.t_c
    # At the sea both pressures are one, whatever the air is like.
    at_sea = boiling_water(altitude_m=0.0, sea_level_pressure_hpa=1000.0)
    assert at_sea.t_c == pytest.approx(boiling_water(pressure_hpa=1000.0).t_c)
    assert effect(at_sea, "temperature of the air below") == 0.0


def test_sensitivity_to_the_air_below_is_a_slope() -> None:
    """Hypsometric equation, p = p0·exp(−g·h/(R·T)), with constants of the air from memory."""
    bath = boiling_water(altitude_m=1500.0, sea_level_pressure_hpa=1013.25)

    def boiling_c(mean_k: float) -> float:
        return boiling_temperature_c(1013.25 * math.exp(-9.80665 * 1500.0 / (287.05 * mean_k)))

    slope = (boiling_c(284.3) - boiling_c(282.3)) / 2.0
    assert effect(bath, "temperature of the air below") == pytest.approx(
        slope * 20.0 / math.sqrt(3.0), rel=0.01
    )


def test_water_superheats_and_steam_does_not() -> None:
    water = boiling_water(pressure_hpa=1000.0, probe="water")
    steam = boiling_water(pressure_hpa=1000.0, probe="steam")
    assert steam.t_c == pytest.approx(boiling_temperature_c(1000.0))
    # The interval of the water begins at the boiling point (JCGM 100, 4.3.8).
    reach = effect(water, "superheat and depth") * math.sqrt(3.0)
    assert water.t_c - reach == pytest.approx(steam.t_c)
    assert water.u_t_k > steam.u_t_k
    assert SCALDING in str(water)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({}, "altitude_m in metres"),
        ({"pressure_hpa": 101.3}, "1013.0 if it was in kPa"),
        ({"pressure_hpa": 29.92}, "1013.2 if it was in inHg"),
        ({"pressure_hpa": 14.7}, "1013.5 if it was in psi"),
        ({"pressure_hpa": 101325.0}, "1013.2 if it was in Pa"),
        ({"pressure_hpa": 10130.0}, "check the reading"),
        ({"pressure_hpa": math.nan}, "finite"),
        ({"pressure_hpa": 950.0, "altitude_m": 500.0}, "reduced to sea level"),
        ({"pressure_hpa": 950.0, "sea_level_pressure_hpa": 1010.0}, "reduced to sea level"),
        ({"sea_level_pressure_hpa": 1010.0}, "0 at the sea"),
        ({"sea_level_pressure_hpa": 760.0, "altitude_m": 0.0}, "1013.2 if it was in mmHg"),
        ({"altitude_m": 7000.0}, "2134 if it was in feet"),
        ({"altitude_m": 0.0, "altitude_limit_m": -1.0}, "altitude_limit_m"),
        ({"pressure_hpa": 1000.0, "pressure_limit_hpa": -1.0}, "pressure_limit_hpa"),
        ({"pressure_hpa": 1000.0, "probe": "lid"}, "in the steam"),
    ],
)
def test_boiling_water_that_makes_no_sense(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        boiling_water(**settings)


def test_ice_points_as_sourced() -> None:
    # MSL Technical Guide 1: ± 0.01 °C; kitchen slush ± 0.1 °C, common practice, no source.
    flask, slush = (
        ice_point("flask", pressure_hpa=1013.25),
        ice_point("slush", pressure_hpa=1013.25),
    )
    assert flask.t_c == slush.t_c == 0.0
    assert flask.u_t_k == pytest.approx(0.01 / math.sqrt(3.0))
    assert slush.u_t_k == pytest.approx(0.1 / math.sqrt(3.0))
    assert "MSL Technical Guide 1" in str(flask)
    assert "no source" in str(slush)


def test_low_pressure_lets_ice_melt_warmer() -> None:
    # Clausius–Clapeyron with the densities of ice and water and the heat of fusion, from memory.
    slope_k_per_pa = 273.15 * (1.0 / 999.84 - 1.0 / 916.7) / 333.5e3
    expected = slope_k_per_pa * (700.0 - 1013.25) * 100.0
    assert ice_point("flask", pressure_hpa=700.0).t_c == pytest.approx(expected, rel=0.03)
    # Not stating it costs about that much, and no more.
    unstated = ice_point("flask")
    assert unstated.t_c == 0.0
    assert abs(effect(unstated, "air pressure not stated")) * math.sqrt(3.0) == pytest.approx(
        0.0026, abs=1e-4
    )


def test_salt_lowers_the_ice_point() -> None:
    # 0.1 mol of sodium chloride in a kilogram of water: 0.348 K; handbook value, from memory.
    assert freezing_depression_k(5.844) == pytest.approx(0.348, rel=0.1)
    bath = ice_point("slush", pressure_hpa=1013.25, salt_g_per_kg=1.0, salt_limit_g_per_kg=0.5)
    assert bath.t_c == pytest.approx(-freezing_depression_k(1.0))
    reach = abs(effect(bath, "salt content")) * math.sqrt(3.0)
    assert reach == pytest.approx(freezing_depression_k(1.5) - freezing_depression_k(1.0))
    assert bath.u_t_k > ice_point("slush", pressure_hpa=1013.25).u_t_k


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"kind": "glass"}, "flask or a slush"),
        ({"shown_c": 32.0}, "32 °F, which is 0 °C"),
        ({"shown_c": 8.0}, "stirred_bath"),
        ({"pressure_hpa": 101.3}, "kPa"),
        ({"salt_g_per_kg": -1.0}, "at least 0"),
        ({"salt_g_per_kg": 35.0}, "brine"),
        ({"salt_limit_g_per_kg": -1.0}, "salt_limit_g_per_kg"),
    ],
)
def test_ice_that_makes_no_sense(settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        ice_point(**settings)


def test_a_thermometer_near_zero_does_not_move_the_ice_point() -> None:
    assert ice_point(shown_c=0.4).t_c == ice_point().t_c


def test_a_stirred_bath_is_what_the_thermometer_shows() -> None:
    bath = stirred_bath([68.3, 68.5], HALF_DEGREE, uniformity_k=0.3)
    assert bath.t_c == pytest.approx(68.4)
    assert bath.u_t_k == pytest.approx(math.sqrt(0.25 / 3.0 + 0.09 / 3.0 + 0.01))
    assert SCALDING in bath.cautions
    assert SCALDING not in stirred_bath(25.0, HALF_DEGREE, uniformity_k=0.3).cautions


def test_two_baths_share_their_thermometer() -> None:
    warm, hot = (stirred_bath(t, HALF_DEGREE, uniformity_k=0.3) for t in (40.0, 70.0))
    assert warm.budget.covariance(hot.budget) == pytest.approx(0.25 / 3.0)


@pytest.mark.parametrize(
    ("reading_c", "settings", "words"),
    [
        (158.0, {}, r"above the boiling point.* 70\.0 °C if it was in °F"),
        (97.0, {"pressure_hpa": 850.0}, "above the boiling point"),
        (-5.0, {}, "frozen"),
        (60.0, {"uniformity_k": -0.1}, "uniformity_k"),
        (60.0, {"pressure_hpa": 85.0}, "kPa"),
    ],
)
def test_baths_that_make_no_sense(reading_c: float, settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        stirred_bath(reading_c, HALF_DEGREE, **({"uniformity_k": 0.2} | settings))


def test_oil_may_be_hotter() -> None:
    assert stirred_bath(158.0, HALF_DEGREE, uniformity_k=0.2, liquid="oil").t_c == 158.0


ROOM: dict[str, Any] = {
    "waited_min": 20.0, "time_constant_min": 2.0, "start_difference_k": 10.0, "uniformity_k": 0.3,
}  # fmt: skip


def test_waiting_settles() -> None:
    # MIL-PRF-23648: 63.2 % of a step is gone after a time constant, so 0.368^4 is left after four.
    bath = room_air(21.3, HALF_DEGREE, **(ROOM | {"waited_min": 8.0}))
    left_k = effect(bath, "not yet settled") * math.sqrt(3.0)
    assert left_k == pytest.approx(10.0 * 0.368**4, rel=0.01)
    assert bath.u_t_k > room_air(21.3, HALF_DEGREE, **ROOM).u_t_k


@pytest.mark.parametrize(
    ("reading_c", "settings", "words"),
    [
        (77.0, {}, r"25\.0 °C if it was in °F"),
        (21.0, {"waited_min": 5.0}, "wait at least three"),
        (21.0, {"waited_min": -1.0}, "waited_min"),
        (21.0, {"time_constant_min": 0.0}, "time_constant_min"),
        (21.0, {"uniformity_k": -1.0}, "uniformity_k"),
        (21.0, {"start_difference_k": math.nan}, "start_difference_k"),
    ],
)
def test_rooms_that_make_no_sense(reading_c: float, settings: dict[str, Any], words: str) -> None:
    with pytest.raises(InputError, match=words):
        room_air(reading_c, HALF_DEGREE, **(ROOM | settings))
