"""Polynomial in the log resistance that gives the inverse temperature."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from thermofit.equations.base import (
    Array,
    Coefficient,
    Explicit,
    centred_powers,
    derivative,
    polynomial,
    powers,
    real_roots,
)
from thermofit.equations.polynomial import Polynomial

__all__ = ["LogPolynomial"]


@dataclass(frozen=True)
class LogPolynomial(Polynomial):
    """1/T = Σ a_k·(ln(R/R_ref))^k with two to five terms.

    With three terms and more it follows real materials better than
    Steinhart–Hart, whose square term is missing; with four it holds published
    tables to some hundredths of a kelvin over 165 K.

    Parameters
    ----------
    terms, r_ref_ohm
        As for `thermofit.equations.polynomial.Polynomial`.
    """

    kind: ClassVar[str] = "log-polynomial"
    label: ClassVar[str] = "Polynomial in ln R"
    formula: ClassVar[str] = "1/T = Σ a_k·(ln(R/R_ref))^k"
    explicit: ClassVar[Explicit] = "temperature"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """a0, a1 …, each in 1/K."""
        return tuple(Coefficient(f"a{k}", "1/K") for k in range(self.terms))

    def value(self, x: Array, c: Array) -> Array:
        """1/T at ln R."""
        return polynomial(x - np.log(self.r_ref_ohm), c)

    def slope(self, x: Array, c: Array) -> Array:
        """d(1/T) / d ln R."""
        return polynomial(x - np.log(self.r_ref_ohm), derivative(c))

    def gradient(self, x: Array, c: Array) -> Array:
        """Derivatives with respect to each a_k."""
        del c
        return powers(x - np.log(self.r_ref_ohm), self.terms)

    def plain_polynomial(self, c: Array) -> tuple[float, Array]:
        """The equation itself, around ln R_ref."""
        return float(np.log(self.r_ref_ohm)), c

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """Real roots of the slope."""
        shift = np.log(self.r_ref_ohm)
        result: Array = real_roots(derivative(c), low - shift, high - shift) + shift
        return result

    def scaled_basis(self, x: Array) -> tuple[Array, Array]:
        """Powers of the centred log resistance."""
        return centred_powers(x - np.log(self.r_ref_ohm), self.terms)
