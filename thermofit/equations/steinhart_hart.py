"""The Steinhart–Hart equation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from thermofit.equations.base import Array, Coefficient, Equation, Explicit, real_roots

__all__ = ["SteinhartHart"]


@dataclass(frozen=True)
class SteinhartHart(Equation):
    """1/T = a + b·ln R + c·(ln R)³, R in ohms, T in kelvin.

    J. S. Steinhart, S. R. Hart, "Calibration curves for thermistors", Deep-Sea
    Research 15 (1968) 497–503.
    """

    label: ClassVar[str] = "Steinhart–Hart"
    formula: ClassVar[str] = "1/T = a + b·ln R + c·(ln R)³"
    explicit: ClassVar[Explicit] = "temperature"
    linear: ClassVar[bool] = True

    @property
    def name(self) -> str:
        """Name of the equation."""
        return "steinhart-hart"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """The three coefficients, each in 1/K."""
        return Coefficient("a", "1/K"), Coefficient("b", "1/K"), Coefficient("c", "1/K")

    def value(self, x: Array, c: Array) -> Array:
        """1/T at ln R."""
        result: Array = c[0] + x * (c[1] + c[2] * x * x)
        return result

    def slope(self, x: Array, c: Array) -> Array:
        """d(1/T) / d ln R."""
        result: Array = c[1] + 3.0 * c[2] * x * x
        return result

    def gradient(self, x: Array, c: Array) -> Array:
        """Derivatives with respect to a, b and c."""
        del c
        return np.stack([np.ones_like(x), x, x**3])

    def plain_polynomial(self, c: Array) -> tuple[float, Array]:
        """A cubic in ln R without a square."""
        return 0.0, np.array([c[0], c[1], 0.0, c[2]])

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """Real roots of the slope."""
        return real_roots([c[1], 0.0, 3.0 * c[2]], low, high)
