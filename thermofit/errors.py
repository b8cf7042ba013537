"""Every exception and warning that thermofit raises, in one tree.

An error names the value, the place where it stood and the way out.  Catch
:class:`ThermofitError` for all of them; the sub-classes also derive from the
built-in exception that a caller would expect (``ValueError``, ``LookupError``,
``OSError``).
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "CellProblem",
    "ConformanceError",
    "CurveSetError",
    "ExtrapolationError",
    "ExtrapolationWarning",
    "FileError",
    "FitError",
    "InputError",
    "NotMonotoneError",
    "PluginClashError",
    "PluginError",
    "PointsFileError",
    "StorageError",
    "ThermofitError",
    "ThermofitWarning",
    "UnitError",
    "UnitGuessWarning",
    "UnknownNameError",
]

_SHOWN_PROBLEMS = 20


class ThermofitError(Exception):
    """Root of all errors raised by thermofit."""


class InputError(ThermofitError, ValueError):
    """A value that cannot be used; the message says which, where and what would do."""


class UnitError(InputError):
    """A unit, or a number with a unit, that cannot be read."""


class UnknownNameError(InputError, LookupError):
    """No equation, family or curve has this name; the message lists the nearest."""


class FitError(InputError):
    """These points cannot determine this equation."""


class ExtrapolationError(InputError):
    """A value outside the valid range of a curve, met with ``strict=True``."""


class NotMonotoneError(InputError):
    """The numbers describe a curve that turns within its range.

    Attributes
    ----------
    turning_t_c : float
        Temperature, in °C, where the curve turns (NaN where the curve does not
        reach a part of its range at all).
    """

    def __init__(self, message: str, turning_t_c: float) -> None:
        super().__init__(message)
        self.turning_t_c = turning_t_c

    def __reduce__(self) -> tuple[type[NotMonotoneError], tuple[str, float]]:
        return type(self), (str(self), self.turning_t_c)


@dataclass(frozen=True)
class CellProblem:
    """One cell, row or column of a file that cannot be used.

    Parameters
    ----------
    reason : str
        What is wrong, and the way out.
    row : int, optional
        Line number in the file, counted from 1.
    column : str, optional
        Header of the column, or its position where there is no header.
    value : str, optional
        The cell as it stands in the file.
    """

    reason: str
    row: int | None = None
    column: str | None = None
    value: str | None = None

    def __str__(self) -> str:
        place = []
        if self.row is not None:
            place.append(f"row {self.row}")
        if self.column is not None:
            place.append(f"column {self.column!r}")
        if self.value is not None:
            place.append(f"value {_shorten(self.value)!r}")
        return f"{', '.join(place)}: {self.reason}" if place else self.reason


class FileError(InputError):
    """A file with content that cannot be used.

    Attributes
    ----------
    path : str
        The file.
    problems : tuple of CellProblem
        Everything found wrong, not only what the message shows.
    """

    def __init__(self, path: str | os.PathLike[str], problems: Sequence[CellProblem]) -> None:
        self.path = os.fspath(path)
        self.problems = tuple(problems)
        shown = [str(problem) for problem in self.problems[:_SHOWN_PROBLEMS]]
        more = len(self.problems) - len(shown)
        if more > 0:
            shown.append(f"… and {more} more")
        separator = "\n  " if len(shown) > 1 else " "
        super().__init__(f"{self.path}:{separator}{separator.join(shown)}")

    def __reduce__(self) -> tuple[type[FileError], tuple[str, tuple[CellProblem, ...]]]:
        return type(self), (self.path, self.problems)


class PointsFileError(FileError):
    """A file of measured points that cannot be read."""


class CurveSetError(FileError):
    """A curve set, or a row to be put into one, that breaks the format."""


class StorageError(ThermofitError, OSError):
    """A file could not be written; what was there before is still there."""


class PluginError(ThermofitError):
    """A plugin could not be loaded or gave something unusable."""


class PluginClashError(PluginError, LookupError):
    """Two packages register the same id.

    Attributes
    ----------
    id : str
        The id that both claim.
    packages : tuple of str
        The packages that register it.
    """

    def __init__(self, id: str, packages: Sequence[str]) -> None:
        self.id = id
        self.packages = tuple(packages)
        super().__init__(
            f"{id!r} is registered by {' and by '.join(self.packages)}; "
            "rename it in one of them or uninstall one"
        )

    def __reduce__(self) -> tuple[type[PluginClashError], tuple[str, tuple[str, ...]]]:
        return type(self), (self.id, self.packages)


class ConformanceError(ThermofitError, AssertionError):
    """A family or an equation breaks rules that all of them keep.

    Attributes
    ----------
    failures : tuple of str
        One line for each rule that is broken.
    """

    def __init__(self, subject: str, failures: Sequence[str]) -> None:
        self.subject = subject
        self.failures = tuple(failures)
        super().__init__("\n  ".join([f"{subject}:", *self.failures]))

    def __reduce__(self) -> tuple[type[ConformanceError], tuple[str, tuple[str, ...]]]:
        return type(self), (self.subject, self.failures)


class ThermofitWarning(UserWarning):
    """Root of all warnings given by thermofit."""


class ExtrapolationWarning(ThermofitWarning):
    """A value outside the valid range of a curve."""


class UnitGuessWarning(ThermofitWarning):
    """A unit was assumed because the file does not state it."""


def _shorten(text: str, limit: int = 60) -> str:
    return text if len(text) <= limit else text[: limit - 1] + "…"
