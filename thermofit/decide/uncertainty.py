"""Standard uncertainty of a reading, from those of the thermometer and the meter."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError
from thermofit.validation import checked_uncertainty

__all__ = ["finite_uncertainty", "meter_of", "reading_uncertainty"]

Array = npt.NDArray[np.float64]


def finite_uncertainty(u: Any, name: str, shape: tuple[int, ...]) -> Array:
    """Give standard uncertainties of that shape; refuse negative ones, NaN and infinity."""
    array = checked_uncertainty(u, name, shape)
    if not np.isfinite(array).all():
        raise InputError(
            f"{name} must be finite, not inf; where nothing is known of a reading, leave it out"
        )
    return array


def meter_of(
    u_r_pct: Any, u_r_ohm: Any, shape: tuple[int, ...]
) -> tuple[Array, Array, tuple[str, ...]]:
    """What the meter adds: a part of the reading, and ohms.

    Parameters
    ----------
    u_r_pct, u_r_ohm : array_like or None
        Standard uncertainty in percent of the resistance or in ohms; one of them.
    shape : tuple of int
        Of the readings.

    Returns
    -------
    relative, ohms : array of that shape
        One of them zero.
    notes : tuple of str

    Raises
    ------
    InputError
        Both given, or a negative one.
    """
    if u_r_pct is not None and u_r_ohm is not None:
        raise InputError("u_r_pct and u_r_ohm both state the meter's uncertainty; give one")
    zero = np.zeros(shape)
    if u_r_pct is not None:
        return finite_uncertainty(u_r_pct, "u_r_pct", shape) / 100.0, zero, ()
    if u_r_ohm is not None:
        return zero, finite_uncertainty(u_r_ohm, "u_r_ohm", shape), ()
    return zero, zero, ("the resistance is taken as exact: its uncertainty was not given",)


def reading_uncertainty(relative: Array, u_r_ohm: Array, r_ohm: Array, u_ln_t: Array) -> Array:
    """Standard uncertainty of ln R − ln R_nominal(T).

    Parameters
    ----------
    relative, u_r_ohm : array
        From `meter_of`.
    r_ohm : array
        Resistance that is read.
    u_ln_t : array
        Standard uncertainty of the temperature times the temperature coefficient.

    Returns
    -------
    array
    """
    u: Array = np.sqrt(relative**2 + (u_r_ohm / r_ohm) ** 2 + u_ln_t**2)
    if not (u > 0.0).all():
        raise InputError(
            "a reading without any uncertainty cannot be judged; state u_t_k above zero, or the "
            "meter's uncertainty"
        )
    return u
