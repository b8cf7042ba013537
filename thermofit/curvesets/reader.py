"""Read a curve set, and check all of it."""

from __future__ import annotations

import os
from pathlib import Path

from thermofit.curvesets.cells import check_file_name
from thermofit.curvesets.columns import known_spelling
from thermofit.curvesets.curveset import CurveSet
from thermofit.curvesets.decode import curve_from_cells
from thermofit.curvesets.familycells import RowError
from thermofit.curvesets.sheet import Sheet, parse_sheet
from thermofit.curvesets.storage import TooLargeError, read_bounded
from thermofit.errors import CellProblem, CurveSetError, InputError

__all__ = ["DEFAULT_MAX_BYTES", "read_curve_set"]

DEFAULT_MAX_BYTES = 256 * 2**20
"""What a set and its companion files may have together unless told otherwise: 256 MiB."""

_ATTEMPTS = 5


def read_curve_set(path: str | os.PathLike[str], *, max_bytes: int = DEFAULT_MAX_BYTES) -> CurveSet:
    """Read a curve set from its CSV file and the companion files beside it.

    Every row is checked: that its cells are what their columns promise, that the
    curve is monotone over its range, and that ``r25_ohm`` and ``b_25_85_k``
    agree with the coefficients within 0.5 %.  Needs NumPy alone, and SciPy for a
    table whose node slopes are not given.

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
    problems += _header_problems(sheet)
    if not sheet.header or not {"id", "equation"} <= set(sheet.header):
        raise CurveSetError(path, problems)
    tables = _load_tables(path, sheet, max_bytes - len(data))
    lines_of_ids: dict[str, int] = {}
    for at, line in enumerate(sheet.lines):
        cells = sheet.cells(at)
        try:
            curve = curve_from_cells(cells, tables)
        except RowError as error:
            problems += [CellProblem(p.reason, line, p.column, p.value) for p in error.problems]
        else:
            del curve  # it is made again when it is asked for; sets can be large
        id = cells.get("id", "").strip()
        if id and id in lines_of_ids:
            reason = f"row {lines_of_ids[id]} has this id too; rename or remove one of them"
            problems.append(CellProblem(reason, line, "id", id))
        lines_of_ids.setdefault(id, line)
    if problems:
        raise CurveSetError(path, sorted(problems, key=lambda problem: problem.row or 0))
    return CurveSet(path, sheet, tables)


def _load(path: Path, max_bytes: int) -> bytes:
    try:
        return read_bounded(path, max_bytes)
    except TooLargeError:
        reason = (
            f"the file has more than {max_bytes} bytes; if it is a curve set all the same, "
            "give a larger max_bytes"
        )
    except FileNotFoundError:
        reason = "there is no such file; check the name and the folder"
    except IsADirectoryError:
        reason = "this is a folder; name a file in it"
    except (OSError, ValueError) as error:
        reason = f"the file cannot be read: {getattr(error, 'strerror', None) or error}"
    raise CurveSetError(path, [CellProblem(reason)])


def _header_problems(sheet: Sheet) -> list[CellProblem]:
    problems = []
    for name in ("id", "equation"):
        if sheet.header and name not in sheet.header:
            reason = f"there is no column {name!r}; a curve set needs it"
            problems.append(CellProblem(reason, row=1))
    for name in sheet.header:
        spelling = known_spelling(name)
        if spelling is not None and spelling not in sheet.header:
            reason = f"write this name as {spelling!r}, or choose one that is less like it"
            problems.append(CellProblem(reason, row=1, column=name))
    return problems


def _load_tables(path: Path, sheet: Sheet, max_bytes: int) -> dict[str, bytes]:
    """Content of the companion files that rows name; what is missing stays away."""
    names = {sheet.cells(at).get("table_file", "").strip() for at in range(len(sheet.rows))}
    tables: dict[str, bytes] = {}
    for name in sorted(names - {""}):
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
                "if they are right, give a larger max_bytes"
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
