"""How an NTC of which only R25 and a B value are known bends.

A constant-B line is wrong by more than a kelvin over a bench's range, and all NTC
ceramics bend the same way.  With u = 1/T − 1/298.15 K and u₂ the same at the second
temperature of the B value, ln R is taken as

    ln R = ln R25 + B·u·(1 + κ·(u − u₂)),

which leaves the B value as it is.  κ from the four R–T tables and the published
coefficients that ship with thermofit, at 0 to 70 °C: −36 to −59 K.  The standard
uncertainty is wider than that scatter, so that a part that follows the line itself is
not ruled out (2¼ standard uncertainties).
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.units import T0_K, ZERO_C_K

__all__ = ["BEND_K", "SHAPE_K", "U_BEND_K", "bend_shape"]

Array = npt.NDArray[np.float64]

BEND_K, U_BEND_K = -45.0, 20.0
"""κ and its standard uncertainty, in kelvin."""

SHAPE_K = 0.1
"""What is left of the shape beside κ, of each temperature by itself: standard uncertainty in K."""


def bend_shape(inv_t: Array, second_c: float) -> tuple[Array, Array]:
    """Give u·(u − u₂), and its derivative by u.

    Parameters
    ----------
    inv_t : array
        1/T, per kelvin.
    second_c : float
        Second temperature of the B value in °C; the first is 25 °C.

    Returns
    -------
    shape, slope : array
        Of the shape of `inv_t`.
    """
    u = inv_t - 1.0 / T0_K
    second = 1.0 / (second_c + ZERO_C_K) - 1.0 / T0_K
    return u * (u - second), np.asarray(2.0 * u - second)
