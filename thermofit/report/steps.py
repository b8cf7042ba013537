"""A picture of a step response: the log, what was fitted to it, and the time constant."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from thermofit.interval import format_pair
from thermofit.report.canvas import BLACK, BLUE, DARK, RED, axes_for, dress, explain, require
from thermofit.thermal import StepResponse
from thermofit.thermal.model import SHARE_63

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["step_picture"]

_STEPS: Final = 401


def step_picture(response: StepResponse, *, ax: Axes | None = None) -> Axes:
    """Draw the log of a step response with the curve that was fitted.

    Parameters
    ----------
    response : StepResponse
        From `thermofit.thermal.fit_step`.
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        Readings, those crossed out that the fit left out as wild; the fitted curve; and where
        63.2 % of the step is done, with the time constant and its interval.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        Something else than a StepResponse.

    Examples
    --------
    >>> from thermofit.report import step_picture
    >>> from thermofit.thermal import fit_step
    >>> t_s = np.arange(0.0, 200.0, 2.0)
    >>> noise_k = 0.02 * np.sin(7.0 * t_s**1.5)
    >>> t_c = 22.0 - 9.0 * np.expm1(-np.clip(t_s - 31.0, 0.0, None) / 18.0) + noise_k
    >>> step_picture(fit_step(t_s, t_c)).get_xlabel()
    'time / s'
    """
    require(response, StepResponse, "response", "thermofit.thermal.fit_step gives it")
    ax = axes_for(ax, 4.4)
    wild = response.outliers
    ax.plot(
        response.t_s[~wild], response.t_c[~wild], "o", color=BLACK, markersize=3.5,
        markerfacecolor="white", markeredgewidth=0.9, label="readings",
    )  # fmt: skip
    if wild.any():
        ax.plot(
            response.t_s[wild], response.t_c[wild], "x", color=RED, markersize=7,
            markeredgewidth=1.6, label="left out as wild",
        )  # fmt: skip
    onset_s = response.onset_s if response.start_seen else float(response.t_s[0])
    done_s = onset_s + response.tau_s
    t_s = np.linspace(response.t_s[0], max(response.t_s[-1], done_s), _STEPS)
    # The onset is a corner, and would be cut off between two steps.
    t_s = np.sort(np.append(t_s, onset_s))
    ax.plot(t_s, response.temperature(t_s), color=BLUE, linewidth=1.8, label="fitted")
    done_c = response.start_c + SHARE_63 * response.step_k
    _mark(ax, onset_s, done_s, done_c)
    if response.step_s is not None:
        ax.axvline(response.step_s, color=DARK, linewidth=1.2, linestyle=":",
                   label=f"surroundings changed, {response.step_s:.4g} s")  # fmt: skip
    dress(ax, "time / s", "temperature / °C", _title(response))
    ax.margins(x=0.02)
    explain(ax)
    return ax


def _mark(ax: Axes, onset_s: float, done_s: float, done_c: float) -> None:
    """Draw the time constant as a length, at the temperature where it is over."""
    ax.plot(
        [onset_s, done_s], [done_c, done_c], color=DARK, linewidth=1.2, marker="|", markersize=11,
        linestyle="--", label="τ: until 63.2 % of the step",
    )  # fmt: skip
    ax.plot([done_s], [done_c], "D", color=BLUE, markersize=6)
    ax.annotate(
        "τ", (0.5 * (onset_s + done_s), done_c), xytext=(0, 4), textcoords="offset points",
        ha="center", va="bottom", fontsize=11, color=DARK,
    )  # fmt: skip


def _title(response: StepResponse) -> str:
    tau = response.interval("tau_s")
    value, _, low, high = format_pair(tau.value, tau.standard_uncertainty, tau.low, tau.high)
    percent = f"{100.0 * response.coverage:g} %"
    return f"Thermal time constant τ = {value} s, {percent} between {low} and {high} s"
