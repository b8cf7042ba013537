"""Equations that are polynomials in the plane, as a batch fits them."""

from __future__ import annotations

from dataclasses import dataclass
from math import comb

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.equations.bent_beta import BentBeta
from thermofit.equations.beta import Beta
from thermofit.equations.inverse_polynomial import InversePolynomial
from thermofit.equations.log_polynomial import LogPolynomial
from thermofit.equations.polynomial import Polynomial
from thermofit.equations.steinhart_hart import SteinhartHart
from thermofit.estimate.many.limits import MOST_AMPLIFIED, MOST_AMPLIFIED_CENTRED
from thermofit.units import T0_K

_OHM = (1e-12, 1e18)
_TENS = np.array([10.0**power for power in range(20)])

__all__ = ["Form", "form_of", "reference_ohm"]


@dataclass(frozen=True)
class Form:
    """A polynomial in the plane.

    Parameters
    ----------
    equation : Equation
        With the settings that all sensors share.
    own_reference : bool
        Whether each sensor gets a reference resistance of its own.
    """

    equation: Equation
    own_reference: bool

    @property
    def terms(self) -> int:
        """Number of coefficients."""
        return len(self.equation.coefficients)

    @property
    def of_resistance(self) -> bool:
        """Whether it gives 1/T of ln R, and not ln R of 1/T."""
        return self.equation.explicit == "temperature"

    @property
    def squareless(self) -> bool:
        """Whether its powers are 0, 1 and 3."""
        return isinstance(self.equation, SteinhartHart)

    @property
    def logarithmic(self) -> bool:
        """Whether the first coefficient is a resistance and fitted as its logarithm."""
        return self.equation.coefficients[0].logarithmic

    @property
    def powers(self) -> tuple[int, ...]:
        """Powers of the argument that go with the coefficients."""
        return (0, 1, 3) if self.squareless else tuple(range(self.terms))

    @property
    def most_amplified(self) -> float:
        """How far the variance of a coefficient's share of the curve may exceed a reading's."""
        centred = type(self.equation) not in (SteinhartHart, Beta)
        return MOST_AMPLIFIED_CENTRED if centred else MOST_AMPLIFIED

    @property
    def shift(self) -> float:
        """What the equation takes from 1/T before it forms powers."""
        return 1.0 / T0_K if self.logarithmic else 0.0

    def third(self, centre: Array, half: Array) -> tuple[Array, Array]:
        """Shares of z² and z³ in the third column of the basis, where x has no square.

        x³, less what the first two columns carry of it, is (3·centre + half·z)·half²·z²; the
        column is brought to order one.
        """
        size = 3.0 * np.abs(centre) + half
        return 3.0 * centre / size, half / size

    def value(self, z: Array, s: Array, centre: Array, half: Array, out: Array) -> Array:
        """Fill Σ s_j·basis_j, shape (m, b), and give it.

        The basis is 1, z, z² …, z = (x − centre)/half, or that of `third`.
        """
        if self.squareless:
            two, three = self.third(centre, half)
            np.multiply(z, three * s[2], out=out)
            out += two * s[2]
            out *= z
            out += s[1]
        else:
            out[...] = s[self.terms - 1]
            for j in range(self.terms - 2, 0, -1):
                out *= z
                out += s[j]
        out *= z
        out += s[0]
        return out

    def slope(self, z: Array, s: Array, centre: Array, half: Array, out: Array) -> None:
        """Fill the derivative of `value` by z, shape (m, b)."""
        if self.squareless:
            two, three = self.third(centre, half)
            np.multiply(z, 3.0 * three * s[2], out=out)
            out += 2.0 * two * s[2]
            out *= z
            out += s[1]
            return
        top = self.terms - 1
        out[...] = top * s[top]
        for j in range(top - 1, 0, -1):
            out *= z
            out += j * s[j]

    def back(self, centre: Array, half: Array) -> list[list[Array]]:
        """Matrix from coefficients of the basis to those of the powers, by its elements.

        It is upper triangular; what is below the diagonal stands for nought.
        """
        if self.squareless:
            size = (3.0 * np.abs(centre) + half) * half * half
            one, none = np.ones_like(half), np.zeros_like(half)
            return [
                [one, -centre / half, 2.0 * centre**3 / size],
                [none, 1.0 / half, -3.0 * centre * centre / size],
                [none, none, 1.0 / size],
            ]
        k = self.terms
        turned = -centre / half
        lift: list[Array] = [np.ones_like(half)]
        scale: list[Array] = [np.ones_like(half)]
        for _ in range(1, k):
            lift.append(lift[-1] * turned)
            scale.append(scale[-1] / half)
        return [[comb(j, i) * lift[max(j - i, 0)] * scale[i] for j in range(k)] for i in range(k)]

    def least_and_most_slope(self, s: Array, centre: Array, half: Array, z: float) -> Array:
        """Bounds of the derivative by the argument for |(x − centre)/half| ≤ z, shape (2, b)."""
        if self.squareless:
            two, three = self.third(centre, half)
            varying = np.abs(s[2]) * (2.0 * np.abs(two) * z + 3.0 * three * z * z)
        else:
            varying = np.zeros_like(half)
            for j in range(2, self.terms):
                varying += j * z ** (j - 1) * np.abs(s[j])
        return np.stack([(s[1] - varying) / half, (s[1] + varying) / half])


def form_of(equation: Equation, own_settings: bool) -> Form | None:
    """Give the form of an equation; None for one that is fitted sensor by sensor.

    Parameters
    ----------
    equation : Equation
    own_settings : bool
        Whether its settings follow from the points.
    """
    if type(equation) not in (Beta, BentBeta, SteinhartHart, LogPolynomial, InversePolynomial):
        return None
    return Form(equation, own_settings and isinstance(equation, Polynomial))


def reference_ohm(equation: Equation, low: Array, high: Array) -> Array:
    """Reference resistance of each sensor, as `Equation.for_points` gives it, shape (b,).

    Parameters
    ----------
    equation : Equation
    low, high : array, shape (b,)
        Their lowest and highest measured ln R.
    """
    middle = np.exp(0.5 * (low + high))
    usable = (middle > _OHM[0]) & (middle < _OHM[1])
    middle[~usable] = 1.0
    place = np.floor(np.log10(middle)).astype(np.intp) - 2
    # A product and a quotient of whole numbers are rounded once, as a text is that is read.
    up, down = _TENS[np.maximum(place, 0)], _TENS[np.maximum(-place, 0)]
    digits = middle * down / up
    rounded = np.rint(digits)
    result: Array = rounded * up / down
    # Where a digit hangs on the last bits, the text decides.
    near = np.abs(np.abs(digits - rounded) - 0.5) < 1e-9
    for sensor in np.flatnonzero(near & usable):
        ends = np.array([low[sensor], high[sensor]])
        result[sensor] = equation.for_points(ends).settings["r_ref_ohm"]
    return result
