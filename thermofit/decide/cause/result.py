"""The causes, ranked, as a person reads them and as another program uses them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from thermofit.circuit.faultrows import CAUTIONS
from thermofit.circuit.seen import MEASURE
from thermofit.decide.cause.kinds import Part
from thermofit.decide.cause.nexttest import NextTest
from thermofit.decide.cause.spot import SpotReading
from thermofit.errors import UnknownNameError
from thermofit.interval import Interval
from thermofit.notebook import ShownInNotebooks
from thermofit.texttable import format_probability
from thermofit.units import format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CANNOT_TELL", "CauseRow", "Causes", "verdict_of"]

CANNOT_TELL: Final = "cannot tell"

CAUSE_CAUTIONS: Final = (
    *CAUTIONS,
    MEASURE,
    "A pass at two temperatures does not exclude an intermittent fault.",
)

_LEAST = 0.5
_NAMED = 0.9  # share from which another part is named without a perhaps
_SIZES: Final = (
    ("gamma", "R25"), ("beta", "B"), ("contact_ohm", "contact"), ("leak_ohm", "leakage"),
)  # fmt: skip


@dataclass(frozen=True, eq=False)
class CauseRow:
    """One cause.

    Parameters
    ----------
    cause : str
    part : {"none", "sensor", "wiring", "controller", "both", "unknown"}
        Where it lies.
    probability, prior : float
        After the readings, and before.
    gamma, beta, contact_ohm, leak_ohm : Interval or None
        Under this cause: place of the sensor, series resistance and leakage; None for what the
        cause does not have, and where it is next to impossible.
    undetermined : tuple of str
        Which of these the readings leave about as open as they were.
    other : str
        The most probable of the other families, where the wrong part is fitted; the place is
        of that one.
    other_share : float
        Its probability if the wrong part is fitted; NaN without one.
    """

    cause: str
    part: Part
    probability: float
    prior: float
    gamma: Interval | None = None
    beta: Interval | None = None
    contact_ohm: Interval | None = None
    leak_ohm: Interval | None = None
    undetermined: tuple[str, ...] = ()
    other: str = ""
    other_share: float = np.nan

    def sizes(self) -> str:
        """Give the sizes under this cause in words."""
        told = []
        if self.other_share >= _NAMED:
            told = [self.other]
        elif self.other:
            told = [f"perhaps {self.other}, {format_probability(self.other_share)} of these"]
        for name, one in (("contact", self.contact_ohm), ("leakage", self.leak_ohm)):
            if one is not None:
                ends = f"{format_ohm(one.low, 3)} to {format_ohm(one.high, 3)}"
                told.append(f"{name} {format_ohm(one.value, 3)} ({ends})")
        for name, place, log in (("R25", self.gamma, True), ("B", self.beta, False)):
            if place is not None and self.part in ("sensor", "both"):
                numbers = np.array([place.value, place.low, place.high])
                off, low, high = 100.0 * (np.expm1(numbers) if log else numbers)
                told.append(f"{name} {off:+z.1f} % ({low:+z.1f} to {high:+z.1f})")
        return ", ".join(told)

    def left_open(self) -> str:
        """Give the sizes that belong to this cause and stay open, in words."""
        faulty = _SIZES if self.part in ("sensor", "both") else _SIZES[2:]
        return ", ".join(word for name, word in faulty if name in self.undetermined)


@dataclass(frozen=True, eq=False)
class Causes(ShownInNotebooks):
    """What is wrong between a sensor and its controller.

    Made by `causes`; sensor, wiring or controller is more than yes or no, so compare `verdict`.

    Parameters
    ----------
    rows : tuple of CauseRow
        The most probable first.
    verdict : str
        The leading cause, or "cannot tell" where it has less than one half.
    where : mapping of str to float
        Probability that the fault lies in the sensor, the wiring, the controller, in two of
        these ("both"), nowhere ("none"), or is none of the causes ("unknown").
    next_tests : tuple of NextTest
        Measurements, the most telling first.
    next_steps : tuple of str
        What else helps, by rule.
    unidentified : tuple of str
        What these readings cannot tell apart.
    disagreements : tuple of str
        Repeated readings that differ.
    family : str
    readings : tuple of SpotReading
    notes : tuple of str
        What was taken for granted.
    cautions : tuple of str
    """

    rows: tuple[CauseRow, ...]
    verdict: str
    where: Mapping[str, float]
    next_tests: tuple[NextTest, ...]
    next_steps: tuple[str, ...]
    unidentified: tuple[str, ...]
    disagreements: tuple[str, ...]
    family: str
    readings: tuple[SpotReading, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUSE_CAUTIONS

    @property
    def leading(self) -> str:
        """The most probable cause, however probable; `verdict` says whether that is enough."""
        return self.rows[0].cause

    def __iter__(self) -> Iterator[CauseRow]:
        return iter(self.rows)

    def __getitem__(self, cause: str) -> CauseRow:
        for row in self.rows:
            if row.cause == cause:
                return row
        raise UnknownNameError(
            f"{cause!r} was not weighed; the causes are {', '.join(row.cause for row in self.rows)}"
        )

    def to_frame(self) -> pd.DataFrame:
        """Give the causes as a pandas frame, a row for each, ranked."""
        import pandas as pd

        columns: dict[str, list[object]] = {
            name: [getattr(row, name) for row in self.rows]
            for name in ("cause", "part", "probability", "prior", "other", "other_share")
        }
        for name in ("gamma", "beta", "contact_ohm", "leak_ohm"):
            every = [getattr(row, name) for row in self.rows]
            for suffix, own in (("", "value"), ("_low", "low"), ("_high", "high")):
                columns[f"{name}{suffix}"] = [
                    np.nan if one is None else getattr(one, own) for one in every
                ]
        columns["undetermined"] = [", ".join(row.undetermined) for row in self.rows]
        return pd.DataFrame(columns)

    def __str__(self) -> str:
        from thermofit.decide.cause.text import told

        return told(self)

    def __repr__(self) -> str:
        return f"<Causes: {self.verdict}, {self.rows[0].cause} {self.rows[0].probability:.3f}>"


def verdict_of(rows: tuple[CauseRow, ...]) -> str:
    """Give the leading cause, or "cannot tell"."""
    return rows[0].cause if rows[0].probability >= _LEAST else CANNOT_TELL
