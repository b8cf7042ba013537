"""A picture of what a circuit makes of a sensor: its output, and the step of its converter."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final, Literal, get_args

import numpy as np
import numpy.typing as npt

from thermofit.circuit import ConstantCurrent, Divider
from thermofit.circuit.base import Circuit
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve
from thermofit.report.canvas import (
    BLUE,
    GREY,
    SMALL,
    axes_for,
    dress,
    explain,
    plain_numbers,
    require,
    two_digits,
)

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["divider_picture"]

Array = npt.NDArray[np.float64]
Quantity = Literal["output", "resolution"]

_STEPS: Final = 601
# Resolutions that differ by more than this are drawn on a logarithmic scale.
_WIDE: Final = 8.0


def divider_picture(
    divider: Divider | ConstantCurrent,
    part: Family | Curve,
    *,
    quantity: Quantity = "output",
    t_range_c: tuple[float, float] | None = None,
    ax: Axes | None = None,
) -> Axes:
    """Draw what the converter of a circuit sees of a sensor, over temperature.

    Parameters
    ----------
    divider : Divider or ConstantCurrent
    part : Family or Curve
        The sensor; of a family, the nominal one.
    quantity : {"output", "resolution"}
        The code, with the voltage of the node on the other side; or how many kelvin a step of
        the code is worth.
    t_range_c : (float, float), optional
        In °C; by default the valid range of the curve.
    ax : matplotlib Axes, optional
        To draw into; without it, a figure is made for it, which no window and no list keeps.

    Returns
    -------
    matplotlib Axes
        Hatched where the code is the first or the last, which say only that the sensor is out
        of range, open or shorted.

    Raises
    ------
    ThermofitError
        matplotlib is not installed.
    InputError
        No circuit, no curve, an unknown quantity, or a range that is none or lies outside that
        of the curve.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.circuit import Converter, Divider
    >>> from thermofit.report import divider_picture
    >>> divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    >>> inlet = tf.family("ntc-10k-3977")
    >>> divider_picture(divider, inlet, quantity="resolution").get_ylabel()
    'resolution / (K per count)'
    """
    require(divider, Circuit, "divider", "thermofit.circuit.Divider makes one")
    curve = nominal_curve(part)
    if quantity not in get_args(Quantity):
        raise InputError(f"quantity must be 'output' or 'resolution', not {quantity!r}")
    t_c = _temperatures(curve, t_range_c)
    r_ohm = curve.resistance(t_c)
    code = np.asarray(divider.counts(r_ohm))
    beyond = np.asarray(divider.converter.saturated(code), dtype=bool)
    if quantity == "resolution" and beyond.all():
        raise InputError(
            "over all of this range the code is the first or the last, and there is no resolution"
        )
    ax = axes_for(ax, 4.2)
    if quantity == "output":
        _draw_output(ax, divider, t_c, code)
    else:
        _draw_resolution(ax, np.asarray(divider.kelvin_per_count(curve, t_c)), t_c)
    if beyond.any():
        _hatch(ax, t_c, beyond)
    name = curve.id or "the sensor"
    dress(
        ax, "temperature of the sensor / °C",
        "code / counts" if quantity == "output" else "resolution / (K per count)",
        f"What the converter ({divider.converter.bits} bits) sees of {name}",
    )  # fmt: skip
    ax.margins(x=0.02)
    explain(ax)
    return ax


def _draw_output(ax: Axes, divider: Circuit, t_c: Array, code: Array) -> None:
    ax.plot(t_c, code, color=BLUE, linewidth=1.6, drawstyle="steps-mid")
    steps = divider.converter.steps
    full_v = divider.converter.reference_v or divider.supply_v
    ax.set_ylim(-0.02 * steps, 1.02 * steps)
    there_and_back: Any = (lambda n: n / steps * full_v, lambda v: v / full_v * steps)
    volts = ax.secondary_yaxis("right", functions=there_and_back)
    volts.set_ylabel("voltage of the node / V", fontsize=10)
    volts.tick_params(labelsize=SMALL)


def _draw_resolution(ax: Axes, each_k: Array, t_c: Array) -> None:
    finite = np.where(np.isfinite(each_k), each_k, np.nan)
    ax.plot(t_c, finite, color=BLUE, linewidth=1.6, label="one step of the code")
    best = int(np.nanargmin(finite))
    ax.plot(
        t_c[best], finite[best], "o", color=BLUE, markersize=6,
        label=f"finest: {two_digits(float(finite[best]))} K at {t_c[best]:.0f} °C",
    )  # fmt: skip
    if np.nanmax(finite) > _WIDE * finite[best]:
        plain_numbers(ax)
    else:
        ax.set_ylim(bottom=0.0)


def _hatch(ax: Axes, t_c: Array, beyond: npt.NDArray[np.bool_]) -> None:
    ax.fill_between(
        t_c, 0.0, 1.0, where=beyond.tolist(), transform=ax.get_xaxis_transform(),
        facecolor="none", edgecolor=GREY, hatch="////", linewidth=0.0, step="mid",
        label="end of the scale: nothing can be told",
    )  # fmt: skip


def _temperatures(curve: Curve, t_range_c: Any) -> Array:
    if t_range_c is None:
        t_range_c = curve.t_min_c, curve.t_max_c
    try:
        low, high = map(float, t_range_c)
    except (TypeError, ValueError):
        raise InputError(f"t_range_c is a pair (low, high) in °C, not {t_range_c!r}") from None
    if not low < high:
        raise InputError(f"t_range_c runs from low to high, not from {low:g} to {high:g} °C")
    if not curve.in_range([low, high]).all():
        raise InputError(
            f"{low:g} to {high:g} °C (t_range_c) reaches beyond the valid range of the curve, "
            f"{curve.t_min_c:g} to {curve.t_max_c:g} °C"
        )
    return np.linspace(low, high, _STEPS)
