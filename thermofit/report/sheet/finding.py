"""Reading a sheet back: the data in a page, found without running anything of it."""

from __future__ import annotations

import os
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
# As the template writes it.  All other text of a page has its "<" escaped, and to search for this
# takes no longer for hostile files, as parsing HTML may.
_OPENING: Final = f'<script type="application/json" id="{DATA_ID}">'
_CLOSING: Final = "</script>"


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
            path,
            f"is larger than the {max_bytes} bytes that a sheet may have; if it is one, give a "
            "larger max_bytes",
        ) from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _refused(path, f"is no text in UTF-8 (byte {error.start + 1})") from None
    count = text.count(_OPENING)
    data, closing, _ = text.partition(_OPENING)[2].partition(_CLOSING)
    if count != 1 or not closing:
        raise _refused(
            path,
            "is no bench sheet of thermofit: it holds no data of one"
            if not count
            else f"holds the data of {count} sheets; it must be of one"
            if count > 1
            else "ends within its data; take another copy of the sheet",
        )
    try:
        return record_from_text(data)
    except ThermofitError as error:
        raise _refused(path, str(error)) from error


def _refused(path: str | os.PathLike[str], reason: str) -> FileError:
    return FileError(path, [CellProblem(reason)])
