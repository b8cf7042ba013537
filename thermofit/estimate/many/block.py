"""A block of sensors in the plane, small enough for the cache."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import numpy.typing as npt

from thermofit.equations.base import Array
from thermofit.estimate.many.points import Group, Indices, ManyPoints
from thermofit.estimate.plane import Minimise
from thermofit.units import ZERO_C_K

__all__ = ["Block", "Mask", "Work", "blocks_of"]

Mask = npt.NDArray[np.bool_]

_MOST = 8192
_ELEMENTS = 49152
"""Points of a block at most: some ten arrays of them fit a second-level cache of 1 MiB."""

_FEWEST = 64


class Work:
    """Work arrays that are used again from block to block, by name.

    Parameters
    ----------
    size : int
        Sensors of a block at most.
    """

    def __init__(self, size: int) -> None:
        self.size = size
        self._arrays: dict[tuple[str, tuple[int, ...]], Array] = {}

    def __call__(self, name: str, *shape: int) -> Array:
        """Give the array of a name and shape, its last axis that of the sensors."""
        key = (name, shape[:-1])
        if key not in self._arrays:
            self._arrays[key] = np.empty((*shape[:-1], self.size))
        return self._arrays[key][..., : shape[-1]]


@dataclass(frozen=True, eq=False)
class Block:
    """Points of b sensors, each sorted by temperature.

    Parameters
    ----------
    where : slice or array of int
        Their places among all sensors.
    rows : array of int, shape (m, b), or None
        Where the points stand among all points, sorted as they are here; None where a row of an
        array holds the points of each sensor.
    order : array of int, shape (m, b), or None
        How they were sorted; None if they were before.
    t_k, inv_t, ln_r, u_inv_t, u_ln_r : array, shape (m, b)
        As `thermofit.estimate.plane.Plane` has them for one sensor.
    possible : array of bool, shape (b,)
        Whether no uncertainty is negative.
    work : Work
    """

    where: slice | Indices
    rows: Indices | None
    order: Indices | None
    t_k: Array
    inv_t: Array
    ln_r: Array
    u_inv_t: Array
    u_ln_r: Array
    possible: Mask
    work: Work

    @property
    def count(self) -> int:
        """Number of points of each sensor, m."""
        return len(self.t_k)

    @property
    def size(self) -> int:
        """Number of sensors, b."""
        return int(self.t_k.shape[1])

    @cached_property
    def ln_r_ends(self) -> tuple[Array, Array]:
        """Lowest and highest ln R of each sensor, shape (b,) each."""
        return np.minimum.reduce(self.ln_r, axis=0), np.maximum.reduce(self.ln_r, axis=0)


def blocks_of(
    points: ManyPoints, group: Group, minimise: Minimise, elements: int | None = None
) -> Iterator[Block]:
    """Go through sensors with equally many points, block by block.

    Each block overwrites the one before.

    Parameters
    ----------
    points : ManyPoints
    group : Group
    minimise : {"temperature", "resistance"}
    elements : int, optional
        Numbers that the largest array of work has for each sensor; by default its points.
    """
    size = min(_MOST, max(_FEWEST, _ELEMENTS // (elements or group.count)), group.size)
    work = Work(size)
    for start in range(0, group.size, size):
        yield _block(points, group, start, min(start + size, group.size), minimise, work)


def _block(
    points: ManyPoints, group: Group, start: int, stop: int, minimise: Minimise, work: Work
) -> Block:
    m, b = group.count, stop - start
    stated = points.u_t_k is not None or points.u_r_ohm is not None
    rows = None if group.rows is None else group.rows[:, start:stop]
    arrays = []
    for name, absent in (
        ("t_c", 0.0), ("r_ohm", 0.0),
        ("u_t_k", float(not stated and minimise == "temperature")),
        ("u_r_ohm", float(not stated and minimise == "resistance")),
    ):  # fmt: skip
        place, values = work(name, m, b), getattr(points, name)
        if values is None:
            place[...] = absent
        elif rows is None:
            place[...] = values.T[:, start:stop]
        else:
            np.take(values, rows, out=place, mode="clip")
        arrays.append(place)
    t_c, r_ohm, u_t_k, u_r_ohm = arrays
    order = None
    if not (t_c[1:] > t_c[:-1]).all():
        tied = (t_c[1:] == t_c[:-1]) & (r_ohm[1:] >= r_ohm[:-1])
        if not ((t_c[1:] > t_c[:-1]) | tied).all():
            order = np.lexsort((r_ohm, t_c), axis=0)
            for place in arrays:
                place[...] = np.take_along_axis(place, order, axis=0)
            if rows is not None:
                rows = np.take_along_axis(rows, order, axis=0)
    possible = np.ones(b, dtype=bool)
    # NaN compares false, and is looked at as well.
    for own, given in ((u_t_k, points.u_t_k), (u_r_ohm, points.u_r_ohm)):
        if given is not None and not own.min() >= 0.0:
            possible &= (own >= 0.0).all(axis=0)
    t_k, inv_t, ln_r = t_c, work("inv_t", m, b), work("ln_r", m, b)
    t_k += ZERO_C_K
    np.divide(1.0, t_k, out=inv_t)
    np.log(r_ohm, out=ln_r)
    if points.u_t_k is not None or not stated:
        u_t_k *= inv_t
        u_t_k *= inv_t
    if points.u_r_ohm is not None or not stated:
        u_r_ohm /= r_ohm
    return Block(
        group.where(start, stop), rows, order, t_k, inv_t, ln_r, u_t_k, u_r_ohm, possible, work
    )
