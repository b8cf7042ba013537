"""Single cells: numbers and texts to and from the characters of a file."""

from __future__ import annotations

import re
from typing import Final

import numpy as np

from thermofit.errors import InputError

__all__ = [
    "FILE_NAME_LIMIT",
    "check_file_name",
    "check_id",
    "check_text",
    "format_human",
    "format_number",
    "parse_flag",
    "parse_number",
]

_NUMBER: Final = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)([eE][+-]?\d+)?", re.ASCII)
# Control characters but tab and line ends, and halves of characters.
_NO_TEXT: Final = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff]")
_ID: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9._-]*")
_ID_LIMIT: Final = 100
FILE_NAME_LIMIT: Final = 200
"""The most characters that the name of a companion file may have."""

# The wide forms are what an input method for East Asian scripts types; some
# spreadsheets take them like the narrow ones.
_FORMULA_SIGNS: Final = "=+-@＝＋－＠"
_DEVICES: Final = frozenset(
    {"con", "prn", "aux", "nul", *(f"{d}{n}" for d in ("com", "lpt") for n in range(1, 10))}
)
_FLAGS: Final = {"true": True, "1": True, "false": False, "0": False, "": False}
_HUMAN_DIGITS: Final = 6


def format_number(value: float) -> str:
    """Write a number in the shortest form that reads back to the same float64.

    Examples
    --------
    >>> format_number(10000.0), format_number(0.1), format_number(-4.183e-12)
    ('10000', '0.1', '-4.183e-12')
    """
    return repr(float(value)).removesuffix(".0")


def format_human(value: float) -> str:
    """Write a number for the human reader: six digits; blank if it is none.

    Six digits are the same on every machine, the seventeenth of a logarithm is not.

    Examples
    --------
    >>> format_human(10000.000000000011), format_human(float("nan"))
    ('10000', '')
    """
    if not np.isfinite(value):
        return ""
    return format_number(float(f"{value:.{_HUMAN_DIGITS}g}"))


def parse_number(text: str) -> float:
    """Read a number that is written with a decimal point.

    Raises
    ------
    InputError
        No number, or one beyond float64.

    Examples
    --------
    >>> parse_number("3.9083e-3")
    0.0039083
    """
    stripped = text.strip()
    if not _NUMBER.fullmatch(stripped):
        raise InputError(
            "is not a number; a number has no unit and no grouping, and is written with a decimal "
            "point, such as 10500.5"
        )
    value = float(stripped)
    if not np.isfinite(value):
        raise InputError("is beyond the largest float64; a curve needs finite numbers")
    return value


def parse_flag(text: str) -> bool:
    """Read true or false as programs and spreadsheets write them; blank is false.

    Raises
    ------
    InputError
        Neither.
    """
    value = _FLAGS.get(text.strip().casefold())
    if value is None:
        raise InputError("is neither true nor false; blank means false")
    return value


def check_text(text: str) -> None:
    """Refuse a cell that is a danger to spreadsheets or no clean text.

    Raises
    ------
    InputError
        It begins like a formula and is no plain number, or holds a character
        that a text file cannot have.

    Examples
    --------
    >>> check_text("-40"), check_text("at the inlet")
    (None, None)
    """
    first = text[:1]
    if first and first in _FORMULA_SIGNS and not _NUMBER.fullmatch(text.strip()):
        raise InputError(
            f"begins with {first!r}, which a spreadsheet would run as a formula; "
            "put a word before it"
        )
    if first and first in "\t\r\n":
        raise InputError(
            f"begins with {first!r}, behind which a spreadsheet may run a formula; remove it"
        )
    if match := _NO_TEXT.search(text):
        raise InputError(f"holds {match.group()!r}, a character that text cannot have; remove it")


def check_id(text: str) -> None:
    """Refuse an id that cannot be part of a file name on every system.

    Raises
    ------
    InputError
        With the way out.

    Examples
    --------
    >>> check_id("ntc-10k-3977")
    """
    if not text:
        raise InputError("is blank; give the curve an id, such as 'inlet-2'")
    if not _ID.fullmatch(text):
        raise InputError(
            "is no id; use letters A to Z, digits, '.', '_' and '-', and begin with a letter "
            "or a digit"
        )
    if len(text) > _ID_LIMIT:
        raise InputError(f"has {len(text)} characters; an id has {_ID_LIMIT} at most")
    if _is_device(text):
        raise InputError("is the name of a device on Windows; add something to it")


def check_file_name(name: str) -> None:
    """Refuse the name of a companion file that is more than a bare name.

    Raises
    ------
    InputError
        With the way out.

    Examples
    --------
    >>> check_file_name("shop-inlet-3f9a2c1b.csv")
    """
    if set(name) & set('/\\:*?"<>|\t\r\n') or _NO_TEXT.search(name):
        raise InputError(
            "is not a bare file name; the file must lie in the folder of the set and be named "
            "without its folder"
        )
    if name.startswith(".") or name[-1:] in {".", " "} or _is_device(name):
        raise InputError("is not a file name that every system takes; rename the file")
    if len(name) > FILE_NAME_LIMIT:
        raise InputError(f"has {len(name)} characters; {FILE_NAME_LIMIT} are the most")


def _is_device(name: str) -> bool:
    return name.partition(".")[0].rstrip().casefold() in _DEVICES
