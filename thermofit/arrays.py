"""Arrays in, the same kind of thing out: scalars stay scalars, Series keep their index."""

from __future__ import annotations

from collections.abc import Callable
from numbers import Real
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError

__all__ = ["as_float_array", "refuse_misaligned", "unwrap"]

Array = npt.NDArray[np.float64]


def unwrap(values: Any, name: str) -> tuple[Array, Callable[[Array], Any]]:
    """Take values of any kind as an array, and a function that dresses results alike.

    Parameters
    ----------
    values : float, array_like, pandas Series or DataFrame
        What the caller gave.
    name : str
        What to call it in an error.

    Returns
    -------
    array : array
        The numbers, float64, of the shape of `values`.
    dress : callable
        Makes a float of a result for a scalar, a Series for a Series …

    Raises
    ------
    InputError
        Something in `values` is no number.
    """
    # pandas is recognised by what it offers, so that it need not be imported.
    if hasattr(values, "to_numpy") and hasattr(values, "index"):
        array = as_float_array(values, name)
        if array.ndim == 1:
            return array, lambda out: type(values)(out, index=values.index, name=values.name)
        return array, lambda out: type(values)(out, index=values.index, columns=values.columns)
    array = as_float_array(values, name)
    if array.ndim == 0:
        return array, float
    return array, _same


def as_float_array(values: Any, name: str) -> Array:
    """Convert to float64 or say what is not a number.

    Parameters
    ----------
    values : array_like
        Masked elements and pandas' own missing values become NaN.
    name : str
        What to call it in an error.

    Returns
    -------
    array

    Raises
    ------
    InputError
        Something in `values` is no real number: a text, a date, a truth value.
    """
    try:
        if isinstance(values, np.ma.MaskedArray):
            values = np.ma.filled(values.astype(np.float64), np.nan)
        elif hasattr(values, "to_numpy"):
            kinds = values.dtypes if values.ndim > 1 else [values.dtype]
            if any(kind.kind not in "fiu" for kind in kinds):
                raise TypeError(f"dtype {', '.join(map(str, kinds))}")
            values = values.to_numpy(dtype=np.float64, na_value=np.nan)
        array = np.asarray(values)
        if array.dtype.kind == "O" and not all(
            isinstance(item, Real) and not isinstance(item, bool) for item in array.flat
        ):
            raise TypeError("not all of them are")
        if array.dtype.kind not in "fiuO":
            raise TypeError(f"dtype {array.dtype}")
        return array.astype(np.float64, copy=False)
    except (TypeError, ValueError) as error:
        raise InputError(f"{name} must be numbers, not {_shown(values)} ({error})") from None


def refuse_misaligned(one: Any, other: Any, names: str) -> None:
    """Refuse two Series or frames whose indexes differ: they are not matched by place."""
    if not all(hasattr(item, "index") and hasattr(item, "to_numpy") for item in (one, other)):
        return
    if not one.index.equals(other.index):
        raise InputError(f"{names} have different indexes; align them first")


def _shown(values: Any) -> str:
    text = repr(values)
    return text if len(text) <= 80 else f"{text[:79]}…"


def _same(out: Array) -> Array:
    return out
