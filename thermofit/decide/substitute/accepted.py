"""Which resistances a controller takes for a healthy sensor, and which for a broken one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.circuit import Circuit, FaultLimits
from thermofit.errors import InputError
from thermofit.units import format_ohm

__all__ = ["Accepted", "accepted_ohm"]

Array = npt.NDArray[np.float64]

# Enough to come down to neighbouring floats.
_BISECTIONS = 200
# Resistances this many times beyond a sensor's are a short, or an open line.
_FARTHEST = 1e15


@dataclass(frozen=True)
class Accepted:
    """Resistances between the sensor's terminals that a controller takes for a reading.

    The code is monotone in the resistance, so that all accepted ones lie between two.

    Parameters
    ----------
    low_ohm, high_ohm : float
        The lowest and the highest that is read: neither caught by the fault limits nor at the
        first or the last code, which stand for anything beyond.
    limit_low_ohm, limit_high_ohm : float
        The lowest and the highest that the fault limits, by themselves, let pass; 0 where even a
        short passes, infinite where an open line does.
    verified : bool
        Whether the fault limits are known.
    """

    low_ohm: float
    high_ohm: float
    limit_low_ohm: float
    limit_high_ohm: float
    verified: bool

    def reads(self, r_ohm: Array) -> npt.NDArray[np.bool_]:
        """Whether resistances are read."""
        return np.asarray((r_ohm >= self.low_ohm) & (r_ohm <= self.high_ohm))

    def caught(self, r_ohm: Array) -> npt.NDArray[np.bool_]:
        """Whether the fault limits catch resistances."""
        return np.asarray((r_ohm < self.limit_low_ohm) | (r_ohm > self.limit_high_ohm))


def accepted_ohm(
    circuit: Circuit | None, limits: FaultLimits | None, t_c: Array, healthy_ohm: Array
) -> Accepted:
    """Find the resistances that a controller accepts.

    Parameters
    ----------
    circuit : Circuit, optional
        Without it only limits in ohms can be used.
    limits : FaultLimits, optional
    t_c, healthy_ohm : array, shape (m,)
        Temperatures, and the resistances of the original there.

    Returns
    -------
    Accepted

    Raises
    ------
    InputError
        Limits in counts or volts without a circuit; limits or a converter that take the healthy
        original for broken.
    """
    caught = _caught(circuit, limits)

    def rejects(r_ohm: float) -> bool:
        if caught(r_ohm):
            return True
        if circuit is None:
            return False
        return bool(circuit.converter.saturated(circuit.counts(r_ohm)))

    for t, r in zip(t_c, healthy_ohm, strict=True):
        if rejects(float(r)):
            reason = (
                "the fault limits take it for broken"
                if caught(float(r))
                else "it drives the converter to the end of its scale"
            )
            raise InputError(
                f"at {t:g} °C the original has {format_ohm(float(r))}, and {reason}; check the "
                "circuit and the limits, or narrow t_range_c"
            )
    low, high = float(healthy_ohm.min()), float(healthy_ohm.max())
    return Accepted(
        *_ends(rejects, low, high), *_ends(caught, low, high), verified=limits is not None
    )


def _ends(rejects: Callable[[float], bool], low_ohm: float, high_ohm: float) -> tuple[float, float]:
    """Lowest and highest resistance that is not rejected."""
    return (
        _edge(rejects, low_ohm, low_ohm / _FARTHEST) if rejects(0.0) else 0.0,
        _edge(rejects, high_ohm, high_ohm * _FARTHEST) if rejects(np.inf) else np.inf,
    )


def _caught(circuit: Circuit | None, limits: FaultLimits | None) -> Callable[[float], bool]:
    if limits is None:
        return lambda r_ohm: False  # noqa: ARG005
    if circuit is not None:
        return lambda r_ohm: bool(limits.caught(circuit, circuit.counts(r_ohm)))
    if any(value is not None for low, high, unit in limits._pairs() if unit != "ohm"
           for value in (low, high)):  # fmt: skip
        raise InputError(
            "fault limits in counts or volts need circuit=, the circuit that makes them; without "
            "one give low_ohm and high_ohm"
        )
    low = -np.inf if limits.low_ohm is None else limits.low_ohm
    high = np.inf if limits.high_ohm is None else limits.high_ohm
    return lambda r_ohm: not low <= r_ohm <= high


def _edge(rejects: Callable[[float], bool], good: float, bad: float) -> float:
    """Find the last accepted resistance on the way to one that is not."""
    for _ in range(_BISECTIONS):
        far = not 0.5 < good / bad < 2.0
        middle = float(np.sqrt(good) * np.sqrt(bad)) if far else 0.5 * (good + bad)
        if middle in (good, bad):
            break
        if rejects(middle):
            bad = middle
        else:
            good = middle
    return good
