"""Measured points: temperatures and resistances with their standard uncertainties."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError
from thermofit.notebook import ShownInNotebooks
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Points"]

Array = npt.NDArray[np.float64]

# All of a bench's points fit; a million bad ones would fill a screen to no use.
_SHOWN_PROBLEMS = 100
_SHOWN_POINTS = 30


@dataclass(frozen=True, init=False, repr=False, eq=False)
class Points(ShownInNotebooks):
    """Measured points of one sensor, in the order in which they were given.

    Two `Points` are equal if their readings and uncertainties are; where they
    came from does not count.

    Parameters
    ----------
    t_c : array_like, shape (n,)
        Temperatures in °C, above absolute zero.  A single number is one point.
    r_ohm : array_like, shape (n,)
        Resistances in Ω, above zero.
    u_t_k : float or array_like, shape (n,), optional
        Standard uncertainty of each temperature in kelvin; a single number
        holds for all points.  Not given: not stated, which is not zero.
    u_r_ohm : float or array_like, shape (n,), optional
        Standard uncertainty of each resistance in Ω, likewise.
    source : str, optional
        Where the readings come from, such as the name of a file.
    notes : iterable of str
        How a file was understood.

    Attributes
    ----------
    t_c, r_ohm : array, shape (n,)
        Read-only, float64.
    u_t_k, u_r_ohm : array, shape (n,), or None
        Read-only, float64; None where not stated.
    source : str or None
    notes : tuple of str

    Raises
    ------
    InputError
        There are no points, the lengths differ, or values cannot be used; the
        message names all of those, with their places counted from 1.

    Examples
    --------
    Invented readings of an air sensor from a glasshouse climate controller:

    >>> p = Points([0.0, 25.0, 50.0], [32650, 10000, 3603], u_t_k=0.1)
    >>> p
    Points(3 points, 0 °C to 50 °C, 3.6030 kΩ to 32.650 kΩ)
    >>> p.u_t_k
    array([0.1, 0.1, 0.1])
    >>> Points([25.0, 50.0], [10000, -3603])
    Traceback (most recent call last):
    thermofit.errors.InputError: point 2: r_ohm = -3603.0 is not above zero
    """

    t_c: Array
    r_ohm: Array
    u_t_k: Array | None
    u_r_ohm: Array | None
    source: str | None
    notes: tuple[str, ...]

    # Equality compares arrays that nobody can change, but NumPy has no hash for them.
    __hash__ = None  # type: ignore[assignment]

    def __init__(
        self,
        t_c: npt.ArrayLike,
        r_ohm: npt.ArrayLike,
        u_t_k: npt.ArrayLike | None = None,
        u_r_ohm: npt.ArrayLike | None = None,
        *,
        source: str | None = None,
        notes: Iterable[str] = (),
    ) -> None:
        given: dict[str, Any] = {"t_c": t_c, "r_ohm": r_ohm, "u_t_k": u_t_k, "u_r_ohm": u_r_ohm}
        given = {name: values for name, values in given.items() if values is not None}
        missing = [name for name in ("t_c", "r_ohm") if name not in given]
        if missing:
            raise InputError(f"points need temperatures and resistances; {missing[0]} is None")
        _check_indexes(given)
        columns = {name: _as_column(values, name) for name, values in given.items()}
        size = columns["t_c"].size
        if size == 0:
            raise InputError("there are no points; give at least one temperature and resistance")
        for name, values in given.items():
            if name.startswith("u_") and np.ndim(values) == 0:
                columns[name] = np.full(size, columns[name][0])
        lengths = {name: column.size for name, column in columns.items()}
        if len(set(lengths.values())) > 1:
            listed = ", ".join(f"{name} has {length}" for name, length in lengths.items())
            raise InputError(f"each point needs one value of each kind, but {listed}")
        _refuse_bad_values(columns)
        for column in columns.values():
            column.flags.writeable = False
        for name in ("t_c", "r_ohm", "u_t_k", "u_r_ohm"):
            object.__setattr__(self, name, columns.get(name))
        object.__setattr__(self, "source", source)
        object.__setattr__(self, "notes", (notes,) if isinstance(notes, str) else tuple(notes))

    def __len__(self) -> int:
        return int(self.t_c.size)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Points):
            return NotImplemented
        pairs = zip(self._columns(), other._columns(), strict=True)
        return all(
            mine is theirs
            or (mine is not None and theirs is not None and np.array_equal(mine, theirs))
            for mine, theirs in pairs
        )

    def __reduce__(self) -> tuple[Callable[..., Points], tuple[Any, ...]]:
        # Through the constructor, since pickled arrays come back writeable.
        return _rebuild, (*self._columns(), self.source, self.notes)

    def __repr__(self) -> str:
        low_c, high_c = float(self.t_c.min()), float(self.t_c.max())
        low_ohm, high_ohm = float(self.r_ohm.min()), float(self.r_ohm.max())
        count = "1 point" if len(self) == 1 else f"{len(self)} points"
        t_text = f"{low_c:g} °C" if low_c == high_c else f"{low_c:g} °C to {high_c:g} °C"
        r_text = format_ohm(low_ohm)
        if low_ohm != high_ohm:
            r_text += f" to {format_ohm(high_ohm)}"
        source = "" if self.source is None else f", source={self.source!r}"
        return f"Points({count}, {t_text}, {r_text}{source})"

    def __str__(self) -> str:
        named = [
            (name, column)
            for name, column in zip(
                ("t_c", "r_ohm", "u_t_k", "u_r_ohm"), self._columns(), strict=True
            )
            if column is not None
        ]
        shown = min(len(self), _SHOWN_POINTS)
        cells = [[name, *(f"{value:.10g}" for value in column[:shown])] for name, column in named]
        widths = [max(map(len, column)) for column in cells]
        lines = [repr(self)]
        for row in zip(*cells, strict=True):
            padded = (cell.rjust(width) for cell, width in zip(row, widths, strict=True))
            lines.append("  ".join(padded))
        if len(self) > shown:
            lines.append(f"… and {len(self) - shown} more")
        return "\n".join([*lines, *self.notes])

    def to_frame(self) -> pd.DataFrame:
        """Give the points as a pandas frame, a row for each.

        Returns
        -------
        pandas.DataFrame
            Columns `t_c` and `r_ohm`, and `u_t_k` and `u_r_ohm` where stated.

        Examples
        --------
        >>> list(Points([25.0], [10e3], u_r_ohm=5).to_frame().columns)
        ['t_c', 'r_ohm', 'u_r_ohm']
        """
        import pandas as pd

        data = {"t_c": self.t_c, "r_ohm": self.r_ohm}
        if self.u_t_k is not None:
            data["u_t_k"] = self.u_t_k
        if self.u_r_ohm is not None:
            data["u_r_ohm"] = self.u_r_ohm
        return pd.DataFrame({name: column.copy() for name, column in data.items()})

    @classmethod
    def from_frame(
        cls, frame: pd.DataFrame, *, source: str | None = None, notes: Iterable[str] = ()
    ) -> Points:
        """Take points from a pandas frame.

        Parameters
        ----------
        frame : pandas.DataFrame
            Columns `t_c` in °C and `r_ohm` in Ω; `u_t_k` and `u_r_ohm`, standard
            uncertainties, if it has them.  A note names the columns not used.
        source : str, optional
            Where the readings come from.
        notes : iterable of str
            How they were understood.

        Returns
        -------
        Points

        Raises
        ------
        InputError
            A column is missing or there twice, or a value cannot be used.

        Examples
        --------
        >>> p = Points([0.0, 25.0], [32650, 10000], u_t_k=[0.05, 0.1])
        >>> Points.from_frame(p.to_frame()) == p
        True
        """
        names = [str(name) for name in frame.columns]
        wanted = ("t_c", "r_ohm", "u_t_k", "u_r_ohm")
        for name in wanted:
            if name in wanted[:2] and name not in names:
                raise InputError(
                    f"the frame has no column {name!r}, only {', '.join(map(repr, names)) or '-'}; "
                    f"rename the right one with frame.rename(columns=…)"
                )
            if names.count(name) > 1:
                raise InputError(f"the frame has {names.count(name)} columns {name!r}; keep one")
        ignored = [repr(name) for name in names if name not in wanted]
        told = [notes] if isinstance(notes, str) else list(notes)
        if ignored:
            told.append(f"columns not used: {', '.join(ignored)}")
        columns = {name: frame.iloc[:, names.index(name)] for name in wanted if name in names}
        return cls(**columns, source=source, notes=told)

    def _columns(self) -> tuple[Array, Array, Array | None, Array | None]:
        return self.t_c, self.r_ohm, self.u_t_k, self.u_r_ohm


def _rebuild(
    t_c: Array,
    r_ohm: Array,
    u_t_k: Array | None,
    u_r_ohm: Array | None,
    source: str | None,
    notes: tuple[str, ...],
) -> Points:
    return Points(t_c, r_ohm, u_t_k, u_r_ohm, source=source, notes=notes)


def _check_indexes(given: dict[str, Any]) -> None:
    """Refuse Series that would be matched by position against their own labels."""
    labelled = {
        name: values.index
        for name, values in given.items()
        if hasattr(getattr(values, "index", None), "equals")
    }
    first, *others = labelled or ["t_c"]
    for name in others:
        if not labelled[first].equals(labelled[name]):
            raise InputError(
                f"the Series {first} and {name} have different indexes, so it is not clear which "
                f"values belong together; align them, or pass Series.to_numpy()"
            )


def _as_column(values: Any, name: str) -> Array:
    """Copy numbers into a fresh array, shape (n,); say which are none."""
    try:
        # A masked element is no number, whatever stands under the mask.
        masked = isinstance(values, np.ma.MaskedArray)
        array = np.asarray(values.astype(object).tolist() if masked else values)
    except (TypeError, ValueError) as error:
        raise InputError(f"{name} must be a list of numbers: {error}") from None
    if array.ndim > 1:
        raise InputError(
            f"{name} must have one dimension, not the shape {array.shape}; "
            f"pass one sensor at a time"
        )
    array = array.reshape(-1)
    if array.dtype.kind in "mM":
        raise InputError(f"{name} must be numbers, not dates or times ({array.dtype})")
    if array.dtype.kind in "iuf":
        # A longer float that overflows here becomes infinite, and is refused as such.
        with np.errstate(over="ignore"):
            return array.astype(np.float64)
    # What is left is no plain array of numbers: find out which elements are to blame.
    column, problems = np.empty(array.size), []
    for place, value in enumerate(array.tolist()):
        try:
            if isinstance(value, str | bytes | bool | np.bool_ | complex):
                raise TypeError
            column[place] = float(value)
        except (TypeError, ValueError, OverflowError):
            problems.append(f"point {place + 1}: {name} = {_shorten(value)} is not a number")
    _refuse(problems)
    return column


def _refuse_bad_values(columns: dict[str, Array]) -> None:
    problems: list[tuple[int, str]] = []
    for name, column in columns.items():
        finite = np.isfinite(column)
        if name == "t_c":
            bad, reason = column <= -ZERO_C_K, f"is not above absolute zero, {-ZERO_C_K} °C"
        elif name == "r_ohm":
            bad, reason = column <= 0.0, "is not above zero"
        else:
            bad, reason = column < 0.0, "is negative; a standard uncertainty is not"
        for place in np.flatnonzero(bad | ~finite):
            told = reason if finite[place] else "is not finite"
            problems.append((int(place), f"{name} = {float(column[place])!r} {told}"))
    # A stable sort keeps t_c before r_ohm within a point.
    problems.sort(key=lambda problem: problem[0])
    _refuse([f"point {place + 1}: {text}" for place, text in problems])


def _refuse(problems: list[str]) -> None:
    if problems:
        raise InputError("\n  ".join(_shown(problems)))


def _shown(problems: list[str]) -> Iterator[str]:
    yield from problems[:_SHOWN_PROBLEMS]
    if len(problems) > _SHOWN_PROBLEMS:
        yield f"… and {len(problems) - _SHOWN_PROBLEMS} more"


def _shorten(value: object) -> str:
    text = repr(value)
    return text if len(text) <= 60 else text[:59] + "…"
