"""Polynomial in the inverse temperature that gives the log resistance."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from thermofit.equations.base import (
    Array,
    Coefficient,
    Equation,
    Explicit,
    centred_powers,
    derivative,
    polynomial,
    powers,
    real_roots,
)
from thermofit.equations.log_polynomial import check_polynomial, middle_resistance

__all__ = ["InversePolynomial"]

_NAME = re.compile(r"inverse-polynomial-([2-5])")


@dataclass(frozen=True)
class InversePolynomial(Equation):
    """ln(R/R_ref) = Σ b_k·T^−k with two to five terms, T in kelvin.

    The form in which makers of thermistors print resistance against
    temperature; see the source of the family ``ntc-10k-3977``.

    Parameters
    ----------
    terms : int
        Number of coefficients, 2 to 5.
    r_ref_ohm : float
        Reference resistance.
    """

    terms: int = 4
    r_ref_ohm: float = 1.0

    label: ClassVar[str] = "Polynomial in 1/T"
    formula: ClassVar[str] = "ln(R/R_ref) = Σ b_k·T^−k"
    explicit: ClassVar[Explicit] = "resistance"
    linear: ClassVar[bool] = True

    def __post_init__(self) -> None:
        check_polynomial(self.terms, self.r_ref_ohm)

    @property
    def name(self) -> str:
        """Name of the equation, with the number of terms."""
        return f"inverse-polynomial-{self.terms}"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """b0, b1 …, each in the power of kelvin that goes with it."""
        units = ["", "K", "K²", "K³", "K⁴"]
        return tuple(Coefficient(f"b{k}", units[k]) for k in range(self.terms))

    @property
    def settings(self) -> Mapping[str, float]:
        """The reference resistance."""
        return {"r_ref_ohm": self.r_ref_ohm}

    @classmethod
    def from_name(cls, name: str, settings: Mapping[str, float]) -> InversePolynomial | None:
        """Read the number of terms from the name."""
        match = _NAME.fullmatch(name)
        return cls(int(match[1]), settings.get("r_ref_ohm", 1.0)) if match else None

    def for_points(self, ln_r: Array) -> InversePolynomial:
        """Put the reference resistance in the middle of the points."""
        return type(self)(self.terms, middle_resistance(ln_r))

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

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """Real roots of the slope."""
        # In units of 1/(1000 K), so that the coefficients are of one size.
        scaled = derivative(c) * 1e-3 ** np.arange(self.terms - 1)
        return real_roots(scaled, low * 1e3, high * 1e3) * 1e-3

    def scaled_basis(self, x: Array) -> tuple[Array, Array]:
        """Powers of the centred inverse temperature."""
        return centred_powers(x, self.terms)
