"""Points, and readings with their budgets, as plain data and back."""

from __future__ import annotations

from typing import Any, cast

import numpy as np

from thermofit.baths import Bath
from thermofit.budget import Budget, Contribution
from thermofit.budget.contribution import Distribution
from thermofit.errors import InputError
from thermofit.points import Points
from thermofit.readings import Reading
from thermofit.report.sheet.curvedata import number_or_null
from thermofit.report.sheet.fields import Fields

__all__ = ["points_from_data", "points_to_data", "reading_from_data", "reading_to_data"]


def points_to_data(points: Points) -> dict[str, Any]:
    """Give the columns, source and notes of points."""
    columns = {name: getattr(points, name) for name in ("t_c", "r_ohm", "u_t_k", "u_r_ohm")}
    return {
        **{name: None if c is None else c.tolist() for name, c in columns.items()},
        "source": points.source,
        "notes": list(points.notes),
    }


def points_from_data(data: Fields) -> Points:
    """Make the points again."""
    return Points(
        data.numbers("t_c"),
        data.numbers("r_ohm"),
        data.numbers_or_none("u_t_k"),
        data.numbers_or_none("u_r_ohm"),
        source=None if data.absent("source") else data.text("source"),
        notes=data.texts("notes"),
    )


def reading_to_data(reading: Reading) -> dict[str, Any]:
    """Give a reading: bath, and the budgets of both axes."""
    bath = reading.bath if isinstance(reading.bath, Bath) else None
    return {
        "bath": bath and bath.kind,
        "cautions": list(bath.cautions) if bath else [],
        "temperature": _budget_to_data(reading.temperature),
        "resistance": _budget_to_data(reading.resistance),
    }


def reading_from_data(data: Fields) -> Reading:
    """Make the reading again."""
    temperature = _budget_from_data(data.part("temperature"))
    resistance = _budget_from_data(data.part("resistance"))
    if data.absent("bath"):
        return Reading(temperature, resistance)
    return Reading(Bath(data.text("bath"), temperature, data.texts("cautions")), resistance)


def _budget_to_data(budget: Budget) -> dict[str, Any]:
    return {
        "value": budget.value,
        "unit": budget.unit,
        "contributions": [
            {
                "name": part.name,
                "half_width": part.half_width,
                "distribution": part.distribution,
                "k": part.k,
                "unit": part.unit,
                "sensitivity": part.sensitivity,
                "dof": number_or_null(part.dof),
                "shared": part.shared,
                "note": part.note,
            }
            for part in budget.contributions
        ],
        "correlations": [
            {"names": [one, other], "r": float(r)} for one, other, r in budget.correlations
        ],
    }


def _budget_from_data(data: Fields) -> Budget:
    contributions = [
        Contribution(
            part.text("name"),
            part.number("half_width"),
            cast("Distribution", part.text("distribution")),
            None if part.absent("k") else part.number("k"),
            part.text("unit"),
            part.number("sensitivity"),
            part.number_or("dof", np.inf),
            part.text("shared"),
            part.text("note"),
        )
        for part in data.parts("contributions")
    ]
    return Budget(
        data.number("value"), data.text("unit"), contributions,
        [(*_pair(part), part.number("r")) for part in data.parts("correlations")],
    )  # fmt: skip


def _pair(data: Fields) -> tuple[str, str]:
    names = data.texts("names")
    if len(names) != 2:
        raise InputError(f"a correlation is between two contributions, not {len(names)}")
    return names[0], names[1]
