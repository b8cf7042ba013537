"""The usual tolerance: the resistance at one temperature and the B value, each by itself.

With the deviation x = γ + β·a0 at the reference temperature and β between limits
of their own, the deviation at another temperature is x + β·(a − a0): a sum of
two independent parts, of which everything follows in closed form, for arrays of
tolerances as well as for one.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.interval import coverage_factor
from thermofit.tolerance.deviation import refuse_reference
from thermofit.tolerance.limits import Limits, ResistanceLimits, percent_to_log
from thermofit.tolerance.spec import Tolerance, temperature_of

__all__ = ["Box", "box_of", "stated_box"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Box:
    """Limits of the deviation at a reference temperature, and of β.

    Parameters
    ----------
    t_ref_c : float
        Reference temperature in °C.
    x_low, x_high : array
        Limits of ln(R/R_nominal) there.
    beta_low, beta_high : array
        Limits of β; broadcast with `x_low` and with the temperatures.
    """

    t_ref_c: float
    x_low: Array
    x_high: Array
    beta_low: Array
    beta_high: Array

    def worst_case(self, lever: Array) -> tuple[Array, Array]:
        """Limits of the deviation where ln ρ is `lever` away from the reference."""
        ends = lever * self.beta_low, lever * self.beta_high
        return self.x_low + np.minimum(*ends), self.x_high + np.maximum(*ends)

    def fill_worst_case(self, lever: Array, low: Array, high: Array, spare: Array) -> None:
        """Fill arrays of one shape with what `worst_case` gives; `spare` is overwritten."""
        np.multiply(lever, self.beta_low, out=spare)
        np.multiply(lever, self.beta_high, out=high)
        np.minimum(spare, high, out=low)
        np.maximum(spare, high, out=high)
        low += self.x_low
        high += self.x_high

    def uniform(self, lever: Array, coverage: float) -> tuple[Array, Array]:
        """Central interval if both parts are spread evenly: a trapezoid (JCGM 101, 6.4.4)."""
        centre, one, two = self._parts(lever)
        most, least = np.maximum(one, two), np.minimum(one, two)
        tail = 0.5 * (1.0 - coverage)
        # On the ramp of the trapezoid, the tail is a triangle.
        ramp = one + two - np.sqrt(8.0 * most * least * tail)
        half = np.where(2.0 * most * tail <= least, ramp, most * (1.0 - 2.0 * tail))
        return centre - half, centre + half

    def normal(
        self, lever: Array, coverage: float, k: float, correlation: float
    ) -> tuple[Array, Array]:
        """Central interval if both parts are normal and the limits mean k standard deviations."""
        centre, one, two = self._parts(lever)
        joint = 2.0 * correlation * np.sign(lever) * one * two
        sigma = np.sqrt(np.maximum(one**2 + two**2 + joint, 0.0)) / k
        half = coverage_factor(coverage) * sigma
        return centre - half, centre + half

    def _parts(self, lever: Array) -> tuple[Array, Array, Array]:
        """Middle of the deviation, and half the width of each of its two parts."""
        centre = 0.5 * (self.x_low + self.x_high + lever * (self.beta_low + self.beta_high))
        one = 0.5 * (self.x_high - self.x_low)
        return centre, one, 0.5 * np.abs(lever) * (self.beta_high - self.beta_low)


def box_of(tolerance: Tolerance, curve: Curve) -> Box | None:
    """Give a tolerance as a box; None where it is of another kind.

    The deviation is reckoned from the temperature at which the resistance is limited, so that
    the curve needs no value at 25 °C.
    """
    return _box(tolerance.limits, curve)


def _box(limits: tuple[Limits, ...], curve: Curve) -> Box | None:
    of_resistance = [entry for entry in limits if isinstance(entry, ResistanceLimits)]
    others = [entry for entry in limits if not isinstance(entry, ResistanceLimits)]
    if len(of_resistance) > 1 or len(others) > 1:
        return None
    strips = [strip for entry in others for strip in entry.strips(curve)]
    if any(strip.p for strip in strips):
        return None
    x_low = x_high = beta_low = beta_high = np.zeros(())
    t_ref_c = 25.0
    if of_resistance:
        t_ref_c = of_resistance[0].t_c
        refuse_reference(curve, t_ref_c)
        x_low, x_high = map(percent_to_log, (of_resistance[0].low_pct, of_resistance[0].high_pct))
    if strips:
        beta_low, beta_high = np.asarray(strips[0].low), np.asarray(strips[0].high)
    return Box(t_ref_c, x_low, x_high, beta_low, beta_high)


def stated_box(stated: dict[str, Any], half: tuple[Limits, ...], curve: Curve) -> Box | None:
    """Give stated tolerances as a box if some are arrays; None if none is.

    Parameters
    ----------
    stated : dict
        Arguments of `Tolerance.of`.
    half : tuple of Limits
        Limits of the other half that stay beside them.
    curve : Curve
        Nominal curve.

    Raises
    ------
    InputError
        An array for a form that takes one number, or with impossible elements.
    ExtrapolationError
        The resistance is limited outside the valid range.
    """
    ends = [
        end
        for value in stated.values()
        for end in (value if isinstance(value, tuple) else (value,))
    ]
    if not any(isinstance(end, np.ndarray) and end.ndim for end in ends):
        return None
    unfit = set(stated) - {"r25_pct", "r_pct", "r_at_c", "b_pct"}
    if unfit:
        raise InputError(
            f"arrays of tolerances go with r25_pct, r_pct and b_pct, not with {', '.join(unfit)}"
        )
    if ("r_pct" in stated) != ("r_at_c" in stated) or ("r_pct" in stated and "r25_pct" in stated):
        raise InputError("limit the resistance at one temperature: r25_pct, or r_pct with r_at_c")
    own = _box(half, curve)
    if own is None:
        raise InputError(
            f"the family limits {', '.join(map(str, half))}, beside which no array of tolerances "
            "goes; state both halves, such as r25_pct and b_pct"
        )
    t_ref_c, x, beta = own.t_ref_c, (own.x_low, own.x_high), (own.beta_low, own.beta_high)
    if "b_pct" in stated:
        beta_pct = _array_limits(stated["b_pct"], "b_pct")
        beta = beta_pct[0] / 100.0, beta_pct[1] / 100.0
    name = "r_pct" if "r_pct" in stated else "r25_pct"
    if name in stated:
        t_ref_c = temperature_of(stated.get("r_at_c", 25.0), "r_at_c")
        refuse_reference(curve, t_ref_c)
        low, high = _array_limits(stated[name], name)
        x = percent_to_log(low), percent_to_log(high)
    return Box(t_ref_c, *x, *beta)


def _array_limits(value: Any, name: str) -> tuple[Array, Array]:
    if isinstance(value, tuple):
        if len(value) != 2:
            raise InputError(f"{name} is one number, or a pair (low, high), not {value!r}")
        low, high = (as_float_array(end, name) for end in value)
    else:
        high = as_float_array(value, name)
        low = -high
    try:
        np.broadcast_shapes(low.shape, high.shape)
    except ValueError:
        raise InputError(
            f"{name} has limits of shapes {low.shape} and {high.shape}, which do not go together"
        ) from None
    for wrong, what in (
        (~(np.isfinite(low) & np.isfinite(high)), "not a finite number"),
        ((low > 0.0) | (high < 0.0), "negative, or limits that leave the nominal part out"),
        ((low <= -100.0) | (high >= 100.0), "100 % and more"),
    ):
        if wrong.any():
            place = np.flatnonzero(np.atleast_1d(wrong))[0]
            raise InputError(f"element {place + 1} of {name} is {what}")
    return low, high
