"""What a sensor shows after its surroundings have changed at once: the forms that are fitted.

Every form is ``t(s) = start + step·h(s)``, s the time since the onset, with h running from
0 to 1::

    one constant    h = 1 − exp(−s/τ1)
    lag             h = 1 − (1 − f)·exp(−s/τ1) − f·exp(−s/τ2),   f = −τ2/(τ1 − τ2)
    two constants   the same with f free

The lag is a body in a sleeve: its curve begins level, h'(0) = 0.  With f between 0 and 1 a
part of the sensor is quick and the rest slow.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
import numpy.typing as npt

__all__ = ["SHARE_63", "Form", "Shape"]

Array = npt.NDArray[np.float64]

Form = Literal["one constant", "lag", "two constants"]

SHARE_63: Final = 1.0 - float(np.exp(-1.0))
"""The share of a step after one time constant: 63.2 %."""

# Two constants closer than this cannot be told from two equal ones, where f has no value.
_CLOSEST = 1.1
# ln of the ratio beyond which the quick constant is a jump.
_FURTHEST = 12.0
# A straight line or a jump drives ln τ this far, where its exponential is still a number.
_LIMIT = 60.0


@dataclass(frozen=True)
class Shape:
    """A form and whether the onset is one of its parameters.

    Parameters are, in this order: the onset (where it is free), start, step, ln τ1 and, as
    the form has them, v and f, where τ1/τ2 = 1.1 + exp(v).
    """

    form: Form
    onset_free: bool

    @property
    def size(self) -> int:
        """How many parameters."""
        return 3 + self.onset_free + {"one constant": 0, "lag": 1, "two constants": 2}[self.form]

    def constants(self, p: Array) -> tuple[Array, Array]:
        """Give ln of the time constants, slowest first, and their gradients, shape (m, size)."""
        at = self._at
        logs = np.array(self._logs(p))
        gradient = np.zeros((len(logs), self.size))
        gradient[:, at] = 1.0
        if len(logs) > 1:
            grown = self._grown(p)
            gradient[1, at + 1] = -grown / (_CLOSEST + grown)
        return logs, gradient

    def _logs(self, p: Array) -> tuple[float, ...]:
        slowest = min(max(float(p[self._at]), -_LIMIT), _LIMIT)
        if self.form == "one constant":
            return (slowest,)
        return slowest, slowest - math.log(_CLOSEST + self._grown(p))

    def _grown(self, p: Array) -> float:
        return math.exp(min(float(p[self._at + 1]), _FURTHEST))

    def unit(self, p: Array, s: Array) -> tuple[Array, Array, Array]:
        """Give h, dh/ds, and dh by the parameters from ln τ1 on, shape (k, n); for s ≥ 0."""
        logs = self._logs(p)
        tau = math.exp(logs[0])
        e1 = np.exp(-s / tau)
        if self.form == "one constant":
            return -np.expm1(-s / tau), e1 / tau, (-s / tau * e1)[None, :]
        tau2, grown = math.exp(logs[1]), self._grown(p)
        ratio = _CLOSEST + grown
        f = -1.0 / (ratio - 1.0) if self.form == "lag" else p[self._at + 2]
        e2 = np.exp(-s / tau2)
        d_log = -(1.0 - f) * (s / tau) * e1 - f * (s / tau2) * e2
        d_v = f * (s / tau2) * e2 * grown / ratio
        slope = (1.0 - f) * e1 / tau + f * e2 / tau2
        h = -(1.0 - f) * np.expm1(-s / tau) - f * np.expm1(-s / tau2)
        if self.form == "lag":
            d_v += (e1 - e2) * grown / (ratio - 1.0) ** 2
            return h, slope, np.array([d_log, d_v])
        return h, slope, np.array([d_log, d_v, e1 - e2])

    def evaluate(self, p: Array, t: Array, onset: float, blur: float = 0.0) -> tuple[Array, Array]:
        """Give values, shape (n,), and their gradient by the parameters, shape (n, size).

        `onset` is used where it is no parameter; `blur` is how far an onset that is one may
        be off, over which its derivative, which has a jump there, is averaged.
        """
        if self.onset_free:
            onset = float(p[0])
        at = int(self.onset_free)
        start, step = p[at], p[at + 1]
        since = t - onset
        h, slope, gradient = self.unit(p, np.maximum(since, 0.0))
        columns = np.empty((len(t), self.size))
        columns[:, at], columns[:, at + 1] = 1.0, h
        columns[:, at + 2 :] = step * gradient.T
        if self.onset_free:
            passed = _passed(since, blur) if blur else since > 0.0
            columns[:, 0] = -step * slope * passed
        return start + step * h, columns

    def time_to(self, p: Array, share: float) -> tuple[float, Array]:
        """Give the time since the onset in which a share of the step is done, and its gradient."""
        from scipy.optimize import brentq

        def gap(s: float) -> float:
            return float(self.unit(p, np.array([s]))[0][0]) - share

        high = float(np.exp(self.constants(p)[0][0]))
        while gap(high) < 0.0 and high < 1e300:
            high *= 2.0
        s = float(brentq(gap, 0.0, high, xtol=1e-14 * high, rtol=1e-14))
        _, slope, gradient = self.unit(p, np.array([s]))
        full = np.zeros(self.size)
        full[self._at :] = -gradient[:, 0] / slope[0]
        return s, full

    @property
    def _at(self) -> int:
        """Place of ln τ1."""
        return 2 + self.onset_free


def _passed(since: Array, blur: float) -> Array:
    """Probability that the onset has passed, where it is uncertain by `blur`."""
    from scipy.special import ndtr

    return np.asarray(ndtr(since / blur), dtype=np.float64)
