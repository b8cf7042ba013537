"""Measured points of many sensors, as arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.equations.base import Array
from thermofit.errors import InputError
from thermofit.points import Points

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Group", "ManyPoints"]

Indices = npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Group:
    """Sensors with equally many points.

    Parameters
    ----------
    count, size : int
        Points of each sensor, m, and the number of sensors, g.
    sensors : array of int, shape (g,), or None
        Their places among all sensors; None for all of them, in order.
    rows : array of int, shape (m, g), or None
        Where their points stand among all points; None for arrays, a row for each sensor.
    """

    count: int
    size: int
    sensors: Indices | None = None
    rows: Indices | None = None

    def where(self, start: int, stop: int) -> slice | Indices:
        """Places of a block of these sensors among all sensors."""
        return slice(start, stop) if self.sensors is None else self.sensors[start:stop]


@dataclass(frozen=True, init=False, eq=False, repr=False)
class ManyPoints:
    """Measured points of n sensors, with m points each or with ragged numbers of them.

    What is wrong with the points of a sensor is told when it is fitted, in its own row, so
    that it stops nobody else.

    Parameters
    ----------
    t_c : array_like, shape (n, m), (1, m) or (m,)
        Temperatures in °C; one row for all where the sensors shared their baths.
    r_ohm : array_like, shape (n, m)
        Resistances in Ω.
    u_t_k, u_r_ohm : float or array_like, optional
        Standard uncertainties in kelvin and Ω, of any shape that broadcasts to (n, m).

    Attributes
    ----------
    sensors : array, shape (n,)
        Names of the sensors; 0 to n − 1 for arrays.
    t_c, r_ohm : array
        Read-only; shape (n, m), or for a frame one value for each of its rows.
    u_t_k, u_r_ohm : array or None
        Likewise; None where not stated.

    Raises
    ------
    InputError
        Arrays that are not numbers, or whose shapes do not go together.

    Examples
    --------
    Invented readings of two air sensors, in ice, in air and in warm water:

    >>> p = ManyPoints([0.0, 25.0, 60.0], [[32650, 10000, 2490], [32400, 9950, 2485]], u_t_k=0.05)
    >>> p
    ManyPoints(2 sensors, 6 points)
    >>> p.points(1).r_ohm
    array([32400.,  9950.,  2485.])
    """

    sensors: npt.NDArray[Any]
    t_c: Array
    r_ohm: Array
    u_t_k: Array | None
    u_r_ohm: Array | None
    groups: tuple[Group, ...]
    _cells: dict[str, npt.NDArray[Any]]
    _rows: tuple[Indices, Indices] | None

    def __init__(
        self,
        t_c: npt.ArrayLike,
        r_ohm: npt.ArrayLike,
        u_t_k: npt.ArrayLike | None = None,
        u_r_ohm: npt.ArrayLike | None = None,
    ) -> None:
        r = _numbers(r_ohm, "r_ohm")
        if r.ndim != 2 or r.shape[1] == 0:
            raise InputError(
                "r_ohm of many sensors has two dimensions, a row for each sensor and a column for "
                f"each point, not the shape {r.shape}; ragged points come as a frame"
            )
        columns: dict[str, Array | None] = {"r_ohm": r}
        for name, values in (("t_c", t_c), ("u_t_k", u_t_k), ("u_r_ohm", u_r_ohm)):
            columns[name] = None if values is None else _broadcast(values, name, r.shape)
        group = Group(r.shape[1], len(r))
        self._fill(np.arange(len(r)), columns, (group,) if len(r) else (), {}, None)

    @classmethod
    def from_frame(
        cls,
        frame: pd.DataFrame,
        *,
        sensor: str = "sensor",
        u_t_k: npt.ArrayLike | None = None,
        u_r_ohm: npt.ArrayLike | None = None,
    ) -> ManyPoints:
        """Take the points of many sensors from a long frame, a row for each point.

        Parameters
        ----------
        frame : pandas.DataFrame
            Columns of the sensors' names, ``t_c`` and ``r_ohm``, and ``u_t_k`` and ``u_r_ohm``,
            standard uncertainties, where it states them.  Its rows may stand in any order.
        sensor : str
            Column that names the sensor.
        u_t_k, u_r_ohm : float or array_like, optional
            Standard uncertainties for a frame that does not state them.

        Returns
        -------
        ManyPoints
            Sensors in the order in which they first appear.

        Raises
        ------
        InputError
            A column is missing, there twice, or of dates or truth values; a row without the
            name of its sensor; uncertainties both stated and given.
        """
        from thermofit.estimate.many.frame import columns_of

        found = columns_of(frame, sensor, u_t_k, u_r_ohm)
        count = np.bincount(found.codes, minlength=len(found.names))
        order = np.argsort(found.codes, kind="stable")
        start = np.cumsum(count) - count
        groups = []
        for m in np.unique(count):
            own = np.flatnonzero(count == m)
            rows = order[start[own] + np.arange(m)[:, np.newaxis]]
            groups.append(Group(int(m), len(own), own, rows))
        self = cls.__new__(cls)
        own_rows = order, np.append(start, len(order))
        self._fill(found.names, found.numbers, tuple(groups), found.cells, own_rows)
        return self

    def _fill(
        self,
        sensors: npt.NDArray[Any],
        columns: dict[str, Array | None],
        groups: tuple[Group, ...],
        cells: dict[str, npt.NDArray[Any]],
        rows: tuple[Indices, Indices] | None,
    ) -> None:
        for column in columns.values():
            if column is not None and column.flags.writeable:
                column.flags.writeable = False
        fields = {**columns, "sensors": sensors, "groups": groups, "_cells": cells, "_rows": rows}
        for name in ("sensors", "t_c", "r_ohm", "u_t_k", "u_r_ohm", "groups", "_cells", "_rows"):
            object.__setattr__(self, name, fields.get(name))

    def __len__(self) -> int:
        return len(self.sensors)

    @property
    def counts(self) -> npt.NDArray[np.intp]:
        """Number of points of each sensor, shape (n,)."""
        counts = np.zeros(len(self), dtype=np.intp)
        for group in self.groups:
            counts[group.where(0, group.size)] = group.count
        return counts

    def rows_of(self, place: int) -> Any:
        """Index of a sensor's points in `t_c` and the others, by the sensor's place."""
        if self._rows is None:
            return place
        order, start = self._rows
        return order[start[place] : start[place + 1]]

    def points(self, place: int) -> Points:
        """Give the points of one sensor, by its place, for `thermofit.fit`.

        Raises
        ------
        InputError
            Its values cannot be used.
        """
        rows = self.rows_of(place)
        given: dict[str, Any] = {}
        for name in ("t_c", "r_ohm", "u_t_k", "u_r_ohm"):
            values = self._cells.get(name, getattr(self, name))
            given[name] = None if values is None else values[rows]
        return Points(**given)

    def __repr__(self) -> str:
        return f"ManyPoints({len(self)} sensors, {self.r_ohm.size} points)"


def _numbers(values: Any, name: str) -> Array:
    """Copy numbers into an array whose last axis but one, that of the sensors, is contiguous."""
    try:
        array = np.asarray(values)
        if array.dtype.kind not in "iuf":
            raise TypeError(f"they are of the kind {array.dtype}")
    except (TypeError, ValueError) as error:
        raise InputError(f"{name} must be an array of numbers: {error}") from None
    return np.array(array.T, dtype=np.float64, order="C").T


def _broadcast(values: Any, name: str, shape: tuple[int, ...]) -> Array:
    array = _numbers(values, name)
    try:
        return np.broadcast_to(array, shape)
    except ValueError:
        raise InputError(
            f"{name} of shape {array.shape} does not go with resistances of shape {shape}"
        ) from None
