"""The sensor fed with a constant current."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.circuit.base import Circuit
from thermofit.circuit.influence import Influence, limits_pct
from thermofit.circuit.node import Quantities, checked_pct
from thermofit.errors import InputError

__all__ = ["ConstantCurrent"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class ConstantCurrent(Circuit):
    """The sensor fed with a constant current, to ground.

    Parameters
    ----------
    current_a : float
        Current of the source, in amperes.
    supply_v : float
        What the source can drive the node to: an open sensor shows this voltage.
    converter : Converter
        Without a reference of its own it takes the supply, which the current knows nothing of.
    current_pct, current_ppm_per_k : float
        Limits ± of the current in percent, and of its temperature coefficient over `ambient_c`.
    series_ohm, parallel_ohm, leakage_a, leakage_limit_a, supply_pct, series_pct, parallel_pct, \
ambient_c
        See `Circuit`.

    Raises
    ------
    InputError
        A current or a voltage that is not positive, limits that make no sense, or leakage that
        takes all of the current.

    Notes
    -----
    V = (I − I_leakage)·N, and no more than the supply.

    Examples
    --------
    >>> from thermofit.circuit import ConstantCurrent, Converter
    >>> fed = ConstantCurrent(
    ...     current_a=100e-6, supply_v=5.0, converter=Converter(bits=12, reference_v=2.5)
    ... )
    >>> round(fed.voltage(10e3), 6), fed.voltage(float("inf"))
    (1.0, 5.0)
    """

    current_a: float
    current_pct: float = 0.0
    current_ppm_per_k: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        require_number(self.current_a, "current_a", "A", above=0.0)
        checked_pct(self.current_pct, "current_pct")
        self._check_drift("current_ppm_per_k")
        largest_a = abs(self.leakage_a) + self.leakage_limit_a
        if largest_a >= self.current_a:
            raise InputError(
                f"a leakage of {largest_a:.3g} A is as large as the current of "
                f"{self.current_a:.3g} A; leakage_a is in amperes, 1e-9 for 1 nA"
            )

    @property
    def rises(self) -> bool:
        """Whether the voltage rises with the sensor's resistance: it does."""
        return True

    def _own_quantities(self) -> Quantities:
        return {"current_a": self.current_a}

    def _own_influences(self) -> tuple[Influence, ...]:
        return (
            *limits_pct("current", "current_a", self.current_pct),
            *self._drift("current drift", "current_a", self.current_ppm_per_k),
        )

    def _voltage(self, n_ohm: Array, q: Quantities) -> Array:
        result: Array = np.minimum((q["current_a"] - q["leakage_a"]) * n_ohm, q["supply_v"])
        return result

    def _network(self, voltage_v: Array, q: Quantities) -> Array:
        n_ohm = np.maximum(voltage_v, 0.0) / (q["current_a"] - q["leakage_a"])
        result: Array = np.where(voltage_v >= q["supply_v"], np.inf, n_ohm)
        return result

    def _slope(self, n_ohm: Array, q: Quantities) -> Array:
        # Nothing changes any more where the source has no voltage left.
        driven = self._voltage(n_ohm, q) < q["supply_v"]
        result: Array = np.where(driven, q["current_a"] - q["leakage_a"], 0.0)
        return result

    def _across(self, voltage_v: Array, q: Quantities) -> Array:
        del q
        return voltage_v

    def _line_held_at(self, line_v: float, q: Quantities) -> float:
        lifted_v = line_v + (q["current_a"] - q["leakage_a"]) * q["series_ohm"]
        return float(min(lifted_v, q["supply_v"]))
