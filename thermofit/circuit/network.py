"""The fixed resistors at the sensor, and a curve beyond its range without a word."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array, unwrap
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.units import ZERO_C_K

__all__ = ["checked_r_ohm", "from_network", "quiet_alpha", "quiet_t_c", "to_network"]

Array = npt.NDArray[np.float64]


def to_network(r_ohm: Array, series_ohm: Any, parallel_ohm: Any) -> Array:
    """Resistance of the sensor with its fixed resistors: (sensor ∥ parallel) + series.

    Parameters
    ----------
    r_ohm : array
        Of the sensor; 0 for a short, infinite for an open one.
    series_ohm, parallel_ohm : float or array
        Zero and infinite where there are none.

    Returns
    -------
    array
    """
    with np.errstate(divide="ignore"):
        result: Array = 1.0 / (1.0 / r_ohm + 1.0 / parallel_ohm) + series_ohm
    return result


def from_network(n_ohm: Array, series_ohm: Any, parallel_ohm: Any) -> Array:
    """Resistance of the sensor by itself.

    Returns
    -------
    array
        0 where the network has no more than `series_ohm`, infinite where it has all of
        `parallel_ohm` or more.
    """
    inner = np.maximum(n_ohm - series_ohm, 0.0)
    with np.errstate(divide="ignore"):
        siemens = np.maximum(1.0 / inner - 1.0 / parallel_ohm, 0.0)
        result: Array = 1.0 / siemens
    return result


def checked_r_ohm(r_ohm: Any, name: str = "r_ohm") -> tuple[Array, Any]:
    """Take resistances from 0 (a short) to infinite (open), and what dresses results alike."""
    array, dress = unwrap(r_ohm, name)
    if (array < 0.0).any():
        worst = float(array[array < 0.0].flat[0])
        raise InputError(
            f"{name} of {worst:g} Ω is negative; a sensor has 0 Ω (a short) to infinitely many "
            "(open), and NaN marks a missing one"
        )
    return array, dress


def quiet_t_c(curve: Curve, r_ohm: Array) -> Array:
    """Temperature at resistances, also beyond the valid range; NaN where the curve has none."""
    with np.errstate(divide="ignore"):
        ln_r = np.log(r_ohm)
    result: Array = 1.0 / curve._quiet_inv_t(ln_r) - ZERO_C_K
    return result


def quiet_alpha(curve: Curve, t_c: Any) -> Array:
    """Temperature coefficient of resistance, also beyond the valid range."""
    t = as_float_array(t_c, "t_c")
    inv_t = 1.0 / (t + ZERO_C_K)
    with np.errstate(all="ignore"):
        result: Array = -curve._local_b(inv_t, curve._quiet_ln_r(t)) * inv_t**2
    return result
