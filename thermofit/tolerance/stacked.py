"""Many curves at once: polynomials of one degree in the plane, a row for each.

What `thermofit.equations.branch` does for one curve and many readings is done here for many
curves at the same few temperatures.  Nothing is taken on trust: where a Newton step has not
settled on the branch of its curve, `Stack` says so, and that curve is left to the plain way.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.equations.base import Equation

__all__ = ["MOST_AWAY", "MOST_LN_R", "Stack", "polynomials", "weights"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]

# Nodes through which ln R is laid over the temperatures: it is then known to some 1e-7.
_NODES = 12
_MOST_STEPS = 60
_MOST_CORRECTIONS = 4

# A Newton step as small as this was the last that counts: what it leaves is its square.
_SETTLED = 1e-7
_SETTLED_ONCE = 1e-11
_A_FEW = 8

MOST_AWAY = 7.0
"""For deviations of ln R below it, R·(1 + (exp(…) − 1)) is good to thirteen digits."""

MOST_LN_R = 690.0
"""Beyond it, above or below nought, resistances begin to be infinite or to lose digits."""


@dataclass(frozen=True, eq=False)
class Stack:
    """Curves whose explicit direction is Σ p_k·(x − shift)^k, all of one degree.

    Parameters
    ----------
    by_resistance : bool
        Whether they give 1/T of ln R, and not ln R of 1/T.
    shift : array, shape (n, 1)
    rising : array, shape (degree + 1, n, 1)
        Coefficients p_0, p_1 …
    reach : array, shape (4, n, 1)
        Lowest and highest ln R, lowest and highest 1/T, between which each curve has a value.
    """

    by_resistance: bool
    shift: Array
    rising: Array
    reach: Array

    @property
    def straight(self) -> bool:
        """Whether they are straight lines in the plane."""
        return len(self.rising) == 2

    def rows(self, chosen: slice | Truth | npt.NDArray[np.intp]) -> Stack:
        """Some of the curves."""
        return Stack(
            self.by_resistance, self.shift[chosen], self.rising[:, chosen], self.reach[:, chosen]
        )

    def value(self, x: Array) -> Array:
        """Explicit direction at x less the shift, shape (n, m)."""
        return _horner(self.rising, x)

    def slope(self, x: Array) -> Array:
        """Its derivative, shape (n, m) or (n, 1)."""
        powers = np.arange(1, len(self.rising))[:, np.newaxis, np.newaxis]
        return _horner(self.rising[1:] * powers, x)

    def line(self, inv_t: float) -> tuple[Array, Array]:
        """Ln R at a temperature and the rise of ln R with 1/T, shapes (n,), of two terms."""
        at, rise = self.rising[:, :, 0]
        shift = self.shift[:, 0]
        if self.by_resistance:
            return shift + (inv_t - at) / rise, 1.0 / rise
        return at + rise * (inv_t - shift), rise

    def ln_r_once(self, inv_t: Array) -> Array:
        """Ln R of each curve at a temperature of its own, shapes (n,)."""
        column = inv_t[:, np.newaxis]
        if not self.by_resistance:
            return self.value(column - self.shift)[:, 0]
        low, high = self.reach[0], self.reach[1]
        return self._found(column, 0.5 * (low + high), _SETTLED_ONCE)[:, 0]

    def ln_r_near(self, inv_t: Array) -> Array:
        """Ln R near enough for `corrected`, shape (n, k), through which `weights` lay a curve."""
        found: list[Array] = []
        for y in _nodes(inv_t):
            column = np.full(self.shift.shape, y)
            start = found[-1] if found else 0.5 * (self.reach[0] + self.reach[1])
            found.append(self._found(column, start, _SETTLED))
        return np.concatenate(found, axis=1)

    def _found(self, y: Array, x: Array, enough: float) -> Array:
        """Newton's method, in which a step that leaves the bracket is replaced by halving it."""
        low, high = self.reach[0], self.reach[1]
        # At an end itself the slope may be nought, where the curve turns.
        rising = self.value(high - self.shift) > self.value(low - self.shift)
        for _ in range(_MOST_STEPS):
            miss = self.value(x - self.shift) - y
            above = (miss > 0.0) == rising
            low, high = np.where(above, low, x), np.where(above, x, high)
            with np.errstate(divide="ignore", invalid="ignore"):
                new = x - miss / self.slope(x - self.shift)
            inside = (new >= low) & (new <= high)
            new = np.where(inside, new, 0.5 * (low + high))
            settled = inside & (np.abs(new - x) <= enough)
            x = new
            if settled.all():
                break
        return x

    def corrected(self, y: Array, x: Array, work: Array) -> tuple[Array, Truth]:
        """Correct values of ln R that are near, and say whose rows have settled.

        Parameters
        ----------
        y : array, shape (m,)
            1/T.
        x : array, shape (n, m)
            Ln R, nearly; overwritten.
        work : array, shape (n, m)
            Overwritten.

        Returns
        -------
        ln_r : array, shape (n, m)
        settled : array of bool, shape (n,)
        """
        low, high = self.reach[0], self.reach[1]
        for _ in range(_MOST_CORRECTIONS):
            step, slope = _with_slope(self.rising, np.subtract(x, self.shift, out=work))
            step -= y
            step /= slope
            x -= step
            # The ends of a whole block are found more quickly than those of its rows.
            if step.max() <= _SETTLED and step.min() >= -_SETTLED:
                break
        if x.min() >= low.max() and x.max() <= high.min():
            return x, np.abs(step, out=step).max(axis=1) <= _SETTLED
        inside = (x.min(axis=1) >= low[:, 0]) & (x.max(axis=1) <= high[:, 0])
        return x, inside & (np.abs(step).max(axis=1) <= _SETTLED)

    def moved(
        self, x: Array, rise: Array, taylor: Sequence[Array], out: Array
    ) -> tuple[Array, Truth]:
        """How far 1/T moves where ln R rises, for curves that give ln R.

        Parameters
        ----------
        x : array, shape (n, m)
            1/T less the shift.
        rise : array, shape (n, m)
            Of ln R; NaN where there is no answer.
        taylor : sequence of array
            Coefficients of the first and the higher powers of the move; see `taylor`.
        out : array, shape (n, m)
            Where the move goes.

        Returns
        -------
        move : array, shape (n, m)
        settled : array of bool, shape (n,)
        """
        first, *higher = taylor
        move = np.divide(rise, first, out=out)
        if not higher:
            return move, np.ones(len(rise), dtype=bool)
        # The series of the reversed function, as far as its third term, and Newton steps.
        bend = higher[0] * move
        bend /= first
        bend *= 2.0 * bend - 1.0
        if len(higher) > 1:
            third = higher[1] * move
            third *= move
            third /= first
            bend -= third
        bend += 1.0
        move *= bend
        for _ in range(_MOST_CORRECTIONS):
            step, slope = _with_slope([-rise, *taylor], move)
            step /= slope
            move -= step
            step /= x + self.shift
            # NaN, which no step mends, compares false.
            settled = np.asarray(~(np.abs(step, out=step) > _SETTLED).any(axis=1))
            if settled.all():
                break
        inv_t = x + self.shift
        inv_t += move
        beyond = (inv_t < self.reach[2]) | (inv_t > self.reach[3])
        return move, settled & ~beyond.any(axis=1)

    def taylor(self, x: Array) -> list[Array]:
        """Value and further coefficients of each polynomial around x, by repeated division."""
        work = list(self.rising)
        top = len(work) - 1
        for order in range(top):
            for k in range(top - 1, order - 1, -1):
                lower = x * work[k + 1]
                lower += work[k]
                work[k] = lower
        return work


