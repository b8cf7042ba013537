"""Blocks of a CSV file that hold whole rows, and where their cells begin and end."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, Final

import numpy as np
import numpy.typing as npt

from thermofit.errors import CellProblem, FileError
from thermofit.logs.numbers import arrow_cells, has_arrow

__all__ = ["CsvRows", "framed", "last_end", "row_end", "whole_rows"]

Places = npt.NDArray[np.int64]

_LONGEST_ROW: Final = 2**24
_LINE_FEED, _RETURN, _QUOTE, _SPACE = b'\n\r" '


def row_end(data: bytes, start: int = 0) -> int:
    """Find the end of the row that begins at `start`; 0 where it does not end.

    A line feed within quotes ends no row.

    Examples
    --------
    >>> row_end(b'r_ohm,"note\\nof the day"\\n10000,')
    24
    """
    at, quotes = start, 0
    while (feed := data.find(b"\n", at)) >= 0:
        quotes += data.count(b'"', at, feed)
        if quotes % 2 == 0:
            return feed + 1
        at = feed + 1
    return 0


def whole_rows(
    read: Callable[[int], bytes], rest: bytes, size: int, name: str, line: int
) -> Iterator[tuple[bytes, int]]:
    """Read on, in blocks that end where a row ends.

    Parameters
    ----------
    read : callable
        Gives up to so many bytes; none at the end.
    rest : bytes
        What was read already.
    size : int
        Of a block, in bytes, about.
    name : str
        The file, for errors.
    line : int
        Number of the line at which `rest` begins.

    Yields
    ------
    data : bytes
        Ends with a line feed, but for the last one perhaps.
    line : int
        Number of its first line.

    Raises
    ------
    FileError
        A row that does not end.
    """
    while True:
        piece = read(max(size - len(rest), size // 2))
        data = rest + piece
        if not piece:
            if data:
                yield data, line
            return
        end = last_end(data)
        rest = data[end:]
        if len(rest) > _LONGEST_ROW:
            reason = (
                'the row is unreasonably long; is a quote (") opened here that is never closed?'
            )
            raise FileError(name, [CellProblem(reason, row=line + data.count(b"\n", 0, end))])
        if end:
            yield data[:end], line
            line += data.count(b"\n", 0, end)


def last_end(data: bytes) -> int:
    """End of the last row that is whole; 0 where there is none."""
    feed = data.rfind(b"\n")
    quotes = data.count(b'"', 0, feed + 1) if feed >= 0 else 0
    while feed >= 0 and quotes % 2:
        before = data.rfind(b"\n", 0, feed)
        quotes -= data.count(b'"', before + 1, feed + 1)
        feed = before
    return feed + 1


@dataclass(frozen=True, eq=False)
class CsvRows:
    """Rows of a CSV file, as they stand there.

    Parameters
    ----------
    data : bytes
        Ends with a line feed.
    line : int
        Number in the file of the first line.
    starts, ends : array of int, shape (rows, columns)
        Where the cells begin and end in `data`.
    closed : bool
        Whether the last line feed stands in the file.
    """

    data: bytes
    line: int
    starts: Places
    ends: Places
    closed: bool

    def __len__(self) -> int:
        return len(self.ends)

    def bare(self, column: int) -> tuple[Places, Places]:
        """Where the cells of a column begin and end, without quotes around them."""
        starts, ends = self.starts[:, column], self.ends[:, column]
        if b'"' not in self.data:
            return starts, ends
        bytes_ = np.frombuffer(self.data, dtype=np.uint8)
        quoted = (bytes_[starts] == _QUOTE) & (bytes_[ends - 1] == _QUOTE) & (ends - starts > 1)
        return starts + quoted, ends - quoted

    def text(self, row: int, column: int) -> str:
        """Give one cell, for a message."""
        starts, ends = self.bare(column)
        return self.data[starts[row] : ends[row]].decode("utf-8", "replace")

    def number(self, row: int) -> int:
        """Line of the file on which a row begins."""
        return self.line + self.data.count(b"\n", 0, int(self.starts[row, 0]))

    def extended(self, cells: list[Any], delimiter: bytes) -> tuple[Any, bytes]:
        """Give the bytes of the rows with further cells at their ends.

        Parameters
        ----------
        cells : list
            What `thermofit.logs.numbers.written` gave, for each column.
        delimiter : bytes

        Returns
        -------
        rows : buffer
        tail : bytes
            What follows the last cell.
        """
        places = self.ends[:, -1]
        last = int(places[-1]) if len(places) else 0
        tail = self.data[last : len(self.data) if self.closed else len(self.data) - 1]
        if not len(places):
            return b"", tail
        edges = np.concatenate([[0], places])
        if not has_arrow():
            parts = [self.data[a:b] for a, b in pairwise(edges.tolist())]
            rows = map(delimiter.join, zip(parts, *cells, strict=True))
            return b"".join(rows), tail
        import pyarrow as pa
        import pyarrow.compute as pc

        offsets = edges.astype(np.int32)
        buffers = [None, pa.py_buffer(offsets), pa.py_buffer(self.data)]
        parts = pa.Array.from_buffers(pa.binary(), len(places), buffers)
        for column in cells:
            parts = pc.binary_join_element_wise(parts, column, delimiter)
        _, offsets, joined = parts.buffers()
        return memoryview(joined)[: np.frombuffer(offsets, np.int32)[len(places)]], tail

    def arrow_column(self, column: int) -> Any:
        """Give a column as a pyarrow array of text.

        Raises
        ------
        ArrowInvalid
            One of its cells is no UTF-8.
        """
        import pyarrow as pa
        import pyarrow.compute as pc

        cells = pc.cast(arrow_cells(self.data, *self.bare(column)), pa.string())
        return pc.replace_substring(cells, '""', '"') if b'""' in self.data else cells


def framed(data: bytes, line: int, columns: int, delimiter: str, name: str) -> CsvRows:
    """Find the cells of a block of whole rows.

    Blank lines are no rows; they stay where they are.

    Parameters
    ----------
    data : bytes
    line : int
        Number of its first line.
    columns : int
        How many cells a row has.
    delimiter : str
    name : str
        The file, for errors.

    Raises
    ------
    FileError
        A row with more or fewer cells, or a quote within a cell.

    Examples
    --------
    >>> rows = framed(b'1,"10000"\\n2,"9870"\\n', 2, 2, ",", "july.csv")
    >>> len(rows), rows.text(1, 1), rows.number(1)
    (2, '9870', 3)
    """
    closed = data.endswith(b"\n")
    if not closed:
        data += b"\n"
    bytes_ = np.frombuffer(data, dtype=np.uint8)
    marks = (bytes_ == ord(delimiter)) | (bytes_ == _LINE_FEED)
    within = np.zeros(1, dtype=np.bool_)
    if b'"' in data:
        within = _within_quotes(data, bytes_, line, delimiter, name)
        marks &= ~within
    if data.count(b"\r") > data.count(b"\r\n"):
        _refuse_lone_return(data, (bytes_ == _RETURN) & ~within, line, name)
    ends = np.flatnonzero(marks)
    feeds = bytes_[ends] == _LINE_FEED
    starts = np.empty_like(ends)
    starts[:1], starts[1:] = 0, ends[:-1] + 1
    if data[:1] in b"\r\n" or b"\n\n" in data or b"\n\r\n" in data:
        empty = (ends == starts) | ((ends == starts + 1) & (bytes_[starts] == _RETURN))
        kept = ~(feeds & empty & np.concatenate([[True], feeds[:-1]]))
        starts, ends, feeds = starts[kept], ends[kept], feeds[kept]
    if len(ends) % columns or not _regular(feeds.reshape(-1, columns)):
        raise FileError(name, [_irregular(data, line, starts, feeds, columns)])
    if b"\r" in data:
        lasts = np.flatnonzero(feeds)
        ends[lasts] -= bytes_[ends[lasts] - 1] == _RETURN
    table = -1, columns
    return CsvRows(data, line, starts.reshape(table), ends.reshape(table), closed)


def _refuse_lone_return(data: bytes, returns: npt.NDArray[np.bool_], line: int, name: str) -> None:
    """Refuse a CR without LF, which to other readers ends a row."""
    for place in np.flatnonzero(returns).tolist():
        if data[place + 1] != _LINE_FEED:
            reason = "a CR without LF, where some programs end a row; save it with LF or CRLF"
            raise FileError(name, [CellProblem(reason, row=line + data.count(b"\n", 0, place))])


def _regular(feeds: npt.NDArray[np.bool_]) -> bool:
    return bool(feeds[:, -1].all()) and not feeds[:, :-1].any()


def _irregular(
    data: bytes, line: int, starts: Places, feeds: npt.NDArray[np.bool_], columns: int
) -> CellProblem:
    lasts = np.flatnonzero(feeds)
    counts = np.diff(lasts, prepend=-1)
    row = int(np.argmax(counts != columns))
    first = int(starts[lasts[row] - counts[row] + 1])
    cells = "1 cell" if counts[row] == 1 else f"{counts[row]} cells"
    return CellProblem(
        f"{cells} where the header has {columns}; correct the row, or state the delimiter "
        "(delimiter)",
        row=line + data.count(b"\n", 0, first),
    )


def _within_quotes(
    data: bytes, bytes_: npt.NDArray[np.uint8], line: int, delimiter: str, name: str
) -> npt.NDArray[np.bool_]:
    """Which bytes stand within quotes, of which some may be unpaired."""
    quotes = np.flatnonzero(bytes_ == _QUOTE)
    around = np.array([ord(delimiter), _LINE_FEED, _RETURN, _QUOTE], dtype=np.uint8)
    opening, closing = quotes[0::2], quotes[1::2]
    before, after = bytes_[opening - 1], bytes_[closing + 1]
    stray = [~np.isin(before, around) & (opening > 0), ~np.isin(after, around)]
    if (before[stray[0]] == _SPACE).any() or (after[stray[1]] == _SPACE).any():
        # Spaces may stand between a quoted cell and what parts it from the next one.
        solid = np.append(-1, np.flatnonzero(bytes_ != _SPACE))
        before = solid[np.searchsorted(solid, opening) - 1]
        after = solid[np.searchsorted(solid, closing, side="right")]
        stray[0] &= ~np.isin(bytes_[before], around[:-1])
        stray[1] &= ~np.isin(bytes_[after], around[:-1])
    wrong = opening[stray[0]][:1].tolist() + closing[stray[1]][:1].tolist()
    if len(quotes) % 2:
        wrong.append(int(quotes[-1]))
    if wrong:
        reason = 'a quote (") within a cell; quote the cell as a whole, and double the quote in it'
        raise FileError(name, [CellProblem(reason, row=line + data.count(b"\n", 0, min(wrong)))])
    changes = np.zeros(len(bytes_), dtype=np.int8)
    changes[opening], changes[closing] = 1, -1
    return np.cumsum(changes, dtype=np.int8) > 0
