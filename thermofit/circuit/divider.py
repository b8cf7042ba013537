"""The sensor in a divider with a fixed resistor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.circuit.base import Circuit
from thermofit.circuit.influence import Influence, limits_pct
from thermofit.circuit.node import Quantities, checked_pct
from thermofit.errors import InputError

__all__ = ["Divider"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Divider(Circuit):
    """The sensor in a divider.

    With a pull-up the sensor lies between the node and ground, with a pull-down between the node
    and the supply.  The sensor's side has (sensor ∥ `parallel_ohm`) + `series_ohm`.

    Parameters
    ----------
    pullup_ohm, pulldown_ohm : float
        The fixed resistor in ohms; exactly one of the two.
    supply_v : float
        Supply voltage.
    converter : Converter
        Without a reference of its own it takes the supply: ratiometric.
    pull_pct : float
        Limits ± of the fixed resistor, in percent.
    pull_ppm_per_k : float
        Limits ± of its temperature coefficient; it drifts over `ambient_c`, from 25 °C.
    series_ohm, parallel_ohm, leakage_a, leakage_limit_a, supply_pct, series_pct, parallel_pct, \
ambient_c
        See `Circuit`.

    Raises
    ------
    InputError
        Both pull resistors or neither, a resistance or a voltage that is not positive, limits
        that make no sense, or leakage that alone would drive the node through the whole supply.

    Notes
    -----
    Kirchhoff's current law at the node, with E_p and E_n the far ends of the fixed resistor P and
    of the network N, and I the current into the pin: (E_p − V)/P + (E_n − V)/N = I.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.circuit import Converter, Divider
    >>> divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    >>> divider.voltage(10e3), divider.counts(10e3)
    (2.5, 512.0)
    >>> curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    >>> round(divider.temperature(curve, 512), 2), divider.temperature(curve, 1023)
    (24.96, nan)
    """

    pullup_ohm: float | None = None
    pulldown_ohm: float | None = None
    pull_pct: float = 0.0
    pull_ppm_per_k: float = 0.0

    def __post_init__(self) -> None:
        super().__post_init__()
        if (self.pullup_ohm is None) == (self.pulldown_ohm is None):
            raise InputError(
                "a divider has one fixed resistor: give pullup_ohm (sensor to ground) or "
                "pulldown_ohm (sensor to the supply), "
                f"{'one' if self.pullup_ohm is None else 'not both'}"
            )
        name = "pulldown_ohm" if self.pullup_ohm is None else "pullup_ohm"
        require_number(getattr(self, name), name, "Ω", above=0.0)
        checked_pct(self.pull_pct, "pull_pct")
        self._check_drift("pull_ppm_per_k")
        largest_a = abs(self.leakage_a) + self.leakage_limit_a
        if largest_a * self.pull_ohm >= self.supply_v:
            raise InputError(
                f"a leakage of {largest_a:.3g} A would drop {largest_a * self.pull_ohm:.3g} V "
                "across the fixed resistor, and drive the node beyond the supply of "
                f"{self.supply_v:g} V; "
                "leakage_a is in amperes, 1e-6 for 1 µA"
            )

    @property
    def pull_ohm(self) -> float:
        """The fixed resistor, pull-up or pull-down, in ohms."""
        value = self.pulldown_ohm if self.pullup_ohm is None else self.pullup_ohm
        assert value is not None
        return value

    def with_pull(self, pull_ohm: float) -> Divider:
        """Give a copy with another fixed resistor on the same side."""
        name = "pulldown_ohm" if self.pullup_ohm is None else "pullup_ohm"
        return self.replace(**{name: pull_ohm})

    @property
    def rises(self) -> bool:
        """Whether the voltage rises with the sensor's resistance: with a pull-up it does."""
        return self.pullup_ohm is not None

    def _own_quantities(self) -> Quantities:
        return {"pull_ohm": self.pull_ohm}

    def _own_influences(self) -> tuple[Influence, ...]:
        return (
            *limits_pct("pull resistor", "pull_ohm", self.pull_pct),
            *self._drift("pull resistor drift", "pull_ohm", self.pull_ppm_per_k),
        )

    def _ends(self, q: Quantities) -> tuple[Any, Any]:
        """Far ends of the fixed resistor and of the network."""
        return (q["supply_v"], 0.0) if self.rises else (0.0, q["supply_v"])

    def _voltage(self, n_ohm: Array, q: Quantities) -> Array:
        pull_end, own_end = self._ends(q)
        open_v = pull_end - q["leakage_a"] * q["pull_ohm"]
        # The share of the network in the divider, exact at a short and where it is open.
        with np.errstate(divide="ignore"):
            share = 1.0 / (1.0 + q["pull_ohm"] / n_ohm)
        result: Array = own_end + (open_v - own_end) * share
        return result

    def _network(self, voltage_v: Array, q: Quantities) -> Array:
        pull_end, own_end = self._ends(q)
        sign = 1.0 if self.rises else -1.0
        above_short = sign * (voltage_v - own_end)
        below_open = sign * (pull_end - q["leakage_a"] * q["pull_ohm"] - voltage_v)
        with np.errstate(divide="ignore", invalid="ignore"):
            n_ohm = above_short / below_open * q["pull_ohm"]
        result: Array = np.where(
            above_short <= 0.0, 0.0, np.where(below_open <= 0.0, np.inf, n_ohm)
        )
        return result

    def _slope(self, n_ohm: Array, q: Quantities) -> Array:
        pull_end, own_end = self._ends(q)
        swing = pull_end - q["leakage_a"] * q["pull_ohm"] - own_end
        result: Array = swing * q["pull_ohm"] / (n_ohm + q["pull_ohm"]) ** 2
        return result

    def _across(self, voltage_v: Array, q: Quantities) -> Array:
        result: Array = np.abs(voltage_v - self._ends(q)[1])
        return result

    def _line_held_at(self, line_v: float, q: Quantities) -> float:
        open_v = self._ends(q)[0] - q["leakage_a"] * q["pull_ohm"]
        share = q["series_ohm"] / (q["pull_ohm"] + q["series_ohm"])
        return float(line_v + (open_v - line_v) * share)
