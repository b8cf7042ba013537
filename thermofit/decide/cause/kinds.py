"""The causes that are weighed against each other, and how probable they are beforehand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from numbers import Real
from types import MappingProxyType
from typing import Any, Final, Literal

import numpy as np

from thermofit.errors import InputError, UnknownNameError

__all__ = [
    "ELSE", "GOOD", "KINDS", "PRIORS", "TWO", "Kind", "Part", "SensorState", "kind_of", "priors_of",
]  # fmt: skip

Part = Literal["none", "sensor", "wiring", "controller", "both", "unknown"]
SensorState = Literal["good", "off", "other", "open", "shorted"]
WiringState = Literal["good", "contact", "leakage", "both", "broken", "shorted", "wet", "loose"]

GOOD: Final = "all good"
TWO: Final = "two at once"
ELSE: Final = "something else"


@dataclass(frozen=True)
class Kind:
    """A cause.

    Parameters
    ----------
    id : str
    part : {"none", "sensor", "wiring", "controller", "both", "unknown"}
        Where it lies; "both" where one of two lies in the sensor or the controller.
    sensor, wiring : str
        State of each.
    controller : bool
        Whether the controller's input is wrong.
    """

    id: str
    part: Part
    sensor: SensorState = "good"
    wiring: WiringState = "good"
    controller: bool = False

    @property
    def double(self) -> bool:
        """Whether it is two at once."""
        return " and " in self.id


KINDS: Final[tuple[Kind, ...]] = (
    Kind(GOOD, "none"),
    Kind("sensor out of tolerance", "sensor", "off"),
    Kind("bad contact", "wiring", wiring="contact"),
    Kind("intermittent contact", "wiring", wiring="loose"),
    Kind("leakage", "wiring", wiring="leakage"),
    Kind("sensor open", "sensor", "open"),
    Kind("sensor shorted", "sensor", "shorted"),
    Kind("wire broken", "wiring", wiring="broken"),
    Kind("cable shorted", "wiring", wiring="shorted"),
    Kind("wrong part fitted", "sensor", "other"),
    Kind("controller's input wrong", "controller", controller=True),
    Kind("bad contact and leakage", "wiring", wiring="both"),
    Kind("wire broken and leakage", "wiring", wiring="wet"),
    Kind("sensor out of tolerance and bad contact", "both", "off", "contact"),
    Kind("sensor out of tolerance and leakage", "both", "off", "leakage"),
    Kind("controller's input wrong and bad contact", "both", wiring="contact", controller=True),
    Kind("controller's input wrong and leakage", "both", wiring="leakage", controller=True),
    Kind("controller's input wrong and sensor out of tolerance", "both", "off", controller=True),
    Kind(ELSE, "unknown"),
)

PRIORS: Final[Mapping[str, float]] = MappingProxyType({
    GOOD: 0.25,
    "sensor out of tolerance": 0.15,
    "bad contact": 0.15,
    "intermittent contact": 0.06,
    "leakage": 0.08,
    "sensor open": 0.06,
    "sensor shorted": 0.02,
    "wire broken": 0.06,
    "cable shorted": 0.03,
    "wrong part fitted": 0.05,
    "controller's input wrong": 0.05,
    TWO: 0.03,
    ELSE: 0.01,
})  # fmt: skip
"""Of a sensor that somebody complained about.  A judgement, no source; scaled to 1."""


def kind_of(id: str) -> Kind:
    """Give the cause of this name."""
    return next(kind for kind in KINDS if kind.id == id)


def priors_of(given: Any, *, display: bool, others: bool) -> dict[str, float]:
    """Prior probabilities of the causes that can be weighed.

    Parameters
    ----------
    given : mapping of str to float, optional
        Weights instead of those of `PRIORS`; "two at once" is shared evenly by all pairs.
    display : bool
        Whether there is a reading of the display; without one the controller is not weighed.
    others : bool
        Whether there are other families that may have been fitted.

    Returns
    -------
    dict of str to float
        In the order of `KINDS`, those of weight 0 left out; the sum is 1.

    Raises
    ------
    UnknownNameError
        A name that is none of a cause.
    InputError
        A weight that is negative or no number, or nothing left to weigh.
    """
    if given is not None and not isinstance(given, Mapping):
        raise InputError(f"priors is a mapping of cause to weight, not {given!r}")
    weights = dict(PRIORS)
    for name, value in (given or {}).items():
        if name not in weights:
            raise UnknownNameError(
                f"priors names {name!r}, which is no cause; there are {', '.join(weights)}"
            )
        number = isinstance(value, Real) and not isinstance(value, bool)
        if not (number and 0.0 <= value < np.inf):
            raise InputError(f"the prior of {name!r} must be 0 or more, not {value!r}")
        weights[name] = float(value)
    kinds = [
        kind
        for kind in KINDS
        if (display or not kind.controller) and (others or kind.sensor != "other")
    ]
    pairs = sum(kind.double for kind in kinds)
    shares = {kind.id: weights[TWO] / pairs if kind.double else weights[kind.id] for kind in kinds}
    total = sum(shares.values())
    if not total > 0.0:
        raise InputError("all priors are 0, so that nothing is left to be weighed")
    if not np.isfinite(total):
        raise InputError("the priors are too large to be summed; they are scaled to 1 anyway")
    found = {name: share / total for name, share in shares.items()}
    return {name: share for name, share in found.items() if share > 0.0}
