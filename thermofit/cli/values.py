"""Values with units on the command line."""

from __future__ import annotations

from typing import Any

import click

from thermofit.errors import UnitError
from thermofit.units import (
    is_overload,
    parse_number,
    parse_resistance,
    parse_temperature,
    parse_temperature_difference,
    resistance_unit,
    temperature_unit,
)

__all__ = [
    "COVERAGE",
    "RESISTANCE_UNIT",
    "TEMPERATURE_UNIT",
    "KELVIN",
    "PERCENT",
    "READING",
    "RISK",
    "RESISTANCE",
    "TEMPERATURE",
    "U_RESISTANCE",
    "U_TEMPERATURE",
    "Value",
    "parse_kelvin",
    "parse_ohm",
    "relative",
]


class Value(click.ParamType[Any]):
    """A value that a function of `thermofit.units` reads."""

    def __init__(self, name: str, parse: Any) -> None:
        self.name = name
        self._parse = parse

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Read the value; what cannot be read is a wrong call."""
        if not isinstance(value, str):
            return value
        try:
            return self._parse(value)
        except UnitError as error:
            self.fail(str(error), param, ctx)


def parse_ohm(text: str) -> float:
    """Read a resistance above zero, in ohms."""
    if is_overload(text):
        raise UnitError(
            f"{text!r} is an overload and no resistance; measure in a higher range, and where the "
            "highest shows it too, sensor or lead is open: thermofit causes"
        )
    r_ohm = parse_resistance(text)
    if not r_ohm > 0.0:
        raise UnitError(f"{text!r} is not a positive resistance")
    return r_ohm


def _u_temperature(text: str) -> float:
    u_t_k = parse_temperature_difference(text)
    if u_t_k < 0.0:
        raise UnitError(f"{text!r} is negative; an uncertainty is not")
    return u_t_k


def _u_resistance(text: str) -> tuple[float, float]:
    """Part of the reading and fixed part, in ohms, of which one is zero."""
    if text.strip().endswith("%"):
        part = parse_number(text.strip()[:-1])
        amounts = part / 100.0, 0.0
    else:
        amounts = 0.0, parse_resistance(text)
    if min(amounts) < 0.0:
        raise UnitError(f"{text!r} is negative; an uncertainty is not")
    return amounts


def _coverage(text: str) -> float:
    coverage = parse_number(text.strip().removesuffix("%"))
    if text.strip().endswith("%"):
        coverage /= 100.0
    if not 0.0 < coverage < 1.0:
        raise UnitError(f"{text!r} is no probability between 0 and 1; write 0.95 or 95%")
    return coverage


def _percent(text: str) -> float | tuple[float, float]:
    """± as one number, or limits as low..high."""
    low, dots, high = text.replace("%", "").partition("..")
    if dots:
        return parse_number(low), parse_number(high)
    return parse_number(low)


def parse_kelvin(text: str) -> float:
    """Read kelvin, with or without the K."""
    return parse_number(text.strip().removesuffix("K"))


def _known_unit(text: str, read: Any, examples: str) -> str:
    if read(text) is None:
        raise UnitError(f"{text!r} is no unit here; write {examples}")
    return text


TEMPERATURE_UNIT = Value("unit", lambda text: _known_unit(text, temperature_unit, "C, F or K"))
RESISTANCE_UNIT = Value("unit", lambda text: _known_unit(text, resistance_unit, "ohm or kohm"))


def _reading(text: str) -> tuple[float, float]:
    """Temperature in °C and resistance in ohms of ``0C:32.4k``."""
    t, colon, r = text.partition(":")
    if not colon:
        raise UnitError(f"{text!r} is no reading; write temperature and resistance as 0C:32.4k")
    return parse_temperature(t), parse_ohm(r)


def _risk(text: str) -> float:
    risk = _coverage(text)
    if risk >= 0.5:
        raise UnitError(f"{text!r} is no risk to decide by; write less than a half, such as 5%")
    return risk


READING = Value("reading", _reading)
RISK = Value("probability", _risk)
KELVIN = Value("kelvin", parse_kelvin)
PERCENT = Value("percent", _percent)
TEMPERATURE = Value("temperature", parse_temperature)
RESISTANCE = Value("resistance", parse_ohm)
U_TEMPERATURE = Value("kelvin", _u_temperature)
U_RESISTANCE = Value("ohms or %", _u_resistance)
COVERAGE = Value("probability", _coverage)


def relative(u: tuple[float, float] | None, r_ohm: Any) -> Any:
    """Standard uncertainty in ohms of readings, from what `U_RESISTANCE` read."""
    return None if u is None else u[0] * r_ohm + u[1]
