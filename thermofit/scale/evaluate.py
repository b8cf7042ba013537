"""Functions of single numbers, carried through the collections of Dask and xarray."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import is_collection
from thermofit.errors import InputError
from thermofit.scale.kinds import kind_of, refuse_what_is_no_number
from thermofit.scale.labels import attributes_of_result, refuse_other_units

__all__ = ["evaluated", "evaluated_fields"]

Array = npt.NDArray[np.float64]


def evaluated(
    function: Callable[[Any], Any], values: Any, name: str, unit: str, out: Any = None
) -> Any:
    """Apply a function of single numbers to a collection, element by element.

    Parameters
    ----------
    function : callable
        Takes and gives arrays and pandas objects; it must pickle.
    values : Dask array, Series or DataFrame, or xarray DataArray
        Its argument.  What is lazy stays so: nothing is computed here.
    name : {"r_ohm", "t_c"}
        What the values are.
    unit : str
        Unit of the results, which a DataArray keeps as ``attrs["units"]``.
    out
        Must be None: results that come later have no place yet.

    Returns
    -------
    of the kind of `values`
        With its chunks or partitions, index, columns, dimensions and coordinates.

    Raises
    ------
    InputError
        Another kind of collection, no numbers, another unit, or `out`.
    """
    if out is not None:
        raise InputError(
            f"out is for NumPy arrays; the results for a {type(values).__name__} make their own "
            "place, leave it out"
        )
    kind = kind_of(values, name)
    # What is refused whatever the values are, is refused here and not on some other machine.
    function(np.empty(0))
    if kind in ("series", "frame"):
        return values.map_partitions(function, meta=function(values._meta))
    refuse_what_is_no_number(values, name)
    if kind == "xarray":
        return _through_xarray(partial(_plain, function), 1, [values], [name], [unit])[0]
    return values.map_blocks(
        partial(_plain, function), dtype=np.float64, meta=np.empty((0,) * values.ndim)
    )


def evaluated_fields(
    function: Callable[..., Any],
    fields: Sequence[str],
    values: Any,
    other: Any,
    names: tuple[str, str],
    units: Sequence[str],
) -> dict[str, Any]:
    """Apply a function that gives several numbers for each.

    Parameters
    ----------
    function : callable
        Of the values, and of `other` unless that is None; what it gives has the `fields` as
        attributes, each of the kind and shape of the values.
    fields : sequence of str
    values : Dask array, Series or DataFrame, or xarray DataArray
    other : of the same kind, or a number, or None
        A second argument; for a Dask array also a NumPy array that broadcasts to it.
    names : (str, str)
        What the two are, as for `evaluated`.
    units : sequence of str
        Of the fields.

    Returns
    -------
    dict of str to what is of the kind of `values`
        All fields of a block come from one call.  Of a Dask DataFrame each field has a call of
        its own.

    Raises
    ------
    InputError
        As for `evaluated`; and arguments that do not go together.
    """
    _refuse_strangers(values, other, names)
    kind = kind_of(values, names[0])
    arguments = [values] if other is None else [values, other]
    try:
        if kind in ("series", "frame"):
            return _fields_of_frame(function, fields, arguments, series=kind == "series")
        for argument, name in zip(arguments, names, strict=False):
            if hasattr(argument, "dtype"):
                refuse_what_is_no_number(argument, name)
        pick = partial(_picked, function, tuple(fields))
        if kind == "xarray":
            found = _through_xarray(pick, len(fields), arguments, names, units)
            return dict(zip(fields, found, strict=True))
        return _fields_of_array(pick, fields, arguments)
    except InputError:
        raise
    except ValueError as error:
        raise InputError(f"{names[0]} and {names[1]} do not go together: {error}") from None


def _refuse_strangers(values: Any, other: Any, names: tuple[str, str]) -> None:
    """Refuse a second argument that would not be divided as the first one is."""
    if is_collection(values):
        kind = kind_of(values, names[0])
        if is_collection(other):
            if kind_of(other, names[1]) == kind:
                return
        elif np.ndim(other) == 0 or (kind == "array" and isinstance(other, np.ndarray | Sequence)):
            return
    raise InputError(
        f"{names[1]} is a {type(other).__name__} and {names[0]} a {type(values).__name__}; give "
        f"one number for all, or what is divided as {names[0]} is"
    )


def _fields_of_array(
    pick: Callable[..., tuple[Array, ...]], fields: Sequence[str], arguments: list[Any]
) -> dict[str, Any]:
    """Stack the fields of each block, so that it is worked off once, and take them apart."""
    da = importlib.import_module("dask.array")
    values, *others = arguments
    others = [
        other if np.ndim(other) == 0 else _like(da.asarray(other), values, da) for other in others
    ]
    stack = da.map_blocks(
        partial(_stacked, pick),
        values,
        *others,
        dtype=np.float64,
        new_axis=0,
        chunks=((len(fields),), *values.chunks),
        meta=np.empty((0,) * (values.ndim + 1)),
    )
    return {name: stack[place] for place, name in enumerate(fields)}


def _like(other: Any, values: Any, da: Any) -> Any:
    """Broadcast an array and divide it as `values` are."""
    if np.isnan(other.shape).any() or np.isnan(values.shape).any():
        if other.numblocks != values.numblocks:
            raise ValueError("their chunks differ, and their sizes are not known")
        return other
    return da.broadcast_to(other, values.shape).rechunk(values.chunks)


def _fields_of_frame(
    function: Callable[..., Any], fields: Sequence[str], arguments: list[Any], *, series: bool
) -> dict[str, Any]:
    values, *others = arguments
    for other in filter(is_collection, others):
        _refuse_other_partitions(other, values)
    empty = [getattr(argument, "_meta", argument) for argument in arguments]
    if series:
        make = partial(_table, function, tuple(fields))
        table = values.map_partitions(make, *others, meta=make(*empty))
        return {name: table[name].rename(values.name) for name in fields}
    found = {}
    for name in fields:
        one = partial(_field, function, name)
        found[name] = values.map_partitions(one, *others, meta=one(*empty))
    return found


def _refuse_other_partitions(other: Any, values: Any) -> None:
    known = other.known_divisions and values.known_divisions
    if other.npartitions != values.npartitions or (known and other.divisions != values.divisions):
        raise ValueError("their partitions differ; repartition(divisions=…) makes them alike")


def _through_xarray(
    function: Callable[..., Any],
    count: int,
    arguments: list[Any],
    names: Sequence[str],
    units: Sequence[str],
) -> list[Any]:
    xr = importlib.import_module("xarray")
    values, *others = arguments
    for argument, name in zip(arguments, names, strict=False):
        if hasattr(argument, "attrs"):
            refuse_other_units(argument, name)
    for other in others:
        beyond = set(getattr(other, "dims", ())) - set(values.dims)
        if beyond:
            raise InputError(f"{names[0]} has no dimension {', '.join(map(repr, sorted(beyond)))}")
    found = xr.apply_ufunc(
        function,
        *arguments,
        join="exact",
        keep_attrs=True,
        dask="parallelized",
        output_core_dims=[[]] * count,
        output_dtypes=[np.float64] * count,
    )
    results = found if count > 1 else (found,)
    for result, unit in zip(results, units, strict=True):
        result.name, result.attrs = values.name, attributes_of_result(values.attrs, unit)
    return list(results)


def _plain(function: Callable[[Array], Any], values: Array) -> Array:
    return np.asarray(function(values))


def _picked(function: Callable[..., Any], fields: Sequence[str], *values: Array) -> Any:
    found = function(*values)
    return tuple(np.asarray(getattr(found, name)) for name in fields)


def _stacked(pick: Callable[..., tuple[Array, ...]], *values: Array) -> Array:
    return np.stack(pick(*values))


def _field(function: Callable[..., Any], name: str, *values: Any) -> Any:
    return getattr(function(*values), name)


def _table(function: Callable[..., Any], fields: Sequence[str], *values: Any) -> Any:
    import pandas as pd

    found = function(*values)
    return pd.DataFrame({name: getattr(found, name) for name in fields})
