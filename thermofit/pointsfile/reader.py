"""Read measured points from the CSV files that people have."""

from __future__ import annotations

import os
import re
import warnings
from dataclasses import dataclass
from typing import IO, Any

import numpy as np

from thermofit.errors import InputError, UnitError, UnitGuessWarning
from thermofit.points import Points
from thermofit.pointsfile.cells import SIGN_NAMES, DecimalSign, Writing
from thermofit.pointsfile.columns import Kind, Unit
from thermofit.pointsfile.layout import Layout, find_layout
from thermofit.pointsfile.lookup import Wanted, listed
from thermofit.pointsfile.names import like_names, one_taken, unread_names
from thermofit.pointsfile.roles import Role, Used, assign_roles, describe, find_column
from thermofit.pointsfile.rows import Rows, Survey, read_rows, survey_rows
from thermofit.pointsfile.settle import (
    settle_order,
    settle_uncertainties,
    settle_units,
    settle_writing,
)
from thermofit.pointsfile.text import ANY_SPACE, WIDE_SPACE, load_text, refusal
from thermofit.units import resistance_unit, temperature_unit

__all__ = ["DEFAULT_MAX_BYTES", "Source", "Table", "read_points", "read_table"]

DEFAULT_MAX_BYTES = 16 * 2**20
"""What `read_points` reads at most unless told otherwise: 16 MiB."""

Source = str | os.PathLike[str] | IO[str] | IO[bytes]

# Spreadsheets write the separator above the header in some settings.
_SEPARATOR_LINE = re.compile(r'"?sep=([,;|\t])"?[ ]*(?=\r|\n|$)', re.IGNORECASE)
_SEPARATOR_NAMES = {
    "\t": "a tab",
    ",": "a comma",
    ";": "a semicolon",
    "|": "a vertical bar",
    WIDE_SPACE: "two or more spaces",
    ANY_SPACE: "spaces",
}


@dataclass(frozen=True)
class Table:
    """A points file as it was understood.

    Parameters
    ----------
    name : str
        The file.
    rows : Rows
    notes : list of str
        What it was read as.
    guesses : list of str
        Those of the notes that the file does not state.
    """

    name: str
    rows: Rows
    notes: list[str]
    guesses: list[str]

    @property
    def columns(self) -> tuple[Any, Any, Any, Any]:
        """Arrays of t_c, r_ohm, u_t_k and u_r_ohm; None where not stated."""
        values = {kind: np.frombuffer(column) for kind, column in self.rows.values.items()}
        return values["t"], values["r"], values.get("u_t"), values.get("u_r")

    def warn(self, stacklevel: int) -> None:
        """Say what was guessed; where from, is counted from the caller."""
        if self.guesses:
            text = f"{self.name}: {'; '.join(self.guesses)}"
            warnings.warn(text, UnitGuessWarning, stacklevel=stacklevel + 1)


