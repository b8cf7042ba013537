"""The text of a points file: bounded reading, encodings, comment lines, rows of cells."""

from __future__ import annotations

import codecs
import csv
import io
import math
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, NamedTuple

from thermofit.errors import CellProblem, InputError, PointsFileError

__all__ = [
    "ANY_SPACE",
    "WIDE_SPACE",
    "Record",
    "SourceText",
    "load_text",
    "records",
    "refusal",
    "split_line",
]

Source = str | bytes | os.PathLike[str] | os.PathLike[bytes] | IO[str] | IO[bytes]

WIDE_SPACE = "  "
"""Stands for columns set apart by a tab or by two or more spaces."""

ANY_SPACE = " "
"""Stands for columns set apart by any number of spaces."""

_CHUNK = 2**20

_WORKBOOKS = (b"PK\x03\x04", b"\xd0\xcf\x11\xe0")
_NOT_TEXT = "this is not text"
_SAVE_AS_CSV = "open it where it was made and save it as CSV"

_WIDE_GAP = re.compile(r" *\t[ \t]*| {2,}")
# A token may have a bracket behind a space, so that "T (°C)" stays in one piece.
_TOKEN = re.compile(r'"[^"]*"|[^ \t]+(?: +[(\[{][^)\]}]*[)\]}])?')

# No text has these; tab, line feed, form feed, return and Ctrl-Z it may have.
_CONTROLS = re.compile("[\x00-\x08\x0b\x0e-\x19\x1b-\x1f]")


class Record(NamedTuple):
    """A row of a file: the line it begins on, counted from 1, and its cells."""

    line: int
    cells: list[str]


@dataclass(frozen=True)
class SourceText:
    """Text of a source, what to call it, and what had to be done to read it."""

    name: str
    text: str
    notes: tuple[str, ...]


def load_text(source: Source, max_bytes: int) -> SourceText:
    """Read a path or an open file, never more than the limit and one byte.

    Parameters
    ----------
    source : str, path or file object
        A file object may give text or bytes; it is read on from where it stands.
    max_bytes : int
        Limit in bytes, or in characters where the file object gives text.

    Returns
    -------
    SourceText

    Raises
    ------
    PointsFileError
        It cannot be opened, is too large, or is not text.
    InputError
        `source` or `max_bytes` is not what it should be.

    Examples
    --------
    >>> load_text(io.BytesIO(b"t_c,r_ohm"), max_bytes=100)
    SourceText(name='<stream>', text='t_c,r_ohm', notes=())
    """
    if isinstance(max_bytes, bool) or not isinstance(max_bytes, int) or max_bytes < 1:
        raise InputError(f"max_bytes must be a whole number above zero, not {max_bytes!r}")
    if isinstance(source, str | bytes | os.PathLike):
        name = os.fsdecode(source)
        content: str | bytes = _read_path(name, max_bytes)
    elif hasattr(source, "read"):
        label = getattr(source, "name", None)
        name = label if isinstance(label, str) else "<stream>"
        content = _read_stream(source, name, max_bytes)
    else:
        raise InputError(f"source must be a path or an open file, not {source!r}")
    if isinstance(content, str):
        return SourceText(name, _checked_text(content, name), ())
    return SourceText(name, *_decode(content, name))


def _read_path(name: str, max_bytes: int) -> str | bytes:
    try:
        with Path(name).open("rb") as stream:
            return _read_stream(stream, name, max_bytes)
    except PointsFileError:
        raise
    except FileNotFoundError:
        reason = "there is no such file"
        if "\n" in name:
            reason += "; to read text that is not in a file, pass io.StringIO(text)"
    except (OSError, ValueError) as error:
        reason = f"the file cannot be opened ({getattr(error, 'strerror', None) or error})"
        # Windows refuses to open a directory with a permission error.
        if os.path.isdir(name):  # noqa: PTH112  Path.is_dir may raise that error again
            reason = "this is a directory; name a file in it"
    raise refusal(name, reason)


def _read_stream(stream: IO[str] | IO[bytes], name: str, max_bytes: int) -> str | bytes:
    pieces: list[str | bytes] = []
    wanted = max_bytes + 1
    # Pipes give less than asked for; only an empty piece is the end.
    while wanted > 0:
        try:
            piece = stream.read(min(wanted, _CHUNK))
        except UnicodeDecodeError as error:
            reason = f"undecodable text ({error}); open the file in binary mode, open(…, 'rb')"
            raise refusal(name, reason) from None
        except (OSError, ValueError) as error:
            raise refusal(name, f"reading failed ({error})") from None
        if not isinstance(piece, str | bytes):
            raise refusal(name, f"reading gave {type(piece).__name__}, neither text nor bytes")
        if not piece:
            break
        pieces.append(piece)
        wanted -= len(piece)
    if wanted <= 0:
        raise refusal(
            name,
            f"larger than {max_bytes} bytes, which is more than measured points take; "
            f"if it really is one, split the file, or raise the limit (max_bytes) when reading it "
            f"from Python",
        )
    if isinstance(piece, str):
        return "".join(part for part in pieces if isinstance(part, str))
    return b"".join(part for part in pieces if isinstance(part, bytes))


def _checked_text(text: str, name: str) -> str:
    # DOS programs end a text with Ctrl-Z.
    text = text.removeprefix("\ufeff").removesuffix("\x1a")
    found = _CONTROLS.search(text)
    if found:
        line = text.count("\n", 0, found.start()) + 1
        reason = f"{_NOT_TEXT}: it contains the control character {found.group()!r}; {_SAVE_AS_CSV}"
        raise refusal(name, reason, line)
    try:
        text.encode("utf-8")
    except UnicodeEncodeError as error:
        # Python's streams smuggle bytes that they could not decode as lone surrogates.
        line = text.count("\n", 0, error.start) + 1
        reason = "undecodable bytes; pass the stream in binary mode, such as sys.stdin.buffer"
        raise refusal(name, reason, line) from None
    return text


