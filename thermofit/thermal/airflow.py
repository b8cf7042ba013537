"""Whether the fan of an aspirated sensor moves air over it, by comparison with a good record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final, Literal, NoReturn

import numpy as np

from thermofit.budget import require_number
from thermofit.errors import InputError
from thermofit.interval import Interval, format_pair
from thermofit.texttable import format_probability
from thermofit.thermal.dissipation import DissipationFactor
from thermofit.thermal.response import StepResponse

__all__ = ["AirFlow", "AirVerdict", "Known", "compare_air_flow"]

AirVerdict = Literal["moving", "not moving", "cannot tell"]
Quantity = Literal["time constant", "dissipation factor"]

Known = StepResponse | DissipationFactor | Interval | tuple[float, float]
"""What can be compared: a result of this room, or a value and its standard uncertainty."""

CAUTION: Final = "Isolate the power before you reach in: a fan that stands still may start."

_SURE: Final = 0.95
# Farther from both records than this many standard deviations, and it is neither.
_FAR: Final = 3.0


@dataclass(frozen=True)
class AirFlow:
    """Whether air moves over a sensor.

    Made by `compare_air_flow`.  It is one of three, and so has no truth value: compare
    `verdict`.

    Parameters
    ----------
    verdict : {"moving", "not moving", "cannot tell"}
    probability : float
        Probability that air moves, with both held for equally likely beforehand.
    reason : str
        The same in words.
    quantity : {"time constant", "dissipation factor"}
        What was compared.
    ratio : float
        How many times worse than in running air the sensor gives off heat: its time constant
        over the record's, or the record's dissipation factor over its own.
    u_ratio : float
        Standard uncertainty of `ratio`.
    stopped_ratio : float
        The same of stopped air: of its record, or the least that is taken for it.
    stopped_recorded : bool
        Whether there was a record of stopped air.
    notes : tuple of str
        What was taken for granted.
    """

    verdict: AirVerdict
    probability: float
    reason: str
    quantity: Quantity
    ratio: float
    u_ratio: float
    stopped_ratio: float
    stopped_recorded: bool
    notes: tuple[str, ...]

    def __bool__(self) -> NoReturn:
        raise TypeError(
            'air flow is one of three and neither true nor false; compare .verdict == "moving"'
        )

    def __str__(self) -> str:
        shown, u = format_pair(self.ratio, self.u_ratio)
        least = "" if self.stopped_recorded else "at least "
        return "\n".join(
            [
                f"{self.verdict}: {self.reason}",
                f"  {shown} times the record with the fan running, standard uncertainty {u};",
                f"  a stopped fan makes it {least}{self.stopped_ratio:.3g} times",
                *(f"  ({note})" for note in self.notes),
                *([] if self.verdict == "moving" else [f"  ! {CAUTION}"]),
            ]
        )


def compare_air_flow(
    measured: Known,
    reference_running: Known,
    reference_stopped: Known | None = None,
    *,
    quantity: Quantity | None = None,
    repeatability_pct: float | None = None,
    least_ratio: float | None = None,
) -> AirFlow:
    """Tell from the time constant or the dissipation factor whether air moves over a sensor.

    Parameters
    ----------
    measured : StepResponse, DissipationFactor, Interval or (float, float)
        What the sensor shows now; a pair is a value and its standard uncertainty.
    reference_running : same
        The known-good record of the same kind of sensor with its fan running.
    reference_stopped : same, optional
        The record with the fan stopped.
    quantity : {"time constant", "dissipation factor"}, optional
        What a pair or an Interval of unit 1 is; told by the other kinds themselves.
    repeatability_pct : float, optional
        Standard uncertainty in percent by which two tests of one good sensor differ beyond
        what each states: another unit, another step.  10 % unless stated, which is common
        practice without a source, and is noted.
    least_ratio : float, optional
        Without `reference_stopped`, how many times longer the time constant is at least when
        the fan stops (or the dissipation factor smaller).  2 unless stated, which is common
        practice without a source, and is noted.

    Returns
    -------
    AirFlow

    Raises
    ------
    InputError
        Values that are not positive, kinds that do not go together, a stopped record that
        gives off heat as well as the running one.

    Notes
    -----
    Logarithms are compared, each record normal about its value; slower than stopped counts as
    stopped, quicker than running as running, with a note where it is quicker by more than three
    standard deviations.  The verdict is "moving" or "not moving" at a probability of 95 %,
    unless the value lies more than three standard deviations from both records.

    Examples
    --------
    >>> print(compare_air_flow((41, 1.5), (12, 0.4), (38, 1.0), quantity="time constant"))
    not moving: the time constant is as with the fan stopped, probability above 99.9 %
      3.42 times the record with the fan running, standard uncertainty 0.38;
      a stopped fan makes it 3.17 times
      (repeatability of tests 10 %: common practice, no source)
      ! Isolate the power before you reach in: a fan that stands still may start.
    """
    given = {"measured": measured, "reference_running": reference_running}
    if reference_stopped is not None:
        given["reference_stopped"] = reference_stopped
    for name, value in given.items():
        if isinstance(value, DissipationFactor) and value.medium == "stirred water":
            raise InputError(f"{name} was found in stirred water, which a fan does not move")
    known = _quantity(given, quantity)
    notes = []
    if repeatability_pct is None:
        repeatability_pct = 10.0
        notes.append("repeatability of tests 10 %: common practice, no source")
    require_number(repeatability_pct, "the repeatability", "%", least=0.0)
    logs = {name: _log_of(value, name, known) for name, value in given.items()}
    (now, u_now), (running, u_reference) = logs["measured"], logs["reference_running"]
    spread = 0.01 * repeatability_pct
    x, u_running = now - running, float(np.sqrt(u_now**2 + u_reference**2 + spread**2))
    if reference_stopped is not None:
        if least_ratio is not None:
            raise InputError("leave least_ratio out where there is a record of stopped air")
        stopped, u_reference = logs["reference_stopped"]
        gap, u_stopped = stopped - running, float(np.sqrt(u_now**2 + u_reference**2 + spread**2))
        if gap <= 0.0:
            raise InputError(
                "the record of stopped air gives off heat as well as the running one: are the "
                "two exchanged?"
            )
    else:
        if least_ratio is None:
            least_ratio = 2.0
            notes.append("a stopped fan at least doubles it: common practice, no source")
        require_number(least_ratio, "least_ratio", "", above=1.0)
        # The bound is a multiple of the running record, whose error is in both.
        gap, u_stopped = float(np.log(least_ratio)), u_running
    if not (u_running > 0.0 and u_stopped > 0.0):
        raise InputError("nothing is uncertain here; state the uncertainties, or the repeatability")
    z_running, z_stopped = max(x, 0.0) / u_running, max(gap - x, 0.0) / u_stopped
    odds = np.log(u_stopped / u_running) + 0.5 * (z_stopped**2 - z_running**2)
    probability = float(1.0 / (1.0 + np.exp(-np.clip(odds, -700.0, 700.0))))
    if x < -_FAR * u_running:
        notes.append(
            f"it gives off heat far better than the record: is it the same kind of sensor, and was "
            f"the {known} found in the same way? Else the record says nothing of it"
        )
    verdict, reason = _decide(probability, min(z_running, z_stopped), known)
    ratio = float(np.exp(x))
    return AirFlow(
        verdict,
        probability,
        reason,
        known,
        ratio,
        ratio * u_running,
        float(np.exp(gap)),
        reference_stopped is not None,
        tuple(notes),
    )


def _decide(probability: float, nearest: float, quantity: Quantity) -> tuple[AirVerdict, str]:
    if nearest > _FAR:
        return "cannot tell", (
            f"the {quantity} lies between the records, more than {_FAR:g} standard deviations from "
            "both: is the fan slow or the inlet clogged, or is this another kind of sensor?"
        )
    if probability >= _SURE:
        return "moving", (
            f"the {quantity} is as with the fan running, probability "
            f"{format_probability(probability)}"
        )
    if probability <= 1.0 - _SURE:
        return "not moving", (
            f"the {quantity} is as with the fan stopped, probability "
            f"{format_probability(1.0 - probability)}"
        )
    return "cannot tell", (
        f"the {quantity} is not known well enough to tell the records apart, probability that "
        f"air moves {format_probability(probability)}"
    )


def _quantity(given: dict[str, Known], stated: Quantity | None) -> Quantity:
    found: set[Quantity] = set() if stated is None else {stated}
    for value in given.values():
        if isinstance(value, StepResponse):
            found.add("time constant")
        elif isinstance(value, DissipationFactor):
            found.add("dissipation factor")
        elif isinstance(value, Interval) and value.unit in ("s", "W/K"):
            found.add("time constant" if value.unit == "s" else "dissipation factor")
    if len(found) > 1:
        raise InputError("time constants and dissipation factors cannot be compared; give one kind")
    if not found or found - {"time constant", "dissipation factor"}:
        raise InputError(
            "say what the values are: quantity='time constant' or quantity='dissipation factor'"
        )
    return found.pop()


def _log_of(value: Known, name: str, quantity: Quantity) -> tuple[float, float]:
    """Logarithm of how badly a sensor gives off heat, and its standard uncertainty."""
    pair: Any = value
    if isinstance(value, StepResponse):
        pair = (value.tau_s, value.u_tau_s)
    elif isinstance(value, DissipationFactor):
        pair = (value.w_per_k, value.u_w_per_k)
    elif isinstance(value, Interval):
        pair = (value.value, value.standard_uncertainty)
    if not (isinstance(pair, tuple) and len(pair) == 2):
        raise InputError(
            f"{name} must be a StepResponse, a DissipationFactor, an Interval or a pair of value "
            f"and standard uncertainty, not {value!r}"
        )
    unit = "s" if quantity == "time constant" else "W/K"
    number = require_number(pair[0], f"the {quantity} of {name}", unit, above=0.0)
    u = require_number(pair[1], f"the uncertainty of {name}", unit, least=0.0)
    log = float(np.log(number))
    return (log if quantity == "time constant" else -log), u / number
