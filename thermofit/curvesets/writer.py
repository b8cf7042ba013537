"""Write a curve set: all of it, or one more row."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace as with_changes
from pathlib import Path
from typing import TYPE_CHECKING

from thermofit.curve import Curve
from thermofit.curvesets.bulk import encode_fits, encode_many
from thermofit.curvesets.columns import CORE, in_order, merged_header, slips
from thermofit.curvesets.companions import Companions, replace_set
from thermofit.curvesets.curveset import CurveSet
from thermofit.curvesets.encode import EncodedRow, encode
from thermofit.curvesets.familycells import RowError
from thermofit.curvesets.nodes import table_from_bytes, table_to_bytes
from thermofit.curvesets.plain import PlainRows
from thermofit.curvesets.reader import read_curve_set
from thermofit.curvesets.sheet import Sheet, render_sheet
from thermofit.curvesets.storage import lock_of, locked, writable_target
from thermofit.errors import CellProblem, CurveSetError, InputError
from thermofit.family import Family

if TYPE_CHECKING:
    from thermofit.estimate.many.result import ManyFits

__all__ = ["DEFAULT_LOCK_TIMEOUT_S", "add_curve", "write_curve_set"]

DEFAULT_LOCK_TIMEOUT_S = 10.0
"""How long a writer waits for another one, in seconds."""


def write_curve_set(
    path: str | os.PathLike[str],
    curves: Iterable[Curve | Family] | ManyFits,
    *,
    lock_timeout_s: float = DEFAULT_LOCK_TIMEOUT_S,
) -> None:
    """Write curves and families as a curve set, in place of what the file held.

    The file is replaced as a whole or not at all, whatever happens meanwhile.

    Parameters
    ----------
    path : path
        The file, in a folder that exists.
    curves : iterable of Curve and Family, or ManyFits
        Each with an id of its own.  Of a `CurveSet` the cells are written as
        they were read.  Of a batch of fits the names or numbers of the sensors become
        the ids; no curve is made for that.
    lock_timeout_s : float
        How long to wait, in seconds, for another process that writes the file.

    Raises
    ------
    CurveSetError
        A curve that cannot be written so that it reads back as it is, or a sensor of a
        batch that has none.
    StorageError
        The file cannot be written; what was there before is still there.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     curve = Curve.steinhart_hart(a=1.129e-3, b=2.341e-4, c=8.775e-8, id="inlet")
    ...     write_curve_set(f"{folder}/shop.csv", [curve])
    ...     read_curve_set(f"{folder}/shop.csv")["inlet"] == curve
    True
    """
    from thermofit.estimate.many.result import ManyFits

    path = Path(path)
    # All is made before the lock: an iterable may take its time, or write to the
    # same set, and what is refused leaves no lock behind.
    items = curves if isinstance(curves, (CurveSet, ManyFits)) else _listed(curves)
    target = writable_target(path)
    companions = Companions(target)
    if isinstance(items, CurveSet):
        header, rows = items.columns, _kept(items, companions)
    elif isinstance(items, ManyFits):
        header, rows = _of_fits(items, path, companions)
    else:
        header, rows = _encoded(items, path, companions)
    data = render_sheet(header, rows)
    with locked(target, lock_timeout_s):
        replace_set(target, data, companions.content)


def add_curve(
    path: str | os.PathLike[str],
    curve: Curve | Family,
    *,
    replace: bool = False,
    lock_timeout_s: float = DEFAULT_LOCK_TIMEOUT_S,
) -> None:
    """Add a curve or a family to a curve set, which is made if there is none.

    The other rows keep their cells as they stand.  Two processes may add to one
    set at the same time.

    Parameters
    ----------
    path : path
        The file, in a folder that exists.
    curve : Curve or Family
        With an id.
    replace : bool
        Replace the row that has this id, with all its cells.
    lock_timeout_s : float
        As for `write_curve_set`.

    Raises
    ------
    CurveSetError
        The set cannot be read, it has this id already, or the curve cannot be
        written.
    StorageError
        The file cannot be written; what was there before is still there.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     add_curve(f"{folder}/shop.csv", Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet"))
    ...     add_curve(f"{folder}/shop.csv", Curve.beta(r25_ohm=5e3, b_k=3988, id="outlet"))
    ...     read_curve_set(f"{folder}/shop.csv").ids
    ('inlet', 'outlet')
    """
    path = Path(path)
    items = _listed([curve])
    target = writable_target(path)

    def make() -> tuple[bytes, Companions]:
        companions = Companions(target)
        if target.exists():
            header, rows = _with_row(read_curve_set(path), items, path, companions, replace)
        else:
            header, rows = _encoded(items, path, companions)
        return render_sheet(header, rows), companions

    if not lock_of(target).exists():
        make()  # what is refused leaves no lock behind
    with locked(target, lock_timeout_s):
        data, companions = make()
        replace_set(target, data, companions.content)


def _listed(curves: Iterable[Curve | Family]) -> list[Curve | Family]:
    if isinstance(curves, (Curve, Family, str, Mapping)) or not isinstance(curves, Iterable):
        raise InputError(
            f"a curve set is written from curves and families, not from a {type(curves).__name__}; "
            "put a single curve into a list, of a mapping give its values()"
        )
    items = list(curves)
    for number, item in enumerate(items, start=1):
        if not isinstance(item, (Curve, Family)):
            raise InputError(
                f"item {number} is a {type(item).__name__}; a curve set holds Curve and Family"
            )
    return items


def _encoded(
    items: list[Curve | Family], path: Path, companions: Companions, core: Iterable[str] = CORE
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Write curves as a header and rows, or say all that is wrong with them."""
    ids = [item.id for item in items]
    return _assembled(ids, encode_many(items), items.__getitem__, path, companions, core)


def _of_fits(
    fits: ManyFits, path: Path, companions: Companions
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Write the curves of a batch of fits, of which every sensor must have one."""
    sensors = fits.sensors.tolist()
    # Sensors of arrays are numbered.
    ids = [str(name) if type(name) in {int, str} else "" for name in sensors]
    if "" in ids:
        raise InputError(
            f"sensor {sensors[ids.index('')]!r} has no text for a name, and the names become the "
            "ids of the curves; name the sensors in the frame of their points, such as 's17'"
        )
    if fits.errors:
        reason = "this sensor has no curve: {}; fit the batch again without it"
        raise CurveSetError(
            path,
            [
                CellProblem(reason.format(why), column="id", value=ids[at])
                for at, why in sorted(fits.errors.items())
            ],
        )

    def curve(at: int) -> Curve:
        return fits.curve(sensors[at]).replace(id=ids[at])

    return _assembled(ids, encode_fits(fits, ids), curve, path, companions, CORE)


def _assembled(
    ids: Sequence[str],
    ready: Sequence[EncodedRow | None],
    item: Callable[[int], Curve | Family],
    path: Path,
    companions: Companions,
    core: Iterable[str],
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Put rows under one header; those that are not ready are encoded alone."""
    encoded: list[EncodedRow] = []
    problems: list[CellProblem] = []
    seen: set[str] = set()
    for at, (id, row) in enumerate(zip(ids, ready, strict=True)):
        # A curve that is alone needs no number.
        who = f"curve {at + 1} ({id}): " if id else f"curve {at + 1}: "
        if len(ids) == 1:
            who = f"curve {id}: " if id else ""
        try:
            encoded.append(row or encode(item(at), companions))
        except RowError as error:
            for problem in error.problems:
                named = len(ids) == 1 and problem.column == "id"
                reason = problem.reason if named else who + problem.reason
                problems.append(with_changes(problem, reason=reason))
        if id in seen:
            reason = f"{who}an earlier curve has this id too; rename one of them"
            problems.append(CellProblem(reason, None, "id", id))
        seen.add(id)
    if problems:
        raise CurveSetError(path, problems)
    columns = dict.fromkeys(core)
    for row in encoded:
        columns |= dict.fromkeys(row.cells)
    settings: frozenset[str] = frozenset().union(*{row.settings for row in encoded})
    header = in_order(columns, settings)
    _check_header(header, settings, path)
    return header, [tuple([row.cells.get(name, "") for name in header]) for row in encoded]


def _check_header(header: tuple[str, ...], settings: frozenset[str], path: Path) -> None:
    """Refuse names of extra cells that a reader would take for slips of the pen."""
    if problems := slips(header, settings):
        raise CurveSetError(path, problems)


def _kept(
    curves: CurveSet, companions: Companions
) -> PlainRows | tuple[tuple[str, ...], ...] | list[tuple[str, ...]]:
    """Take over the rows of a set as they are, but for the names of companions that move."""
    if "table_file" not in curves.columns:
        return curves.sheet.rows
    at = curves.columns.index("table_file")
    same_set = curves.path.resolve() == companions.target
    rows = []
    for row, id in zip(curves.sheet.rows, curves.ids, strict=True):
        name = row[at].strip()
        if name and not (same_set and companions.keep(name, curves.tables[name])):
            data = table_to_bytes(table_from_bytes(curves.tables[name]))
            rows.append((*row[:at], companions.put(id, data), *row[at + 1 :]))
        else:
            rows.append(row)
    return rows


def _with_row(
    before: CurveSet,
    items: list[Curve | Family],
    path: Path,
    companions: Companions,
    replace: bool,
) -> tuple[tuple[str, ...], list[tuple[str, ...]]]:
    """Put one row to those of a set, or in place of the one with its id."""
    id = items[0].id
    at = before.ids.index(id) if id in before else None
    if at is not None and not replace:
        reason = (
            "there is a curve with this id; choose another id, or ask for the curve to be replaced"
        )
        raise CurveSetError(path, [CellProblem(reason, before.sheet.lines[at], "id", id)])
    others = [number for number in range(len(before)) if number != at]
    sheet = before.sheet
    subset = with_changes(
        before,
        sheet=Sheet(
            sheet.header,
            tuple(sheet.rows[number] for number in others),
            tuple(sheet.lines[number] for number in others),
        ),
    )
    rows = _kept(subset, companions)
    columns, (row,) = _encoded(items, path, companions, core=())
    curve = items[0].curve if isinstance(items[0], Family) else items[0]
    settings = before.settings | set(curve.equation.settings)
    header = merged_header(sheet.header, columns, settings)
    _check_header(header, settings, path)
    rows = [_widened(sheet.header, kept, header) for kept in rows]
    rows.insert(len(rows) if at is None else at, _widened(columns, row, header))
    return header, rows


def _widened(
    header: tuple[str, ...], row: tuple[str, ...], wanted: tuple[str, ...]
) -> tuple[str, ...]:
    cells = dict(zip(header, row, strict=True))
    return tuple(cells.get(name, "") for name in wanted)
