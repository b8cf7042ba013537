"""The limits beyond which a controller takes its sensor for broken."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from thermofit.budget import require_number
from thermofit.circuit.base import Circuit
from thermofit.errors import InputError

__all__ = ["FaultLimits"]

_UNITS = {"counts": "counts", "v": "V", "ohm": "Ω"}


@dataclass(frozen=True, kw_only=True)
class FaultLimits:
    """Limits beyond which a controller takes its sensor for broken, as it states them.

    Parameters
    ----------
    low_counts, high_counts : float, optional
        A code below the one or above the other is a fault.
    low_v, high_v : float, optional
        The same of the voltage that the code stands for.
    low_ohm, high_ohm : float, optional
        The same of the sensor's resistance that it stands for.

    Raises
    ------
    InputError
        No limit at all, a negative one, or a low one that is not below the high one.

    Examples
    --------
    >>> from thermofit.circuit import Converter, Divider
    >>> divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    >>> FaultLimits(low_counts=20, high_counts=1000).caught(divider, [10, 512, 1023])
    array([ True, False,  True])
    """

    low_counts: float | None = None
    high_counts: float | None = None
    low_v: float | None = None
    high_v: float | None = None
    low_ohm: float | None = None
    high_ohm: float | None = None

    def __post_init__(self) -> None:
        if all(low is None and high is None for low, high, _ in self._pairs()):
            raise InputError(
                "fault limits need at least one: low_counts or high_counts, in volts or in ohms; "
                "where none are known, leave the limits out"
            )
        for low, high, unit in self._pairs():
            for value in (low, high):
                if value is not None:
                    require_number(value, "a fault limit", _UNITS[unit], least=0.0)
            if low is not None and high is not None and not low < high:
                raise InputError(
                    f"the fault limits run from {low:g} to {high:g} {_UNITS[unit]}, which is no "
                    "range; a reading between them is good"
                )

    def _pairs(self) -> list[tuple[float | None, float | None, str]]:
        return [(getattr(self, f"low_{u}"), getattr(self, f"high_{u}"), u) for u in _UNITS]

    def caught(self, circuit: Circuit, code: Any) -> Any:
        """Whether a controller with these limits takes a code for that of a broken sensor.

        Parameters
        ----------
        circuit : Circuit
        code : float or array, any shape

        Returns
        -------
        bool or array of bool

        Raises
        ------
        InputError
            A code that the converter does not have; a missing one is neither good nor bad.
        """
        code, _ = circuit._checked_code(code)
        if np.isnan(code).any():
            raise InputError("a code is missing (NaN), and neither within the limits nor beyond")
        middle = circuit.converter.middle(code)
        shown = {
            "counts": code,
            "v": circuit._volts(middle, circuit._nominal),
            "ohm": circuit._sensor_at(middle, circuit._nominal),
        }
        found = np.zeros(code.shape, dtype=bool)
        for low, high, unit in self._pairs():
            found |= False if low is None else shown[unit] < low
            found |= False if high is None else shown[unit] > high
        return found if found.ndim else bool(found)
