"""The constant-B equation: a straight line through R25."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from thermofit.equations.base import Array, Coefficient, Equation, Explicit
from thermofit.units import T0_K

__all__ = ["Beta"]


@dataclass(frozen=True)
class Beta(Equation):
    """R = R25·exp(B·(1/T − 1/T0)), T0 = 298.15 K.

    The definition of the B value, IEC 60539-1.  Good over some tens of kelvin; a
    line through 0 °C and 70 °C is wrong by more than 1 K between or beyond them
    on real materials.
    """

    label: ClassVar[str] = "Constant B"
    formula: ClassVar[str] = "R = R25·exp(B·(1/T − 1/298.15 K))"
    explicit: ClassVar[Explicit] = "resistance"
    linear: ClassVar[bool] = True

    @property
    def name(self) -> str:
        """Name of the equation."""
        return "beta"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """R25 in ohms, fitted as its logarithm, and B in kelvin."""
        return Coefficient("r25_ohm", "Ω", logarithmic=True), Coefficient("b_k", "K")

    def value(self, x: Array, c: Array) -> Array:
        """Ln R at 1/T."""
        result: Array = np.log(c[0]) + c[1] * (x - 1.0 / T0_K)
        return result

    def slope(self, x: Array, c: Array) -> Array:
        """D ln R / d(1/T), which is B."""
        return np.full_like(x, c[1])

    def gradient(self, x: Array, c: Array) -> Array:
        """Derivatives with respect to ln R25 and B."""
        del c
        return np.stack([np.ones_like(x), x - 1.0 / T0_K])

    def inverse(self, y: Array, c: Array) -> Array:
        """1/T at ln R."""
        result: Array = (y - np.log(c[0])) / c[1] + 1.0 / T0_K
        return result

    def plain_polynomial(self, c: Array) -> tuple[float, Array]:
        """A straight line, around 25 °C."""
        return 1.0 / T0_K, np.array([np.log(c[0]), c[1]])

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """A straight line does not turn."""
        del c, low, high
        return np.empty(0)
