"""Whether a CSV text is plain, and where its cells begin and end.

A text is plain when every row has as many cells as the header, no cell holds a line
end or a control character, and no cell is one that `check_text` refuses.  Anything
else is left to the parser that explains what is wrong.
"""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.curvesets.cells import check_text
from thermofit.curvesets.columns import is_number
from thermofit.curvesets.numbers import numbers_of, numbers_of_text
from thermofit.curvesets.plain import Array, Bytes, Places, PlainRows
from thermofit.errors import InputError

__all__ = ["plain_sheet"]

_COMMA, _QUOTE, _CR, _LF, _DELETE, _SPACE = b',"\r\n\x7f '
_CONTROLS_ABOVE_ASCII: Final = re.compile(rb"\xc2[\x80-\x9f]")
_MARK: Final = b"\xef\xbb\xbf"
_BLOCK: Final = 2**18
_ROWS_AT_ONCE: Final = 2048
_WORTH_PANDAS: Final = 4000

# First bytes of what a spreadsheet may run as a formula; that of the wide forms is shared.
_SIGNS: Final = np.isin(np.arange(256), np.frombuffer("=+-@＝".encode()[:5], dtype=np.uint8))


def plain_sheet(data: bytes) -> tuple[tuple[str, ...], PlainRows] | None:
    """Take a plain text apart.

    Parameters
    ----------
    data : bytes
        A CSV file.

    Returns
    -------
    header, rows : tuple of str, PlainRows
        None if the text is not plain.
    """
    data = data.removeprefix(_MARK)
    end = b"\r\n" if b"\r" in data[: data.find(b"\n") + 1] else b"\n"
    if not data.endswith(end):
        data += end
    header = _header(data[: data.index(end)])
    if header is None or len(data) >= 2**32 or not _is_clean(data):
        return None
    letters = np.frombuffer(data, dtype=np.uint8)
    width = len(header)
    separators = _separators(letters, width, len(end), quoted=_QUOTE in data)
    if separators is None:
        return None
    starts = separators[width - 1 : -1 : width] + np.uint32(1)
    ends = separators[width:].reshape(-1, width)
    ends[:, -1] -= np.uint32(len(end) - 1)
    rows = PlainRows(data, starts, ends, {})
    if not _is_letter_or_digit(rows.first([header.index("id")])).all():
        return None  # the row may be blank
    rows = PlainRows(data, starts, ends, _numbers(rows, header))
    return (header, rows) if _are_harmless(rows) else None


def _is_clean(data: bytes) -> bool:
    """Whether it is UTF-8, and without control characters above those of ASCII."""
    if data.isascii():
        return _DELETE not in data
    try:
        data.decode()
    except UnicodeDecodeError:
        return False
    return _DELETE not in data and not _CONTROLS_ABOVE_ASCII.search(data)


def _header(line: bytes) -> tuple[str, ...] | None:
    """Names of the columns, if they are as usual."""
    if _QUOTE in line:
        return None
    names = tuple(name.strip() for name in line.decode().split(","))
    if "" in names or len(set(names)) < len(names) or not {"id", "equation"} <= set(names):
        return None
    try:
        for name in names:
            check_text(name)
    except InputError:
        return None
    return names


def _separators(letters: Bytes, width: int, end: int, *, quoted: bool) -> Places | None:
    """Places of what separates cells, `width` in each line.

    None where a line has another number of cells, a cell holds a line end or another
    control character, or quotation marks stand where they have no business.
    """
    found = []
    controls = 0
    masks = np.empty((2, _BLOCK), dtype=bool)
    for at in range(0, len(letters), _BLOCK):
        block = letters[at : at + _BLOCK]
        separates, other = masks[:, : len(block)]
        controls += int(np.count_nonzero(np.less(block, _SPACE, out=other)))
        np.equal(block, _LF, out=separates)
        separates |= np.equal(block, _COMMA, out=other)
        places = np.flatnonzero(separates).astype(np.uint32)
        places += np.uint32(at)
        found.append(places)
    separators = np.concatenate(found)
    if quoted:
        quotes = np.flatnonzero(letters == _QUOTE).astype(np.uint32)
        if not _stand_well(quotes, letters):
            return None
        separators = _outside(separators, quotes[::2], quotes[1::2])
    lines = separators[width - 1 :: width]
    if len(separators) % width or (letters[lines] != _LF).any():
        return None
    returns_stand_well = end == 1 or bool((letters[lines - np.uint32(1)] == _CR).all())
    # If the line ends are all control characters that there are, the others are commas.
    if controls != len(lines) * end or not returns_stand_well:
        return None
    return separators


def _stand_well(quotes: Places, letters: Bytes) -> bool:
    """Whether quotation marks enclose whole cells, and are doubled inside."""
    if len(quotes) % 2:
        return False
    before = letters[quotes[::2] - np.uint32(1)]
    after = letters[quotes[1::2] + np.uint32(1)]
    # A mark beside another one is half of a doubled one, or the next test finds it out.
    opens = (before == _COMMA) | (before == _LF) | (before == _QUOTE)
    closes = (after == _COMMA) | (after == _CR) | (after == _LF) | (after == _QUOTE)
    return bool(opens.all() and closes.all())


def _outside(separators: Places, opening: Places, closing: Places) -> Places:
    """Those that stand between no opening mark and its closing one."""
    first = np.searchsorted(separators, opening)
    count = np.searchsorted(separators, closing) - first
    before = np.cumsum(count) - count
    inside = np.repeat(first - before, count) + np.arange(count.sum())
    return np.delete(separators, inside)


def _is_letter_or_digit(letters: Bytes) -> npt.NDArray[np.bool_]:
    upper = letters & np.uint8(0xDF)
    found: npt.NDArray[np.bool_] = ((upper >= ord("A")) & (upper <= ord("Z"))) | (
        (letters >= ord("0")) & (letters <= ord("9"))
    )
    return found


def _numbers(rows: PlainRows, header: tuple[str, ...]) -> dict[int, Array]:
    places = [at for at, name in enumerate(header) if is_number(name)]
    columns = numbers_of_text(rows.data, places) if len(rows) >= _WORTH_PANDAS else {}
    for at in places:
        if at not in columns:
            columns[at] = numbers_of(rows.column(at))
            continue
        noughts = np.flatnonzero(columns[at] == 0.0)
        # Among whole numbers pandas takes −0 for 0.
        signed = noughts[rows.first([at])[noughts, 0] != ord("0")] if noughts.size else noughts
        if signed.size:
            columns[at] = columns[at].copy()
            columns[at][signed] = numbers_of(rows[signed].column(at))
    for column in columns.values():
        column.flags.writeable = False
    return columns


def _are_harmless(rows: PlainRows) -> bool:
    """Whether `check_text` takes all cells: those that begin with a sign are asked."""
    odd = {at for at, numbers in rows.numbers.items() if not np.isfinite(numbers).all()}
    texts = [at for at in range(rows.ends.shape[1]) if at in odd or at not in rows.numbers]
    for start in range(0, len(rows), _ROWS_AT_ONCE):
        part = rows[start : start + _ROWS_AT_ONCE]
        doubtful = _SIGNS[part.first(texts)]
        for number in np.flatnonzero(doubtful.any(axis=0)).tolist():
            at = texts[number]
            cells = doubtful[:, number]
            if at in odd:
                cells &= ~np.isfinite(part.numbers[at])
            for row in np.flatnonzero(cells).tolist():
                try:
                    check_text(part[row][at])
                except InputError:
                    return False
    return True
