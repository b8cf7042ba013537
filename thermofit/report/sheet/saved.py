"""A bench sheet: what it holds, its page, and the file."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from thermofit.curvesets.storage import writable_target, write_atomically
from thermofit.errors import StorageError
from thermofit.report.sheet.record import SheetRecord

__all__ = ["Sheet"]


@dataclass(frozen=True, eq=False)
class Sheet:
    """A bench sheet: what it holds, and the page.

    Made by `thermofit.report.sheet.bench_sheet`.

    Parameters
    ----------
    record : SheetRecord
        What `read_sheet` gives back.
    html : str
        One file, for any browser.
    """

    record: SheetRecord
    html: str

    def save(self, path: str | os.PathLike[str], *, replace: bool = False) -> None:
        """Write the page to a file.

        Parameters
        ----------
        path : path
        replace : bool
            Whether a file that is there already may go.

        Raises
        ------
        StorageError
            There is one, or it cannot be written.
        """
        target = writable_target(Path(path))
        if target.exists() and not replace:
            raise StorageError(
                f"{path} was not written: there is such a file; choose another name, or let it be "
                "replaced with replace=True"
            )
        write_atomically(target, self.html.encode("utf-8"), target)

    def __repr__(self) -> str:
        return f"<Sheet {self.record.title!r}, {len(self.html.encode()) / 1000:.0f} kB>"
