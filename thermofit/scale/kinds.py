"""What a collection is, and what goes with it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal

from thermofit.errors import InputError

__all__ = ["Kind", "kind_of", "refuse_what_is_no_number"]

Kind = Literal["array", "series", "frame", "xarray"]


def kind_of(values: Any, name: str) -> Kind:
    """Tell an array, a Series and a frame of Dask, and a DataArray of xarray.

    Parameters
    ----------
    values : object with ``__dask_graph__``
    name : str
        What to call it in an error.

    Returns
    -------
    {"array", "series", "frame", "xarray"}

    Raises
    ------
    InputError
        It is another collection, such as a Dataset of xarray or a delayed object of Dask.
    """
    # A delayed object of Dask offers whatever one asks it for.
    if isinstance(getattr(values, "ndim", None), int):
        if hasattr(values, "coords"):
            return "xarray"
        if hasattr(values, "map_blocks"):
            return "array"
        if hasattr(values, "map_partitions") and hasattr(values, "loc"):
            return "frame" if values.ndim > 1 else "series"
    elif isinstance(getattr(values, "data_vars", None), Mapping):
        raise InputError(
            f"{name} is a Dataset, whose variables are of many kinds; give the one that is meant, "
            f"such as dataset[{name!r}]"
        )
    raise InputError(
        f"{name} is a {type(values).__name__}, which has no numbers before it is computed: give a "
        "Dask array, Series or frame (dask.array.from_delayed, dask.dataframe.from_delayed)"
    )


def refuse_what_is_no_number(values: Any, name: str) -> None:
    """Refuse arrays whose type says already that they hold no real numbers."""
    if values.dtype.kind not in "fiu":
        raise InputError(f"{name} must be numbers, not {values.dtype}")
