"""A picture of a plan: how well the curve will be known, by which baths are used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from thermofit.decide.planning.outcome import Plan
from thermofit.report.canvas import (
    LOOKS,
    axes_for,
    dress,
    explain,
    plain_numbers,
    require,
    two_digits,
    wrapped,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["plan_picture"]

# White inside, so that what lies below is seen.
_BATH: Final[dict[str, Any]] = {"markersize": 7, "markerfacecolor": "white", "markeredgewidth": 1.6}


def plan_picture(plan: Plan, *, ax: Axes | None = None) -> Axes:
    """Draw the band that each best choice of baths is expected to leave.

    Parameters
    ----------
    plan : Plan
        From `thermofit.plan`.
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        For each number of points the half-width of the band over the range that matters, on a
        logarithmic scale, with a mark at each bath within it; five numbers at most.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        Something else than a Plan.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report import plan_picture
    >>> p = tf.plan([(0.0, 0.05), (60.0, 0.3), (99.0, 0.1)], u_r_pct=0.5)
    >>> plan_picture(p).get_ylabel()
    'half-width of the band / K'
    """
    require(plan, Plan, "plan", "thermofit.plan gives it")
    ax = axes_for(ax, 4.8)
    for count, (colour, dashes, mark) in zip(plan.counts, LOOKS, strict=False):
        choice = plan.best(count)
        baths_c = np.array(choice.baths_c)
        baths_c = baths_c[(baths_c >= choice.t_c[0]) & (baths_c <= choice.t_c[-1])]
        ax.plot(choice.t_c, choice.half_width_k, color=colour, linestyle=dashes, linewidth=1.8)
        ax.plot(baths_c, choice.half_width_at(baths_c), mark, color=colour, **_BATH)
        where = ", ".join(f"{round(t_c, 1):g}" for t_c in choice.baths_c)
        ax.plot(
            [], [], color=colour, linestyle=dashes, linewidth=1.8, marker=mark, **_BATH,
            label=wrapped(f"{where} °C: at most ± {two_digits(choice.largest_k)} K"),
        )  # fmt: skip
    plain_numbers(ax)
    dress(
        ax, "temperature / °C", "half-width of the band / K",
        f"Where to measure: {100.0 * plan.coverage:g} % band of the curve that is expected",
    )  # fmt: skip
    ax.margins(x=0.02)
    explain(ax, title="the best baths, marked where they are")
    return ax
