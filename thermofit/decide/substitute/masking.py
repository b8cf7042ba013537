"""Does fault detection stay alive: open and short of a network, as the controller takes them."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.decide.substitute.accepted import Accepted
from thermofit.decide.substitute.network import Network
from thermofit.decide.substitute.ohms import ohms_of
from thermofit.decide.substitute.reader import Reader, reading_errors
from thermofit.decide.substitute.wording import fault_words, half_fault_words

__all__ = ["catches", "masked_faults"]

Array = npt.NDArray[np.float64]


def catches(accepted: Accepted, network: Network) -> tuple[bool | None, bool | None]:
    """Whether the fault limits catch an open and a shorted network; None where not known."""
    if not accepted.verified:
        return None, None
    return (
        bool(accepted.caught(np.array(network.open_ohm)).all()),
        bool(accepted.caught(np.array(network.short_ohm)).all()),
    )


def masked_faults(
    accepted: Accepted, reader: Reader, network: Network, t_c: Array
) -> tuple[str, ...]:
    """Faults that a resistor, or the other one of two parts, makes the fault limits miss, in words.

    Parameters
    ----------
    accepted : Accepted
    reader : Reader
    network : Network
    t_c : array, shape (m,)
        Temperatures in °C, at which one of two parts is left.

    Returns
    -------
    tuple of str
        Where the fault limits are not known, those that they may miss.
    """
    known, words = accepted.verified, []
    ends_c = float(t_c.min()), float(t_c.max())
    for kind, changed, ends_ohm in (
        ("open", np.isfinite(network.parallel_ohm), network.open_ohm),
        ("short", network.series_ohm > 0.0, network.short_ohm),
    ):
        r_ohm = np.array(ends_ohm)
        if changed and not accepted.caught(r_ohm).all():
            reads_c = float(reader.reads_c(r_ohm.mean()))
            words.append(fault_words(kind, reads_c, ends_c, known=known))
    if network.joined is not None:
        left = ohms_of([one.part for one in network.parts], t_c)
        if not all(accepted.caught(end).all() for end in (left.nominal, left.low, left.high)):
            errors = reading_errors(reader, left, t_c)
            kind = "open" if network.joined == "parallel" else "shorted"
            least_k, most_k = float(errors.low.min()), float(errors.high.max())
            words.append(half_fault_words(kind, least_k, most_k, known=known))
    return tuple(words)
