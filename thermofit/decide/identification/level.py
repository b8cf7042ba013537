"""R25 of a sensor of a given material, where R25 is free."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.decide.identification.hypothesis import Hypothesis

__all__ = ["cut_off", "levels"]

Array = npt.NDArray[np.float64]

_REACH, _STEPS = 40.0, 2001


def levels(hypothesis: Hypothesis, place: Array, covariance: Array) -> tuple[float, float]:
    """Give R25 and its standard uncertainty, if the sensor is of this material.

    B is known from its tolerance too: β is normal about what the readings say, cut
    off at the limits, and γ normal given β.

    Parameters
    ----------
    hypothesis : Hypothesis
        With R25 free.
    place : array, shape (2,)
    covariance : array, shape (2, 2)
        Of the readings alone.

    Returns
    -------
    r25_ohm, u_r25_ohm : float
    """
    beta = hypothesis.region.vertices[:, 1]
    mean, variance = cut_off(float(place[1]), float(np.sqrt(covariance[1, 1])), beta.min(),
                              beta.max())  # fmt: skip
    tie = covariance[0, 1] / covariance[1, 1]
    gamma = place[0] + tie * (mean - place[1])
    rest = max(covariance[0, 0] - tie * covariance[0, 1], 0.0)
    u_gamma = np.sqrt(rest + tie**2 * variance)
    r25_ohm = float(np.exp(hypothesis.ln_r25 + gamma))
    return r25_ohm, float(r25_ohm * u_gamma)


def cut_off(middle: float, u: float, low: float, high: float) -> tuple[float, float]:
    """Mean and variance of a normal distribution between limits, however far these are.

    Parameters
    ----------
    middle, u : float
        Of the distribution before it is cut off.
    low, high : float

    Returns
    -------
    mean, variance : float
    """
    peak = float(np.clip(middle, low, high))
    # Far beyond a limit what is left falls exponentially, by this scale.
    scale = min(u, u**2 / abs(peak - middle)) if peak != middle else u
    x = np.linspace(max(low, peak - _REACH * scale), min(high, peak + _REACH * scale), _STEPS)
    weight = np.exp(0.5 * ((peak - middle) ** 2 - (x - middle) ** 2) / u**2)
    weight[[0, -1]] *= 0.5  # the trapezoidal rule: a limit near the peak weighs much
    weight /= weight.sum()
    mean = float(weight @ x)
    return mean, float(weight @ (x - mean) ** 2)
