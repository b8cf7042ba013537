"""The causes, ranked, as a person reads them and as another program uses them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from thermofit.circuit.faultrows import CAUTIONS
from thermofit.circuit.seen import MEASURE
from thermofit.decide.cause.kinds import ELSE, GOOD, Part
from thermofit.decide.cause.nexttest import NextTest
from thermofit.decide.cause.spot import SpotReading
from thermofit.errors import InputError
from thermofit.interval import Interval
from thermofit.texttable import aligned, format_probability
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
_SHOWN = 0.01
_NEXT = 2
_SIZES: Final = (
    ("gamma", "R25"), ("beta", "B"), ("contact_ohm", "contact"), ("leak_ohm", "leakage"),
)  # fmt: skip
_WHERE: Final[dict[Part, str]] = {
    "none": "nothing wrong", "sensor": "the sensor", "wiring": "the wiring",
    "controller": "the controller", "both": "two places at once", "unknown": "something else",
}  # fmt: skip


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
        The most probable of the other families, where the wrong part is fitted.
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

    def sizes(self) -> str:
        """Give the sizes under this cause in words."""
        told = [self.other] if self.other else []
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
class Causes:
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
        raise InputError(
            f"{cause!r} was not weighed; the causes are {', '.join(row.cause for row in self.rows)}"
        )

    def to_frame(self) -> pd.DataFrame:
        """Give the causes as a pandas frame, a row for each, ranked."""
        import pandas as pd

        columns: dict[str, list[object]] = {
            name: [getattr(row, name) for row in self.rows]
            for name in ("cause", "part", "probability", "prior", "other")
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
        lines = [self._headline(), ""]
        shown = [row for row in self.rows if row.probability >= _SHOWN]
        table = [["cause", "probability", "if so"]]
        table += [[r.cause, format_probability(r.probability), r.sizes()] for r in shown]
        lines += _left(table)
        hidden = len(self.rows) - len(shown)
        if hidden:
            lines.append(f"  and {hidden} more, each below 1 %")
        places = sorted(self.where.items(), key=lambda item: -item[1])
        told = [
            f"{_WHERE[part]} {format_probability(p)}"  # type: ignore[index]
            for part, p in places if p >= _SHOWN
        ]  # fmt: skip
        lines += ["", f"  where: {', '.join(told)}"]
        lines += [f"  {text}" for text in self.disagreements]
        if self.unidentified:
            lines.append("  not told by these readings:")
            lines += [f"  - {text}" for text in self.unidentified]
        open_ones = [f"{row.cause}: {row.left_open()}" for row in shown if row.left_open()]
        if open_ones:
            lines.append(f"  - sizes, about as open as beforehand: {'; '.join(open_ones)}")
        telling = [test for test in self.next_tests if test.bits >= 0.05][:_NEXT]
        lines += [f"  next: {test}" for test in telling]
        if self.next_tests and not telling:
            lines.append("  next: no further measurement is expected to tell the causes apart")
        lines += [f"  also: {text}" for text in self.next_steps]
        lines += [f"  ({note})" for note in self.notes]
        return "\n".join([*lines, *(f"! {text}" for text in self.cautions)])

    def __repr__(self) -> str:
        return f"<Causes: {self.verdict}, {self.rows[0].cause} {self.rows[0].probability:.3f}>"

    def _headline(self) -> str:
        lead = self.rows[0]
        probability = format_probability(lead.probability)
        if self.verdict == CANNOT_TELL:
            part, p = max(self.where.items(), key=lambda item: item[1])
            text = f"cannot tell: the most probable cause, {lead.cause}, has {probability}"
            if p >= _LEAST and part not in ("none", "both", "unknown"):
                where = _WHERE[part]  # type: ignore[index]
                text += f"; but that it lies in {where} has {format_probability(p)}"
            return text
        if lead.cause == GOOD:
            return f"nothing wrong found, {probability}: sensor and wiring read as {self.family}"
        if lead.cause == ELSE:
            return (
                f"something else, {probability}: no cause makes these readings; check them, "
                "their units, their temperatures, and that both leads were disconnected"
            )
        sizes = lead.sizes()
        return f"{lead.cause}, {probability}{f': {sizes}' if sizes else ''}"


def _left(rows: list[list[str]]) -> list[str]:
    """Align; the last column holds words."""
    table = aligned([row[:2] for row in rows], indent="  ").split("\n")
    width = max(map(len, table))
    return [
        f"{line.ljust(width)}  {row[2]}".rstrip() for line, row in zip(table, rows, strict=True)
    ]


def verdict_of(rows: tuple[CauseRow, ...]) -> str:
    """Give the leading cause, or "cannot tell"."""
    return rows[0].cause if rows[0].probability >= _LEAST else CANNOT_TELL
