"""The circuit between a sensor and its controller, and what is measured where.

Contact resistance lies in series with the sensor; leakage lies across the cable, at the
controller's end, and so in parallel with both:

    R_connector = (R_s + R_contact) ∥ R_leak.

The order matters where both are there; with one of them alone it does not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

__all__ = ["Seen", "Wiring", "see", "steps"]

Array = npt.NDArray[np.float64]

# Of the spacing of nodes.  A row of normal distributions this wide is flat to 1e-3.
_CELL = 0.6


@dataclass(frozen=True, eq=False)
class Wiring:
    """N states of wiring and controller, each a small normal cell in ln R.

    Parameters
    ----------
    contact_ohm, leak_s : array, shape (N,)
        Middle of the cell: resistance in series, infinite for a broken wire, and conductance
        across the cable in siemens, infinite for a shorted one.
    u_contact, u_leak : float
        Standard deviation of the cell in ln R; 0 for none.
    gain : array, shape (N,)
        Ln of what the controller reads over what is there; ±∞ for an input that has failed.
    u_gain : float
        Standard deviation of `gain` in a cell.
    weight : array, shape (N,)
        Prior weight, summing to 1.
    """

    contact_ohm: Array
    leak_s: Array
    gain: Array
    weight: Array
    u_contact: float = 0.0
    u_leak: float = 0.0
    u_gain: float = 0.0


def steps(low: float, high: float, count: int) -> tuple[Array, float]:
    """Nodes of a quantity that is log-even between two limits, and the width of their cells.

    The limits are as soft as a cell is wide.
    """
    edges = np.linspace(np.log(low), np.log(high), count + 1)
    nodes: Array = np.exp(0.5 * (edges[1:] + edges[:-1]))
    return nodes, _CELL * float(edges[1] - edges[0])


@dataclass(frozen=True, eq=False)
class Seen:
    """What is measured, ln R, and its derivatives; arrays of shape (N, n).

    Parameters
    ----------
    ln_r : array
        −∞ for none at all, ∞ for open.
    by_sensor, by_contact, by_leak : array
        Derivatives with respect to ln R of each.
    """

    ln_r: Array
    by_sensor: Array
    by_contact: Array
    by_leak: Array


def see(places: npt.NDArray[np.str_], ln_r_sensor: Array, wiring: Wiring) -> Seen:
    """Say what is measured at places.

    Parameters
    ----------
    places : array of str, shape (n,)
    ln_r_sensor : array, shape (N, n)
        Of the sensor: ∞ where it is open, −∞ where it is shorted.
    wiring : Wiring
        Of N states.

    Returns
    -------
    Seen
    """
    own = np.exp(ln_r_sensor)
    own = np.where(places == "cable bridged", 0.0, np.where(places == "cable open", np.inf, own))
    # What lies in the cable does not matter at the sensor's own leads.
    cable = places != "sensor"
    contact = np.where(cable, wiring.contact_ohm[:, np.newaxis], 0.0)
    leak = np.where(cable, wiring.leak_s[:, np.newaxis], 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        line = own + contact
        siemens = 1.0 / line
        total = siemens + leak
        share = np.where(np.isinf(line), 0.0, np.where(line == 0.0, 1.0, siemens / total))
        by_sensor = share * np.where(np.isinf(line), 0.0, own / line)
        by_contact = share * np.where(np.isinf(line), 0.0, contact / line)
        by_leak = np.where(np.isinf(leak), 1.0, leak / total)
        ln_r = -np.log(total)
    ln_r = ln_r + np.where(places == "display", wiring.gain[:, np.newaxis], 0.0)
    return Seen(ln_r, *(np.nan_to_num(part) for part in (by_sensor, by_contact, by_leak)))
