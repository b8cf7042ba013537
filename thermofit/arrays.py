"""Arrays in, the same kind of thing out: scalars stay scalars, Series keep their index.

pandas, PyArrow, xarray and Dask are recognised by what their objects offer, so that none of them
need be imported.
"""

from __future__ import annotations

import importlib
from collections.abc import Callable
from functools import lru_cache
from numbers import Real
from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError

__all__ = [
    "Collection",
    "as_float_array",
    "is_collection",
    "is_lazy",
    "refuse_misaligned",
    "unwrap",
]

Array = npt.NDArray[np.float64]


class Collection(Protocol):
    """What Dask's arrays and frames and xarray's arrays have in common."""

    def __dask_graph__(self) -> Any:
        """Give the tasks that make the numbers; None where the numbers are there."""


def is_collection(values: Any) -> bool:
    """Whether values are those of Dask or of xarray, which `thermofit.scale` works through."""
    kind: Any = type(values)
    return _is_class_of_collections(kind)


@lru_cache(maxsize=256)
def _is_class_of_collections(kind: type) -> bool:
    # Kept, since a class, and a Series too, looks long for what it has not.
    return hasattr(kind, "__dask_graph__")


def is_lazy(values: Any) -> bool:
    """Whether there are no numbers yet, but tasks that will make them."""
    return is_collection(values) and getattr(values, "chunks", ()) is not None


def unwrap(values: Any, name: str) -> tuple[Array, Callable[[Array], Any]]:
    """Take values of any kind as an array, and a function that dresses results alike.

    Parameters
    ----------
    values : float, array_like, pandas Series or DataFrame, PyArrow array, xarray DataArray
        What the caller gave.
    name : str
        What to call it in an error.

    Returns
    -------
    array : array
        The numbers, float64, of the shape of `values`.
    dress : callable
        Makes a float of a result for a scalar, a Series for a Series …  A column that PyArrow
        holds becomes one of its ``double``, in which NaN counts as missing; any other column of
        pandas one of NumPy's float64.  A PyArrow array has nulls where `values` has.  What
        xarray says of a quantity, such as its units, is left out.

    Raises
    ------
    InputError
        Something in `values` is no number.
    """
    if hasattr(values, "to_numpy"):
        array = as_float_array(values, name)
        if _is_arrow(values):
            return array, lambda out: _as_arrow(out, values)
        if _is_xarray(values):
            return array, lambda out: _as_xarray(out, values)
        if hasattr(values, "index"):
            return array, lambda out: _as_pandas(out, values)
        return array, _same
    array = as_float_array(values, name)
    if array.ndim == 0:
        return array, float
    return array, _same


def as_float_array(values: Any, name: str) -> Array:
    """Convert to float64 or say what is not a number.

    Parameters
    ----------
    values : array_like
        Masked elements, and the missing values of pandas and PyArrow, become NaN.
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
    if type(values) is np.ndarray and values.dtype.kind in "fiu":
        return values.astype(np.float64, copy=False)
    try:
        # numpy.ma is imported when it is named, and few have use for it.
        if hasattr(values, "filled") and isinstance(values, np.ma.MaskedArray):
            values = np.ma.filled(values.astype(np.float64), np.nan)
        elif hasattr(values, "to_numpy"):
            values = _without_labels(values)
        elif hasattr(values, "column_names"):
            raise TypeError("a table: give one of its columns")
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
    if not all(hasattr(item, "index") and hasattr(item, "iloc") for item in (one, other)):
        return
    if not one.index.equals(other.index):
        raise InputError(f"{names} have different indexes; align them first")


def _without_labels(values: Any) -> Any:
    if _is_arrow(values):
        return values.to_numpy(zero_copy_only=False)
    if _is_xarray(values):
        return values.to_numpy()
    kinds = values.dtypes if values.ndim > 1 else [values.dtype]
    if any(kind.kind not in "fiu" for kind in kinds):
        raise TypeError(f"dtype {', '.join(map(str, kinds))}")
    return values.to_numpy(dtype=np.float64, na_value=np.nan)


def _is_arrow(values: Any) -> bool:
    return hasattr(type(values), "null_count") and hasattr(type(values), "type")


def _is_xarray(values: Any) -> bool:
    return hasattr(type(values), "dims") and hasattr(type(values), "coords")


def _as_arrow(out: Array, like: Any) -> Any:
    pa = importlib.import_module("pyarrow")

    missing = np.asarray(like.is_null().to_numpy(zero_copy_only=False))
    if not hasattr(like, "chunks"):
        return pa.array(out, mask=missing)
    ends = np.cumsum([len(chunk) for chunk in like.chunks])[:-1]
    parts = zip(np.split(out, ends), np.split(missing, ends), strict=True)
    return pa.chunked_array([pa.array(part, mask=gone) for part, gone in parts], pa.float64())


def _as_xarray(out: Array, like: Any) -> Any:
    result = like.copy(data=out)
    result.attrs = {}
    return result


def _as_pandas(out: Array, like: Any) -> Any:
    if out.ndim == 1:
        held = _DOUBLE if _of_arrow(like.dtype) else None
        return type(like)(out, index=like.index, name=like.name, dtype=held)
    frame = type(like)(out, index=like.index, columns=like.columns)
    for place, dtype in enumerate(like.dtypes):
        if _of_arrow(dtype):
            frame.isetitem(place, frame.iloc[:, place].astype(_DOUBLE))
    return frame


_DOUBLE = "double[pyarrow]"


def _of_arrow(dtype: Any) -> bool:
    return hasattr(dtype, "pyarrow_dtype")


def _shown(values: Any) -> str:
    text = repr(values)
    return text if len(text) <= 80 else f"{text[:79]}…"


def _same(out: Array) -> Array:
    return out
