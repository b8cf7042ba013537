"""Values of circuits and of controllers, as they are typed: 5V, 1uA, 20..1000, 140F."""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, Final, Literal

import click

from thermofit.circuit import FaultLimits
from thermofit.cli.benchvalues import quantity
from thermofit.cli.values import Value
from thermofit.curve import Curve
from thermofit.errors import ThermofitWarning, UnitError
from thermofit.family import Family
from thermofit.units import (
    TemperatureUnit,
    parse_number,
    parse_resistance,
    parse_temperature,
    temperature_unit,
    to_kelvin_difference,
)

__all__ = [
    "CURRENT",
    "DISPLAYED",
    "DISSIPATION",
    "LIMITS",
    "SECONDS",
    "SHARE",
    "VOLTAGE",
    "WINDOW",
    "Displayed",
    "LimitSpec",
    "all_limits",
    "refuse_ratio_only",
    "warnings_once",
]

_VOLTS: Final = {"V": 1.0, "mV": 1e-3}
_AMPERES: Final = {"mA": 1e-3, "uA": 1e-6, "µA": 1e-6, "μA": 1e-6, "nA": 1e-9, "pA": 1e-12}
_MILLIWATTS: Final = {"mW/K": 1.0, "mW/C": 1.0, "mW/°C": 1.0, "W/K": 1e3}
_SECONDS: Final = {"ms": 1e-3, "s": 1.0, "min": 60.0, "h": 3600.0}
_LETTER_VOLTS: Final = re.compile(r"(\d+)V(\d+)")
_RANGE: Final = "20..1000 for counts, 0.1V..4.8V or 500R..200k, or one end as ..1000"


@dataclass(frozen=True)
class Displayed:
    """A temperature as a controller shows it.

    Parameters
    ----------
    text : str
        As it was typed.
    t_c : float
    unit : {"C", "F", "K"}
    step_k : float
        Step of the last digit that was typed, in kelvin.
    """

    text: str
    t_c: float
    unit: TemperatureUnit
    step_k: float


@dataclass(frozen=True)
class LimitSpec:
    """One pair of fault limits, as `FaultLimits` takes it."""

    kind: Literal["counts", "v", "ohm"]
    low: float | None
    high: float | None


def _positive(value: float, text: str) -> float:
    if not value > 0.0:
        raise UnitError(f"{text!r} is not above zero")
    return value


def _voltage(text: str) -> float:
    tidy = text.strip()
    code = _LETTER_VOLTS.fullmatch(tidy)
    if code:
        tidy = f"{code[1]}.{code[2]}V"
    return _positive(quantity(tidy, _VOLTS, "5V or 3V3"), text)


def _share(text: str) -> float:
    """Limits ± in percent."""
    percent = parse_number(text.strip().removesuffix("%"))
    if not 0.0 <= percent < 100.0:
        raise UnitError(f"{text!r} is no tolerance: write ± 1 % as 1%, from 0 to below 100 %")
    return percent


def _current(text: str) -> float:
    amperes = quantity(text, _AMPERES, "1uA or 100nA")
    if amperes < 0.0:
        raise UnitError(f"{text!r} is negative; limits ± are not")
    return amperes


def _seconds(text: str) -> float:
    return quantity(text, _SECONDS, "30s or 2min")


def _window(text: str) -> tuple[float, float]:
    first, dots, last = text.partition("..")
    if not dots:
        raise UnitError(f"{text!r} is no part of a log; write first and last time, as 20s..3min")
    ends = _seconds(first), _seconds(last)
    if not ends[0] < ends[1]:
        raise UnitError(f"{text!r} runs backwards; write first and last time, as 20s..3min")
    return ends


def _displayed(text: str) -> Displayed:
    """A bare number is refused, since 60 is warm in °C and cool in °F."""
    t_c = parse_temperature(text, default=None)
    last = max(at for at, sign in enumerate(text) if sign.isdigit())
    unit = temperature_unit(text[last + 1 :].lstrip(".,"))
    assert unit is not None
    fraction = text[: last + 1].replace(",", ".").partition(".")[2]
    step_k = float(to_kelvin_difference(10.0 ** -len(fraction), unit))
    return Displayed(text.strip(), t_c, unit, step_k)


def _limits(text: str) -> LimitSpec:
    low, dots, high = (part.strip() for part in text.partition(".."))
    if not dots or not (low or high):
        raise UnitError(f"{text!r} is no range of good readings; write {_RANGE}")
    ends = [_end(one) for one in (low, high) if one]
    kinds = {kind for kind, _ in ends}
    if len(kinds) > 1:
        raise UnitError(f"{text!r} has a unit at one end only; write {_RANGE}")
    values = [value for _, value in ends]
    if not values[0] <= values[-1] or (len(values) == 2 and values[0] == values[1]):
        raise UnitError(f"{text!r} runs the wrong way; what lies between both ends is good")
    return LimitSpec(kinds.pop(), values[0] if low else None, values[-1] if high else None)


def _end(text: str) -> tuple[Literal["counts", "v", "ohm"], float]:
    if text.endswith("V"):
        return "v", quantity(text, _VOLTS, "0.1V")
    if not any(sign.isalpha() for sign in text):
        return "counts", parse_number(text)
    return "ohm", parse_resistance(text)


VOLTAGE: Final = Value("volts", _voltage)
SHARE: Final = Value("percent", _share)
CURRENT: Final = Value("current", _current)
SECONDS: Final = Value("time", _seconds)
WINDOW: Final = Value("from..to", _window)
DISPLAYED: Final = Value("temperature", _displayed)
LIMITS: Final = Value("low..high", _limits)
DISSIPATION: Final = Value(
    "mW/K", lambda text: _positive(quantity(text, _MILLIWATTS, "2mW/K"), text)
)


def all_limits(specs: tuple[LimitSpec, ...]) -> FaultLimits | None:
    """Put pairs of limits together; None where there are none.

    Raises
    ------
    click.UsageError
        Two pairs in one unit.
    """
    found: dict[str, float | None] = {}
    for one in specs:
        if f"low_{one.kind}" in found:
            raise click.UsageError("--limits: two ranges in one unit; give one, as 20..1000")
        found |= {f"low_{one.kind}": one.low, f"high_{one.kind}": one.high}
    return FaultLimits(**found) if found else None


def refuse_ratio_only(part: Curve | Family | None, *, typed: bool = False) -> None:
    """Refuse a family that leaves R25 open, as a wrong call.

    Parameters
    ----------
    part : Curve or Family, optional
    typed : bool
        Whether a part can be typed in instead.
    """
    if isinstance(part, Family) and part.ratio_only:
        way_out = "save a curve with that R25 (docs/curve-set.md), and name it as SET.csv:ID"
        if typed:
            b_k = part.curve.b_value(25.0, 85.0)
            way_out = f"type in the part, with its R25: --r25 10k --b {b_k:.0f}K"
        raise click.UsageError(f"{part.id} fixes R(T)/R25 only; {way_out}")


@contextmanager
def warnings_once() -> Iterator[list[str]]:
    """Collect what is warned of, each text once."""
    found: list[str] = []
    with warnings.catch_warnings():
        warnings.simplefilter("always", ThermofitWarning)
        shown = warnings.showwarning

        def keep(message: Any, category: type[Warning], *where: Any, **more: Any) -> None:
            if not issubclass(category, ThermofitWarning):
                shown(message, category, *where, **more)
            elif str(message) not in found:
                found.append(str(message))

        warnings.showwarning = keep
        yield found
