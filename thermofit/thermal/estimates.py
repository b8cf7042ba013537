"""What a fitted step response tells: each quantity, and how it goes by the parameters."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.thermal.model import SHARE_63
from thermofit.thermal.robust import RobustFit

__all__ = ["Estimate", "estimates", "time_to"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Estimate:
    """A quantity, or its logarithm, and its gradient by the parameters of the fit.

    Parameters
    ----------
    value : float
        The quantity in `unit`, or ln of it.
    gradient : array, shape (k,)
    unit, note : str
        What an interval of it says.
    logarithmic : bool
        Whether `value` is ln of the quantity.
    """

    value: float
    gradient: Array
    unit: str
    note: str
    logarithmic: bool = False


def time_to(fit: RobustFit, share: float) -> Estimate:
    """Time in which a share of the step is done, on a logarithmic scale."""
    time, slope = fit.shape.time_to(fit.parameters, share)
    since = (
        "since the onset, from the fitted curve"
        if fit.shape.onset_free
        else "since the first reading, for the start was not seen"
    )
    text = f"{100.0 * share:.3g} % of the step {since}"
    return Estimate(float(np.log(time)), slope / time, "s", text, True)


def estimates(fit: RobustFit, step_s: float | None) -> dict[str, Estimate]:
    """All quantities that a fit has, by name.

    Parameters
    ----------
    fit : RobustFit
    step_s : float, optional
        When the surroundings changed, in s; without it there is no dead time.

    Returns
    -------
    dict
        ``tau_s``, ``tau_1_s``, ``tau_2_s``, ``start_c``, ``final_c``, ``step_k``, ``onset_s``
        and ``dead_time_s``, as far as the log shows them.
    """
    shape, start = fit.shape, int(fit.shape.onset_free)
    rows = np.eye(shape.size)
    found = {"tau_s": time_to(fit, SHARE_63)}
    logs, gradients = shape.constants(fit.parameters)
    if len(logs) > 1:
        for number, (log, gradient) in enumerate(zip(logs, gradients, strict=True), 1):
            found[f"tau_{number}_s"] = Estimate(
                float(log), gradient, "s", "one of two exponentials", True
            )
    noise_only = "noise only, not the sensor"
    found["start_c"] = Estimate(fit.start, rows[start], "°C", noise_only)
    found["final_c"] = Estimate(
        fit.start + fit.step, rows[start] + rows[start + 1], "°C", noise_only
    )
    found["step_k"] = Estimate(fit.step, rows[start + 1], "K", "final less start")
    if shape.onset_free:
        found["onset_s"] = Estimate(fit.onset_s, rows[0], "s", "when it begins to move")
        if step_s is not None:
            found["dead_time_s"] = Estimate(
                fit.onset_s - step_s, rows[0], "s", "onset less the known time of the step"
            )
    return found
