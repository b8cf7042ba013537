"""The B equation with its bend: a polynomial in the plane, around 25 °C."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Self

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
from thermofit.units import T0_K

__all__ = ["BentBeta"]

_TERMS = range(3, 8)
_UNITS = ("Ω", "K", "K²", "K³", "K⁴", "K⁵", "K⁶")

# In units of 1/(1000 K) the inverse temperatures of a sensor are of order one.
_PER_KILOKELVIN = 1e-3


@dataclass(frozen=True)
class BentBeta(Equation):
    """ln(R/R25) = B·u + b2·u² + …, u = 1/T − 1/T0, T0 = 298.15 K, with three to seven terms.

    Its first two coefficients are R25 and the B value at 25 °C; the others say how the
    line bends in the plane of 1/T and ln R.  Since it is centred, it stays well
    conditioned with as many terms as a curve needs whose bend is known from other
    sensors.

    Parameters
    ----------
    terms : int
        Number of coefficients, R25 among them.

    Raises
    ------
    InputError
        Another number of terms.
    """

    terms: int = 4

    kind: ClassVar[str] = "bent-beta"
    label: ClassVar[str] = "B with its bend"
    formula: ClassVar[str] = "ln(R/R25) = B·u + Σ b_k·u^k,  u = 1/T − 1/298.15 K"
    explicit: ClassVar[Explicit] = "resistance"
    linear: ClassVar[bool] = True

    def __post_init__(self) -> None:
        if self.terms not in _TERMS:
            raise InputError(f"{self.kind} has 3 to 7 terms, not {self.terms!r}")

    @property
    def name(self) -> str:
        """Name of the equation, with the number of terms."""
        return f"{self.kind}-{self.terms}"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """R25 in ohms, fitted as its logarithm, B in kelvin, and the bend."""
        bend = (Coefficient(f"b{k}", _UNITS[k]) for k in range(2, self.terms))
        return Coefficient("r25_ohm", "Ω", logarithmic=True), Coefficient("b_k", "K"), *bend

    @classmethod
    def from_name(cls, name: str, settings: Mapping[str, float]) -> Self | None:
        """Read the number of terms from the name."""
        del settings
        return next((cls(terms) for terms in _TERMS if name == f"{cls.kind}-{terms}"), None)

    def value(self, x: Array, c: Array) -> Array:
        """Ln R at 1/T."""
        u = np.asarray(x) - 1.0 / T0_K
        result: Array = np.log(c[0]) + u * polynomial(u, c[1:])
        return result

    def slope(self, x: Array, c: Array) -> Array:
        """D ln R / d(1/T)."""
        return polynomial(np.asarray(x) - 1.0 / T0_K, derivative(_from_nought(c)))

    def gradient(self, x: Array, c: Array) -> Array:
        """Derivatives with respect to ln R25, B and each b_k."""
        del c
        return powers(np.asarray(x) - 1.0 / T0_K, self.terms)

    def plain_polynomial(self, c: Array) -> tuple[float, Array]:
        """The equation itself, around 25 °C."""
        return 1.0 / T0_K, np.concatenate([[np.log(c[0])], c[1:]])

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """Real roots of the slope."""
        scaled = derivative(_from_nought(c)) * _PER_KILOKELVIN ** np.arange(self.terms - 1)
        ends = (np.array([low, high]) - 1.0 / T0_K) / _PER_KILOKELVIN
        result: Array = real_roots(scaled, *ends) * _PER_KILOKELVIN + 1.0 / T0_K
        return result

    def scaled_basis(self, x: Array) -> tuple[Array, Array]:
        """Powers of the inverse temperature, centred on the points."""
        return centred_powers(np.asarray(x) - 1.0 / T0_K, self.terms)


def _from_nought(c: Array) -> Array:
    """Coefficients of the powers of u; that of the zeroth, ln R25, has no slope."""
    return np.concatenate([[0.0], c[1:]])
