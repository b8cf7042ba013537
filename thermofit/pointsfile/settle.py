"""What is still open once all cells have been looked at: units, decimal sign."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from thermofit.errors import CellProblem, PointsFileError
from thermofit.pointsfile.cells import SIGN_NAMES, DecimalSign, Writing
from thermofit.pointsfile.columns import QUANTITIES, Kind, Unit, unit_name
from thermofit.pointsfile.layout import Layout
from thermofit.pointsfile.lookup import Wanted
from thermofit.pointsfile.roles import Role
from thermofit.pointsfile.rows import Survey

__all__ = ["settle_order", "settle_uncertainties", "settle_units", "settle_writing"]

_DEFAULTS: Final[tuple[tuple[Kind, Unit], ...]] = (("t", "C"), ("r", 1.0))
_PAIRS: Final[tuple[tuple[Kind, Kind], ...]] = (("u_t", "t"), ("u_r", "r"))

Roles = dict[Kind, Role]


def settle_order(layout: Layout, roles: Mapping[Kind, Role], wanted: Wanted) -> list[str]:
    """Say what columns without a header were taken for."""
    if layout.header_line is not None or {"t", "r"} <= wanted.keys():
        return []
    t_position, r_position = (roles[kind].place + 1 for kind in ("t", "r"))
    return [
        f"there is no header: column {t_position} taken as temperature, column {r_position} as "
        f"resistance (write a header such as t_c,r_ohm, or name the columns by position: "
        f"t_column {t_position}, r_column {r_position})"
    ]


def settle_uncertainties(roles: Mapping[Kind, Role], survey: Survey) -> tuple[Roles, list[str]]:
    """Leave out columns of uncertainties in which nothing stands.

    Returns
    -------
    roles : dict
    notes : list of str
        What was left out.
    """
    kinds: tuple[Kind, ...] = ("u_t", "u_r")
    empty = [kind for kind in kinds if kind in roles and survey.filled[kind] == 0]
    notes = [f"{roles[kind].title} is empty: {QUANTITIES[kind]} not stated" for kind in empty]
    return {kind: role for kind, role in roles.items() if kind not in empty}, notes


def settle_units(
    layout: Layout, name: str, roles: Mapping[Kind, Role], survey: Survey
) -> tuple[Roles, list[str]]:
    """Take °C and Ω where no unit is stated, and for uncertainties that of their quantity.

    Parameters
    ----------
    layout : Layout
    name : str
        The file, for errors.
    roles : dict
    survey : Survey

    Returns
    -------
    roles : dict
        With units; None is left where all cells of the column carry their own.
    guesses : list of str
        What was taken without being stated.

    Raises
    ------
    PointsFileError
        The unit of an uncertainty cannot be told.
    """
    settled: Roles = dict(roles)
    guesses: list[str] = []
    in_cells: set[Kind] = set()
    for kind, default in _DEFAULTS:
        role = roles[kind]
        bare, with_unit = survey.bare[kind], survey.with_unit[kind]
        if role.column.unit == 1e-3:
            guesses.append(
                f"the unit of {role.title} taken as milliohm, as it is spelt: if megohm is meant, "
                f"write Mohm or MΩ, or state the unit ({kind}_unit)"
            )
        if role.column.unit is not None:
            continue
        if with_unit:
            in_cells.add(kind)
        # "4k7" and "470" in one column are usual; "77F" and "25" are a riddle.
        if bare and (not with_unit or kind == "r"):
            which = f"cells without a unit in {role.title}" if with_unit else role.title
            guesses.append(
                f"{which} taken as {QUANTITIES[kind]} in {unit_name(default)}, since no unit is "
                f"stated: write it in the header, or state the unit ({kind}_unit)"
            )
            settled[kind] = replace(role, column=replace(role.column, unit=default))
    problems = []
    for kind, quantity in _PAIRS:
        if kind not in roles or roles[kind].column.unit is not None:
            continue
        role = roles[kind]
        if quantity not in in_cells:
            # A difference of one degree Celsius is a kelvin.
            unit = settled[quantity].column.unit
            unit = "K" if unit == "C" else unit
            settled[kind] = replace(
                role, column=replace(role.column, unit=unit), borrowed_unit=True
            )
        elif survey.bare[kind]:
            example = "u(T) (K)" if kind == "u_t" else "u(R) (Ω)"
            problems.append(
                CellProblem(
                    f"the {QUANTITIES[quantity]} has units in its cells, so that the unit of its "
                    f"uncertainty cannot be told; state it in the header, as in {example}",
                    row=layout.header_line,
                    column=role.label,
                )
            )
    if problems:
        raise PointsFileError(name, problems)
    return settled, guesses


def settle_writing(
    layout: Layout, name: str, survey: Survey, decimal: DecimalSign | None
) -> tuple[Writing, list[str]]:
    """Decide the decimal sign for the file as a whole.

    Parameters
    ----------
    layout : Layout
    name : str
        The file, for errors.
    survey : Survey
    decimal : {".", ","}, optional
        The sign that the caller states.

    Returns
    -------
    writing : Writing
    guesses : list of str
        What was taken without being certain.

    Raises
    ------
    PointsFileError
        Some numbers have a decimal point, others a decimal comma.
    """
    if decimal is not None:
        return Writing(decimal, "," if decimal == "." else "."), []
    seen = survey.evidence.seen
    if "." in seen and "," in seen:
        raise PointsFileError(
            name,
            [
                CellProblem(
                    f"has a decimal {SIGN_NAMES[sign]}, others have a decimal {SIGN_NAMES[other]}; "
                    f"write all with the same sign",
                    *seen[sign],
                )
                for sign, other in (".,", ",.")
            ],
        )
    writing = survey.evidence.writing()
    guesses = []
    if layout.delimiter == ";" and writing.decimal == "." and "?." in seen and "." not in seen:
        # Where spreadsheets write semicolons, a point often groups thousands.
        line, column, cell = seen["?."]
        guesses.append(
            f"the point in {cell!r} (row {line}, column {column!r}) taken as the decimal sign: "
            f"to settle it, state the decimal sign (decimal), a comma if this point groups "
            f"thousands"
        )
    return writing, guesses
