"""A picture of a tolerance band: of the resistance, or of what a reader makes of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from thermofit.errors import InputError
from thermofit.report.canvas import BLACK, BLUE, axes_for, dress, explain, require, say_which_way
from thermofit.tolerance import Band

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["band_picture"]

Quantity = Literal["resistance", "temperature"]


def band_picture(band: Band, *, quantity: Quantity = "resistance", ax: Axes | None = None) -> Axes:
    """Draw the limits that a tolerance sets, over temperature.

    Parameters
    ----------
    band : Band
        Of one curve, at two temperatures or more.
    quantity : {"resistance", "temperature"}
        Limits of the resistance in percent of the nominal one; or in kelvin what a reader is
        off by that assumes the nominal curve, by exact inversion.
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        The limit of high resistance is a full line, that of low resistance a broken one.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        No Band, one of several curves or of one temperature, or an unknown quantity.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.report import band_picture
    >>> band = tf.tolerance_band(tf.family("ntc-10k-3977"), range(0, 101, 5), r25_pct=1)
    >>> band_picture(band, quantity="temperature").get_ylabel()
    'error of a reading / K'
    """
    require(band, Band, "band", "thermofit.tolerance_band gives it")
    if quantity not in get_args(Quantity):
        raise InputError(f"quantity must be 'resistance' or 'temperature', not {quantity!r}")
    if band.t_c.ndim != 1 or np.unique(band.t_c).size < 2:
        raise InputError(
            "a picture of a band needs one curve at two temperatures or more, and not the shape "
            f"{band.t_c.shape}; make the band of one curve over a range of temperatures"
        )
    order = np.argsort(band.t_c, kind="stable")
    t_c = band.t_c[order]
    if quantity == "resistance":
        high, low, label = band.dr_pct, band.dr_low_pct, "deviation of the resistance / %"
    else:
        high, low, label = band.dt_high_k, band.dt_low_k, "error of a reading / K"
    high, low = high[order], low[order]
    if not (np.isfinite(high).any() and np.isfinite(low).any()):
        raise InputError("the nominal curve never has the resistances of this band's limits")
    ax = axes_for(ax, 4.0)
    ax.fill_between(t_c, low, high, color=BLUE, alpha=0.15, linewidth=0.0)
    ax.axhline(0.0, color=BLACK, linewidth=0.8)
    ax.plot(t_c, high, color=BLUE, linewidth=1.6, label="upper limit of the resistance")
    ax.plot(t_c, low, color=BLUE, linewidth=1.6, linestyle="--",
            label="lower limit of the resistance")  # fmt: skip
    dress(ax, "temperature / °C", label, band.meaning)
    if quantity == "temperature":
        say_which_way(ax)
    ax.margins(x=0.0)
    explain(ax)
    return ax
