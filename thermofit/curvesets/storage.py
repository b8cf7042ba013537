"""Files that are whole at every moment: bounded reading, atomic writing, one writer at a time."""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Iterator
from pathlib import Path

from thermofit.errors import StorageError

__all__ = [
    "TooLargeError",
    "failure",
    "keep_rights",
    "lock_of",
    "locked",
    "read_bounded",
    "remove_quietly",
    "sync_folder",
    "writable_target",
    "write_atomically",
]

_WRITE_BITS = stat.S_IWUSR | stat.S_IWGRP | stat.S_IWOTH


class TooLargeError(Exception):
    """A file that is larger than the caller lets it be."""


def read_bounded(path: Path, max_bytes: int) -> bytes:
    """Read a file, and never more of it than a limit and one byte.

    Raises
    ------
    TooLargeError
        It is larger.
    OSError
        It cannot be read.
    """
    with path.open("rb") as file:
        size = os.fstat(file.fileno()).st_size
        if size > max_bytes:
            raise TooLargeError
        data = file.read(size + 1)
        if len(data) > size:
            # A pipe or a device has no size beforehand, and a file may grow.
            data += file.read(max_bytes + 1 - len(data))
    if len(data) > max_bytes:
        raise TooLargeError
    return data


def writable_target(path: Path) -> Path:
    """Give the file that a path leads to, without symbolic links, if it may be written.

    Write protection is respected also where the rights of the user would
    override it.

    Raises
    ------
    StorageError
        It may not.
    """
    target = Path(os.path.realpath(path))
    if target.is_symlink():
        raise StorageError(
            f"{path} was not written: it is a symbolic link that leads to itself; remove it or "
            "choose another file"
        )
    _check_writable(target)
    return target


def lock_of(target: Path) -> Path:
    """Give the hidden file that a writer of a file locks."""
    return target.with_name(f".{target.name}.lock")


@contextlib.contextmanager
def locked(target: Path, timeout_s: float) -> Iterator[None]:
    """Keep other processes from writing the same file.

    The lock is a hidden file beside the target that stays there: to remove it
    would let two processes lock two files of the same name.

    Parameters
    ----------
    target : Path
        As `writable_target` gives it.
    timeout_s : float
        How long to wait, in seconds.

    Raises
    ------
    StorageError
        The folder has no place for a lock, or another process keeps it.
    """
    from filelock import FileLock, Timeout

    lock_path = lock_of(target)
    lock = FileLock(lock_path)
    try:
        lock.acquire(timeout=timeout_s)
    except Timeout:
        raise StorageError(
            f"{target} was not written: for {timeout_s:g} s another program has been writing it "
            f"(it holds {lock_path}); try again when it has finished"
        ) from None
    except (OSError, NotImplementedError) as error:
        need = (
            f"the lock {lock_path.name} needs a place in the folder {target.parent}; allow writing "
            "in that folder or choose another one: "
        )
        raise failure(target, error, need) from error
    try:
        _remove_leftovers(target)
        yield
    finally:
        lock.release()


def write_atomically(target: Path, data: bytes, group: Path) -> None:
    """Replace a file by way of a temporary one beside it.

    Whoever reads, or loses power, meets the old content or the new, whole.

    Parameters
    ----------
    target : Path
        The file, in the folder of `group`.
    data : bytes
        Its new content.
    group : Path
        The file whose lock is held; the temporary file bears its name.

    Raises
    ------
    StorageError
        What was there is still there, and nothing else.
    """
    temporary = group.with_name(f".{group.name}.{os.urandom(8).hex()}.tmp")
    try:
        try:
            # Created with the rights that the user's mask gives to new files.
            descriptor = os.open(temporary, os.O_WRONLY | os.O_CREAT | os.O_EXCL | _BINARY, 0o666)
            with open(descriptor, "wb") as file:  # noqa: PTH123  it is a descriptor
                keep_rights(target, temporary)
                file.write(data)
                file.flush()
                os.fsync(descriptor)
            temporary.replace(target)
        except BaseException:
            remove_quietly(temporary)
            raise
    except (OSError, ValueError) as error:
        raise failure(target, error) from error
    sync_folder(target.parent)


def remove_quietly(path: Path) -> None:
    """Remove a file; that it is gone already, or stays, harms nobody."""
    with contextlib.suppress(OSError):
        path.unlink()


_BINARY: int = getattr(os, "O_BINARY", 0)


def _check_writable(target: Path) -> None:
    folder = target.parent
    try:
        folder_mode = folder.stat().st_mode
    except OSError as error:
        reason = f"the folder {folder} cannot be used ({error.strerror}); create it first"
        raise StorageError(f"{target} was not written: {reason}") from error
    if not stat.S_ISDIR(folder_mode):
        raise StorageError(f"{target} was not written: {folder} is no folder")
    # Windows has no such bits on folders.
    if os.name != "nt" and not folder_mode & _WRITE_BITS:
        raise StorageError(f"{target} was not written: the folder {folder} is read-only")
    if not target.exists():
        return
    mode = target.stat().st_mode
    if not stat.S_ISREG(mode):
        raise StorageError(f"{target} was not written: it is a folder or a device, no file")
    if not mode & _WRITE_BITS or not os.access(target, os.W_OK):
        raise StorageError(
            f"{target} was not written: it is read-only; make it writable or choose another file"
        )


def keep_rights(target: Path, temporary: Path) -> None:
    """Give a temporary file the rights and the owner of what it will replace, if it can be done."""
    try:
        before = target.stat()
    except OSError:
        return
    with contextlib.suppress(OSError):
        temporary.chmod(stat.S_IMODE(before.st_mode))
        if hasattr(os, "chown"):
            os.chown(temporary, before.st_uid, before.st_gid)


def _remove_leftovers(target: Path) -> None:
    """Clear away temporary files of a writer that was killed; the lock is held."""
    begin, end = f".{target.name}.", ".tmp"
    with contextlib.suppress(OSError), os.scandir(target.parent) as entries:
        for entry in entries:
            token = entry.name[len(begin) : -len(end)]
            named_alike = entry.name.startswith(begin) and entry.name.endswith(end)
            if named_alike and len(token) == 16 and set(token) <= set("0123456789abcdef"):
                remove_quietly(Path(entry.path))


def sync_folder(folder: Path) -> None:
    """Have the new name of a file reach the disk, where the system can do that.

    The file is in place already and whole, so that a failure is no reason to
    tell the caller that nothing was written.
    """
    if os.name == "nt":
        return
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def failure(target: Path, error: Exception, need: str = "") -> StorageError:
    """Make the error that says why a file was not written."""
    detail = getattr(error, "strerror", None) or str(error) or type(error).__name__
    made = StorageError(f"{target} was not written: {need}{detail}; what was there before is kept")
    made.errno = getattr(error, "errno", None)
    return made
