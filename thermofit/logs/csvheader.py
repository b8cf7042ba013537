"""The header of a CSV log: where it stands, and how it is divided."""

from __future__ import annotations

import codecs
import csv
import io
from dataclasses import dataclass
from typing import Final

from thermofit.errors import CellProblem, FileError, InputError
from thermofit.logs.rows import row_end

__all__ = ["Header", "read_header", "refusal"]

_DELIMITERS: Final = "\t;,|"


@dataclass(frozen=True)
class Header:
    """The header of a CSV log.

    Parameters
    ----------
    end : int
        Where the rows begin.
    names : tuple of str
        Of the columns.
    delimiter : str
    """

    end: int
    names: tuple[str, ...]
    delimiter: str


def read_header(start: bytes, name: str, delimiter: str | None) -> Header:
    """Read the header at the beginning of a file.

    Blank lines before it, and those that begin with #, are passed over.

    Parameters
    ----------
    start : bytes
        As much of the file as a header can take.
    name : str
        The file, for errors.
    delimiter : str, optional
        Between cells; without it the one that divides the header.

    Raises
    ------
    FileError
        No header, or no text.
    InputError
        `delimiter` is none.

    Examples
    --------
    >>> read_header(b"# july\\ntime;r_ohm\\n06:00;9870\\n", "july.csv", None)
    Header(end=18, names=('time', 'r_ohm'), delimiter=';')
    """
    at, end = _lines(start, name)
    row = 1 + start.count(b"\n", 0, at)
    text = _decoded(start[at:end]).rstrip("\r\n")
    if "\r" in text and '"' not in text:
        raise refusal(name, "lines end with CR alone; save it with LF or CRLF", row)
    if text.count('"') % 2:
        raise refusal(name, 'a quote (") in the header is never closed', row)
    return Header(end, *_divided(text, delimiter, name, row))


def _lines(start: bytes, name: str) -> tuple[int, int]:
    """Where the header begins and ends; blank lines and comments before it are passed over."""
    if start.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)) or b"\0" in start[:1000]:
        raise refusal(name, "this is no UTF-8 text; save it as CSV in UTF-8")
    at = len(codecs.BOM_UTF8) if start.startswith(codecs.BOM_UTF8) else 0
    while start[at : at + 1] in (b"#", b"\n", b"\r") and (feed := start.find(b"\n", at)) >= 0:
        at = feed + 1
    # The only line of a file may have no line end.
    end = row_end(start, at) or len(start)
    if not start[at:end].strip():
        raise refusal(name, "there is no header with the names of the columns")
    return at, end


def _decoded(head: bytes) -> str:
    try:
        return head.decode("utf-8")
    except UnicodeDecodeError:
        # Only the header is understood as text; all else is kept as bytes.
        return head.decode("cp1252", "replace")


def _divided(text: str, delimiter: str | None, name: str, row: int) -> tuple[tuple[str, ...], str]:
    if delimiter is not None and (
        not isinstance(delimiter, str)
        or len(delimiter) != 1
        or not delimiter.isascii()
        or delimiter.isalnum()
        or delimiter in '"\r\n.'
    ):
        raise InputError(f"delimiter must be one character such as ';', not {delimiter!r}")
    found, reason = {}, ""
    for each in delimiter or _DELIMITERS:
        try:
            cells = next(csv.reader(io.StringIO(text, newline=""), delimiter=each, strict=True))
        except csv.Error as error:
            reason = str(error)
            continue
        found[each] = tuple(cell.strip() for cell in cells)
    if not found:
        told = 'text follows a closing quote (") in the header; quote the cell as a whole'
        if "limit" in reason:
            told = "a cell of the header is unreasonably long; is this line the header?"
        raise refusal(name, told, row)
    most = max(map(len, found.values()))
    best = [each for each, cells in found.items() if len(cells) == most]
    if most == 1 and delimiter is None:
        return found[best[0]], ","
    if len(best) > 1:
        signs = " and ".join(map(repr, best))
        raise refusal(
            name, f"{signs} divide the header alike; state the right one (delimiter)", row
        )
    return found[best[0]], best[0]


def refusal(name: str, reason: str, row: int | None = None) -> FileError:
    """Refuse a file for one reason."""
    return FileError(name, [CellProblem(reason, row=row)])
