"""Many sensors in the plane, and what one and many have in common there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.decide import BatchTolerance
from thermofit.decide.requirement import Requirement, requirement_of
from thermofit.errors import InputError
from thermofit.report.canvas import BLACK, BLUE, DARK, GREY, RED, axes_for, dress, wrapped
from thermofit.report.outlines import ellipse, polygon
from thermofit.tolerance import Tolerance

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.axes import Axes

__all__ = [
    "ANY_CURVE",
    "MARKS",
    "batch_in",
    "covariance_of",
    "draw_region",
    "dress_plane",
    "in_percent",
    "sensors_in",
]

Array = npt.NDArray[np.float64]

MARKS: Final = {"accept": ("o", BLUE), "reject": ("X", RED), "cannot tell": ("^", BLACK)}
# What limits R25 and B in percent is the same region whatever the curve.
ANY_CURVE: Final = Curve.beta(r25_ohm=10e3, b_k=4000.0)
_MOST_ELLIPSES: Final = 100


def batch_in(batch: BatchTolerance, coverage: float, ax: Axes | None) -> Axes:
    """Draw the sensors of a batch, and what they show of its parts."""
    ax = axes_for(ax, 4.8)
    if batch.tolerance is not None:
        draw_region(
            ax, requirement_of(ANY_CURVE, tolerance=batch.tolerance),
            f"smallest classes: {batch.tolerance}",
        )  # fmt: skip
    box = np.array([
        (gamma, beta)
        for gamma, beta in zip(
            np.take(batch.gamma_interval, [0, 1, 1, 0, 0]),
            np.take(batch.beta_interval, [0, 0, 1, 1, 0]), strict=True,
        )
    ])  # fmt: skip
    ax.plot(
        *in_percent(box).T, color=DARK, linestyle="--", linewidth=1.2,
        label=wrapped(
            f"holds {100 * batch.coverage:g} % of the parts with a confidence of "
            f"{100 * batch.confidence:g} %"
        ),
    )  # fmt: skip
    places = np.stack([batch.gamma, batch.beta], axis=-1)
    _draw_sensors(ax, places, batch.covariance, "o", BLUE, f"{len(places)} sensors", coverage,
                  len(places))  # fmt: skip
    dress_plane(ax, f"What a batch shows{_ellipses(len(places), coverage)}")
    return ax


def sensors_in(
    frame: pd.DataFrame, family: Any, tolerance: Tolerance | None, coverage: float, ax: Axes | None
) -> Axes:
    """Draw what `thermofit.check` found of many sensors."""
    if family is None:
        raise InputError("a frame of many sensors needs the family that they were checked against")
    requirement = requirement_of(family, tolerance=tolerance)
    for name, mine in (("family", requirement.name), ("tolerance", str(requirement.tolerance))):
        checked = frame.attrs.get(name, mine)
        if checked != mine:
            raise InputError(
                f"these sensors were checked against the {name} {checked}, not {mine}; give the "
                "family, and the tolerance, that check was given"
            )
    located = frame[np.isfinite(frame["gamma"].to_numpy(float))]
    if not len(located):
        raise InputError("none of these sensors has a place: their readings do not determine it")
    ax = axes_for(ax, 4.8)
    draw_region(ax, requirement, f"conforms: {requirement.tolerance}")
    for verdict, (mark, colour) in MARKS.items():
        rows = located[located["verdict"] == verdict]
        if len(rows):
            u = (rows[name].to_numpy(float) for name in ("u_gamma", "u_beta", "correlation"))
            covariance = np.moveaxis(covariance_of(*u), (0, 1), (-2, -1))
            places = rows[["gamma", "beta"]].to_numpy(float)
            _draw_sensors(
                ax, places, covariance, mark, colour, f"{verdict}: {len(rows)}", coverage,
                len(located),
            )  # fmt: skip
    lost = len(frame) - len(located)
    note = f"; {lost} without a place" if lost else ""
    what = f"{len(frame)} sensors against {requirement.name}{note}"
    dress_plane(ax, what + _ellipses(len(located), coverage))
    return ax


def draw_region(ax: Axes, requirement: Requirement, label: str) -> None:
    """Draw what a tolerance allows."""
    outline = in_percent(polygon(requirement.region.vertices))
    if requirement.line is not None:
        ax.plot(*outline.T, color=GREY, linewidth=6.0, zorder=1.2, label=wrapped(label))
        return
    # The ground below the grid, so that numbers can be read off, and the edge above it.
    ax.fill(*outline.T, facecolor="#ececec", edgecolor=BLACK, zorder=0.3, label=wrapped(label))
    ax.plot(*outline.T, color=BLACK, linewidth=1.4, zorder=1.2)


def _draw_sensors(
    ax: Axes, places: Array, covariance: Array, mark: str, colour: str, label: str,
    coverage: float, of: int,
) -> None:  # fmt: skip
    from matplotlib.collections import LineCollection

    if of <= _MOST_ELLIPSES:
        outlines = [
            in_percent(ellipse(place, own, coverage))
            for place, own in zip(places, covariance, strict=True)
        ]
        ax.add_collection(LineCollection(outlines, colors=colour, linewidths=0.7, alpha=0.7))
    ax.plot(*in_percent(places).T, mark, color=colour, markersize=5, linewidth=0.0, label=label)


def _ellipses(sensors: int, coverage: float) -> str:
    return f", {100.0 * coverage:g} % ellipses" if sensors <= _MOST_ELLIPSES else ""


def covariance_of(u_gamma: Any, u_beta: Any, correlation: Any) -> Array:
    """Covariance of (γ, β), shape (2, 2, …)."""
    # There is no correlation with what is taken as exact.
    across = np.nan_to_num(correlation) * u_gamma * u_beta
    return np.array([[u_gamma**2, across], [across, u_beta**2]])


def in_percent(places: Array) -> Array:
    """(γ, β) as percent of R25 and of B, shape (n, 2)."""
    result: Array = 100.0 * np.stack([np.expm1(places[:, 0]), places[:, 1]], axis=-1)
    return result


def dress_plane(ax: Axes, title: str) -> None:
    """Label the axes of the plane."""
    dress(ax, "deviation of R25 / %", "deviation of B / %", title)
