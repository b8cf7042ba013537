"""The ids of a large set: which are beyond doubt, and whether one stands twice."""

from __future__ import annotations

import re
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.curvesets.plain import PlainRows
from thermofit.curvesets.sheet import Sheet

__all__ = ["USUAL_ID", "ids_differ", "usual_ids"]

USUAL_ID: Final = re.compile(
    r"(?!(?i:con|prn|aux|nul|com[1-9]|lpt[1-9])(?:\.|$))[A-Za-z0-9][A-Za-z0-9._-]{0,99}"
)
"""Ids that `thermofit.curvesets.cells.check_id` takes."""

_LETTERS: Final = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789._-"
_STRANGE: Final = ~np.isin(np.arange(256), np.frombuffer(_LETTERS + b"\0", dtype=np.uint8))
_FIRST_THREE: Final = np.uint64(0xFFFFFF)
_SMALL: Final = np.uint64(0x202020)
_DEVICES: Final = np.array(
    [int.from_bytes(word, "little") for word in (b"con", b"prn", b"aux", b"nul", b"com", b"lpt")],
    dtype=np.uint64,
)


def usual_ids(sheet: Sheet) -> npt.NDArray[np.bool_]:
    """Which ids are right beyond doubt, shape (n,)."""
    words = sheet.id_words
    if words is None:
        return np.array([bool(USUAL_ID.fullmatch(id)) for id in sheet.texts("id")], dtype=bool)
    # A plain text has ids that begin with a letter or a digit.
    strange = _STRANGE[words.view(np.uint8)].view(np.uint64).reshape(words.shape)
    usual: npt.NDArray[np.bool_] = np.logical_not(np.logical_or.reduce(strange != 0))
    like_device = np.isin((words[0] & _FIRST_THREE) | _SMALL, _DEVICES)
    for row in np.flatnonzero(like_device).tolist():
        id = words[:, row].tobytes().rstrip(b"\0").decode("ascii", "replace")
        usual[row] = usual[row] and bool(USUAL_ID.fullmatch(id))
    return usual


def ids_differ(sheet: Sheet) -> bool:
    """Whether no id, without the spaces around it, stands twice."""
    words = sheet.id_words
    if words is not None and _are_bare(sheet):
        if len(words) == 1:
            inorder = np.sort(words[0])
            return bool((inorder[1:] != inorder[:-1]).all())
        return len(set(zip(*words.tolist(), strict=True))) == len(sheet.rows)
    ids = sheet.column("id")
    return len(set(ids)) == len(ids)


def _are_bare(sheet: Sheet) -> bool:
    """Whether no id of a plain text has quotation marks around it or spaces behind it."""
    assert isinstance(sheet.rows, PlainRows)
    last = sheet.rows.last(sheet.header.index("id"))
    return bool(((last > ord(" ")) & (last < 0x7F) & (last != ord('"'))).all())
