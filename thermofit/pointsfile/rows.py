"""All rows of a points file: first what they show about the writing, then their values."""

from __future__ import annotations

import math
from array import array
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from thermofit.errors import CellProblem, PointsFileError, UnitError
from thermofit.pointsfile.cells import Evidence, Writing, is_bare, parse_cell
from thermofit.pointsfile.columns import Kind
from thermofit.pointsfile.layout import Layout
from thermofit.pointsfile.roles import Role, Used
from thermofit.pointsfile.text import Record, records

__all__ = ["Rows", "Survey", "read_rows", "survey_rows"]

# Two megabytes of the same mistake help nobody, and a list of them must fit in memory.
_MAX_PROBLEMS = 100_000
_SHOWN_ROW = 200
_NAMELESS = "the cell is empty; write the sensor's name into each of its rows, or delete the row"


@dataclass
class Survey:
    """What all cells together show before any is read.

    Attributes
    ----------
    rows : int
        Rows with something in them.
    empty_rows : int
        Rows of nothing but separators.
    evidence : Evidence
        What tells the decimal sign.
    bare, with_unit, filled : dict
        How many cells of each used column are numbers without a unit, have one,
        or have anything in them.
    names : set of str
        What stands in the column of the sensors' names; no more than two are looked for.
    """

    rows: int = 0
    empty_rows: int = 0
    evidence: Evidence = field(default_factory=Evidence)
    bare: dict[Kind, int] = field(default_factory=dict)
    with_unit: dict[Kind, int] = field(default_factory=dict)
    filled: dict[Kind, int] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)


@dataclass
class Rows:
    """What stands in the used columns of all rows.

    Attributes
    ----------
    values : dict
        In °C, Ω and K for each kind; NaN in rows with a cell that cannot be used.
    sensors : list of str
        Of which sensor each row is; empty where no column names them.
    unusable : dict
        Sensors with cells that cannot be used, and those.
    """

    values: dict[Kind, array[float]]
    sensors: list[str] = field(default_factory=list)
    unusable: dict[str, list[CellProblem]] = field(default_factory=dict)


def survey_rows(
    text: str,
    name: str,
    layout: Layout,
    roles: Mapping[Kind, Role],
    names: Used | None = None,
) -> Survey:
    """Look at the cells of the used columns of all rows."""
    survey = Survey()
    used = [(kind, role.place, role.label) for kind, role in roles.items()]
    counts = {kind: [0, 0, 0] for kind, _, _ in used}
    for line, cells in _below_header(text, name, layout):
        if not any(cells):
            survey.empty_rows += 1
            continue
        survey.rows += 1
        if names is not None and len(survey.names) < 2 and len(cells) > names.place:
            survey.names.add(cells[names.place])
        for kind, place, label in used:
            cell = cells[place] if place < len(cells) else ""
            if not cell:
                continue
            survey.evidence.look_at(cell, line, label)
            count = counts[kind]
            count[2] += 1
            if is_bare(cell):
                count[0] += 1
            elif cell[0].isdigit() or cell[0] in "+-−.,":
                count[1] += 1
    for kind, (bare, with_unit, filled) in counts.items():
        survey.bare[kind], survey.with_unit[kind], survey.filled[kind] = bare, with_unit, filled
    return survey


def read_rows(
    text: str,
    name: str,
    layout: Layout,
    roles: Mapping[Kind, Role],
    writing: Writing,
    names: Used | None = None,
) -> Rows:
    """Read the used columns of all rows.

    Parameters
    ----------
    text, name, layout, roles, writing
    names : Used, optional
        The column that names the sensors.

    Returns
    -------
    Rows

    Raises
    ------
    PointsFileError
        With every cell and row that cannot be used.  Where sensors have names, a cell
        with no usable number is the matter of its sensor, unless each sensor has one.
    """
    found = Rows({kind: array("d") for kind in roles})
    problems: list[CellProblem] = []
    count = 0  # of the cells that cannot be used, in named rows
    width = len(layout.header)

    # Many rows have few different cells.
    @lru_cache(maxsize=10_000)
    def parse(cell: str, kind: Kind) -> tuple[float, bool]:
        return parse_cell(cell, kind, roles[kind].column.unit, writing)

    for record in _below_header(text, name, layout):
        cells = record.cells
        if not any(cells):
            continue
        if len(problems) + count >= _MAX_PROBLEMS:
            reason = f"reading stopped here, after {len(problems) + count} problems"
            problems.append(CellProblem(reason, row=record.line))
            break
        if len(cells) < width or any(cells[width:]):
            problems.append(_wrong_width(record, layout))
            continue
        sensor = "" if names is None else cells[names.place]
        if names is not None and not sensor:
            problems.append(CellProblem(_NAMELESS, record.line, names.label, sensor))
            continue
        values: dict[Kind, float] = {}
        wrong: list[CellProblem] = []
        for kind, role in roles.items():
            cell = cells[role.place]
            try:
                value, relative = parse(cell, kind)
            except UnitError as error:
                wrong.append(CellProblem(str(error), record.line, role.label, cell))
                continue
            if relative and "r" in values:
                value *= values["r"]
            values[kind] = value / role.column.k
        if wrong and names is None:
            problems += wrong
            continue
        if names is not None:
            found.sensors.append(sensor)
        if wrong:
            found.unusable.setdefault(sensor, []).extend(wrong)
            count += len(wrong)
        for kind, column in found.values.items():
            column.append(math.nan if wrong else values[kind])
    if not problems and found.unusable.keys() == set(found.sensors):
        every = [problem for own in found.unusable.values() for problem in own]
        problems = sorted(every, key=lambda problem: problem.row or 0)
    if problems:
        raise PointsFileError(name, problems)
    return found


def _below_header(text: str, name: str, layout: Layout) -> Iterator[Record]:
    for record in records(text, layout.delimiter, name):
        if record.line > layout.after_line:
            yield record


def _wrong_width(record: Record, layout: Layout) -> CellProblem:
    width = len(layout.header)
    # Trailing empty cells are no excess.
    count = max((place for place, cell in enumerate(record.cells, 1) if cell), default=0)
    count = max(count, min(len(record.cells), width))
    where = "the first row" if layout.header_line is None else "the header"
    reason = f"{count} {'cell' if count == 1 else 'cells'} where {where} has {width}"
    if count < width:
        reason += "; write the missing ones, or delete the row"
    elif layout.header_line is not None and (
        len(record.cells) <= width + layout.unnamed
        or any(layout.delimiter in cell for cell in record.cells[width:])
    ):
        place = next(place for place, cell in enumerate(record.cells) if place >= width and cell)
        reason += f"; name column {place + 1} in the header, or delete what stands in it"
    elif layout.delimiter == ",":
        reason += (
            "; if the comma is the decimal sign, set columns apart by semicolons, "
            "or quote the cells"
        )
    else:
        reason += "; delete what is too much, or quote cells that contain the separator"
    shown = (layout.delimiter.join(record.cells[: width + 20]))[:_SHOWN_ROW]
    return CellProblem(reason, row=record.line, value=shown)
