"""Readings between a sensor and its controller: as they are typed, or in a file."""

from __future__ import annotations

import dataclasses
import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from thermofit.cli.circuitvalues import DISPLAYED, Displayed
from thermofit.cli.values import Value, relative
from thermofit.decide import SpotReading, display_reading
from thermofit.errors import InputError, UnitError
from thermofit.family import Family
from thermofit.units import parse_number, parse_resistance, parse_temperature

if TYPE_CHECKING:
    import pandas as pd

    from thermofit.decide.cause.spot import Place

__all__ = ["SPOT", "SPOT_SHOWN", "Amounts", "Spot", "frame_of", "name_of"]

Amounts = tuple[float, float]

_OVER_RANGE: Final = ("OL", "INF")
_COLUMNS: Final = tuple(field.name for field in dataclasses.fields(SpotReading))
_NEEDED: Final = ("place", "t_c", "r_ohm")
_HOW: Final = "20C:14.6k, or 20C:over40M where a meter that goes to 40 MΩ shows OL"


@dataclass(frozen=True)
class Spot:
    """A reading as it was typed; either `limit_ohm` with 0 or infinity, or `shown`, or neither."""

    text: str
    t_c: float
    r_ohm: float = math.nan
    limit_ohm: float | None = None
    shown: Displayed | None = None

    def reading(
        self, place: Place, assumed: Family, u_t_k: float, u_r: Amounts, step_k: float | None
    ) -> SpotReading:
        """Give it its place and its uncertainties."""
        if self.shown is not None:
            return display_reading(
                self.shown.t_c, assumed, t_c=self.t_c, u_t_k=u_t_k,
                display_step_k=self.shown.step_k if step_k is None else step_k,
            )  # fmt: skip
        if self.limit_ohm is None:
            return SpotReading(place, self.t_c, self.r_ohm, u_t_k, relative(u_r, self.r_ohm))
        if self.r_ohm == math.inf:
            return SpotReading(place, self.t_c, math.inf, u_t_k, 0.0, self.limit_ohm)
        # Rectangular, between minus and plus the limit (JCGM 100, 4.3.7).
        return SpotReading(place, self.t_c, 0.0, u_t_k, self.limit_ohm / math.sqrt(3.0))

    @property
    def metered(self) -> bool:
        """Whether it is a resistance that a meter shows, with the uncertainty of the meter."""
        return self.shown is None and self.limit_ohm is None


def _spot(text: str) -> Spot:
    """Read true temperature and resistance: ``20C:14.6k``, ``20C:over40M``, ``20C:under1R``."""
    t, colon, r = (part.strip() for part in text.partition(":"))
    if not colon:
        raise UnitError(f"{text!r} is no reading; write temperature and resistance as {_HOW}")
    t_c = parse_temperature(t)
    if r.upper() in (*_OVER_RANGE, "OVER", "UNDER"):
        raise UnitError(f"{text!r} does not say of what range; write the reading as {_HOW}")
    for word, beyond in (("over", math.inf), ("under", 0.0)):
        if r.lower().startswith(word):
            return Spot(text, t_c, beyond, _resistance(r[len(word) :], text))
    return Spot(text, t_c, _resistance(r, text))


def _resistance(r: str, text: str) -> float:
    r_ohm = parse_resistance(r)
    if r_ohm == 0.0:
        raise UnitError(
            f"{text!r}: where a meter shows 0, write the smallest that it can show, as 20C:under1R"
        )
    if not 0.0 < r_ohm < math.inf:
        raise UnitError(f"{r!r} is no resistance that a meter shows; write the reading as {_HOW}")
    return r_ohm


def _spot_shown(text: str) -> Spot:
    """Read true and displayed temperature: ``20C:18.3C``, or a limit as at the other places."""
    t, colon, shown = (part.strip() for part in text.partition(":"))
    if colon and shown.lower().startswith(("over", "under")):
        return _spot(text)
    # k is kelvin to a temperature.
    if not colon or shown.endswith("k"):
        raise UnitError(
            f"{text!r} is no reading of a display; write true and displayed temperature as "
            "20C:18.3C, or 20C:over200k where it takes the sensor for open"
        )
    return Spot(text, parse_temperature(t), shown=DISPLAYED.convert(shown, None, None))


SPOT: Final = Value("t:ohms", _spot)
SPOT_SHOWN: Final = Value("t:shown", _spot_shown)


def frame_of(file: str, u_t: float | None, u_r: Amounts | None, read_as: list[str]) -> pd.DataFrame:
    """Read a file with the columns that `thermofit.causes` takes of a frame."""
    import pandas as pd

    name = name_of(file)
    header, rows = _table(file)
    missing = [column for column in _NEEDED if column not in header]
    if missing:
        raise InputError(
            f"{name} has no column {', '.join(map(repr, missing))}, only {', '.join(header)}; "
            "call the right ones so in its first line"
        )
    for option, column, given in (("--u-t", "u_t_k", u_t), ("--u-r", "u_r_ohm", u_r)):
        if column in header and given is not None:
            raise InputError(f"{name} states {column} of its own; leave {option} out")
        if column not in header and given is None:
            raise InputError(f"{name} has no column {column!r}; add it, or state {option}")
    unused = [column for column in header if column not in _COLUMNS]
    if unused:
        read_as.append(f"{name}: columns not used: {', '.join(map(repr, unused))}")
    frame = pd.DataFrame(rows, columns=header, dtype=object)
    if u_t is not None:
        frame["u_t_k"] = u_t
    if header.count("r_ohm") == 1:
        if u_r is not None:
            numbers = [r if isinstance(r, float) else math.nan for r in frame["r_ohm"]]
            frame["u_r_ohm"] = [relative(u_r, r_ohm) for r_ohm in numbers]
        # What is over range needs none.
        over = (frame["r_ohm"] == math.inf) & (frame["u_r_ohm"].isna() | (u_r is not None))
        frame.loc[over, "u_r_ohm"] = 0.0
    return frame


def name_of(file: str) -> str:
    """Name a file for people."""
    return "standard input" if file == "-" else file


def _table(file: str) -> tuple[list[str], list[list[str | float]]]:
    """Header and cells of a file."""
    import csv
    import io

    name = name_of(file)
    source = sys.stdin.buffer.read() if file == "-" else Path(file).read_bytes()
    try:
        text = io.StringIO(source.decode("utf-8-sig"), newline="")
        lines = csv.reader(text, skipinitialspace=True)
        header, *rows = [[cell.strip() for cell in cells] for cells in lines if any(cells)] or [[]]
    except (ValueError, csv.Error) as error:
        raise InputError(f"{name} is no CSV file in UTF-8: {error}; save it as one") from None
    if not rows:
        raise InputError(
            f"{name} has no readings; its first line names the columns {','.join(_COLUMNS)}, "
            "each line below it is a reading"
        )
    for number, cells in enumerate(rows, start=1):
        if len(cells) != len(header):
            raise InputError(
                f"row {number} below the header of {name} has {len(cells)} cells, and the header "
                f"{len(header)}; commas separate cells, and the decimal sign is a point"
            )
    return header, [[_cell(cell) for cell in cells] for cells in rows]


def _cell(text: str) -> str | float:
    """A number where it is one; the library refuses what is none, and says where."""
    if not text:
        return math.nan
    if text.upper() in _OVER_RANGE:
        return math.inf
    try:
        return parse_number(text)
    except UnitError:
        return text
