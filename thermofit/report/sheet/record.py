"""What a sheet holds, as values: what is written into it and read back from it."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.points import Points
from thermofit.readings import Reading

__all__ = ["SheetRecord"]


@dataclass(frozen=True, eq=False)
class SheetRecord:
    """The content of a bench sheet.

    Made by `thermofit.report.sheet.bench_sheet`, and by
    `thermofit.report.sheet.read_sheet` from the file alone.

    Parameters
    ----------
    title : str
        What the sensor is called on the sheet.
    date : datetime.date
        Day of the sheet.
    curve : Curve
        With covariance, range, source and id.
    points : Points or None
        What was measured, with standard uncertainties where they are known.
    readings : tuple of Reading
        The same with baths and budgets, where the sheet was made of such.
    family : str
        Id of the family that the sensor was held against; "" without one.
    verdict : mapping or None
        Figures of `thermofit.decide.Verdict`: "verdict", "probability", "cause", "reason",
        "gamma", "beta", "u_gamma", "u_beta", "correlation", "chi2", "dof", "p_value" by these
        names; "tolerance", "rule" and "prior" as texts, "risk", "notes", and "readings", a tuple
        of mappings.  NaN where nothing is known.
    coverage : float
        Probability of all intervals on the sheet.
    t_range_c : (float, float)
        First and last temperature of the table, in °C.
    step_k : float
        Step of the table, in kelvin.
    made_with : mapping of str to str
        Instruments and their stated accuracy.
    assumed, warnings, remarks, cautions : sequence of str
        What was taken as usual, what is doubtful, what else was found, what to mind; kept as
        tuples.
    versions : mapping of str to str
        Of thermofit and what it computed with.

    Raises
    ------
    InputError
        A text or a date that is something else.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report.sheet import bench_sheet
    >>> sheet = bench_sheet(tf.family("ntc-10k-3977").curve, t_range_c=(0, 60), pictures=False)
    >>> sheet.record.curve.id, sheet.record.step_k
    ('ntc-10k-3977', 1.0)
    """

    title: str
    date: datetime.date
    curve: Curve
    points: Points | None = None
    readings: tuple[Reading, ...] = ()
    family: str = ""
    verdict: Mapping[str, Any] | None = None
    coverage: float = 0.95
    t_range_c: tuple[float, float] = (0.0, 60.0)
    step_k: float = 1.0
    made_with: Mapping[str, str] = field(default_factory=dict)
    assumed: Sequence[str] = ()
    warnings: Sequence[str] = ()
    remarks: Sequence[str] = ()
    cautions: Sequence[str] = ()
    versions: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not isinstance(self.title, str):
            raise InputError(f"the title of a sheet is text, not {self.title!r}")
        # A date with a time of day is a date, too, and would not be read back.
        if type(self.date) is not datetime.date:
            raise InputError(f"the date of a sheet is a datetime.date, not {self.date!r}")
        for name in ("made_with", "versions"):
            texts = getattr(self, name)
            if not (isinstance(texts, Mapping) and _all_text(texts) and _all_text(texts.values())):
                raise InputError(f"{name} of a sheet holds texts by name, not {texts!r}")
            object.__setattr__(self, name, MappingProxyType(dict(texts)))
        for name in ("assumed", "warnings", "remarks", "cautions"):
            texts = getattr(self, name)
            if isinstance(texts, str) or not _all_text(texts):
                raise InputError(f"{name} of a sheet is a list of texts, not {texts!r}")
            object.__setattr__(self, name, tuple(texts))
        if self.verdict is not None:
            object.__setattr__(self, "verdict", MappingProxyType(dict(self.verdict)))

    def __repr__(self) -> str:
        told = f", {self.verdict['verdict']}" if self.verdict else ""
        return f"<SheetRecord {self.title!r} of {self.date.isoformat()}{told}: {self.curve!r}>"


def _all_text(values: Iterable[object]) -> bool:
    return all(isinstance(value, str) for value in values)
