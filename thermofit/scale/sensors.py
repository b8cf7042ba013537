"""Long frames of many sensors' points in partitions: each sensor's rows come together first."""

from __future__ import annotations

import importlib
import warnings
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np

from thermofit.errors import InputError
from thermofit.scale.kinds import kind_of

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["sensor_by_sensor"]


def sensor_by_sensor(function: Callable[..., Any], frame: Any, sensor: str, **numbers: Any) -> Any:
    """Apply a function that gives a row for each sensor to the partitions of a Dask frame.

    A sensor whose rows stood in two partitions would come out as two halves.  So the frame is
    shuffled by its sensors first, unless it has one partition only, or the sensor as its index
    with known divisions, which say that no sensor lies in two partitions.  Divisions taken from
    files may say so wrongly; a sensor in a partition where it does not belong is refused.

    Parameters
    ----------
    function : callable
        From a long pandas frame to one with a row for each sensor; it must pickle.
    frame : Dask DataFrame
        With the sensor's name as a column or as the index.
    sensor : str
        That column.
    **numbers
        Arguments that `function` has already got, which must be single numbers or None: a
        sequence could not be divided as the frame is.

    Returns
    -------
    Dask DataFrame
        A row for each sensor, and as many partitions as `frame` has; in no particular order, and
        without a meaningful index.

    Raises
    ------
    InputError
        No frame, an argument that is no single number, and whatever `function` refuses by the
        columns alone; what it refuses by the rows, it refuses when the frame is computed.
    """
    if kind_of(frame, "points") != "frame":
        raise InputError(
            "the points of many sensors come as a frame with a row for each point, not as "
            f"{type(frame).__name__}"
        )
    for name, value in numbers.items():
        if np.ndim(value) or hasattr(value, "__dask_graph__"):
            raise InputError(
                f"{name} must be one number for a frame in partitions; give a number for each row "
                "as a column of the frame"
            )
    indexed = sensor not in frame.columns and frame.index.name == sensor
    if indexed and not frame.known_divisions:
        raise InputError(
            f"the frame has {sensor!r} as its index, but does not know which sensors are in which "
            f"partition; make the index by set_index({sensor!r}), or a column by reset_index()"
        )
    if indexed and hasattr(frame._meta.index, "categories"):
        raise InputError(
            f"the frame has {sensor!r} as an index of categories, whose order says nothing of the "
            "divisions; reset_index() lets it be shuffled"
        )
    # One row of made-up numbers, whatever is said of them, tells what the result looks like.
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        like = function(_with_column(frame._meta_nonempty.iloc[:1], sensor)).iloc[:0]
    if not indexed and frame.npartitions > 1:
        frame = frame.shuffle(on=sensor)
    part = partial(_of_partition, function=function, sensor=sensor, like=like)
    ends = [_beginnings_of_next(frame.divisions)] if indexed else []
    return frame.map_partitions(
        part, *ends, meta=like, clear_divisions=True, align_dataframes=False
    )


def _beginnings_of_next(divisions: tuple[Any, ...]) -> Any:
    """Series with the first sensor of the next partition in each partition, the last one empty."""
    import pandas as pd

    dd = importlib.import_module("dask.dataframe")
    each = [pd.Series([name]) for name in divisions[1:-1]]
    like = pd.Series([divisions[0]])
    return dd.from_map(_itself, [*each, like.iloc[:0]], meta=like.iloc[:0])


def _itself(values: Any) -> Any:
    return values


def _of_partition(
    part: pd.DataFrame,
    following: pd.Series[Any] | None = None,
    *,
    function: Callable[..., Any],
    sensor: str,
    like: pd.DataFrame,
) -> pd.DataFrame:
    if not len(part):
        return like
    if following is not None and len(following) and not part.index.max() < following.iloc[0]:
        raise InputError(
            f"sensor {part.index.max()!r} stands where the divisions of the frame say that it "
            "does not, so that it may lie in two partitions; reset_index() lets it be shuffled"
        )
    found = function(_with_column(part, sensor))
    # A partition without a single failure has other types of its own accord.
    typed: pd.DataFrame = found.astype(like.dtypes.to_dict())
    return typed


def _with_column(part: pd.DataFrame, sensor: str) -> pd.DataFrame:
    return part if sensor in part.columns else part.reset_index()
