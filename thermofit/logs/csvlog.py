"""Logs as CSV: text that is kept byte for byte, with cells added at the ends of its rows."""

from __future__ import annotations

import csv
import gzip
import io
import zlib
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final, Literal

from thermofit.errors import CellProblem, FileError, InputError
from thermofit.logs.csvheader import read_header, refusal
from thermofit.logs.evaluate import Array, Block, Bools
from thermofit.logs.numbers import numbers, written
from thermofit.logs.rows import CsvRows, framed, last_end, whole_rows
from thermofit.pointsfile.cells import Evidence

__all__ = ["CsvBlock", "CsvSource", "CsvTarget", "open_csv"]

DecimalSign = Literal[".", ","]

_BLOCK: Final = 2**20
_SAMPLE: Final = 1000


@dataclass(frozen=True, eq=False)
class CsvBlock:
    """Some rows of a CSV log."""

    source: CsvSource
    rows: CsvRows

    def __len__(self) -> int:
        return len(self.rows)

    def values(self, column: int) -> tuple[Array, Bools]:
        """Numbers of a column; and which cells are none."""
        return numbers(self.rows.data, *self.rows.bare(column), self.source.decimal)

    def text(self, row: int, column: int) -> str:
        """One cell."""
        return self.rows.text(row, column)

    def number(self, row: int) -> int:
        """Line of the file."""
        return self.rows.number(row)

    def arrow_columns(self) -> list[Any]:
        """All columns as text."""
        import pyarrow as pa

        columns = []
        for place, name in enumerate(self.source.names):
            try:
                columns.append(self.rows.arrow_column(place))
            except pa.ArrowInvalid:
                raise self._not_text(place, name) from None
        return columns

    def _not_text(self, place: int, name: str) -> FileError:
        texts = (self.text(row, place) for row in range(len(self)))
        row = next(row for row, text in enumerate(texts) if "\ufffd" in text)
        reason = "no UTF-8 text, which Parquet needs; save the log in UTF-8, or convert to .csv"
        number, text = self.number(row), self.text(row, place)
        return FileError(self.source.name, [CellProblem(reason, number, name, text)])


@dataclass(frozen=True, eq=False)
class CsvSource:
    """A CSV log that is open.

    Parameters
    ----------
    name : str
        The file, for errors.
    stream : file object
        Gives what follows `head` and `rest`.
    raw : file object
        The file itself, which tells how far it was read.
    head : bytes
        Everything up to and with the header.
    rest : bytes
        What was read beyond it.
    names : tuple of str
    delimiter : str
    total : int
        Bytes of the file.
    decimal : {".", ","}
    """

    name: str
    stream: IO[bytes]
    raw: IO[bytes]
    head: bytes
    rest: bytes
    names: tuple[str, ...]
    delimiter: str
    total: int
    decimal: DecimalSign = "."

    def settled_decimal(self, column: int, stated: DecimalSign | None) -> DecimalSign:
        """Tell the decimal sign: as stated, or as the first rows show it.

        Raises
        ------
        FileError
            They leave it open.
        """
        if self.delimiter == ",":
            if stated == ",":
                raise InputError("a comma cannot part the cells and be the decimal sign as well")
            return "."
        if stated is not None:
            return stated
        evidence = Evidence()
        # What is read already may end within a row, if not within its only one.
        whole = len(self.head) + len(self.rest) < _BLOCK
        end = last_end(self.rest) or (len(self.rest) if whole else 0)
        rows = self.block((self.rest[:end], 1 + self.head.count(b"\n"))).rows
        for row in range(min(len(rows), _SAMPLE)):
            evidence.look_at(rows.text(row, column).strip(), row, str(column))
        found = evidence.writing().decimal
        if found is None:
            reason = (
                "the first rows do not tell whether the comma is the decimal sign or groups "
                "thousands; state it (decimal)"
            )
            raise FileError(self.name, [CellProblem(reason, column=self.names[column])])
        return found

    def pieces(self) -> Iterator[tuple[bytes, int]]:
        """Give whole rows, with the number of their first line."""
        line = 1 + self.head.count(b"\n")

        def read(size: int) -> bytes:
            with _reading(self.name):
                return self.stream.read(size)

        return whole_rows(read, self.rest, _BLOCK, self.name, line)

    def block(self, piece: tuple[bytes, int]) -> CsvBlock:
        """Find the cells of what `pieces` gave."""
        data, line = piece
        rows = framed(data, line, len(self.names), self.delimiter, self.name)
        return CsvBlock(self, rows)

    def done(self) -> int:
        """How many bytes of the file were read; 0 of a pipe, which does not tell."""
        return self.raw.tell() if self.raw.seekable() else 0


