"""What would explain that a controller shows what it shows, each with its size."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.circuit.base import Circuit
from thermofit.circuit.errorbudget import error_budget, error_span
from thermofit.circuit.faults import wrong_ohm
from thermofit.curve import Curve
from thermofit.errors import ThermofitWarning
from thermofit.family import Family
from thermofit.units import format_ohm

__all__ = [
    "Explanation",
    "at_the_sensor",
    "plain",
    "sag",
    "show_ohms",
    "tolerances",
    "wiring",
    "wrong_parts",
]

Array = npt.NDArray[np.float64]

# Below this part of its supply a controller hardly runs; common practice, no source.
_LEAST_SUPPLY = 0.5

_SMALL = 1e-3


@dataclass(frozen=True)
class Explanation:
    """A fault that would make the controller show what it shows.

    Parameters
    ----------
    kind : str
    low, high : float
        The sizes that would do it, in `unit`; NaN for a fault without a size.
    unit : str
    text : str
    """

    kind: str
    low: float
    high: float
    unit: str
    text: str


def at_the_sensor(own_ohm: float, low_ohm: float, high_ohm: float) -> list[Explanation]:
    """Explain it by the sensor itself, or by a resistance in its line or between its leads."""
    if low_ohm <= own_ohm <= high_ohm:
        return [plain("none", f"the sensor has {format_ohm(own_ohm)}, which reads right")]
    if low_ohm > own_ohm:
        low, high = low_ohm - own_ohm, high_ohm - own_ohm
        text = f"{show_ohms(low, high)} in series, in a connector or a splice"
        return [Explanation("corroded contact", low, high, "Ω", text)]
    with np.errstate(divide="ignore"):
        low, high = (1.0 / (1.0 / np.array([low_ohm, high_ohm]) - 1.0 / own_ohm)).tolist()
    text = f"{show_ohms(low, high)} in parallel, across the leads or inside the sensor"
    return [Explanation("moisture", low, high, "Ω", text)]


def tolerances(
    circuit: Circuit, part: Curve | Family, error_k: float, actual_c: float, half_k: float
) -> list[Explanation]:
    """Explain it by healthy parts, where their limits allow such an error."""
    with warnings.catch_warnings():
        # That the temperature is outside the valid range was said before.
        warnings.simplefilter("ignore", ThermofitWarning)
        budget = error_budget(circuit, part, actual_c)
    low_k, high_k = float(budget.worst_low_k[0]), float(budget.worst_high_k[0])
    if not low_k - half_k <= error_k <= high_k + half_k:
        return []
    text = f"healthy parts at their limits err by {error_span(low_k, high_k, 2)} K there"
    return [Explanation("tolerances", low_k, high_k, "K", text)]


def wrong_parts(
    parts: dict[str, Curve], actual_c: float, low_ohm: float, high_ohm: float
) -> list[Explanation]:
    """Explain it by other parts."""
    found = []
    for name, part in parts.items():
        r_ohm = wrong_ohm(name, part, actual_c)
        if low_ohm <= r_ohm <= high_ohm:
            text = f"{name} has {format_ohm(r_ohm)} at {actual_c:g} °C"
            found.append(plain("wrong part", text))
    return found


def sag(circuit: Circuit, own_ohm: float, edges: Array) -> list[Explanation]:
    """Sag of the supply that would put a healthy sensor between two count positions.

    The node voltage is a·f + b with the supply at a fraction f; the reference is constant, or goes
    along with f.
    """
    r_ohm, q = np.asarray(own_ohm), circuit._nominal
    # Near the nominal supply, so that a source of current keeps some voltage to spare.
    near = 1.0 - _SMALL
    full_v, near_v = (
        float(circuit._node(r_ohm, q | {"supply_v": f * circuit.supply_v})) for f in (1.0, near)
    )
    slope = (full_v - near_v) / _SMALL
    offset = full_v - slope
    wanted = circuit._volts(edges, q)
    with np.errstate(divide="ignore", invalid="ignore"):
        fraction = offset / (wanted - slope) if circuit.ratiometric else (wanted - offset) / slope
    low, high = np.sort(fraction).tolist()
    # NaN, where the supply does not matter, drops out too.
    if not (low >= _LEAST_SUPPLY and high < 1.0):
        return []
    ends = 100.0 * (1.0 - high), 100.0 * (1.0 - low)
    text = f"the supply sags by {ends[0]:.3g} to {ends[1]:.3g} %"
    return [Explanation("supply sag", *ends, "%", text)]


def wiring(circuit: Circuit, low_code: float, high_code: float) -> list[Explanation]:
    """Faults without a size whose code lies between two."""
    converter, q = circuit.converter, circuit._nominal
    volts = {
        "open": float(circuit._node(np.asarray(np.inf), q)),
        "sensor shorted": float(circuit._node(np.asarray(0.0), q)),
        "short to ground": circuit._line_held_at(0.0, q),
        "short to supply": circuit._line_held_at(circuit.supply_v, q),
    }
    found = []
    for kind, voltage_v in volts.items():
        code = float(converter.code(voltage_v / q["reference_v"] * converter.steps))
        if low_code <= code <= high_code:
            found.append(plain(kind, f"gives counts of {code:.0f}"))
    return found


def plain(kind: str, text: str) -> Explanation:
    """Give an explanation without a size."""
    return Explanation(kind, np.nan, np.nan, "", text)


def show_ohms(low: float, high: float) -> str:
    """Write a range of resistances, which may have no end."""
    if np.isinf(high):
        return f"{format_ohm(low, 4)} or more" if np.isfinite(low) else "no end of resistance"
    return (
        f"{format_ohm(low, 4)} to {format_ohm(high, 4)}"
        if low > 0.0
        else (f"{format_ohm(high, 4)} or less")
    )
