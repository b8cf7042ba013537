"""Back to ice after the hot bath: has the sensor come back to what it was?"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from thermofit.budget import Budget, Contribution, require_number
from thermofit.curve import Curve
from thermofit.errors import ExtrapolationError, InputError
from thermofit.interval import coverage_factor, format_pair
from thermofit.units import format_ohm

__all__ = ["ReturnToIce", "back_to_ice"]

_STAYED = "no shift beyond what the readings do not know"
_SHIFTED = "shifted: wet, damaged or not yet at rest: dry it, wait, measure again"
_FELL = (
    "a falling resistance points to moisture that leaks in parallel, or to an NTC that is still "
    "warm"
)
_ROSE = "a rising resistance points to a damaged element or contact"


@dataclass(frozen=True)
class ReturnToIce:
    """Resistance at ice before and after a hot bath, and what their difference means.

    Parameters
    ----------
    before, after : Budget
        Resistances in ohms.
    alpha_per_k : float, optional
        Temperature coefficient at 0 °C per kelvin, negative for an NTC; without it nothing is
        said in kelvin.
    ice_difference_k : float, optional
        Limit ± of the difference in temperature between both ice baths, in kelvin.  None: they
        are taken as equally cold.
    coverage : float
        Probability of the interval that a shift must leave to be called one.

    Raises
    ------
    InputError
        Budgets that are not of ohms or not positive, a temperature coefficient that is none,
        a difference of the ice without one, or a coverage that is no probability.
    """

    before: Budget
    after: Budget
    alpha_per_k: float | None = None
    ice_difference_k: float | None = None
    coverage: float = 0.95

    def __post_init__(self) -> None:
        for when, budget in (("before", self.before), ("after", self.after)):
            if budget.unit != "Ω":
                raise InputError(
                    f"the reading {when} is in {budget.unit!r}; give the resistance in Ω, as "
                    "Meter.measure does"
                )
            require_number(budget.value, f"the resistance {when}", "Ω", above=0.0)
        if self.alpha_per_k is not None:
            alpha = require_number(self.alpha_per_k, "alpha_per_k", "1/K")
            if not 0.0 < abs(alpha) < 1.0:
                raise InputError(
                    f"alpha_per_k = {alpha:g} is no temperature coefficient per kelvin; one of "
                    "−5.1 %/K is −0.051"
                )
        if self.ice_difference_k is not None:
            require_number(self.ice_difference_k, "ice_difference_k", "K", least=0.0)
            if self.alpha_per_k is None:
                raise InputError(
                    f"ice_difference_k = {self.ice_difference_k:g} K says nothing of a resistance "
                    "without a temperature coefficient; give alpha_per_k or a curve"
                )
        coverage_factor(self.coverage)  # refuses what is no probability now

    @cached_property
    def log_ratio(self) -> Budget:
        """ln(after/before), of no unit; what both readings share is in it with both signs."""
        parts = [*_relative(self.after, "after", 1.0), *_relative(self.before, "before", -1.0)]
        if self.ice_difference_k is not None and self.alpha_per_k is not None:
            parts.append(
                Contribution(
                    "difference of the ice", self.ice_difference_k, sensitivity=self.alpha_per_k
                )
            )
        return Budget(
            math.log(self.after.value / self.before.value),
            "",
            parts,
            [
                (f"{when}: {one}", f"{when}: {other}", r)
                for when, budget in (("after", self.after), ("before", self.before))
                for one, other, r in budget.correlations
            ],
        )

    @property
    def shift_pct(self) -> float:
        """Shift in percent of the resistance before."""
        return 100.0 * math.expm1(self.log_ratio.value)

    @property
    def u_shift_pct(self) -> float:
        """Standard uncertainty of `shift_pct`, in percent."""
        ratio = self.after.value / self.before.value
        return 100.0 * ratio * self.log_ratio.standard_uncertainty

    @property
    def shift_k(self) -> float | None:
        """What the shift does to a temperature that is read, in kelvin; None without α."""
        return None if self.alpha_per_k is None else self.log_ratio.value / self.alpha_per_k

    @property
    def u_shift_k(self) -> float | None:
        """Standard uncertainty of `shift_k`, in kelvin; None without α."""
        if self.alpha_per_k is None:
            return None
        return self.log_ratio.standard_uncertainty / abs(self.alpha_per_k)

    @property
    def shifted(self) -> bool:
        """Whether the shift leaves its coverage interval around zero."""
        return abs(self.log_ratio.value) > self.log_ratio.expanded_uncertainty(self.coverage)

    @property
    def verdict(self) -> str:
        """What it means, in a sentence."""
        return _SHIFTED if self.shifted else _STAYED

    @property
    def hint(self) -> str:
        """Where the direction of a shift points; empty without a shift."""
        if not self.shifted:
            return ""
        return _FELL if self.log_ratio.value < 0.0 else _ROSE

    def __str__(self) -> str:
        pct, u_pct = format_pair(self.shift_pct, self.u_shift_pct)
        lines = [
            f"at ice {format_ohm(self.before.value)} before and {format_ohm(self.after.value)} "
            "after the hot bath",
            f"shift {_signed(pct)} %, standard uncertainty {u_pct} %",
        ]
        if self.shift_k is not None and self.u_shift_k is not None:
            kelvin, u_k = format_pair(self.shift_k, self.u_shift_k)
            lines.append(f"it reads {_signed(kelvin)} K, standard uncertainty {u_k} K")
        lines.append(f"{self.verdict} (at {100.0 * self.coverage:g} % coverage)")
        if self.hint:
            lines.append(self.hint)
        if self.ice_difference_k is None:
            lines.append("(the ice is taken as equally cold both times)")
        return "\n".join(lines)


def back_to_ice(
    before: Budget,
    after: Budget,
    *,
    alpha_per_k: float | None = None,
    curve: Curve | None = None,
    ice_difference_k: float | None = None,
    coverage: float = 0.95,
) -> ReturnToIce:
    """Compare the resistance at ice before and after a hot bath.

    Parameters
    ----------
    before, after : Budget
        Resistances in ohms, from `Meter.measure`.
    alpha_per_k : float, optional
        Temperature coefficient at 0 °C per kelvin, negative for an NTC.
    curve : Curve, optional
        Where it is taken from instead.  Without both, the shift is given in percent only.
    ice_difference_k : float, optional
        Limit ± of the difference in temperature between both ice baths, in kelvin.  Without
        it they are taken as equally cold, which the result says.
    coverage : float
        Probability of the interval that a shift must leave to be called one.

    Returns
    -------
    ReturnToIce

    Raises
    ------
    InputError
        Budgets that are not of ohms, `alpha_per_k` and `curve` at once, or as for
        `ReturnToIce`.
    ExtrapolationError
        The curve is not valid at 0 °C.

    Notes
    -----
    The shift is ln(after/before), in kelvin that over α.  What both readings share, such as
    the accuracy of one meter range, has both signs in it and cancels (JCGM 100, 5.2.2 and
    F.1.2.3); that supposes that the meter itself did not drift in between.  Without
    `ice_difference_k` the readings alone are weighed, and one step of the display is already
    more than two resolutions allow at 95 % coverage.

    Examples
    --------
    A fan-aspirated sensor of a glasshouse, before and after 70 °C (invented readings).

    >>> import thermofit as tf
    >>> meter = tf.Meter.parse("0.8%+3 @40k/10")
    >>> print(back_to_ice(meter.measure(32600.0), meter.measure(32210.0), alpha_per_k=-0.051,
    ...                   ice_difference_k=0.1))
    at ice 32.600 kΩ before and 32.210 kΩ after the hot bath
    shift -1.20 %, standard uncertainty 0.29 %
    it reads +0.236 K, standard uncertainty 0.058 K
    shifted: wet, damaged or not yet at rest: dry it, wait, measure again (at 95 % coverage)
    a falling resistance points to moisture that leaks in parallel, or to an NTC that is still warm
    """
    if curve is not None:
        if alpha_per_k is not None:
            raise InputError("alpha_per_k and a curve were given; leave one of the two out")
        if not curve.in_range(0.0):
            raise ExtrapolationError(
                f"the curve is valid from {curve.t_min_c:g} to {curve.t_max_c:g} °C, which leaves "
                "out the ice; give alpha_per_k at 0 °C"
            )
        alpha_per_k = curve.alpha(0.0)
    return ReturnToIce(before, after, alpha_per_k, ice_difference_k, coverage)


def _relative(budget: Budget, when: str, sign: float) -> Iterator[Contribution]:
    for part in budget.contributions:
        yield replace(
            part,
            name=f"{when}: {part.name}",
            sensitivity=sign * part.sensitivity / budget.value,
        )


def _signed(text: str) -> str:
    return text if text.startswith("-") else f"+{text}"
