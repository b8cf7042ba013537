"""The columns of a long frame of many sensors' points."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.equations.base import Array
from thermofit.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["FrameColumns", "columns_of"]

_NO_NUMBERS = (bool, np.bool_, datetime.date, datetime.timedelta, np.datetime64, np.timedelta64)


@dataclass(frozen=True, eq=False)
class FrameColumns:
    """What a frame says.

    Parameters
    ----------
    names : array, shape (n,)
        Of the sensors, in the order in which they first appear.
    codes : array of int, shape (rows,)
        To which of them each row belongs.
    numbers : dict of str to array, shape (rows,), or None
        ``t_c``, ``r_ohm``, ``u_t_k``, ``u_r_ohm``; NaN where a cell is no number.
    cells : dict of str to array of object
        Columns as they stand, where some of their cells are no numbers.
    """

    names: npt.NDArray[Any]
    codes: npt.NDArray[np.intp]
    numbers: dict[str, Array | None]
    cells: dict[str, npt.NDArray[Any]]


def columns_of(frame: pd.DataFrame, sensor: str, u_t_k: Any, u_r_ohm: Any) -> FrameColumns:
    """Find the columns of a frame; parameters and errors as for `ManyPoints.from_frame`."""
    import pandas as pd

    columns = [str(name) for name in frame.columns]
    needed = (sensor, "t_c", "r_ohm")
    missing = [name for name in needed if name not in columns]
    if missing:
        raise InputError(
            f"the frame has no column {' and no '.join(map(repr, missing))}, only "
            f"{', '.join(map(repr, columns)) or 'none'}; rename the right ones with "
            "frame.rename(columns=…), or name the sensors' column with sensor=…"
        )
    for name in (*needed, "u_t_k", "u_r_ohm"):
        if columns.count(name) > 1:
            raise InputError(f"the frame has {columns.count(name)} columns {name!r}; keep one")
    codes, names = pd.factorize(frame.iloc[:, columns.index(sensor)])
    if (codes < 0).any():
        raise InputError(
            f"row {int(np.argmax(codes < 0)) + 1} of the frame does not name its sensor"
        )
    numbers: dict[str, Array | None] = {}
    cells: dict[str, npt.NDArray[Any]] = {}
    for name, given in (("t_c", None), ("r_ohm", None), ("u_t_k", u_t_k), ("u_r_ohm", u_r_ohm)):
        if name in columns:
            if given is not None:
                raise InputError(f"the frame states its own {name}; leave that argument out")
            numbers[name] = _numbers(frame.iloc[:, columns.index(name)], name, cells)
        else:
            numbers[name] = None if given is None else _given(given, name, len(frame))
    return FrameColumns(np.asarray(names), codes.astype(np.intp), numbers, cells)


def _numbers(column: pd.Series[Any], name: str, cells: dict[str, npt.NDArray[Any]]) -> Array:
    """Numbers of a column, in an array of its own; keep it in `cells` if some are none."""
    import pandas as pd

    if column.dtype.kind in "bMm":
        what = "truth values" if column.dtype.kind == "b" else "dates or times"
        raise InputError(
            f"column {name!r} of the frame has {what} and no numbers; rename the right column with "
            "frame.rename(columns=…)"
        )
    if column.dtype.kind in "iuf" and isinstance(column.dtype, np.dtype):
        return np.array(column.to_numpy(), dtype=np.float64)
    # A text is no number even if it reads like one: `Points` says so, cell by cell.
    as_is = column.astype(object)
    plain = as_is.map(lambda cell: not isinstance(cell, (str, bytes, complex, *_NO_NUMBERS)))
    values = pd.to_numeric(as_is.where(plain), errors="coerce")
    if not plain.all():
        cells[name] = as_is.to_numpy()
    return np.array(values.to_numpy(np.float64, na_value=np.nan))


def _given(values: Any, name: str, rows: int) -> Array:
    array = np.asarray(values, dtype=np.float64)
    if array.shape not in ((), (1,), (rows,)):
        raise InputError(
            f"{name} of shape {array.shape} does not go with {rows} rows: give one number, or one "
            "for each row"
        )
    return np.array(np.broadcast_to(array, (rows,)))
