"""The reader of logs: CSV with times and temperatures or resistances."""

from __future__ import annotations

import os
import warnings
from array import array
from dataclasses import dataclass
from typing import IO, Final, Literal

import numpy as np

from thermofit.errors import CellProblem, InputError, PointsFileError, UnitError, UnitGuessWarning
from thermofit.pointsfile.cells import DecimalSign, Writing, is_bare, is_no_reading, parse_cell
from thermofit.pointsfile.columns import QUANTITIES, Unit, unit_in, unit_name
from thermofit.pointsfile.layout import Layout
from thermofit.pointsfile.reader import DEFAULT_MAX_BYTES
from thermofit.pointsfile.rows import Survey
from thermofit.pointsfile.settle import settle_writing
from thermofit.pointsfile.text import Record, load_text, records, refusal
from thermofit.thermal.log import StepLog
from thermofit.thermal.logcolumns import LogColumns, ValueKind, find_columns
from thermofit.thermal.logtime import TIME_UNITS, Clock, Moment, parse_time

__all__ = ["read_log"]

_MOST_PROBLEMS: Final = 1000
_GAP: Final = 3.0
_NAMED_GAPS: Final = 5


@dataclass
class _Rows:
    """Readings of a file, and what stands in the way of some."""

    moments: list[Moment]
    lines: list[int]
    cells: list[str]
    values: array[float]
    missing: list[int]
    problems: list[CellProblem]


def read_log(
    source: str | os.PathLike[str] | IO[str] | IO[bytes],
    *,
    quantity: Literal["temperature", "resistance"] | None = None,
    time_column: str | int | None = None,
    value_column: str | int | None = None,
    time_unit: str | None = None,
    unit: str | None = None,
    decimal: DecimalSign | None = None,
    max_bytes: int = DEFAULT_MAX_BYTES,
) -> StepLog:
    """Read a logged series of temperatures or resistances from a CSV file.

    Parameters
    ----------
    source : path or file object
        A file object may be open for text or in binary mode.
    quantity : {"temperature", "resistance"}, optional
        What to read where the file has both; temperatures unless stated.
    time_column, value_column : str or int, optional
        Columns by header, or by position counted from 1; needed where headers do not tell.
    time_unit : str, optional
        Unit of times without one: "s", "min", "h", "ms".  Overrules the header.
    unit : str, optional
        Unit of the readings: "°C", "F", "kΩ" …  Overrules the header.
    decimal : {".", ","}, optional
        The decimal sign, where the file does not settle it.
    max_bytes : int
        Larger files are refused.

    Returns
    -------
    StepLog
        Times in seconds, from the first reading where the file has dates; its notes tell what
        each column was read as, which rows have no reading and where there are gaps.

    Raises
    ------
    PointsFileError
        The file cannot be read; lists every row that cannot be used.  Times that run
        backwards or repeat are such rows.
    UnitError
        `time_unit` or `unit` is no unit.
    InputError
        Another argument is not what it should be.

    Warns
    -----
    UnitGuessWarning
        The file does not state a unit; says what was taken.

    Notes
    -----
    Lines that begin with ``#``, blank lines and text above the header are passed over.
    Times are numbers, hh:mm:ss, or ISO dates with times, in one column or a date and
    a time of day in two.  Sampling may be uneven.

    Examples
    --------
    An invented log:

    >>> import io
    >>> log = read_log(io.StringIO("time (min);T (°C)\\n0;22,1\\n0,05;\\n0,1;23,4\\n"))
    >>> log.t_s, log.t_c
    (array([0., 6.]), array([22.1, 23.4]))
    >>> for note in log.notes:
    ...     print(note)
    column 1 'time (min)' read as time in min
    column 2 'T (°C)' read as temperature in °C
    no reading in row 3: left out
    """
    if quantity not in (None, "temperature", "resistance"):
        raise InputError(f"quantity must be 'temperature' or 'resistance', not {quantity!r}")
    if decimal not in (None, ".", ","):
        raise InputError(f"decimal must be '.' or ',', not {decimal!r}")
    kind: ValueKind | None = {"temperature": "t", "resistance": "r", None: None}[quantity]
    stated_s = _time_unit(time_unit)
    loaded = load_text(source, max_bytes)
    name, text = loaded.name, loaded.text
    columns = find_columns(text, name, kind, time_column, value_column)
    sample = [
        record
        for record in records(text, columns.delimiter, name)
        if record.line > columns.after_line and any(record.cells)
    ]
    if not sample:
        raise refusal(name, "there is a header, but no readings stand below it", columns.after_line)
    writing, guesses = _writing(columns, name, sample, decimal)
    unit_s, time_guess = _settled_time_unit(columns, sample, stated_s)
    value_unit, value_guess = _settled_unit(columns, sample, unit)
    guesses += [*time_guess, *value_guess]
    rows = _read(columns, sample, unit_s, value_unit, writing)
    times = _seconds(rows, columns)
    if rows.problems:
        raise PointsFileError(name, rows.problems)
    if not len(times):
        raise refusal(name, "no row has both a time and a reading", columns.after_line)
    if guesses:
        warnings.warn(f"{name}: {'; '.join(guesses)}", UnitGuessWarning, stacklevel=2)
    notes = [
        *loaded.notes,
        f"{columns.time_title} read as {_time_words(rows, columns, unit_s)}",
        f"{columns.value_title} read as {QUANTITIES[columns.kind]} "
        + ("in the units of its cells" if value_unit is None else f"in {unit_name(value_unit)}"),
        *columns.notes,
        *guesses,
        *_missing(rows.missing),
        *_gaps(times, rows.lines),
    ]
    values = np.frombuffer(rows.values)
    return StepLog(
        times,
        values if columns.kind == "t" else None,
        values if columns.kind == "r" else None,
        source=name,
        notes=tuple(notes),
    )


