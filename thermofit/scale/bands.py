"""Tolerance bands at temperatures of Dask and xarray."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from functools import partial
from typing import Any

from thermofit.arrays import is_collection, unwrap
from thermofit.errors import InputError
from thermofit.scale.records import evaluated_record

__all__ = ["evaluated_band"]

_UNITS = {"_per_k": "1/K", "_ohm": "ohm", "_pct": "percent", "_k": "K", "_c": "degC"}


def evaluated_band(function: Callable[..., Any], curve: Any, t_c: Any, **how: Any) -> Any:
    """Find a tolerance band at the temperatures of a collection, element by element.

    Parameters
    ----------
    function : callable
        `thermofit.tolerance_band`.
    curve : Curve or Family
        One, not a sequence.
    t_c : Dask array, Series or DataFrame, xarray DataArray, or pandas Series or DataFrame
        Temperatures in °C.
    **how
        Keywords of the function; tolerances are numbers or pairs of them.

    Returns
    -------
    Band
        Its fields are of the kind of `t_c`; arrays where they have more dimensions than a pandas
        object.  Limits that are simulated are simulated for each
        block by itself.

    Raises
    ------
    InputError
        Several curves, or tolerances in arrays, which could not be divided as the temperatures
        are; and what the function refuses besides the temperatures.  Those are judged when the
        band is computed.
    """
    if not is_collection(t_c):
        return _labelled(partial(function, curve, **how), t_c)
    nominal = getattr(curve, "curve", curve)
    if not hasattr(nominal, "t_min_c"):
        raise InputError(
            f"the band at the temperatures of a {type(t_c).__name__} is that of one Curve or "
            "Family; call it for each of them"
        )
    for name, value in how.items():
        ends = value if isinstance(value, tuple) else (value,)
        if any(getattr(end, "shape", ()) or hasattr(end, "__dask_graph__") for end in ends):
            raise InputError(
                f"{name} must be a number, or a pair of them, for the temperatures of a "
                f"{type(t_c).__name__}: an array could not be divided as they are"
            )
    one = partial(function, curve, **how)
    sample = 0.5 * (nominal.t_min_c + nominal.t_max_c)
    return evaluated_record(partial(_labelled, one), _units(one(sample)), t_c, "t_c", sample)


def _labelled(function: Callable[[Any], Any], t_c: Any) -> Any:
    """Give the fields the index and the columns of temperatures that have them."""
    if not hasattr(t_c, "iloc"):
        return function(t_c)
    values, dress = unwrap(t_c, "t_c")
    band = function(values)
    if band.t_c.shape != values.shape:
        return band
    fields = {name: dress(getattr(band, name)) for name in _units(band)}
    return dataclasses.replace(band, **fields)


def _units(band: Any) -> Mapping[str, str]:
    names = [field.name for field in dataclasses.fields(band)]
    units = {
        name: next((unit for ending, unit in _UNITS.items() if name.endswith(ending)), "")
        for name in names
    }
    return {name: unit for name, unit in units.items() if unit}
