"""Cells in aligned columns, and what stands in them, for reports that people read."""

from __future__ import annotations

import math
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["aligned", "fitted_to", "format_probability", "legal", "tables_apart"]

Table = tuple[Sequence[Sequence[str]], int, bool]

# What a terminal is wide, while something is written for one.  Reports nest, and each would
# otherwise hand the number down to every table in it.
_room: ContextVar[int | None] = ContextVar("_room", default=None)

# Where tables go instead, while something is written that is no text of fixed width.
_apart: ContextVar[list[Table] | None] = ContextVar("_apart", default=None)
_mark: ContextVar[str] = ContextVar("_mark", default="")

_GAP = 2
# A column of words is not broken into lines shorter than this.
_FEWEST = 16
_SHORT = 8


@contextmanager
def fitted_to(width: int | None) -> Iterator[None]:
    """Make tables fit lines of a width, while the block runs.

    Parameters
    ----------
    width : int or None
        In characters; None for as wide as they get, which is also what holds elsewhere.

    Examples
    --------
    >>> rows = [["t / °C", "standard uncertainty / K"], ["0", "0.12"]]
    >>> with fitted_to(24):
    ...     print(aligned(rows))
                   standard
    t / °C  uncertainty / K
    0                  0.12
    """
    token = _room.set(width)
    try:
        yield
    finally:
        _room.reset(token)


@contextmanager
def tables_apart(mark: str) -> Iterator[list[Table]]:
    """Keep tables as cells, while the block runs; a line with a mark stands in their place.

    Parameters
    ----------
    mark : str
        A character that stands in no text; between two of them is the number of the table.

    Examples
    --------
    >>> with tables_apart("@") as tables:
    ...     aligned([["t / °C"], ["0"]], left=0)
    '@0@'
    >>> tables
    [([['t / °C'], ['0']], 0, True)]
    """
    tables: list[Table] = []
    tokens = _apart.set(tables), _mark.set(mark)
    try:
        yield tables
    finally:
        _apart.reset(tokens[0])
        _mark.reset(tokens[1])


def aligned(
    rows: Sequence[Sequence[str]], *, left: int = 1, indent: str = "", header: bool = True
) -> str:
    """Align the cells of each column.

    Parameters
    ----------
    rows : sequence of sequences of str, all of one length
        The header first, if there is one.
    left : int
        How many leading columns hold words and are aligned to the left; the rest
        hold numbers and are aligned to the right.
    indent : str
        What each line begins with.
    header : bool
        Whether the first row is a header.

    Returns
    -------
    str
        A row for each row: line ends in a cell are spaces.
        Within `fitted_to` no wider than that, if it can be done: headers and columns of words are
        broken into lines, and what still has no room follows below, with the first column again.

    Examples
    --------
    >>> print(aligned([["sensor", "R / kΩ"], ["inlet", "9.99"], ["outlet", "10.31"]]))
    sensor  R / kΩ
    inlet     9.99
    outlet   10.31
    """
    # What others wrote would otherwise begin lines that look like ours.
    rows = [[" ".join(cell.splitlines()) for cell in row] for row in rows]
    apart = _apart.get()
    if apart is not None:
        apart.append((rows, left, header))
        return f"{_mark.get()}{len(apart) - 1}{_mark.get()}"
    room = _room.get()
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    if room is None or len(indent) + _total(widths) <= room:
        return _written([[[cell] for cell in row] for row in rows], widths, left, indent, header)
    room -= len(indent)
    blocks = []
    for part in _side_by_side(rows, widths, left, room):
        words = sum(at < left for at in part)
        chosen = [[row[at] for at in part] for row in rows]
        narrow = _narrowed(chosen, words, room)
        cells = [[_broken(*cell) for cell in zip(row, narrow, strict=True)] for row in chosen]
        blocks.append(_written(cells, narrow, words, indent, header))
    return "\n\n".join(blocks)


def _total(widths: Sequence[int]) -> int:
    return sum(widths) + _GAP * (len(widths) - 1)


