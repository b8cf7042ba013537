"""Temperatures and resistances as people write them: °C °F K, Ω kΩ MΩ.

Parsing and conversion happen here, at the edges, and nowhere else.  Inside, a
temperature is in °C and a resistance in Ω at every public call, in kelvin and
ln Ω below that.

The letter code for resistances ("4k7", "470R", "2M2") is that of IEC 60062.
"""

from __future__ import annotations

import re
from decimal import Context, Decimal
from typing import Final, Literal, overload

import numpy as np
import numpy.typing as npt

from thermofit.errors import UnitError

__all__ = [
    "T0_K",
    "ZERO_C_K",
    "TemperatureUnit",
    "format_ohm",
    "is_overload",
    "parse_number",
    "parse_resistance",
    "parse_temperature",
    "parse_temperature_difference",
    "resistance_unit",
    "temperature_unit",
    "to_celsius",
    "to_kelvin_difference",
]

ZERO_C_K: Final = 273.15
"""0 °C in kelvin."""

T0_K: Final = 298.15
"""The reference temperature, 25 °C, in kelvin."""

# As meters show and loggers write it; "0L" is how many a display draws "OL".
_OVERLOAD: Final = re.compile(
    r"[+\-−]?(?:inf(?:inity)?|∞|[0o]\.?l\.?|\.[0o]l|ovld?|over(?:load|range)?|open)"
)

TemperatureUnit = Literal["C", "F", "K"]

_TEMPERATURE_UNITS: Final[dict[str, TemperatureUnit]] = {
    "c": "C", "degc": "C", "celsius": "C", "centigrade": "C", "degcelsius": "C", "gradc": "C",
    "f": "F", "degf": "F", "fahrenheit": "F", "degfahrenheit": "F",
    "k": "K", "degk": "K", "kelvin": "K", "kelvins": "K",
}  # fmt: skip

# Prefixes are told apart by case: m is milli, M is mega.
_OHM_PREFIXES: Final = {"": 1.0, "m": 1e-3, "k": 1e3, "K": 1e3, "M": 1e6, "G": 1e9}
_OHM_WORDS: Final = {"milli": 1e-3, "kilo": 1e3, "mega": 1e6, "meg": 1e6, "giga": 1e9}

_DECIMAL: Final = Context(prec=34)  # not the caller's context, which may be anything

_NUMBER: Final = re.compile(r"[+-]?(\d+([.,]\d*)?|[.,]\d+)([eE][+-]?\d+)?")
_LETTER_CODE: Final = re.compile(r"([+-]?\d+)([RrkKMG])(\d+)")
_AMBIGUOUS_COMMA: Final = re.compile(r"[+-]?[1-9]\d{0,2},\d{3}")
_SPACES: Final = dict.fromkeys(map(ord, " \t\u00a0\u2009\u202f"), "")


def _tidy(text: str) -> str:
    """Typographic minus signs to ASCII, spaces away, both ohm signs to one."""
    return text.translate(_SPACES).replace("\u2212", "-").replace("\u2126", "Ω")


def temperature_unit(text: str) -> TemperatureUnit | None:
    """Read the name of a temperature unit.

    Parameters
    ----------
    text : str
        "°C", "degF", "K", "celsius" …

    Returns
    -------
    {"C", "F", "K"} or None
        None where the text names no temperature unit.

    Examples
    --------
    >>> temperature_unit("°F"), temperature_unit("kelvin"), temperature_unit("ohm")
    ('F', 'K', None)
    """
    word = _tidy(text).lower().replace("°", "deg").replace("º", "deg").replace("_", "")
    word = {"℃": "c", "℉": "f"}.get(word, word)
    return _TEMPERATURE_UNITS.get(word.rstrip("."))


def resistance_unit(text: str) -> float | None:
    """Read the name of a resistance unit.

    Parameters
    ----------
    text : str
        "Ω", "kOhm", "MΩ", "R", "k" …  Upper and lower case count in the prefix:
        "mΩ" is a thousandth and "MΩ" a million ohms.

    Returns
    -------
    float or None
        The unit in ohms; None where the text names no resistance unit.

    Examples
    --------
    >>> resistance_unit("kOhm"), resistance_unit("Ω"), resistance_unit("°C")
    (1000.0, 1.0, None)
    """
    word = _tidy(text).rstrip(".")
    if word in {"R", "r"}:
        return 1.0
    stem = re.sub(r"(Ω|[oO][hH][mM][sS]?|OHMS?)$", "", word)
    named = stem != word
    if stem in _OHM_PREFIXES and (named or stem in {"k", "K", "M", "G"}):
        return _OHM_PREFIXES[stem]
    if named or stem.lower() == "meg":
        return _OHM_WORDS.get(stem.lower().strip("_- "))
    return None


