"""Which column of a log is converted, and in which unit it stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, cast

import numpy as np
import numpy.typing as npt

from thermofit.errors import CellProblem, FileError, InputError, UnitError
from thermofit.pointsfile.columns import QUANTITIES, Unit, recognise, unit_name, unit_of
from thermofit.pointsfile.lookup import listed, locate, missing
from thermofit.units import TemperatureUnit, resistance_unit, temperature_unit, to_celsius

__all__ = ["Quantity", "ValueColumn", "find_value_column", "refuse_repeated", "refuse_taken"]

Array = npt.NDArray[np.float64]
Quantity = Literal["temperature", "resistance"]


@dataclass(frozen=True)
class ValueColumn:
    """The column whose values are converted.

    Parameters
    ----------
    place : int
        Its index.
    name : str
        Its header, or its number where it has none.
    quantity : {"temperature", "resistance"}
        What it holds.
    unit : Unit
        A temperature unit, or the ohms that one stands for.
    how : str
        Where the unit comes from.
    """

    place: int
    name: str
    quantity: Quantity
    unit: Unit
    how: str

    @property
    def note(self) -> str:
        """What the column was taken for, in words."""
        return (
            f"column {self.place + 1} {self.name!r} read as {self.quantity} in "
            f"{unit_name(self.unit)}, {self.how}"
        )

    def si(self, values: Array) -> Array:
        """Give values of the column in °C or Ω."""
        if self.quantity == "temperature":
            return to_celsius(values, cast("TemperatureUnit", self.unit))
        return values if self.unit == 1.0 else values * cast("float", self.unit)


def find_value_column(
    names: Sequence[str],
    path: str,
    quantity: Quantity,
    column: str | int | None,
    unit: str | None,
) -> ValueColumn:
    """Find the column that the caller names, or the one that plainly holds the quantity.

    Parameters
    ----------
    names : sequence of str
        Headers.
    path : str
        The file, for errors.
    quantity : {"temperature", "resistance"}
        What it must hold.
    column : str or int, optional
        Header, or position counted from 1.
    unit : str, optional
        Overrules the header.

    Raises
    ------
    FileError
        There is no such column, or more than one, or nothing tells its unit.
    UnitError
        `unit` is no unit of the quantity.

    Examples
    --------
    >>> find_value_column(["time", "inlet_kohm"], "july.csv", "resistance", 2, None).note
    "column 2 'inlet_kohm' read as resistance in kΩ, from its header"
    """
    kind: Literal["t", "r"] = "t" if quantity == "temperature" else "r"
    stated = None if unit is None else _stated(unit, quantity)
    if column is None:
        found = [n for n, name in enumerate(names) if (c := recognise(name)) and c.kind == kind]
        if len(found) != 1:
            several = f"{len(found)} columns are" if found else "no column is"
            raise _refusal(path, f"{several} plainly the {quantity}; name it (column)", names)
        place = found[0]
    else:
        at = locate(names, column)
        if at is None:
            raise _refusal(path, f"{missing(names, column)}; name another one (column)", names)
        place = at
    header = names[place]
    known = recognise(header)
    if known is not None and known.kind != kind:
        raise _refusal(
            path, f"column {header!r} is a {QUANTITIES[known.kind]}, where {quantity} is wanted; "
            "name another one (column)", names
        )  # fmt: skip
    in_header = known.unit if known is not None else unit_of(header, kind)
    settled = in_header if stated is None else stated
    name = header or str(place + 1)
    if settled is None:
        examples = "C, F or K" if kind == "t" else "ohm or kohm"
        reason = f"the header does not tell the unit; state it (unit): {examples}"
        raise FileError(path, [CellProblem(reason, column=name)])
    return ValueColumn(
        place, name, quantity, settled, "from its header" if stated is None else "as stated"
    )


def refuse_repeated(names: Sequence[str], path: str) -> None:
    """Refuse columns of one name, for a form of file whose readers go by names.

    Raises
    ------
    FileError
    """
    for place, name in enumerate(names):
        if name in names[:place]:
            reason = f"several columns are called {name!r}, which Parquet cannot tell apart"
            raise _refusal(path, f"{reason}; rename one, or convert to .csv", names)


def refuse_taken(names: Sequence[str], path: str, new: Sequence[str]) -> None:
    """Refuse names of new columns that are there already, or cannot be one.

    Raises
    ------
    InputError
    """
    for place, name in enumerate(new):
        if not isinstance(name, str) or not name.strip() or not name.isprintable():
            raise InputError(f"{name!r} cannot be the name of a column; choose another one")
        if name in names or name in new[:place]:
            raise InputError(
                f"{path} has a column {name!r} already; choose another name (new_column, u_column)"
            )


def _stated(unit: str, quantity: Quantity) -> Unit:
    read = temperature_unit(unit) if quantity == "temperature" else resistance_unit(unit)
    if read is None:
        examples = "C, F or K" if quantity == "temperature" else "ohm or kohm"
        raise UnitError(f"{unit!r} is no unit of a {quantity}; write {examples}")
    return read


def _refusal(path: str, reason: str, names: Sequence[str]) -> FileError:
    return FileError(path, [CellProblem(f"{reason}; the columns are {listed(enumerate(names))}")])
