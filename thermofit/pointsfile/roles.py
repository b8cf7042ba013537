"""Which column of a points file is which quantity, and in which unit."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from thermofit.errors import CellProblem, PointsFileError
from thermofit.pointsfile.columns import (
    QUANTITIES,
    Column,
    Kind,
    Unit,
    recognise,
    unit_in,
    unit_name,
    unit_of,
)
from thermofit.pointsfile.layout import Layout
from thermofit.pointsfile.lookup import Wanted, listed, locate, missing

__all__ = ["Role", "Used", "assign_roles", "describe", "find_column"]


@dataclass(frozen=True)
class Used:
    """A column that is used.

    Parameters
    ----------
    place : int
        Index of the column.
    label : str
        Its header, or its position where it has none.
    """

    place: int
    label: str

    @property
    def title(self) -> str:
        """The column as a note names it: "column 2 'R (kΩ)'"."""
        position = str(self.place + 1)
        return f"column {position}" + ("" if self.label == position else f" {self.label!r}")


@dataclass(frozen=True)
class Role(Used):
    """A column of one of the quantities.

    Parameters
    ----------
    place, label
        As above.
    column : Column
        What it holds.
    overruled : Unit or None
        The unit that the header states where the caller states another.
    borrowed_unit : bool
        Whether the unit of an uncertainty was taken from its quantity.
    """

    column: Column
    overruled: Unit | None = None
    borrowed_unit: bool = False


def find_column(layout: Layout, name: str, wanted: str | int) -> Used:
    """Find a column that is none of the quantities, by header or position.

    Raises
    ------
    PointsFileError
        There is none, or more than one of that name.
    """
    place = locate(layout.header, wanted)
    if place is None:
        raise PointsFileError(name, [_missing(layout, wanted)])
    return Used(place, layout.header[place] or str(place + 1))


def assign_roles(
    layout: Layout,
    name: str,
    wanted: Wanted,
    units: Mapping[Kind, Unit],
    names: Used | None = None,
) -> dict[Kind, Role]:
    """Choose the columns to read.

    Parameters
    ----------
    layout : Layout
    name : str
        The file, for errors.
    wanted : dict
        Columns that the caller names.
    units : mapping
        Units that the caller states, for "t" and "r"; they overrule the header.
    names : Used, optional
        The column that names the sensors, which is nothing else.

    Returns
    -------
    dict
        A `Role` for "t" and "r", and for "u_t" and "u_r" where there are any.

    Raises
    ------
    PointsFileError
        A named column does not exist, two columns could be the same quantity,
        or a header states a unit or an uncertainty that cannot be used.
    """
    recognised = [recognise(layout.title(place)) for place in range(len(layout.header))]
    problems: list[CellProblem] = []
    roles: dict[Kind, Role] = {}
    taken = {locate(layout.header, value) for value in wanted.values()}
    if names is not None:
        taken.add(names.place)
    for kind in QUANTITIES:
        if kind in wanted:
            place = locate(layout.header, wanted[kind])
            if place is None:
                problems.append(_missing(layout, wanted[kind]))
                continue
        else:
            places = [
                index
                for index, column in enumerate(recognised)
                if column is not None and column.kind == kind and index not in taken
            ]
            if len(places) > 1:
                problems.append(_contest(layout, kind, places))
                continue
            if not places and kind in ("t", "r") and layout.header_line is None:
                # A bare table has two columns, of which the caller may have named one.
                places = [index for index in (0, 1) if index not in taken and _free(index, roles)]
            if not places and kind in ("t", "r"):
                problems.append(_nothing_left(layout, kind))
            if not places:
                continue
            place = places[0]
        role, problem = _role(layout, place, kind, recognised[place], units)
        if problem:
            problems.append(problem)
        else:
            roles[kind] = role
    twice = _used_twice(layout, roles, names)
    if twice:
        problems.append(twice)
    if problems:
        raise PointsFileError(name, problems)
    return roles


def _free(place: int, roles: Mapping[Kind, Role]) -> bool:
    return all(role.place != place for role in roles.values())


def _role(
    layout: Layout, place: int, kind: Kind, column: Column | None, units: Mapping[Kind, Unit]
) -> tuple[Role, CellProblem | None]:
    label = layout.header[place] or str(place + 1)
    if column is None or column.kind != kind:
        stated = unit_of(layout.title(place), kind)
        if column is not None and stated is None:
            return Role(place, label, column), CellProblem(
                f"the header says {QUANTITIES[column.kind]}, not {QUANTITIES[kind]}; "
                f"rename the column, or name another",
                row=layout.header_line,
                column=label,
            )
        column = Column(kind, stated)
    below = unit_in(kind, layout.units[place]) if layout.units else None
    if below is not None and column.unit not in (None, below):
        reason = f"the header and the row below it ({layout.units[place]}) state different units"
        column = Column(kind, column.unit, column.k, f"{reason}; correct one of them")
    overruled = None
    if kind in units:
        if column.unit not in (None, units[kind]):
            overruled = column.unit
        column = Column(kind, units[kind])
    problem = None
    if column.refusal:
        reason = column.refusal
        if kind in ("t", "r"):
            reason += f", or state the unit ({kind}_unit)"
        problem = CellProblem(reason, row=layout.header_line, column=label)
    return Role(place, label, column, overruled), problem


def _missing(layout: Layout, wanted: str | int) -> CellProblem:
    if layout.header_line is None:
        reason = f"there is no column {wanted!r} and no header; the {len(layout.header)} columns "
        return CellProblem(reason + "have positions only, counted from 1")
    reason = f"{missing(layout.header, wanted)}; the columns are {listed(enumerate(layout.header))}"
    return CellProblem(reason, row=layout.header_line)


def _nothing_left(layout: Layout, kind: Kind) -> CellProblem:
    return CellProblem(
        f"no column is left for the {QUANTITIES[kind]}, since it is named for something else; name "
        f"the column ({kind}_column); the columns are {listed(enumerate(layout.header))}",
        row=layout.header_line,
    )


def _contest(layout: Layout, kind: Kind, places: list[int]) -> CellProblem:
    rivals = listed((place, layout.header[place]) for place in places)
    return CellProblem(
        f"these columns could all be the {QUANTITIES[kind]}: {rivals}; "
        f"name the column ({kind}_column) by header or position",
        row=layout.header_line,
    )


def _used_twice(
    layout: Layout, roles: Mapping[Kind, Role], names: Used | None
) -> CellProblem | None:
    for role in roles.values():
        uses = [QUANTITIES[kind] for kind, other in roles.items() if other.place == role.place]
        if names is not None and names.place == role.place:
            uses.insert(0, "the name of the sensor")
        if len(uses) > 1:
            return CellProblem(
                f"the column cannot be both {' and '.join(uses)}; name another",
                row=layout.header_line,
                column=role.label,
            )
    return None


def describe(role: Role) -> str:
    """Say in a note what a column was read as.

    Examples
    --------
    >>> describe(Role(1, "R (kΩ)", Column("r", 1e3)))
    "column 2 'R (kΩ)' read as resistance in kΩ"
    """
    kind, column = role.column.kind, role.column
    quantity = QUANTITIES[kind]
    if kind in ("u_t", "u_r"):
        quantity = f"{'standard' if column.k == 1.0 else 'expanded'} {quantity}"
    unit = "in the units of its cells" if column.unit is None else f"in {unit_name(column.unit)}"
    note = f"{role.title} read as {quantity} {unit}"
    if role.borrowed_unit:
        note += f" (the unit of the {QUANTITIES['t' if kind == 'u_t' else 'r']})"
    if column.k != 1.0:
        note += f", divided by k = {column.k:g}"
    if role.overruled is not None:
        note += f" as told, though its header says {unit_name(role.overruled)}"
    return note
