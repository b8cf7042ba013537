"""Quick evaluation of curves that are polynomials in the plane of 1/T and ln R.

The same polynomial serves both directions.  The one that it gives is evaluated by Horner's
rule; the other by a polynomial that comes near, followed by Newton steps.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.equations.branch import Branch
from thermofit.units import ZERO_C_K

__all__ = ["Evaluator", "Wanted", "evaluator", "horner", "says_its_polynomial"]

_SEED_DEGREES = range(4, 13)
_SAMPLES = 64

# What the last Newton step may leave, relative to the argument: some units in the last place.
_SETTLED = 8e-16

Wanted = Literal["temperature", "resistance"]


@dataclass(frozen=True)
class Evaluator:
    """One direction of a curve, for arguments within its valid range.

    Parameters
    ----------
    wanted : {"temperature", "resistance"}
        Temperature in °C of resistances in ohms, or the other way.
    low, high : float
        Arguments between which it may be used, in °C or Ω.
    shift : float
        What is taken from the polynomial's argument.
    falling : tuple of float
        Its coefficients, the highest power first.
    seed : tuple of float
        Coefficients of the polynomial that comes near the other direction; empty where the
        polynomial gives the wanted direction itself.
    centre, scale : float
        Argument of the seed: (y − centre)·scale.
    steps : int
        Newton steps from the seed.
    """

    wanted: Wanted
    low: float
    high: float
    shift: float
    falling: tuple[float, ...]
    seed: tuple[float, ...] = ()
    centre: float = 0.0
    scale: float = 1.0
    steps: int = 0

    def scalar(self, value: float) -> float:
        """Evaluate one number between `low` and `high`."""
        to_temperature = self.wanted == "temperature"
        y = math.log(value) if to_temperature else 1.0 / (value + ZERO_C_K)
        if not self.seed:
            x = y - self.shift
            found = 0.0
            for coefficient in self.falling:
                found = found * x + coefficient
        else:
            z = (y - self.centre) * self.scale
            x = 0.0
            for coefficient in self.seed:
                x = x * z + coefficient
            for _ in range(self.steps):
                at = slope = 0.0
                for coefficient in self.falling:
                    slope = slope * x + at
                    at = at * x + coefficient
                x -= (at - y) / slope
            found = x + self.shift
        return 1.0 / found - ZERO_C_K if to_temperature else math.exp(found)

    @property
    def work_rows(self) -> int:
        """How many work arrays `block` needs."""
        return 4 if self.seed else 1

    def block(self, values: Array, out: Array, work: Array) -> None:
        """Evaluate numbers between `low` and `high`.

        Parameters
        ----------
        values, out : array, shape (n,)
            They may be the same.
        work : array, shape (work_rows, n or more)
            Overwritten.
        """
        y, *others = (row[: len(values)] for row in work)
        # What takes no Newton steps is worked out in its place.
        x, at, slope = others if self.seed else (out, y, y)
        self.inner(values, y, x, at, slope)
        if self.wanted == "temperature":
            np.divide(1.0, x, out=out)
            out -= ZERO_C_K
        else:
            np.exp(x, out=out)

    def inner(self, values: Array, y: Array, x: Array, at: Array, slope: Array) -> None:
        """Evaluate in the plane: fill `y` with ln R and `x` with 1/T, or the other way.

        Parameters
        ----------
        values : array, shape (n,)
            As for `block`.
        y, x, at, slope : array, shape (n,)
            Overwritten; `y` with the argument and `x` with what is wanted.  `at` may be `y`, where
            the argument is not asked for and there are no Newton steps.
        """
        if self.wanted == "temperature":
            np.log(values, out=y)
        else:
            np.add(values, ZERO_C_K, out=y)
            np.divide(1.0, y, out=y)
        if not self.seed:
            horner(self.falling, np.subtract(y, self.shift, out=at) if self.shift else y, x)
            return
        np.subtract(y, self.centre, out=at)
        at *= self.scale
        horner(self.seed, at, x)
        for _ in range(self.steps):
            horner(self.falling, x, at)
            horner(self.falling_slope, x, slope)
            at -= y
            at /= slope
            x -= at
        if self.shift:
            x += self.shift

    def _solved(self, y: Array) -> Array:
        """Arguments of the polynomial at which it has the values `y`."""
        x: Array = np.asarray(np.polyval(self.seed, (y - self.centre) * self.scale), dtype=float)
        for _ in range(self.steps):
            x = x - (np.polyval(self.falling, x) - y) / np.polyval(self.falling_slope, x)
        return x + self.shift

    @cached_property
    def falling_slope(self) -> tuple[float, ...]:
        """Coefficients of the derivative of the polynomial, the highest power first."""
        top = len(self.falling) - 1
        return tuple(c * (top - place) for place, c in enumerate(self.falling[:-1]))


def evaluator(
    equation: Equation, c: Array, branch: Branch, wanted: Wanted, low: float, high: float
) -> Evaluator | None:
    """Make the evaluator of one direction of a curve.

    Parameters
    ----------
    equation : Equation
    c : array, shape (k,)
    branch : Branch
        The monotone stretch that the curve uses.
    wanted : {"temperature", "resistance"}
    low, high : float
        Ends of the valid range, in °C or Ω as the argument is.

    Returns
    -------
    Evaluator or None
        None where the equation is no polynomial, or where the quick way would not be exact
        to the last digits.
    """
    plain = equation.plain_polynomial(c)
    if plain is None or len(plain[1]) < 2 or not says_its_polynomial(type(equation)):
        return None
    shift, rising = plain
    falling = tuple(float(value) for value in rising[::-1])
    if equation.explicit == wanted:
        return Evaluator(wanted, low, high, shift, falling)
    ends = np.array([low, high])
    inner = np.log(ends) if wanted == "temperature" else 1.0 / (ends + ZERO_C_K)
    centre, half = 0.5 * float(inner.sum()), 0.5 * float(abs(inner[1] - inner[0]))
    z = np.cos(np.pi * (np.arange(_SAMPLES) + 0.5) / _SAMPLES)
    exact = branch.solve(equation, c, centre + half * z)
    check = centre + half * np.linspace(-1.0, 1.0, 101)
    wanted_x = branch.solve(equation, c, check)
    if not (np.isfinite(exact).all() and np.isfinite(wanted_x).all()):
        return None
    # One Newton step from a seed near enough is the quickest; two help where none is.
    for steps in (1, 2):
        for degree in _SEED_DEGREES:
            near = np.polynomial.chebyshev.cheb2poly(
                np.polynomial.chebyshev.chebfit(z, exact - shift, degree)
            )
            seed = tuple(float(value) for value in near[::-1])
            found = Evaluator(wanted, low, high, shift, falling, seed, centre, 1.0 / half, steps)
            if (np.abs(found._solved(check) - wanted_x) <= _SETTLED * np.abs(wanted_x)).all():
                return found
    return None


def says_its_polynomial(kind: type[Equation]) -> bool:
    """Whether an equation is what its `plain_polynomial` says.

    One that has a value of its own, but the polynomial of what it derives from, is not.
    """
    order = kind.__mro__
    value = next(place for place, base in enumerate(order) if "value" in vars(base))
    plain = next(place for place, base in enumerate(order) if "plain_polynomial" in vars(base))
    return value >= plain


def horner(falling: tuple[float, ...], x: Array, out: Array) -> None:
    """Fill `out` with a polynomial at `x`, its highest coefficient first."""
    if len(falling) == 1:
        out[...] = falling[0]
        return
    np.multiply(x, falling[0], out=out)
    for coefficient in falling[1:-1]:
        if coefficient:
            out += coefficient
        out *= x
    out += falling[-1]