def parse_number(text: str, decimal: Literal[".", ","] | None = None) -> float:
    """Read a number with a decimal point or a decimal comma.

    Parameters
    ----------
    text : str
        For example "32.6", "32,6", "1.2e3", "−5".
    decimal : {".", ","}, optional
        The decimal sign, where the file settles it.  Without it, a comma before
        exactly three digits is refused, since it may group thousands.

    Returns
    -------
    float

    Raises
    ------
    UnitError
        The text is no number, or an ambiguous one.

    Examples
    --------
    >>> parse_number("32,6")
    32.6
    >>> parse_number("32,650")
    Traceback (most recent call last):
    thermofit.errors.UnitError: '32,650' may mean 32.65 or 32650; write it without the comma
    """
    tidy = _tidy(text)
    if decimal is None and _AMBIGUOUS_COMMA.fullmatch(tidy):
        small, large = float(tidy.replace(",", ".")), int(tidy.replace(",", ""))
        raise UnitError(f"{text!r} may mean {small:g} or {large}; write it without the comma")
    if decimal is not None and {".": ",", ",": "."}[decimal] in tidy:
        raise UnitError(f"{text!r} is not a number with the decimal sign {decimal!r}")
    if not _NUMBER.fullmatch(tidy):
        raise UnitError(f"{text!r} is not a number")
    return float(tidy.replace(",", "."))


def _split_unit(text: str) -> tuple[str, str]:
    """Divide "4.7 kΩ" into the number's text and the unit's text."""
    tidy = _tidy(text)
    match = _NUMBER.match(tidy)
    if match is None:
        raise UnitError(f"{text!r} does not begin with a number")
    return match.group(), tidy[match.end() :]


def parse_temperature(
    text: str,
    default: TemperatureUnit | None = "C",
    decimal: Literal[".", ","] | None = None,
) -> float:
    """Read a temperature with or without its unit.

    Parameters
    ----------
    text : str
        "77F", "25 °C", "298.15K", "25".
    default : {"C", "F", "K"} or None
        The unit of a bare number; with None a bare number is refused.
    decimal : {".", ","}, optional
        As in `parse_number`.

    Returns
    -------
    float
        Temperature in °C.

    Raises
    ------
    UnitError
        No number, no temperature unit, or below absolute zero.

    Examples
    --------
    >>> parse_temperature("77F")
    25.0
    >>> parse_temperature("300.1K")
    26.95
    """
    number, unit_text = _split_unit(text)
    unit = temperature_unit(unit_text) if unit_text else default
    if unit is None:
        raise UnitError(f"{text!r} has no temperature unit; write it as 25C, 77F or 298.15K")
    t_c = _celsius_exactly(number.replace(",", "."), parse_number(number, decimal), unit)
    if not t_c >= -ZERO_C_K:
        raise UnitError(f"{text!r} is below absolute zero")
    return t_c


def _celsius_exactly(number: str, value: float, unit: TemperatureUnit) -> float:
    """Convert in decimal, since 300.1 − 273.15 in binary is not quite 26.95."""
    if unit == "C" or not 1e-300 < abs(value) < 1e9:
        return to_celsius(value, unit)
    exact = Decimal(number)
    if unit == "K":
        return float(_DECIMAL.subtract(exact, Decimal("273.15")))
    return float(_DECIMAL.divide(_DECIMAL.subtract(exact, Decimal(32)), Decimal("1.8")))


def parse_temperature_difference(
    text: str,
    default: TemperatureUnit | None = "K",
    decimal: Literal[".", ","] | None = None,
) -> float:
    """Read a temperature difference or uncertainty; in kelvin.

    Parameters
    ----------
    text : str
        "0.2C", "0.5F", "0.1 K", "0.1".
    default : {"C", "F", "K"} or None
        The unit of a bare number; with None a bare number is refused.
    decimal : {".", ","}, optional
        As in `parse_number`.

    Returns
    -------
    float
        Difference in kelvin.

    Raises
    ------
    UnitError
        No number or no temperature unit.

    Examples
    --------
    >>> parse_temperature_difference("0.9F")
    0.5
    """
    number, unit_text = _split_unit(text)
    unit = temperature_unit(unit_text) if unit_text else default
    if unit is None:
        raise UnitError(f"{text!r} has no temperature unit; write it as 0.1K or 0.2F")
    return float(to_kelvin_difference(parse_number(number, decimal), unit))


