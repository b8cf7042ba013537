"""Typed access to what was parsed from a sheet, which anybody may have written."""

from __future__ import annotations

import math
from typing import Any

from thermofit.errors import InputError

__all__ = ["Fields"]


class Fields:
    """An object of JSON whose values are asked for by kind.

    Parameters
    ----------
    data : object
        What was parsed.
    place : str
        Where it stands, for errors.

    Raises
    ------
    InputError
        Here and from every method: what is there is of another kind, or missing.
    """

    def __init__(self, data: Any, place: str) -> None:
        if not isinstance(data, dict):
            raise InputError(f"{place} is no object")
        self._data = data
        self._place = place

    def text(self, name: str) -> str:
        """Give a text."""
        return self._text(self._value(name), name)

    def texts(self, name: str) -> tuple[str, ...]:
        """Give a list of texts."""
        return tuple(self._text(value, name) for value in self._list(name))

    def named_texts(self, name: str) -> dict[str, str]:
        """Give texts by name."""
        part = self.part(name)._data
        return {key: self._text(value, f"{name}.{key}") for key, value in part.items()}

    def named_numbers(self, name: str) -> dict[str, float]:
        """Give numbers by name."""
        part = self.part(name)._data
        return {key: self._number(value, f"{name}.{key}") for key, value in part.items()}

    def number(self, name: str) -> float:
        """Give a finite number."""
        return self._number(self._value(name), name)

    def number_or(self, name: str, instead: float) -> float:
        """Give a finite number, or something else for null."""
        value = self._value(name)
        return instead if value is None else self._number(value, name)

    def numbers(self, name: str) -> list[float]:
        """Give a list of numbers."""
        return [self._number(value, name) for value in self._list(name)]

    def numbers_or_none(self, name: str) -> list[float] | None:
        """Give a list of numbers; None for null."""
        return None if self.absent(name) else self.numbers(name)

    def matrix_or_none(self, name: str) -> list[list[float]] | None:
        """Give rows of numbers; None for null."""
        if self.absent(name):
            return None
        rows = self._list(name)
        if not all(isinstance(row, list) for row in rows):
            raise InputError(f"{self._place}.{name} is no list of rows")
        return [[self._number(value, name) for value in row] for row in rows]

    def absent(self, name: str) -> bool:
        """Tell whether a value is null."""
        return self._value(name) is None

    def part(self, name: str) -> Fields:
        """Give an object."""
        return Fields(self._value(name), f"{self._place}.{name}")

    def parts(self, name: str) -> list[Fields]:
        """Give a list of objects."""
        return [
            Fields(value, f"{self._place}.{name}[{at}]")
            for at, value in enumerate(self._list(name))
        ]

    def _value(self, name: str) -> Any:
        if name not in self._data:
            raise InputError(f"{self._place} has no {name}")
        return self._data[name]

    def _list(self, name: str) -> list[Any]:
        value = self._value(name)
        if not isinstance(value, list):
            raise InputError(f"{self._place}.{name} is no list")
        return value

    def _text(self, value: Any, name: str) -> str:
        if not isinstance(value, str):
            raise InputError(f"{self._place}.{name} is no text")
        return value

    def _number(self, value: Any, name: str) -> float:
        if isinstance(value, int | float) and not isinstance(value, bool):
            try:
                number = float(value)
            except OverflowError:
                number = math.inf
            if math.isfinite(number):
                return number
        raise InputError(f"{self._place}.{name} is no finite number")
