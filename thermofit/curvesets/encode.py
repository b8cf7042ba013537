"""From a curve or a family to the cells of a row."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from thermofit.curve import Curve
from thermofit.curvesets.cells import check_text, format_human, format_number
from thermofit.curvesets.columns import (
    FAMILY,
    coefficient_column,
    covariance_column,
    is_known,
)
from thermofit.curvesets.companions import Companions
from thermofit.curvesets.decode import curve_from_cells
from thermofit.curvesets.familycells import RowError, cells_from_family, family_from_cells
from thermofit.curvesets.nodes import table_to_bytes
from thermofit.equations.tabulated import Tabulated
from thermofit.errors import CellProblem, InputError
from thermofit.family import Family

__all__ = ["EncodedRow", "check_cells", "check_extra", "encode"]


@dataclass(frozen=True)
class EncodedRow:
    """A row to be written.

    Parameters
    ----------
    cells : dict of str to str
        Cells that are not empty, by column.
    settings : frozenset of str
        Columns among them that are settings of the equation.
    """

    cells: dict[str, str]
    settings: frozenset[str]


def encode(item: Curve | Family, companions: Companions) -> EncodedRow:
    """Write a curve or a family as a row.

    The fields of a family win over cells of the same name that its curve still
    carries from the set which it was read from.

    Parameters
    ----------
    item : Curve or Family
    companions : Companions
        The nodes of a table are put among them.

    Returns
    -------
    EncodedRow

    Raises
    ------
    RowError
        The item cannot be written so that it reads back as it is.
    """
    family = item if isinstance(item, Family) else None
    curve = item.curve if isinstance(item, Family) else item
    row = _encode_curve(curve, companions)
    if family is not None:
        extra = {name: cell for name, cell in row.cells.items() if name not in FAMILY}
        row = EncodedRow(extra | cells_from_family(family), row.settings)
        curve = curve.replace(
            extra={name: cell for name, cell in curve.extra.items() if name not in FAMILY}
        )
    check_cells(row.cells)
    _check_reads_back(row, curve, family, companions.content)
    return row


def _encode_curve(curve: Curve, companions: Companions) -> EncodedRow:
    form = curve.equation
    cells = {"id": curve.id, "equation": form.name}
    settings = frozenset(form.settings)
    cells |= {name: format_number(value) for name, value in form.settings.items()}
    for number, value in enumerate(np.asarray(curve.coefficients)):
        cells[coefficient_column(number)] = format_number(value)
    if curve.covariance is not None:
        for i, j in zip(*np.tril_indices(len(curve.covariance)), strict=True):
            cells[covariance_column(int(i), int(j))] = format_number(curve.covariance[i, j])
    if np.isfinite(curve.dof):
        cells["dof"] = format_number(curve.dof)
    cells |= {
        "t_min_c": format_number(curve.t_min_c),
        "t_max_c": format_number(curve.t_max_c),
        "range_basis": curve.range_basis,
    }
    if curve.t_min_c <= 25.0 <= curve.t_max_c:
        cells["r25_ohm"] = format_human(curve.r25_ohm)
        # The B value of a resistance that rises is negative, and nobody's notion.
        if curve.t_max_c >= 85.0 and curve.b_25_85_k > 0.0:
            cells["b_25_85_k"] = format_human(curve.b_25_85_k)
    if isinstance(form, Tabulated):
        cells["table_file"] = companions.put(curve.id, table_to_bytes(form))
    cells |= {"source": curve.source, "licence": curve.licence, "note": curve.note}
    check_extra(curve, settings)
    cells |= curve.extra
    return EncodedRow({n: cell for n, cell in cells.items() if cell}, settings)


def check_extra(curve: Curve, settings: frozenset[str]) -> None:
    """Refuse extra cells that would not come back as extra cells."""
    problems = []
    for name, cell in curve.extra.items():
        if not (isinstance(name, str) and isinstance(cell, str)):
            reason = "extra cells and their columns are texts; convert them with str()"
        elif (is_known(name) and name not in FAMILY) or name in settings:
            reason = "this column belongs to the curve itself; give the extra cell another name"
        elif not name or name != name.strip():
            reason = "a column needs a name, without spaces around it"
        else:
            continue
        problems.append(CellProblem(reason, column=str(name), value=str(cell)))
    if problems:
        raise RowError(problems)


def check_cells(cells: Mapping[str, str]) -> None:
    """Refuse cells, and names of columns, that `check_text` refuses."""
    problems = []
    for name, cell in cells.items():
        for text, column, value in ((name, None, name), (cell, name, cell)):
            try:
                check_text(text)
            except InputError as error:
                problems.append(CellProblem(str(error), column=column, value=value))
    if problems:
        raise RowError(problems)


def _check_reads_back(
    row: EncodedRow, curve: Curve, family: Family | None, tables: Mapping[str, bytes]
) -> None:
    """Make sure that a reader will get what is written, whatever the equation is."""
    read = curve_from_cells(row.cells, tables)
    read_family = family_from_cells(row.cells, read)
    wanted: Curve | Family = curve
    got: Curve | Family | None = read
    if family is not None:
        wanted, got = Family(
            curve, family.r25_tol_pct, family.b_tol_pct, family.source_kind,
            family.ratio_only, family.ratings,
        ), read_family  # fmt: skip
    if got == wanted:
        return
    if read.equation != curve.equation:
        reason = (
            f"this name and these settings lead a reader to {read.equation!r}, not to the curve's "
            f"own {curve.equation!r}; register the equation under thermofit.equations and have "
            "its from_name take all its settings"
        )
        raise RowError([CellProblem(reason, column="equation", value=row.cells["equation"])])
    reason = "the row would not read back as it is; please report this curve"
    raise RowError([CellProblem(reason, column="id", value=curve.id)])