def _time_unit(text: str | None) -> float | None:
    if text is None:
        return None
    if not isinstance(text, str) or text.strip().casefold() not in TIME_UNITS:
        raise UnitError(f"{text!r} is no unit of time (time_unit); use ms, s, min or h")
    return TIME_UNITS[text.strip().casefold()]


def _writing(
    columns: LogColumns, name: str, sample: list[Record], decimal: DecimalSign | None
) -> tuple[Writing, list[str]]:
    """Decide the decimal sign from times and readings together."""
    survey = Survey()
    places = [(columns.time_place, columns.time_title), (columns.value_place, columns.value_title)]
    for record in sample:
        for place, title in places:
            cell = record.cells[place] if place < len(record.cells) else ""
            if cell and ":" not in cell:
                survey.evidence.look_at(cell, record.line, title)
    layout = Layout(columns.delimiter, columns.header, columns.after_line, columns.after_line, 0)
    return settle_writing(layout, name, survey, decimal)


def _settled_time_unit(
    columns: LogColumns, sample: list[Record], stated_s: float | None
) -> tuple[float | None, list[str]]:
    unit_s = columns.time.unit_s if stated_s is None else stated_s
    bare = any(is_bare(_cell(record, columns.time_place)) for record in sample)
    if unit_s is None and bare:
        return 1.0, [
            f"{columns.time_title} taken as time in seconds, since no unit is stated: write it in "
            "the header, or state the unit (time_unit)"
        ]
    return unit_s, []


def _settled_unit(
    columns: LogColumns, sample: list[Record], stated: str | None
) -> tuple[Unit | None, list[str]]:
    if stated is not None:
        unit = unit_in(columns.kind, stated) if isinstance(stated, str) else None
        if unit is None:
            raise UnitError(f"{stated!r} is no unit of a {QUANTITIES[columns.kind]} (unit)")
        return unit, []
    if columns.unit is not None:
        return columns.unit, []
    cells = [_cell(record, columns.value_place) for record in sample]
    bare = [cell for cell in cells if is_bare(cell)]
    own = any(cell[:1].isdigit() and not is_bare(cell) for cell in cells)
    # "77F" and "25" in one column are a riddle, which `parse_cell` refuses.
    if not bare or (own and columns.kind == "t"):
        return None, []
    default: Unit = "C" if columns.kind == "t" else 1.0
    return default, [
        f"{columns.value_title} taken as {QUANTITIES[columns.kind]} in {unit_name(default)}, since "
        "no unit is stated: write it in the header, or state the unit (unit)"
    ]


