"""Pictures of a curve: resistance over temperature, and what readings differ from it by."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.estimate import Fit
from thermofit.interval import coverage_factor
from thermofit.points import Points
from thermofit.report.canvas import (
    BLACK,
    BLUE,
    DARK,
    SMALL,
    axes_for,
    dress,
    explain,
    plain,
    plain_numbers,
    require,
    two_digits,
    wrapped,
)
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["curve_picture", "residuals_picture"]

Array = npt.NDArray[np.float64]

_STEPS: Final = 201
# Labels of the band's half-width stand at ticks, and not where they would leave the axes.
_ROOM: Final = 0.12
_MOST_LABELS: Final = 6
# Residuals below this are rounding, and the axis goes to a millikelvin at least.
_ROUNDING_K: Final = 1e-8
_LEAST_K: Final = 1e-3


def curve_picture(
    fit_or_curve: Fit | Curve,
    *,
    points: Points | None = None,
    coverage: float = 0.95,
    ax: Axes | None = None,
) -> Axes:
    """Draw resistance over temperature, with readings and how well the curve is known.

    Parameters
    ----------
    fit_or_curve : Fit or Curve
    points : Points, optional
        Readings to draw; by default those of the fit.
    coverage : float
        Probability of the band and of the error bars.
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        The resistance on a logarithmic scale (platinum: on a linear one).  The band is shaded;
        as it is mostly thinner than the line, its half-width in kelvin stands beside it.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        Neither a Fit nor a Curve, or a coverage that is no probability.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report import curve_picture
    >>> p = tf.Points([0, 25, 70], [32640, 10020, 1741], u_t_k=0.1, u_r_ohm=[160, 50, 9])
    >>> curve_picture(tf.characterise(p)).get_ylabel()
    'resistance / kΩ'
    """
    curve, points = _curve_and_points(fit_or_curve, points)
    factor = coverage_factor(coverage)
    ax = axes_for(ax)
    t_c = np.linspace(curve.t_min_c, curve.t_max_c, _STEPS)
    r_ohm = curve.resistance(t_c)
    scale, unit = _unit(r_ohm)
    percent = f"{100.0 * coverage:g} %"
    band = curve.temperature_interval(r_ohm, coverage=coverage)
    known = bool(np.isfinite(band.standard_uncertainty).any())
    ax.plot(t_c, r_ohm / scale, color=BLUE, linewidth=1.6, label=_name(curve, known))
    if known:
        # The error is one of ln R, and so ends above zero however large it is.
        across = curve.resistance_interval(t_c, coverage=coverage)
        spread = np.exp(0.5 * (across.high - across.low) / r_ohm)
        ax.fill_between(
            t_c, r_ohm / scale / spread, r_ohm / scale * spread, color=BLUE, alpha=0.25,
            linewidth=0.0, label=f"{percent} band of the curve; ± its half-width",
        )  # fmt: skip
    if points is not None:
        _draw_points(ax, points, factor, percent, scale)
    dress(ax, "temperature / °C", f"resistance / {unit}", _title(curve))
    if not curve.equation.ptc:
        plain_numbers(ax)
    ax.margins(x=0.03, y=0.08)
    if known:
        rises = curve.equation.ptc
        edge = r_ohm / scale * (1.0 / spread if rises else spread)
        _label_half_widths(ax, t_c, 0.5 * (band.high - band.low), edge, rises)
    _state(ax, curve)
    explain(ax)
    return ax


def residuals_picture(
    fit: Fit | Curve,
    *,
    points: Points | None = None,
    coverage: float = 0.95,
    ax: Axes | None = None,
) -> Axes:
    """Draw what readings differ from the curve by, in kelvin.

    Parameters
    ----------
    fit : Fit or Curve
        A curve by itself needs `points`.
    points : Points, optional
        Readings to compare with the curve; by default those of the fit.
    coverage : float
        Probability of the band and of the error bars.
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        Measured less fitted temperature, with what the stated uncertainties of both axes come
        to as error bars, and the band of the curve about zero.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        Neither a Fit nor a Curve, no points, or none that the curve has a temperature for.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report import residuals_picture
    >>> p = tf.Points([0, 25, 70], [32640, 10020, 1741], u_t_k=0.1, u_r_ohm=[160, 50, 9])
    >>> residuals_picture(tf.characterise(p)).get_ylabel()
    'measured less fitted temperature / K'
    """
    curve, points = _curve_and_points(fit, points)
    if points is None:
        raise InputError("a curve by itself has no residuals; give the readings as points")
    factor = coverage_factor(coverage)
    ln_r = np.log(points.r_ohm)
    with np.errstate(all="ignore"):
        inv_t = curve._quiet_inv_t(ln_r)
    off_k = points.t_c - (1.0 / inv_t - ZERO_C_K)
    if not np.isfinite(off_k).any():
        raise InputError("the curve has no temperature for any of these readings")
    ax = axes_for(ax, 4.0)
    percent = f"{100.0 * coverage:g} %"
    t_c = np.linspace(curve.t_min_c, curve.t_max_c, _STEPS)
    band = curve.temperature_interval(curve.resistance(t_c), coverage=coverage)
    half_k = 0.5 * (band.high - band.low)
    if np.isfinite(half_k).any():
        ax.fill_between(
            t_c, -half_k, half_k, color=BLUE, alpha=0.18, linewidth=0.0,
            label=f"{percent} band of the curve",
        )  # fmt: skip
        for sign in (-1.0, 1.0):
            ax.plot(t_c, sign * half_k, color=BLUE, linewidth=0.9, linestyle="--")
    ax.axhline(0.0, color=BLUE, linewidth=1.2)
    u_k = _reading_u_k(curve, points, inv_t, ln_r)
    ax.errorbar(
        points.t_c, off_k, None if u_k is None else factor * u_k, fmt="o", color=BLACK,
        markersize=5, elinewidth=1.0, capsize=3,
        label="readings" if u_k is None else f"readings and their uncertainty ({percent})",
    )  # fmt: skip
    title = f"{_title(curve)}: {_in_words(off_k)}"
    dress(ax, "temperature / °C", "measured less fitted temperature / K", title)
    reach = max(np.abs(ax.get_ylim()).max(), _LEAST_K)
    ax.set_ylim(-reach, reach)
    ax.margins(x=0.03)
    explain(ax)
    return ax


def _curve_and_points(
    fit_or_curve: Any, points: Points | None, name: str = "the first argument"
) -> tuple[Curve, Points | None]:
    require(fit_or_curve, (Fit, Curve), name, "thermofit.fit and thermofit.characterise give fits")
    if points is not None:
        require(points, Points, "points", "thermofit.Points makes them")
    if isinstance(fit_or_curve, Fit):
        return fit_or_curve.curve, fit_or_curve.points if points is None else points
    return fit_or_curve, points


def _in_words(off_k: Array) -> str:
    rms, largest = np.sqrt(np.nanmean(off_k**2)), np.nanmax(np.abs(off_k))
    if largest < _ROUNDING_K:
        return "it meets the readings exactly"
    return f"residuals, rms {two_digits(rms)} K, largest {two_digits(largest)} K"


def _title(curve: Curve) -> str:
    return curve.id or "Curve of the sensor"


def _name(curve: Curve, known: bool) -> str:
    label = curve.equation.label
    return wrapped(label if known else f"{label}, uncertainty not known")


def _unit(r_ohm: Array) -> tuple[float, str]:
    """Unit of an axis, by the middle of the decades that it spans."""
    middle = np.sqrt(np.nanmin(r_ohm) * np.nanmax(r_ohm))
    return next((step for step in ((1e6, "MΩ"), (1e3, "kΩ")) if middle >= step[0]), (1.0, "Ω"))


def _draw_points(ax: Axes, points: Points, factor: float, percent: str, scale: float) -> None:
    t_bars = None if points.u_t_k is None else factor * points.u_t_k
    r_bars = None
    if points.u_r_ohm is not None:
        relative = factor * points.u_r_ohm / points.r_ohm
        r_bars = -points.r_ohm / scale * np.array([np.expm1(-relative), -np.expm1(relative)])
    bars = t_bars is not None or r_bars is not None
    ax.errorbar(
        points.t_c, points.r_ohm / scale, r_bars, t_bars, fmt="o", color=BLACK, markersize=5,
        markerfacecolor="white", markeredgewidth=1.2, elinewidth=1.0, capsize=3, zorder=3,
        label=f"readings and their uncertainty ({percent})" if bars else "readings",
    )  # fmt: skip


def _label_half_widths(ax: Axes, t_c: Array, half_k: Array, edge: Array, rises: bool) -> None:
    """Write the half-width of the band beside its edge, at ticks of the temperature."""
    low, high = ax.get_xlim()
    last_c = min(t_c[-1], high - _ROOM * (high - low))
    places = [float(t) for t in ax.get_xticks() if t_c[0] <= t <= last_c]
    places = places[:: max(-(-len(places) // _MOST_LABELS), 1)]
    edges = np.exp(np.interp(places, t_c, np.log(edge)))
    for t, r, half in zip(places, edges, np.interp(places, t_c, half_k), strict=True):
        ax.annotate(
            f"± {two_digits(half)} K", (t, float(r)), xytext=(7, -5 if rises else 5),
            textcoords="offset points", va="top" if rises else "bottom", fontsize=SMALL,
            color=DARK, bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 0.8},
        )  # fmt: skip


def _state(ax: Axes, curve: Curve) -> None:
    """Write R25 and B where the curve does not run."""
    lines = []
    if curve.in_range(25.0):
        lines.append(f"R25 = {format_ohm(curve.r25_ohm, 4)}")
        if curve.in_range(85.0) and not curve.equation.ptc:
            lines.append(f"B25/85 = {curve.b_25_85_k:.0f} K")
    if lines:
        x, where = (0.02, "left") if curve.equation.ptc else (0.98, "right")
        ax.text(
            x, 0.97, plain("\n".join(lines)), transform=ax.transAxes, ha=where, va="top",
            fontsize=10,
        )  # fmt: skip


def _reading_u_k(curve: Curve, points: Points, inv_t: Array, ln_r: Array) -> Array | None:
    """Standard uncertainty of a reading as the temperature that it is worth."""
    if points.u_t_k is None and points.u_r_ohm is None:
        return None
    u_t = np.zeros(len(points)) if points.u_t_k is None else points.u_t_k
    u_r = np.zeros(len(points)) if points.u_r_ohm is None else points.u_r_ohm
    alpha = np.abs(curve._local_b(inv_t, ln_r)) * inv_t**2
    result: Array = np.hypot(u_t, u_r / points.r_ohm / alpha)
    return result
