"""Logs as Parquet: read and written in row groups, with their schema as it is."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

import numpy as np

from thermofit.errors import CellProblem, FileError
from thermofit.logs.evaluate import Array, Block, Bools
from thermofit.logs.numbers import check_scale

__all__ = ["ParquetBlock", "ParquetSource", "ParquetTarget", "open_parquet"]

_BATCH_ROWS: Final = 2**17
_GROUP_ROWS: Final = 2**20
_GROUP_BYTES: Final = 2**26
_READ_BYTES: Final = 2**20


@dataclass(frozen=True, eq=False)
class ParquetBlock:
    """Some rows of a Parquet log; `first` is the number of the first one, from 1."""

    batch: Any
    first: int

    def __len__(self) -> int:
        return int(self.batch.num_rows)

    def values(self, column: int) -> tuple[Array, Bools]:
        """Numbers of a column, NaN for null."""
        import pyarrow as pa

        found = self.batch.column(column).cast(pa.float64(), safe=False)
        return found.to_numpy(zero_copy_only=False), np.zeros(len(self), dtype=np.bool_)

    def text(self, row: int, column: int) -> str:
        """One cell."""
        return str(self.batch.column(column)[row].as_py())

    def number(self, row: int) -> int:
        """Number of a row."""
        return self.first + row

    def arrow_columns(self) -> list[Any]:
        """All columns."""
        return list(self.batch.columns)


@dataclass(frozen=True, eq=False)
class ParquetSource:
    """A Parquet log that is open."""

    name: str
    file: Any

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the columns."""
        return tuple(self.file.schema_arrow.names)

    @property
    def total(self) -> int:
        """How many rows there are."""
        return int(self.file.metadata.num_rows)

    @property
    def batch_rows(self) -> int:
        """Rows that are read at a time: fewer, where they are wide."""
        return max(min(_BATCH_ROWS, self.group_rows // 4), 1)

    @property
    def group_rows(self) -> int:
        """Rows of the groups that are written."""
        meta = self.file.metadata
        size = sum(meta.row_group(n).total_byte_size for n in range(meta.num_row_groups))
        width = max(size / max(meta.num_rows, 1), 8 * meta.num_columns)
        return max(min(_GROUP_ROWS, int(_GROUP_BYTES / width)), 1)

    def check_numeric(self, column: int) -> None:
        """Refuse a column that does not hold numbers.

        Raises
        ------
        FileError
        """
        import pyarrow.types as kinds

        field = self.file.schema_arrow.field(column)
        if not any(
            of(field.type) for of in (kinds.is_floating, kinds.is_integer, kinds.is_decimal)
        ):
            reason = f"it holds {field.type}, no numbers; name another column, or store numbers"
            raise FileError(self.name, [CellProblem(reason, column=field.name)])

    def pieces(self) -> Iterator[tuple[Any, int]]:
        """Give batches of rows, with the number of their first row."""
        import pyarrow as pa

        first = 1
        batches = self.file.iter_batches(batch_size=self.batch_rows)
        while True:
            try:
                batch = next(batches, None)
            except (OSError, pa.ArrowException) as error:
                reason = f"the file is damaged ({error})"
                raise FileError(self.name, [CellProblem(reason, row=first)]) from error
            if batch is None:
                return
            yield batch, first
            first += batch.num_rows

    def block(self, piece: tuple[Any, int]) -> ParquetBlock:
        """Make a block of what `pieces` gave."""
        return ParquetBlock(*piece)


@contextmanager
def open_parquet(path: Path) -> Iterator[ParquetSource]:
    """Open a Parquet log.

    Raises
    ------
    FileError
        There is no such file, or it is no Parquet.
    ThermofitError
        pyarrow is not installed.
    """
    check_scale("Parquet files")
    import pyarrow as pa
    from pyarrow import parquet

    name = str(path)
    try:
        # Pages are read one after the other, since a row group may be larger than the memory.
        file = parquet.ParquetFile(path, buffer_size=_READ_BYTES, pre_buffer=False)
    except FileNotFoundError:
        raise FileError(name, [CellProblem("there is no such file")]) from None
    except (OSError, pa.ArrowException) as error:
        raise FileError(name, [CellProblem(f"this is no Parquet file ({error})")]) from error
    with file:
        yield ParquetSource(name, file)


class ParquetTarget:
    """A Parquet file that is written group by group.

    Parameters
    ----------
    file : file object
    source : ParquetSource or None
        Whose schema and compression are kept; without it columns are text.
    names : sequence of str
        Of the columns of the source.
    value_column : int
        Index of the one that is converted.
    new : sequence of str
        Of the new columns.
    """

    def __init__(
        self,
        file: IO[bytes],
        source: ParquetSource | None,
        names: Sequence[str],
        value_column: int,
        new: Sequence[str],
    ) -> None:
        check_scale("Parquet files")
        import pyarrow as pa
        from pyarrow import parquet

        self._group_rows = _GROUP_ROWS if source is None else source.group_rows
        self._waiting: list[Any] = []
        self._rows = self._bytes = 0
        schema: Any = pa.schema([(name, pa.string()) for name in names])
        if source is not None:
            schema = source.file.schema_arrow
        for name in new:
            schema = schema.append(pa.field(name, pa.float64()))
        self._schema = schema
        how = {} if source is None else _as_written(source, value_column, new)
        self._writer = parquet.ParquetWriter(file, self._schema, **how)

    def prepare(self, block: Block, new: list[Array]) -> Any:
        """Make a batch of a block; threads may do so at the same time."""
        import pyarrow as pa

        columns = [*block.arrow_columns(), *(pa.array(v, from_pandas=True) for v in new)]
        return pa.RecordBatch.from_arrays(columns, schema=self._schema)

    def append(self, batch: Any) -> None:
        """Take a batch; a group is written when enough of them are there."""
        self._waiting.append(batch)
        self._rows += batch.num_rows
        self._bytes += batch.nbytes
        if self._rows >= self._group_rows or self._bytes >= _GROUP_BYTES:
            self._write()

    def end(self) -> None:
        """Write what is still to be written."""
        self._write()
        self._writer.close()

    def abandon(self) -> None:
        """Let go of the file, whatever it says."""
        with suppress(Exception):
            self._writer.close()

    def _write(self) -> None:
        import pyarrow as pa

        if self._rows:
            table = pa.Table.from_batches(self._waiting, self._schema)
            self._writer.write_table(table, row_group_size=self._group_rows)
        self._waiting, self._rows, self._bytes = [], 0, 0


def _as_written(source: ParquetSource, value_column: int, new: Sequence[str]) -> dict[str, Any]:
    """Compression and dictionaries as the source has them."""
    meta = source.file.metadata
    if not meta.num_row_groups or not meta.num_columns:
        return {}
    group = meta.row_group(0)
    chunks = [group.column(place) for place in range(meta.num_columns)]
    with_dictionary = [
        chunk.path_in_schema
        for chunk in chunks
        if any("DICTIONARY" in encoding for encoding in chunk.encodings)
    ]
    if source.names[value_column] in with_dictionary:
        with_dictionary += new[:1]
    how: dict[str, Any] = {"use_dictionary": with_dictionary or False}
    compression = chunks[0].compression
    if compression in ("SNAPPY", "GZIP", "BROTLI", "LZ4", "ZSTD"):
        how["compression"] = compression
    elif compression == "UNCOMPRESSED":
        how["compression"] = "none"
    return how
