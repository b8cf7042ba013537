"""A meter range checked on a resistor: the gain error that was found, and what is left of it."""

from __future__ import annotations

import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace

from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError, ThermofitWarning
from thermofit.instruments.ranges import MeterRange
from thermofit.instruments.wording import mean_and_scatter, resolution, stated_kind
from thermofit.units import format_ohm

__all__ = ["MeterCheck", "check_of", "counts_of"]

_GROSS = 0.1
"""Beyond this it is another resistor, a prefix or a broken lead; common practice, no source."""


@dataclass(frozen=True)
class MeterCheck:
    """What one range of a meter showed on a resistor of known value.

    Parameters
    ----------
    checked : MeterRange
        The range, as its maker states it.
    resistor : Budget
        What the resistor has, in ohms.
    reading : Budget
        What the meter showed less the leads, in ohms, with all that may differ between this
        reading and another one, and without the gain error that it is there to find.
    word : str
        What is wrong, where meter or resistor is out of its stated limits.
    """

    checked: MeterRange
    resistor: Budget
    reading: Budget
    word: str = ""

    @property
    def ratio(self) -> float:
        """Factor that a reading is to be multiplied by."""
        return self.resistor.value / self.reading.value

    @property
    def relative_uncertainty(self) -> float:
        """Relative standard uncertainty of the corrected gain."""
        return math.hypot(
            self.resistor.standard_uncertainty / self.resistor.value,
            self.reading.standard_uncertainty / self.reading.value,
        )

    @property
    def helps(self) -> bool:
        """Whether the gain is known better than by its maker's limit, so that it is corrected."""
        return self.relative_uncertainty < self.checked.reading_pct / 100.0 / (
            3.0**0.5 if self.checked.k is None else self.checked.k
        )

    @property
    def summary(self) -> str:
        """What was found, for the note of a contribution."""
        found = (
            f"{format_ohm(self.resistor.value)} was shown as {format_ohm(self.reading.value)}, "
            f"corrected by {self.ratio:.6g}"
            if self.helps
            else f"a check on {format_ohm(self.resistor.value)} knows no more, so that nothing is "
            "corrected"
        )
        return f"{found}; {self.word}" if self.word else found

    def contributions(self, r_ohm: float) -> list[Contribution]:
        """What the check brings to a reading that it corrected to `r_ohm`.

        R = S·R_s/S_s: relative errors of the resistor R_s add to it, those of the reading S_s
        subtract.
        """
        parts = [
            replace(part, sensitivity=sign * part.sensitivity * r_ohm / budget.value)
            for budget, sign in ((self.resistor, 1.0), (self.reading, -1.0))
            for part in budget.contributions
        ]
        return [replace(parts[0], note=f"{parts[0].note}; {self.summary}"), *parts[1:]]


def counts_of(one: MeterRange, name: str, shared: str) -> list[Contribution]:
    """Give the counts of a range, which no check on one resistor removes."""
    if not one.counts or one.resolution_ohm is None:
        return []
    return [
        Contribution(
            name, one.counts * one.resolution_ohm, k=one.k, unit="Ω", shared=shared,
            note=f"± {one.counts:g} counts, {stated_kind(one.k)}",
        )
    ]  # fmt: skip


def check_of(
    meter: str,
    one: MeterRange,
    shown_ohm: float | Sequence[float],
    resistor_ohm: float,
    tolerance_pct: float | None,
    u_ohm: float | None,
    leads: Budget | None,
) -> MeterCheck:
    """Compare what a range shows with the resistor; `Meter.checked_on` says how."""
    shown, scatter = mean_and_scatter(shown_ohm, "Ω", meter)
    resistor = _resistor(resistor_ohm, tolerance_pct, u_ohm)
    net = shown - (leads.value if leads is not None else 0.0)
    if not abs(net / resistor_ohm - 1.0) <= _GROSS:
        raise InputError(
            f"{meter!r} shows {format_ohm(net)} on {format_ohm(resistor_ohm)}, which is no error "
            "of a gain; check both prefixes, the probes and which resistor it is"
        )
    scale = f" in {format_ohm(one.full_scale_ohm)}" if one.full_scale_ohm is not None else ""
    own = [
        *counts_of(one, f"{meter} counts", ""),
        *resolution(one.resolution_ohm, "Ω", meter),
        *scatter,
    ]
    # In each corrected reading the reading of the check is one error.
    parts = [
        replace(part, name=f"check: {part.name}", shared=f"check of {part.name}{scale}")
        for part in own
    ]
    if leads is not None:
        parts.append(
            Contribution(
                "check: leads", leads.standard_uncertainty, "normal", unit="Ω", sensitivity=-1.0,
                dof=leads.dof, shared=f"{meter} leads",
            )
        )  # fmt: skip
    half_step = 0.5 * (one.resolution_ohm or 0.0)
    leads_ohm = leads.expanded_uncertainty() if leads is not None else 0.0
    allowed = one.limit_ohm(shown) + half_step + leads_ohm + _limit(resistor)
    word = ""
    # A difference that is allowed to the last digit may exceed the sum by its rounding.
    if abs(net - resistor_ohm) > allowed * (1.0 + 1e-9):
        word = (
            f"{meter} or the resistor is out of its stated limits: {format_ohm(net)} is shown on "
            f"{format_ohm(resistor_ohm)}, and both together allow ± {allowed:.3g} Ω"
        )
        # Up to the caller: this function, checked_on, the caller.
        warnings.warn(f"{word}; check on another resistor", ThermofitWarning, stacklevel=3)
    return MeterCheck(one, resistor, Budget(net, "Ω", parts), word)


def _resistor(r_ohm: float, tolerance_pct: float | None, u_ohm: float | None) -> Budget:
    require_number(r_ohm, "the resistor", "Ω", above=0.0)
    if (tolerance_pct is None) == (u_ohm is None):
        raise InputError(
            "state how well the resistor is known, once: tolerance_pct for ± % as printed on it, "
            "or u_ohm, its standard uncertainty in ohms"
        )
    shared = f"check resistor of {format_ohm(r_ohm)}"
    if tolerance_pct is not None:
        require_number(tolerance_pct, "tolerance_pct", "%", least=0.0)
        part = Contribution(
            "check resistor", r_ohm * tolerance_pct / 100.0, "rectangular", unit="Ω",
            shared=shared, note=f"{format_ohm(r_ohm)} ± {tolerance_pct:g} %",
        )  # fmt: skip
    else:
        u = require_number(u_ohm, "u_ohm", "Ω", least=0.0)
        part = Contribution(
            "check resistor", u, k=1.0, unit="Ω", shared=shared,
            note=f"{format_ohm(r_ohm)}, standard uncertainty {u:g} Ω",
        )  # fmt: skip
    return Budget(r_ohm, "Ω", [part])


def _limit(resistor: Budget) -> float:
    """What the resistor allows: its tolerance, or the 95 % interval of its uncertainty."""
    (part,) = resistor.contributions
    return part.half_width if part.k is None else resistor.expanded_uncertainty()
