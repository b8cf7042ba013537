"""The shifted exponential: constant B with the zero of temperature moved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from thermofit.equations.base import Array, Coefficient, Equation, Explicit

__all__ = ["ShiftedExponential"]


@dataclass(frozen=True)
class ShiftedExponential(Equation):
    """R = a·exp(b/(T + c)), T in kelvin.

    The Meyer function of nonlinear regression, for example in NIST's Statistical
    Reference Datasets, MGH10, where temperatures are in °C (c = b3 − 273.15).
    """

    label: ClassVar[str] = "Shifted exponential"
    formula: ClassVar[str] = "R = a·exp(b/(T + c))"
    explicit: ClassVar[Explicit] = "resistance"

    @property
    def name(self) -> str:
        """Name of the equation."""
        return "shifted-exponential"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """a in ohms, fitted as its logarithm, b and c in kelvin."""
        return (
            Coefficient("a_ohm", "Ω", logarithmic=True),
            Coefficient("b_k", "K"),
            Coefficient("c_k", "K"),
        )

    def value(self, x: Array, c: Array) -> Array:
        """Ln R at 1/T; NaN at and below the pole T = −c."""
        result: Array = np.log(c[0]) + c[1] * x / self._above_pole(x, c)
        return result

    def slope(self, x: Array, c: Array) -> Array:
        """D ln R / d(1/T)."""
        result: Array = c[1] / self._above_pole(x, c) ** 2
        return result

    def gradient(self, x: Array, c: Array) -> Array:
        """Derivatives with respect to ln a, b and c."""
        part = x / self._above_pole(x, c)
        return np.stack([np.ones_like(x), part, -c[1] * part**2])

    def inverse(self, y: Array, c: Array) -> Array:
        """1/T at ln R; NaN where the resistance is never reached."""
        with np.errstate(divide="ignore", invalid="ignore"):
            t_k = c[1] / (y - np.log(c[0])) - c[2]
            return np.where((t_k > 0.0) & (t_k > -c[2]), 1.0 / t_k, np.nan)

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """Above its pole the curve does not turn."""
        del c, low, high
        return np.empty(0)

    def through(self, inv_t: Array, ln_r: Array) -> Array | None:
        """Through three points in closed form; near more by trying shifts.

        Eliminating ln a and b from three points leaves
        (L1 − L2)/(L2 − L3) = (T2 − T1)(T3 + c)/((T3 − T2)(T1 + c)),
        which is linear in c.  For any one c the rest is a straight line.
        """
        t = 1.0 / inv_t
        log = ln_r
        if len(t) > 3:
            return _best_line(t, log, t.min() * (np.geomspace(0.05, 20.0, 120) - 1.0))
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = (log[0] - log[1]) / (log[1] - log[2]) * (t[2] - t[1]) / (t[1] - t[0])
            shift = (t[2] - ratio * t[0]) / (ratio - 1.0)
            b = (log[0] - log[2]) * (t[0] + shift) * (t[2] + shift) / (t[2] - t[0])
            coefficients = np.array([np.exp(log[2] - b / (t[2] + shift)), b, shift])
        usable = np.isfinite(coefficients).all() and coefficients[0] > 0.0
        return coefficients if usable and t.min() + shift > 0.0 else None

    @staticmethod
    def _above_pole(x: Array, c: Array) -> Array:
        """1 + c/T, NaN where it is not positive."""
        part = 1.0 + c[2] * x
        return np.where(part > 0.0, part, np.nan)


def _best_line(t: Array, ln_r: Array, shifts: Array) -> Array:
    """Coefficients of the least-squares line in ln R with the best of some shifts."""
    x = 1.0 / (t + shifts[:, np.newaxis])
    spread = x - x.mean(axis=1, keepdims=True)
    b = spread @ ln_r / np.einsum("ij,ij->i", spread, spread)
    ln_a = ln_r.mean() - b * x.mean(axis=1)
    misses = ln_r - ln_a[:, np.newaxis] - b[:, np.newaxis] * x
    best = int(np.argmin(np.einsum("ij,ij->i", misses, misses)))
    return np.array([np.exp(ln_a[best]), b[best], shifts[best]])
