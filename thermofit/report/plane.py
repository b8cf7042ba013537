"""A picture of the plane: where sensors lie, and what their tolerance allows."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.decide import BatchTolerance, Verdict, check
from thermofit.decide.judge import SMALL_P
from thermofit.decide.requirement import Requirement, requirement_of
from thermofit.errors import InputError
from thermofit.estimate import Fit
from thermofit.family import Family, nominal_curve
from thermofit.interval import coverage_factor
from thermofit.report.canvas import BLUE, GREY, LOOKS, RED, axes_for, explain, wrapped
from thermofit.report.outlines import decision_outline, ellipse
from thermofit.report.planeparts import (
    ANY_CURVE,
    MARKS,
    batch_in,
    covariance_of,
    draw_region,
    dress_plane,
    in_percent,
    sensors_in,
)
from thermofit.texttable import format_probability
from thermofit.tolerance import BLimits, ResistanceLimits, Tolerance
from thermofit.tolerance.deviation import log_ratio

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = ["plane_picture"]

Array = npt.NDArray[np.float64]

_FOUND: Final = "a Verdict, a Fit, a BatchTolerance or the frame that check gives"
# Where the shape of the curve is taken as exact, nothing lies above or below.
_FLAT_PCT: Final = 1e-6
_COLUMNS: Final = ("gamma", "beta", "u_gamma", "u_beta", "correlation", "verdict")


def plane_picture(
    found: Verdict | Fit | BatchTolerance | pd.DataFrame,
    family: Family | Curve | None = None,
    *,
    tolerance: Tolerance | None = None,
    coverage: float = 0.95,
    ax: Axes | None = None,
) -> Axes:
    """Draw where sensors lie against what their tolerance allows.

    Across, what R25 is off by from the nominal part; upwards, what B is.  There a tolerance is a
    polygon and a measured sensor an ellipse.

    Parameters
    ----------
    found : Verdict, Fit, BatchTolerance or pandas.DataFrame
        What `thermofit.check` found of one sensor, or of many; what `batch_tolerance` did; or a
        fit, whose points are then checked against the family.
    family : Family or Curve, optional
        Part that it was checked against.  A verdict needs it only if its tolerance is not one of
        R25 and B in percent, or if its readings are at one temperature; a fit and a frame do.
    tolerance : Tolerance, optional
        For a fit or a frame, instead of the family's.
    coverage : float
        Probability of the ellipses.
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        One sensor under a guarded rule has two lines more: within the dotted one a sensor that
        is as well known would be accepted, beyond the broken one rejected.  A sensor that was
        read at one temperature is a strip.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        Something else, a verdict without a place, or a family that is missing or another one.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report import plane_picture
    >>> air = tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="air"), 2.0, 1.0)
    >>> p = tf.Points([0.0, 25.0, 60.0], [33980, 10015, 2459], u_t_k=0.05, u_r_ohm=[30, 10, 3])
    >>> ax = plane_picture(tf.check(p, air))
    >>> ax.get_xlabel(), ax.get_ylabel()
    ('deviation of R25 / %', 'deviation of B / %')
    """
    coverage_factor(coverage)
    if family is not None:
        nominal_curve(family, "family")
    if isinstance(found, Fit):
        if family is None:
            raise InputError("a fit lies somewhere in the plane of a family; give the family")
        found = check(found, family, tolerance=tolerance)
    elif tolerance is not None and isinstance(found, Verdict | BatchTolerance):
        raise InputError(f"a {type(found).__name__} has its own tolerance; leave tolerance out")
    if isinstance(found, Verdict):
        ax = _one(found, family, coverage, ax)
    elif isinstance(found, BatchTolerance):
        ax = batch_in(found, coverage, ax)
    elif all(name in getattr(found, "columns", ()) for name in _COLUMNS):
        ax = sensors_in(found, family, tolerance, coverage, ax)
    else:
        raise InputError(f"found must be {_FOUND}, not {type(found).__name__}")
    ax.axhline(0.0, color=GREY, linewidth=0.8, zorder=1)
    ax.axvline(0.0, color=GREY, linewidth=0.8, zorder=1)
    ax.margins(0.06)
    if np.ptp(ax.dataLim.intervaly) < _FLAT_PCT:
        ax.set_ylim(-1.0, 1.0)
    explain(ax)
    return ax


def _one(verdict: Verdict, family: Any, coverage: float, ax: Axes | None) -> Axes:
    requirement = _requirement(verdict, family)
    located = bool(np.isfinite(verdict.gamma))
    strip = None if located else _strip(verdict, family, requirement, coverage)
    ax = axes_for(ax, 4.8)
    draw_region(ax, requirement, f"conforms: {verdict.tolerance}")
    percent = f"{100.0 * coverage:g} %"
    if strip is not None:
        ax.fill(
            *in_percent(strip).T, facecolor="none", edgecolor=BLUE, hatch="////", linewidth=1.2,
            label=wrapped(f"where this sensor may lie ({percent}), read at one temperature"),
        )  # fmt: skip
    else:
        covariance = covariance_of(verdict.u_gamma, verdict.u_beta, verdict.correlation)
        _draw_decisions(ax, verdict, requirement, covariance)
        place = np.array([verdict.gamma, verdict.beta])
        ax.fill(
            *in_percent(ellipse(place, covariance, coverage)).T, facecolor="#0072B233",
            edgecolor=BLUE, linewidth=1.8, zorder=3,
        )  # fmt: skip
        ax.plot(
            *in_percent(place[np.newaxis]).T, color=BLUE, marker=MARKS[verdict.verdict][0],
            linewidth=1.8, markersize=6, zorder=4, label=f"this sensor and its {percent} ellipse",
        )  # fmt: skip
    told: str = verdict.verdict
    if np.isfinite(verdict.probability):
        told += f"; it conforms with probability {format_probability(verdict.probability)}"
    dress_plane(ax, f"Against {verdict.family}: {told}")
    return ax


def _requirement(verdict: Verdict, family: Family | Curve | None) -> Requirement:
    if family is not None:
        curve = nominal_curve(family, "family")
        requirement = requirement_of(curve, tolerance=verdict.tolerance)
        if requirement.name != verdict.family:
            raise InputError(
                f"this sensor was checked against {verdict.family}, not {requirement.name}"
            )
        return requirement
    for limits in verdict.tolerance.limits:
        of_r25 = isinstance(limits, ResistanceLimits) and limits.t_c == 25.0
        if not (of_r25 or isinstance(limits, BLimits)):
            raise InputError(
                f"what {limits} allows depends on the nominal curve; give the family that the "
                "sensor was checked against"
            )
    return requirement_of(ANY_CURVE, tolerance=verdict.tolerance)


def _strip(
    verdict: Verdict, family: Family | Curve | None, requirement: Requirement, coverage: float
) -> Array:
    """Where γ + β·ln ρ is what readings at one temperature say, across the region's height."""
    readings = verdict.readings
    usable = np.isfinite(readings.deviation_pct) & np.isfinite(readings.u_ohm)
    if np.unique(readings.t_c[usable]).size != 1:
        raise InputError(f"this sensor has no place in the plane: {verdict.reason}")
    if family is None:
        raise InputError(
            "readings at one temperature leave a strip of the plane, which depends on the nominal "
            "curve; give the family that the sensor was checked against"
        )
    slope = float(log_ratio(nominal_curve(family), readings.t_c[usable])[0])
    u = readings.u_ohm[usable] / readings.r_ohm[usable]
    weight = u**-2.0 / np.sum(u**-2.0)
    shift = float(weight @ np.log1p(readings.deviation_pct[usable] / 100.0))
    half = coverage_factor(coverage) / np.sqrt(np.sum(u**-2.0))
    beta = 1.5 * np.array([-1.0, 1.0]) * (np.abs(requirement.region.vertices[:, 1]).max() or 0.01)
    low, high = shift - half - slope * beta, shift + half - slope * beta
    return np.stack([np.append(low, high[::-1]), np.append(beta, beta[::-1])], axis=-1)


def _draw_decisions(
    ax: Axes, verdict: Verdict, requirement: Requirement, covariance: Array
) -> None:
    if verdict.rule.name != "guarded" or requirement.line is not None:
        return
    if verdict.p_value < SMALL_P:
        ax.plot([], [], " ", label=wrapped("its readings disagree, so its place does not decide"))
        return
    given = requirement, verdict.rule, verdict.prior, covariance
    accept, reject = decision_outline(*given, "accept"), decision_outline(*given, "reject")
    colour, dashes = LOOKS[2][0], (0, (1, 1.5))
    if accept is None:
        ax.plot([], [], " ", label=wrapped("known as well as this, no sensor would be accepted"))
    else:
        ax.plot(*in_percent(accept).T, color=colour, linestyle=dashes, linewidth=1.8,
                label="accepted with its centre within")  # fmt: skip
    if reject is not None:
        ax.plot(*in_percent(reject).T, color=RED, linestyle="--", linewidth=1.4,
                label="rejected with its centre beyond")  # fmt: skip
