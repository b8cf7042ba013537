"""CSV as such (RFC 4180): bytes to and from a header and rows of text."""

from __future__ import annotations

import csv
import io
import threading
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.curvesets.cells import check_text
from thermofit.errors import CellProblem, InputError

if TYPE_CHECKING:
    from thermofit.curvesets.plain import PlainRows

__all__ = ["Sheet", "parse_sheet", "render_sheet"]

Array = npt.NDArray[np.float64]

_LARGEST_FIELD_LIMIT = 2**31 - 1
_WORTH_COLUMNS_BYTES = 2**16
_field_limit = threading.Lock()


@dataclass(frozen=True)
class Sheet:
    """Header and rows of a CSV file, as text.

    Parameters
    ----------
    header : tuple of str
        Names of the columns, each once.
    rows : sequence of tuple of str
        Cells, as many in each row as columns; of a large file they stay bytes until asked for.
    lines : sequence of int
        Line of the file on which each row begins, counted from 1.
    header_line : int
        Line on which the header begins.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...] | PlainRows
    lines: Sequence[int]
    header_line: int = 1

    def cells(self, number: int) -> dict[str, str]:
        """Cells of a row that are not empty, by column."""
        row = self.rows[number]
        return {name: cell for name, cell in zip(self.header, row, strict=True) if cell}

    def column(self, name: str) -> tuple[str, ...]:
        """Cells of a column, without spaces around them; none if there is no such column."""
        if name not in self.header:
            return ()
        return tuple(cell.strip() for cell in self.texts(name))

    def texts(self, name: str) -> list[str]:
        """Cells of a column, as they stand."""
        at = self.header.index(name)
        if not isinstance(self.rows, tuple):
            return self.rows.column(at)
        return [row[at] for row in self.rows]

    def blank(self, name: str) -> npt.NDArray[np.bool_]:
        """Where the cells of a column have no character, shape (n,)."""
        if not isinstance(self.rows, tuple):
            return self.rows.blank(self.header.index(name))
        return np.array([not cell for cell in self.texts(name)], dtype=bool)

    def numbers(self, name: str) -> Array:
        """Values of a column of numbers, shape (n,); NaN where a cell is blank or is no number."""
        at = self.header.index(name)
        if not isinstance(self.rows, tuple) and at in self.rows.numbers:
            return self.rows.numbers[at]
        from thermofit.curvesets.numbers import numbers_of

        return numbers_of(self.texts(name))

    @cached_property
    def equations(self) -> tuple[list[str], npt.NDArray[np.intp]]:
        """Names of the equations, and which of them each row has; as `labels` gives them."""
        return self.labels("equation")

    @cached_property
    def id_words(self) -> npt.NDArray[np.uint64] | None:
        """Ids as bytes, as `PlainRows.words` gives them; None of long ones, and of a few rows."""
        if isinstance(self.rows, tuple):
            return None
        return self.rows.words(self.header.index("id"))

    def labels(self, name: str) -> tuple[list[str], npt.NDArray[np.intp]]:
        """Give the different texts of a column, and which of them each cell is, shape (n,)."""
        if not isinstance(self.rows, tuple):
            found = self.rows.labels(self.header.index(name))
            if found is not None:
                return found
        texts = self.texts(name)
        known = {text: at for at, text in enumerate(dict.fromkeys(texts))}
        return list(known), np.array([known[text] for text in texts], dtype=np.intp)


def parse_sheet(data: bytes) -> tuple[Sheet, list[CellProblem]]:
    """Take a CSV file apart.

    Parameters
    ----------
    data : bytes
        UTF-8 with or without a byte order mark, any line ends.  Rows and
        unnamed columns that are entirely blank count as absent.

    Returns
    -------
    sheet : Sheet
        What could be read.
    problems : list of CellProblem
        What could not.
    """
    if len(data) >= _WORTH_COLUMNS_BYTES:
        from thermofit.curvesets.scan import plain_sheet

        plain = plain_sheet(data)
        if plain is not None:
            header, rows_as_they_stand = plain
            return Sheet(header, rows_as_they_stand, range(2, len(rows_as_they_stand) + 2)), []
    problems: list[CellProblem] = []
    lines: list[int] = []
    rows: list[list[str]] = []
    text = io.TextIOWrapper(io.BytesIO(data), encoding="utf-8-sig", newline="")
    try:
        with _fields_up_to(len(data)):
            reader = csv.reader(text, strict=True)
            start = 1
            for row in reader:
                if any(cell.strip() for cell in row):
                    rows.append(row)
                    lines.append(start)
                start = reader.line_num + 1
    except UnicodeDecodeError:
        problems.append(_undecodable(data))
    except csv.Error as error:
        reason = f"not CSV as RFC 4180 has it ({error}); look for a stray quotation mark"
        problems.append(CellProblem(reason, row=start))
    if problems:
        return Sheet((), (), ()), problems
    if not rows:
        reason = "the file is empty; a curve set begins with a header"
        return Sheet((), (), ()), [CellProblem(reason)]
    return _checked(rows, lines)


def render_sheet(header: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """Put a CSV file together: UTF-8, lines ending in CR LF."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(header)
    from thermofit.curvesets.plain import PlainRows

    if isinstance(rows, PlainRows):
        return out.getvalue().encode("utf-8") + rows.to_csv()
    writer.writerows(rows)
    return out.getvalue().encode("utf-8")


