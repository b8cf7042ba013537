"""Cells of text to float64 and back, by pyarrow where it is installed."""

from __future__ import annotations

import importlib.util
import math
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from thermofit.errors import ThermofitError

__all__ = ["arrow_cells", "check_scale", "has_arrow", "numbers", "written"]

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.int64]

# What programs write where nothing was read.  "OL" is no such word: an open sensor shows it.
_BLANK: Final = frozenset(
    (b"", b"nan", b"na", b"n/a", b"#n/a", b"null", b"none", b"nil", b"-", b"--", b"---")
)


def has_arrow() -> bool:
    """Whether pyarrow is installed."""
    return importlib.util.find_spec("pyarrow") is not None


def check_scale(what: str) -> None:
    """Refuse what only pyarrow can do where it is missing.

    Raises
    ------
    ThermofitError
        It says how to install it.
    """
    if not has_arrow():
        raise ThermofitError(
            f"{what} need pyarrow, which is not installed; install it by "
            'python -m pip install "thermofit[scale]"'
        )


def arrow_cells(data: bytes, starts: Places, ends: Places) -> Any:
    """Give parts of some bytes as a pyarrow array of binary cells."""
    import pyarrow as pa

    count = len(starts)
    if not count:
        return pa.array([], pa.binary())
    # Every second one is what lies between two cells, so that the bytes need not be moved.
    offsets = np.empty(2 * count, dtype=np.int32)
    offsets[0::2], offsets[1::2] = starts, ends
    buffers = [None, pa.py_buffer(offsets), pa.py_buffer(data)]
    cells = pa.Array.from_buffers(pa.binary(), 2 * count - 1, buffers)
    return cells.take(pa.array(np.arange(0, 2 * count, 2, dtype=np.int32)))


def numbers(
    data: bytes, starts: Places, ends: Places, decimal: str
) -> tuple[Array, npt.NDArray[np.bool_]]:
    """Read cells as numbers.

    Parameters
    ----------
    data : bytes
    starts, ends : array of int, shape (n,)
        Where each cell begins and ends.
    decimal : {".", ","}

    Returns
    -------
    values : array, shape (n,)
        NaN for a cell that is blank or says that nothing was read.
    unreadable : array of bool, shape (n,)
        Cells that are no number; their values are NaN, too.
    """
    if has_arrow():
        values = _quickly(data, starts, ends, decimal)
        if values is not None:
            return values, np.zeros(len(starts), dtype=np.bool_)
    values = np.empty(len(starts))
    unreadable = np.zeros(len(starts), dtype=np.bool_)
    for place, (start, end) in enumerate(zip(starts.tolist(), ends.tolist(), strict=True)):
        number = _number(data[start:end], decimal)
        unreadable[place] = number is None
        values[place] = math.nan if number is None else number
    return values, unreadable


def _quickly(data: bytes, starts: Places, ends: Places, decimal: str) -> Array | None:
    """All cells at once; None where one of them needs a closer look."""
    import pyarrow as pa
    import pyarrow.compute as pc

    cells = arrow_cells(data, starts, ends)
    if decimal == ",":
        text = cells.view(pa.string())
        if pc.any(pc.match_substring(text, ".")).as_py():
            return None
        cells = pc.replace_substring(text, ",", ".").view(pa.binary())
    empty = ends == starts
    if empty.any():
        cells = pc.if_else(pa.array(empty), pa.scalar(None, pa.binary()), cells)
    try:
        found = pc.cast(cells, pa.float64())
    except pa.ArrowInvalid:
        return None
    values: Array = found.to_numpy(zero_copy_only=False)
    return values


def _number(cell: bytes, decimal: str) -> float | None:
    """Read one cell; NaN for a blank one, None for one that is no number."""
    word = cell.strip()
    if word.lower() in _BLANK:
        return math.nan
    if decimal == ",":
        if b"." in word:
            return None
        word = word.replace(b",", b".")
    try:
        # Python reads "1_000" as a number; no meter writes one so.
        return None if b"_" in word else float(word)
    except ValueError:
        return None


def written(values: Array, decimal: str) -> Any:
    """Write numbers in the fewest digits that read back to the same float64.

    Parameters
    ----------
    values : array, shape (n,)
        NaN is written as an empty cell.
    decimal : {".", ","}

    Returns
    -------
    pyarrow array of binary, or list of bytes
        The latter without pyarrow.
    """
    if has_arrow():
        import pyarrow as pa
        import pyarrow.compute as pc

        text = pc.cast(pa.array(values, from_pandas=True), pa.string())
        if decimal == ",":
            text = pc.replace_substring(text, ".", ",")
        return pc.fill_null(text.view(pa.binary()), b"")
    cells = [b"" if math.isnan(value) else repr(value).encode() for value in values.tolist()]
    return [cell.replace(b".", b",") for cell in cells] if decimal == "," else cells