@contextmanager
def open_csv(path: Path, delimiter: str | None) -> Iterator[CsvSource]:
    """Open a CSV log and read its header.

    Lines before it that are blank or begin with # are passed over.

    Parameters
    ----------
    path : Path
        A name that ends in .gz is decompressed.
    delimiter : str, optional
        Between cells; without it the one that divides the header.

    Raises
    ------
    FileError
        No header, or no text.
    """
    name = str(path)
    with ExitStack() as stack:
        with _reading(name):
            raw = stack.enter_context(path.open("rb"))
            stream: Any = gzip.GzipFile(fileobj=raw) if path.suffix.lower() == ".gz" else raw
            start = stream.read(_BLOCK)
            total = path.stat().st_size
        header = read_header(start, name, delimiter)
        head, rest = start[: header.end], start[header.end :]
        yield CsvSource(name, stream, raw, head, rest, header.names, header.delimiter, total)


class CsvTarget:
    """A CSV file that is written block by block.

    Parameters
    ----------
    file : file object
    compressed : bool
    """

    def __init__(self, file: IO[bytes], compressed: bool) -> None:
        self._gzip = (
            gzip.GzipFile(filename="", fileobj=file, mode="wb", compresslevel=1, mtime=0)
            if compressed
            else None
        )
        self._file = file if self._gzip is None else self._gzip

    def begin(self, head: bytes, new: Sequence[str], delimiter: str) -> None:
        """Write the header: that of the source with the new columns at its end."""
        line = head.rstrip(b"\r\n")
        cells = io.StringIO()
        csv.writer(cells, delimiter=delimiter, lineterminator="").writerow(new)
        ending = head[len(line) :] or b"\n"
        self._file.write(line + delimiter.encode() + cells.getvalue().encode() + ending)

    def prepare(self, block: Block, new: list[Array], delimiter: str, decimal: str) -> Any:
        """Make the bytes of a block; threads may do so at the same time."""
        if isinstance(block, CsvBlock):
            cells = [written(values, decimal) for values in new]
            return block.rows.extended(cells, delimiter.encode())
        import pyarrow as pa
        from pyarrow import csv as arrow_csv

        columns = [*_writable(block.arrow_columns()), *(pa.array(v, from_pandas=True) for v in new)]
        sink = pa.BufferOutputStream()
        table = pa.RecordBatch.from_arrays(columns, [str(n) for n in range(len(columns))])
        arrow_csv.write_csv(table, sink, arrow_csv.WriteOptions(include_header=False))
        return (sink.getvalue(),)

    def append(self, parts: Any) -> None:
        """Write what `prepare` made."""
        for part in parts:
            self._file.write(part)

    def end(self) -> None:
        """Write what is still to be written."""
        if self._gzip is not None:
            self._gzip.close()

    def abandon(self) -> None:
        """Do nothing: what is written is thrown away."""


def _writable(columns: Sequence[Any]) -> list[Any]:
    """Columns as pyarrow writes them as CSV: it does not know views of text."""
    import pyarrow as pa

    view = pa.string_view()
    return [one.cast(pa.large_string()) if one.type == view else one for one in columns]


@contextmanager
def _reading(name: str) -> Iterator[None]:
    try:
        yield
    except FileNotFoundError:
        raise refusal(name, "there is no such file") from None
    except (EOFError, zlib.error, gzip.BadGzipFile) as error:
        raise refusal(name, f"the compressed file is damaged ({error})") from error
    except OSError as error:
        raise refusal(name, f"it cannot be read ({error.strerror or error})") from error
