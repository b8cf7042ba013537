"""The parts that specifications of meters and of thermometers have in common."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from thermofit.budget import Contribution, require_number
from thermofit.errors import InputError
from thermofit.units import parse_number

__all__ = ["mean_and_scatter", "percentage", "resolution", "stated_kind", "take_k"]

_K: Final = re.compile(r"[,\s]*\(?\bk\s*=\s*([^\s()]+)\)?\s*$")


def take_k(text: str) -> tuple[str, float | None]:
    """Separate a coverage factor, as in "0.5C k=2", from what stands before it."""
    found = _K.search(text)
    if found is None:
        return text, None
    return text[: found.start()], parse_number(found.group(1))


def percentage(text: str) -> float | None:
    """Read "0.8%"; None where the text is no percentage."""
    return parse_number(text.rstrip("% ")) if text.rstrip().endswith("%") else None


def stated_kind(k: float | None) -> str:
    """How a maker's statement was taken, for a budget."""
    return (
        "a limit, taken as rectangular since no k is stated" if k is None else f"stated k = {k:g}"
    )


def resolution(step: float | None, unit: str, what: str) -> list[Contribution]:
    """Half a step either way, rectangular (JCGM 100, F.2.2.1); nothing where it is not known."""
    if step is None:
        return []
    return [Contribution(f"{what} resolution", step / 2.0, "rectangular", unit=unit)]


def mean_and_scatter(
    shown: float | Sequence[float], unit: str, what: str
) -> tuple[float, list[Contribution]]:
    """Average repeated readings; their scatter is a contribution where there are several."""
    if isinstance(shown, str) or not isinstance(shown, (Sequence, np.ndarray)):
        return require_number(shown, f"the {what} reading", unit), []
    readings = list(shown)
    if not readings:
        raise InputError(f"the {what} has no reading; give at least one, in {unit}")
    if len(readings) == 1:
        return require_number(readings[0], f"the {what} reading", unit), []
    scatter = Contribution.from_readings(f"{what} scatter", readings, unit=unit)
    return float(np.mean(readings)), [scatter]
