"""What is put between the terminals: one part or two, with or without resistors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.substitute.candidates import Candidate
from thermofit.decide.substitute.ohms import Joined, Ohms, join, ohms_of, trim
from thermofit.units import format_ohm

__all__ = ["Network"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Network:
    """One part, or two joined, with a resistor across them and another in series.

    Parameters
    ----------
    parts : tuple of Candidate
        One or two.
    joined : {"series", "parallel"} or None
        How two parts are joined.
    series_ohm, parallel_ohm : float
        Resistors; 0 and infinite where there is none.
    resistor_pct : float
        Their limits ±, in percent.
    """

    parts: tuple[Candidate, ...]
    joined: Joined | None = None
    series_ohm: float = 0.0
    parallel_ohm: float = np.inf
    resistor_pct: float = 0.0

    @property
    def trimmed(self) -> bool:
        """Whether there is a resistor."""
        return self.series_ohm > 0.0 or bool(np.isfinite(self.parallel_ohm))

    @property
    def name(self) -> str:
        """Names of its parts."""
        if self.joined is None:
            return self.parts[0].name
        one, two = (part.name for part in self.parts)
        both = f"2 × {one}" if one == two else f"{one} + {two}"
        return f"{both} in {self.joined}"

    @property
    def resistors(self) -> str:
        """Its resistors, in words."""
        words = []
        if np.isfinite(self.parallel_ohm):
            words.append(f"{format_ohm(self.parallel_ohm, 3)} across")
        if self.series_ohm:
            words.append(f"{format_ohm(self.series_ohm, 3)} in series")
        return ", ".join(words)

    def bare(self, t_c: Array) -> Ohms:
        """Resistance of its parts, without the resistors, of shape (1, m)."""
        found = [ohms_of([one.part], t_c) for one in self.parts]
        return found[0] if self.joined is None else join(found[0], found[1], self.joined)

    def ohms(self, t_c: Array) -> Ohms:
        """Resistance between the terminals, of shape (1, m)."""
        whole = self.bare(t_c)
        if not self.trimmed:
            return whole
        return trim(whole, self.series_ohm, self.parallel_ohm, self.resistor_pct)

    @property
    def open_ohm(self) -> tuple[float, float]:
        """Limits of the resistance with the parts open."""
        return self._ends(self.parallel_ohm + self.series_ohm)

    @property
    def short_ohm(self) -> tuple[float, float]:
        """Limits of the resistance with the parts shorted."""
        return self._ends(self.series_ohm)

    def _ends(self, r_ohm: float) -> tuple[float, float]:
        off = 0.01 * self.resistor_pct
        return r_ohm * (1.0 - off), r_ohm * (1.0 + off)
