"""The figures of a verdict as plain data and back."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Final, get_args

import numpy as np

from thermofit.decide import Verdict
from thermofit.decide.rule import Decision
from thermofit.decide.verdict import VERDICT_COLUMNS, Readings
from thermofit.errors import InputError
from thermofit.report.sheet.curvedata import number_or_null
from thermofit.report.sheet.fields import Fields

__all__ = ["figures_from_data", "figures_of", "figures_to_data"]

_WORDS: Final = ("verdict", "cause", "reason", "family", "tolerance", "rule", "prior")
_NUMBERS: Final = (*(name for name in VERDICT_COLUMNS if name not in _WORDS), "risk")
_READING_NUMBERS: Final = tuple(
    field.name for field in dataclasses.fields(Readings) if field.name != "verdict"
)


def figures_of(verdict: Verdict) -> dict[str, Any]:
    """Take the figures of a verdict, for `SheetRecord`."""
    readings = [
        MappingProxyType({name: getattr(verdict.readings, name)[at].item() for name in columns})
        for columns in [(*_READING_NUMBERS, "verdict")]
        for at in range(len(verdict.readings))
    ]
    return {
        **{name: str(getattr(verdict, name)) for name in _WORDS},
        **{name: float(getattr(verdict, name)) for name in _NUMBERS if name != "risk"},
        "risk": verdict.rule.risk,
        "notes": verdict.notes,
        "readings": tuple(readings),
    }


def figures_to_data(figures: Mapping[str, Any]) -> dict[str, Any]:
    """Make data of them, with null for what is not known."""
    return {
        **{name: figures[name] for name in _WORDS},
        **{name: number_or_null(figures[name]) for name in _NUMBERS},
        "notes": list(figures["notes"]),
        "readings": [
            {name: number_or_null(row[name]) for name in _READING_NUMBERS}
            | {"verdict": row["verdict"]}
            for row in figures["readings"]
        ],
    }


def figures_from_data(data: Fields) -> dict[str, Any]:
    """Read them again, with NaN for null."""
    return {
        **{name: data.text(name) for name in _WORDS if name != "verdict"},
        **{name: data.number_or(name, np.nan) for name in _NUMBERS},
        "verdict": _decision(data),
        "notes": data.texts("notes"),
        "readings": tuple(
            MappingProxyType(
                {name: row.number_or(name, np.nan) for name in _READING_NUMBERS}
                | {"verdict": _decision(row)}
            )
            for row in data.parts("readings")
        ),
    }


def _decision(data: Fields) -> str:
    word = data.text("verdict")
    if word not in get_args(Decision):
        raise InputError(f"{word!r} is no verdict; there are {', '.join(get_args(Decision))}")
    return word
