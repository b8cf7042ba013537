"""Ratings of a substitute that do not fit: range, dissipation, time constant, voltage."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from thermofit.circuit import Circuit
from thermofit.decide.substitute.candidates import Candidate
from thermofit.decide.substitute.network import Network
from thermofit.family import RATINGS

__all__ = ["Misfit", "misfits", "not_stated"]

Array = npt.NDArray[np.float64]

_IN_WORDS = {
    "dissipation_factor_mw_per_k": ("dissipation factor", "mW/K"),
    "thermal_time_constant_s": ("thermal time constant", "s"),
    "max_power_mw": ("maximum power", "mW"),
    "max_voltage_v": ("maximum voltage", "V"),
}
# Where a smaller number than the original's is worse, and where a larger one is.
_WORSE_SMALLER = ("dissipation_factor_mw_per_k", "max_power_mw", "max_voltage_v")


class Misfit(NamedTuple):
    """What does not fit, in words, and whether the part cannot be used because of it."""

    words: str
    unusable: bool


def misfits(
    network: Network,
    original: Candidate,
    t_c: Array,
    circuit: Circuit | None,
    terminal_ohm: Array,
) -> tuple[Misfit, ...]:
    """Say which ratings do not fit.

    Parameters
    ----------
    network : Network
    original : Candidate
    t_c : array, shape (m,)
        Temperatures in °C.
    circuit : Circuit, optional
        With it, power and voltage are those that it leaves in the part.
    terminal_ohm : array, shape (m,)
        Resistance that the circuit sees.

    Returns
    -------
    tuple of Misfit
    """
    found: list[Misfit] = []
    ends = float(t_c.min()), float(t_c.max())
    for one in network.parts:
        curve = one.part.curve
        if not (curve.t_min_c - 1e-6 <= ends[0] and ends[1] <= curve.t_max_c + 1e-6):
            words = (
                f"{one.name} is valid from {curve.t_min_c:g} to {curve.t_max_c:g} °C only; beyond, "
                "its curve is extrapolated"
            )
            found.append(Misfit(words, True))
        if not one.ratings:
            continue
        found += [Misfit(words, False) for words in _against_original(one, original.ratings)]
        if circuit is not None:
            volts, watts = _load(circuit, network, t_c, terminal_ohm)
            over = _against_load(one.name, one.ratings, volts, watts)
            found += [Misfit(words, True) for words in over]
    return tuple(dict.fromkeys(found))


def not_stated(parts: Sequence[Candidate], original: Candidate) -> tuple[str, ...]:
    """Ratings that the parts or the original leave open, so that they cannot be compared."""
    return tuple(
        _IN_WORDS[name][0]
        for name in RATINGS
        if not all(name in one.ratings for one in (*parts, original))
    )


def _against_original(one: Candidate, own: Mapping[str, float]) -> list[str]:
    found = []
    for name, value in one.ratings.items():
        reference = own.get(name)
        if reference is None or value == reference:
            continue
        if (value < reference) == (name in _WORSE_SMALLER):
            words, unit = _IN_WORDS[name]
            consequence = ""
            if name == "dissipation_factor_mw_per_k":
                consequence = ": it heats itself more"
            if name == "thermal_time_constant_s":
                consequence = ": it follows more slowly"
            found.append(
                f"{one.name} has a {words} of {value:g} {unit}, the original {reference:g}"
                f"{consequence}"
            )
    return found


def _against_load(name: str, ratings: Mapping[str, float], volts: float, watts: float) -> list[str]:
    found = []
    if volts > ratings.get("max_voltage_v", np.inf):
        found.append(
            f"{name} would have {volts:.3g} V across it, more than the "
            f"{ratings['max_voltage_v']:g} V of its rating"
        )
    if 1e3 * watts > ratings.get("max_power_mw", np.inf):
        found.append(
            f"{name} would have to bear {1e3 * watts:.3g} mW, more than the "
            f"{ratings['max_power_mw']:g} mW of its rating"
        )
    return found


def _load(
    circuit: Circuit, network: Network, t_c: Array, terminal_ohm: Array
) -> tuple[float, float]:
    """Largest voltage across a part and power in it, over the range; of a pair, of both."""
    watts = np.asarray(circuit.sensor_power_w(terminal_ohm))
    volts = np.sqrt(watts * terminal_ohm)
    if network.trimmed:
        volts = volts * (1.0 - network.series_ohm / terminal_ohm)
        watts = volts**2 / network.bare(t_c).nominal[0]
    return float(volts.max()), float(watts.max())
