"""The call that fits a step response."""

from __future__ import annotations

import dataclasses
import warnings
from typing import Any, Final, Literal

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.budget import require_number
from thermofit.curve import Curve
from thermofit.errors import FitError, InputError, ThermofitWarning
from thermofit.family import Family, nominal_curve
from thermofit.interval import coverage_factor
from thermofit.thermal.choice import choose
from thermofit.thermal.log import StepLog
from thermofit.thermal.response import StepResponse
from thermofit.thermal.stepdoubts import doubts

__all__ = ["fit_step"]

Array = npt.NDArray[np.float64]

# One time constant with a free onset has four parameters; one reading more shows noise.
_FEWEST: Final = 5
# No contact thermistor works here; ohms and kelvins given as °C do.
_TOO_HOT_C: Final = 1000.0


def fit_step(
    t_s: StepLog | npt.ArrayLike,
    t_c: npt.ArrayLike | None = None,
    *,
    r_ohm: npt.ArrayLike | None = None,
    curve: Curve | Family | None = None,
    window_s: tuple[float, float] | None = None,
    step_s: float | None = None,
    constants: Literal["auto", 1, 2] = "auto",
    coverage: float = 0.95,
) -> StepResponse:
    """Fit the response of a sensor to a sudden change of its surroundings.

    Parameters
    ----------
    t_s : StepLog or array_like, shape (n,)
        A log from `read_log`, or times in seconds, increasing, evenly spaced or not.
    t_c : array_like, shape (n,), optional
        Temperatures in °C.
    r_ohm : array_like, shape (n,), optional
        Resistances in ohms, in place of temperatures; needs `curve`.
    curve : Curve or Family, optional
        Takes resistances to temperatures.
    window_s : (float, float), optional
        First and last time to use, where the log has more than one step.
    step_s : float, optional
        When the surroundings changed, on the clock of the log, for the dead time.
    constants : {"auto", 1, 2}
        How many time constants; "auto" takes what the readings carry.
    coverage : float
        Probability of the intervals that are shown.

    Returns
    -------
    StepResponse

    Raises
    ------
    InputError
        Times that run backwards or repeat, NaN, resistances without a curve …
    FitError
        Too few readings, a log that never moves, a step smaller than the noise.

    Warns
    -----
    ThermofitWarning
        What a careful metrologist would question, as in ``StepResponse.warnings``.
    ExtrapolationWarning
        Resistances outside the curve's valid range.

    Notes
    -----
    The thermal time constant is the time in which a sensor does 63.2 % of a step of the
    temperature around it (IEC 60539-1, from memory).  The onset is found from the readings.
    A second time constant is taken where it makes the fit better by more than noise does in
    five logs of a thousand (F-test), and where it is determined.  Wild readings are weighed
    down (Tukey's biweight); intervals are Student's t, on ln τ for times τ.  What is not in
    the noise, such as the sensor's calibration, is in no interval here.

    Examples
    --------
    An aspirated sensor that is moved from 22 °C to 31 °C; readings are invented.

    >>> t_s = np.arange(0.0, 200.0, 2.0)
    >>> noise_k = 0.02 * np.sin(7.0 * t_s**1.5)
    >>> t_c = 22.0 - 9.0 * np.expm1(-np.clip(t_s - 31.0, 0.0, None) / 18.0) + noise_k
    >>> response = fit_step(t_s, t_c, step_s=30.0)
    >>> print(response.interval("tau_s"))
    17.974 s, standard uncertainty 0.036, 95 % between 17.903 and 18.045
    (63.2 % of the step since the onset, from the fitted curve)
    >>> round(response.dead_time_s, 1)
    1.0
    """
    log = t_s if isinstance(t_s, StepLog) else StepLog(t_s, t_c, r_ohm)
    if log is t_s and (t_c is not None or r_ohm is not None):
        raise InputError("a StepLog has its own readings; leave t_c and r_ohm out")
    if constants not in ("auto", 1, 2) or isinstance(constants, bool):
        raise InputError(f"constants must be 'auto', 1 or 2, not {constants!r}")
    coverage_factor(coverage)
    if step_s is not None:
        step_s = require_number(step_s, "the time of the step (step_s)", "s")
    times, temperatures, notes = _readings(log, curve, window_s)
    _refuse_unusable(times, temperatures)
    chosen = choose(times, temperatures, constants)
    response = StepResponse(
        times, temperatures, chosen.fit, chosen.tried, step_s, coverage, log.source,
        (*log.notes, *notes),
    )  # fmt: skip
    found = doubts(response, chosen.misfit)
    for text in found:
        warnings.warn(text, ThermofitWarning, stacklevel=2)
    return dataclasses.replace(response, warnings=tuple(found))


def _readings(
    log: StepLog, curve: Curve | Family | None, window_s: tuple[float, float] | None
) -> tuple[Array, Array, list[str]]:
    notes = []
    named = None if curve is None else nominal_curve(curve, "curve")
    if log.r_ohm is not None and named is not None:
        temperatures = as_float_array(named.temperature(log.r_ohm), "temperatures")
        if not np.isfinite(temperatures).all():
            at = int(np.argmin(np.isfinite(temperatures)))
            raise InputError(
                f"the curve has no temperature for {log.r_ohm[at]:g} Ω, reading {at + 1}"
            )
        name = f" {named.id}" if named.id else ""
        notes.append(f"temperatures from the resistances by the curve{name}, taken as exact")
    elif log.t_c is not None and named is None:
        temperatures = log.t_c
    elif log.t_c is not None:
        raise InputError("the readings are temperatures; leave the curve out, or give r_ohm")
    else:
        raise InputError(
            "the readings are resistances, which do not follow an exponential: give the curve "
            "of the sensor or its family (curve=)"
        )
    times = log.t_s
    if window_s is not None:
        first, last = _checked_window(window_s)
        inside = (times >= first) & (times <= last)
        if not inside.any():
            raise InputError(
                f"no reading lies between {first:g} and {last:g} s (window_s); the log runs from "
                f"{times[0]:g} to {times[-1]:g} s"
            )
        times, temperatures = times[inside], temperatures[inside]
        notes.append(f"only readings from {first:g} to {last:g} s")
    return times, temperatures, notes


def _checked_window(window_s: Any) -> tuple[float, float]:
    try:
        first, last = window_s
    except (TypeError, ValueError):
        raise InputError(f"window_s is a pair (first, last) in s, not {window_s!r}") from None
    first = require_number(first, "the beginning of window_s", "s")
    last = require_number(last, "the end of window_s", "s")
    if first >= last:
        raise InputError(f"window_s runs from first to last, not from {first:g} to {last:g} s")
    return first, last


def _refuse_unusable(t_s: Array, t_c: Array) -> None:
    if len(t_s) < _FEWEST:
        raise FitError(
            f"{len(t_s)} readings are too few: a step response has three or four parameters, and "
            f"{_FEWEST} readings at least show how well they are known; some dozens are usual"
        )
    hottest = int(np.argmax(t_c))
    if t_c[hottest] > _TOO_HOT_C:
        raise InputError(
            f"reading {hottest + 1} is {t_c[hottest]:g} °C; if these are ohms, give them as r_ohm "
            "with a curve"
        )
    if np.ptp(t_c) == 0.0:
        raise FitError(
            f"the log never moves: all {len(t_c)} readings are {t_c[0]:g} °C; was the sensor "
            "moved, and was it this one that was logged?"
        )
