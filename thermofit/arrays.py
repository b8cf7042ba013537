"""Arrays in, the same kind of thing out: scalars stay scalars, Series keep their index."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError

__all__ = ["as_float_array", "unwrap"]

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
        array = as_float_array(values.to_numpy(dtype=np.float64, na_value=np.nan), name)
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
    name : str
        What to call it in an error.

    Returns
    -------
    array

    Raises
    ------
    InputError
        Something in `values` is no real number.
    """
    try:
        array = np.asarray(values)
        if np.iscomplexobj(array):
            raise TypeError("complex numbers")
        return array.astype(np.float64, copy=False)
    except (TypeError, ValueError) as error:
        raise InputError(f"{name} must be numbers, not {values!r} ({error})") from None


def _same(out: Array) -> Array:
    return out
