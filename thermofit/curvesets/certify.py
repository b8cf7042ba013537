"""Which rows of a large set are right beyond doubt, column by column.

A row that is not certified here is not wrong: `thermofit.curvesets.decode` looks at it
alone, decides, and says why.  So a set is judged alike however many rows it has.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.curvesets.columns import (
    FAMILY,
    SETTINGS,
    coefficient_column,
    covariance_column,
    is_coefficient,
    is_covariance,
    is_number,
)
from thermofit.curvesets.ids import usual_ids
from thermofit.curvesets.monotone import B_PER_LOG_RATIO_K, certified, has_certificate
from thermofit.curvesets.sheet import Sheet
from thermofit.equations.base import Array, Equation
from thermofit.equations.catalogue import equation

__all__ = ["Examined", "correlations_hold", "examine"]

Mask = npt.NDArray[np.bool_]

_RANGE_BASES: Final = ("", "stated", "data", "assumed")
_SLACK: Final = 4.9e-3  # the decoder's is 5e-3
_LARGEST_CORRELATION: Final = 1.0 + 0.9e-9  # its is 1 + 1e-9


@dataclass(frozen=True, eq=False)
class Examined:
    """What is certain of the rows of a set.

    Parameters
    ----------
    doubtful : sequence of int
        Numbers of the rows that must be looked at one by one, rising.
    r25_ohm, b_25_85_k : array, shape (n,)
        As they follow from the coefficients; NaN for rows that are in doubt, and where
        the range does not hold 25 °C, or 85 °C.
    """

    doubtful: Sequence[int]
    r25_ohm: Array
    b_25_85_k: Array


def examine(sheet: Sheet, *, anywhere: bool = False) -> Examined:
    """Look at the rows of a set column by column.

    Parameters
    ----------
    sheet : Sheet
        With columns ``id`` and ``equation``.
    anywhere : bool
        Find the derived values also beyond the ranges, where a curve has them.
    """
    count = len(sheet.rows)
    columns = _Columns(sheet, count)
    sound = _are_usual(sheet, columns)
    names, places = sheet.equations
    certain = np.zeros(count, dtype=bool)
    values = np.full((2, count), np.nan)
    for number, name in enumerate(names):
        if has_certificate(name):
            rows = np.flatnonzero((places == number) & sound)
            group = _Group(columns.at(rows), equation(name))
            certain[rows], *found = group.examine(anywhere)
            values[:, rows] = np.where(certain[rows], found, np.nan)
    doubtful: list[int] = np.flatnonzero(~certain).tolist()
    return Examined(doubtful, *values)


def correlations_hold(triangle: Array) -> Mask:
    """Whether covariances have variances, and no correlation beyond ±1; or are all NaN.

    Parameters
    ----------
    triangle : array, shape (k·(k + 1)/2, n)
        Lower triangles, row by row.
    """
    places = [(i, j) for i in range(len(triangle)) for j in range(i + 1)][: len(triangle)]
    variances = {i: row for (i, j), row in zip(places, triangle, strict=True) if i == j}
    hold = np.ones(triangle.shape[1], dtype=bool)
    with np.errstate(all="ignore"):
        for (i, j), values in zip(places, triangle, strict=True):
            if i == j:
                hold &= (values >= 0.0) & np.isfinite(values)
            else:
                scale = np.sqrt(variances[i] * variances[j])
                hold &= np.abs(values) <= scale * _LARGEST_CORRELATION
    hold |= np.isnan(triangle).all(axis=0)
    return hold


@dataclass(frozen=True, eq=False)
class _Columns:
    """Numbers of a sheet by column, of all rows or of some."""

    sheet: Sheet
    count: int
    rows: npt.NDArray[np.intp] | None = None

    def at(self, rows: npt.NDArray[np.intp]) -> _Columns:
        return self if len(rows) == self.count else _Columns(self.sheet, len(rows), rows)

    @property
    def header(self) -> tuple[str, ...]:
        return self.sheet.header

    def value(self, name: str) -> Array:
        """NaN where there is none."""
        if name not in self.header:
            return np.full(self.count, np.nan)
        values = self.sheet.numbers(name)
        return values if self.rows is None else values[self.rows]

    def blank(self, name: str) -> Mask:
        if name not in self.header:
            return np.ones(self.count, dtype=bool)
        blank = self.sheet.blank(name)
        return blank if self.rows is None else blank[self.rows]


def _are_usual(sheet: Sheet, columns: _Columns) -> Mask:
    """Rows whose id, texts and numbers are as usual, whatever their equation."""
    sound = usual_ids(sheet)
    for name in sheet.header:
        if name in FAMILY or name in {"table_file", "cvd_c"}:
            sound &= columns.blank(name)
        elif is_number(name):
            sound &= np.isfinite(columns.value(name)) | columns.blank(name)
    given = ~columns.blank("t_min_c")
    sound &= given == ~columns.blank("t_max_c")
    if "range_basis" in sheet.header:
        bases, places = sheet.labels("range_basis")
        usual = np.array([basis in _RANGE_BASES for basis in bases], dtype=bool)
        assumed = np.array([basis in {"", "assumed"} for basis in bases], dtype=bool)
        sound &= np.where(given, usual[places], assumed[places])
    sound &= columns.blank("dof") | (columns.value("dof") > 0.0)
    return sound


class _Group:
    """Rows of one equation, whose cells are blank or finite numbers."""

    def __init__(self, columns: _Columns, form: Equation) -> None:
        self._columns = columns
        self._form = form
        self._size = len(form.coefficients)
        self._covariances = {
            covariance_column(i, j): (i, j) for i in range(self._size) for j in range(i + 1)
        }

    def examine(self, anywhere: bool) -> tuple[Mask, Array, Array]:
        """Which rows are right, and their values of R25 and B25/85."""
        right, r25_ohm, b_k = self._curve(anywhere)
        right &= self._has_its_cells_only() & self._covariance_is_one()
        right &= self._agrees("r25_ohm", r25_ohm) & self._agrees("b_25_85_k", b_k)
        return right, r25_ohm, b_k

    def _has_its_cells_only(self) -> Mask:
        sound = np.ones(self._columns.count, dtype=bool)
        own = {coefficient_column(k) for k in range(self._size)} | set(self._covariances)
        own |= set(self._form.settings)
        for name in self._columns.header:
            if (
                is_coefficient(name) or is_covariance(name) or name in SETTINGS
            ) and name not in own:
                sound &= self._columns.blank(name)
        return sound

    def _covariance_is_one(self) -> Mask:
        """All of a covariance or nothing, and no correlation beyond ±1."""
        blank = [self._columns.blank(name) for name in self._covariances]
        sound: Mask = np.all(blank, axis=0)
        if not set(self._covariances) <= set(self._columns.header):
            return sound
        triangle = np.stack([self._columns.value(name) for name in self._covariances])
        given: Mask = ~np.any(blank, axis=0)
        return sound | (given & correlations_hold(triangle))

    def _curve(self, anywhere: bool) -> tuple[Mask, Array, Array]:
        value = self._columns.value
        c = np.stack([value(coefficient_column(k)) for k in range(self._size)])
        if self._form.name == "beta":  # people know two numbers, and may give these alone
            for k, stand_in in enumerate(("r25_ohm", "b_25_85_k")):
                c[k] = np.where(np.isnan(c[k]), value(stand_in), c[k])
        r_ref_ohm: Array | float = 1.0
        if "r_ref_ohm" in self._form.settings:
            r_ref_ohm = value("r_ref_ohm")
            r_ref_ohm = np.where(np.isnan(r_ref_ohm), 1.0, r_ref_ohm)
        ends = zip(("t_min_c", "t_max_c"), self._form.default_range_c, strict=True)
        t_min_c, t_max_c = (
            np.where(np.isnan(value(name)), assumed, value(name)) for name, assumed in ends
        )
        found = certified(self._form.name, c, r_ref_ohm, t_min_c, t_max_c)
        sound = found.sound
        if anywhere:
            t_min_c, t_max_c = np.minimum(t_min_c, 25.0), np.maximum(t_max_c, 85.0)
            found = certified(self._form.name, c, r_ref_ohm, t_min_c, t_max_c)
            sound = sound & found.sound
        with np.errstate(all="ignore"):
            r25_ohm = np.exp(found.ln_r_25)
            b_k = (found.ln_r_25 - found.ln_r_85) * B_PER_LOG_RATIO_K
        return sound, r25_ohm, b_k

    def _agrees(self, name: str, own: Array) -> Mask:
        given = self._columns.value(name)
        with np.errstate(all="ignore"):
            agrees: Mask = np.isnan(given) | (np.abs(given - own) <= _SLACK * np.abs(own))
        return agrees & ~np.isinf(own)
