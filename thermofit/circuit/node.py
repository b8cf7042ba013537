"""The node that a converter reads, in numbers: a circuit's quantities and what they make."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.circuit.converter import Converter
from thermofit.circuit.influence import ABSOLUTE, Influence, limits, limits_pct
from thermofit.circuit.network import from_network, to_network
from thermofit.errors import InputError

__all__ = ["REFERENCE_T_C", "Node", "Quantities", "checked_pair", "checked_pct"]

Array = npt.NDArray[np.float64]
Quantities = dict[str, Any]
"""Values of the circuit's parts by name, floats or arrays."""

REFERENCE_T_C = 25.0
"""Temperature in °C at which resistors have the value that is marked on them."""


@dataclass(frozen=True, kw_only=True)
class Node(ABC):
    """The node of a circuit, from the sensor's resistance to a count position and back.

    What users call is in `Circuit`, which states the parameters too.
    """

    supply_v: float
    converter: Converter
    series_ohm: float = 0.0
    parallel_ohm: float | None = None
    leakage_a: float = 0.0
    leakage_limit_a: float = 0.0
    supply_pct: float = 0.0
    series_pct: float = 0.0
    parallel_pct: float = 0.0
    ambient_c: tuple[float, float] | None = None

    def __post_init__(self) -> None:
        require_number(self.supply_v, "supply_v", "V", above=0.0)
        require_number(self.series_ohm, "series_ohm", "Ω", least=0.0)
        if self.parallel_ohm is not None:
            require_number(self.parallel_ohm, "parallel_ohm", "Ω", above=0.0)
        require_number(self.leakage_a, "leakage_a", "A")
        require_number(self.leakage_limit_a, "leakage_limit_a", "A", least=0.0)
        for name in ("supply_pct", "series_pct", "parallel_pct"):
            checked_pct(getattr(self, name), name)
        if not isinstance(self.converter, Converter):
            raise InputError(f"converter must be a Converter(bits=…), not {self.converter!r}")
        if self.ambient_c is not None:
            object.__setattr__(self, "ambient_c", checked_pair(self.ambient_c, "ambient_c"))
        if self.parallel_pct and self.parallel_ohm is None:
            raise InputError("parallel_pct is a tolerance of parallel_ohm, which is not given")
        if self.series_pct and not self.series_ohm:
            raise InputError("series_pct is a tolerance of series_ohm, which is not given")

    # -- what a circuit must know of itself ------------------------------------------

    @abstractmethod
    def _own_quantities(self) -> Quantities:
        """Values of the parts that other circuits do not have."""

    @abstractmethod
    def _own_influences(self) -> tuple[Influence, ...]:
        """Deviations of those parts."""

    @abstractmethod
    def _voltage(self, n_ohm: Array, q: Quantities) -> Array:
        """Node voltage with a network of `n_ohm`, 0 to infinite."""

    @abstractmethod
    def _network(self, voltage_v: Array, q: Quantities) -> Array:
        """Resistance of the network at a node voltage; 0 or infinite beyond what it can give."""

    @abstractmethod
    def _slope(self, n_ohm: Array, q: Quantities) -> Array:
        """Change of the node voltage with the network's resistance, in V/Ω."""

    @abstractmethod
    def _across(self, voltage_v: Array, q: Quantities) -> Array:
        """Voltage across the network at a node voltage."""

    @abstractmethod
    def _line_held_at(self, line_v: float, q: Quantities) -> float:
        """Node voltage where the sensor's line is shorted to a voltage."""

    @property
    @abstractmethod
    def rises(self) -> bool:
        """Whether the voltage rises with the sensor's resistance."""

    @property
    def ratiometric(self) -> bool:
        """Whether the converter's reference is the supply."""
        return self.converter.reference_v is None

    # -- what follows -------------------------------------------------------------------

    @property
    def _nominal(self) -> Quantities:
        return {
            "supply_v": self.supply_v,
            "reference_v": self.converter.reference_v or self.supply_v,
            "series_ohm": self.series_ohm,
            "parallel_ohm": np.inf if self.parallel_ohm is None else self.parallel_ohm,
            "leakage_a": self.leakage_a,
            "gain": 1.0,
            "counts": 0.0,
            **self._own_quantities(),
        }

    @property
    def _influences(self) -> tuple[Influence, ...]:
        return (
            *self._own_influences(),
            *limits_pct("series resistor", "series_ohm", self.series_pct),
            *limits_pct("parallel resistor", "parallel_ohm", self.parallel_pct),
            *limits_pct("supply", "supply_v", self.supply_pct),
            *limits("leakage", "leakage_a", self.leakage_limit_a, "A"),
            *self.converter.influences,
        )

    def _drift(self, name: str, quantity: str, ppm_per_k: float) -> tuple[Influence, ...]:
        """Drift of a part over the span of the controller's temperature."""
        if not ppm_per_k:
            return ()
        low, high = self.ambient_c or (REFERENCE_T_C, REFERENCE_T_C)
        away_k = max(abs(end - REFERENCE_T_C) for end in (low, high))
        note = f"± {ppm_per_k:g} ppm/K from 25 °C over {low:g} to {high:g} °C"
        return limits_pct(name, quantity, ppm_per_k * 1e-4 * away_k, note)

    def _check_drift(self, name: str) -> None:
        """Refuse a temperature coefficient that is none, or that nothing drifts by."""
        ppm_per_k = require_number(getattr(self, name), name, "ppm/K", least=0.0)
        if ppm_per_k and self.ambient_c is None:
            raise InputError(
                f"{name} needs ambient_c=(low, high), the span of the controller's own temperature "
                "in °C, over which the part drifts"
            )
        for influence in self._drift(name, "", ppm_per_k):
            checked_pct(influence.high, f"the drift that {name} makes over ambient_c")

    def _deviated(self, q: Quantities, deviations: Mapping[str, Any]) -> Quantities:
        """Quantities off by deviations; the reference of a ratiometric circuit goes along."""
        q = dict(q)
        for name, off in deviations.items():
            q[name] = q[name] + off if name in ABSOLUTE else q[name] * (1.0 + off)
        if self.ratiometric:
            q["reference_v"] = q["supply_v"]
        return q

    def _node(self, r_ohm: Array, q: Quantities) -> Array:
        return self._voltage(to_network(r_ohm, q["series_ohm"], q["parallel_ohm"]), q)

    def _position(self, r_ohm: Array, q: Quantities) -> Array:
        ratio = self._node(r_ohm, q) / q["reference_v"]
        result: Array = ratio * (self.converter.steps * q["gain"]) + q["counts"]
        return result

    def _volts(self, position: Any, q: Quantities) -> Any:
        return position / self.converter.steps * q["reference_v"]

    def _sensor_at(self, position: npt.ArrayLike, q: Quantities) -> Array:
        """Resistance of the sensor at a count position; 0 or infinite beyond what it can give."""
        n_ohm = self._network(np.asarray(self._volts(np.asarray(position), q)), q)
        return from_network(n_ohm, q["series_ohm"], q["parallel_ohm"])

    def _kelvin_per_count(self, r_ohm: Array, alpha: Array, q: Quantities) -> Array:
        n_ohm = to_network(r_ohm, q["series_ohm"], q["parallel_ohm"])
        through_sensor = (1.0 + r_ohm / q["parallel_ohm"]) ** -2.0
        per_kelvin = self._slope(n_ohm, q) * through_sensor * r_ohm * alpha
        with np.errstate(divide="ignore"):  # nothing changes: infinitely coarse
            each = np.abs(q["reference_v"] / (self.converter.steps * per_kelvin))
        # Nor does anything change beyond an end of the scale, though the voltage does.
        return np.where(self._beyond(self._position(r_ohm, q)), np.inf, each)

    def _beyond(self, position: Array) -> Any:
        """Whether a count position has the first or the last code; never for a missing one."""
        return self.converter.saturated(self.converter.code(position))

    def _power(self, r_ohm: Array, q: Quantities) -> Array:
        n_ohm = to_network(r_ohm, q["series_ohm"], q["parallel_ohm"])
        across = self._across(self._voltage(n_ohm, q), q)
        inner = n_ohm - q["series_ohm"]
        with np.errstate(divide="ignore", invalid="ignore"):
            power = (across * inner / n_ohm) ** 2 / r_ohm
        return np.where((r_ohm == 0.0) | np.isposinf(r_ohm), 0.0, power)


def checked_pair(pair: Any, name: str) -> tuple[float, float]:
    """Take (low, high) in °C, low first; both may be the same."""
    try:
        low, high = pair
    except (TypeError, ValueError):
        raise InputError(f"{name} is a pair (low, high) in °C, not {pair!r}") from None
    low, high = (require_number(end, f"an end of {name}", "°C") for end in (low, high))
    if low > high:
        raise InputError(f"{name} runs from low to high, not from {low:g} to {high:g} °C")
    return low, high


def checked_pct(value: Any, name: str) -> float:
    """Take limits ± in percent, from 0 to below 100."""
    pct = require_number(value, name, "%", least=0.0)
    if pct >= 100.0:
        raise InputError(f"{name} must be below 100 %, not {pct:g} %")
    return pct
