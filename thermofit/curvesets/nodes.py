"""The nodes of a tabulated curve, as the CSV file that its row names."""

from __future__ import annotations

from typing import Final

from thermofit.curvesets.cells import format_number, parse_number
from thermofit.curvesets.sheet import parse_sheet, render_sheet
from thermofit.equations.tabulated import Tabulated
from thermofit.errors import InputError

__all__ = ["NODE_COLUMNS", "table_from_bytes", "table_to_bytes"]

NODE_COLUMNS: Final = ("t_c", "r_ohm", "node_b_k")
"""Columns of a companion; the slopes may be absent and are then found with SciPy."""


def table_to_bytes(table: Tabulated) -> bytes:
    """Write the nodes of a table as a companion file."""
    columns = (table.t_c, table.r_ohm, table.node_b_k)
    rows = zip(*([format_number(value) for value in column] for column in columns), strict=True)
    return render_sheet(NODE_COLUMNS, rows)


def table_from_bytes(data: bytes) -> Tabulated:
    """Read a companion file.

    Raises
    ------
    InputError
        With all that is wrong in it, one thing in a line.
    """
    sheet, problems = parse_sheet(data)
    missing = [name for name in NODE_COLUMNS[:2] if name not in sheet.header]
    if sheet.header and missing:
        raise InputError("; ".join(f"there is no column {name!r}" for name in missing))
    faults = [str(problem) for problem in problems]
    if not faults:
        faults = [
            f"column {name!r} does not belong to a table of nodes; remove it"
            for name in sheet.header
            if name not in NODE_COLUMNS
        ]
    if faults:
        raise InputError("; ".join(faults))
    columns: dict[str, list[float]] = {name: [] for name in sheet.header}
    for row, line in zip(sheet.rows, sheet.lines, strict=True):
        for name, cell in zip(sheet.header, row, strict=True):
            try:
                columns[name].append(parse_number(cell))
            except InputError as error:
                faults.append(f"row {line}, column {name!r}, value {cell!r}: {error}")
    if faults:
        raise InputError("; ".join(faults))
    return Tabulated(
        tuple(columns["t_c"]), tuple(columns["r_ohm"]), tuple(columns.get("node_b_k", ()))
    )
