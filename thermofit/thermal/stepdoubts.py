"""What a careful metrologist would question about a step response."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from thermofit.thermal.response import StepResponse

__all__ = ["doubts"]

# Three time constants: what is left of the step is less than most noise.
_SETTLED: Final = 0.95
_FEW: Final = 6
_VAGUE: Final = 0.2
_VAGUE_QUICK: Final = 0.5
_GAP: Final = 4.0


def doubts(response: StepResponse, misfit: bool) -> list[str]:
    """List the doubts about a step response, in words.

    Parameters
    ----------
    response : StepResponse
    misfit : bool
        Whether the readings deviate from the form, and a larger one was not determined.

    Returns
    -------
    list of str
    """
    tau, onset = response.tau_s, response.fit.onset_s
    t, good = response.t_s, ~response.outliers
    found = []
    if not response.start_seen:
        text = (
            "the start of the step was not seen: the start temperature is that at the first "
            "reading, and a dead time cannot be told; log some readings before the step"
        )
        if response.form != "one constant":
            text += (
                "; the time to 63.2 % counts from there and is not the sensor's thermal time "
                "constant"
            )
        found.append(text)
    rise = (t > onset) & (t <= onset + 3.0 * tau) & good
    if rise.sum() < _FEW:
        found.append(
            f"only {int(rise.sum())} readings lie within three time constants of the onset: "
            f"log faster, at intervals of {_round(tau / 5.0)} s or less"
        )
    interval = float(np.median(np.diff(t)))
    if interval > tau:
        found.append(
            f"the readings come every {_round(interval)} s, slower than the time constant: how "
            "the temperature moves between them was not seen"
        )
    if response.done < _SETTLED:
        found.append(
            f"the log ends before the temperature settles, with {100.0 * response.done:.0f} % of "
            f"the step done after {_round(float(t[-1]) - onset)} s: the final temperature is "
            "extrapolated, and with it the time constant; log three time constants or more, "
            f"{_round(3.0 * tau)} s"
        )
    relative = response.u_tau_s / tau
    if not relative < _VAGUE:
        known = f"to {100.0 * relative:.0f} % only" if np.isfinite(relative) else "not at all"
        found.append(f"the readings determine the time constant {known} (standard uncertainty)")
    if len(response.time_constants_s) > 1:
        quick = response.interval("tau_2_s")
        relative = quick.standard_uncertainty / quick.value
        if not relative < _VAGUE_QUICK:
            found.append(
                f"the quicker constant is known to {100.0 * relative:.0f} % only (standard "
                "uncertainty); it trades against the onset, and the time to 63.2 % hardly minds"
            )
    if response._swelling > 1.0:
        found.append(
            f"the noise is correlated, neighbours by {response.neighbour_correlation:+.2f}: the "
            f"uncertainties are widened by a factor {np.sqrt(response._swelling):.1f}; either the "
            "logger smooths, or the surroundings wander, or the form does not fit"
        )
    if misfit:
        found.append(
            "the readings deviate from one exponential more than their noise, and do not "
            "determine a second time constant: did the surroundings change at once and then stay?"
        )
    wild = float(np.mean(response.outliers))
    if wild > 0.1:
        found.append(f"{100.0 * wild:.0f} % of the readings were left out as wild")
    gaps = np.diff(t[(t >= onset - interval) & (t <= onset + 2.0 * tau)])
    if gaps.size and gaps.max() > max(_GAP * interval, 0.5 * tau):
        found.append(f"there is a gap of {_round(float(gaps.max()))} s within the step")
    return found


def _round(seconds: float) -> str:
    return f"{seconds:.2g}" if seconds < 100.0 else f"{seconds:.0f}"