def parse_resistance(
    text: str,
    default_ohm: float | None = 1.0,
    decimal: Literal[".", ","] | None = None,
) -> float:
    """Read a resistance with or without its unit.

    Parameters
    ----------
    text : str
        "4.7k", "4k7", "10 kΩ", "470R", "2M2", "32650".
    default_ohm : float or None
        The unit of a bare number, in ohms; with None a bare number is refused.
    decimal : {".", ","}, optional
        As in `parse_number`.

    Returns
    -------
    float
        Resistance in ohms, of any sign.

    Raises
    ------
    UnitError
        No number or no resistance unit.

    Examples
    --------
    >>> parse_resistance("4k7"), parse_resistance("4.7 kΩ"), parse_resistance("470R")
    (4700.0, 4700.0, 470.0)
    """
    code = _LETTER_CODE.fullmatch(_tidy(text))
    if code:
        whole, letter, fraction = code.groups()
        unit = 1.0 if letter in "Rr" else _OHM_PREFIXES[letter]
        return _scaled(f"{whole}.{fraction}", unit)
    number, unit_text = _split_unit(text)
    factor = resistance_unit(unit_text) if unit_text else default_ohm
    if factor is None:
        raise UnitError(f"{text!r} has no resistance unit; write it as 470R, 4.7k or 1M")
    parse_number(number, decimal)
    return _scaled(number.replace(",", "."), factor)


def _scaled(number: str, factor: float) -> float:
    """Multiply by a power of ten in decimal, so that "4.7k" is exactly 4700.0."""
    exponent = round(np.log10(factor))
    if factor != 10.0**exponent:
        return float(number) * factor
    mantissa, _, own = number.lower().partition("e")
    if len(own) > 6:  # zero or infinite, with or without a prefix
        return float(number)
    return float(f"{mantissa}e{int(own or 0) + exponent}")


@overload
def to_celsius(value: float, unit: TemperatureUnit) -> float: ...
@overload
def to_celsius(
    value: npt.NDArray[np.float64], unit: TemperatureUnit
) -> npt.NDArray[np.float64]: ...
def to_celsius(
    value: float | npt.NDArray[np.float64], unit: TemperatureUnit
) -> float | npt.NDArray[np.float64]:
    """Convert temperatures to °C.

    Parameters
    ----------
    value : float or array
        Temperatures in `unit`.
    unit : {"C", "F", "K"}

    Returns
    -------
    float or array
        Temperatures in °C.

    Examples
    --------
    >>> to_celsius(212.0, "F")
    100.0
    """
    if unit == "C":
        return value
    if unit == "F":
        return (value - 32.0) / 1.8
    return value - ZERO_C_K


def to_kelvin_difference(value: float, unit: TemperatureUnit) -> float:
    """Convert a temperature difference to kelvin.

    Examples
    --------
    >>> to_kelvin_difference(1.8, "F")
    1.0
    """
    return value / 1.8 if unit == "F" else value


def format_ohm(r_ohm: float, digits: int = 5) -> str:
    """Write a resistance with the prefix that a meter would show.

    Parameters
    ----------
    r_ohm : float
        Resistance in ohms.
    digits : int
        Significant digits.

    Examples
    --------
    >>> format_ohm(32650.0), format_ohm(975.4), format_ohm(2.2e6)
    ('32.650 kΩ', '975.40 Ω', '2.2000 MΩ')
    """
    if not np.isfinite(r_ohm) or r_ohm == 0.0:
        return f"{r_ohm:g} Ω"
    rounded = float(f"{r_ohm:.{digits - 1}e}")
    if not 1e-3 <= abs(rounded) < 1e13:
        return f"{r_ohm:.{digits - 1}e} Ω"
    factor, prefix = next(
        (step for step in ((1e9, "G"), (1e6, "M"), (1e3, "k")) if abs(rounded) >= step[0]),
        (1.0, ""),
    )
    places = digits - 1 - int(np.floor(np.log10(abs(rounded / factor))))
    return f"{rounded / factor:.{max(places, 0)}f} {prefix}Ω"


def is_overload(text: str) -> bool:
    """Whether this is what a meter shows beyond its range, or a logger writes then.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool

    Examples
    --------
    >>> is_overload("OL"), is_overload(" 0.L"), is_overload("10k")
    (True, True, False)
    """
    return _OVERLOAD.fullmatch(text.strip().lower()) is not None
