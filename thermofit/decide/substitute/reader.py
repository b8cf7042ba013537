"""The controller: it keeps the original's curve, and makes temperatures of resistances."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.circuit.network import quiet_t_c
from thermofit.curve import Curve
from thermofit.decide.substitute.ohms import Ohms
from thermofit.units import ZERO_C_K

__all__ = ["Errors", "Reader", "reading_errors"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Errors:
    """Reading less true temperature, in kelvin; arrays of shape (n, m).

    Parameters
    ----------
    nominal : array
        With everything at its nominal value: what the curves make.
    low, high : array
        Coldest and warmest, everything at the end of its tolerance.  Infinite where the reading
        is beyond all that the original's curve has; NaN where the substitute's has no value.
    square : array
        Mean square of parts that are spread evenly within their tolerance, to first order.
    """

    nominal: Array
    low: Array
    high: Array
    square: Array


@dataclass(frozen=True, eq=False)
class Reader:
    """A controller that takes its sensor for one with this curve.

    With a circuit whose values the controller knows, what is between the sensor's terminals is
    what it computes; the reading depends on that resistance alone.

    Parameters
    ----------
    curve : Curve
    falls : bool
        Whether its resistance falls with temperature.
    """

    curve: Curve
    falls: bool

    @classmethod
    def of(cls, curve: Curve) -> Reader:
        """Make one of a curve."""
        if curve.equation.ntc != curve.equation.ptc:
            return cls(curve, curve.equation.ntc)
        ends = curve._quiet_ln_r([curve.t_min_c, curve.t_max_c])
        return cls(curve, bool(ends[0] > ends[1]))

    def reads_c(self, r_ohm: Array) -> Array:
        """Temperature that is read, in °C; infinite beyond all that the curve has."""
        r_ohm = np.asarray(r_ohm, dtype=np.float64)
        t_c = quiet_t_c(self.curve, r_ohm)
        lost = np.isnan(t_c) & ~np.isnan(r_ohm)
        if lost.any():
            middle = np.exp(np.mean(self.curve._ln_r_limits))
            hot = (r_ohm < middle) == self.falls
            t_c = np.where(lost, np.where(hot, np.inf, -np.inf), t_c)
        return t_c

    def kelvin_per_ln_ohm(self, r_ohm: Array, t_c: Array) -> Array:
        """Slope of the reading; NaN where the reading is not finite."""
        finite = np.isfinite(t_c)
        t_k = np.where(finite, t_c, 25.0) + ZERO_C_K
        ln_r = np.log(np.where(finite, r_ohm, 1.0))
        with np.errstate(all="ignore"):
            slope = -(t_k**2) / self.curve._local_b(1.0 / t_k, ln_r)
        return np.where(finite, slope, np.nan)


def reading_errors(reader: Reader, ohms: Ohms, t_c: Array) -> Errors:
    """Errors of the reading with other resistances than the curve's.

    Parameters
    ----------
    reader : Reader
    ohms : Ohms, of shape (n, m)
    t_c : array, shape (m,)
        True temperature in °C.

    Returns
    -------
    Errors
    """
    reads = reader.reads_c(ohms.nominal)
    ends = [reader.reads_c(end) - t_c for end in (ohms.low, ohms.high)]
    slope = reader.kelvin_per_ln_ohm(ohms.nominal, reads)
    nominal = reads - t_c
    with np.errstate(invalid="ignore"):
        square = (nominal + slope * ohms.mean_ln) ** 2 + (slope * ohms.u_ln) ** 2
    low, high = ends[::-1] if reader.falls else ends
    return Errors(nominal, low, high, square)
