"""The ways in which a tolerance is stated, and the strips of (γ, β) that they mean."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import dataclass
from numbers import Real

import numpy as np

from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.tolerance.deviation import log_ratio, quiet_ln_r, refuse_reference
from thermofit.tolerance.region import Strip
from thermofit.units import ZERO_C_K

__all__ = [
    "BLimits",
    "BLimitsKelvin",
    "Limits",
    "RatioLimits",
    "ResistanceLimits",
    "ResistanceTable",
    "TemperatureLimits",
    "percent_to_log",
]

# How densely limits that hold over a range of temperature are laid: the region
# is wrong by the square of the step, some 1e-5 of its size.
_STEPS = 65


class Limits(ABC):
    """One way of stating a tolerance."""

    @abstractmethod
    def strips(self, curve: Curve) -> tuple[Strip, ...]:
        """Give the strips of (γ, β) that parts with this nominal curve keep to."""

    @abstractmethod
    def __str__(self) -> str: ...


@dataclass(frozen=True)
class ResistanceLimits(Limits):
    """Limits of the resistance at one temperature, in percent of the nominal one.

    Parameters
    ----------
    low_pct, high_pct : float
        For ± 1 %: −1 and 1.
    t_c : float
        Temperature in °C; 25 for a tolerance of R25.
    """

    low_pct: float
    high_pct: float
    t_c: float = 25.0

    def __post_init__(self) -> None:
        _check(self.low_pct, self.high_pct, "a tolerance of the resistance", "%")

    def strips(self, curve: Curve) -> tuple[Strip, ...]:
        """One strip, across the deviation at that temperature."""
        refuse_reference(curve, self.t_c)
        low, high = percent_to_log(self.low_pct), percent_to_log(self.high_pct)
        return (Strip(1.0, float(log_ratio(curve, self.t_c)), float(low), float(high)),)

    def __str__(self) -> str:
        return f"R({self.t_c:g} °C) {_span(self.low_pct, self.high_pct, ' %')}"


@dataclass(frozen=True)
class BLimits(Limits):
    """Limits of the B value in percent.

    Scaling the log ratio scales the B value between any two temperatures alike,
    so that the pair does not matter.

    Parameters
    ----------
    low_pct, high_pct : float
    """

    low_pct: float
    high_pct: float

    def __post_init__(self) -> None:
        _check(self.low_pct, self.high_pct, "a tolerance of the B value", "%")

    def strips(self, curve: Curve) -> tuple[Strip, ...]:
        """One strip, of β alone."""
        del curve
        return (Strip(0.0, 1.0, self.low_pct / 100.0, self.high_pct / 100.0),)

    def __str__(self) -> str:
        return f"B {_span(self.low_pct, self.high_pct, ' %')}"


@dataclass(frozen=True)
class BLimitsKelvin(Limits):
    """Limits of the B value between two temperatures, in kelvin.

    Parameters
    ----------
    low_k, high_k : float
    t1_c, t2_c : float
        The pair of temperatures in °C.
    """

    low_k: float
    high_k: float
    t1_c: float = 25.0
    t2_c: float = 85.0

    def __post_init__(self) -> None:
        _check(self.low_k, self.high_k, "a tolerance of the B value", "K", full=None)
        _check_pair(self.t1_c, self.t2_c)

    def strips(self, curve: Curve) -> tuple[Strip, ...]:
        """One strip, of β alone."""
        refuse_reference(curve, self.t1_c, self.t2_c)
        inv_t = 1.0 / (np.array([self.t1_c, self.t2_c]) + ZERO_C_K)
        ln_r = quiet_ln_r(curve, np.array([self.t1_c, self.t2_c]))
        b_k = float((ln_r[0] - ln_r[1]) / (inv_t[0] - inv_t[1]))
        if max(-self.low_k, self.high_k) >= abs(b_k):
            raise InputError(f"B {_span(self.low_k, self.high_k, ' K')} is as large as B itself")
        low, high = sorted((self.low_k / b_k, self.high_k / b_k))
        return (Strip(0.0, 1.0, low, high),)

    def __str__(self) -> str:
        return f"B{self.t1_c:g}/{self.t2_c:g} {_span(self.low_k, self.high_k, ' K')}"


@dataclass(frozen=True)
class RatioLimits(Limits):
    """Limits of the ratio of the resistances at two temperatures, in percent.

    As in MIL-PRF-23648, Table I: R25/R125 of a ratio characteristic ± 10 %.

    Parameters
    ----------
    low_pct, high_pct : float
    t1_c, t2_c : float
        The ratio is R(t1)/R(t2).
    """

    low_pct: float
    high_pct: float
    t1_c: float = 25.0
    t2_c: float = 125.0

    def __post_init__(self) -> None:
        _check(self.low_pct, self.high_pct, "a tolerance of the ratio", "%")
        _check_pair(self.t1_c, self.t2_c)

    def strips(self, curve: Curve) -> tuple[Strip, ...]:
        """One strip, of β alone."""
        refuse_reference(curve, self.t1_c, self.t2_c)
        ln_r = quiet_ln_r(curve, np.array([self.t1_c, self.t2_c]))
        ends = percent_to_log(np.array([self.low_pct, self.high_pct])) / (ln_r[0] - ln_r[1])
        return (Strip(0.0, 1.0, float(ends.min()), float(ends.max())),)

    def __str__(self) -> str:
        ends = _span(self.low_pct, self.high_pct, " %")
        return f"R({self.t1_c:g} °C)/R({self.t2_c:g} °C) {ends}"


@dataclass(frozen=True)
class TemperatureLimits(Limits):
    """Limits of the reading error over a range: "interchangeable within ± 0.2 °C".

    Parameters
    ----------
    low_k, high_k : float
        Error, in kelvin, of a reader that assumes the nominal curve.
    t_min_c, t_max_c : float
        The range in °C.
    """

    low_k: float
    high_k: float
    t_min_c: float = 0.0
    t_max_c: float = 70.0

    def __post_init__(self) -> None:
        _check(self.low_k, self.high_k, "a tolerance in temperature", "K", full=None)
        if not self.t_min_c < self.t_max_c:
            raise InputError(
                f"a tolerance in temperature holds over a range, not from {self.t_min_c!r} to "
                f"{self.t_max_c!r} °C"
            )

    def strips(self, curve: Curve) -> tuple[Strip, ...]:
        """A strip at each of many temperatures, by exact inversion."""
        refuse_reference(curve, self.t_min_c, self.t_max_c)
        t_c = np.linspace(self.t_min_c, self.t_max_c, _STEPS)
        a = log_ratio(curve, t_c)
        # The reader sees the nominal resistance of the temperature that it shows.
        shown = [quiet_ln_r(curve, t_c + end) - quiet_ln_r(curve, t_c)
                 for end in (self.low_k, self.high_k)]  # fmt: skip
        low, high = np.minimum(*shown), np.maximum(*shown)
        return tuple(Strip(1.0, *map(float, line)) for line in zip(a, low, high, strict=True))

    def __str__(self) -> str:
        ends = _span(self.low_k, self.high_k, " K")
        return f"{ends} from {self.t_min_c:g} to {self.t_max_c:g} °C"


@dataclass(frozen=True)
class ResistanceTable(Limits):
    """Limits of the resistance in percent by temperature, interpolated in between.

    The style of MIL-PRF-23648: a tolerance at each of some temperatures.

    Parameters
    ----------
    t_c : tuple of float
        Temperatures in °C, rising, two or more.
    low_pct, high_pct : tuple of float
        Limits there; straight lines in between.
    """

    t_c: tuple[float, ...]
    low_pct: tuple[float, ...]
    high_pct: tuple[float, ...]

    def __post_init__(self) -> None:
        for field in ("t_c", "low_pct", "high_pct"):
            object.__setattr__(self, field, tuple(float(v) for v in getattr(self, field)))
        if not len(self.t_c) == len(self.low_pct) == len(self.high_pct) or len(self.t_c) < 2:
            raise InputError(
                "a table of tolerances needs two temperatures or more and a tolerance for each"
            )
        if not (np.diff(self.t_c) > 0.0).all():
            raise InputError(f"the temperatures of a table of tolerances rise, not {self.t_c}")
        for low, high in zip(self.low_pct, self.high_pct, strict=True):
            _check(low, high, "a tolerance of the resistance", "%")

    def strips(self, curve: Curve) -> tuple[Strip, ...]:
        """A strip at each of many temperatures, those of the table among them."""
        refuse_reference(curve, self.t_c[0], self.t_c[-1])
        t_c = np.union1d(np.linspace(self.t_c[0], self.t_c[-1], _STEPS), self.t_c)
        a = log_ratio(curve, t_c)
        low = percent_to_log(np.interp(t_c, self.t_c, self.low_pct))
        high = percent_to_log(np.interp(t_c, self.t_c, self.high_pct))
        return tuple(Strip(1.0, *map(float, line)) for line in zip(a, low, high, strict=True))

    def __str__(self) -> str:
        parts = (
            f"{_span(low, high, ' %')} at {t:g} °C"
            for t, low, high in zip(self.t_c, self.low_pct, self.high_pct, strict=True)
        )
        return "R " + ", ".join(parts)


def percent_to_log(pct: float | np.typing.NDArray[np.float64]) -> np.typing.NDArray[np.float64]:
    """Deviation in percent to one of ln R."""
    result: np.typing.NDArray[np.float64] = np.log1p(np.asarray(pct, dtype=np.float64) / 100.0)
    return result


def _check(low: float, high: float, what: str, unit: str, full: float | None = 100.0) -> None:
    """Refuse limits that are none, or that leave the nominal part out."""
    plain = all(isinstance(end, Real) and not isinstance(end, bool) for end in (low, high))
    if not (plain and np.isfinite(low) and np.isfinite(high)):
        raise InputError(f"{what} must be a finite number, not {low!r} to {high!r} {unit}")
    if full is not None and (low <= -full or high >= full):
        raise InputError(f"{what} must be below 100 %, not {_span(low, high, ' %')}")
    if not low <= 0.0 <= high:
        raise InputError(
            f"{what} of {low:g} to {high:g} {unit} leaves the nominal part out; write ± as one "
            "positive number, or limits as (low, high) with low ≤ 0 ≤ high"
        )


def _check_pair(t1_c: float, t2_c: float) -> None:
    if t1_c == t2_c:
        raise InputError(f"two different temperatures are needed, not {t1_c:g} °C twice")


def _span(low: float, high: float, unit: str) -> str:
    if low == -high:
        return f"± {high:.4g}{unit}"
    return f"{low:+.4g} to {high:+.4g}{unit}"