def _narrowed(rows: Sequence[Sequence[str]], left: int, room: int) -> list[int]:
    """Widths with headers broken as far as is needed, then the widest columns of words."""
    columns = list(zip(*rows, strict=True))
    widths = [max(map(len, column)) for column in columns]
    whole = [max([_longest(column[0]), *map(len, column[1:])]) for column in columns]
    in_words = [
        min(width, max([_FEWEST, *map(_longest, column)])) if at < left else width
        for at, (column, width) in enumerate(zip(columns, whole, strict=True))
    ]
    for least in (whole, in_words):
        while _total(widths) > room:
            at = max(range(len(widths)), key=lambda at: (widths[at] - least[at], widths[at]))
            if widths[at] <= least[at]:
                break
            widths[at] -= 1
    return widths


def _side_by_side(
    rows: Sequence[Sequence[str]], widths: Sequence[int], left: int, room: int
) -> list[list[int]]:
    """Which columns stand beside each other; the first one does in each block."""
    parts = [[0]]
    for at in range(1, len(widths)):
        wider = [[row[column] for column in (*parts[-1], at)] for row in rows]
        words = sum(column < left for column in (*parts[-1], at))
        if len(parts[-1]) > 1 and _total(_narrowed(wider, words, room)) > room:
            parts.append([0])
        parts[-1].append(at)
    return parts


def _longest(cell: str) -> int:
    return max(map(len, _words(cell)), default=0)


def _words(cell: str) -> list[str]:
    """What is not broken: words, short cells such as ``t / °C``, and a stroke with its unit."""
    if len(cell) <= _SHORT:
        return [cell]
    return cell.replace("/ ", "/\u00a0").split(" ")


def _broken(cell: str, width: int) -> list[str]:
    if len(cell) <= width:
        return [cell]
    lines = textwrap.wrap(
        " ".join(_words(cell)), max(width, 1), break_on_hyphens=False, break_long_words=False
    )
    return [line.replace("\u00a0", " ") for line in lines] or [""]


def _written(
    rows: Sequence[Sequence[Sequence[str]]],
    widths: Sequence[int],
    left: int,
    indent: str,
    header: bool,
) -> str:
    """Lines of cells that have lines; of the header the last lines stand in one row."""
    lines = []
    for number, row in enumerate(rows):
        height = max(map(len, row))
        for line in range(height):
            cells = []
            for place, (cell, width) in enumerate(zip(row, widths, strict=True)):
                at = line - (height - len(cell) if header and number == 0 else 0)
                text = cell[at] if 0 <= at < len(cell) else ""
                cells.append(text.ljust(width) if place < left else text.rjust(width))
            lines.append((indent + (" " * _GAP).join(cells)).rstrip())
    return "\n".join(lines)


def legal(text: str) -> str:
    r"""Replace marks that are not seen but do something, whoever wrote them.

    Among them are the sequences that colour a terminal or name its window, and marks that turn
    the direction of writing.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        With � for what is of the categories C of Unicode, but for line ends; tabs are spaces.

    Examples
    --------
    >>> legal("in\x1b[31mlet\u202e")
    'in�[31mlet�'
    """
    return "".join(
        mark if mark == "\n" or unicodedata.category(mark)[0] != "C" else "\ufffd"
        for mark in text.replace("\r\n", "\n").replace("\t", " ")
    )


def format_probability(probability: float) -> str:
    """Write a probability in percent, never rounded to a certainty.

    Parameters
    ----------
    probability : float

    Returns
    -------
    str
        Empty for NaN.

    Examples
    --------
    >>> format_probability(0.9512), format_probability(1.0 - 1e-9)
    ('95.1 %', 'above 99.9 %')
    """
    if math.isnan(probability):
        return ""
    if probability > 0.999:
        return "above 99.9 %"
    if probability < 0.001:
        return "below 0.1 %"
    return f"{100.0 * probability:.1f} %"
