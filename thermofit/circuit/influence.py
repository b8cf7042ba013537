"""What an error of the circuit is by: a quantity, its limits and its distribution."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from thermofit.budget import DIVISORS, Contribution, Distribution

__all__ = ["ABSOLUTE", "Influence", "limits", "limits_pct"]

ABSOLUTE: Final = frozenset({"counts", "leakage_a"})
"""Quantities whose deviations are added; those of all others are relative."""


@dataclass(frozen=True)
class Influence:
    """A quantity that deviates from its nominal value.

    Parameters
    ----------
    name : str
        What to call it in a budget.
    quantity : str
        What deviates: "pull_ohm", "leakage_a", "counts" …
    low, high : float
        Limits of the deviation, in `unit`.
    unit : str
        "%" for a relative deviation.
    standard_uncertainty : float
        In `unit`.
    distribution : {"rectangular", "normal"}
    note : str
        Where the number comes from.
    """

    name: str
    quantity: str
    low: float
    high: float
    unit: str
    standard_uncertainty: float
    distribution: Distribution = "rectangular"
    note: str = ""

    @property
    def ends(self) -> tuple[float, float]:
        """Limits of the deviation, relative ones as a fraction."""
        factor = 0.01 if self.unit == "%" else 1.0
        return self.low * factor, self.high * factor

    def contribution(self, sensitivity: float) -> Contribution:
        """Put it into a budget in kelvin.

        Parameters
        ----------
        sensitivity : float
            Kelvin per `unit`.

        Returns
        -------
        Contribution
        """
        k = None
        divisor = DIVISORS["rectangular"]
        if self.distribution == "normal":
            half = 0.5 * (self.high - self.low)
            k = divisor = half / self.standard_uncertainty
        return Contribution(
            self.name, self.standard_uncertainty * divisor, self.distribution, k, self.unit,
            sensitivity, note=self.note,
        )  # fmt: skip


def limits(
    name: str,
    quantity: str,
    half_width: float,
    unit: str,
    *,
    distribution: Distribution = "rectangular",
    k: float = 1.0,
    note: str = "",
) -> tuple[Influence, ...]:
    """Limits ± about the nominal value; nothing at all where they are zero."""
    if not half_width:
        return ()
    divisor = k if distribution == "normal" else DIVISORS[distribution]
    return (
        Influence(
            name, quantity, -half_width, half_width, unit, half_width / divisor, distribution, note
        ),
    )


def limits_pct(name: str, quantity: str, pct: float, note: str = "") -> tuple[Influence, ...]:
    """Limits ± in percent."""
    return limits(name, quantity, pct, "%", note=note)
