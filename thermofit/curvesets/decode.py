"""From the cells of a row to a curve."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import cast

import numpy as np

from thermofit.curve import Curve, RangeBasis
from thermofit.curvesets.cells import check_file_name, check_id, parse_number
from thermofit.curvesets.columns import (
    FAMILY,
    SETTINGS,
    coefficient_column,
    covariance_column,
    is_coefficient,
    is_covariance,
    is_known,
)
from thermofit.curvesets.familycells import RowError, family_fields
from thermofit.curvesets.nodes import table_from_bytes
from thermofit.equations.base import Equation
from thermofit.equations.catalogue import equation
from thermofit.equations.tabulated import Tabulated
from thermofit.errors import CellProblem, InputError, ThermofitError, UnknownNameError
from thermofit.validation import check_range, checked_covariance, checked_dof

__all__ = ["curve_from_cells", "settings_of"]

_DERIVED_SLACK = 5e-3
_RANGE_BASES = ("stated", "data", "assumed")

# A constant-B row may be written by hand with the two numbers that people know.
_BETA_STAND_INS = {"c0": "r25_ohm", "c1": "b_25_85_k"}


def curve_from_cells(
    cells: Mapping[str, str], tables: Mapping[str, bytes], header: Collection[str] = ()
) -> Curve:
    """Make a curve of the cells of a row.

    Parameters
    ----------
    cells : mapping of str to str
        Those that are not empty, by column.
    tables : mapping of str to bytes
        Content of the companion files, by name.
    header : collection of str
        The columns that there are, so that a missing one is told from a blank
        cell; without them every cell counts as blank.

    Returns
    -------
    Curve
        Its ``extra`` holds the cells that are no part of a curve: those of
        unknown columns and those that make the row a family.

    Raises
    ------
    RowError
        With everything that is wrong in the row.
    """
    return _Row(cells, tables, header).curve()


def settings_of(names: Iterable[str]) -> frozenset[str]:
    """Columns that are settings of the equations with these names; unknown ones have none."""
    found: set[str] = set()
    for name in set(names):
        with suppress(Exception):  # its row will say so
            found |= set(equation(name).settings)
    return frozenset(found)


class _Row:
    """The cells of one row, and what has been found wrong with them."""

    def __init__(
        self, cells: Mapping[str, str], tables: Mapping[str, bytes], header: Collection[str]
    ) -> None:
        self._cells = cells
        self._tables = tables
        self._header = header
        self._problems: list[CellProblem] = []

    def curve(self) -> Curve:
        id = self._tidy("id")
        try:
            check_id(id)
        except InputError as error:
            self._fault("id", str(error))
        form = self._equation()
        coefficients = self._coefficients(form)
        covariance = self._covariance(len(coefficients))
        dof = self._number("dof")
        with self._blamed_on("dof"):
            checked_dof(np.inf if dof is None else dof)
        t_min_c, t_max_c, basis = self._range(form)
        settings = form.settings if form else {}
        if self._problems or form is None:
            raise RowError(self._problems)
        # Absurd numbers overflow on their way to being refused.
        with np.errstate(all="ignore"):
            try:
                curve = Curve(
                    form, coefficients, t_min_c, t_max_c,
                    covariance=covariance,
                    dof=np.inf if dof is None else dof,
                    range_basis=basis,
                    id=id,
                    extra={n: c for n, c in self._cells.items() if _is_extra(n, settings)},
                    **{name: self._cells.get(name, "") for name in ("source", "licence", "note")},
                )  # fmt: skip
            except ThermofitError as error:
                raise RowError([CellProblem(str(error))]) from None
            except Exception as error:
                self._fault("equation", f"failed with {type(error).__name__}: {error}")
                raise RowError(self._problems) from error
            self._check_derived(curve)
            self._check_family(curve)
        if self._problems:
            raise RowError(self._problems)
        return curve

    # -- parts of the row ---------------------------------------------------------

    def _equation(self) -> Equation | None:
        name = self._tidy("equation")
        table_file = self._tidy("table_file")
        if not name:
            self._fault("equation", "is blank; name an equation, such as beta or tabulated")
            return None
        if name == "tabulated":
            return self._table(table_file)
        if table_file:
            self._fault("table_file", f"a curve of the equation {name} has no nodes; leave it "
                                      "blank or make the equation tabulated")  # fmt: skip
        try:
            known = equation(name).settings
            given = {}
            for column in sorted({*known, *SETTINGS}):
                value = self._number(column)
                if value is not None and column not in known:
                    self._fault(column, f"the equation {name} has no such setting; "
                                        "leave it blank")  # fmt: skip
                elif value is not None:
                    given[column] = value
            with self._blamed_on(next(iter(given), "equation")):
                return equation(name, given)
        except UnknownNameError as error:
            self._fault("equation", f"{error}, or install the package that gives it")
        except ThermofitError as error:
            self._fault("equation", str(error))
        except Exception as error:  # noqa: BLE001  the equation may be a plugin's
            self._fault("equation", f"failed with {type(error).__name__}: {error}")
        return None

    def _table(self, table_file: str) -> Tabulated | None:
        for column in SETTINGS:
            if self._tidy(column):
                self._fault(column, "a table has no such setting; leave it blank")
        if not table_file:
            self._lack("table_file", "a tabulated curve needs the file of its nodes")
            return None
        try:
            check_file_name(table_file)
            if table_file not in self._tables:
                raise InputError("there is no such file beside the set; put it there, or remove "
                                 "the row")  # fmt: skip
            return table_from_bytes(self._tables[table_file])
        except InputError as error:
            self._fault("table_file", str(error))
            return None

    def _coefficients(self, form: Equation | None) -> list[float]:
        if form is None:
            return []
        values = []
        for number, entry in enumerate(form.coefficients):
            column = coefficient_column(number)
            stand_in = _BETA_STAND_INS.get(column, "") if form.name == "beta" else ""
            given = [name for name in (column, stand_in) if self._tidy(name)]
            if not given:
                by_stand_in = stand_in in self._header and column not in self._header
                other = f", or the column {stand_in}" if stand_in and not by_stand_in else ""
                self._lack(stand_in if by_stand_in else column,
                           f"{form.name} needs it for {entry.name}{other}")  # fmt: skip
            value = self._number(given[0]) if given else None
            if value is not None and entry.logarithmic and not value > 0.0:
                self._fault(given[0], f"{entry.name} must be positive")
            values.append(0.0 if value is None else value)
        size = len(values)
        expected = {coefficient_column(number) for number in range(size)}
        expected |= {covariance_column(i, j) for i in range(size) for j in range(i + 1)}
        for column in self._cells:
            numbered = is_coefficient(column) or is_covariance(column)
            if numbered and column not in expected and self._tidy(column):
                self._fault(column, f"{form.name} has {size} coefficients; leave it blank")
        return values

    def _covariance(self, size: int) -> list[list[float]] | None:
        wanted = {covariance_column(i, j): (i, j) for i in range(size) for j in range(i + 1)}
        blank = [column for column in wanted if not self._tidy(column)]
        if len(blank) == len(wanted):
            return None
        for column in blank:
            self._lack(column, "give the whole lower triangle, or none of it")
        whole = not blank
        matrix = [[0.0] * size for _ in range(size)]
        for column, (i, j) in wanted.items():
            value = self._number(column)
            whole &= value is not None
            matrix[i][j] = matrix[j][i] = 0.0 if value is None else value
        if not whole:
            return None  # half a covariance would be refused for another reason too
        with self._blamed_on(covariance_column(0, 0)), np.errstate(all="ignore"):
            checked_covariance(matrix, size)
        return matrix

    def _range(self, form: Equation | None) -> tuple[float | None, float | None, RangeBasis | None]:
        t_min_c, t_max_c = self._number("t_min_c"), self._number("t_max_c")
        blank = [name for name in ("t_min_c", "t_max_c") if not self._tidy(name)]
        if len(blank) == 1:
            self._lack(blank[0], "give both ends of the valid range, or neither")
        basis = self._tidy("range_basis") or None
        if basis is not None and basis not in _RANGE_BASES:
            self._fault("range_basis", f"is none of {', '.join(_RANGE_BASES)}")
        if t_min_c is not None and t_max_c is not None:
            with self._blamed_on("t_max_c"):
                check_range(t_min_c, t_max_c)
        if len(blank) < 2:
            return t_min_c, t_max_c, cast("RangeBasis | None", basis)
        own: RangeBasis = "assumed"
        if isinstance(form, Tabulated):
            t_min_c, t_max_c, own = form.t_c[0], form.t_c[-1], "stated"
        if basis in _RANGE_BASES and basis != own:
            self._fault("range_basis", "there is no range; give t_min_c and t_max_c")
        return t_min_c, t_max_c, own

    def _check_derived(self, curve: Curve) -> None:
        for column, meaning in (("r25_ohm", "25 °C"), ("b_25_85_k", "25 and 85 °C")):
            given = self._number(column)
            if given is None:
                continue
            own = getattr(curve, column)
            if not np.isfinite(own):
                self._fault(column, f"the curve has no value at {meaning}; leave it blank")
            elif not abs(given - own) <= _DERIVED_SLACK * abs(own):
                self._fault(column, f"the curve itself has {own:.6g}; correct one of them, or "
                                    "leave this cell blank")  # fmt: skip

    def _check_family(self, curve: Curve) -> None:
        try:
            family_fields(self._cells, curve)
        except RowError as error:
            self._problems.extend(error.problems)

    # -- cells --------------------------------------------------------------------

    def _tidy(self, column: str) -> str:
        return self._cells.get(column, "").strip()

    def _number(self, column: str) -> float | None:
        text = self._tidy(column)
        if not text:
            return None
        try:
            return parse_number(text)
        except InputError as error:
            self._fault(column, str(error))
            return None

    @contextmanager
    def _blamed_on(self, column: str) -> Iterator[None]:
        """Lay what is refused inside to a cell."""
        try:
            yield
        except InputError as error:
            self._fault(column, str(error))

    def _lack(self, column: str, need: str) -> None:
        """Say what is needed of a cell that is blank, or of a column that is not there."""
        if not self._header or column in self._header:
            self._fault(column, f"is blank; {need}")
        else:
            self._problems.append(CellProblem(f"there is no such column; {need}", column=column))

    def _fault(self, column: str, reason: str) -> None:
        problem = CellProblem(reason, column=column, value=self._cells.get(column, ""))
        if problem not in self._problems:
            self._problems.append(problem)


def _is_extra(column: str, settings: Mapping[str, float]) -> bool:
    """Whether a cell goes into `Curve.extra`: no part of the curve itself."""
    return column in FAMILY or not (is_known(column) or column in settings)
