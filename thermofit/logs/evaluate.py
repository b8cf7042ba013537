"""One block of a log: from its cells to the values of the new columns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, Protocol

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import CellProblem, ExtrapolationError, FileError
from thermofit.logs.columns import ValueColumn
from thermofit.logs.summary import Counts
from thermofit.units import ZERO_C_K

__all__ = ["Block", "Unusable", "Work"]

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Unusable = Literal["refuse", "blank"]

_MOST_PROBLEMS: Final = 20


class Block(Protocol):
    """Some rows of a log, of whatever format."""

    def __len__(self) -> int: ...

    def values(self, column: int) -> tuple[Array, Bools]:
        """Numbers of a column, NaN for what is blank; and which cells are no number."""

    def text(self, row: int, column: int) -> str:
        """One cell, for a message."""

    def number(self, row: int) -> int:
        """What a row is called in messages."""

    def arrow_columns(self) -> list[Any]:
        """All columns, as pyarrow arrays."""


@dataclass(frozen=True, eq=False)
class Work:
    """What is done with every block.

    Parameters
    ----------
    path : str
        The file, for errors.
    curve : Curve
    column : ValueColumn
    unusable : {"refuse", "blank"}
        What becomes of a cell that no sensor can have.
    strict : bool
        Whether to refuse what is outside the valid range.
    with_u : bool
        Whether standard uncertainties are wanted.
    u_part, u_fixed : float
        Standard uncertainty of the readings: part of them, and in Ω or K.
    """

    path: str
    curve: Curve
    column: ValueColumn
    unusable: Unusable
    strict: bool
    with_u: bool
    u_part: float
    u_fixed: float

    @property
    def to_temperature(self) -> bool:
        """Whether temperatures are computed."""
        return self.column.quantity == "resistance"

    def of(self, block: Block) -> tuple[list[Array], Counts]:
        """Compute the new columns of a block.

        Extrapolation is counted; the curve's own warnings are up to the caller to silence.

        Raises
        ------
        FileError
            Cells that are no number, or none that a sensor can have.
        ExtrapolationError
            With `strict`, a value outside the valid range.
        """
        if not len(block):
            return [np.empty(0)] * (1 + self.with_u), Counts()
        raw, unreadable = block.values(self.column.place)
        values = self.column.si(raw)
        least = 0.0 if self.to_temperature else -ZERO_C_K
        bad = unreadable | (values <= least) | np.isinf(values)
        if bad.any():
            if self.unusable == "refuse":
                raise self._refusal(block, bad, unreadable)
            values = np.where(bad, np.nan, values)
        if self.with_u:
            new = self._with_uncertainty(values)
        else:
            convert = self.curve.temperature if self.to_temperature else self.curve.resistance
            new = [convert(values)]
        return new, self._counts(block, values, new[0], bad)

    def _with_uncertainty(self, values: Array) -> list[Array]:
        if self.to_temperature:
            u: Any = None
            if self.u_part or self.u_fixed:
                u = np.where(np.isnan(values), 0.0, self.u_part * values + self.u_fixed)
            interval = self.curve.temperature_interval(values, u)
        else:
            interval = self.curve.resistance_interval(values, self.u_fixed or None)
        return [interval.value, interval.standard_uncertainty]

    def _counts(self, block: Block, values: Array, new: Array, bad: Bools) -> Counts:
        blank = np.isnan(values) & ~bad
        t_c = new if self.to_temperature else values
        beyond = ~(self.curve.in_range(t_c) & np.isfinite(new) | np.isnan(values))
        if beyond.any() and self.strict:
            row = int(np.argmax(beyond))
            raise ExtrapolationError(
                f"{self.path}: {self._cell(block, row)}: outside the curve's valid range of "
                f"{self.curve.t_min_c:.6g} to {self.curve.t_max_c:.6g} °C; leave strict out, or "
                "take a curve that is valid there"
            )
        finite = new[np.isfinite(new)]
        return Counts(
            len(values),
            int(blank.sum()),
            int(bad.sum()),
            int(beyond.sum()),
            int((beyond & np.isnan(new)).sum()),
            _first(block, blank),
            _first(block, bad),
            _first(block, beyond),
            float(finite.min()) if finite.size else np.nan,
            float(finite.max()) if finite.size else np.nan,
        )

    def _cell(self, block: Block, row: int) -> str:
        text = block.text(row, self.column.place)
        return f"row {block.number(row)}, column {self.column.name!r}, value {text!r}"

    def _refusal(self, block: Block, bad: Bools, unreadable: Bools) -> FileError:
        problems = []
        for row in np.flatnonzero(bad)[:_MOST_PROBLEMS].tolist():
            if unreadable[row]:
                reason = "not a number"
            elif self.to_temperature:
                reason = "no resistance of a sensor, which is above zero and finite: shorted, open?"
            else:
                reason = "no temperature, which is above absolute zero and finite"
            problems.append(
                CellProblem(
                    f"{reason}; correct it, or let such cells stay blank (unusable='blank')",
                    row=block.number(row),
                    column=self.column.name,
                    value=block.text(row, self.column.place),
                )
            )
        return FileError(self.path, problems)


def _first(block: Block, chosen: Bools) -> int | None:
    return block.number(int(np.argmax(chosen))) if chosen.any() else None
