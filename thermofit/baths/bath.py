"""A reference temperature with its budget and its cautions."""

from __future__ import annotations

from dataclasses import dataclass

from thermofit.budget import Budget

__all__ = ["KEEP_METER_DRY", "SCALDING", "Bath"]

SCALDING = "Hot water and steam scald: keep hands and face away, and let it cool before emptying."
KEEP_METER_DRY = "Keep the meter, its probes and the bare ends of the sensor's leads dry."


@dataclass(frozen=True)
class Bath:
    """Where a sensor was measured.

    Parameters
    ----------
    kind : str
        "ice point", "boiling water", …
    budget : Budget
        The temperature in °C and what makes up its uncertainty.
    cautions : tuple of str
        What to mind at the bench.
    """

    kind: str
    budget: Budget
    cautions: tuple[str, ...] = (KEEP_METER_DRY,)

    @property
    def t_c(self) -> float:
        """Temperature in °C."""
        return self.budget.value

    @property
    def u_t_k(self) -> float:
        """Standard uncertainty in kelvin."""
        return self.budget.standard_uncertainty

    def __str__(self) -> str:
        return "\n".join([self.kind, str(self.budget), *(f"! {text}" for text in self.cautions)])
