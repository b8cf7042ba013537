"""How a curve is evaluated: both directions, their limits, what lies outside."""

from __future__ import annotations

import threading
import warnings
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.coefficients import Coefficients
from thermofit.equations.base import Array, Equation
from thermofit.equations.branch import Branch
from thermofit.errors import ExtrapolationError, ExtrapolationWarning, InputError
from thermofit.evaluation import Evaluator, Wanted, evaluator, in_blocks, thread_count
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    from thermofit.evaluation.propagating import Propagator
    from thermofit.interval import Spans

__all__ = ["RANGE_BASIS", "Evaluating"]

# Rounding of a limit that went through ln R and back is no extrapolation.
_RANGE_SLACK_K = 1e-6

# The outermost of the fitted readings, converted with the fitted curve, comes out
# a residual away from the range of the points, in part of their span.
_DATA_SLACK = 0.005

RANGE_BASIS = {"data": "that of its points", "assumed": "assumed, none was stated"}
"""What a valid range rests on that nobody stated."""


class Evaluating:
    """The part of `thermofit.Curve` that turns temperatures into resistances and back."""

    equation: Equation
    coefficients: Coefficients
    t_min_c: float
    t_max_c: float
    range_basis: Any
    covariance: Array | None
    dof: float
    _c: Array
    _branch: Branch

    def _converted(
        self, wanted: Wanted, values: Array, strict: bool, out: Array | None, workers: int
    ) -> Array:
        """Evaluate a direction at what a caller gave; what is outside is reported once."""
        threads = thread_count(workers)
        result = _place(out, values.shape)
        quick = self._evaluator(wanted) if values.size >= _FEW else None
        outside = _Outside()
        slow = self._slowly_to_temperature if wanted == "temperature" else self._slowly_to_ohm

        def work_off(start: int, part: Array, place: Array) -> None:
            found, beyond = slow(part)
            # First what lies outside: `place` may be `part`, where out= is the readings themselves.
            outside.add(start, part, beyond)
            if strict and outside.count:
                self._report(wanted, outside, strict)
            place[...] = found

        if quick is None:
            work_off(0, values, result)
        else:
            flat = np.ascontiguousarray(values).reshape(-1)
            in_blocks(flat, result.reshape(-1), quick, work_off, threads)
        self._report(wanted, outside, strict)
        return result

    def _spans(
        self,
        wanted: Wanted,
        values: Array,
        u: Array | None,
        coverage: float,
        strict: bool,
        workers: int,
    ) -> Spans:
        """Evaluate a direction with its uncertainty; what is outside is reported once."""
        from thermofit.evaluation.intervals import spans

        threads = thread_count(workers)
        quick = None
        if values.size >= _FEW and self.covariance is not None:
            by = wanted == "temperature"
            quick = self._u_to_temperature if by else self._u_to_resistance
        outside = _Outside()

        def plain(start: int, part: Array, u_part: Array | None) -> Any:
            found = self._plain_span(wanted, start, part, u_part, outside)
            if strict and outside.count:
                self._report(wanted, outside, strict)
            return found

        result = spans(quick, plain, values, u, self.dof, coverage, threads)
        self._report(wanted, outside, strict)
        return result

    def _plain_span(
        self, wanted: Wanted, start: int, values: Array, u: Array | None, outside: _Outside
    ) -> tuple[Array, Array, Array | None]:
        """Values, and what the curve and the argument bring to their uncertainty."""
        if wanted == "temperature":
            inv_t, beyond = self._inv_t_anywhere(values)
            outside.add(start, values, beyond)
            with np.errstate(invalid="ignore"):
                ln_r = np.log(values)
            kelvin_per_log = 1.0 / (inv_t**2 * np.abs(self._local_b(inv_t, ln_r)))
            own = None if u is None else u / values * kelvin_per_log
            return 1.0 / inv_t - ZERO_C_K, self._u_ln_r(inv_t, ln_r) * kelvin_per_log, own
        ln_r, beyond = self._ln_r_anywhere(values)
        outside.add(start, values, beyond)
        inv_t = 1.0 / (values + ZERO_C_K)
        r = np.exp(ln_r)
        own = None if u is None else u * np.abs(self._local_b(inv_t, ln_r)) * inv_t**2 * r
        return r, self._u_ln_r(inv_t, ln_r) * r, own

    def _u_ln_r(self, inv_t: Array, ln_r: Array) -> Array:
        raise NotImplementedError

    def _at_once(self, wanted: Wanted) -> Evaluator | None:
        """Evaluator for a single number, unless making it costs more than it saves."""
        explicit = self.equation.explicit == wanted
        made = "_to_temperature" if wanted == "temperature" else "_to_resistance"
        return self._evaluator(wanted) if explicit or made in self.__dict__ else None

    def _evaluator(self, wanted: Wanted) -> Evaluator | None:
        return self._to_temperature if wanted == "temperature" else self._to_resistance

    @cached_property
    def _to_temperature(self) -> Evaluator | None:
        low, high = np.exp(self._ln_r_limits)
        return evaluator(
            self.equation, self._c, self._branch, "temperature", float(low), float(high)
        )

    @cached_property
    def _to_resistance(self) -> Evaluator | None:
        return evaluator(
            self.equation, self._c, self._branch, "resistance", self.t_min_c, self.t_max_c
        )

    @cached_property
    def _u_to_temperature(self) -> Propagator | None:
        return self._propagator(self._to_temperature)

    @cached_property
    def _u_to_resistance(self) -> Propagator | None:
        return self._propagator(self._to_resistance)

    def _propagator(self, quick: Evaluator | None) -> Propagator | None:
        if quick is None or self.covariance is None:
            return None
        from thermofit.evaluation.propagating import propagator

        return propagator(self.equation, self._c, self.covariance, quick)

    def _slowly_to_temperature(self, r_ohm: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
        """Temperatures in °C of any readings, and which lie outside the valid range."""
        inv_t, outside = self._inv_t_anywhere(r_ohm)
        return 1.0 / inv_t - ZERO_C_K, outside

    def _slowly_to_ohm(self, t_c: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
        """Resistances in ohms at any temperatures, and which lie outside the valid range."""
        ln_r, outside = self._ln_r_anywhere(t_c)
        with np.errstate(over="ignore"):
            return np.exp(ln_r), outside

    def _ln_r_anywhere(self, t_c: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
        impossible = t_c <= -ZERO_C_K
        if impossible.any():
            raise InputError(f"{_first(t_c, impossible):.6g} °C is at or below absolute zero")
        ln_r = self._quiet_ln_r(t_c)
        slack_k = self._range_slack_k
        inside = (t_c >= self.t_min_c - slack_k) & (t_c <= self.t_max_c + slack_k)
        return ln_r, (~inside | np.isnan(ln_r)) & ~np.isnan(t_c)

    def _inv_t_anywhere(self, r_ohm: Array) -> tuple[Array, npt.NDArray[np.bool_]]:
        unusable = (r_ohm <= 0.0) | np.isinf(r_ohm)
        if unusable.any():
            raise InputError(
                f"{_first(r_ohm, unusable):.6g} Ω is no resistance of a sensor: a reading must be "
                "positive and finite (NaN marks a missing one)"
            )
        ln_r = np.log(r_ohm)
        inv_t = self._quiet_inv_t(ln_r)
        low, high = self._ln_r_limits
        return inv_t, ((ln_r < low) | (ln_r > high) | np.isnan(inv_t)) & ~np.isnan(ln_r)

    def _ln_r_at(self, t_c: Array, strict: bool) -> Array:
        """Ln R at temperatures that a caller gave."""
        ln_r, beyond = self._ln_r_anywhere(t_c)
        self._report("resistance", _Outside.of(t_c, beyond), strict)
        return ln_r

    @cached_property
    def _ln_r_limits(self) -> tuple[float, float]:
        """Lowest and highest ln R of the valid range, with the slack for rounding."""
        inv_t = 1.0 / (np.array([self.t_min_c, self.t_max_c]) + ZERO_C_K)
        ln_r = self._ln_r(inv_t)
        slack = np.abs(self._local_b(inv_t, ln_r)) * inv_t**2 * self._range_slack_k
        low, high = int(np.argmin(ln_r)), int(np.argmax(ln_r))
        return float(ln_r[low] - slack[low]), float(ln_r[high] + slack[high])

    @property
    def _range_slack_k(self) -> float:
        """How far beyond its range a curve may be used without a word."""
        if self.range_basis == "data":
            return _DATA_SLACK * (self.t_max_c - self.t_min_c)
        return _RANGE_SLACK_K

    def _ln_r(self, inv_t: Array) -> Array:
        if self.equation.explicit == "temperature":
            return self._branch.solve(self.equation, self._c, inv_t)
        return self.equation.value(inv_t, self._c)

    def _inv_t(self, ln_r: Array) -> Array:
        if self.equation.explicit == "temperature":
            return self.equation.value(ln_r, self._c)
        if self._inverse_is_closed:
            closed = self.equation.inverse(ln_r, self._c)
            assert closed is not None
            return closed
        return self._branch.solve(self.equation, self._c, ln_r)

    @cached_property
    def _inverse_is_closed(self) -> bool:
        """Whether the equation's own inverse stays on the branch that the curve uses."""
        inv_t = 1.0 / (np.linspace(self.t_min_c, self.t_max_c, 9) + ZERO_C_K)
        with np.errstate(all="ignore"):
            closed = self.equation.inverse(self.equation.value(inv_t, self._c), self._c)
        return closed is not None and bool(np.allclose(closed, inv_t, rtol=2e-12, atol=0.0))

    def _local_b(self, inv_t: Array, ln_r: Array) -> Array:
        """D ln R / d(1/T) in kelvin."""
        if self.equation.explicit == "temperature":
            return 1.0 / self.equation.slope(ln_r, self._c)
        return self.equation.slope(inv_t, self._c)

    def _quiet_ln_r(self, t_c: npt.ArrayLike) -> Array:
        """Ln R also beyond the valid range, without a word; NaN where there is no value."""
        inv_t = 1.0 / (np.asarray(t_c, dtype=np.float64) + ZERO_C_K)
        low, high = self._reach("resistance")
        with np.errstate(all="ignore"):
            return np.where((inv_t >= low) & (inv_t <= high), self._ln_r(inv_t), np.nan)

    def _quiet_inv_t(self, ln_r: Array) -> Array:
        """1/T also beyond the valid range, without a word; NaN where there is no value."""
        low, high = self._reach("temperature")
        with np.errstate(all="ignore"):
            inv_t = np.where((ln_r >= low) & (ln_r <= high), self._inv_t(ln_r), np.nan)
            return np.where(inv_t > 0.0, inv_t, np.nan)

    def _reach(self, wanted: str) -> tuple[float, float]:
        """Lowest and highest argument for which the curve has a value at all."""
        ends = self._branch.x if self.equation.explicit == wanted else self._branch.y
        return float(min(ends[0], ends[-1])), float(max(ends[0], ends[-1]))

    def _report(self, wanted: Wanted, outside: _Outside, strict: bool) -> None:
        if not outside.count:
            return
        example = (
            format_ohm(outside.example) if wanted == "temperature" else f"{outside.example:.6g} °C"
        )
        others = f" and {outside.count - 1} more" if outside.count > 1 else ""
        verb = "are" if outside.count > 1 else "is"
        basis = "" if self.range_basis == "stated" else f" ({RANGE_BASIS[self.range_basis]})"
        message = (
            f"{example}{others} {verb} outside the curve's valid range of "
            f"{self.t_min_c:.6g} to {self.t_max_c:.6g} °C{basis}"
        )
        if strict:
            raise ExtrapolationError(message)
        # Up to the caller: what asked for the report, the public method, the caller.
        warnings.warn(message, ExtrapolationWarning, stacklevel=4)


# Below this the preparation of blocks costs more than it saves.
_FEW = 256


class _Outside:
    """How many readings lay outside, and the first of them."""

    def __init__(self) -> None:
        self.count = 0
        self.example = float("nan")
        self._first = -1
        self._lock = threading.Lock()

    @classmethod
    def of(cls, values: Array, beyond: npt.NDArray[np.bool_]) -> _Outside:
        """Count what lies beyond."""
        found = cls()
        found.add(0, values, beyond)
        return found

    def add(self, start: int, values: Array, beyond: npt.NDArray[np.bool_]) -> None:
        """Count those of a block that starts at `start`."""
        count = int(np.count_nonzero(beyond))
        if not count:
            return
        with self._lock:
            self.count += count
            if self._first < 0 or start < self._first:
                self._first, self.example = start, _first(values, beyond)


def _place(out: Array | None, shape: tuple[int, ...]) -> Array:
    """Where results go: `out`, if it is fit for them."""
    if out is None:
        return np.empty(shape)
    if not isinstance(out, np.ndarray) or out.dtype != np.float64 or out.shape != shape:
        raise InputError(
            f"out must be an array of float64 of shape {shape}, as the values are; got "
            f"{getattr(out, 'dtype', type(out).__name__)} of shape {np.shape(out)}"
        )
    if not (out.flags.c_contiguous and out.flags.writeable):
        raise InputError("out must be writeable, and contiguous in memory (order C)")
    return out


def _first(values: Array, chosen: npt.NDArray[np.bool_]) -> float:
    return float(values[chosen].flat[0])
