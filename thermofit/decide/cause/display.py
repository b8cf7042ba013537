"""What a controller shows, taken back to a resistance."""

from __future__ import annotations

import math

from thermofit.budget import require_number
from thermofit.circuit import Circuit, seen
from thermofit.curve import Curve
from thermofit.decide.cause.spot import SpotReading
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve

__all__ = ["display_reading"]


def display_reading(
    shown_c: float,
    assumed: Curve | Family,
    *,
    t_c: float,
    u_t_k: float,
    circuit: Circuit | None = None,
    display_step_k: float = 0.1,
) -> SpotReading:
    """Take a controller's display back to the resistance that it stands for.

    Parameters
    ----------
    shown_c : float
        What it shows, in °C.
    assumed : Curve or Family
        The curve that the controller assumes.
    t_c, u_t_k : float
        True temperature of the sensor in °C, and its standard uncertainty in kelvin.
    circuit : Circuit, optional
        With it, the step of the converter counts as well (`thermofit.circuit.seen`).
    display_step_k : float
        Last digit of the display in kelvin.

    Returns
    -------
    SpotReading
        At "display".  The interval that the display stands for counts as rectangular.

    Raises
    ------
    InputError
        The curve has no resistance there, or the display stands for an end of the converter's
        scale: enter that as r_ohm=0 or math.inf.

    Examples
    --------
    >>> import thermofit as tf
    >>> curve = tf.family("ntc-10k-3977").curve
    >>> reading = display_reading(18.3, curve, t_c=20.0, u_t_k=0.2)
    >>> print(reading, round(reading.u_r_ohm))
    display, 20 °C: 13.488 kΩ 18
    """
    shown_c = require_number(shown_c, "shown_c", "°C")
    require_number(display_step_k, "display_step_k", "K", above=0.0)
    curve = nominal_curve(assumed)
    if circuit is not None:
        ends = seen(circuit, curve, shown_c, display_step_k=display_step_k)
        low, high = ends.low_ohm, ends.high_ohm
    else:
        half = 0.5 * display_step_k
        pair = curve.resistance(shown_c - half), curve.resistance(shown_c + half)
        low, high = min(pair), max(pair)
    if not (0.0 < low < high < math.inf):
        raise InputError(
            f"a display of {shown_c:g} °C stands for no resistance between two others, but for an "
            "end of the scale or none: enter SpotReading('display', …, r_ohm=math.inf, "
            "limit_ohm=…) for a sensor that the controller takes for open, r_ohm=0 for a shorted "
            "one"
        )
    return SpotReading("display", t_c, math.sqrt(low * high), u_t_k, (high - low) / math.sqrt(12.0))