def weights(inv_t: Array) -> Array:
    """What takes ln R at the nodes to ln R at the temperatures, shape (k, m)."""
    nodes = _nodes(inv_t)
    if nodes.size < _NODES:
        same: Array = np.equal.outer(nodes, inv_t).astype(np.float64)
        return same
    low, high = inv_t.min(), inv_t.max()
    z, at = ((2.0 * points - low - high) / (high - low) for points in (nodes, inv_t))
    vander = np.polynomial.chebyshev.chebvander
    back = vander(z, _NODES - 1) * (2.0 / _NODES)
    back[:, 0] *= 0.5
    result: Array = back @ vander(at, _NODES - 1).T
    return result


def polynomials(equation: Equation, c: Array) -> tuple[float, Array] | None:
    """Give the polynomials of many curves of one equation.

    Parameters
    ----------
    equation : Equation
    c : array, shape (n, k)
        Coefficients, a row for each curve.

    Returns
    -------
    (float, array of shape (degree + 1, n)) or None
        As `Equation.plain_polynomial`; None where the equation is none, or of changing degree.
    """
    rows = [equation.plain_polynomial(c[0])]
    linear = equation.linear and len(c) > _A_FEW
    if linear:
        # What is linear in its coefficients is known from k + 1 sets of them.
        sets = np.vstack([np.zeros(c.shape[1]), np.eye(c.shape[1])])
        rows += [equation.plain_polynomial(equation.from_fitted(row)) for row in sets]
    else:
        rows += [equation.plain_polynomial(row) for row in c[1:]]
    known = [row for row in rows if row is not None]
    if len(known) < len(rows) or len({(shift, len(rising)) for shift, rising in known}) != 1:
        return None
    shift, rising = known[0][0], np.array([rising for _, rising in known])
    if len(rising[0]) < 2:
        return None
    if not linear:
        return shift, rising.T
    base, units = rising[1], rising[2:] - rising[1]
    stacked: Array = base[:, np.newaxis] + units.T @ _fitted(equation, c).T
    if not np.allclose(stacked[:, 0], rising[0], rtol=1e-12, atol=0.0):
        return None
    return shift, stacked


def _fitted(equation: Equation, c: Array) -> Array:
    """Coefficients on the scale on which they are fitted, a row for each curve."""
    fitted = c.copy()
    for place, entry in enumerate(equation.coefficients):
        if entry.logarithmic:
            np.log(c[:, place], out=fitted[:, place])
    return fitted


def _nodes(inv_t: Array) -> Array:
    """Where ln R is solved for first: the temperatures themselves, if they are few."""
    distinct = np.unique(inv_t)
    if distinct.size <= _NODES:
        return distinct
    z = np.cos(np.pi * (np.arange(_NODES) + 0.5) / _NODES)
    low, high = distinct[0], distinct[-1]
    nodes: Array = 0.5 * (low + high) + 0.5 * (high - low) * z
    return nodes


def _horner(rising: Array, x: Array) -> Array:
    result: Array = rising[-1]
    for coefficient in rising[-2::-1]:
        result = result * x
        result += coefficient
    return result


def _with_slope(rising: Sequence[Array] | Array, x: Array) -> tuple[Array, Array]:
    """Polynomials of two terms and more at `x`, and their slopes."""
    value = x * rising[-1]
    value += rising[-2]
    slope = rising[-1]
    for coefficient in rising[-3::-1] if len(rising) > 2 else ():
        slope = slope * x
        slope += value
        value *= x
        value += coefficient
    return value, slope
