"""The call that converts a log, file to file."""

from __future__ import annotations

import csv
import io
import os
import warnings
from collections import deque
from collections.abc import Callable, Generator, Iterable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import ExitStack, closing
from dataclasses import asdict, replace
from pathlib import Path
from typing import Any, Final, Literal

from thermofit.curve import Curve
from thermofit.errors import CellProblem, ExtrapolationWarning, FileError
from thermofit.evaluation import thread_count
from thermofit.logs.arguments import check_arguments, ending_of, refuse_same
from thermofit.logs.columns import Quantity, find_value_column, refuse_repeated, refuse_taken
from thermofit.logs.csvlog import CsvSource, CsvTarget, DecimalSign, open_csv
from thermofit.logs.evaluate import Unusable, Work
from thermofit.logs.parquetlog import ParquetSource, ParquetTarget, open_parquet
from thermofit.logs.summary import Counts, LogConversion
from thermofit.logs.target import written_whole

__all__ = ["convert_log"]

_DEFAULT: Final[dict[Quantity, tuple[str, Quantity]]] = {
    "temperature": ("t_c", "resistance"),
    "resistance": ("r_ohm", "temperature"),
}


def convert_log(
    source: str | os.PathLike[str],
    target: str | os.PathLike[str],
    curve: Curve,
    *,
    column: str | int | None = None,
    unit: str | None = None,
    to: Literal["temperature", "resistance"] = "temperature",
    new_column: str | None = None,
    u_column: str | None = None,
    u_r_pct: float = 0.0,
    u_r_ohm: float = 0.0,
    u_t_k: float = 0.0,
    delimiter: str | None = None,
    decimal: DecimalSign | None = None,
    unusable: Unusable = "refuse",
    strict: bool = False,
    overwrite: bool = False,
    workers: int = 1,
    progress: Callable[[int, int], object] | None = None,
) -> LogConversion:
    """Convert a log of any length, file to file, with memory that stays flat.

    The target has the columns of the source, unchanged, and a new one.  It appears whole or not
    at all: until everything is converted it is a hidden file beside its place, which is removed
    when anything goes wrong.

    Parameters
    ----------
    source, target : path
        Names that end in .csv, .csv.gz or .parquet, in any combination.  Parquet needs pyarrow
        (extra ``scale``); with it CSV is about five times as fast, too.
    curve : Curve
    column : str or int, optional
        Column to convert, by header or by position counted from 1; needed unless one header
        alone is plainly that of a resistance (or of a temperature).
    unit : str, optional
        Unit of that column, such as "ohm", "kohm" or "F", where its header does not tell it.
        Overrules the header.
    to : {"temperature", "resistance"}
        What to compute: temperatures in °C, or resistances in Ω.
    new_column : str, optional
        Name of the new column; ``t_c`` or ``r_ohm``.
    u_column : str, optional
        Name of one more column, with the standard uncertainty in K or Ω; none is added without.
    u_r_pct, u_r_ohm : float
        Standard uncertainty of each resistance read, in percent of it and in Ω (their sum
        counts).  Without them `u_column` speaks of the curve only.
    u_t_k : float
        Standard uncertainty of each temperature, where resistances are computed.
    delimiter : str, optional
        Between the cells of a CSV; the one that divides its header, if not stated.
    decimal : {".", ","}, optional
        Decimal sign of a CSV; as its first rows show it, if not stated.
    unusable : {"refuse", "blank"}
        What becomes of a cell that is no number, or that no sensor can have (zero, negative,
        infinite): the log is refused, or the new cell stays blank and is counted.
    strict : bool
        Refuse, rather than count, what lies outside the valid range.
    overwrite : bool
        Whether the target may replace a file.
    workers : int
        Threads; −1 for as many as there are processors.
    progress : callable, optional
        Called with what is done and the total, in bytes of a CSV or in rows of a Parquet file.

    Returns
    -------
    LogConversion
        How many rows, how many of them blank or outside the valid range and where the first is,
        lowest and highest value, and what the file was read as.

    Raises
    ------
    FileError
        A cell, a row or a column of the source that cannot be used; says which, and the way out.
    ExtrapolationError
        With `strict`, a value outside the valid range.
    StorageError
        The target exists, is the source, or cannot be written.
    InputError
        Another argument is not what it should be.
    ThermofitError
        Parquet without pyarrow.

    Warns
    -----
    ExtrapolationWarning
        Values outside the valid range, once for all of them.

    Notes
    -----
    Cells without a reading (empty, or NaN, NA, null, -- …; null in Parquet) stay blank, and so do
    those for which the curve has no value.  CSV is kept byte for byte: further cells are added at
    the ends of its rows, in the fewest digits that read back to the same float64, with the file's
    own delimiter, decimal sign and line ends.  Parquet keeps its schema, metadata and compression.
    From CSV to Parquet all other columns become text.

    While it runs, the process ignores `ExtrapolationWarning`; what is outside is counted instead.
    A process that is killed (not interrupted) leaves the hidden file, ``.NAME.….tmp``.

    Examples
    --------
    An invented log of an air sensor:

    >>> import tempfile
    >>> from pathlib import Path
    >>> import thermofit as tf
    >>> from thermofit.logs import convert_log
    >>> curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-20, 60))
    >>> with tempfile.TemporaryDirectory() as name:
    ...     log = Path(name) / "july.csv"
    ...     _ = log.write_text("time,house,inlet / kΩ\\n06:00,007,12.50\\n06:10,007,\\n")
    ...     done = convert_log(log, Path(name) / "july-c.csv", curve, column="inlet / kΩ")
    ...     print((Path(name) / "july-c.csv").read_text(), end="")
    time,house,inlet / kΩ,t_c
    06:00,007,12.50,20.094...
    06:10,007,,
    >>> done.rows, done.blank, done.first_blank
    (2, 1, 3)
    >>> print(*done.notes, sep="\\n")
    cells separated by ',', decimal sign '.'
    column 3 'inlet / kΩ' read as resistance in kΩ, from its header
    """
    paths = Path(source), Path(target)
    check_arguments(to, unusable, decimal, curve, u_column, (u_r_pct, u_r_ohm, u_t_k))
    threads = thread_count(workers)
    endings = [ending_of(path) for path in paths]
    refuse_same(*paths)
    default, quantity = _DEFAULT[to]
    new = (default if new_column is None else new_column, *([] if u_column is None else [u_column]))
    with ExitStack() as stack:
        opened: CsvSource | ParquetSource
        if endings[0] == ".parquet":
            opened = stack.enter_context(open_parquet(paths[0]))
        else:
            opened = stack.enter_context(open_csv(paths[0], delimiter))
        value = find_value_column(opened.names, opened.name, quantity, column, unit)
        refuse_taken(opened.names, opened.name, new)
        notes = [value.note]
        if isinstance(opened, CsvSource):
            if endings[1] == ".parquet":
                refuse_repeated(opened.names, opened.name)
            opened = replace(opened, decimal=opened.settled_decimal(value.place, decimal))
            notes.insert(
                0, f"cells separated by {opened.delimiter!r}, decimal sign {opened.decimal!r}"
            )
        else:
            opened.check_numeric(value.place)
        u_part, u_fixed = (u_r_pct / 100.0, u_r_ohm) if to == "temperature" else (0.0, u_t_k)
        work = Work(
            opened.name, curve, value, unusable, strict, u_column is not None, u_part, u_fixed
        )
        file = stack.enter_context(written_whole(paths[1], overwrite))
        stack.enter_context(warnings.catch_warnings())
        warnings.simplefilter("ignore", ExtrapolationWarning)
        writer: CsvTarget | ParquetTarget
        if endings[1] == ".parquet":
            kept = opened if isinstance(opened, ParquetSource) else None
            writer = ParquetTarget(file, kept, opened.names, value.place, new)
        else:
            writer = CsvTarget(file, endings[1] == ".csv.gz")
        try:
            counts = _convert(opened, writer, work, new, threads, progress)
            writer.end()
        except BaseException:
            writer.abandon()
            raise
    if counts.outside:
        are = "value is" if counts.outside == 1 else "values are"
        warnings.warn(
            f"{opened.name}: {counts.outside} {are} outside the curve's valid range of "
            f"{curve.t_min_c:.6g} to {curve.t_max_c:.6g} °C, the first in row "
            f"{counts.first_outside}",
            ExtrapolationWarning,
            stacklevel=2,
        )
    return LogConversion(
        source=str(paths[0]),
        target=str(paths[1]),
        to=to,
        curve_id=curve.id,
        new_columns=new,
        notes=tuple(notes),
        **asdict(counts),
    )


