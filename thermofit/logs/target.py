"""A file that is written piece by piece, and appears whole or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO

from thermofit.curvesets.storage import (
    failure,
    keep_rights,
    remove_quietly,
    sync_folder,
    writable_target,
)
from thermofit.errors import StorageError

__all__ = ["written_whole"]


@contextmanager
def written_whole(path: Path, overwrite: bool) -> Iterator[IO[bytes]]:
    """Open a file for writing that takes its place when the block has ended well.

    Until then it is a hidden file beside the target, which goes when anything is raised.

    Parameters
    ----------
    path : Path
    overwrite : bool
        Whether a file may be there already.

    Yields
    ------
    file object
        Binary; not closed by whoever writes.

    Raises
    ------
    StorageError
        The file is there already, or cannot be written; what was there is still there.
    """
    target = writable_target(path)
    _refuse_existing(target, overwrite)
    temporary = target.with_name(f".{target.name}.{secrets.token_hex(8)}.tmp")
    try:
        with temporary.open("xb") as file:
            keep_rights(target, temporary)
            yield file
            file.flush()
            os.fsync(file.fileno())
        _refuse_existing(target, overwrite)
        temporary.replace(target)
    except StorageError:
        remove_quietly(temporary)
        raise
    except OSError as error:
        remove_quietly(temporary)
        raise failure(target, error) from error
    except BaseException:
        remove_quietly(temporary)
        raise
    sync_folder(target.parent)


def _refuse_existing(target: Path, overwrite: bool) -> None:
    if not overwrite and target.exists():
        raise StorageError(
            f"{target} was not written: a file of this name is there; choose another name, or "
            "state that it may be replaced (overwrite=True)"
        )
