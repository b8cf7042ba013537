"""Columns of numbers, from text to float64 and back, to the last bit."""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from thermofit.curvesets.cells import parse_number
from thermofit.errors import InputError

__all__ = ["formatted", "numbers_of", "numbers_of_text"]

Array = npt.NDArray[np.float64]

_PLAIN: Final = b"0123456789+-.eE,"


def numbers_of(cells: Sequence[str]) -> Array:
    """Read a column of numbers.

    Parameters
    ----------
    cells : sequence of str, length n

    Returns
    -------
    array, shape (n,)
        NaN where a cell is blank or is no number.

    Examples
    --------
    >>> numbers_of(["10000", "", "10k"])
    array([10000.,    nan,    nan])
    """
    # Of these characters float() makes the same numbers as `parse_number`, and no others.
    if not ",".join(cells).encode("utf-8", "replace").translate(None, _PLAIN):
        try:
            return np.array([float(cell) if cell else np.nan for cell in cells], dtype=np.float64)
        except ValueError:
            pass
    return np.array([_number(cell) for cell in cells], dtype=np.float64)


def numbers_of_text(data: bytes, places: Sequence[int]) -> dict[int, Array]:
    """Read columns of numbers of a plain CSV text with a header, with pandas.

    Parameters
    ----------
    data : bytes
    places : sequence of int
        Which columns.

    Returns
    -------
    dict of int to array, shape (n,)
        NaN where a cell is blank, infinite or NaN where it is an odd number.  Columns in
        which a cell is no number are left out.
    """
    if not places:
        return {}
    import pandas as pd

    # Before this version the default parser is a digit off at times; since then there is one.
    major, minor = map(int, pd.__version__.split(".")[:2])
    exact: dict[str, Any] = {} if (major, minor) >= (3, 1) else {"float_precision": "round_trip"}
    frame = pd.read_csv(io.BytesIO(data), usecols=list(places), index_col=False, **exact)
    columns = (frame.iloc[:, number] for number in range(len(places)))
    # Read-only, since they are the frame's own.
    return {
        at: np.asarray(column, dtype=np.float64)
        for at, column in zip(sorted(places), columns, strict=True)
        if column.dtype.kind in "fiu"
    }


def formatted(values: Iterable[float]) -> list[str]:
    """Write numbers as `thermofit.curvesets.cells.format_number` does; NaN is blank.

    Examples
    --------
    >>> formatted([10000.0, 0.1, float("nan")])
    ['10000', '0.1', '']
    """
    texts = map(repr, np.asarray(values, dtype=np.float64).tolist())
    return ["" if text == "nan" else text.removesuffix(".0") for text in texts]


def _number(cell: str) -> float:
    try:
        return parse_number(cell)
    except InputError:
        return float("nan")
