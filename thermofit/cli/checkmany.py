"""The answer of ``thermofit check`` for many sensors: text, JSON, CSV."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import click
import numpy as np

from thermofit.curvesets.cells import check_text
from thermofit.errors import InputError
from thermofit.interval import format_pair
from thermofit.texttable import aligned, format_probability

if TYPE_CHECKING:
    import pandas as pd

    from thermofit.pointsfile import SensorPoints

__all__ = ["many_json", "many_text", "print_csv", "with_reasons"]

_VERDICTS: Final = ("accept", "reject", "cannot tell")
_BY_WHAT: Final = ("family", "tolerance", "rule", "prior", "notes")
_WORDS: Final = (0, 1, 5)
_SHOWN_CELLS: Final = 3
_LONGEST_NAME: Final = 40


def with_reasons(found: pd.DataFrame, sensors: SensorPoints) -> pd.DataFrame:
    """Name the cells of the file that kept sensors from being judged.

    Parameters
    ----------
    found : DataFrame
        What `thermofit.check` found.
    sensors : SensorPoints
        What it was given.
    """
    reasons = []
    for name, reason in zip(found["sensor"], found["reason"], strict=True):
        cells = sensors.unusable.get(name, ())
        told = [*map(str, cells[:_SHOWN_CELLS])]
        if len(cells) > _SHOWN_CELLS:
            told.append(f"and {len(cells) - _SHOWN_CELLS} more cells")
        reasons.append("; ".join(told) or reason)
    return found.assign(reason=reasons)


def many_json(found: pd.DataFrame, sensors: SensorPoints) -> dict[str, Any]:
    """Give the answer as ``thermofit-check-many``."""
    counts = _counts(found)
    return {
        **{name: found.attrs[name] for name in _BY_WHAT},
        **{f"{verdict.replace(' ', '_')}_count": counts[verdict] for verdict in _VERDICTS},
        "sensors": with_reasons(found, sensors).to_dict(orient="records"),
        "read_as": sensors.notes,
    }


def print_csv(found: pd.DataFrame, sensors: SensorPoints) -> None:
    """Print a row for each sensor, with the names of the JSON.

    Raises
    ------
    InputError
        A spreadsheet would run the name of a sensor as a formula.
    """
    for name in found["sensor"]:
        try:
            check_text(name)
        except InputError as error:
            raise InputError(
                f"{sensors.source}: the sensor {name!r} {error}, or take --json in place of --csv"
            ) from None
    click.echo(with_reasons(found, sensors).to_csv(index=False), nl=False)


def many_text(found: pd.DataFrame, sensors: SensorPoints) -> str:
    """Give the answer as text: a row for each sensor, why not accepted, and the count."""
    found = with_reasons(found, sensors)
    gamma, u_gamma, beta, u_beta = (
        found[name].to_numpy() for name in ("gamma", "u_gamma", "beta", "u_beta")
    )
    off_pct = {"R25": (np.expm1(gamma), u_gamma * np.exp(gamma)), "B": (beta, u_beta)}
    off = [
        # What is left of R25 in a shorted sensor is known to digits that say nothing.
        [
            _off(100.0 * value, 100.0 * max(u, least))
            for value, u, least in zip(*pair, known, strict=True)
        ]
        for pair, known in zip(off_pct.values(), (u_gamma, u_beta), strict=True)
    ]
    rows = [["sensor", "verdict", "probability", "R25 off / %", "B off / %", "because"]]
    reasons = []
    for place, row in enumerate(found.to_dict(orient="records")):
        name = _short(row["sensor"])
        numbers = format_probability(row["probability"]), *(column[place] for column in off)
        rows.append([name, row["verdict"], *numbers, row["cause"]])
        if row["verdict"] != "accept":
            reasons.append(f"  {name}: {row['reason']}")
    attrs = found.attrs
    spread = [_span(name, 100.0 * u) for name, (_, u) in off_pct.items()]
    lines = [aligned(rows, left=_WORDS), "", *reasons, *[""] * bool(reasons)]
    lines += [f"against {attrs['family']}: {attrs['tolerance']}", f"  rule: {attrs['rule']}"]
    lines += [f"  prior: {attrs['prior']}"]
    if any(spread):
        lines.append(f"  standard uncertainty: {', '.join(filter(None, spread))}")
    lines += [f"  ({note})" for note in attrs["notes"]]
    counts = _counts(found)
    told = ", ".join(f"{counts[verdict]} {verdict}" for verdict in _VERDICTS)
    count = f"{len(found)} sensor{'' if len(found) == 1 else 's'}"
    return "\n".join([*lines, "", f"{count}: {told}"])


def _counts(found: pd.DataFrame) -> dict[str, int]:
    return {verdict: int((found["verdict"] == verdict).sum()) for verdict in _VERDICTS}


def _short(name: str) -> str:
    name = " ".join(name.split())
    return name if len(name) <= _LONGEST_NAME else f"{name[: _LONGEST_NAME - 1]}…"


def _off(value: float, u: float) -> str:
    """Write a deviation to the place of its standard uncertainty; nothing where not known."""
    if not (np.isfinite(value) and u > 0.0):
        return ""
    shown, _ = format_pair(float(value), float(u))
    return shown if shown.startswith("-") else f"+{shown}"


def _span(name: str, u: Any) -> str:
    """Say between what the standard uncertainties of the sensors lie."""
    known = u[np.isfinite(u) & (u > 0.0)]
    if not len(known):
        return ""
    low, high = (format_pair(end, end)[1] for end in (float(known.min()), float(known.max())))
    return f"{name} {low} %" if low == high else f"{name} {low} to {high} %"
