"""The times of a log as people write them: seconds, minutes, hh:mm:ss, ISO dates with times."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from datetime import datetime
from typing import Final, Literal

from thermofit.errors import UnitError
from thermofit.pointsfile.cells import DecimalSign, is_bare
from thermofit.units import parse_number

__all__ = ["TIME_UNITS", "Clock", "Moment", "TimeHeader", "parse_time", "time_header"]

Clock = Literal["hh:mm:ss", "hh:mm", "mm:ss"]
Writing = Literal["number", "clock", "date"]

TIME_UNITS: Final[dict[str, float]] = {
    **dict.fromkeys(("ms", "millisecond", "milliseconds", "msec"), 1e-3),
    **dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sekunden"), 1.0),
    **dict.fromkeys(("min", "mins", "minute", "minutes", "minuten"), 60.0),
    **dict.fromkeys(("h", "hr", "hrs", "hour", "hours", "stunden"), 3600.0),
    **dict.fromkeys(("d", "day", "days"), 86400.0),
}
_NAMES: Final = frozenset(
    (
        "time", "times", "elapsed", "since", "start", "running", "clock", "timestamp", "stamp",
        "logged", "log", "date", "datetime", "zeit", "uhrzeit", "zeitstempel", "datum", "heure",
        "tijd", "tempo", "tiempo", "hora", "fecha",
    )
)  # fmt: skip
_DATES: Final = frozenset(("date", "datum", "fecha"))
_BESIDE: Final = frozenset(("utc", "gmt", "local", "iso", "the", "of", "in"))
_CLOCKS: Final[dict[str, Clock]] = {
    "hh:mm:ss": "hh:mm:ss", "h:mm:ss": "hh:mm:ss", "hh:mm": "hh:mm", "h:mm": "hh:mm",
    "mm:ss": "mm:ss", "m:ss": "mm:ss",
}  # fmt: skip
# A header of such a word alone may be the least value, or anything.
_NOT_ALONE: Final = frozenset(("min", "mins", "ms", "h", "d", "hr"))

_CLOCK: Final = re.compile(r"(\d{1,6}):([0-5]?\d)(?::([0-5]?\d(?:[.,]\d*)?))?")
_WITH_UNIT: Final = re.compile(r"([+\-−]?[\d.,]*\d\.?)\s*([^\W\d_]+)")
_DATE: Final = re.compile(r"\d{4}-?\d{2}-?\d{2}[T ].+")


@dataclass(frozen=True)
class TimeHeader:
    """What the header of a column of times says.

    Parameters
    ----------
    unit_s : float or None
        Its unit in seconds, where it states one.
    clock : str or None
        How a time with colons is written, where it states that.
    date : bool
        Whether it names a date, which may need the time of day from another column.
    """

    unit_s: float | None = None
    clock: Clock | None = None
    date: bool = False


@dataclass(frozen=True)
class Moment:
    """One time: seconds by itself, or since the year 1, and how it was written.

    Parameters
    ----------
    seconds : float or None
        None for a date.
    writing : {"number", "clock", "date"}
    date : datetime or None
        Where it is one, kept as such since seconds since then would lose digits.
    """

    seconds: float | None
    writing: Writing
    date: datetime | None = None

    def since(self, first: Moment) -> float:
        """Seconds since another time; for dates only, other times count by themselves.

        Raises
        ------
        UnitError
            One of two dates states its offset from UTC, the other does not.
        """
        if self.date is None or first.date is None:
            return float(self.seconds or 0.0)
        try:
            return (self.date - first.date).total_seconds()
        except TypeError:
            raise UnitError(
                "this time states its offset from UTC and others do not, or the reverse; write "
                "all alike"
            ) from None


def time_header(header: str) -> TimeHeader | None:
    """Read the header of a column as that of a time.

    Examples
    --------
    >>> time_header("Time [min]")
    TimeHeader(unit_s=60.0, clock=None, date=False)
    >>> time_header("T (°C)") is None, time_header("t") is None
    (True, True)
    """
    text = unicodedata.normalize("NFKC", header).strip().casefold()
    tokens = re.findall(r"[^\W_:]+(?::[^\W_:]+)*", text)
    if not tokens or len(text) > 60 or "°" in text:
        return None
    names = [token for token in tokens if token in _NAMES or token in _BESIDE]
    units = [token for token in tokens if token in TIME_UNITS]
    clocks = [token for token in tokens if token in _CLOCKS]
    symbols = [token for token in tokens if token == "t"]
    if len(names) + len(units) + len(clocks) + len(symbols) != len(tokens):
        return None
    if len(units) > 1 or len(clocks) > 1 or len(symbols) > 1:
        return None
    named = any(token in _NAMES for token in names)
    # "t" is a temperature unless a unit of time stands beside it.
    if not named and not units and not clocks:
        return None
    if not named and not symbols and units and units[0] in _NOT_ALONE:
        return None
    if symbols and not units and not clocks:
        return None
    return TimeHeader(
        TIME_UNITS[units[0]] if units else None,
        _CLOCKS[clocks[0]] if clocks else None,
        bool(_DATES & set(names)) and not {"time", "uhrzeit"} & set(names),
    )


def parse_time(
    cell: str, unit_s: float | None, clock: Clock | None, decimal: DecimalSign | None
) -> Moment:
    """Read one time.

    Parameters
    ----------
    cell : str
        "12.5", "0:01:30", "90 s", "2026-11-25T10:00:02" …
    unit_s : float or None
        Unit of a bare number in seconds.
    clock : str or None
        How times with one colon are written.
    decimal : {".", ","} or None
        The decimal sign.

    Returns
    -------
    Moment

    Raises
    ------
    UnitError
        Why it is no time, and the way out.

    Examples
    --------
    >>> [parse_time(cell, 1.0, None, ".").seconds for cell in ("0:01:30.5", "2 min", "7")]
    [90.5, 120.0, 7.0]
    """
    found = _CLOCK.fullmatch(cell)
    if found:
        first, second, third = found.groups()
        if third is not None:
            return Moment(
                3600.0 * int(first) + 60.0 * int(second) + float(third.replace(",", ".")), "clock"
            )
        if clock not in ("hh:mm", "mm:ss"):
            raise UnitError(
                "may be hours and minutes or minutes and seconds; write hh:mm:ss, or say so in "
                "the header, as in time (mm:ss)"
            )
        factor = 3600.0 if clock == "hh:mm" else 60.0
        return Moment(factor * int(first) + factor / 60.0 * int(second), "clock")
    if _DATE.fullmatch(cell):
        try:
            return Moment(None, "date", datetime.fromisoformat(cell.replace(" ", "T", 1)))
        except ValueError as error:
            raise UnitError(
                f"no date with a time of day ({error}); write 2026-11-25 10:00:02"
            ) from None
    if is_bare(cell):
        if unit_s is None:
            raise UnitError("has no unit of time; write it in the header, as in time (s)")
        return Moment(parse_number(cell, decimal) * unit_s, "number")
    own = _WITH_UNIT.fullmatch(cell)
    if own and own.group(2).casefold() in TIME_UNITS:
        return Moment(
            parse_number(own.group(1), decimal) * TIME_UNITS[own.group(2).casefold()], "number"
        )
    raise UnitError(
        "no time that can be read; write seconds, hh:mm:ss, or a date as 2026-11-25 10:00:02"
    )
