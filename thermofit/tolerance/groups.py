"""Curves of one form collected, so that all of them are evaluated at once."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.equations.base import Equation
from thermofit.evaluation import says_its_polynomial
from thermofit.tolerance.stacked import Stack, polynomials

__all__ = ["Group", "groups_of"]

Array = npt.NDArray[np.float64]
Rows = npt.NDArray[np.intp]
Chosen = slice | Rows | npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Group:
    """Curves that are polynomials of one degree in one direction.

    Parameters
    ----------
    rows : array of int, shape (n,)
        Their places in the band.
    stack : Stack
    """

    rows: Rows
    stack: Stack

    def take(self, chosen: Chosen) -> Group:
        """Some of the curves."""
        return Group(self.rows[chosen], self.stack.rows(chosen))


def groups_of(curves: Sequence[Curve], rows: Rows) -> Iterator[Group]:
    """Collect those of some curves that are polynomials.

    Parameters
    ----------
    curves : sequence of Curve
    rows : array of int
        Which of them, rising.
    """
    chosen = [curves[row] for row in rows.tolist()]
    pieces: dict[tuple[bool, int], list[tuple[Rows, float, Array]]] = {}
    for equation, places in _of_one_equation(chosen):
        # As bytes, they are put together in a third of the time that np.concatenate takes.
        c = np.frombuffer(b"".join([chosen[place]._c for place in places])).reshape(len(places), -1)
        found = polynomials(equation, c)
        if found is not None:
            shift, rising = found
            key = equation.explicit == "temperature", len(rising)
            pieces.setdefault(key, []).append((np.array(places), shift, rising))
    for (by_resistance, _), alike in pieces.items():
        order = np.concatenate([places for places, _, _ in alike])
        shifts = np.concatenate([np.full((places.size, 1), value) for places, value, _ in alike])
        rising = np.concatenate([rising for _, _, rising in alike], axis=1)[..., np.newaxis]
        reach = _reach([chosen[place] for place in order.tolist()], by_resistance)
        group = Group(rows[order], Stack(by_resistance, shifts, rising, reach))
        yield group if len(alike) == 1 else group.take(np.argsort(order))


def _of_one_equation(curves: Sequence[Curve]) -> Iterator[tuple[Equation, Sequence[int]]]:
    """Equations that say their polynomial, each with the places of its curves."""
    equations = [curve.equation for curve in curves]
    kinds = list(map(type, equations))
    for kind in dict.fromkeys(kinds):
        if not says_its_polynomial(kind):
            continue
        mine = [place for place, other in enumerate(kinds) if other is kind]
        if not _has_settings(kind):
            yield equations[mine[0]], mine
            continue
        places: dict[Equation, list[int]] = {}
        for place in mine:
            places.setdefault(equations[place], []).append(place)
        yield from places.items()


def _has_settings(kind: type[Equation]) -> bool:
    """Whether two equations of a class may differ."""
    return not dataclasses.is_dataclass(kind) or bool(dataclasses.fields(kind))


def _reach(curves: Sequence[Curve], by_resistance: bool) -> Array:
    """Ends of the branches, shape (4, n, 1); see `Stack`."""
    ends = b"".join([curve._branch.ends for curve in curves])
    x_0, x_1, y_0, y_1 = np.frombuffer(ends).reshape(-1, 4).T
    pairs = [(x_0, x_1), (y_0, y_1)] if by_resistance else [(y_0, y_1), (x_0, x_1)]
    sides = [side(*pair) for pair in pairs for side in (np.minimum, np.maximum)]
    return np.stack(sides)[..., np.newaxis]
