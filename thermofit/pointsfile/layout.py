"""Where the table of a points file begins, and what separates its columns."""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass, replace

from thermofit.errors import CellProblem, PointsFileError
from thermofit.pointsfile.cells import is_no_reading
from thermofit.pointsfile.columns import Kind, recognise, unit_in
from thermofit.pointsfile.diagnosis import explain_no_table
from thermofit.pointsfile.lookup import MAX_COLUMNS, Wanted, is_numeric, locate, trimmed
from thermofit.pointsfile.text import ANY_SPACE, WIDE_SPACE, Record, records, split_line

__all__ = ["Layout", "find_layout"]

# Header and separator show themselves in the first rows; looking further costs time only.
_SAMPLE_CHARACTERS = 2**20
_SAMPLE_ROWS = 1000
_SAMPLE_CELLS = 100_000

_DELIMITERS = ("\t", ";", ",", "|", WIDE_SPACE, ANY_SPACE)


@dataclass(frozen=True)
class Layout:
    """How a file is laid out.

    Parameters
    ----------
    delimiter : str
        As for `thermofit.pointsfile.text.records`.
    header : tuple of str
        Header cells without trailing empty ones; all empty where there is none.
    header_line : int or None
        Line of the header; None where there is none.
    after_line : int
        Readings stand below this line; 0 for all lines.
    fitting : int
        Rows seen that fit the header and have numbers where they should.
    preamble : int
        Rows of other text above the header.
    note : str
        How the header was found, where that is not plain.
    units : tuple of str
        Cells of a row of units below the header, empty where there is none.
    unnamed : int
        Empty cells at the end of the header row.
    """

    delimiter: str
    header: tuple[str, ...]
    header_line: int | None
    after_line: int
    fitting: int
    preamble: int = 0
    note: str = ""
    units: tuple[str, ...] = ()
    unnamed: int = 0

    def title(self, place: int) -> str:
        """Give name and unit of a column as one header."""
        name, unit = self.header[place], self.units[place] if self.units else ""
        column = recognise(name)
        # A unit in the name itself is nearer to the reading than one below it.
        stated = column is not None and column.unit is not None
        return name if stated or not unit else f"{name} ({unit})".strip()


def find_layout(text: str, name: str, delimiter: str | None, wanted: Wanted) -> Layout:
    """Find separator and header of a file.

    Parameters
    ----------
    text : str
        The whole file.
    name : str
        The file, for errors.
    delimiter : str, optional
        Given where it is known; otherwise the one under which most rows fit.
    wanted : dict
        Columns that the caller names.

    Returns
    -------
    Layout

    Raises
    ------
    PointsFileError
        No header or no two columns of numbers.

    Examples
    --------
    >>> layout = find_layout("Bench 2\\nT;R\\n25;10000\\n", "bench.csv", None, {})
    >>> layout.delimiter, layout.header, layout.header_line
    (';', ('T', 'R'), 2)
    """
    best: Layout | None = None
    samples: dict[str, list[Record]] = {}
    broken: tuple[CellProblem, ...] = ()
    reached = (False, -1)
    head, cut = _head(text)
    for candidate in [delimiter] if delimiter else _DELIMITERS:
        try:
            sample = _sample(head, cut, candidate, name)
        except PointsFileError as error:
            # Under a separator that the file does not have, any quoted cell looks broken.
            found = (candidate in head, error.problems[0].row or 0)
            if found > reached:
                # The error itself would keep this frame, and with it the text, in memory.
                reached, broken = found, error.problems
            continue
        samples[candidate] = sample
        layout = _table(sample, candidate, wanted) or _bare_table(sample, candidate, wanted, head)
        # The first of equals wins: a tab or semicolon is seldom anything but a separator.
        if layout is not None and (best is None or layout.fitting > best.fitting):
            best = layout
    if broken and (best is None or best.fitting == 0):
        raise PointsFileError(name, broken)
    if best is None:
        raise explain_no_table(samples, cut, name, wanted)
    return best


def _head(text: str) -> tuple[str, bool]:
    """Give whole lines from the beginning of a text, and whether any are left."""
    if len(text) <= _SAMPLE_CHARACTERS:
        return text, False
    head = text[:_SAMPLE_CHARACTERS]
    end = max(head.rfind("\n"), head.rfind("\r"))
    return (head[: end + 1] or head), True


def _sample(head: str, cut: bool, delimiter: str, name: str) -> list[Record]:
    sample: list[Record] = []
    cells = 0
    try:
        for record in records(head, delimiter, name):
            if any(record.cells):
                sample.append(record)
            cells += len(record.cells)
            if len(sample) >= _SAMPLE_ROWS or cells > _SAMPLE_CELLS:
                break
    except PointsFileError:
        # Where the text was cut, a quoted cell may be open; the whole text will tell.
        if not (cut and sample):
            raise
    return sample


