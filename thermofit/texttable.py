"""Cells in aligned columns, and sentences, for reports that people read."""

from __future__ import annotations

import math
import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = [
    "aligned",
    "fitted_to",
    "format_probability",
    "indented",
    "legal",
    "paragraph",
    "tables_apart",
    "with_minus",
]

Cell = str | Sequence[str]
Table = tuple[Sequence[Sequence[str]], Sequence[int], bool]

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
_HANG = "  "

_NO_BREAK = "\u00a0"
# A number stays with its unit and with what stands before it: "10 kΩ", "± 5 %", "p = 0.71".
_JOINTS = re.compile(
    r"(?<=[\d²]) (?=(?:[kMGm]?Ω|%|°[CF]|K|m?[VA]|hPa|s|[µm]?W)(?![\w/]))"
    r"|(?<=±) (?=\d)|(?<=\w) (?== [-+−]?\d)|(?<==) (?=[-+−]?\d)"
)
_HYPHEN_FOR_MINUS = re.compile(r"(?<![\w.)-])-(?=\.?\d)")


@contextmanager
def fitted_to(width: int | None) -> Iterator[None]:
    """Make tables and paragraphs fit lines of a width, while the block runs.

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
    [([['t / °C'], ['0']], (), True)]
    """
    tables: list[Table] = []
    tokens = _apart.set(tables), _mark.set(mark)
    try:
        yield tables
    finally:
        _apart.reset(tokens[0])
        _mark.reset(tokens[1])


def aligned(
    rows: Sequence[Sequence[Cell]],
    *,
    left: int | Sequence[int] = 1,
    indent: str = "",
    header: bool = True,
    usual: int | None = None,
) -> str:
    """Align the cells of each column.

    Parameters
    ----------
    rows : sequence of sequences of str or of several str, all of one length
        The header first, if there is one.  Several texts of a cell stand below each other.
    left : int or sequence of int
        How many leading columns hold words and are aligned to the left, or which columns do, from
        0; the rest hold numbers and are aligned to the right.
    indent : str
        What each line begins with.
    header : bool
        Whether the first row is a header.
    usual : int, optional
        Width to fit outside `fitted_to`; without it as wide as it gets.

    Returns
    -------
    str
        A row for each row: line ends in a text are spaces.
        Within `fitted_to` no wider than that, if it can be done: headers and columns of words are
        broken into lines, and what still has no room follows below, with the first column again.

    Examples
    --------
    >>> print(aligned([["sensor", "R / kΩ"], ["inlet", "9.99"], ["outlet", "10.31"]]))
    sensor  R / kΩ
    inlet     9.99
    outlet   10.31
    >>> print(aligned([["R / kΩ", "of"], ["10.31", ["outlet", "bay 3"]]], left=[1]))
    R / kΩ  of
     10.31  outlet
            bay 3
    """
    # What others wrote would otherwise begin lines that look like ours.
    table = [["\n".join(map(_one_line, _texts(cell))) for cell in row] for row in rows]
    words = tuple(range(left) if isinstance(left, int) else left)
    apart = _apart.get()
    if apart is not None:
        apart.append((table, words, header))
        return f"{_mark.get()}{len(apart) - 1}{_mark.get()}"
    room = usual if _room.get() is None else _room.get()
    columns = [_Column(cells, at in words) for at, cells in enumerate(zip(*table, strict=True))]
    widths = [column.width for column in columns]
    if room is None or len(indent) + _total(widths) <= room:
        return _written(columns, widths, indent, header)
    room -= len(indent)
    return "\n\n".join(
        _written(part, _narrowed(part, room), indent, header)
        for part in _side_by_side(columns, room)
    )


def paragraph(text: str, *, first: str = "", then: str = "", usual: int = 79) -> str:
    """Break a sentence into lines that fit, where somebody said how wide lines are.

    Parameters
    ----------
    text : str
    first, then : str
        What the first line and the others begin with.
    usual : int
        Width outside `fitted_to`.

    Returns
    -------
    str
        A number stays on one line with its unit.  A word longer than a line is not broken.

    Examples
    --------
    >>> with fitted_to(24):
    ...     print(paragraph("the fixed resistor has 10.00 kΩ in this box", then="  "))
    the fixed resistor has
      10.00 kΩ in this box
    """
    if _apart.get() is not None:
        return f"{first}{_one_line(text)}"
    width = _room.get() or usual
    return "\n".join(_lines(_joined(text), width, first, then))


def indented(value: object, by: str = "  ") -> str:
    """Write the text of a value further to the right, no wider than it may be.

    Parameters
    ----------
    value : object
        Its text is made here, since its tables and paragraphs must know that they have less room.
    by : str
        What each line begins with.

    Returns
    -------
    str

    Examples
    --------
    >>> print(indented("at ice\\nshift −0.09 %"))
      at ice
      shift −0.09 %
    """
    room = _room.get()
    with fitted_to(None if room is None else room - len(by)):
        lines = str(value).split("\n")
    return "\n".join(f"{by}{line}" if line else line for line in lines)