def _convert(
    source: CsvSource | ParquetSource,
    target: CsvTarget | ParquetTarget,
    work: Work,
    new: Sequence[str],
    threads: int,
    progress: Callable[[int, int], object] | None,
) -> Counts:
    delimiter, sign = ",", "."
    if isinstance(source, CsvSource):
        delimiter, sign = source.delimiter, source.decimal
    if isinstance(target, CsvTarget):
        head = source.head if isinstance(source, CsvSource) else _head(source)
        target.begin(head, new, delimiter)

    def one(piece: Any) -> tuple[Any, Counts]:
        block = source.block(piece)
        values, counts = work.of(block)
        if isinstance(target, CsvTarget):
            return target.prepare(block, values, delimiter, sign), counts
        return target.prepare(block, values), counts

    counts = Counts()
    with closing(_in_order(one, source.pieces(), threads)) as done:
        for payload, part in done:
            target.append(payload)
            counts += part
            if progress is not None:
                at = source.done() if isinstance(source, CsvSource) else counts.rows
                progress(at, source.total)
    return counts


def _in_order(
    work: Callable[[Any], Any], pieces: Iterable[Any], threads: int
) -> Generator[Any, None, None]:
    """Work off pieces by threads, a few ahead, and give the results in the order of the pieces."""
    if threads == 1:
        yield from map(work, pieces)
        return
    with ThreadPoolExecutor(threads) as pool:
        ahead: deque[Future[Any]] = deque()
        try:
            for piece in pieces:
                ahead.append(pool.submit(work, piece))
                if len(ahead) > threads:
                    yield ahead.popleft().result()
            while ahead:
                yield ahead.popleft().result()
        finally:
            for future in ahead:
                future.cancel()


def _head(source: ParquetSource) -> bytes:
    """A header for a CSV; what has no place in one is refused."""
    import pyarrow as pa
    import pyarrow.types as kinds

    placeless = (
        kinds.is_nested, kinds.is_binary, kinds.is_large_binary, kinds.is_binary_view,
        kinds.is_fixed_size_binary,
    )  # fmt: skip
    for field in source.file.schema_arrow:
        held = field.type.value_type if kinds.is_dictionary(field.type) else field.type
        if isinstance(held, pa.BaseExtensionType) or any(of(held) for of in placeless):
            reason = f"{field.type} has no place in a CSV; convert to a .parquet file"
            raise FileError(source.name, [CellProblem(reason, column=field.name)])
    cells = io.StringIO()
    csv.writer(cells, lineterminator="\n").writerow(source.names)
    return cells.getvalue().encode()
