"""What an entry point of the group ``thermofit.families`` may name, taken as families."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from thermofit.curvesets.cells import check_id
from thermofit.curvesets.curveset import CurveSet
from thermofit.curvesets.reader import read_curve_set
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.plugins import Contribution, PluginProblem

__all__ = ["families_of"]

_WANTED = "an iterable of Family, a callable that gives one, or the path of a curve set"


def families_of(item: Contribution) -> Iterator[Family | PluginProblem]:
    """Take what an entry point names as families, as far as it can be.

    Parameters
    ----------
    item : Contribution

    Yields
    ------
    Family or PluginProblem
        What is usable is not lost because of what is not.
    """
    try:
        value = item.value
        if callable(value):
            value = value()
        for member in _members(value, item.module):
            yield member if isinstance(member, Family) else item.problem(member)
    except (Exception, SystemExit) as error:  # noqa: BLE001  a plugin may fail in any way
        yield item.problem(error)


def _members(value: object, module: str) -> Iterator[Family | str]:
    """Families among what a plugin gave, and a reason for everything else."""
    if isinstance(value, (str, os.PathLike)):
        value = read_curve_set(_beside(module) / os.fspath(value))
    if isinstance(value, CurveSet):
        found = value.families()
        yield from found
        plain = sorted(set(value.ids) - {family.id for family in found})
        if plain:
            yield (
                f"{value.path}: {', '.join(plain)} lack what makes a curve a family; fill in "
                "source_kind"
            )
        return
    if isinstance(value, Family):
        value = [value]
    if isinstance(value, Mapping) or not isinstance(value, Iterable):
        yield f"it gives something of type {type(value).__name__}; it must name {_WANTED}"
        return
    for number, member in enumerate(value, start=1):
        if not isinstance(member, Family):
            yield f"item {number} is of type {type(member).__name__}, and no Family"
            continue
        try:
            check_id(member.id)
        except InputError as error:
            yield f"the id {member.id!r} {error}"
        else:
            yield member


def _beside(module: str) -> Path:
    """Folder of a module, from which relative paths of its package count."""
    loaded = sys.modules[module]
    if loaded.__file__ is not None:
        return Path(loaded.__file__).resolve().parent
    # A package without an __init__ has folders, but no file.
    return Path(next(iter(loaded.__path__))).resolve()
