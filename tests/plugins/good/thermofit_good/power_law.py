"""An equation of two coefficients and a setting: a power of the temperature."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from thermofit.equations.base import Array, Coefficient, Equation, Explicit


@dataclass(frozen=True)
class PowerLaw(Equation):
    """R = R_ref·(T_ref/T)^n, T in kelvin."""

    t_ref_c: float = 25.0

    label: ClassVar[str] = "Power law"
    formula: ClassVar[str] = "R = R_ref·(T_ref/T)^n"
    explicit: ClassVar[Explicit] = "resistance"
    linear: ClassVar[bool] = True

    @property
    def name(self) -> str:
        return "power-law"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        return Coefficient("r_ref_ohm", "Ω", logarithmic=True), Coefficient("n")

    @property
    def settings(self) -> Mapping[str, float]:
        return {"t_ref_c": self.t_ref_c}

    @classmethod
    def from_name(cls, name: str, settings: Mapping[str, float]) -> "PowerLaw | None":
        return cls(settings.get("t_ref_c", 25.0)) if name == "power-law" else None

    def value(self, x: Array, c: Array) -> Array:
        return np.log(c[0]) + c[1] * self._log(x)

    def slope(self, x: Array, c: Array) -> Array:
        return c[1] / x

    def gradient(self, x: Array, c: Array) -> Array:
        del c
        return np.stack([np.ones_like(x), self._log(x)])

    def inverse(self, y: Array, c: Array) -> Array:
        return np.exp((y - np.log(c[0])) / c[1]) / (self.t_ref_c + 273.15)

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        del c, low, high
        return np.empty(0)

    def _log(self, x: Array) -> Array:
        return np.log(x * (self.t_ref_c + 273.15))
