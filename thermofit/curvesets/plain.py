"""Rows of a plain CSV text as they stand in the file, and its numbers as columns."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, overload

import numpy as np
import numpy.typing as npt

__all__ = ["Array", "Bytes", "PlainRows", "Places"]

Array = npt.NDArray[np.float64]
Bytes = npt.NDArray[np.uint8]
Places = npt.NDArray[np.uint32]
Rows = npt.NDArray[np.intp]

_QUOTE: Final = ord('"')
_LONGEST_LABEL: Final = 40
_MOST_LABELS: Final = 40
_FIRST_BYTES: Final = np.array([2 ** (8 * k) - 1 for k in range(9)], dtype=np.uint64)


@dataclass(frozen=True, eq=False, repr=False)
class PlainRows(Sequence[tuple[str, ...]]):
    """Rows of text cells, kept as bytes of the file.

    Parameters
    ----------
    data : bytes
        UTF-8.
    starts : array of uint32, shape (n,)
        Where each row begins.
    ends : array of uint32, shape (n, k)
        Where each cell ends; the next one begins a byte later.
    numbers : mapping of int to array, shape (n,)
        Values of the columns that hold numbers, NaN where there is none.
    """

    data: bytes
    starts: Places
    ends: Places
    numbers: Mapping[int, Array]

    def __len__(self) -> int:
        return len(self.starts)

    @overload
    def __getitem__(self, key: int) -> tuple[str, ...]: ...
    @overload
    def __getitem__(self, key: slice | Rows) -> PlainRows: ...
    def __getitem__(self, key: int | slice | Rows) -> tuple[str, ...] | PlainRows:
        if isinstance(key, (slice, np.ndarray)):
            numbers = {at: column[key] for at, column in self.numbers.items()}
            return PlainRows(self.data, self.starts[key], self.ends[key], numbers)
        text = self.data[self.starts[key] : self.ends[key, -1]].decode()
        return tuple(text.split(",") if '"' not in text else next(csv.reader([text], strict=True)))

    def __iter__(self) -> Iterator[tuple[str, ...]]:
        return (self[at] for at in range(len(self)))

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, (PlainRows, tuple)):
            return NotImplemented
        return len(self) == len(other) and all(a == b for a, b in zip(self, other, strict=True))

    def __hash__(self) -> int:
        return hash(tuple(self))

    def column(self, at: int) -> list[str]:
        """Cells of a column."""
        begins, ends = self._begins(at).tolist(), self.ends[:, at].tolist()
        cells = [self.data[a:b] for a, b in zip(begins, ends, strict=True)]
        if not cells:
            return []
        # A character that no cell has: one decoding is quicker than many.
        texts = b"\0".join(cells).decode().split("\0")
        if any(cell[:1] == b'"' for cell in cells):
            return [_unquoted(text) for text in texts]
        return texts

    def blank(self, at: int) -> npt.NDArray[np.bool_]:
        """Where the cells of a column have no character."""
        numbers = self.numbers.get(at)
        if numbers is not None and np.isfinite(numbers).all():
            return np.zeros(len(self), dtype=bool)
        blank: npt.NDArray[np.bool_] = self._begins(at) == self.ends[:, at]
        return blank

    def first(self, columns: Sequence[int]) -> Bytes:
        """First bytes of what cells say, shape (n, m); of blank ones those which follow them."""
        begins = self.ends[:, np.array(columns) - 1] + np.uint32(1)
        if 0 in columns:
            begins[:, list(columns).index(0)] = self.starts
        letters = np.frombuffer(self.data, dtype=np.uint8)
        first: Bytes = letters[begins]
        quoted = first == _QUOTE
        if quoted.any():
            first = letters[begins + quoted]
        return first

    def last(self, at: int) -> Bytes:
        """Last byte of the cells of a column; of a blank one that which stands before it."""
        last: Bytes = np.frombuffer(self.data, dtype=np.uint8)[self.ends[:, at] - np.uint32(1)]
        return last

    def labels(self, at: int) -> tuple[list[str], npt.NDArray[np.intp]] | None:
        """Give the few texts of a column, and which of them each cell is.

        Returns
        -------
        texts, places : list of str, array of int, shape (n,)
            None if there are many, or long ones.
        """
        cells = self.words(at)
        if cells is None or not len(self):
            return None
        places = np.full(len(self), -1)
        texts: list[str] = []
        at = 0
        while True:
            text = cells[:, at]
            same = cells[0] == text[0]
            for word in range(1, len(cells)):
                same &= cells[word] == text[word]
            places[same] = len(texts)
            texts.append(_unquoted(text.tobytes().rstrip(b"\0").decode()))
            at = int(places.argmin())
            if places[at] >= 0:
                return texts, places
            if len(texts) == _MOST_LABELS:
                return None

    def words(self, at: int) -> npt.NDArray[np.uint64] | None:
        """Give the cells of a column as bytes, eight in a number and filled up with noughts.

        Returns
        -------
        array, shape (w, n)
            None if there is a long one.
        """
        begins = self._begins(at)
        widths = self.ends[:, at] - begins
        longest = int(widths.max(initial=1))
        count = -(-longest // 8)
        if count > _LONGEST_LABEL // 8:
            return None
        alike = bool((widths == longest).all())
        size = len(self.data)
        # Eight bytes from every place on; the last places have no eight.
        eights = np.ndarray(max(size - 7, 0), dtype="<u8", buffer=self.data, strides=(1,))
        words = np.zeros((count, len(self)), dtype=np.uint64)
        near_end = begins.astype(np.int64) > size - 8 * count
        for word in range(count):
            before = np.uint32(8 * word)
            places = begins + before
            places[near_end] = 0
            if alike:
                mask = _FIRST_BYTES[min(longest - 8 * word, 8)]
            else:
                left = np.minimum(np.maximum(widths, before) - before, np.uint32(8))
                mask = _FIRST_BYTES[left]
            np.bitwise_and(eights[places], mask, out=words[word])
        for row in np.flatnonzero(near_end).tolist():
            cell = self.data[begins[row] : self.ends[row, at]]
            words[:, row] = np.frombuffer(cell.ljust(8 * count, b"\0"), dtype="<u8")
        return words

    def to_csv(self) -> bytes:
        """Write the rows as RFC 4180 has them, each line ending in CR LF."""
        ends = self.ends[:, -1].tolist()
        lines = [self.data[a:b] for a, b in zip(self.starts.tolist(), ends, strict=True)]
        if _QUOTE in self.data:
            lines = [
                _csv_line(self[at]).encode() if _QUOTE in line else line
                for at, line in enumerate(lines)
            ]
        return b"\r\n".join([*lines, b""])

    def _begins(self, at: int) -> Places:
        return self.ends[:, at - 1] + np.uint32(1) if at else self.starts


def _csv_line(cells: Sequence[str]) -> str:
    """Write one row, without its line end."""
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(cells)
    return out.getvalue()


def _unquoted(text: str) -> str:
    return text[1:-1].replace('""', '"') if text[:1] == '"' else text
