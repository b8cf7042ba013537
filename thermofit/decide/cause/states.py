"""The states of wiring and controller that belong to each cause, as cells."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.assumptions import Assumptions, Pair
from thermofit.decide.cause.cable import Wiring, steps
from thermofit.decide.cause.kinds import Kind

__all__ = ["wiring_of"]

Array = npt.NDArray[np.float64]

# Cells of a resistance by itself, and of each of two together.
_FINE, _COARSE = 256, 48
_GAINS = 10


def wiring_of(kind: Kind, assumed: Assumptions) -> Wiring:
    """Cells of a cause, the intermittent contact's apart from its episodes.

    Parameters
    ----------
    kind : Kind
    assumed : Assumptions

    Returns
    -------
    Wiring
    """
    none = np.zeros(1)
    contact, u_contact, leak, u_leak = none, 0.0, none, 0.0
    if kind.wiring == "contact":
        contact, u_contact = steps(*assumed.contact_ohm, _FINE)
    elif kind.wiring in ("leakage", "wet"):
        leak, u_leak = _leak(assumed.leakage_ohm, _FINE)
        contact = np.full(1, np.inf) if kind.wiring == "wet" else none
    elif kind.wiring == "both":
        contact, u_contact = steps(*assumed.contact_ohm, _COARSE)
        leak, u_leak = _leak(assumed.leakage_ohm, _COARSE)
    elif kind.wiring == "broken":
        contact = np.full(1, np.inf)
    elif kind.wiring == "shorted":
        leak = np.full(1, np.inf)
    gain, gain_weight, u_gain = np.zeros(1), np.ones(1), 0.0
    if kind.controller:
        nodes, u_gain = steps(*assumed.gain, _GAINS)
        gain = np.append(np.log(nodes), [np.inf, -np.inf])
        failed = assumed.input_failed
        gain_weight = np.append(np.full(_GAINS, (1.0 - 2.0 * failed) / _GAINS), [failed, failed])
    c, s, g = (x.ravel() for x in np.meshgrid(contact, leak, gain, indexing="ij"))
    weight = np.tile(gain_weight, contact.size * leak.size) / (contact.size * leak.size)
    return Wiring(c, s, g, weight, u_contact, u_leak, u_gain)


def _leak(span: Pair, count: int) -> tuple[Array, float]:
    nodes, u = steps(*span, count)
    return 1.0 / nodes, u
