"""Bands of many parts in blocks that stay in the cache."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.equations.base import Equation
from thermofit.evaluation import BLOCK, in_threads, says_its_polynomial
from thermofit.tolerance.single import deviation
from thermofit.tolerance.stacked import Stack, polynomials, weights
from thermofit.tolerance.statistical import Spread
from thermofit.tolerance.usual import UsualLimits
from thermofit.units import ZERO_C_K

__all__ = ["fill"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]
Rows = npt.NDArray[np.intp]

_WORK = 5


@dataclass(frozen=True, eq=False)
class _Group:
    """Curves of one form, and their places in the band."""

    rows: Rows
    stack: Stack


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
    for group in _groups(curves, rows):
        _Filling(out, group, t_c, limits, spread).run(left, workers)
    return np.flatnonzero(left)


class _Filling:
    """One group of curves: what its blocks have in common."""

    def __init__(
        self, out: Array, group: _Group, t_c: Array, limits: UsualLimits, spread: Spread | None
    ) -> None:
        self.limits, self.spread = limits, spread
        self.t_k = t_c + ZERO_C_K
        self.inv_t = 1.0 / self.t_k
        inv_ref = 1.0 / (limits.t_ref_c[group.rows] + ZERO_C_K)
        low, high = group.stack.reach[2:, :, 0]
        reached = (np.minimum(self.inv_t.min(), inv_ref) >= low) & (
            np.maximum(self.inv_t.max(), inv_ref) <= high
        )
        self.out, self.rows = out, group.rows[reached]
        self.stack = stack = group.stack.rows(reached)
        self.ref_ln_r = stack.ln_r_once(inv_ref[reached])[:, np.newaxis]
        if stack.by_resistance:
            self.near, self.weights = stack.ln_r_near(self.inv_t), weights(self.inv_t)

    def run(self, left: Truth, workers: int) -> None:
        """Fill what can be filled, and strike it off what is left."""
        step = max(1, BLOCK // self.t_k.size)
        starts = range(0, self.rows.size, step)

        def work_off(first: int, last: int) -> None:
            most = min(step, self.rows.size), self.t_k.size
            work, aside = np.empty((_WORK, *most)), np.empty((len(self.out), *most))
            with np.errstate(all="ignore"):
                for start in starts[first:last]:
                    part = slice(start, start + step)
                    rows = self.rows[part]
                    together = rows[-1] - rows[0] + 1 == rows.size
                    ends = slice(rows[0], rows[-1] + 1)
                    place = self.out[:, ends] if together else aside[:, : rows.size]
                    left[rows] = ~self._block(place, part, work[:, : rows.size])
                    if not together:
                        self.out[:, rows] = place

        in_threads(len(starts), work_off, workers)

    def _block(self, place: Array, part: slice, work: Array) -> Truth:
        """Fill a block, and say which of its rows have settled."""
        r_low, r, r_high, dr_low, dr_high, dt_low, dt_high, dt1_low, dt1_high, alpha = place
        lever, low, high, share, spare = work
        stack = self.stack.rows(part)
        settled = np.ones(len(r), dtype=bool)
        taylor: list[Array] = []
        if stack.by_resistance:
            np.matmul(self.near[part], self.weights, out=spare)
            ln_r, settled = stack.corrected(self.inv_t, spare, lever)
            x = ln_r - stack.shift
            np.divide(-self.inv_t * self.inv_t, stack.slope(x), out=alpha)
        else:
            x = self.inv_t - stack.shift
            ln_r, *taylor = stack.taylor(x)
            np.multiply(-self.inv_t * self.inv_t, taylor[0], out=alpha)
        np.exp(ln_r, out=r)
        np.subtract(ln_r, self.ref_ln_r[part], out=lever)
        box = self.limits.box(self.rows[part])
        if self.spread is None:
            box.fill_worst_case(lever, low, high, share)
        else:
            low[...], high[...] = deviation(box, lever, self.spread)
        for away, r_end, dr, dt, dt1 in (
            (low, r_low, dr_low, dt_low, dt1_low),
            (high, r_high, dr_high, dt_high, dt1_high),
        ):
            np.expm1(away, out=share)
            np.multiply(share, 100.0, out=dr)
            np.divide(share, alpha, out=dt1)
            share += 1.0
            np.multiply(share, r, out=r_end)
            _leave_out(away, np.add(ln_r, away, out=share), stack)
            if stack.by_resistance:
                inv_t = stack.value(np.add(x, away, out=share))
            else:
                inv_t, well = stack.moved(x, away, taylor, share)
                settled &= well
                inv_t += self.inv_t
            np.divide(1.0, inv_t, out=dt)
            dt -= self.t_k
        return settled


def _leave_out(away: Array, ln_r: Array, stack: Stack) -> None:
    """Make those deviations NaN where the curve has no such ln R."""
    low, high = stack.reach[0], stack.reach[1]
    # The ends of a whole block are found more quickly than those of its rows.
    if not (ln_r.min() >= low.max() and ln_r.max() <= high.min()):
        away[~((ln_r >= low) & (ln_r <= high))] = np.nan


def _groups(curves: Sequence[Curve], rows: Rows) -> Iterator[_Group]:
    """Collect the curves that are polynomials of one degree in one direction."""
    known: dict[type[Equation], bool | None] = {}
    of_equation: dict[Any, list[int]] = {}
    for row in rows.tolist():
        equation = curves[row].equation
        kind = type(equation)
        if kind not in known:
            known[kind] = _has_settings(kind) if says_its_polynomial(kind) else None
        has_settings = known[kind]
        if has_settings is not None:
            of_equation.setdefault(equation if has_settings else kind, []).append(row)
    alike: dict[tuple[bool, int], list[tuple[list[int], float, Array]]] = {}
    for some in of_equation.values():
        equation = curves[some[0]].equation
        found = polynomials(
            equation, np.concatenate([curves[row]._c for row in some]).reshape(len(some), -1)
        )
        if found is not None:
            shift, rising = found
            key = equation.explicit == "temperature", len(rising)
            alike.setdefault(key, []).append((some, shift, rising))
    for (by_resistance, _), pieces in alike.items():
        places = np.concatenate([some for some, _, _ in pieces])
        shifts = np.concatenate([np.full(len(some), shift) for some, shift, _ in pieces])
        stacked = np.concatenate([rising for _, _, rising in pieces], axis=1)
        order = np.argsort(places)
        places = places[order]
        stack = Stack(
            by_resistance,
            shifts[order, np.newaxis],
            np.ascontiguousarray(stacked[:, order])[..., np.newaxis],
            _reach([curves[row] for row in places.tolist()], by_resistance),
        )
        yield _Group(places, stack)


def _has_settings(kind: type[Equation]) -> bool:
    """Whether two equations of a class may differ."""
    return not dataclasses.is_dataclass(kind) or bool(dataclasses.fields(kind))


def _reach(curves: Sequence[Curve], by_resistance: bool) -> Array:
    """Ends of the branches, shape (4, n, 1); see `Stack`."""
    ends = np.array([curve._branch.ends for curve in curves])
    of_x, of_y = np.sort(ends[:, :2], axis=1), np.sort(ends[:, 2:], axis=1)
    both = (of_x, of_y) if by_resistance else (of_y, of_x)
    return np.concatenate(both, axis=1).T[..., np.newaxis]