def _read(
    columns: LogColumns, sample: list[Record], unit_s: float | None, unit: Unit | None,
    writing: Writing,
) -> _Rows:  # fmt: skip
    rows = _Rows([], [], [], array("d"), [], [])
    for record in sample:
        if len(rows.problems) >= _MOST_PROBLEMS:
            rows.problems.append(CellProblem("reading stopped here", row=record.line))
            break
        time_cell = _cell(record, columns.time_place)
        if columns.date_place is not None:
            time_cell = f"{_cell(record, columns.date_place)} {time_cell}".strip()
        value_cell = _cell(record, columns.value_place)
        if is_no_reading(time_cell) or is_no_reading(value_cell):
            rows.missing.append(record.line)
            continue
        try:
            moment = parse_time(time_cell, unit_s, columns.time.clock, writing.decimal)
        except UnitError as error:
            rows.problems.append(
                CellProblem(str(error), record.line, columns.time_label, time_cell)
            )
            continue
        try:
            value, _ = parse_cell(value_cell, columns.kind, unit, writing)
        except UnitError as error:
            rows.problems.append(
                CellProblem(str(error), record.line, columns.value_label, value_cell)
            )
            continue
        rows.moments.append(moment)
        rows.lines.append(record.line)
        rows.cells.append(time_cell)
        rows.values.append(value)
    return rows


def _seconds(rows: _Rows, columns: LogColumns) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Give times in seconds, and note those that run backwards, repeat or are written unlike."""
    times = np.empty(len(rows.moments))
    for at, moment in enumerate(rows.moments):
        line, cell, reason = rows.lines[at], rows.cells[at], ""
        if moment.writing != rows.moments[0].writing:
            reason = "is written unlike the times before it; write all alike"
            times[at] = np.nan
        else:
            try:
                times[at] = moment.since(rows.moments[0])
            except UnitError as error:
                reason, times[at] = str(error), np.nan
        if at and times[at] <= times[at - 1]:
            before = rows.cells[at - 1]
            if times[at] == times[at - 1]:
                reason = (
                    f"time repeats, {before!r} in row {rows.lines[at - 1]} too; write finer times, "
                    "or leave one of the readings out"
                )
            else:
                reason = f"time runs backwards, after {before!r} in row {rows.lines[at - 1]}"
                reason += (
                    "; if midnight lies between, write the date too"
                    if moment.writing == "clock"
                    else "; use one run of the log, in its order"
                )
        if reason:
            rows.problems.append(CellProblem(reason, line, columns.time_label, cell))
    return times


def _time_words(rows: _Rows, columns: LogColumns, unit_s: float | None) -> str:
    if rows.moments[0].writing == "date":
        return "date and time, from the first reading"
    if rows.moments[0].writing == "clock":
        clock: Clock = columns.time.clock or "hh:mm:ss"
        return f"time in {clock}"
    names = {1e-3: "ms", 1.0: "s", 60.0: "min", 3600.0: "h", 86400.0: "days"}
    return "time " + ("in the units of its cells" if unit_s is None else f"in {names[unit_s]}")


def _missing(lines: list[int]) -> list[str]:
    if not lines:
        return []
    shown = ", ".join(map(str, lines[:10])) + (f" and {len(lines) - 10} more" if lines[10:] else "")
    return [f"no reading in row{'s' if lines[1:] else ''} {shown}: left out"]


def _gaps(times: np.ndarray[tuple[int], np.dtype[np.float64]], lines: list[int]) -> list[str]:
    widths = np.diff(times)
    if len(widths) < 4:
        return []
    usual = float(np.median(widths))
    wide = np.flatnonzero(widths > _GAP * usual)
    notes = [
        f"a gap of {widths[at]:.3g} s before row {lines[at + 1]}, where {usual:.3g} s is usual"
        for at in wide[:_NAMED_GAPS]
    ]
    if len(wide) > _NAMED_GAPS:
        notes.append(f"{len(wide) - _NAMED_GAPS} more gaps")
    return notes


def _cell(record: Record, place: int) -> str:
    return record.cells[place] if place < len(record.cells) else ""
