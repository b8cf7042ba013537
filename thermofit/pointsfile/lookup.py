"""Columns of a points file looked up, listed, and told from numbers."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from thermofit.pointsfile.columns import Kind

__all__ = ["MAX_COLUMNS", "Wanted", "is_numeric", "listed", "locate", "missing", "trimmed"]

Wanted = dict[Kind, str | int]
"""Columns that the caller names, by header or by position counted from 1."""

MAX_COLUMNS = 10_000
"""More columns than this are not looked at one by one."""

_NUMERIC = re.compile(
    r"[+\-−]?\s*[\d.,\s]*\d\.?\s*(?:[eE][+-]?\d+\s*)?(?:(?:[^\W\d_]|[°%]).{0,11})?"
)


def locate(header: Sequence[str], wanted: str | int) -> int | None:
    """Find a column by its header or by its position counted from 1; gives an index.

    Examples
    --------
    >>> locate(["T", "R"], "r"), locate(["T", "R"], 1), locate(["T", "R"], "x")
    (1, 0, None)
    """
    if isinstance(wanted, str):
        plain = wanted.strip()
        for same in (str, str.casefold):
            found = [place for place, cell in enumerate(header) if same(cell) == same(plain)]
            if len(found) == 1:
                return found[0]
        if not (plain.isascii() and plain.isdigit() and len(plain) < 6):
            return None
        wanted = int(plain)
    return wanted - 1 if 1 <= wanted <= len(header) else None


def missing(header: Sequence[str], wanted: str | int) -> str:
    """Say why `locate` found no column.

    Examples
    --------
    >>> missing(["T", "R"], "x"), missing(["T", "T"], "T")
    ("there is no column 'x'", "2 columns are called 'T'; name the right one by its position")
    """
    same = [cell for cell in header if cell.casefold() == str(wanted).casefold()]
    if len(same) > 1:
        return f"{len(same)} columns are called {wanted!r}; name the right one by its position"
    return f"there is no column {wanted!r}"


def listed(columns: Iterable[tuple[int, str]], limit: int = 20) -> str:
    """List columns, given as index and header, for a message.

    Examples
    --------
    >>> listed(enumerate(["T", "", "R"]))
    "1 'T', 2 (no header), 3 'R'"
    """
    parts = [
        f"{place + 1} {cell[:60]!r}" if cell else f"{place + 1} (no header)"
        for place, cell in columns
    ]
    more = len(parts) - limit
    return ", ".join(parts[:limit] + ([f"… and {more} more"] if more > 0 else []))


def trimmed(cells: Sequence[str]) -> list[str]:
    """Leave out the empty cells at the end of a row.

    Examples
    --------
    >>> trimmed(["25", "", "10000", "", ""])
    ['25', '', '10000']
    """
    end = len(cells)
    while end and not cells[end - 1]:
        end -= 1
    return list(cells[:end])


def is_numeric(cell: str) -> bool:
    """Tell what looks like a number, perhaps with a unit, from dates and words.

    Examples
    --------
    >>> is_numeric("4,7 kΩ"), is_numeric("4k7"), is_numeric("2024-05-01"), is_numeric("T1")
    (True, True, False, False)
    """
    return len(cell) <= 60 and _NUMERIC.fullmatch(cell) is not None
