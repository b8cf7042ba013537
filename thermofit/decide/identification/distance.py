"""How far a sensor is from a family, in kelvin."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.decide.identification.hypothesis import Hypothesis

__all__ = ["distances_k"]

Array = npt.NDArray[np.float64]

_STEPS = 15


def distances_k(
    hypothesis: Hypothesis, place: Array, t_c: Array, shift: float = 0.0
) -> tuple[float, float]:
    """Give the largest distances from the nominal curve and from the tolerance.

    Between the lowest and the highest temperature measured; to first order,
    (γ + β·ln ρ)/α.

    Parameters
    ----------
    hypothesis : Hypothesis
    place : array, shape (2,)
        (γ, β) of the sensor.
    t_c : array, shape (n,)
        Temperatures measured, in °C.
    shift : float
        γ of the nominal curve that the sensor is held against: where R25 is free,
        that of the same R25.

    Returns
    -------
    off_k, outside_k : float
        The former with its sign: above zero where the nominal curve reads the
        sensor as too warm.
    """
    at = hypothesis.expected(np.linspace(t_c.min(), t_c.max(), _STEPS))
    deviation = place[0] + place[1] * at.a
    low, high = hypothesis.region.support(at.a)
    off = (deviation - shift) / at.alpha
    beyond = np.maximum(np.maximum(low - deviation, deviation - high), 0.0) / np.abs(at.alpha)
    return float(off[np.argmax(np.abs(off))]), float(beyond.max())
