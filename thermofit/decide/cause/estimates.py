"""What the readings say of γ, β, contact and leakage under each cause."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.assumptions import Assumptions, Pair, drift_of
from thermofit.decide.cause.draws import Draws
from thermofit.decide.cause.weighing import Weighed
from thermofit.decide.identification.apart import spread_of
from thermofit.interval import Interval

__all__ = ["Estimates", "estimate", "likeliest"]

Array = npt.NDArray[np.float64]

_KNOWN = 0.5
_TOLD = "from the readings"
_OPEN = "not determined by the readings: what was assumed beforehand"
_TAILS = (0.025, 0.5, 0.975)


@dataclass(frozen=True, eq=False)
class Estimates:
    """Sizes under one cause; None for what the cause does not have.

    Parameters
    ----------
    gamma, beta : Interval or None
        Place of the sensor; where another part is fitted, of the most probable one.
    contact_ohm, leak_ohm : Interval or None
        In ohms.  Value: the median; standard uncertainty: standard deviation; 95 % with equal
        tails.
    undetermined : tuple of str
        Names of those on which the readings say little: less than half of what was open
        beforehand is closed.
    """

    gamma: Interval | None
    beta: Interval | None
    contact_ohm: Interval | None
    leak_ohm: Interval | None
    undetermined: tuple[str, ...]


def estimate(weighed: Weighed, draws: Draws | None, assumed: Assumptions) -> Estimates | None:
    """Summarise draws of a cause.

    Parameters
    ----------
    weighed : Weighed
    draws : Draws or None
    assumed : Assumptions

    Returns
    -------
    Estimates or None
        None without draws.
    """
    if draws is None:
        return None
    kind = weighed.kind
    found: dict[str, Interval | None] = dict.fromkeys(("gamma", "beta", "contact_ohm", "leak_ohm"))
    if kind.sensor not in ("open", "shorted"):
        # Places of different families are no one distribution.
        chosen, _ = likeliest(draws)
        region = weighed.blocks[chosen].hypothesis.region
        spread = np.sqrt(np.diag(spread_of(region)[1]))
        if kind.sensor == "off":
            spread = np.sqrt(drift_of(region).variance.mean(axis=0))
        for place, name in enumerate(("gamma", "beta")):
            values = draws.place[draws.block == chosen, place]
            known = bool(values.std() < _KNOWN * spread[place])
            found[name] = _interval(values, known, "")
    if kind.wiring in ("contact", "both"):
        found["contact_ohm"] = _sized(draws.contact_ohm, assumed.contact_ohm)
    if kind.wiring in ("leakage", "both", "wet"):
        found["leak_ohm"] = _sized(1.0 / draws.leak_s, assumed.leakage_ohm)
    open_ones = tuple(name for name, one in found.items() if one is not None and one.note == _OPEN)
    return Estimates(**found, undetermined=open_ones)


def likeliest(draws: Draws) -> tuple[int, float]:
    """Give the block, that is the family, that most draws have, and their share."""
    counts = np.bincount(draws.block)
    most = int(counts.argmax())
    return most, float(counts[most] / counts.sum())


def _sized(values: Array, span: Pair) -> Interval:
    even = np.diff(np.log(span))[0] / np.sqrt(12.0)
    return _interval(values, bool(np.log(values).std() < _KNOWN * even), "Ω")


def _interval(values: Array, known: bool, unit: str) -> Interval:
    low, middle, high = (float(x) for x in np.quantile(values, _TAILS))
    return Interval(
        middle, float(values.std()), low, high, 0.95, np.inf, unit, _TOLD if known else _OPEN
    )
