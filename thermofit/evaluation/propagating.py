"""Quick propagation of uncertainty along curves that are polynomials in the plane.

To first order (JCGM 100, 5.1.2) the variance that the coefficients bring to the explicit value,
1/T or ln R, is a quadratic form of powers of its argument, and so a polynomial itself.  It is laid
around the middle of the valid range, with as many digits as that takes: around nought, the terms
of a usual covariance cancel to a millionth of their size.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.equations.base import Array, Equation
from thermofit.evaluation.evaluator import Evaluator, horner
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    from decimal import Decimal

__all__ = ["Propagator", "propagator"]

_DIGITS = 120

# What the plain way, whose terms cancel, may differ by where the two are compared.
_AGREED = 1e-6


@dataclass(frozen=True)
class Propagator:
    """Values and their variance, for arguments within the valid range of a curve.

    Parameters
    ----------
    evaluator : Evaluator
    variance : tuple of float
        Coefficients of the variance of the explicit value, the highest power first.
    middle, scale : float
        Argument of these: (x − middle)·scale.
    """

    evaluator: Evaluator
    variance: tuple[float, ...]
    middle: float
    scale: float

    def block(
        self,
        values: Array,
        u: Array | None,
        value: Array,
        u_value: Array,
        share: Array,
        work: Array,
    ) -> bool:
        """Evaluate up to `BLOCK` numbers between the limits of the evaluator.

        Parameters
        ----------
        values : array, shape (n,)
            °C or Ω.
        u : array, shape (n,), optional
            Their standard uncertainty, in K or Ω.
        value, u_value : array, shape (n,)
            Filled with Ω or °C, and with the standard uncertainty in Ω or K.
        share : array, shape (n,)
            Filled with the part of the variance that the curve brings, where `u` is given.
        work : array, shape (5, BLOCK)
            Overwritten.

        Returns
        -------
        bool
            False where the variance is lost in rounding somewhere; nothing is filled then.
        """
        to = self.evaluator
        y, x, at, slope, own = (row[: len(values)] for row in work)
        to.inner(values, y, x, at, slope)
        np.subtract(x if to.seed else y, to.shift, out=at)
        horner(to.falling_slope, at, slope)
        at -= self.middle - to.shift
        at *= self.scale
        horner(self.variance, at, share)
        if not share.min() > 0.0:
            return False
        if to.wanted == "temperature":
            np.divide(1.0, x, out=value)
            np.multiply(value, value, out=at)
            value -= ZERO_C_K
        else:
            np.exp(x, out=value)
            at[...] = value
        if to.seed:
            # What is wanted is the argument of the polynomial, and not its value.
            np.abs(slope, out=u_value)
            at /= u_value
        if u is None:
            np.sqrt(share, out=u_value)
        else:
            if to.wanted == "temperature":
                np.divide(u, values, out=own)
            else:
                np.multiply(y, y, out=own)
                own *= u
            if not to.seed:
                own *= slope
            own *= own
            own += share
            share /= own
            np.sqrt(own, out=u_value)
        u_value *= at
        return True


def propagator(
    equation: Equation, c: Array, covariance: Array, evaluator: Evaluator
) -> Propagator | None:
    """Make the propagator of one direction of a curve.

    Parameters
    ----------
    equation : Equation
    c : array, shape (k,)
        Coefficients.
    covariance : array, shape (k, k)
        Of the coefficients.
    evaluator : Evaluator

    Returns
    -------
    Propagator or None
        None where the gradient of the equation is not that of its polynomial, or where the
        plain way gives other numbers.
    """
    if not equation.linear:
        return None
    map_ = _map_to_polynomial(equation, len(evaluator.falling))
    if map_ is None:
        return None
    inner = _ends_of_the_argument(evaluator)
    middle, half = 0.5 * float(inner.sum()), 0.5 * float(abs(inner[1] - inner[0]))
    scale = equation.fitted_scale(c)
    variance = _around(map_, covariance, scale, evaluator.shift, middle, half)
    found = Propagator(evaluator, tuple(variance[::-1]), middle, 1.0 / half)
    z = np.linspace(-1.0, 1.0, 33)
    gradient = equation.gradient(middle + half * z, c)
    plain = np.einsum("ix,ij,jx->x", gradient, covariance / np.outer(scale, scale), gradient)
    agreed = np.abs(np.polyval(found.variance, z) - plain) <= _AGREED * np.abs(plain)
    return found if agreed.all() else None


def _ends_of_the_argument(evaluator: Evaluator) -> Array:
    """Argument of the polynomial at the ends of the valid range."""
    y, x, at, slope = np.empty((4, 2))
    evaluator.inner(np.array([evaluator.low, evaluator.high]), y, x, at, slope)
    return x if evaluator.seed else y


def _map_to_polynomial(equation: Equation, terms: int) -> Array | None:
    """How the plain polynomial follows from the fitted coefficients, shape (terms, k)."""
    size = len(equation.coefficients)
    plain = []
    for fitted in np.vstack([np.zeros(size), np.eye(size)]):
        found = equation.plain_polynomial(equation.from_fitted(fitted))
        if found is None or len(found[1]) != terms:
            return None
        plain.append(found[1])
    result = (np.array(plain[1:]) - plain[0]).T
    # Which coefficient is which power leaves no fractions but those of rounding.
    whole = np.rint(result)
    return np.where(np.abs(result - whole) < 1e-9, whole, result)


def _around(
    map_: Array, covariance: Array, scale: Array, shift: float, middle: float, half: float
) -> list[float]:
    """Coefficients of the variance as a polynomial of (x − middle)/half, rising."""
    from decimal import Decimal, localcontext

    with localcontext() as context:
        context.prec = _DIGITS

        def exact(array: npt.ArrayLike) -> list[list[Decimal]]:
            return [[Decimal(float(v)) for v in row] for row in np.atleast_2d(array)]

        (divisors,), weights, matrix = exact(scale), exact(map_), exact(covariance)
        size = range(len(divisors))
        terms = [Decimal(0)] * (2 * len(weights) - 1)
        for i, row in enumerate(weights):
            for j, column in enumerate(weights):
                for k in size:
                    if row[k]:
                        terms[i + j] += row[k] * sum(
                            matrix[k][m] / divisors[k] / divisors[m] * column[m]
                            for m in size if column[m]
                        )  # fmt: skip
        to, width = Decimal(middle) - Decimal(shift), Decimal(half)
        for start in range(len(terms) - 1):
            for place in range(len(terms) - 2, start - 1, -1):
                terms[place] += to * terms[place + 1]
        return [float(term * width**power) for power, term in enumerate(terms)]