def read_points(
    source: Source,
    *,
    t_column: str | int | None = None,
    r_column: str | int | None = None,
    u_t_column: str | int | None = None,
    u_r_column: str | int | None = None,
    t_unit: str | None = None,
    r_unit: str | None = None,
    decimal: DecimalSign | None = None,
    delimiter: str | None = None,
    max_bytes: int = DEFAULT_MAX_BYTES,
) -> Points:
    """Read measured points from a CSV file, forgiving of its form, never guessing silently.

    Parameters
    ----------
    source : path or file object
        A file object may be open for text or in binary mode.
    t_column, r_column : str or int, optional
        Column of the temperature and of the resistance: header, or position
        counted from 1.  Needed where the headers do not tell them.
    u_t_column, u_r_column : str or int, optional
        Columns of their standard uncertainties, likewise.
    t_unit : str, optional
        Unit of temperatures without one: "°C", "F", "K" …  Overrules the header.
    r_unit : str, optional
        Unit of resistances without one: "ohm", "kΩ" …  Overrules the header.
    decimal : {".", ","}, optional
        The decimal sign; the other one may then group thousands.
    delimiter : str, optional
        What separates columns: one character, or "whitespace".
    max_bytes : int
        Larger files are refused; no more than this and one byte is read.

    Returns
    -------
    Points
        In °C, Ω and K, in the order of the file; `Points.notes` tells what each
        column was read as.

    Raises
    ------
    PointsFileError
        The file cannot be read; lists every row and cell that cannot be used.
    UnitError
        `t_unit` or `r_unit` is no unit.
    InputError
        Another argument is not what it should be.

    Warns
    -----
    UnitGuessWarning
        The file does not state a unit, or has no header; says what was taken.

    Notes
    -----
    Headers state quantity and unit, such as ``t_c``, ``Temperature (°F)``,
    ``R/kOhm``, or a unit alone; cells may carry their own unit (``77F``,
    ``4k7``).  ``u(T)``, ``u_r_ohm``, ``u(R) (%)`` are standard uncertainties;
    ``U(T) k=2`` is an expanded one (JCGM 100:2008, 2.3.5) and is divided by k.

    Lines that begin with ``#``, blank lines and text above the header are passed
    over; rows that repeat are kept, since they are repeated readings.  One
    decimal sign holds for the whole file: where every comma stands before three
    digits, it could group thousands, and without points in other columns to
    show that it does, the file is refused unless `decimal` is given.

    Examples
    --------
    Invented readings of an aspirated air sensor from a glasshouse controller:

    >>> import io
    >>> file = io.StringIO("T (°C);R (kΩ);note\\n0,0;32,65;ice\\n25,1;9,96;bath\\n")
    >>> p = read_points(file)
    >>> p.t_c, p.r_ohm
    (array([ 0. , 25.1]), array([32650.,  9960.]))
    >>> for note in p.notes:
    ...     print(note)
    columns separated by a semicolon, decimal sign a comma
    column 1 'T (°C)' read as temperature in °C
    column 2 'R (kΩ)' read as resistance in kΩ
    columns not used: 3 'note'
    """
    table = read_table(
        source, t_column=t_column, r_column=r_column, u_t_column=u_t_column, u_r_column=u_r_column,
        t_unit=t_unit, r_unit=r_unit, decimal=decimal, delimiter=delimiter, max_bytes=max_bytes,
    )  # fmt: skip
    table.warn(stacklevel=2)
    return Points(*table.columns, source=table.name, notes=table.notes)


def read_table(
    source: Source,
    *,
    sensor_column: str | int | None = None,
    t_column: str | int | None = None,
    r_column: str | int | None = None,
    u_t_column: str | int | None = None,
    u_r_column: str | int | None = None,
    t_unit: str | None = None,
    r_unit: str | None = None,
    decimal: DecimalSign | None = None,
    delimiter: str | None = None,
    max_bytes: int = DEFAULT_MAX_BYTES,
) -> Table:
    """Read a points file, be it of one sensor or, with a column of their names, of many.

    Arguments and errors are those of `read_points`.
    """
    wanted = _wanted({"t": t_column, "r": r_column, "u_t": u_t_column, "u_r": u_r_column})
    units = _stated_units(t_unit, r_unit)
    if sensor_column is not None:
        _check_column(sensor_column, "sensor")
    if decimal not in (None, ".", ","):
        raise InputError(f"decimal must be '.' or ',', not {decimal!r}")
    separator = None if delimiter is None else _separator(delimiter)
    loaded = load_text(source, max_bytes)
    name, text = loaded.name, loaded.text
    announced = _SEPARATOR_LINE.match(text)
    if announced:
        separator = separator or announced.group(1)
        # A comment from here on, so that the rows keep their numbers.
        text = f"#{text}"

    layout = find_layout(text, name, separator, wanted)
    names = None if sensor_column is None else find_column(layout, name, sensor_column)
    roles = assign_roles(layout, name, wanted, units, names)
    unread = unread_names(layout, roles) if names is None else None
    survey = survey_rows(text, name, layout, roles, unread)
    if survey.rows == 0:
        reason = "there is a header, but no readings stand below it"
        raise refusal(name, reason, layout.header_line)
    guesses = settle_order(layout, roles, wanted)
    roles, left_out = settle_uncertainties(roles, survey)
    roles, unit_guesses = settle_units(layout, name, roles, survey)
    writing, sign_guesses = settle_writing(layout, name, survey, decimal)
    guesses += unit_guesses + sign_guesses
    if unread is not None and len(survey.names) > 1:
        guesses.append(one_taken(unread))
    rows = read_rows(text, name, layout, roles, writing, names)

    notes = [*loaded.notes, *_layout_notes(layout, survey, writing)]
    if names is not None:
        notes.append(f"{names.title} read as the name of the sensor: {len(set(rows.sensors))}")
        guesses += like_names(rows.sensors)
    notes += [*map(describe, roles.values()), *_own_units(roles, survey)]
    notes += [*left_out, *_unused_note(layout, [*roles.values(), *([names] if names else [])])]
    return Table(name, rows, notes + guesses, guesses)


