"""Temperatures and resistances as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.errors import UnitError
from thermofit.units import (
    format_ohm,
    parse_number,
    parse_resistance,
    parse_temperature,
    parse_temperature_difference,
    resistance_unit,
    temperature_unit,
)


@pytest.mark.parametrize(
    ("text", "t_c"),
    [
        ("25", 25.0),
        ("25C", 25.0),
        ("25 °C", 25.0),
        ("77F", 25.0),
        ("77 degF", 25.0),
        ("-40F", -40.0),
        ("\u221240 °F", -40.0),
        ("298.15K", 25.0),
        ("0,5 °C", 0.5),
        ("1e2C", 100.0),
    ],
)
def test_temperature_is_read_in_every_common_spelling(text: str, t_c: float) -> None:
    assert parse_temperature(text) == pytest.approx(t_c, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "r_ohm"),
    [
        ("4.7k", 4700.0),
        ("4.7 kΩ", 4700.0),
        ("4.7 k\u2126", 4700.0),  # the ohm sign, which is another character than omega
        ("4,7 kOhm", 4700.0),
        ("4k7", 4700.0),  # IEC 60062
        ("470R", 470.0),
        ("4R7", 4.7),
        ("2M2", 2.2e6),
        ("1.2Meg", 1.2e6),
        ("1 MΩ", 1e6),
        ("500mΩ", 0.5),
        ("32650", 32650.0),
        ("32650 ohms", 32650.0),
    ],
)
def test_resistance_is_read_in_every_common_spelling(text: str, r_ohm: float) -> None:
    assert parse_resistance(text) == r_ohm


@pytest.mark.parametrize(
    "text", ["", "warm", "25X", "C", "--5", "1.2.3", "nan", "inf", "-300C", "-1K"]
)
def test_what_is_no_temperature_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse_temperature(text)


@pytest.mark.parametrize("text", ["", "big", "10 C", "4k7k", "k", "nan", "inf Ω", "1,2,3k"])
def test_what_is_no_resistance_is_refused(text: str) -> None:
    with pytest.raises(UnitError):
        parse_resistance(text)


def test_a_comma_that_may_group_thousands_is_refused_unless_the_file_settles_it() -> None:
    with pytest.raises(UnitError, match=r"32\.65 or 32650"):
        parse_number("32,650")
    assert parse_number("32,650", decimal=",") == 32.65
    assert parse_number("32,65") == 32.65


def test_difference_in_fahrenheit_has_no_offset() -> None:
    assert parse_temperature_difference("1.8F") == pytest.approx(1.0)
    assert parse_temperature_difference("0.1") == 0.1


def test_milli_and_mega_are_told_apart() -> None:
    assert resistance_unit("mΩ") == 1e-3
    assert resistance_unit("MΩ") == 1e6
    assert temperature_unit("K") == "K"
    assert temperature_unit("kΩ") is None


@given(st.decimals(min_value="0.001", max_value="9999", places=3))
def test_prefix_is_applied_in_decimal_without_rounding(number: object) -> None:
    assert parse_resistance(f"{number}k") == float(f"{number}e3")


@given(st.floats(min_value=1e-2, max_value=1e9))
def test_formatted_resistance_reads_back_to_its_digits(r_ohm: float) -> None:
    assert parse_resistance(format_ohm(r_ohm)) == pytest.approx(r_ohm, rel=5.1e-5)
