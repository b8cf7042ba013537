"""The Callendar–Van Dusen equation of platinum resistance thermometers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from thermofit.equations.base import Array, Coefficient, Equation, Explicit
from thermofit.errors import InputError
from thermofit.units import ZERO_C_K

__all__ = ["IEC_60751_A", "IEC_60751_B", "IEC_60751_C", "CallendarVanDusen"]

IEC_60751_A = 3.9083e-3
"""Coefficient A of IEC 60751, per °C."""

IEC_60751_B = -5.775e-7
"""Coefficient B of IEC 60751, per °C²."""

IEC_60751_C = -4.183e-12
"""Coefficient C of IEC 60751, per °C⁴; used below 0 °C only."""


_NEWTON_STEPS = 6


@dataclass(frozen=True)
class CallendarVanDusen(Equation):
    """R = R0·(1 + A·t + B·t² + C·(t − 100)·t³), t in °C; C below 0 °C only.

    IEC 60751, which defines it from −200 °C to 850 °C.

    Parameters
    ----------
    c : float
        Coefficient C, a setting and not fitted: it takes points well below 0 °C
        to find it.
    """

    c: float = IEC_60751_C

    label: ClassVar[str] = "Callendar–Van Dusen"
    formula: ClassVar[str] = "R = R0·(1 + A·t + B·t² + C·(t − 100)·t³), t in °C, C below 0 °C only"
    explicit: ClassVar[Explicit] = "resistance"
    ntc: ClassVar[bool] = False
    ptc: ClassVar[bool] = True
    default_range_c: ClassVar[tuple[float, float]] = (-200.0, 850.0)

    def __post_init__(self) -> None:
        if not np.isfinite(self.c):
            raise InputError(f"the coefficient C must be a finite number, not {self.c!r}")

    @property
    def name(self) -> str:
        """Name of the equation."""
        return "callendar-van-dusen"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """R0 in ohms, fitted as its logarithm, A and B."""
        return (
            Coefficient("r0_ohm", "Ω", logarithmic=True),
            Coefficient("a", "1/K"),
            Coefficient("b", "1/K²"),
        )

    @property
    def settings(self) -> Mapping[str, float]:
        """The coefficient C."""
        return {"cvd_c": self.c}

    @classmethod
    def from_name(cls, name: str, settings: Mapping[str, float]) -> CallendarVanDusen | None:
        """Take C from the settings."""
        if name != "callendar-van-dusen":
            return None
        return cls(settings.get("cvd_c", IEC_60751_C))

    def value(self, x: Array, c: Array) -> Array:
        """Ln R at 1/T."""
        result: Array = np.log(c[0]) + np.log(self._ratio(x, c))
        return result

    def slope(self, x: Array, c: Array) -> Array:
        """D ln R / d(1/T)."""
        t = 1.0 / x - ZERO_C_K
        cold = np.where(t < 0.0, self.c * t**2 * (4.0 * t - 300.0), 0.0)
        result: Array = -(c[1] + 2.0 * c[2] * t + cold) / (x * x * self._ratio(x, c))
        return result

    def gradient(self, x: Array, c: Array) -> Array:
        """Derivatives with respect to ln R0, A and B."""
        t = 1.0 / x - ZERO_C_K
        ratio = self._ratio(x, c)
        return np.stack([np.ones_like(x), t / ratio, t * t / ratio])

    def inverse(self, y: Array, c: Array) -> Array:
        """1/T at ln R: the rising root of the parabola, below 0 °C by Newton's method."""
        with np.errstate(invalid="ignore"):
            excess = np.expm1(y - np.log(c[0]))
            t = 2.0 * excess / (c[1] + np.sqrt(c[1] ** 2 + 4.0 * c[2] * excess))
            # The C term is small: from −200 °C four steps reach the last digit.
            for _ in range(_NEWTON_STEPS):
                cold = np.where(t < 0.0, self.c * (t - 100.0) * t**3, 0.0)
                miss = t * (c[1] + c[2] * t) + cold - excess
                rise = np.where(t < 0.0, self.c * t**2 * (4.0 * t - 300.0), 0.0)
                t = t - miss / (c[1] + 2.0 * c[2] * t + rise)
            result: Array = 1.0 / (t + ZERO_C_K)
            return result

    def through(self, inv_t: Array, ln_r: Array) -> Array | None:
        """Linear least squares in ohms, exact for three points.

        R − R0·C·(t − 100)·t³ is a parabola in t, so dividing by R0 leaves three
        numbers that enter linearly once the C term is written with them.
        """
        t = 1.0 / inv_t - ZERO_C_K
        cold = np.where(t < 0.0, self.c * (t - 100.0) * t**3, 0.0)
        design = np.stack([1.0 + cold, t / 100.0, (t / 100.0) ** 2], axis=1)
        found = np.linalg.lstsq(design, np.exp(ln_r - ln_r.max()), rcond=None)[0]
        if not found[0] > 0.0:
            return None
        r0 = found[0] * np.exp(ln_r.max())
        return np.array([r0, found[1] / found[0] / 1e2, found[2] / found[0] / 1e4])

    def _ratio(self, x: Array, c: Array) -> Array:
        """R/R0, NaN where it is not positive."""
        t = 1.0 / x - ZERO_C_K
        cold = np.where(t < 0.0, self.c * (t - 100.0) * t**3, 0.0)
        ratio = 1.0 + t * (c[1] + c[2] * t) + cold
        return np.where(ratio > 0.0, ratio, np.nan)
