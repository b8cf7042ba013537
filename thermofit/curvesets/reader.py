"""Read a curve set, and check all of it."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from thermofit.curvesets.cells import check_file_name
from thermofit.curvesets.columns import is_known, known_spelling, slips
from thermofit.curvesets.curveset import CurveSet
from thermofit.curvesets.decode import curve_from_cells, settings_of
from thermofit.curvesets.familycells import RowError
from thermofit.curvesets.sheet import Sheet, parse_sheet
from thermofit.curvesets.storage import TooLargeError, read_bounded
from thermofit.errors import CellProblem, CurveSetError, InputError

__all__ = ["DEFAULT_MAX_BYTES", "checked_set", "read_curve_set"]

DEFAULT_MAX_BYTES = 256 * 2**20
"""What a set and its companion files may have together unless told otherwise: 256 MiB."""

_ATTEMPTS = 5
_SHOWN_NAMES = 8

# Fewer rows are looked at one by one, sooner than what examines columns is imported.
_FEW = 64


def read_curve_set(path: str | os.PathLike[str], *, max_bytes: int = DEFAULT_MAX_BYTES) -> CurveSet:
    """Read a curve set from its CSV file and the companion files beside it.

    Every row is checked: that its cells are what their columns promise, that the
    curve is monotone over its range, and that ``r25_ohm`` and ``b_25_85_k``
    agree with the coefficients within 0.5 %.  Large sets are checked column by
    column, and no curve is made before one is asked for.  Needs NumPy alone, pandas
    for some thousand rows, and SciPy for a table whose node slopes are not given.

    Parameters
    ----------
    path : path
        The file.  For the format see ``docs/curve-set.md``.
    max_bytes : int
        Larger sets, companion files included, are refused; no more is read.

    Returns
    -------
    CurveSet

    Raises
    ------
    CurveSetError
        With all bad cells of the file, not only the first.

    Examples
    --------
    >>> import pathlib, tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "shop.csv")
    ...     _ = file.write_text("id,equation,r25_ohm,b_25_85_k\\ninlet,beta,10000,3977\\n")
    ...     shop = read_curve_set(file)
    >>> shop["inlet"]
    <Curve inlet: beta, 10.000 kΩ at 25 °C, valid -40 to 125 °C (assumed, none was stated)>
    """
    path = Path(path)
    for _ in range(_ATTEMPTS - 1):
        before = _stamp(path)
        try:
            return _read(path, max_bytes)
        except CurveSetError:
            # A writer may have replaced the set, and removed the companions of
            # the old one, between the two readings here.
            if _stamp(path) == before:
                raise
    return _read(path, max_bytes)


def _stamp(path: Path) -> tuple[int, ...]:
    try:
        status = path.stat()
    except OSError:
        return ()
    return status.st_ino, status.st_mtime_ns, status.st_size


def _read(path: Path, max_bytes: int) -> CurveSet:
    data = _load(path, max_bytes)
    sheet, problems = parse_sheet(data)
    _refuse_without_header(path, sheet, problems)
    return _checked(path, sheet, problems, _load_tables(path, sheet, max_bytes - len(data)))


def checked_set(path: Path, data: bytes, tables: Mapping[str, bytes]) -> CurveSet:
    """Make a set of the text that its file would have, and check all of it.

    Parameters
    ----------
    path : Path
        What the set is said to come from.
    data : bytes
        A CSV file.
    tables : mapping of str to bytes
        Companion files that its rows may name.

    Raises
    ------
    CurveSetError
        With all bad cells.
    """
    sheet, problems = parse_sheet(data)
    _refuse_without_header(path, sheet, problems)
    return _checked(path, sheet, problems, tables)


def _refuse_without_header(path: Path, sheet: Sheet, problems: list[CellProblem]) -> None:
    """What the rows are cannot be told then."""
    if not {"id", "equation"} <= set(sheet.header):
        raise CurveSetError(path, _no_header(sheet) if sheet.header else problems)


def _checked(
    path: Path, sheet: Sheet, problems: list[CellProblem], tables: Mapping[str, bytes]
) -> CurveSet:
    settings = settings_of(name.strip() for name in sheet.equations[0])
    problems = [*problems, *slips(sheet.header, settings, sheet.header_line)]
    checked = CurveSet(path, sheet, tables)
    problems += _row_problems(checked, settings)
    if problems:
        raise CurveSetError(path, sorted(problems, key=lambda problem: problem.row or 0))
    return checked


def _row_problems(checked: CurveSet, settings: frozenset[str]) -> Iterator[CellProblem]:
    """All that is wrong in the rows; of a column that is missing the first row tells."""
    sheet = checked.sheet
    strange = [repr(name) for name in sheet.header if not (is_known(name) or name in settings)]
    more = ", …" if len(strange) > _SHOWN_NAMES else ""
    names = ", ".join(strange[:_SHOWN_NAMES]) + more
    hint = f"; if it is one of {names}, rename that column" if names else ""
    missing: set[CellProblem] = set()
    for at in _doubtful(sheet):
        line = sheet.lines[at]
        try:
            curve = curve_from_cells(sheet.cells(at), checked.tables, sheet.header)
            # Of a large set a curve is made when it is asked for.
            if len(sheet.rows) < _FEW:
                checked.made[at] = curve
        except RowError as error:
            for problem in error.problems:
                if problem.column is None or problem.column in sheet.header:
                    yield replace(problem, row=line)
                elif problem not in missing:
                    missing.add(problem)
                    yield replace(problem, row=line, reason=problem.reason + hint)
    yield from _repeated_ids(sheet)


def _doubtful(sheet: Sheet) -> Sequence[int]:
    """Numbers of the rows that must be looked at one by one: of a few rows all."""
    if len(sheet.rows) < _FEW:
        return range(len(sheet.rows))
    from thermofit.curvesets.certify import examine

    return examine(sheet).doubtful


def _repeated_ids(sheet: Sheet) -> Iterator[CellProblem]:
    if len(sheet.rows) >= _FEW:
        from thermofit.curvesets.ids import ids_differ

        if ids_differ(sheet):
            return
    lines_of_ids: dict[str, int] = {}
    for id, line in zip(sheet.column("id"), sheet.lines, strict=True):
        if id and id in lines_of_ids:
            reason = f"row {lines_of_ids[id]} has this id too; rename or remove one of them"
            yield CellProblem(reason, line, "id", id)
        lines_of_ids.setdefault(id, line)


def _load(path: Path, max_bytes: int) -> bytes:
    try:
        return read_bounded(path, max_bytes)
    except TooLargeError:
        reason = (
            f"the file has more than {max_bytes} bytes; if it is a curve set all the same, split "
            "it, or read it from Python with a larger max_bytes"
        )
    except FileNotFoundError:
        reason = "there is no such file; check the name and the folder"
    except IsADirectoryError:
        reason = "this is a folder; name a file in it"
    except (OSError, ValueError) as error:
        reason = f"the file cannot be read: {getattr(error, 'strerror', None) or error}"
    raise CurveSetError(path, [CellProblem(reason)])


def _no_header(sheet: Sheet) -> list[CellProblem]:
    """What is wrong with a header that lacks a column without which there is no curve."""
    found = {known_spelling(name) or name for name in sheet.header}
    missing = [f"no column {name!r}" for name in ("id", "equation") if name not in found]
    if not missing:
        return slips(sheet.header, (), sheet.header_line)
    reason = f"there is {' and '.join(missing)}; a curve set needs it"
    if len(missing) == 2:
        reason = (
            f"there is {' and '.join(missing)}: this row is no header of a curve set; delete it "
            "if the header stands below, put the header above it if there is none, or save the "
            "file with commas between the columns"
        )
    return [CellProblem(reason, sheet.header_line, value=",".join(sheet.header))]


def _load_tables(path: Path, sheet: Sheet, max_bytes: int) -> dict[str, bytes]:
    """Content of the companion files that rows name; what is missing stays away."""
    tables: dict[str, bytes] = {}
    for name in sorted(set(sheet.column("table_file")) - {""}):
        try:
            check_file_name(name)
        except InputError:
            continue  # its row will say so
        try:
            tables[name] = _load_table(path, name, max_bytes)
        except FileNotFoundError:
            continue
        except TooLargeError:
            reason = (
                f"together with the companion file {name} the set has too many bytes; "
                "if they are right, split it, or read it from Python with a larger max_bytes"
            )
            raise CurveSetError(path, [CellProblem(reason)]) from None
        except OSError as error:
            reason = f"the companion file {name} cannot be read: {error.strerror or error}"
            raise CurveSetError(path, [CellProblem(reason)]) from None
        max_bytes -= len(tables[name])
    return tables


def _load_table(path: Path, name: str, max_bytes: int) -> bytes:
    # The set may be reached by a symbolic link, with or without its companions.
    try:
        return read_bounded(path.parent / name, max_bytes)
    except FileNotFoundError:
        return read_bounded(path.resolve().parent / name, max_bytes)
