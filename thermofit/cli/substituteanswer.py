"""What `substitute` is told, and its answer as JSON."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from pathlib import Path
from typing import Any, Final

import click

import thermofit as tf
from thermofit.circuit import FaultLimits
from thermofit.circuit.faultrows import CAUTIONS
from thermofit.cli.choosing import named_family, stored_part
from thermofit.cli.circuitvalues import refuse_ratio_only
from thermofit.cli.values import parse_kelvin, parse_ohm
from thermofit.curve import Curve
from thermofit.decide.substitute import Firmware, Substitutes
from thermofit.decide.substitute.candidates import parts_of
from thermofit.errors import InputError, UnitError
from thermofit.family import Family

__all__ = [
    "NAMES",
    "answer_json",
    "candidates_of",
    "cautions_of",
    "check_files",
    "check_limits",
    "named_part",
]

Named = Family | Curve | tuple[float, float]

NAMES: Final = {
    "t_range_c": "--from --to",
    "resistor_pct": "--resistor-tolerance",
    "set_points_c": "--set-point",
    "Circuit.error_budget": "thermofit circuit",
}
"""What the library names in its texts, as options."""

_PICTURES: Final = (".png", ".svg")
_TABLES: Final = (".csv",)


def named_part(text: str, option: str) -> Named:
    """Look up what names one part: an id, SET.csv:ID, or R25 and B as 12k/3950K."""
    try:
        if ":" in text:
            stored = stored_part(text)
            refuse_ratio_only(stored)
            return stored
        r25, slash, b = text.partition("/")
        if not slash:
            part = named_family(text)
            refuse_ratio_only(part)
            return part
        r25_ohm, b_k = parse_ohm(r25), parse_kelvin(b)
        if not b_k > 0.0:
            raise UnitError(f"a B value of {b.strip()!r} is not above zero")
    except click.BadParameter as error:
        of_a_set = "" if ":" in text else "; a curve of a set is written as SET.csv:ID"
        raise click.BadParameter(f"{error.message}{of_a_set}", param_hint=option) from None
    except UnitError as error:
        raise click.BadParameter(
            f"{text!r} is no part: {error}; write an id, SET.csv:ID, or R25 and B as 12k/3950K",
            param_hint=option,
        ) from None
    return r25_ohm, b_k


def candidates_of(part: Iterable[str], parts: Iterable[str]) -> dict[str, Any] | None:
    """Put the candidates together by name; None where none is named, for all families."""
    found: dict[str, Any] = {}

    def add(name: str, item: Named, option: str) -> None:
        if name in found:
            raise click.UsageError(f"{option}: two candidates are called {name!r}")
        found[name] = item

    for text in part:
        item = named_part(text, "--part")
        add(text if isinstance(item, tuple) else item.id, item, "--part")
    for path in parts:
        for name, each in parts_of(tf.read_curve_set(path)).items():
            add(name, each, "--parts")
    if not found and tuple(parts):
        raise InputError(f"{', '.join(parts)}: no curve to compare")
    return found or None


def check_limits(limits: FaultLimits | None, with_circuit: bool) -> None:
    """Refuse limits that say nothing without a circuit."""
    if limits is None or with_circuit:
        return
    if any(end is not None for end in (limits.low_counts, limits.high_counts, limits.low_v,
                                       limits.high_v)):  # fmt: skip
        raise click.UsageError(
            "--limits in counts or in volts need the circuit that makes them: --pullup, --supply "
            "and --bits; without it write ohms, as 500R..200k"
        )


def check_files(picture: str | None, firmware: str | None) -> None:
    """Refuse endings that are no format here, before anything is computed."""
    for option, path, endings in (
        ("--picture", picture, _PICTURES), ("--firmware", firmware, _TABLES),
    ):  # fmt: skip
        if path is not None and Path(path).suffix.lower() not in endings:
            raise click.UsageError(f"{option} {path}: the name must end in {' or '.join(endings)}")


def cautions_of(found: Substitutes) -> list[str]:
    """What to mind, each once."""
    return [f"{found.caution[0].upper()}{found.caution[1:]}", *CAUTIONS]


def answer_json(
    found: Substitutes, table: Firmware | None, files: dict[str, Any]
) -> dict[str, Any]:
    """Describe an answer for `print_json`."""
    circuit = found.setting.circuit
    return {
        "original": found.original,
        "from_c": found.t_range_c[0],
        "to_c": found.t_range_c[1],
        "circuit": None if circuit is None else dataclasses.asdict(circuit),
        "own_worst_k": found.own_worst_k,
        "own_typical_k": found.own_typical_k,
        "substitutes": [
            {
                field.name: getattr(row, field.name)
                for field in dataclasses.fields(row)
                if field.name not in ("network", "set_points")
            }
            | {"set_points": [dataclasses.asdict(point) for point in row.set_points]}
            for row in found
        ],
        "left_out": [{"id": name, "reason": why} for name, why in found.left_out.items()],
        "firmware": None if table is None else _firmware_json(table),
        "notes": found.notes,
        "files": files,
        "cautions": cautions_of(found),
    }


def _firmware_json(table: Firmware) -> dict[str, Any]:
    return {
        "of": table.name,
        "rows": table.to_frame().to_dict(orient="records"),
        "table_error_k": table.table_error_k,
        "equations": [
            {
                "equation": one.curve.equation.name,
                "settings": dict(one.curve.equation.settings),
                "coefficients": dict(one.curve.coefficients),
                "largest_k": one.largest_k,
                "at_c": one.at_c,
            }
            for one in table.fits
        ],
    }
