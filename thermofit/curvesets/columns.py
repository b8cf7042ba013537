"""The columns of a curve set: their names, their order, what belongs to a family."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Final

from thermofit.errors import CellProblem
from thermofit.family import RATINGS

__all__ = [
    "CORE",
    "DERIVED",
    "FAMILY",
    "NUMBERS",
    "SETTINGS",
    "coefficient_column",
    "covariance_column",
    "in_order",
    "is_coefficient",
    "is_covariance",
    "is_known",
    "is_number",
    "known_spelling",
    "merged_header",
    "slips",
]

CORE: Final = (
    "id", "equation", "t_min_c", "t_max_c", "range_basis", "r25_ohm", "b_25_85_k",
    "source", "licence", "note",
)  # fmt: skip
"""Columns that every written set has; all others appear when a row needs them."""

SETTINGS: Final = ("r_ref_ohm", "cvd_c")
"""Settings of the shipped equations."""

DERIVED: Final = ("r25_ohm", "b_25_85_k")
"""Columns for the human reader: they follow from the coefficients."""

TOLERANCES: Final = ("r25_tol_pct", "b_tol_pct")

FAMILY: Final = (*TOLERANCES, *RATINGS, "ratio_only", "source_kind")
"""Columns that make a row a family."""

_BEFORE: Final = ("id", "equation")
_AFTER: Final = (
    "dof", "t_min_c", "t_max_c", "range_basis", *DERIVED, *FAMILY, "table_file",
    "source", "licence", "note",
)  # fmt: skip

NUMBERS: Final = frozenset(
    {*SETTINGS, *DERIVED, *TOLERANCES, *RATINGS, "dof", "t_min_c", "t_max_c"}
)
"""Columns of numbers, besides coefficients and covariances."""

_NAMED: Final = frozenset({*_BEFORE, *SETTINGS, *_AFTER})
_COEFFICIENT: Final = re.compile(r"c(0|[1-9]\d*)")
_COVARIANCE: Final = re.compile(r"cov_(\d)(\d)|cov_(\d\d+)_(\d+)")


def coefficient_column(number: int) -> str:
    """Name of the column of a coefficient.

    Examples
    --------
    >>> coefficient_column(3)
    'c3'
    """
    return f"c{number}"


def covariance_column(row: int, column: int) -> str:
    """Name of the column of an element of the covariance's lower triangle.

    Examples
    --------
    >>> covariance_column(2, 1), covariance_column(10, 1)
    ('cov_21', 'cov_10_1')
    """
    return f"cov_{row}{column}" if row < 10 else f"cov_{row}_{column}"


def is_coefficient(column: str) -> bool:
    """Whether a column holds a coefficient."""
    return _COEFFICIENT.fullmatch(column) is not None


def is_covariance(column: str) -> bool:
    """Whether a column holds an element of a covariance."""
    return _COVARIANCE.fullmatch(column) is not None


def is_number(column: str) -> bool:
    """Whether a column holds numbers, of those to which thermofit gives a meaning."""
    return column in NUMBERS or is_coefficient(column) or is_covariance(column)


def is_known(column: str) -> bool:
    """Whether thermofit gives a column of this name a meaning of its own."""
    return column in _NAMED or is_coefficient(column) or is_covariance(column)


def known_spelling(column: str, settings: Iterable[str] = ()) -> str | None:
    """Spelling of the known column that differs from this name in case or signs only.

    Parameters
    ----------
    column : str
    settings : iterable of str
        Further columns that are known: settings of equations which do not ship.

    Examples
    --------
    >>> known_spelling("R25 Ohm"), known_spelling("r25_ohm"), known_spelling("cabinet")
    ('r25_ohm', None, None)
    >>> known_spelling("C0"), known_spelling("COV-10"), known_spelling("Cov 10 0")
    ('c0', 'cov_10', 'cov_10_0')
    """
    named = {*_NAMED, *settings}
    if column in named or is_known(column):
        return None
    spaced = re.sub(r"[\W_]+", "_", column.casefold()).strip("_")
    plain = spaced.replace("_", "")
    numbered = (spaced, plain, re.sub(r"^cov(?=\d)", "cov_", plain))
    alike = (name for name in sorted(named) if name.casefold().replace("_", "") == plain)
    return next((name for name in numbered if is_known(name)), None) or next(alike, None)


def slips(
    header: Sequence[str], settings: Iterable[str], row: int | None = None
) -> list[CellProblem]:
    """Refuse names that are close to a known column, lest a slip of the pen be lost.

    Parameters
    ----------
    header : sequence of str
    settings : iterable of str
        As for `known_spelling`.
    row : int, optional
        Line of the file on which the header stands.
    """
    problems = []
    for name in header:
        spelling = known_spelling(name, settings)
        if spelling is not None:
            other = "" if spelling in header else f", or write it as {spelling!r}"
            reason = f"this name is too close to {spelling!r}; give the column another name{other}"
            problems.append(CellProblem(reason, row, name))
    return problems


def _rank(column: str, settings: Iterable[str]) -> tuple[int, int, int]:
    if column in _BEFORE:
        return 0, _BEFORE.index(column), 0
    if column in SETTINGS:
        return 1, SETTINGS.index(column), 0
    if column in settings:
        return 2, 0, 0
    if match := _COEFFICIENT.fullmatch(column):
        return 3, int(match[1]), 0
    if match := _COVARIANCE.fullmatch(column):
        return 4, int(match[1] or match[3]), int(match[2] or match[4])
    if column in _AFTER:
        return 5, _AFTER.index(column), 0
    return 6, 0, 0


def in_order(columns: Iterable[str], settings: Iterable[str] = ()) -> tuple[str, ...]:
    """Put columns into the order in which sets are written.

    Parameters
    ----------
    columns : iterable of str
        Each once; unknown ones keep their order and come last.
    settings : iterable of str
        Those that are settings of equations which do not ship.

    Examples
    --------
    >>> in_order(["cabinet", "note", "c1", "c0", "id"])
    ('id', 'c0', 'c1', 'note', 'cabinet')
    """
    settings = frozenset(settings)
    return tuple(sorted(columns, key=lambda column: _rank(column, settings)))


def merged_header(
    header: Sequence[str], columns: Iterable[str], settings: Iterable[str] = ()
) -> tuple[str, ...]:
    """Put further columns into a header, and leave the order of its own alone.

    Examples
    --------
    >>> merged_header(["id", "note", "cabinet"], ["c0", "id", "shelf"])
    ('id', 'c0', 'note', 'cabinet', 'shelf')
    """
    settings = frozenset(settings)
    merged = list(header)
    for column in in_order((c for c in columns if c not in header), settings):
        rank = _rank(column, settings)
        before = [at for at, name in enumerate(merged) if _rank(name, settings) <= rank]
        merged.insert(before[-1] + 1 if before else 0, column)
    return tuple(merged)