def _decode(content: bytes, name: str) -> tuple[str, tuple[str, ...]]:
    if content.startswith(_WORKBOOKS):
        raise refusal(name, f"this is a spreadsheet workbook, not CSV; {_SAVE_AS_CSV}")
    notes: tuple[str, ...] = ()
    try:
        if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
            text = content.decode("utf-16")
            notes = ("read as UTF-16",)
        elif b"\x00" in content:
            raise refusal(
                name,
                f"{_NOT_TEXT}: it contains NUL bytes; {_SAVE_AS_CSV} (UTF-8)",
                content.count(b"\n", 0, content.index(b"\x00")) + 1,
            )
        else:
            try:
                text = content.decode("utf-8-sig")
            except UnicodeDecodeError:
                text = content.decode("cp1252")
                notes = ("not UTF-8; read as Windows-1252 (Western European)",)
    except UnicodeDecodeError as error:
        line = content.count(b"\n", 0, error.start) + 1
        encoding = "Windows-1252 or UTF-8" if error.encoding == "charmap" else "UTF-16"
        reason = f"the byte 0x{content[error.start]:02X} is not {encoding} text; save it as UTF-8"
        raise refusal(name, reason, line) from None
    return _checked_text(text, name), notes


def records(text: str, delimiter: str, name: str) -> Iterator[Record]:
    """Give the rows of a file without its blank lines and comment lines.

    Parameters
    ----------
    text : str
    delimiter : str
        One character, `WIDE_SPACE` or `ANY_SPACE`.
    name : str
        The file, for errors.

    Yields
    ------
    Record
        Cells without the spaces around them.  A row of empty cells only is
        given, since the separators stood there.

    Raises
    ------
    PointsFileError
        Quotes that do not close.

    Examples
    --------
    >>> for record in records('# bench 2\\nT,R\\n\\n25,"10 k"\\n', ",", "bench.csv"):
    ...     print(record.line, record.cells)
    2 ['T', 'R']
    4 ['25', '10 k']
    """
    # Universal newlines: CR, LF and CRLF each end one line, as in an editor.
    stream = io.StringIO(text, newline=None)
    if delimiter in (WIDE_SPACE, ANY_SPACE):
        lines = _Lines(stream)
        for line in lines:
            lines.inside = False
            cells = split_line(line, delimiter)
            if cells:
                yield Record(lines.number, cells)
        return
    # Strict, since a lenient reader would join the rows after a stray quote into one cell.
    lines = _Lines(stream, _MOST_CHARACTERS)
    reader = csv.reader(lines, delimiter=delimiter, skipinitialspace=True, strict=True)
    while True:
        lines.inside = False
        try:
            row = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise refusal(name, _explain(str(error)), lines.start) from None
        cells = [cell.strip() for cell in row]
        if len(cells) > 1 or (cells and cells[0]):
            yield Record(lines.start, cells)


def split_line(line: str, delimiter: str) -> list[str]:
    """Split one line that has no line break in quotes.

    Examples
    --------
    >>> split_line("T (°C)  R (Ω)", ANY_SPACE), split_line("T;R", ";")
    (['T (°C)', 'R (Ω)'], ['T', 'R'])
    """
    if delimiter == WIDE_SPACE:
        line = line.strip()
        parts = _WIDE_GAP.split(line) if line else []
    elif delimiter == ANY_SPACE:
        parts = _TOKEN.findall(line.strip())
    else:
        try:
            parts = next(
                csv.reader([line.strip(" \n")], delimiter=delimiter, skipinitialspace=True), []
            )
        except csv.Error:
            parts = []
    return [part.strip().removeprefix('"').removesuffix('"').strip() for part in parts]


_TOO_LONG = "field larger"  # as the csv module says it

_MOST_CHARACTERS = 131_072
"""Of a row with all its lines.  The csv module's own limit is any importer's to change."""


class _Lines:
    """Lines for the CSV reader, counted, without the comments between rows.

    A line that begins with # in the midst of a quoted cell is no comment, so
    whoever reads clears `inside` before each row.  A row of more than `most`
    characters is an error, as of the csv module.
    """

    def __init__(self, stream: io.StringIO, most: float = math.inf) -> None:
        self._stream = stream
        self._most = most
        self.number = 0
        self.start = 0
        self.inside = False
        self._length = 0

    def __iter__(self) -> _Lines:
        return self

    def __next__(self) -> str:
        for line in self._stream:
            self.number += 1
            if not self.inside:
                if line == "\n" or line.startswith("#"):
                    continue
                self.inside, self.start, self._length = True, self.number, 0
            self._length += len(line)
            if self._length > self._most:
                raise csv.Error(_TOO_LONG)
            return line
        raise StopIteration


def _explain(message: str) -> str:
    if _TOO_LONG in message:
        return (
            'the row is unreasonably long; is a quote (") opened here that is never closed, '
            "or are there thousands of columns?"
        )
    if "unexpected end" in message:
        return 'a quote (") is opened here that is never closed; delete or close it'
    return 'text follows a closing quote ("); quote the cell as a whole, or not at all'


def refusal(name: str, reason: str, row: int | None = None) -> PointsFileError:
    """Refuse a file for one reason."""
    return PointsFileError(name, [CellProblem(reason, row=row)])
