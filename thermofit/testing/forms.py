"""Rules for what an equation is called and how it is kept."""

from __future__ import annotations

import pickle
import re
from collections.abc import Iterator
from typing import get_args

import numpy as np

from thermofit.curvesets.columns import SETTINGS, is_known, known_spelling
from thermofit.equations.base import Coefficient, Equation, Explicit
from thermofit.equations.catalogue import equation as look_up
from thermofit.equations.tabulated import Tabulated
from thermofit.errors import InputError, UnknownNameError
from thermofit.validation import check_range

__all__ = ["FORM_RULES"]

_NAME = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*")
_COLUMN = re.compile(r"[a-z][a-z0-9_]*")


def _name(equation: Equation) -> Iterator[str]:
    name = equation.name
    if not (isinstance(name, str) and _NAME.fullmatch(name)):
        yield f"name: {name!r} must be lower-case words and digits joined by '-'"
    for attribute in ("label", "formula"):
        text = getattr(equation, attribute, None)
        if not (isinstance(text, str) and text):
            yield f"{attribute}: must be a text for reports, not {text!r}"


def _from_name(equation: Equation) -> Iterator[str]:
    kind, name, settings = type(equation), equation.name, dict(equation.settings)
    if isinstance(equation, Tabulated):
        return  # its nodes are its settings, and they lie in a file
    if kind.from_name(name, settings) != equation:
        yield "from_name: from_name(e.name, e.settings) must give an equation equal to e"
    if kind.from_name(name, settings | {"another_setting": 1.0}) != equation:
        yield "from_name: settings that the equation does not have must be ignored"
    if kind.from_name(name, {}) is None:
        yield "from_name: settings that are missing must take their defaults"
    if kind.from_name("no-such-equation", settings) is not None:
        yield "from_name: must give None for a name of another equation"
    try:
        found = look_up(name, settings)
    except UnknownNameError:
        return  # not registered yet
    if not isinstance(found, kind):
        yield f"name: {name!r} belongs to {type(found).__name__} already"


def _settings(equation: Equation) -> Iterator[str]:
    for name, value in equation.settings.items():
        reserved = is_known(name) and name not in SETTINGS
        if reserved or known_spelling(name) or not _COLUMN.fullmatch(name):
            yield f"settings: {name!r} cannot be the name of a column of a curve set"
        if not (isinstance(value, (int, float)) and np.isfinite(value)):
            yield f"settings: {name} must be a finite number, not {value!r}"


def _coefficients(equation: Equation) -> Iterator[str]:
    entries = equation.coefficients
    if not (isinstance(entries, tuple) and all(isinstance(e, Coefficient) for e in entries)):
        yield "coefficients: must be a tuple of Coefficient"
        return
    names = [entry.name for entry in entries]
    if len(set(names)) < len(names) or not all(name.isidentifier() for name in names):
        yield f"coefficients: their names must be identifiers, each once, not {names}"


def _flags(equation: Equation) -> Iterator[str]:
    if equation.explicit not in get_args(Explicit):
        yield f"explicit: must be one of {get_args(Explicit)}, not {equation.explicit!r}"
    for flag in ("linear", "ntc"):
        if not isinstance(getattr(equation, flag), bool):
            yield f"{flag}: must be True or False"


def _default_range_c(equation: Equation) -> Iterator[str]:
    try:
        check_range(*equation.default_range_c)
    except InputError as error:
        yield f"default_range_c: {error}"


def _comparison(equation: Equation) -> Iterator[str]:
    copy = pickle.loads(pickle.dumps(equation))
    if copy != equation or hash(copy) != hash(equation):
        yield (
            "comparison: an unpickled copy must be equal and have the same hash; "
            "make the class a frozen dataclass"
        )


FORM_RULES = (_name, _from_name, _settings, _coefficients, _flags, _default_range_c, _comparison)
