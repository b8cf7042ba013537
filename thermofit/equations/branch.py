"""The monotone stretch of an equation that a curve uses, and its solution.

An equation with its numbers may turn outside the range of a curve, or have a
pole there.  `find_branch` looks for the one monotone stretch that covers the
range, `Branch.solve` inverts the equation on it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from struct import Struct

import numpy as np
import numpy.typing as npt

from thermofit.equations.base import Array, Equation
from thermofit.errors import NotMonotoneError
from thermofit.units import ZERO_C_K

__all__ = ["Branch", "find_branch"]

_LN_R_LIMITS = (-40.0, 90.0)
_T_K_LIMITS = (20.0, 2000.0)
_GRID = 1025
_MAX_STEPS = 80

# The grid finds the turns.  From so many of its samples, or up to twice as many, Newton's method
# takes as many steps over usual ranges as from all of them, and a few more beside a turn.
_KEPT = 256

_FOUR = Struct("4d")

# Below this the rounding of ln R alone is worth more than 1e-9 K.
_SMALLEST_ALPHA = 1e-5


@dataclass(frozen=True, eq=False, slots=True)
class Branch:
    """A stretch of the explicit argument on which the equation is monotone.

    Parameters
    ----------
    x : array, shape (m,)
        Arguments of `Equation.value`, rising.
    y : array, shape (m,)
        Values there, strictly monotone.
    """

    x: Array
    y: Array
    ends: bytes = field(init=False)
    """First and last argument, first and last value, packed: those of many are read as one."""

    def __post_init__(self) -> None:
        ends = self.x.item(0), self.x.item(-1), self.y.item(0), self.y.item(-1)
        object.__setattr__(self, "ends", _FOUR.pack(*ends))

    def solve(self, equation: Equation, c: Array, y: Array) -> Array:
        """Find the arguments at which the equation has the values `y`.

        Newton's method from the tabulated stretch; a step that leaves the
        bracket is replaced by halving it, so that the bracket always closes.

        Parameters
        ----------
        equation : Equation
        c : array, shape (k,)
            Coefficients.
        y : array, any shape
            Values of the explicit direction.

        Returns
        -------
        array
            Arguments, of the shape of `y`; NaN where the stretch does not reach.
        """
        flat = np.atleast_1d(y).ravel()
        found = np.full(flat.shape, np.nan)
        rising = self.y[-1] > self.y[0]
        table_x, table_y = (self.x, self.y) if rising else (self.x[::-1], self.y[::-1])
        todo = np.flatnonzero((flat >= table_y[0]) & (flat <= table_y[-1]))
        target = flat[todo]
        at = np.clip(np.searchsorted(table_y, target, side="right") - 1, 0, len(table_y) - 2)
        # end_a is the end with the smaller value, whichever side it lies on.
        end_a, end_b = table_x[at], table_x[at + 1]
        cell = np.abs(end_b - end_a)
        x = end_a + (end_b - end_a) * (target - table_y[at]) / (table_y[at + 1] - table_y[at])
        for _ in range(_MAX_STEPS):
            if not todo.size:
                break
            miss = equation.value(x, c) - target
            end_a, end_b = np.where(miss <= 0.0, x, end_a), np.where(miss >= 0.0, x, end_b)
            with np.errstate(divide="ignore", invalid="ignore"):
                new = x - miss / equation.slope(x, c)
            low, high = np.minimum(end_a, end_b), np.maximum(end_a, end_b)
            newton = (new >= low) & (new <= high)
            new = np.where(newton, new, 0.5 * (low + high))
            # The error after a Newton step is about the square of the step (in
            # cells), so a step this small was the last that counts.
            settled = newton & (np.abs(new - x) <= 1e-8 * cell)
            settled |= high - low <= 4e-16 * np.abs(new)
            found[todo[settled]] = new[settled]
            going = ~settled
            todo, target, cell = todo[going], target[going], cell[going]
            x, end_a, end_b = new[going], end_a[going], end_b[going]
        # What still moves after so many steps flickers in its last digits.
        found[todo] = x
        return found.reshape(np.shape(y))


def find_branch(equation: Equation, c: Array, t_min_c: float, t_max_c: float) -> Branch:
    """Find the monotone stretch of an equation that covers a range of temperature.

    Parameters
    ----------
    equation : Equation
    c : array, shape (k,)
        Coefficients.
    t_min_c, t_max_c : float
        Ends of the range in °C.

    Returns
    -------
    Branch
        It goes on beyond the range for as long as the equation stays monotone.

    Raises
    ------
    NotMonotoneError
        The equation turns within the range, or does not reach all of it.
    """
    inv_min, inv_max = 1.0 / (t_max_c + ZERO_C_K), 1.0 / (t_min_c + ZERO_C_K)
    by_resistance = equation.explicit == "temperature"
    grid = _resistance_grid() if by_resistance else _temperature_grid(inv_min, inv_max)
    turns = equation.turning_points(c, float(grid[0]), float(grid[-1]))
    if turns is not None and turns.size:
        # np.union1d would import numpy.ma, which takes longer than all the rest here.
        merged = np.sort(np.concatenate((grid, turns)))
        grid = merged[np.append(True, np.diff(merged) > 0.0)]
    with np.errstate(all="ignore"):
        y = equation.value(grid, c)
        slope = np.broadcast_to(equation.slope(grid, c), grid.shape)
    x_inv = y if by_resistance else grid
    usable = np.isfinite(y) & (x_inv > 0.0)
    best = None
    for start, stop in _runs(
        y, slope, usable, turns, grid, sign=int(equation.ntc) - int(equation.ptc)
    ):
        ends = x_inv[start], x_inv[stop]
        low, high = min(ends), max(ends)
        covered = min(high, inv_max) - max(low, inv_min)
        if best is None or covered > best[0]:
            best = covered, low, high, start, stop
    name = f"the {equation.label} curve"
    fall = "fall" if equation.ntc else "rise" if equation.ptc else "change"
    if best is None or best[0] <= 0.0:
        raise NotMonotoneError(
            f"{name} with coefficients {_listed(c)} does not {fall} steadily anywhere "
            f"between {t_min_c:.6g} and {t_max_c:.6g} °C; check the signs and units of the "
            "coefficients, and that the equation suits the sensor",
            float("nan"),
        )
    _, low, high, start, stop = best
    slack = 1e-13
    for missing, end in (
        (inv_min < low * (1.0 - slack), low),
        (inv_max > high * (1.0 + slack), high),
    ):
        if missing:
            turn_c = 1.0 / end - ZERO_C_K
            raise NotMonotoneError(
                f"{name} turns at {turn_c:.6g} °C, inside its range of {t_min_c:.6g} to "
                f"{t_max_c:.6g} °C; state a narrower range or use another equation",
                turn_c,
            )
    inside = (x_inv >= inv_min) & (x_inv <= inv_max)
    inside[:start] = inside[stop + 1 :] = False
    b_k = 1.0 / slope[inside] if by_resistance else slope[inside]
    alpha = np.abs(b_k) * x_inv[inside] ** 2
    if alpha.size and alpha.min() < _SMALLEST_ALPHA:
        flat_c = 1.0 / float(x_inv[inside][alpha.argmin()]) - ZERO_C_K
        raise NotMonotoneError(
            f"{name} is flat near {flat_c:.6g} °C, where a resistance says nothing of the "
            "temperature; state a narrower range or use another equation",
            flat_c,
        )
    kept = np.arange(start, stop + 1, max(1, (stop - start) // _KEPT))
    kept[-1] = stop
    return Branch(grid[kept], y[kept])


def _resistance_grid() -> Array:
    return np.linspace(*_LN_R_LIMITS, 2 * _GRID)


def _temperature_grid(inv_min: float, inv_max: float) -> Array:
    """Cover the range densely and what lies beyond it loosely, in 1/T."""
    low, high = 1.0 / _T_K_LIMITS[1], 1.0 / _T_K_LIMITS[0]
    inside = np.linspace(inv_min, inv_max, _GRID)
    pieces = [inside]
    if low < inv_min:
        pieces.insert(0, np.geomspace(low, inv_min, _GRID // 4)[:-1])
    if high > inv_max:
        pieces.append(np.geomspace(inv_max, high, _GRID // 4)[1:])
    return np.concatenate(pieces)


def _runs(
    y: Array,
    slope: Array,
    usable: npt.NDArray[np.bool_],
    turns: Array | None,
    grid: Array,
    *,
    sign: int,
) -> list[tuple[int, int]]:
    """First and last index of each stretch of the grid on which y is monotone.

    With a `sign` of 1, only stretches on which resistance falls with temperature,
    that is, ln R rises with 1/T, whichever of them is the argument; with −1, only
    those on which it rises.
    """
    direction = np.sign(np.diff(y))
    at_turn = np.isin(grid, turns) if turns is not None else np.zeros(grid.shape, dtype=bool)
    agrees = np.ones(direction.shape, dtype=bool)
    if turns is None:
        # Nobody knows where the equation turns: between two samples it does if
        # the slope at either has another sign than the step.
        agrees = (slope[:-1] * direction >= 0.0) & (slope[1:] * direction >= 0.0)
    good = usable[:-1] & usable[1:] & (direction != 0.0) & agrees
    if sign:
        good &= direction == sign
    joined = good[1:] & good[:-1] & (direction[1:] == direction[:-1]) & ~at_turn[1:-1]
    starts = np.flatnonzero(good & ~np.append(False, joined))
    stops = np.flatnonzero(good & ~np.append(joined, False)) + 1
    return list(zip(starts.tolist(), stops.tolist(), strict=True))


def _listed(c: Array) -> str:
    return "(" + ", ".join(f"{value:.6g}" for value in c) + ")"
