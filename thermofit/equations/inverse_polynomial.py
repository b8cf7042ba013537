"""Polynomial in the inverse temperature that gives the log resistance."""

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

__all__ = ["InversePolynomial"]

_UNITS = ("", "K", "K²", "K³", "K⁴")


@dataclass(frozen=True)
class InversePolynomial(Polynomial):
    """ln(R/R_ref) = Σ b_k·T^−k with two to five terms, T in kelvin.

    The form in which makers of thermistors print resistance against
    temperature; see the source of the family ``ntc-10k-3977``.

    Parameters
    ----------
    terms, r_ref_ohm
        As for `thermofit.equations.polynomial.Polynomial`.
    """

    kind: ClassVar[str] = "inverse-polynomial"
    label: ClassVar[str] = "Polynomial in 1/T"
    formula: ClassVar[str] = "ln(R/R_ref) = Σ b_k·T^−k"
    explicit: ClassVar[Explicit] = "resistance"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """b0, b1 …, each in the power of kelvin that goes with it."""
        return tuple(Coefficient(f"b{k}", _UNITS[k]) for k in range(self.terms))

    def value(self, x: Array, c: Array) -> Array:
        """Ln R at 1/T."""
        result: Array = polynomial(x, c) + np.log(self.r_ref_ohm)
        return result

    def slope(self, x: Array, c: Array) -> Array:
        """D ln R / d(1/T)."""
        return polynomial(x, derivative(c))

    def gradient(self, x: Array, c: Array) -> Array:
        """Derivatives with respect to each b_k."""
        del c
        return powers(x, self.terms)

    def plain_polynomial(self, c: Array) -> tuple[float, Array]:
        """The equation itself, with ln R_ref in its first coefficient."""
        return 0.0, np.concatenate([[c[0] + np.log(self.r_ref_ohm)], c[1:]])

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """Real roots of the slope."""
        # In units of 1/(1000 K), so that the coefficients are of one size.
        scaled = derivative(c) * 1e-3 ** np.arange(self.terms - 1)
        result: Array = real_roots(scaled, low * 1e3, high * 1e3) * 1e-3
        return result

    def scaled_basis(self, x: Array) -> tuple[Array, Array]:
        """Powers of the centred inverse temperature."""
        return centred_powers(x, self.terms)
