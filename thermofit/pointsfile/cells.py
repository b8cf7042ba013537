"""One cell of a points file: which sign is the decimal one, and what number it is."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Final, Literal

from thermofit.errors import UnitError
from thermofit.pointsfile.columns import QUANTITIES, Kind, Unit
from thermofit.units import (
    ZERO_C_K,
    TemperatureUnit,
    is_overload,
    parse_number,
    parse_resistance,
    parse_temperature,
    parse_temperature_difference,
)

__all__ = [
    "SIGN_NAMES",
    "DecimalSign",
    "Evidence",
    "Writing",
    "is_bare",
    "is_no_reading",
    "parse_cell",
]

DecimalSign = Literal[".", ","]

_LONGEST_NUMBER = 100

_SPACES = " \t\u00a0\u2009\u202f"
_NO_SPACES: Final = dict.fromkeys(map(ord, _SPACES))
_BARE = re.compile(rf"[+\-−]?[\d.,{_SPACES}]*\d[\d.,{_SPACES}]*(?:[eE][+\-−]?\d+)?")
_NUMBER_PART = re.compile(rf"[+\-−]?[\d.,{_SPACES}]*\d[\d.,]*")
_GROUPED: Final = {
    sign: re.compile(rf"[+\-−]?[1-9]\d{{0,2}}(?:[{sign}]\d{{3}})+(?![\d{sign}])") for sign in ".,"
}
_SPACE_GROUPED = re.compile(rf"[+\-−]?[1-9]\d{{0,2}}(?:[{_SPACES}]\d{{3}})+(?!\d)")
_SPACE_WITHIN = re.compile(rf"\d[{_SPACES}]+\d")
_RELATIVE = re.compile(r"(.*?)\s*(%|ppm)")
_MILLIKELVIN = re.compile(r"(.*\d\.?)\s*m(?:K|°C)")

_NO_READING: Final = frozenset(
    ("nan", "na", "n/a", "#n/a", "#value!", "#div/0!", "null", "none", "nil", "-", "--", "---", "?")
)
_EXAMPLES: Final[dict[Kind, str]] = {
    "t": "25.3, 25.3C or 77.5F",
    "r": "9870, 9870R or 9.87k",
    "u_t": "0.1 or 0.2F",
    "u_r": "5, 0.01k or 0.1%",
}
_OTHER: Final[dict[str, str]] = {".": ",", ",": "."}
SIGN_NAMES: Final = {".": "point", ",": "comma"}


@dataclass(frozen=True)
class Writing:
    """How numbers are written in a file.

    Parameters
    ----------
    decimal : {".", ","} or None
        The decimal sign; None where nothing in the file settles it.
    groups : {".", ","} or None
        The sign that groups thousands, where that is certain.
    """

    decimal: DecimalSign | None
    groups: DecimalSign | None = None


class Evidence:
    """What the cells of a file, looked at one after the other, tell of its decimal sign.

    "25,5" shows a decimal comma and "1,234.5" a point.  "1,234" shows nothing:
    it may be a little over one, or over a thousand.

    Attributes
    ----------
    seen : dict
        First cell, with its line and column, that shows ``"."`` or ``","`` to be
        the decimal sign, or leaves it open (``"?."``, ``"?,"``), or shows a
        sign to group thousands (``"g."``, ``"g,"``).
    """

    def __init__(self) -> None:
        self.seen: dict[str, tuple[int, str, str]] = {}
        self._shown: set[tuple[str, str]] = set()

    def look_at(self, cell: str, line: int, column: str) -> None:
        """Take a cell into account."""
        commas, points = cell.count(","), cell.count(".")
        # No sign at all, or one more of what is known already: nothing to learn, and fast.
        if not commas + points:
            return
        if commas + points == 1 and ("," if commas else ".", column) in self._shown:
            return
        part = _NUMBER_PART.match(cell[:_LONGEST_NUMBER])
        if part is None:
            return
        number = part.group().translate(_NO_SPACES)
        for sign in _marks(number):
            self.seen.setdefault(sign, (line, column, cell))
            self._shown.add((sign, column))

    def writing(self) -> Writing:
        """Give what follows from the cells; decimal None where they settle nothing.

        Examples
        --------
        >>> evidence = Evidence()
        >>> for cell in ("25,5", "10,000"):
        ...     evidence.look_at(cell, 2, "T")
        >>> evidence.writing()
        Writing(decimal=',', groups=None)
        """
        if "." in self.seen:
            # Beside decimal points a comma groups thousands, unless one column has both.
            # Beside decimal commas a point may be either, since keypads have one.
            mixed = any(sign == "?," and (".", place) in self._shown for sign, place in self._shown)
            return Writing(".", None if mixed and "g," not in self.seen else ",")
        if "," in self.seen:
            return Writing(",", "." if "g." in self.seen else None)
        return Writing(None if "?," in self.seen else ".")


def _marks(number: str) -> tuple[str, ...]:
    """Tell what a number shows: see `Evidence.seen`."""
    signs = [sign for sign in number if sign in ".,"]
    if not signs:
        return ()
    first, last = signs[0], signs[-1]
    grouped = _GROUPED[first].match(number)
    if len(set(signs)) > 1:
        # Only "1,234.5" and its mirror make sense of both signs.
        return (last, f"g{first}") if grouped and last not in signs[:-1] else ()
    if len(signs) > 1:
        return (_OTHER[first], f"g{first}") if grouped else ()
    return (f"?{first}",) if grouped else (first,)


def is_bare(cell: str) -> bool:
    """Tell a number without a unit.

    Examples
    --------
    >>> is_bare("25,5"), is_bare("25.5 °C"), is_bare("4k7"), is_bare("")
    (True, False, False, False)
    """
    return _BARE.fullmatch(cell) is not None


def is_no_reading(cell: str) -> bool:
    """Tell a cell that stands where a reading is missing.

    Examples
    --------
    >>> is_no_reading("OL"), is_no_reading("n/a"), is_no_reading(""), is_no_reading("T")
    (True, True, True, False)
    """
    word = cell.strip().lower()
    return not word or word in _NO_READING or is_overload(word)


def parse_cell(cell: str, kind: Kind, unit: Unit | None, writing: Writing) -> tuple[float, bool]:
    """Read one cell.

    Parameters
    ----------
    cell : str
    kind : {"t", "r", "u_t", "u_r"}
    unit : Unit or None
        Unit of a number without one; with None such a number is refused.
    writing : Writing

    Returns
    -------
    value : float
        In °C, Ω or K; a fraction where it is relative.
    relative : bool
        Whether it has yet to be multiplied by the reading.

    Raises
    ------
    UnitError
        Why it is no usable value, and the way out.

    Examples
    --------
    >>> parse_cell("9,87", "r", 1e3, Writing(","))
    (9870.0, False)
    >>> parse_cell("", "r", 1e3, Writing("."))
    Traceback (most recent call last):
    thermofit.errors.UnitError: the cell is empty; fill it in, or delete the row
    """
    if len(cell) > _LONGEST_NUMBER:
        raise UnitError(f"{len(cell)} characters are not a number")
    try:
        value, relative = _parse(_without_groups(cell, writing), kind, unit, writing.decimal)
    except UnitError as error:
        raise UnitError(_explain(cell, kind, unit, writing, error)) from None
    if not math.isfinite(value):
        raise UnitError("the number is too large; correct it, or delete the row")
    if kind == "r" and value <= 0.0:
        raise UnitError(
            "a resistance is above zero; if the meter showed a short circuit, delete the row"
        )
    if kind == "t" and value <= -ZERO_C_K:
        raise UnitError("not above absolute zero; correct it, or its unit")
    if kind in ("u_t", "u_r") and value < 0.0:
        raise UnitError("an uncertainty is not negative; write it without its sign")
    return value, relative


def _parse(
    cell: str, kind: Kind, unit: Unit | None, decimal: DecimalSign | None
) -> tuple[float, bool]:
    if kind == "t":
        return parse_temperature(cell, _degree(unit), decimal), False
    if kind == "r":
        return parse_resistance(cell, _ohms(unit), decimal), False
    if kind == "u_t":
        in_millikelvin = _MILLIKELVIN.fullmatch(cell)
        if in_millikelvin or (unit == "mK" and is_bare(cell)):
            number = in_millikelvin.group(1) if in_millikelvin else cell
            return parse_number(number, decimal) / 1e3, False
        return parse_temperature_difference(cell, _degree(unit), decimal), False
    relative = _RELATIVE.fullmatch(cell)
    if relative or (unit in ("%", "ppm") and is_bare(cell)):
        number, sign = relative.groups() if relative else (cell, unit)
        return parse_number(number, decimal) / (1e2 if sign == "%" else 1e6), True
    return parse_resistance(cell, _ohms(unit), decimal), False


def _degree(unit: Unit | None) -> TemperatureUnit | None:
    return unit if unit == "C" or unit == "F" or unit == "K" else None


def _ohms(unit: Unit | None) -> float | None:
    return unit if isinstance(unit, float) else None


def _without_groups(cell: str, writing: Writing) -> str:
    """Take out what groups thousands; spaces within a number must do that."""
    if _SPACE_WITHIN.search(cell):
        found = _SPACE_GROUPED.match(cell)
        if found is None or _SPACE_WITHIN.search(cell, found.end() - 1):
            raise UnitError("two numbers")
        cell = re.sub(f"[{_SPACES}]", "", found.group()) + cell[found.end() :]
    if writing.groups is not None and writing.groups in cell:
        found = _GROUPED[writing.groups].match(cell)
        if found:
            cell = found.group().replace(writing.groups, "") + cell[found.end() :]
    return cell


def _explain(cell: str, kind: Kind, unit: Unit | None, writing: Writing, error: UnitError) -> str:
    """Say what is wrong with a cell that is no number with a unit of its quantity."""
    quantity = QUANTITIES[kind].removeprefix("uncertainty of the ")
    word = cell.strip().lower()
    if not word:
        return "the cell is empty; fill it in, or delete the row"
    if word in _NO_READING:
        return "not a reading; measure again, or delete the row"
    if is_overload(word):
        return (
            "an overload is not a reading; measure in a higher range, or delete the row (in the "
            "highest range it means that sensor or lead is open)"
        )
    part = _NUMBER_PART.match(cell)
    if part is None:
        return f"not a number; write it as {_EXAMPLES[kind]}"
    number, rest = part.group(), cell[part.end() :]
    if _SPACE_WITHIN.search(cell):
        return "a space stands within the number, and it does not group thousands; delete it"
    if writing.decimal is None and _GROUPED[","].fullmatch(number):
        small, large = number.replace(",", ".") + rest, number.replace(",", "") + rest
        return (
            f"may mean {small} or {large}, and nothing in the file tells which; write the right "
            f"one, or state the decimal sign (decimal): a comma for {small}, a point for {large}"
        )
    if writing.decimal is not None and _OTHER[writing.decimal] in number:
        return _other_sign(number, rest, writing.decimal)
    if "absolute zero" in str(error):
        return "below absolute zero; correct it, or its unit"
    if rest.strip():
        return f"{rest.strip()!r} is no unit of a {quantity}; write it as {_EXAMPLES[kind]}"
    if unit is None and is_bare(cell):
        return f"has no unit, though others of this column have; write it as {_EXAMPLES[kind]}"
    return f"not a number; write it as {_EXAMPLES[kind]}"


def _other_sign(number: str, rest: str, decimal: DecimalSign) -> str:
    """Say how to write a number that has the sign that is not the decimal one."""
    other = _OTHER[decimal]
    reason = (
        f"has a {SIGN_NAMES[other]}, but the decimal sign of the file is the {SIGN_NAMES[decimal]}"
    )
    if number.count(other) > 1 or decimal in number:
        return f"{reason}; write the number with no other sign"
    reason += f"; write {number.replace(other, decimal)}{rest}"
    if _GROUPED[other].fullmatch(number):
        reason += (
            f", or, if the {SIGN_NAMES[other]} groups thousands, write "
            f"{number.replace(other, '')}{rest} or state the decimal sign (decimal)"
        )
    return reason
