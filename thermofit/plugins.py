"""Entry points: what other packages hand to thermofit, loaded when first needed.

A package that fails to load takes nothing else down; the failure is kept beside
what the others gave.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

__all__ = ["Contribution", "PluginProblem", "contributions"]


@dataclass(frozen=True)
class PluginProblem:
    """Why something that a package registers cannot be used.

    Parameters
    ----------
    package : str
        Name of the distribution.
    entry_point : str
        Name of its entry point.
    reason : str
        What went wrong.
    """

    package: str
    entry_point: str
    reason: str

    def __str__(self) -> str:
        return f"{self.package} ({self.entry_point}): {self.reason}"


@dataclass(frozen=True)
class Contribution:
    """What one entry point of one package loaded to.

    Parameters
    ----------
    package : str
        Name of the distribution.
    entry_point : str
        Name of its entry point.
    module : str
        The module that it was loaded from.
    value : object
        What the entry point names.
    """

    package: str
    entry_point: str
    module: str
    value: Any

    def problem(self, error: BaseException | str) -> PluginProblem:
        """Make a problem of an error met while using the contribution."""
        return PluginProblem(self.package, self.entry_point, describe(error))


def contributions(group: str) -> Iterator[Contribution | PluginProblem]:
    """Load every entry point of a group, in order of package and name.

    Parameters
    ----------
    group : str
        For example ``"thermofit.families"``.

    Yields
    ------
    Contribution or PluginProblem
    """
    found = (
        # Damaged metadata may lack even the name.
        ((point.dist and point.dist.name) or "unknown package", point)
        for point in _entry_points(tuple(sys.path)).select(group=group)
    )
    for package, point in sorted(found, key=lambda item: (item[0], item[1].name)):
        try:
            value = point.load()
        except (Exception, SystemExit) as error:  # noqa: BLE001  a plugin may fail in any way
            yield PluginProblem(package, point.name, describe(error))
        else:
            yield Contribution(package, point.name, point.module, value)


@lru_cache(maxsize=1)
def _entry_points(path: tuple[str, ...]) -> Any:
    """All entry points on a path; looked for once, since that takes as long as the import."""
    from importlib.metadata import entry_points

    del path
    return entry_points()


def describe(error: BaseException | str) -> str:
    """Say what an error is, in one line, with its type where that tells more."""
    if isinstance(error, str):
        return error
    return f"{type(error).__name__}: {error}".replace("\n", " ")