def _places(cells: Sequence[str], wanted: Wanted) -> tuple[int, int] | None:
    """Tell where a header row has temperature and resistance; None if it is no header row."""
    if not 2 <= len(cells) <= MAX_COLUMNS:
        return None
    places: dict[Kind, int | None] = {}
    for kind in ("t", "r"):
        if kind in wanted:
            place = locate(cells, wanted[kind])
            if place is None:
                # Two of that name: a header all the same, to be refused as such later.
                same = str(wanted[kind]).strip().casefold()
                place = next((at for at, cell in enumerate(cells) if cell.casefold() == same), None)
            # Named by position, a row of readings would do; missing ones are no header either.
            if place is not None and (is_numeric(cells[place]) or is_no_reading(cells[place])):
                place = None
            places[kind] = place
    if None in places.values():
        return None
    for place, cell in enumerate(cells):
        if len(places) == 2:
            break
        if not cell or cell[0].isdigit():
            continue
        column = recognise(cell)
        if column is not None and column.kind in ("t", "r"):
            places.setdefault(column.kind, place)
    t_place, r_place = places.get("t"), places.get("r")
    return None if t_place is None or r_place is None else (t_place, r_place)


def _fits(cells: Sequence[str], width: int, places: tuple[int, int]) -> bool:
    return (
        len(cells) >= width
        and all(is_numeric(cells[place]) for place in places)
        and not any(cells[width:])
    )


def _table(sample: list[Record], delimiter: str, wanted: Wanted) -> Layout | None:
    """Find the header row, and the row of units below it."""
    rows: list[tuple[int, tuple[int, int]]] = []
    for index, record in enumerate(sample):
        places = _places(trimmed(record.cells), wanted)
        if places is None:
            continue
        after = sample[index + 1 : index + 2]
        if after and _fits(after[0].cells, len(trimmed(record.cells)), places):
            # What stands between two headers apart might be readings, all of them bad.
            if not rows or rows[-1][0] == index - 1:
                rows = [(index, places)]
            break
        rows.append((index, places))
    if not rows:
        return None
    index, places = rows[0]
    header = trimmed(sample[index].cells)
    if any(_fits(record.cells, len(header), places) for record in sample[:index]):
        # Readings stand above it: not the header of the table, and they must not get lost.
        return None
    layout = Layout(
        delimiter,
        tuple(header),
        sample[index].line,
        sample[index].line,
        sum(_fits(record.cells, len(header), places) for record in sample[index + 1 :]),
        preamble=index,
        unnamed=len(sample[index].cells) - len(header),
    )
    return _with_units_row(layout, sample, index, wanted)


def _with_units_row(layout: Layout, sample: list[Record], index: int, wanted: Wanted) -> Layout:
    """Join a row of names and the row of units below it into one header."""
    # Units alone make a header too, so the row found may be the upper or the lower one.
    for above in (index - 1, index):
        if above < 0 or above + 1 >= len(sample):
            continue
        names, units = (trimmed(record.cells) for record in sample[above : above + 2])
        places = _places(names, wanted)
        if places is None or len(units) > len(names):
            continue
        units += [""] * (len(names) - len(units))
        if _is_units_row(units, places):
            return replace(
                layout,
                header=tuple(names),
                units=tuple(unit.strip(" ()[]{}") for unit in units),
                header_line=sample[above].line,
                after_line=sample[above + 1].line,
                preamble=above,
                note=f"units taken from row {sample[above + 1].line}, below the header",
                unnamed=len(sample[above].cells) - len(names),
            )
    return layout


def _is_units_row(cells: Sequence[str], places: tuple[int, int]) -> bool:
    kinds: tuple[Kind, Kind] = ("t", "r")
    stated = [(kind, cells[place]) for kind, place in zip(kinds, places, strict=True)]
    return (
        any(cell for _, cell in stated)
        and all(not cell or unit_in(kind, cell) is not None for kind, cell in stated)
        and not any(is_numeric(cell) for cell in cells)
    )


def _bare_table(sample: list[Record], delimiter: str, wanted: Wanted, text: str) -> Layout | None:
    """Find readings that begin in the first row, perhaps below a comment that is a header."""
    first = trimmed(sample[0].cells) if sample else []
    if not 2 <= len(first) <= MAX_COLUMNS:
        return None
    comment_line, comment = _comment_above(text, sample[0].line)
    header = split_line(comment, delimiter)
    places = _places(header, wanted)
    note = f"header taken from the comment in row {comment_line}"
    if places is None or not _fits(first, len(header), places):
        comment_line, header, note = None, [""] * len(first), ""
        places = _bare_places(header, wanted)
    if places is None or not _fits(first, len(header), places):
        return None
    return Layout(
        delimiter,
        tuple(header),
        comment_line,
        0,
        sum(_fits(record.cells, len(header), places) for record in sample),
        note=note,
    )


def _bare_places(header: list[str], wanted: Wanted) -> tuple[int, int] | None:
    """Two columns are temperature and resistance; of more, the caller must name both."""
    t_place = locate(header, wanted["t"]) if "t" in wanted else None
    r_place = locate(header, wanted["r"]) if "r" in wanted else None
    if len(header) == 2 and ("t" in wanted) + ("r" in wanted) < 2:
        if "t" in wanted:
            r_place = None if t_place is None else 1 - t_place
        elif "r" in wanted:
            t_place = None if r_place is None else 1 - r_place
        else:
            t_place, r_place = 0, 1
    return None if t_place is None or r_place is None else (t_place, r_place)


def _comment_above(text: str, line: int) -> tuple[int | None, str]:
    """Give the last comment line above a line, without its sign."""
    number, comment = None, ""
    for count, content in enumerate(io.StringIO(text, newline=None), 1):
        if count >= line:
            break
        if content.startswith("#"):
            number, comment = count, content.lstrip("#")
    return number, comment
