"""A log: times, and the temperatures or resistances at them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.errors import InputError
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["StepLog"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StepLog:
    """Readings of one sensor in the order of time.

    Parameters
    ----------
    t_s : array_like, shape (n,)
        Times in seconds, each later than the one before.
    t_c : array_like, shape (n,), optional
        Temperatures in °C.
    r_ohm : array_like, shape (n,), optional
        Resistances in ohms; one of the two.
    source : str
        Where the readings come from.
    notes : tuple of str
        What was taken for granted when they were read.

    Raises
    ------
    InputError
        NaN, times that run backwards or repeat, unequal lengths, a temperature below
        absolute zero, a resistance that is not positive; both quantities, or neither.

    Examples
    --------
    >>> log = StepLog([0.0, 2.0, 4.1], [22.0, 22.1, 23.9])
    >>> len(log), log.r_ohm is None
    (3, True)
    """

    t_s: Array
    t_c: Array | None
    r_ohm: Array | None
    source: str
    notes: tuple[str, ...]

    def __init__(
        self,
        t_s: npt.ArrayLike,
        t_c: npt.ArrayLike | None = None,
        r_ohm: npt.ArrayLike | None = None,
        *,
        source: str = "",
        notes: tuple[str, ...] = (),
    ) -> None:
        if (t_c is None) == (r_ohm is None):
            what = "neither" if t_c is None else "both"
            raise InputError(
                f"a log has temperatures (t_c) or resistances (r_ohm), and {what} are given"
            )
        times = _column(t_s, "t_s", "s")
        values = {
            name: None if given is None else _column(given, name, unit)
            for name, given, unit in (("t_c", t_c, "°C"), ("r_ohm", r_ohm, "Ω"))
        }
        for name, column in values.items():
            if column is not None and len(column) != len(times):
                raise InputError(
                    f"{len(times)} times do not go with {len(column)} values of {name}"
                )
        back = np.flatnonzero(np.diff(times) <= 0.0)
        if back.size:
            at = int(back[0])
            what = "repeats" if times[at + 1] == times[at] else "runs backwards"
            raise InputError(
                f"time {what}: reading {at + 2} is at {times[at + 1]:g} s, after {times[at]:g} s; "
                "put the readings in order, or use one run of the log"
            )
        for name, least, words in (
            ("t_c", -ZERO_C_K, "°C, not above absolute zero"),
            ("r_ohm", 0.0, "Ω; a resistance is above zero"),
        ):
            column = values[name]
            if column is not None and (column <= least).any():
                at = int(np.argmax(column <= least))
                raise InputError(f"{name}: reading {at + 1} is {column[at]:g} {words}")
        fields = {"t_s": times, **values, "source": source, "notes": tuple(notes)}
        for name, value in fields.items():
            object.__setattr__(self, name, value)

    def __len__(self) -> int:
        return len(self.t_s)

    def to_frame(self) -> pd.DataFrame:
        """Give the log as a pandas frame: ``t_s``, and ``t_c`` or ``r_ohm``."""
        import pandas as pd

        columns = {"t_s": self.t_s, "t_c": self.t_c, "r_ohm": self.r_ohm}
        return pd.DataFrame({k: column for k, column in columns.items() if column is not None})

    def __repr__(self) -> str:
        what = "temperatures" if self.r_ohm is None else "resistances"
        return f"<StepLog of {len(self)} {what}{self.source and f' from {self.source}'}>"


def _column(values: npt.ArrayLike, name: str, unit: str) -> Array:
    column = np.array(as_float_array(values, name))
    if column.ndim != 1 or not column.size:
        raise InputError(f"{name} must be one row of numbers, shape (n,), not {column.shape}")
    bad = np.flatnonzero(~np.isfinite(column))
    if bad.size:
        raise InputError(
            f"{name}: reading {int(bad[0]) + 1} is {column[bad[0]]}, no finite number in {unit} "
            f"({bad.size} in all); leave the whole reading out"
        )
    column.flags.writeable = False
    return column
