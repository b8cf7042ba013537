"""Bands of many parts in blocks that stay in the cache."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Protocol

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.evaluation import BLOCK, in_threads
from thermofit.tolerance.bent import Polynomials
from thermofit.tolerance.groups import Group, groups_of
from thermofit.tolerance.statistical import Spread
from thermofit.tolerance.straight import Lines
from thermofit.tolerance.usual import UsualLimits
from thermofit.units import ZERO_C_K

__all__ = ["fill"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]
Rows = npt.NDArray[np.intp]


class _Filling(Protocol):
    """What fills blocks of rows."""

    work_rows: int

    def block(self, place: Array, part: slice, work: Array) -> Truth:
        """Fill some rows, and say which of them have settled.

        Parameters
        ----------
        place : array, shape (10, k, m)
            To be filled, in the order of the arrays of `Band` after the temperatures.
        part : slice
            Which rows of the filling they are.
        work : array, shape (work_rows, k, m)
            Overwritten.
        """


def fill(
    out: Array,
    curves: Sequence[Curve],
    rows: Rows,
    t_c: Array,
    limits: UsualLimits,
    spread: Spread | None,
    workers: int,
) -> Rows:
    """Fill the arrays of a band for those curves that are polynomials in the plane.

    Parameters
    ----------
    out : array, shape (10, n, m)
        The arrays of `Band` after the temperatures, in their order.
    curves : sequence of Curve, length n
    rows : array of int
        Which of them.
    t_c : array, shape (m,)
        Temperatures in °C.
    limits : UsualLimits
    spread : Spread, optional
    workers : int
        Number of threads.

    Returns
    -------
    array of int
        The rows that are left, rising.
    """
    left = np.zeros(len(curves), dtype=bool)
    left[rows] = True
    for group in groups_of(curves, rows):
        for mine, filling in _fillings(_within_reach(group, t_c, limits), t_c, limits, spread):
            _run(out, mine, filling, left, workers)
    return np.flatnonzero(left)


def _within_reach(group: Group, t_c: Array, limits: UsualLimits) -> Group:
    """Those whose branch has all temperatures, and that of the reference."""
    t_ref_c = limits.t_ref_c[group.rows]
    coldest = np.minimum(t_ref_c, float(t_c.min()))
    hottest = np.maximum(t_ref_c, float(t_c.max()))
    low, high = group.stack.reach[2:, :, 0]
    return group.take((1.0 / (hottest + ZERO_C_K) >= low) & (1.0 / (coldest + ZERO_C_K) <= high))


def _fillings(
    group: Group, t_c: Array, limits: UsualLimits, spread: Spread | None
) -> Iterator[tuple[Rows, _Filling]]:
    """What fills the rows of a group, each with its own."""
    if not group.rows.size:
        return
    if spread is None and group.stack.straight and limits.at_one_temperature(group.rows):
        lines = Lines(group, t_c, limits, _most_rows(t_c.size))
        usual = lines.usual()
        if usual.all():
            yield group.rows, lines
            return
        yield from _fillings(group.take(usual), t_c, limits, spread)
        group = group.take(~usual)
    yield group.rows, Polynomials(group, t_c, limits, spread)


def _run(out: Array, rows: Rows, filling: _Filling, left: Truth, workers: int) -> None:
    """Fill the places of rows block by block, and strike off what is left those that settled."""
    per_row = out.shape[-1]
    step = _most_rows(per_row)
    starts = range(0, rows.size, step)

    def work_off(first: int, last: int) -> None:
        most = min(step, rows.size), per_row
        work, aside = np.empty((filling.work_rows, *most)), np.empty((len(out), *most))
        with np.errstate(all="ignore"):
            for start in starts[first:last]:
                part = slice(start, start + step)
                some = rows[part]
                together = some[-1] - some[0] + 1 == some.size
                place = out[:, some[0] : some[-1] + 1] if together else aside[:, : some.size]
                left[some] = ~filling.block(place, part, work[:, : some.size])
                if not together:
                    out[:, some] = place

    in_threads(len(starts), work_off, workers)


def _most_rows(per_row: int) -> int:
    """How many rows a block has."""
    return max(1, BLOCK // per_row)
