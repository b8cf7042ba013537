"""Companion files: their names, and which of them may go.

The name of a companion that thermofit writes begins with those of its set and
its curve and ends in the beginning of the SHA-256 of its content.  So new nodes
never replace old ones under a name that a row already has, whatever moment the
power fails at, and no set writes what belongs to another.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from thermofit.curvesets.cells import FILE_NAME_LIMIT
from thermofit.curvesets.sheet import parse_sheet
from thermofit.curvesets.storage import (
    TooLargeError,
    read_bounded,
    remove_quietly,
    write_atomically,
)

__all__ = ["Companions", "replace_set"]

_OWN_NAME: Final = re.compile(r".+-([0-9a-f]{8}|[0-9a-f]{16}|[0-9a-f]{32}|[0-9a-f]{64})\.csv")
_STEM_LIMIT: Final = FILE_NAME_LIMIT - 100 - 64 - 6  # what an id, a digest and the rest leave
_LARGEST_NEIGHBOUR: Final = 64 * 2**20


class Companions:
    """The companion files that a set is going to need.

    Parameters
    ----------
    target : Path
        The set, in the folder in which the companions will lie.
    """

    def __init__(self, target: Path) -> None:
        self.target = target
        self.content: dict[str, bytes] = {}

    def put(self, id: str, data: bytes) -> str:
        """Take up a companion and give its name, under which nothing else lies.

        Parameters
        ----------
        id : str
            Id of the curve.
        data : bytes
            Content of the file.
        """
        stem = re.sub(r"[^A-Za-z0-9._-]+", "_", self.target.stem).lstrip("._-")[:_STEM_LIMIT]
        begin = id if not stem or id.startswith(f"{stem}-") else f"{stem}-{id}"
        digest = hashlib.sha256(data).hexdigest()
        names = [f"{begin}-{digest[:length]}.csv" for length in (8, 16, 32, 64)]
        name = next((name for name in names if self._content_of(name, data) in (None, data)),
                    names[-1])  # fmt: skip
        self.content[name] = data
        return name

    def keep(self, name: str, data: bytes) -> bool:
        """Take up a companion under the name that its row gives it, if it can have that.

        Parameters
        ----------
        name : str
            Its file name.
        data : bytes
            Content that it had when the set was read.

        Returns
        -------
        bool
            False if something else lies there by now.
        """
        if self._content_of(name, data) not in (None, data):
            return False
        self.content[name] = data
        return True

    def _content_of(self, name: str, expected: bytes) -> bytes | None:
        """Content of a companion by its name; None if there is none yet."""
        known = self.content.get(name)
        return known if known is not None else _content(self.target.with_name(name), len(expected))


def replace_set(target: Path, data: bytes, companions: Mapping[str, bytes]) -> None:
    """Write companions, then the set, then remove companions that nothing names any more.

    Parameters
    ----------
    target : Path
        The set, whose lock is held.
    data : bytes
        Its new content.
    companions : mapping of str to bytes
        The companions that it names, with their content.

    Raises
    ------
    StorageError
        The old set and its companions are as they were.
    """
    before = set(_named_by(_content(target, _LARGEST_NEIGHBOUR)))
    written: list[Path] = []
    try:
        for name, content in companions.items():
            path = target.with_name(name)
            if _content(path, len(content)) != content:
                write_atomically(path, content, group=target)
                written.append(path)
        write_atomically(target, data, group=target)
    except BaseException:
        # An interrupt may come when the new set is already in place.
        if _content(target, len(data)) != data:
            for path in written:
                remove_quietly(path)
        raise
    needed = {name.casefold() for name in companions}
    for name in sorted(before):
        path = target.with_name(name)
        if (
            name.casefold() not in needed
            and _is_ours(path)
            and not _is_named_elsewhere(path, target)
        ):
            remove_quietly(path)


def _content(path: Path, expected_bytes: int) -> bytes | None:
    """Content of a file; None if there is none.  A longer one is cut short."""
    try:
        with path.open("rb") as file:
            return file.read(expected_bytes + 1)
    except OSError:
        return None


def _named_by(data: bytes | None) -> Iterator[str]:
    """Companion files that the rows of a set name, as far as it can be read."""
    if not data or b"table_file" not in data:
        return
    sheet, _ = parse_sheet(data)
    yield from filter(None, sheet.column("table_file"))


def _is_ours(path: Path) -> bool:
    """Whether thermofit has written this file, and nobody has changed it since.

    A file that somebody named or edited by hand is theirs, and stays.
    """
    match = _OWN_NAME.fullmatch(path.name)
    if match is None:
        return False
    data = _content(path, _LARGEST_NEIGHBOUR)
    return data is not None and hashlib.sha256(data).hexdigest().startswith(match[1])


def _is_named_elsewhere(companion: Path, target: Path) -> bool:
    """Whether another file of the folder, such as a copy of the set, names a companion."""
    for path in companion.parent.iterdir():
        if path.suffix.lower() not in {".csv", target.suffix.lower()} or path in {
            companion,
            target,
        }:
            continue
        try:
            # A pipe would be waited for.
            if path.is_file() and companion.name.encode() in read_bounded(path, _LARGEST_NEIGHBOUR):
                return True
        except TooLargeError:
            return True  # rather a file too many than one too few
        except OSError:
            continue
    return False
