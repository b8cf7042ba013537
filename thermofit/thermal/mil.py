"""The thermal time constant by the method of MIL-PRF-23648."""

from __future__ import annotations

from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.errors import FitError, InputError
from thermofit.interval import Interval, coverage_factor
from thermofit.thermal.log import StepLog

__all__ = ["mil_time_constant"]

Array = npt.NDArray[np.float64]

_FROM_C: Final = 75.0
_TO_C: Final = 43.4
_AMBIENT_C: Final = 25.0
# Own choice: 1 K of 50 K changes the time by up to 3 % at its end.
_AMBIENT_LIMIT_K: Final = 1.0


def mil_time_constant(
    t_s: StepLog | npt.ArrayLike,
    t_c: npt.ArrayLike | None = None,
    *,
    ambient_c: float,
    u_t_k: float = 0.0,
    coverage: float = 0.95,
) -> Interval:
    """Time in which a sensor cools from 75 °C to 43.4 °C in still air of 25 °C.

    Parameters
    ----------
    t_s : StepLog or array_like, shape (n,)
        A log of temperatures, or times in seconds, increasing.
    t_c : array_like, shape (n,), optional
        Temperatures in °C, from 75 °C or above down to below 43.4 °C.
    ambient_c : float
        Temperature of the still air, within 1 K of 25 °C.
    u_t_k : float
        Standard uncertainty of each temperature by itself, in kelvin.
    coverage : float
        Probability of the interval.

    Returns
    -------
    Interval
        In seconds; where noise makes the temperature pass a mark more than once, half the time
        between first and last passage counts as limits (rectangular).

    Raises
    ------
    FitError
        The log begins below 75 °C, ends above 43.4 °C, or has more than one cooling.
    InputError
        The air is not at 25 °C; what `StepLog` refuses.

    Notes
    -----
    75 °C − 0.632·50 K = 43.4 °C.  Between readings ln(t − ambient) is taken as straight, as
    it is on an exponential.

    References
    ----------
    MIL-PRF-23648, thermal time constant: from 75 °C in air of 25 °C, 63.2 % at 43.4 °C.  The
    tolerance of 1 K for the air is our own choice.

    Examples
    --------
    >>> t_s = np.arange(0.0, 60.0, 3.0)
    >>> print(mil_time_constant(t_s, 25.0 + 55.0 * np.exp(-t_s / 20.0), ambient_c=25.0, u_t_k=0.05))
    19.993 s, standard uncertainty 0.059, 95 % between 19.877 and 20.110
    (75 °C to 43.4 °C in air of 25 °C, MIL-PRF-23648)
    """
    log = t_s if isinstance(t_s, StepLog) else StepLog(t_s, t_c)
    if log is t_s and t_c is not None:
        raise InputError("a StepLog has its own readings; leave t_c out")
    if log.t_c is None:
        raise InputError("the method needs temperatures; this log has resistances")
    ambient = require_number(ambient_c, "the temperature of the air", "°C")
    u = require_number(u_t_k, "u_t_k", "K", least=0.0)
    if abs(ambient - _AMBIENT_C) > _AMBIENT_LIMIT_K:
        raise InputError(
            f"the method is for air of 25 °C ± {_AMBIENT_LIMIT_K:g} K, not {ambient:g} °C; for "
            "another step use fit_step"
        )
    if log.t_c[0] < _FROM_C:
        raise FitError(
            f"the log begins at {log.t_c[0]:g} °C, below 75 °C; heat the sensor to 75 °C or above "
            "and log from there"
        )
    if not (log.t_c < _TO_C).any():
        raise FitError(
            f"the log ends before the sensor has cooled to 43.4 °C: the lowest is "
            f"{log.t_c.min():g} °C"
        )
    cold = int(np.argmax(log.t_c < _TO_C))
    if (log.t_c[cold:] >= _FROM_C).any():
        raise FitError(
            "the sensor is warmed to 75 °C again after it has cooled; use one cooling of the log"
        )
    marks = [_passage(log.t_s, log.t_c, mark, ambient, u) for mark in (_FROM_C, _TO_C)]
    value = marks[1][0] - marks[0][0]
    u_s = float(np.hypot(marks[0][1], marks[1][1]))
    half = coverage_factor(coverage) * u_s
    return Interval(
        value, u_s, value - half, value + half, coverage, np.inf, "s",
        f"75 °C to 43.4 °C in air of {ambient:g} °C, MIL-PRF-23648",
    )  # fmt: skip


def _passage(t_s: Array, t_c: Array, mark: float, ambient: float, u: float) -> tuple[float, float]:
    """Time at which the temperature passes a mark, and its standard uncertainty."""
    above = t_c >= mark
    places = np.flatnonzero(above[:-1] != above[1:])
    times = []
    slope = 0.0
    for at in places:
        pair = t_c[at : at + 2] - ambient
        if (pair > 0.0).all():
            part = np.log(pair[0] / (mark - ambient)) / np.log(pair[0] / pair[1])
        else:  # readings far apart: the second is at the air's own temperature, or its noise
            part = (t_c[at] - mark) / (t_c[at] - t_c[at + 1])
        width = t_s[at + 1] - t_s[at]
        times.append(float(t_s[at] + part * width))
        slope = max(slope, abs(float(t_c[at + 1] - t_c[at])) / float(width))
    spread = 0.5 * (times[-1] - times[0])
    return 0.5 * (times[0] + times[-1]), float(np.hypot(u / slope, spread / 3.0**0.5))