def _wanted(named: dict[Kind, str | int | None]) -> Wanted:
    wanted: Wanted = {}
    for kind, value in named.items():
        if value is None:
            continue
        _check_column(value, kind)
        wanted[kind] = value
    return wanted


def _check_column(value: str | int, kind: str) -> None:
    is_text = isinstance(value, str) and value.strip()
    is_position = isinstance(value, int) and not isinstance(value, bool) and value > 0
    if not is_text and not is_position:
        raise InputError(
            f"{kind}_column must be a header, or a position counted from 1, not {value!r}"
        )


def _stated_units(t_unit: str | None, r_unit: str | None) -> dict[Kind, Unit]:
    units: dict[Kind, Unit] = {}
    if t_unit is not None:
        degree = temperature_unit(t_unit) if isinstance(t_unit, str) else None
        if degree is None:
            raise UnitError(f"{t_unit!r} is no unit of temperature (t_unit); use C, F or K")
        units["t"] = degree
    if r_unit is not None:
        ohms = resistance_unit(r_unit) if isinstance(r_unit, str) else None
        if ohms is None:
            raise UnitError(f"{r_unit!r} is no unit of resistance (r_unit); use ohm, kohm or Mohm")
        units["r"] = ohms
    return units


def _separator(delimiter: str) -> str:
    if delimiter in ("whitespace", " "):
        return ANY_SPACE
    usable = isinstance(delimiter, str) and len(delimiter) == 1
    if not usable or delimiter.isalnum() or delimiter in '"#+-−.\r\n\x00':
        raise InputError(
            f"delimiter must be one character such as ',' ';' or a tab, or 'whitespace', "
            f"not {delimiter!r}"
        )
    return delimiter


def _layout_notes(layout: Layout, survey: Survey, writing: Writing) -> list[str]:
    separator = _SEPARATOR_NAMES.get(layout.delimiter, repr(layout.delimiter))
    notes = [f"columns separated by {separator}"]
    if writing.decimal == ",":
        notes[0] += ", decimal sign a comma"
    if (
        writing.groups
        and {f"?{writing.groups}", f"g{writing.groups}"} & survey.evidence.seen.keys()
    ):
        notes.append(f"thousands grouped by a {SIGN_NAMES[writing.groups]}")
    if layout.preamble:
        rows = "a row" if layout.preamble == 1 else f"{layout.preamble} rows"
        notes.append(f"header in row {layout.header_line}, below {rows} of other text")
    if layout.note:
        notes.append(layout.note)
    if survey.empty_rows:
        notes.append(f"rows of empty cells only, passed over: {survey.empty_rows}")
    return notes


def _own_units(roles: dict[Kind, Role], survey: Survey) -> list[str]:
    return [
        f"cells of {role.title} with a unit of their own: {survey.with_unit[kind]}"
        for kind, role in roles.items()
        if role.column.unit is not None and survey.with_unit[kind]
    ]


def _unused_note(layout: Layout, columns: list[Used]) -> list[str]:
    used = {column.place for column in columns}
    unused = [(place, cell) for place, cell in enumerate(layout.header) if place not in used]
    return [f"columns not used: {listed(unused)}"] if unused else []