def _checked(rows: list[list[str]], lines: list[int]) -> tuple[Sheet, list[CellProblem]]:
    header, body = [name.strip() for name in rows[0]], rows[1:]
    width = len(header)
    if width == 1 and ";" in header[0]:
        reason = (
            "the columns are separated by semicolons; save the file with commas between the "
            "columns and with decimal points"
        )
        return Sheet((), (), ()), [CellProblem(reason, row=lines[0])]
    problems = [
        CellProblem("this name stands more than once; rename or remove a column", lines[0], name)
        for name in dict.fromkeys(header)
        if name and header.count(name) > 1
    ]
    even: list[tuple[str, ...]] = []
    even_lines: list[int] = []
    for row, line in zip(body, lines[1:], strict=True):
        if len(row) != width:
            reason = (
                f"this row has {len(row)} cells, the header {width}; "
                "quote cells that hold a comma and leave blank ones empty"
            )
            problems.append(CellProblem(reason, row=line))
            continue
        even.append(tuple(row))
        even_lines.append(line)
    named = [at for at, name in enumerate(header) if name]
    for at in sorted(set(range(width)) - set(named)):
        for cells, line in zip(even, even_lines, strict=True):
            if cells[at].strip():
                reason = "this column has no name in the header; name it"
                problems.append(CellProblem(reason, line, f"number {at + 1}", cells[at]))
                break
    for name in header:
        _note_unclean(problems, name, lines[0], None)
    for cells, line in zip(even, even_lines, strict=True):
        for name, cell in zip(header, cells, strict=True):
            _note_unclean(problems, cell, line, name)
    if len(named) < width:
        even = [tuple(cells[at] for at in named) for cells in even]
    names = tuple(header[at] for at in named)
    return Sheet(names, tuple(even), tuple(even_lines), lines[0]), problems


def _note_unclean(problems: list[CellProblem], cell: str, line: int, column: str | None) -> None:
    # The quick look first: nearly every cell is plain.
    if cell.isalnum():
        return
    try:
        check_text(cell)
    except InputError as error:
        problems.append(CellProblem(str(error), line, column, cell))


def _undecodable(data: bytes) -> CellProblem:
    try:
        data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        reason = f"byte {error.start + 1} of the file is not UTF-8; save the file as CSV in UTF-8"
        return CellProblem(reason, row=line)
    raise AssertionError("only what does not decode comes here")


@contextmanager
def _fields_up_to(size: int) -> Iterator[None]:
    """Let the csv module read cells as long as the file; its limit is shared."""
    with _field_limit:
        before = csv.field_size_limit()
        csv.field_size_limit(min(max(before, size), _LARGEST_FIELD_LIMIT))
        try:
            yield
        finally:
            csv.field_size_limit(before)
