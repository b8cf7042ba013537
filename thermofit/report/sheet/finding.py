"""Reading a sheet back: the data in a page, found without running anything of it."""

from __future__ import annotations

import os
from html.parser import HTMLParser
from pathlib import Path
from typing import Final

from thermofit.curvesets.storage import TooLargeError, read_bounded
from thermofit.errors import CellProblem, FileError, ThermofitError
from thermofit.report.sheet.document import record_from_text
from thermofit.report.sheet.record import SheetRecord

__all__ = ["DATA_ID", "read_sheet"]

DATA_ID: Final = "thermofit-sheet"
"""Id of the element of a page that holds the data."""

_MAX_BYTES: Final = 4 * 2**20


def read_sheet(path: str | os.PathLike[str], *, max_bytes: int = _MAX_BYTES) -> SheetRecord:
    """Read back what a bench sheet holds.

    The data stand in the page as JSON, of a format that ``docs/bench-sheet.md`` describes.
    Nothing of the page is run, and nothing but NumPy is needed (SciPy for the curve of a table
    without slopes).  The checksum tells a copy that was damaged; it is no signature, and does
    not say who wrote the sheet.

    Parameters
    ----------
    path : path
        The HTML file.
    max_bytes : int
        Larger files are refused; no more is read.

    Returns
    -------
    SheetRecord
        The curve is the one that was written, to the last bit.

    Raises
    ------
    FileError
        No bench sheet, one of another version, or one that was changed or damaged.
    OSError
        The file cannot be read.

    Examples
    --------
    >>> import pathlib, tempfile, thermofit as tf
    >>> from thermofit.report.sheet import bench_sheet, read_sheet
    >>> curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet", t_range_c=(0, 60))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     file = pathlib.Path(folder, "inlet.html")
    ...     bench_sheet(curve, pictures=False).save(file)
    ...     read_sheet(file).curve
    <Curve inlet: beta, 10.000 kΩ at 25 °C, valid 0 to 60 °C>
    """
    try:
        raw = read_bounded(Path(path), max_bytes)
    except TooLargeError:
        raise _refused(
            path, f"is larger than the {max_bytes} bytes that a sheet may have"
        ) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _refused(path, f"is no text in UTF-8 (byte {error.start + 1})") from None
    finder = _Finder()
    finder.feed(text)
    finder.close()
    if not finder.closed or len(finder.found) != 1:
        count = len(finder.found)
        raise _refused(
            path,
            "is no bench sheet of thermofit: it holds no data of one"
            if not count
            else f"holds the data of {count} sheets; it must be of one"
            if count > 1
            else "ends within its data; take another copy of the sheet",
        )
    try:
        return record_from_text(finder.found[0])
    except ThermofitError as error:
        raise _refused(path, str(error)) from error


def _refused(path: str | os.PathLike[str], reason: str) -> FileError:
    return FileError(path, [CellProblem(reason)])


class _Finder(HTMLParser):
    """Collects the text of the elements that hold data; everything else goes by."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self.closed = True

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        named = dict(attrs)
        if (
            tag == "script"
            and named.get("type") == "application/json"
            and named.get("id") == DATA_ID
        ):
            self.found.append("")
            self.closed = False

    def handle_data(self, data: str) -> None:
        if not self.closed:
            self.found[-1] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "script":
            self.closed = True
