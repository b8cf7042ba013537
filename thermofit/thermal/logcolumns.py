"""Which columns of a log are its times and its readings."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import islice
from typing import Final, Literal

from thermofit.errors import CellProblem, PointsFileError
from thermofit.pointsfile.columns import QUANTITIES, Unit, recognise, unit_of
from thermofit.pointsfile.lookup import listed, locate, missing, trimmed
from thermofit.pointsfile.text import WIDE_SPACE, Record, records, refusal
from thermofit.thermal.logtime import TimeHeader, time_header

__all__ = ["LogColumns", "ValueKind", "find_columns"]

ValueKind = Literal["t", "r"]

# A single space would part dates from times.
_DELIMITERS: Final = ("\t", ";", ",", "|", WIDE_SPACE)
_HEADER_WITHIN: Final = 60


@dataclass(frozen=True)
class LogColumns:
    """The columns of a log that are read.

    Parameters
    ----------
    delimiter : str
        As for `thermofit.pointsfile.text.records`.
    header : tuple of str
    after_line : int
        Readings stand below this line.
    time_place, value_place : int
        Indexes of the columns.
    date_place : int or None
        Column of the date, where the time of day stands in another.
    time : TimeHeader
    kind : {"t", "r"}
    unit : Unit or None
        Of the readings, where the header states it.
    notes : tuple of str
    """

    delimiter: str
    header: tuple[str, ...]
    after_line: int
    time_place: int
    value_place: int
    date_place: int | None
    time: TimeHeader
    kind: ValueKind
    unit: Unit | None
    notes: tuple[str, ...] = ()

    @property
    def time_label(self) -> str:
        """Header of the times."""
        return self.header[self.time_place] or str(self.time_place + 1)

    @property
    def value_label(self) -> str:
        """Header of the readings."""
        return self.header[self.value_place] or str(self.value_place + 1)

    @property
    def time_title(self) -> str:
        """The times as a note names them: "column 1 'time (s)'"."""
        title = f"column {self.time_place + 1} {self.time_label!r}"
        if self.date_place is not None:
            title = f"column {self.date_place + 1} {self.header[self.date_place]!r} and {title}"
        return title

    @property
    def value_title(self) -> str:
        """The readings as a note names them."""
        return f"column {self.value_place + 1} {self.value_label!r}"


def find_columns(
    text: str,
    name: str,
    kind: ValueKind | None,
    time_column: str | int | None,
    value_column: str | int | None,
) -> LogColumns:
    """Find header and columns of a log.

    Parameters
    ----------
    text, name : str
        The file and its name, for errors.
    kind : {"t", "r"}, optional
        Which quantity to read.
    time_column, value_column : str or int, optional
        Columns that the caller names.

    Returns
    -------
    LogColumns

    Raises
    ------
    PointsFileError
        No header that tells a time and a temperature or resistance, or one that tells two.
    """
    widest: list[Record] = []
    broken: PointsFileError | None = None
    for delimiter in _DELIMITERS:
        try:
            head = [
                record
                for record in islice(records(text, delimiter, name), _HEADER_WITHIN)
                if any(record.cells)
            ]
        except PointsFileError as error:
            broken = error
            continue
        for record in head:
            cells = trimmed(record.cells)
            if len(cells) < 2:
                continue
            found = _columns(cells, record, name, delimiter, kind, time_column, value_column)
            if found is not None:
                return found
        if head and len(head[0].cells) > len(widest[0].cells if widest else []):
            widest = head
    if broken is not None and not widest:
        raise broken
    raise _no_header(widest, name, time_column, value_column)


def _columns(
    cells: Sequence[str], record: Record, name: str, delimiter: str, kind: ValueKind | None,
    time_column: str | int | None, value_column: str | int | None,
) -> LogColumns | None:  # fmt: skip
    times = [time_header(cell) for cell in cells]
    kinds = [column.kind if (column := recognise(cell)) else None for cell in cells]
    # A row of readings is no header, whatever columns are named by position.
    if not any(times) and not any(kinds) and not any(isinstance(c, str) and locate(cells, c)
        is not None for c in (time_column, value_column)):  # fmt: skip
        return None
    time_place, date_place = _time_place(cells, times, record, name, time_column)
    if time_place is None:
        return None
    if value_column is not None:
        place = locate(cells, value_column)
        if place is None or place == time_place:
            return None
        found_kind = kinds[place] if kinds[place] in ("t", "r") else kind
        if found_kind is None or (kind is not None and kind != found_kind):
            raise PointsFileError(
                name,
                [CellProblem(
                    "the header does not say what this column is; state quantity, "
                    "'temperature' or 'resistance'", record.line, cells[place],
                )],
            )  # fmt: skip
        value_kind: ValueKind = "t" if found_kind == "t" else "r"
        notes: tuple[str, ...] = ()
    else:
        value_kind, place, notes = _value_place(cells, kinds, time_place, record, name, kind)
        if place is None:
            return None
    column = recognise(cells[place])
    unit = column.unit if column is not None and column.kind == value_kind else None
    return LogColumns(
        delimiter, tuple(cells), record.line, time_place, place, date_place,
        times[time_place] or TimeHeader(), value_kind, unit or unit_of(cells[place], value_kind),
        notes,
    )  # fmt: skip


def _time_place(
    cells: Sequence[str], times: Sequence[TimeHeader | None], record: Record, name: str,
    wanted: str | int | None,
) -> tuple[int | None, int | None]:  # fmt: skip
    if wanted is not None:
        return locate(cells, wanted), None
    dates = [at for at, time in enumerate(times) if time is not None and time.date]
    others = [at for at, time in enumerate(times) if time is not None and not time.date]
    if len(dates) == 1 and len(others) == 1 and others and _plain(times[others[0]]):
        return others[0], dates[0]
    places = others or dates
    if len(places) > 1:
        raise refusal(
            name,
            f"{len(places)} columns could be the time: "
            f"{listed((at, cells[at]) for at in places)}; name the right one (time_column)",
            record.line,
        )
    return (places[0] if places else None), None


def _plain(time: TimeHeader | None) -> bool:
    """Tell a time of day, which a date belongs to, from a time that runs by itself."""
    return time is not None and time.unit_s is None


def _value_place(
    cells: Sequence[str], kinds: Sequence[str | None], time_place: int, record: Record, name: str,
    kind: ValueKind | None,
) -> tuple[ValueKind, int | None, tuple[str, ...]]:  # fmt: skip
    by_kind: dict[ValueKind, list[int]] = {
        wanted: [at for at, k in enumerate(kinds) if k == wanted and at != time_place]
        for wanted in ("t", "r")
    }
    notes: tuple[str, ...] = ()
    taken: ValueKind = kind or ("t" if by_kind["t"] else "r")
    if kind is None and by_kind["t"] and by_kind["r"]:
        other = by_kind["r"][0]
        notes = (
            f"column {other + 1} {cells[other]!r} not used: quantity='resistance' reads it in "
            "place of the temperature",
        )
    places = by_kind[taken]
    if len(places) > 1:
        raise refusal(
            name,
            f"{len(places)} columns could be the {QUANTITIES[taken]}: "
            f"{listed((at, cells[at]) for at in places)}; name the right one (value_column)",
            record.line,
        )
    return taken, (places[0] if places else None), notes


def _no_header(
    head: list[Record], name: str, time_column: str | int | None, value_column: str | int | None
) -> PointsFileError:
    if not head:
        return refusal(
            name, "there is no table with a time and a reading in each row, set apart by commas, "
            "semicolons or tabs"
        )  # fmt: skip
    record = max(head, key=lambda row: sum(map(_told, row.cells)))
    cells = trimmed(record.cells)
    reasons = []
    for what, wanted, known in (
        ("time", time_column, [cell for cell in cells if time_header(cell)]),
        ("value", value_column, [c for c in cells if (r := recognise(c)) and r.kind in ("t", "r")]),
    ):
        if wanted is not None and locate(cells, wanted) is None:
            reasons.append(missing(cells, wanted))
        elif wanted is None and not known:
            plain = "the time" if what == "time" else "a temperature or a resistance"
            reasons.append(f"no column is plainly {plain}; name it ({what}_column)")
    reasons = reasons or ["no column is left for the readings"]
    return refusal(
        name,
        f"{'; '.join(reasons)}; the columns are {listed(enumerate(cells))}; a header such as "
        "time_s,t_c above the readings tells them",
        record.line,
    )


def _told(cell: str) -> bool:
    return time_header(cell) is not None or recognise(cell) is not None
