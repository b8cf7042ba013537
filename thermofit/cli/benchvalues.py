"""Readings and conditions at the bench, as they are typed: 68.4C:1.87k, 20min, 1008hPa."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

from thermofit.cli.values import Value, parse_ohm
from thermofit.errors import InputError, UnitError
from thermofit.instruments import Meter, Thermometer, resolution_of
from thermofit.units import parse_number, parse_temperature

__all__ = [
    "ALTITUDE",
    "BATH",
    "BATH_AT",
    "METER",
    "MINUTES",
    "PRESSURE",
    "SHARE",
    "SHOWN",
    "THERMOMETER",
    "BathAt",
    "BathReading",
    "MeterSpec",
    "Shown",
    "ThermometerSpec",
    "quantity",
]

T = TypeVar("T")

_SAME_OHM: Final = 1.2
"""Readings of one sensor in one bath differ by less than this factor, some 5 K of an NTC;
common practice, no source."""

_SAME_K: Final = 5.0
"""The same of temperatures, in kelvin."""

_MINUTES: Final = {"s": 1.0 / 60.0, "min": 1.0, "h": 60.0}
_HPA: Final = {"hPa": 1.0, "mbar": 1.0, "kPa": 10.0, "Pa": 0.01, "mmHg": 1.33322, "inHg": 33.8639}
_METRES: Final = {"m": 1.0, "ft": 0.3048}


@dataclass(frozen=True)
class Shown:
    """What a meter showed: one reading, or several of the same thing.

    Parameters
    ----------
    text : str
        As it was typed.
    r_ohm : tuple of float
    step_ohm : float
        Step of the last digit that was typed.
    bare : bool
        Whether a reading was typed without a unit, and so taken as ohms.
    """

    text: str
    r_ohm: tuple[float, ...]
    step_ohm: float
    bare: bool


@dataclass(frozen=True)
class BathReading:
    """What thermometer and meter showed in one bath."""

    text: str
    t_c: tuple[float, ...]
    shown: Shown


@dataclass(frozen=True)
class BathAt:
    """A bath in which nothing is read yet, and its temperature in °C."""

    text: str
    t_c: float


@dataclass(frozen=True)
class MeterSpec:
    """The accuracy of a meter as its manual states it.

    Parameters
    ----------
    text : str
        "0.8%+3", "0.5%+3 @4k/1; 0.8%+3 @40k/10".
    """

    text: str

    def meter(self, step_ohm: float) -> Meter:
        """Give the meter; a range that does not state its step gets that of the reading."""
        ranges = [
            Meter.parse(part, resolution_ohm=None if "/" in part else step_ohm).ranges[0]
            for part in self.text.split(";")
        ]
        return Meter(tuple(ranges))


@dataclass(frozen=True)
class ThermometerSpec:
    """A thermometer, and how its accuracy was typed."""

    text: str
    thermometer: Thermometer


def _divided(
    text: str, parse: Callable[[str], float], near: Callable[[float, float], bool]
) -> list[str]:
    """Separate readings at semicolons, or at commas that are no decimal commas."""
    mark = ";" if ";" in text else ","
    parts = text.split(mark)
    if len(parts) == 1:
        return parts
    one_number = mark == "," and _readable(text, parse)
    if one_number and not all(_readable(part, parse) for part in parts):
        return [text]
    values = [parse(part) for part in parts]
    alike = near(min(values), max(values))
    if one_number and alike:
        raise UnitError(
            f"{text!r} may be one number with a decimal comma or two readings: write a decimal "
            "point, or a semicolon between readings"
        )
    if not one_number and not alike:
        raise UnitError(
            f"{text!r} reads as {' and '.join(parts)}, too far apart for one bath: give each "
            "reading its unit, write decimals with a point, and another bath as an option of its "
            "own"
        )
    return [text] if one_number else parts


def _readable(text: str, parse: Callable[[str], float]) -> bool:
    try:
        parse(text)
    except UnitError:
        return False
    return True


def _shown(text: str) -> Shown:
    parts = _divided(text, parse_ohm, lambda low, high: high <= _SAME_OHM * low)
    return Shown(
        text,
        tuple(parse_ohm(part) for part in parts),
        # One range has one step: the finest, since the zero of 1.90k is easily left out.
        min(resolution_of(part) for part in parts),
        any(not any(sign.isalpha() for sign in part) for part in parts),
    )


def _bath(text: str) -> BathReading:
    t, colon, r = text.partition(":")
    if not colon:
        raise UnitError(
            f"{text!r} is no reading of a bath; write temperature and resistance as 68.4C:1.87k"
        )
    parts = _divided(t, _with_unit, lambda low, high: high - low <= _SAME_K)
    return BathReading(text, tuple(_with_unit(part) for part in parts), _shown(r))


def _bath_at(text: str) -> BathAt:
    if ":" in text:
        raise UnitError(
            f"{text!r} has a reading, and before measuring there is none; write the temperature "
            "alone, as 68.4C"
        )
    return BathAt(text, _with_unit(text))


def _with_unit(text: str) -> float:
    """Temperature in °C; a bare number is refused, since ice is at 0 °C and at 32 °F."""
    return parse_temperature(text, default=None)


def quantity(text: str, units: Mapping[str, float], example: str) -> float:
    """Read a number with one of some units, in the unit whose factor is 1."""
    tidy = text.strip()
    # The longest name that fits, since hPa and kPa end with Pa.
    unit = max((one for one in units if tidy.endswith(one)), key=len, default=None)
    if unit is None:
        raise UnitError(f"{text!r} has none of the units {', '.join(units)}; write it as {example}")
    return parse_number(tidy[: -len(unit)]) * units[unit]


def _minutes(text: str) -> float:
    minutes = quantity(text, _MINUTES, "20min")
    if minutes < 0.0:
        raise UnitError(f"{text!r} is negative; a time of waiting is not")
    return minutes


def _share(text: str) -> float:
    percent = parse_number(text.strip().removesuffix("%"))
    if percent < 0.0:
        raise UnitError(f"{text!r} is negative; an uncertainty is not")
    return percent


def _stated(read: Callable[[str], T]) -> Callable[[str], T]:
    """A specification that cannot be read is a wrong call, as an unknown unit is."""

    def reading(text: str) -> T:
        try:
            return read(text)
        except InputError as error:
            raise UnitError(str(error)) from error

    return reading


def _meter(text: str) -> MeterSpec:
    spec = MeterSpec(text)
    spec.meter(1e-9)  # refuses now what cannot be read; the step comes with each reading
    return spec


def _thermometer(text: str) -> ThermometerSpec:
    return ThermometerSpec(text, Thermometer.parse(text))


SHOWN: Final = Value("ohms", _shown)
BATH: Final = Value("t:ohms", _bath)
BATH_AT: Final = Value("t", _bath_at)
METER: Final = Value("accuracy", _stated(_meter))
THERMOMETER: Final = Value("accuracy", _stated(_thermometer))
MINUTES: Final = Value("time", _minutes)
PRESSURE: Final = Value("pressure", lambda text: quantity(text, _HPA, "1008hPa"))
ALTITUDE: Final = Value("altitude", lambda text: quantity(text, _METRES, "450m or 1500ft"))
SHARE: Final = Value("percent", _share)
