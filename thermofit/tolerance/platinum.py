"""Tolerance classes of platinum resistance thermometers, which are in kelvin."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError

__all__ = ["PLATINUM_CLASSES", "platinum_limits_k"]

PLATINUM_CLASSES = {
    "AA": (0.10, 0.0017),
    "A": (0.15, 0.0020),
    "B": (0.30, 0.0050),
    "C": (0.60, 0.0100),
}
"""IEC 60751: ± (first + second·|t|) K with t in °C.  The numbers are from memory."""


def platinum_limits_k(name: str, t_c: npt.ArrayLike) -> npt.NDArray[np.float64]:
    """Tolerance of a class of IEC 60751.

    Parameters
    ----------
    name : {"AA", "A", "B", "C"}
    t_c : array_like
        Temperature in °C.

    Returns
    -------
    array
        ± in kelvin, of the shape of `t_c`.

    Raises
    ------
    InputError
        No such class.

    Examples
    --------
    >>> platinum_limits_k("B", [0.0, 100.0])
    array([0.3, 0.8])
    """
    if name not in PLATINUM_CLASSES:
        raise InputError(f"IEC 60751 has the classes {', '.join(PLATINUM_CLASSES)}, not {name!r}")
    fixed, rate = PLATINUM_CLASSES[name]
    return np.asarray(fixed + rate * np.abs(np.asarray(t_c, dtype=np.float64)))
