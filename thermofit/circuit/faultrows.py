"""Faults of a sensor and its wiring, and what becomes of each: the rows and their table."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from thermofit.texttable import aligned

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CAUTIONS", "Errs", "FaultRow", "Faults", "Kind"]

Kind = Literal[
    "none", "open", "sensor shorted", "short to ground", "short to supply", "corroded contact",
    "moisture", "wrong part", "supply sag",
]  # fmt: skip
Errs = Literal["colder", "warmer", "right", "unknown"]

CAUTIONS = (
    "Switch the controlled load off before a sensor is opened or shorted: many controllers take "
    "an open NTC for great cold, and drive a heater on.",
    "Isolate the power before a sensor is unplugged; one that is fed from the mains can be live.",
)


@dataclass(frozen=True)
class FaultRow:
    """One fault at one temperature.

    Parameters
    ----------
    kind : str
    detail : str
        Its size: "1.0000 kΩ in series" …
    t_c : float
        True temperature of the sensor, in °C.
    r_ohm : float
        Resistance between the sensor's leads, in ohms.
    voltage_v, counts : float
        What the converter sees.
    reads_c : float
        Temperature, in °C, that the controller computes with the curve that it assumes; NaN where
        that curve has none.
    beyond_curve : bool
        `reads_c` lies outside the valid range of that curve, or has no value: what a controller
        makes of such a code is its own affair.
    end_of_scale : bool
        The code is the first or the last: `reads_c` is the end of what can be read, and the
        sensor is there or anywhere beyond.
    caught : bool or None
        Whether the fault limits catch it; None where they are not known.
    errs : {"colder", "warmer", "right", "unknown"}
        Which way `reads_c` errs; "right" is within a count.
    uses_c : float
        What the controller goes by: the fallback reading where the fault is caught (NaN where it is
        not stated), or else `reads_c`.
    use_errs : {"colder", "warmer", "right", "unknown"}
        Which way that errs.
    detection : str
        What becomes of it, in words.
    then_runs : str
        What a controller of heating and vents that goes by `uses_c` would do.
    """

    kind: Kind
    detail: str
    t_c: float
    r_ohm: float
    voltage_v: float
    counts: float
    reads_c: float
    beyond_curve: bool
    end_of_scale: bool
    caught: bool | None
    errs: Errs
    uses_c: float
    use_errs: Errs
    detection: str
    then_runs: str


@dataclass(frozen=True)
class Faults:
    """Faults, and what a controller makes of each.

    Parameters
    ----------
    rows : tuple of FaultRow
    cautions : tuple of str
    """

    rows: tuple[FaultRow, ...]
    cautions: tuple[str, ...] = CAUTIONS

    def __iter__(self) -> Iterator[FaultRow]:
        return iter(self.rows)

    def of(self, kind: Kind) -> tuple[FaultRow, ...]:
        """Rows of one kind of fault."""
        return tuple(row for row in self.rows if row.kind == kind)

    def to_frame(self) -> pd.DataFrame:
        """Give the rows as a pandas frame."""
        import pandas as pd

        names = [field.name for field in dataclasses.fields(FaultRow)]
        return pd.DataFrame({name: [getattr(row, name) for row in self.rows] for name in names})

    def __str__(self) -> str:
        header = ["fault", "size", "detection", "t / °C", "V / V", "counts", "reads / °C", "errs",
                  "goes by"]  # fmt: skip
        rows = [
            [
                row.kind, row.detail, row.detection, f"{row.t_c:g}", f"{row.voltage_v:.3f}",
                f"{row.counts:.0f}", _reading(row), row.errs,
                row.use_errs,
            ]
            for row in self.rows
        ]  # fmt: skip
        runs = dict.fromkeys((row.use_errs, row.then_runs) for row in self.rows if row.then_runs)
        beyond = "(outside the curve's valid range a reading is extrapolated)"
        return "\n".join([
            aligned([header, *rows], left=3),
            *([beyond] if any(row.beyond_curve for row in self.rows) else []),
            *(f"(goes by a reading {way}: {then})" for way, then in runs if way != "unknown"),
            *(f"! {text}" for text in self.cautions),
        ])  # fmt: skip


def _reading(row: FaultRow) -> str:
    if not np.isfinite(row.reads_c):
        return "beyond the curve"
    return f"{row.reads_c:.1f} or beyond" if row.end_of_scale else f"{row.reads_c:.1f}"
