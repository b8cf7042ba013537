"""Readings of one sensor or of many, gathered into arrays with their uncertainties."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import refuse_misaligned
from thermofit.decide.uncertainty import finite_uncertainty, meter_of
from thermofit.errors import InputError
from thermofit.points import Points
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Bench", "gather"]

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_ASK = (
    "the readings state no uncertainty, and without one nothing can be judged; state the standard "
    "uncertainty of the thermometer (u_t_k, or --u-t at the command line) and that of the meter "
    "(u_r_pct, or --u-r), or give them with the readings"
)


@dataclass(frozen=True, eq=False)
class Bench:
    """Readings of n sensors, m in all, in the order in which they were given.

    Parameters
    ----------
    names : tuple
        Of the sensors, in the order in which they first appear.
    sensor : array of int, shape (m,)
        To which of them each reading belongs.
    t_c, r_ohm, u_t_k : array, shape (m,)
        As measured; NaN where a cell could not be used.
    relative, u_r_ohm : array, shape (m,)
        Standard uncertainty of the meter: the part of the resistance, and the ohms.
    problems : dict of int to str
        Sensors with readings that cannot be used, and why.
    notes : tuple of str
        What was taken for granted.
    """

    names: tuple[Any, ...]
    sensor: Indices
    t_c: Array
    r_ohm: Array
    u_t_k: Array
    relative: Array
    u_r_ohm: Array
    problems: dict[int, str]
    notes: tuple[str, ...]


def gather(points: Any, u_t_k: Any = None, u_r_pct: Any = None) -> Bench:
    """Gather readings, with the uncertainties that they state or that are given.

    Parameters
    ----------
    points : Points, Fit, sequence or mapping of those, or pandas.DataFrame
        A frame has the columns ``sensor``, ``t_c``, ``r_ohm`` and, where stated,
        ``u_t_k`` and ``u_r_ohm``; a row for each reading.
    u_t_k, u_r_pct : float or array_like, optional
        Standard uncertainty of the temperature in kelvin and of the resistance in
        percent, for readings that do not state them.

    Returns
    -------
    Bench

    Raises
    ------
    InputError
        No readings, no uncertainties, or both stated and given; columns that are
        missing; a sensor without a name.
    """
    if hasattr(points, "columns"):
        return _from_frame(points, u_t_k, u_r_pct)
    if isinstance(points, Points) or hasattr(points, "points"):
        points = {"": points}
    elif isinstance(points, Sequence) and not isinstance(points, str):
        points = {f"sensor {place}": entry for place, entry in enumerate(points, start=1)}
    if not hasattr(points, "items"):
        raise InputError(
            f"readings come as Points, as a Fit or as a pandas frame, not {type(points).__name__}"
        )
    if not points:
        raise InputError("there are no sensors; give the Points of one at least")
    every: list[Points] = []
    for name, entry in points.items():
        own = getattr(entry, "points", entry)
        if not isinstance(own, Points):
            raise InputError(f"{name!r} has a {type(entry).__name__} and no Points")
        every.append(own)
    stated = {name: [getattr(p, name) for p in every] for name in ("u_t_k", "u_r_ohm")}
    for name, arrays in stated.items():
        if len({array is None for array in arrays}) > 1:
            raise InputError(f"some of the sensors state {name} and others do not")
    joined = {
        name: None if arrays[0] is None else np.concatenate(arrays)
        for name, arrays in stated.items()
    }
    sensor = np.repeat(np.arange(len(every)), [len(p) for p in every])
    t_c, r_ohm = (np.concatenate([getattr(p, name) for p in every]) for name in ("t_c", "r_ohm"))
    return _bench(tuple(points), sensor, t_c, r_ohm, joined, u_t_k, u_r_pct, {})


def _from_frame(frame: pd.DataFrame, u_t_k: Any, u_r_pct: Any) -> Bench:
    import pandas as pd

    columns = [str(name) for name in frame.columns]
    for name in ("sensor", "t_c", "r_ohm", "u_t_k", "u_r_ohm"):
        if columns.count(name) > 1:
            raise InputError(f"the frame has {columns.count(name)} columns {name!r}; keep one")
        if name in ("sensor", "t_c", "r_ohm") and name not in columns:
            raise InputError(
                f"the frame has no column {name!r}, only {', '.join(columns) or 'none'}; rename "
                "the right one with frame.rename, or use Points.from_frame for one "
                "sensor"
            )
    if not len(frame):
        raise InputError("the frame has no rows; give a row for each reading")
    codes, names = pd.factorize(frame.iloc[:, columns.index("sensor")])
    if (codes < 0).any():
        raise InputError(
            f"row {int(np.argmax(codes < 0)) + 1} of the frame does not name its sensor"
        )
    for given, name in ((u_t_k, "u_t_k"), (u_r_pct, "u_r_pct")):
        refuse_misaligned(frame, given, f"the frame and {name}")
    problems: dict[int, list[str]] = {}
    numbers: dict[str, Array | None] = {"u_t_k": None, "u_r_ohm": None}
    for name in ("t_c", "r_ohm", "u_t_k", "u_r_ohm"):
        if name not in columns:
            continue
        cells = frame.iloc[:, columns.index(name)]
        _refuse_other_kinds(cells, name)
        numeric = cells
        if cells.dtype == object:
            # A date or a truth value among numbers would pass for a number.
            numeric = cells.where(cells.map(lambda c: not isinstance(c, _NO_NUMBERS)))
        values = pd.to_numeric(numeric, errors="coerce").to_numpy(np.float64, na_value=np.nan)
        floor = {"t_c": values > -ZERO_C_K, "r_ohm": values > 0.0}.get(name, values >= 0.0)
        usable = np.isfinite(values) & floor
        for row in np.flatnonzero(~usable):
            problems.setdefault(int(codes[row]), []).append(
                f"row {row + 1}: {name} {cells.iloc[row]!s} {_WHY[name]}"
            )
        numbers[name] = np.where(usable, values, np.nan)
    t_c, r_ohm = numbers.pop("t_c"), numbers.pop("r_ohm")
    assert t_c is not None and r_ohm is not None
    told = {sensor: "; ".join(texts) for sensor, texts in problems.items()}
    return _bench(tuple(names), codes.astype(np.intp), t_c, r_ohm, numbers, u_t_k, u_r_pct, told)


_NO_NUMBERS = (bool, np.bool_, datetime.date, datetime.timedelta, np.datetime64, np.timedelta64)


def _refuse_other_kinds(cells: pd.Series[Any], name: str) -> None:
    """Refuse a column of dates or truth values, which NumPy would turn into numbers."""
    if cells.dtype.kind in "bMm":
        what = "truth values" if cells.dtype.kind == "b" else "dates or times"
        raise InputError(
            f"column {name!r} of the frame has {what} and no numbers, {cells.iloc[0]!s} at the "
            "top; rename the right column with frame.rename"
        )


_WHY = {
    "t_c": "is no temperature in °C above absolute zero",
    "r_ohm": "is no resistance in Ω above zero",
    "u_t_k": "is no standard uncertainty in K",
    "u_r_ohm": "is no standard uncertainty in Ω",
}


def _bench(
    names: tuple[Any, ...], sensor: Indices, t_c: Array, r_ohm: Array,
    stated: dict[str, Array | None], u_t_k: Any, u_r_pct: Any, problems: dict[int, str],
) -> Bench:  # fmt: skip
    """Settle the uncertainties, and refuse readings that have none at all."""
    own_t, own_r = stated["u_t_k"], stated["u_r_ohm"]
    for own, given, name in ((own_t, u_t_k, "u_t_k"), (own_r, u_r_pct, "u_r_pct")):
        if own is not None and given is not None:
            raise InputError(f"the readings state their own uncertainty; leave {name} out")
    if own_t is None and own_r is None and u_t_k is None and u_r_pct is None:
        raise InputError(_ASK)
    notes: list[str] = []
    if own_t is None:
        if u_t_k is None:
            notes.append("the temperature is taken as exact: its uncertainty was not given")
        own_t = np.array(finite_uncertainty(0.0 if u_t_k is None else u_t_k, "u_t_k", t_c.shape))
    relative = np.zeros(t_c.shape)
    if own_r is None:
        relative, own_r, told = meter_of(u_r_pct, None, t_c.shape)
        notes += told
    for row in np.flatnonzero((own_t == 0.0) & (own_r == 0.0) & (relative == 0.0)):
        problems.setdefault(
            int(sensor[row]),
            f"the reading {r_ohm[row]:g} Ω at {t_c[row]:g} °C has no uncertainty at all, which no "
            "reading is without; state u_t_k or u_r_ohm above zero",
        )
    return Bench(names, sensor, t_c, r_ohm, own_t, relative, own_r, problems, tuple(notes))
