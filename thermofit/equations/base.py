"""What every R–T equation is: a line in the plane of 1/T and ln R.

An equation is written in one direction only, its *explicit* one: either the
inverse temperature 1/T (in 1/K) as a function of ln R (R in Ω), or ln R as a
function of 1/T.  Everything else follows from that function, its slope and its
gradient: `thermofit.equations.branch` solves the other direction, a `Curve`
propagates uncertainties, and the estimators fit.

Both axes are kept absolute (1/T rather than u = 1/T − 1/T0): the difference is
a constant, and no digits are lost in taking it away and adding it again.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Literal

import numpy as np
import numpy.typing as npt

__all__ = ["Array", "Coefficient", "Equation", "Explicit"]

Array = npt.NDArray[np.float64]
Explicit = Literal["temperature", "resistance"]


@dataclass(frozen=True)
class Coefficient:
    """One coefficient of an equation.

    Parameters
    ----------
    name : str
        With its unit where that is simple, for example ``"b_k"``.
    unit : str
        Unit as printed; "" for a pure number.
    logarithmic : bool
        The coefficient is positive and is fitted as its logarithm, on which
        scale its interval is symmetric.
    """

    name: str
    unit: str = ""
    logarithmic: bool = False


class Equation(ABC):
    """An R–T equation: the form of a curve, without its numbers.

    Sub-classes are frozen dataclasses whose fields, if any, are the fixed
    settings of the equation (a reference resistance, say).  The coefficients are
    handed to each method as an array of shape (k,) in the order of
    `coefficients`.
    """

    label: ClassVar[str]
    """The name as printed in reports."""

    formula: ClassVar[str]
    """The equation as printed in reports; R in ohms, T in kelvin."""

    explicit: ClassVar[Explicit]
    """What the equation gives directly: temperature (as 1/T) or resistance (as ln R)."""

    linear: ClassVar[bool] = False
    """Whether `value` is linear in the fitted coefficients."""

    ntc: ClassVar[bool] = True
    """Whether the resistance must fall as the temperature rises."""

    ptc: ClassVar[bool] = False
    """Whether the resistance must rise as the temperature rises."""

    default_range_c: ClassVar[tuple[float, float]] = (-40.0, 125.0)
    """The range, in °C, that a curve claims if nobody states one."""

    @property
    @abstractmethod
    def name(self) -> str:
        """The name by which `thermofit.fit` and curve sets know the equation."""

    @property
    @abstractmethod
    def coefficients(self) -> tuple[Coefficient, ...]:
        """The coefficients, in the order in which arrays of them are laid out."""

    @property
    def settings(self) -> Mapping[str, float]:
        """Fixed numbers that belong to the equation, by name with unit."""
        return {}

    @property
    def limits_c(self) -> tuple[float, float] | None:
        """Temperatures in °C beyond which no range may go; None without such."""
        return None

    @classmethod
    def from_name(cls, name: str, settings: Mapping[str, float]) -> Equation | None:
        """Make the equation of this name; None if the name belongs to another class.

        Parameters
        ----------
        name : str
            For example ``"log-polynomial-4"``.
        settings : mapping of str to float
            Settings of the equation; others are ignored and missing ones take
            their default, so that ``from_name(e.name, e.settings) == e``.
        """
        del settings
        equation = cls()
        return equation if equation.name == name else None

    def for_points(self, ln_r: Array) -> Equation:
        """Give the equation the settings that suit these points, where it has such.

        Parameters
        ----------
        ln_r : array, shape (n,)
            ln of the measured resistances in ohms.
        """
        del ln_r
        return self

    @abstractmethod
    def value(self, x: Array, c: Array) -> Array:
        """Evaluate the explicit direction.

        Parameters
        ----------
        x : array, any shape
            ln R if the explicit direction is temperature, else 1/T in 1/K.
        c : array, shape (k,)
            Coefficients.

        Returns
        -------
        array
            1/T in 1/K, or ln R, of the shape of `x`.  NaN where the equation
            has no value.
        """

    @abstractmethod
    def slope(self, x: Array, c: Array) -> Array:
        """Derivative of `value` with respect to `x`; same shape."""

    @abstractmethod
    def gradient(self, x: Array, c: Array) -> Array:
        """Derivative of `value` with respect to each coefficient on its fitted scale.

        Returns
        -------
        array, shape (k,) + x.shape
            For a logarithmic coefficient, the derivative with respect to its
            logarithm.
        """

    def inverse(self, y: Array, c: Array) -> Array | None:
        """Evaluate the other direction, where it is closed-form; else None.

        Parameters
        ----------
        y : array, any shape
            ln R if `value` gives ln R, else 1/T.
        c : array, shape (k,)
            Coefficients.
        """
        del y, c
        return None

    def plain_polynomial(self, c: Array) -> tuple[float, Array] | None:
        """Give `value` as a plain polynomial Σ p_k·(x − shift)^k, if it is one.

        Curves of such equations are evaluated more quickly.

        Parameters
        ----------
        c : array, shape (k,)
            Coefficients.

        Returns
        -------
        (float, array) or None
            The shift, and p_0, p_1 …
        """
        del c
        return None

    def turning_points(self, c: Array, low: float, high: float) -> Array | None:
        """Give the arguments in (low, high) at which `value` turns.

        Returns
        -------
        array or None
            None where the equation does not know; the turning points are then
            looked for by sampling `slope`.
        """
        del c, low, high
        return None

    def scaled_basis(self, x: Array) -> tuple[Array, Array]:
        """Give a well-conditioned basis for a linear fit, and the way back.

        Parameters
        ----------
        x : array, shape (n,)
            Arguments of `value`.

        Returns
        -------
        basis : array, shape (n, k)
            Columns of order one that span the columns of `gradient`.
        back : array, shape (k, k)
            ``back @ s`` are the coefficients on their fitted scale that belong
            to coefficients `s` of the basis.
        """
        design = self.gradient(x, np.ones(len(self.coefficients))).T
        size = np.abs(design).max(axis=0)
        size[size == 0.0] = 1.0
        return design / size, np.diag(1.0 / size)

    def through(self, inv_t: Array, ln_r: Array) -> Array | None:
        """Coefficients of a curve near these points, from which a fit can start.

        Only equations that are not linear need it.  With as many points as
        coefficients the curve must pass through them, without an optimiser.

        Parameters
        ----------
        inv_t, ln_r : array, shape (n,), n ≥ k
            Points in order of falling inverse temperature.

        Returns
        -------
        array, shape (k,), or None
            None where no curve of this form goes near them.
        """
        del inv_t, ln_r
        return None

    def to_fitted(self, c: Array) -> Array:
        """Take coefficients to the scale on which they are fitted."""
        fitted = np.array(c, dtype=np.float64)
        mask = self._logarithmic()
        fitted[mask] = np.log(fitted[mask])
        return fitted

    def from_fitted(self, fitted: Array) -> Array:
        """Take coefficients back from the scale on which they are fitted."""
        c = np.array(fitted, dtype=np.float64)
        mask = self._logarithmic()
        c[mask] = np.exp(c[mask])
        return c

    def fitted_scale(self, c: Array) -> Array:
        """Derivative of each coefficient with respect to its fitted scale."""
        return np.where(self._logarithmic(), c, 1.0)

    def _logarithmic(self) -> npt.NDArray[np.bool_]:
        return np.array([entry.logarithmic for entry in self.coefficients], dtype=bool)


def polynomial(x: Array, c: Array) -> Array:
    """Sum of c_k·x^k by Horner's rule, of the shape of `x`."""
    highest, *others = c[::-1]
    result: Array = np.asarray(x * 0.0 + highest, dtype=np.float64)
    for coefficient in others:
        result = coefficient + result * x
    return result


