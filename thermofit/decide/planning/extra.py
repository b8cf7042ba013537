"""What one more bath would bring."""

from __future__ import annotations

from dataclasses import dataclass

from thermofit.decide.planning.choice import Choice
from thermofit.readings import Reading

__all__ = ["ExtraPoint"]


@dataclass(frozen=True, eq=False)
class ExtraPoint:
    """A choice of baths without one more, and with it.

    Parameters
    ----------
    reading : Reading
        The one more, as it is expected.
    before, after : Choice
    """

    reading: Reading
    before: Choice
    after: Choice

    @property
    def t_c(self) -> float:
        """Temperature of the extra bath in °C."""
        return self.reading.temperature.value

    @property
    def u_t_k(self) -> float:
        """Its standard uncertainty in kelvin."""
        return self.reading.temperature.standard_uncertainty

    def __str__(self) -> str:
        from thermofit.decide.planning.wording import extra_text

        return extra_text(self)
