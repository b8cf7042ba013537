"""Results of several fields, such as intervals and bands, whose fields are collections."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np

from thermofit.arrays import is_collection
from thermofit.scale.evaluate import evaluated_fields

__all__ = ["evaluated_record"]


def evaluated_record(
    function: Callable[..., Any],
    units: Mapping[str, str],
    values: Any,
    name: str,
    sample: float,
    other: Any = None,
    other_name: str = "",
) -> Any:
    """Apply a function that gives a dataclass to a collection, element by element.

    Parameters
    ----------
    function : callable
        Of the values, and of `other` unless that is None.
    units : mapping of str to str
        Fields of what it gives that are as many numbers as there are values, and their units.
    values, name, other, other_name
        As for `thermofit.scale.evaluated_fields`.
    sample : float
        A value that the function can be asked for at once: what it refuses besides the values
        shows before anything is computed, and so do its other fields.

    Returns
    -------
    dataclass
        Its fields in `units` are of the kind of `values`.
    """
    if other is None:
        told = function(sample)
    else:
        several = is_collection(other) or np.ndim(other) > 0
        told = function(sample, 0.0 if several else other)
    found = evaluated_fields(
        function, list(units), values, other, (name, other_name), list(units.values())
    )
    return dataclasses.replace(told, **found)
