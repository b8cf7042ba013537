"""The resistor that makes a thermistor nearly linear about a temperature."""

from __future__ import annotations

import numpy as np

from thermofit.budget import require_number
from thermofit.circuit.network import quiet_alpha
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve

__all__ = ["linearising_ohm"]

_STEP_K = 0.05


def linearising_ohm(part: Family | Curve, t_c: float) -> float:
    """Resistor across a thermistor that puts the inflection of the two at a temperature.

    Parameters
    ----------
    part : Family or Curve
    t_c : float
        In °C, where the resistance of both together is to change most evenly.

    Returns
    -------
    float
        In ohms.

    Raises
    ------
    InputError
        The curve does not bend that way there: no resistor straightens it.

    Warns
    -----
    ExtrapolationWarning
        The temperature is beyond the valid range of the curve.

    Notes
    -----
    With P across R, the second derivative of R·P/(R + P) vanishes where P = 2·R'²/R'' − R, that
    is P = R·(α² − α')/(α² + α') with α = R'/R.  Of a constant-B curve that is the handbooks'
    P = R·(B − 2T)/(B + 2T), T in kelvin.

    Examples
    --------
    >>> import thermofit as tf
    >>> round(linearising_ohm(tf.Curve.beta(r25_ohm=10e3, b_k=3977), 25.0))
    7392
    """
    curve = nominal_curve(part)
    t_c = require_number(t_c, "t_c", "°C")
    here = float(curve.alpha(t_c))
    before, after = quiet_alpha(curve, np.array([t_c - _STEP_K, t_c + _STEP_K]))
    bend = (after - before) / (2.0 * _STEP_K)
    ratio = (here**2 - bend) / (here**2 + bend)
    if not (np.isfinite(ratio) and ratio > 0.0):
        raise InputError(
            f"no resistor across {curve.id or 'this curve'} straightens it at {t_c:g} °C"
        )
    return float(np.exp(curve._quiet_ln_r(t_c)) * ratio)
