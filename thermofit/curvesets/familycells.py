"""The cells that make a row a family, to and from a `Family`."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, cast

from thermofit.curve import Curve
from thermofit.curvesets.cells import format_number, parse_flag, parse_number
from thermofit.curvesets.columns import FAMILY, TOLERANCES
from thermofit.errors import CellProblem, InputError
from thermofit.family import RATINGS, Family, SourceKind

__all__ = ["RowError", "cells_from_family", "family_fields", "family_from_cells"]


class RowError(Exception):
    """A row that gives no curve.

    Attributes
    ----------
    problems : tuple of CellProblem
        All that is wrong with it, without its row number.
    """

    def __init__(self, problems: list[CellProblem]) -> None:
        super().__init__("; ".join(map(str, problems)))
        self.problems = tuple(problems)


def family_from_cells(cells: Mapping[str, str], curve: Curve) -> Family | None:
    """Make a family of the cells of a row; None if the row has none of a family's.

    Parameters
    ----------
    cells : mapping of str to str
        Those that are not empty, by column.
    curve : Curve
        What `curve_from_cells` made of them.

    Raises
    ------
    RowError
        With everything that is wrong in the family's cells.
    """
    fields = family_fields(cells, curve)
    if fields is None:
        return None
    extra = {name: cell for name, cell in curve.extra.items() if name not in FAMILY}
    return Family(curve.replace(extra=extra), **fields)


def family_fields(cells: Mapping[str, str], curve: Curve) -> dict[str, Any] | None:
    """Give the fields of a family from the cells of a row, once they are checked.

    Parameters
    ----------
    cells, curve
        As for `family_from_cells`.

    Returns
    -------
    dict or None
        Arguments of `Family` but for the curve; None if the row has none.

    Raises
    ------
    RowError
        With everything that is wrong in the family's cells.
    """
    own = {column: cells[column] for column in FAMILY if cells.get(column, "").strip()}
    if not own:
        return None
    fields: dict[str, Any] = {"ratings": {}}
    problems: list[CellProblem] = []
    for column, cell in own.items():
        try:
            value = _family_value(column, cell)
            field = {"ratings": {column: value}} if column in RATINGS else {column: value}
            # Alone, so that what Family refuses can be laid to this cell.
            Family(curve, **field)
        except InputError as error:
            problems.append(CellProblem(str(error), column=column, value=cell))
        else:
            fields["ratings"] |= field.pop("ratings", {})
            fields |= field
    if problems:
        raise RowError(problems)
    return fields


def _family_value(column: str, cell: str) -> float | bool | SourceKind:
    if column in TOLERANCES or column in RATINGS:
        return parse_number(cell)
    if column == "ratio_only":
        return parse_flag(cell)
    return cast("SourceKind", cell.strip())


def cells_from_family(family: Family) -> dict[str, str]:
    """Write what a family has beyond its curve, by column.

    Examples
    --------
    >>> curve = Curve.beta(r25_ohm=5e3, b_k=3988, id="ntc-5k-3988")
    >>> cells_from_family(Family(curve, r25_tol_pct=1.0))
    {'r25_tol_pct': '1', 'source_kind': 'nominal'}
    """
    cells = {
        column: format_number(value)
        for column in TOLERANCES
        if (value := getattr(family, column)) is not None
    }
    cells |= {column: format_number(value) for column, value in family.ratings.items()}
    if family.ratio_only:
        cells["ratio_only"] = "true"
    return cells | {"source_kind": family.source_kind}
