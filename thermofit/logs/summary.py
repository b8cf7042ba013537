"""What became of a log."""

from __future__ import annotations

import math
from dataclasses import dataclass

from thermofit.notebook import ShownInNotebooks
from thermofit.units import format_ohm

__all__ = ["Counts", "LogConversion"]


@dataclass(frozen=True)
class Counts:
    """Rows of a part of a log, by what they are.

    Parameters
    ----------
    rows, blank, unusable, outside, no_value : int
        As in `LogConversion`.
    first_blank, first_unusable, first_outside : int or None
    lowest, highest : float
        NaN where there is no value.
    """

    rows: int = 0
    blank: int = 0
    unusable: int = 0
    outside: int = 0
    no_value: int = 0
    first_blank: int | None = None
    first_unusable: int | None = None
    first_outside: int | None = None
    lowest: float = math.nan
    highest: float = math.nan

    def __add__(self, later: Counts) -> Counts:
        return Counts(
            self.rows + later.rows,
            self.blank + later.blank,
            self.unusable + later.unusable,
            self.outside + later.outside,
            self.no_value + later.no_value,
            later.first_blank if self.first_blank is None else self.first_blank,
            later.first_unusable if self.first_unusable is None else self.first_unusable,
            later.first_outside if self.first_outside is None else self.first_outside,
            later.lowest if not self.lowest <= later.lowest else self.lowest,
            later.highest if not self.highest >= later.highest else self.highest,
        )


@dataclass(frozen=True)
class LogConversion(ShownInNotebooks):
    """What a log was converted to, and what was met on the way.

    Rows are named by the line of a CSV file on which they begin, and by their number, from 1,
    in a Parquet file.

    Parameters
    ----------
    source, target : str
        The files.
    to : {"temperature", "resistance"}
        What was computed.
    curve_id : str
        Of the curve that was used.
    new_columns : tuple of str
        What the target has more than the source.
    rows : int
        Readings, whatever stands in them.
    blank : int
        Cells without a reading; they stay blank.
    unusable : int
        Cells that no sensor can have and that were left blank on demand.
    outside : int
        Values outside the valid range of the curve.
    no_value : int
        Those of them for which the curve has no value at all; they are blank.
    first_blank, first_unusable, first_outside : int or None
        The first row of each kind.
    lowest, highest : float
        Of the new column, in °C or Ω; NaN where nothing was computed.
    notes : tuple of str
        What the file was read as.
    """

    source: str
    target: str
    to: str
    curve_id: str
    new_columns: tuple[str, ...]
    rows: int
    blank: int
    unusable: int
    outside: int
    no_value: int
    first_blank: int | None
    first_unusable: int | None
    first_outside: int | None
    lowest: float
    highest: float
    notes: tuple[str, ...]

    def __str__(self) -> str:
        new = " and ".join(map(repr, self.new_columns))
        lines = [f"{_rows(self.rows)} of {self.source} converted to {self.target}, new: {new}"]
        if math.isfinite(self.lowest):
            low, high = map(self._written, (self.lowest, self.highest))
            lines.append(f"  from {low} to {high}")
        for count, first, what in (
            (self.blank, self.first_blank, "without a reading, blank"),
            (self.unusable, self.first_unusable, "with no reading of a sensor, left blank"),
            (self.outside, self.first_outside, "outside the valid range of the curve"),
        ):
            if count:
                lines.append(f"  {_rows(count)} {what}, the first of them {first}")
        if self.no_value:
            lines.append(f"  {_rows(self.no_value)} of these blank: the curve has no value there")
        return "\n".join(lines)

    def _written(self, value: float) -> str:
        return f"{value:.3f} °C" if self.to == "temperature" else format_ohm(value)


def _rows(count: int) -> str:
    return "1 row" if count == 1 else f"{count} rows"
