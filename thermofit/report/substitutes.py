"""A picture of what substitutes do: error of the reading against temperature."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from thermofit.decide.substitute import ErrorCurve, Substitute, Substitutes
from thermofit.errors import InputError
from thermofit.report.canvas import (
    BLACK,
    GREY,
    LOOKS,
    axes_for,
    dress,
    explain,
    require,
    say_which_way,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["substitutes_picture"]

Array = npt.NDArray[np.float64]

# A line with this many times the error of the best would leave nothing to see of the best.
_FAR: Final = 10.0
_MARKS: Final = 8


def substitutes_picture(result: Substitutes, *, ax: Axes | None = None) -> Axes:
    """Draw the error of the reading with each substitute against the true temperature.

    Parameters
    ----------
    result : Substitutes
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        Lines are nominal values, shades reach from the coldest to the warmest reading that
        tolerances allow.  At most five substitutes are drawn, the best ones; those whose error is
        ten times that of the best, or more, are left out, and a line says so.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        Nothing that could be drawn.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report import substitutes_picture
    >>> found = tf.substitutes("ntc-10k-3977", (0, 60), candidates=["ntc-10k-3950"])
    >>> substitutes_picture(found).get_ylabel()
    'reading less true temperature / K'
    """
    require(result, Substitutes, "result", "thermofit.substitutes gives them")
    drawn = _chosen(result)
    ax = axes_for(ax, 5.2)
    if np.isfinite(result.own_worst_k):
        own = result.errors()
        ax.fill_between(
            own.t_c, own.low_k, own.high_k, facecolor="none", edgecolor=GREY, hatch="////",
            linewidth=0.8, label=wrapped(f"{result.original}, the original, by its tolerance"),
        )  # fmt: skip
    ax.axhline(0.0, color=BLACK, linewidth=0.8)
    for row, (colour, dashes, mark) in zip(drawn, LOOKS, strict=False):
        curve = result.errors(row)
        _shade(ax, curve, colour)
        ax.plot(
            curve.t_c, _finite(curve.nominal_k), color=colour, linestyle=dashes, linewidth=1.8,
            marker=mark, markersize=5, markevery=max(curve.t_c.size // _MARKS, 1),
            label=_label(row),
        )  # fmt: skip
    low_c, high_c = result.t_range_c
    ax.set_xlim(low_c, high_c)
    dress(
        ax, "true temperature / °C", "reading less true temperature / K",
        f"In place of {result.original}, whose curve the controller keeps",
    )  # fmt: skip
    say_which_way(ax)
    left = len(result.rows) - len(drawn)
    title = f"{left} more not drawn, with larger errors or unusable" if left else None
    explain(ax, title=title)
    return ax


def _chosen(result: Substitutes) -> list[Substitute]:
    """The rows that are worth a line."""
    rows = [row for row in result.rows if np.isfinite(row.worst_k)]
    usable = [row for row in rows if row.usable] or rows
    if not usable:
        raise InputError(
            f"nothing to draw: no substitute for {result.original} gives a reading over the range"
        )
    own_k = result.own_worst_k if np.isfinite(result.own_worst_k) else 0.0
    scale_k = max(usable[0].worst_k, own_k)
    near = [row for row in usable if row.worst_k <= _FAR * scale_k]
    return near[: len(LOOKS)]


def _shade(ax: Axes, curve: ErrorCurve, colour: str) -> None:
    if (curve.high_k - curve.low_k > 0.0).any():
        low, high = _finite(curve.low_k), _finite(curve.high_k)
        ax.fill_between(curve.t_c, low, high, color=colour, alpha=0.18, linewidth=0.0)


def _finite(values: Array) -> Array:
    return np.where(np.isfinite(values), values, np.nan)


def _label(row: Substitute) -> str:
    return "\n".join([wrapped(row.name), *([wrapped(row.resistors)] if row.resistors else [])])