def with_minus(text: str) -> str:
    """Write the numbers of a sentence with a minus sign rather than a hyphen.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        Hyphens in names and in exponents stay.

    Examples
    --------
    >>> with_minus("ntc-10k-3977 is off by -0.02 %, where -1 to +1 % is allowed (p = 1e-9)")
    'ntc-10k-3977 is off by −0.02 %, where −1 to +1 % is allowed (p = 1e-9)'
    """
    return _HYPHEN_FOR_MINUS.sub("−", text)


class _Column:
    """Cells of one column, each in texts that stand below each other."""

    def __init__(self, cells: Sequence[str], words: bool) -> None:
        self.cells = [cell.split("\n") for cell in cells]
        self.words = words
        texts = [text for cell in self.cells for text in cell]
        self.width = max(map(len, texts))
        body = [text for cell in self.cells[1:] for text in cell]
        whole = max([*map(_longest, self.cells[0]), *map(len, body)])
        # How narrow it may become: headers of numbers are broken first, then words, at last the
        # headers above short words.
        self.least = (whole, whole, whole)
        if words:
            hang = len(_HANG) if len(texts) > len(self.cells) else 0
            in_words = min(self.width, hang + max([_FEWEST, *map(_longest, texts)]))
            self.least = (self.width, in_words, min(whole, in_words))

    def broken(self, row: int, width: int) -> list[str]:
        texts = self.cells[row]
        if len(texts) == 1:
            return _broken(texts[0], width, "")
        hangs = [" " * (len(text) - len(text.lstrip())) + _HANG for text in texts]
        return [
            line
            for text, then in zip(texts, hangs, strict=True)
            for line in _broken(text, width, then)
        ]


def _texts(cell: Cell) -> Sequence[str]:
    return (cell,) if isinstance(cell, str) else cell or ("",)


def _one_line(text: str) -> str:
    return " ".join(text.splitlines())


def _joined(text: str) -> str:
    return _JOINTS.sub(_NO_BREAK, text)


def _total(widths: Sequence[int]) -> int:
    return sum(widths) + _GAP * (len(widths) - 1)


def _narrowed(columns: Sequence[_Column], room: int) -> list[int]:
    """Widths of columns that are broken no further than is needed."""
    widths = [column.width for column in columns]
    for least in zip(*(column.least for column in columns), strict=True):
        while _total(widths) > room:
            at = max(range(len(widths)), key=lambda at: (widths[at] - least[at], widths[at]))
            if widths[at] <= least[at]:
                break
            widths[at] -= 1
    return widths


def _side_by_side(columns: Sequence[_Column], room: int) -> list[list[_Column]]:
    """Which columns stand beside each other; the first one does in each block."""
    parts = [[columns[0]]]
    for column in columns[1:]:
        if len(parts[-1]) > 1 and _total(_narrowed([*parts[-1], column], room)) > room:
            parts.append([columns[0]])
        parts[-1].append(column)
    return parts


def _longest(cell: str) -> int:
    return max(map(len, _words(cell)), default=0)


def _words(cell: str) -> list[str]:
    """What is not broken: words, short cells such as ``t / °C``, and a stroke with its unit."""
    if len(cell) <= _SHORT:
        return [cell]
    return _joined(cell).replace("/ ", f"/{_NO_BREAK}").split(" ")


def _broken(text: str, width: int, then: str) -> list[str]:
    if len(text) <= width:
        return [text]
    return _lines(" ".join(_words(text)), max(width, 1), "", then) or [""]


def _lines(text: str, width: int, first: str, then: str) -> list[str]:
    lines = textwrap.wrap(
        text, width, initial_indent=first, subsequent_indent=then,
        break_on_hyphens=False, break_long_words=False,
    )  # fmt: skip
    return [line.replace(_NO_BREAK, " ") for line in lines]


def _written(
    columns: Sequence[_Column], widths: Sequence[int], indent: str, header: bool
) -> str:  # fmt: skip
    """Lines of cells that have lines; of the header the last lines stand in one row."""
    lines = []
    for number in range(len(columns[0].cells)):
        row = [column.broken(number, width) for column, width in zip(columns, widths, strict=True)]
        height = max(map(len, row))
        for line in range(height):
            cells = []
            for column, cell, width in zip(columns, row, widths, strict=True):
                at = line - (height - len(cell) if header and number == 0 else 0)
                text = cell[at] if 0 <= at < len(cell) else ""
                cells.append(text.ljust(width) if column.words else text.rjust(width))
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