def derivative(c: Array) -> Array:
    """Coefficients of the derivative of a polynomial."""
    result: Array = c[1:] * np.arange(1, len(c))
    return result


def powers(x: Array, terms: int) -> Array:
    """Powers 0 to terms − 1 of `x`, shape (terms,) + x.shape."""
    result = np.empty((terms, *np.shape(x)))
    result[0] = x * 0.0 + 1.0
    for power in range(1, terms):
        result[power] = result[power - 1] * x
    return result


def centred_powers(x: Array, terms: int) -> tuple[Array, Array]:
    """Powers of a centred, scaled argument, and the matrix back to plain powers.

    Parameters
    ----------
    x : array, shape (n,)
        Arguments.
    terms : int
        Number of powers, 0 to terms − 1.

    Returns
    -------
    basis : array, shape (n, terms)
        Powers of z = (x − centre)/half-width.
    back : array, shape (terms, terms)
        Takes coefficients of z^j to coefficients of x^k.
    """
    centre = 0.5 * (x.max() + x.min())
    half = 0.5 * (x.max() - x.min()) or 1.0
    basis = np.vander((x - centre) / half, terms, increasing=True)
    back = np.zeros((terms, terms))
    power = np.array([1.0])
    for j in range(terms):
        back[: j + 1, j] = power
        power = np.convolve(power, [-centre / half, 1.0 / half])
    return basis, back


def real_roots(ascending: npt.ArrayLike, low: float, high: float) -> Array:
    """Real roots of a polynomial strictly between two limits, ascending."""
    coefficients = np.asarray(ascending, dtype=np.float64)
    # Leading terms that vanish beside the others would overflow in the division
    # by the leading coefficient, and move no root between the limits.
    size = np.abs(coefficients) * max(abs(low), abs(high)) ** np.arange(coefficients.size)
    present = np.flatnonzero(size > 1e-18 * size.max(initial=0.0))
    coefficients = coefficients[: present[-1] + 1 if present.size else 0]
    if coefficients.size < 2:
        return np.empty(0)
    roots = np.roots(coefficients[::-1])
    # A double root comes out as a pair a rounding error off the real line.
    near_real = np.abs(roots.imag) <= 1e-7 * np.maximum(np.abs(roots), 1e-300)
    real = np.sort(roots.real[near_real])
    return real[(real > low) & (real < high)]
