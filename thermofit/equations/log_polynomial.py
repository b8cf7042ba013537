"""Polynomial in the log resistance that gives the inverse temperature."""

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
from thermofit.errors import InputError

__all__ = ["LogPolynomial", "check_polynomial"]

_NAME = re.compile(r"log-polynomial-([2-5])")


@dataclass(frozen=True)
class LogPolynomial(Equation):
    """1/T = Σ a_k·(ln(R/R_ref))^k with two to five terms.

    With three terms and more it follows real materials better than
    Steinhart–Hart, whose square term is missing; with four it holds published
    tables to some hundredths of a kelvin over 165 K.

    Parameters
    ----------
    terms : int
        Number of coefficients, 2 to 5.
    r_ref_ohm : float
        Reference resistance.  A fitted curve does not depend on it, its
        coefficients do.
    """

    terms: int = 4
    r_ref_ohm: float = 1.0

    label: ClassVar[str] = "Polynomial in ln R"
    formula: ClassVar[str] = "1/T = Σ a_k·(ln(R/R_ref))^k"
    explicit: ClassVar[Explicit] = "temperature"
    linear: ClassVar[bool] = True

    def __post_init__(self) -> None:
        check_polynomial(self.terms, self.r_ref_ohm)

    @property
    def name(self) -> str:
        """Name of the equation, with the number of terms."""
        return f"log-polynomial-{self.terms}"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """a0, a1 …, each in 1/K."""
        return tuple(Coefficient(f"a{k}", "1/K") for k in range(self.terms))

    @property
    def settings(self) -> Mapping[str, float]:
        """The reference resistance."""
        return {"r_ref_ohm": self.r_ref_ohm}

    @classmethod
    def from_name(cls, name: str, settings: Mapping[str, float]) -> LogPolynomial | None:
        """Read the number of terms from the name."""
        match = _NAME.fullmatch(name)
        return cls(int(match[1]), settings.get("r_ref_ohm", 1.0)) if match else None

    def for_points(self, ln_r: Array) -> LogPolynomial:
        """Put the reference resistance in the middle of the points."""
        return type(self)(self.terms, middle_resistance(ln_r))

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

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """Real roots of the slope."""
        shift = np.log(self.r_ref_ohm)
        result: Array = real_roots(derivative(c), low - shift, high - shift) + shift
        return result

    def scaled_basis(self, x: Array) -> tuple[Array, Array]:
        """Powers of the centred log resistance."""
        return centred_powers(x - np.log(self.r_ref_ohm), self.terms)


def check_polynomial(terms: int, r_ref_ohm: float) -> None:
    """Refuse settings with which no polynomial can be made."""
    if terms not in range(2, 6):
        raise InputError(f"a polynomial has 2 to 5 terms, not {terms!r}")
    if not (np.isfinite(r_ref_ohm) and r_ref_ohm > 0.0):
        raise InputError(f"the reference resistance must be positive, not r_ref_ohm={r_ref_ohm!r}")


def middle_resistance(ln_r: Array) -> float:
    """Give the middle of the log range, to three digits so that it can be copied by hand."""
    return float(f"{np.exp(0.5 * (ln_r.min() + ln_r.max())):.3g}")
