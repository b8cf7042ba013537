"""A picture of what substitutes do: error of the reading against temperature."""

from __future__ import annotations

import importlib.util
import textwrap
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
import numpy.typing as npt

from thermofit.decide.substitute import ErrorCurve, Substitute, Substitutes
from thermofit.errors import InputError, ThermofitError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

__all__ = ["check_pictures", "save_picture", "substitute_errors"]

Array = npt.NDArray[np.float64]

# Colours that stay apart for most kinds of colour blindness (M. Okabe and K. Ito, Color universal
# design, 2002; from memory), dark enough for print; dashes and marks tell them apart in grey.
_LOOKS: Final = (
    ("#0072B2", "-", "o"),
    ("#D55E00", "--", "s"),
    ("#009E73", "-.", "^"),
    ("#CC79A7", ":", "D"),
    ("#000000", (0, (8, 2, 1, 2, 1, 2)), "v"),
)
_OWN: Final = "#8c8c8c"
# A line with this many times the error of the best would leave nothing to see of the best.
_FAR: Final = 10.0
_MARKS: Final = 8
_LINE: Final = 38


def check_pictures() -> None:
    """Refuse to draw where matplotlib is missing.

    Raises
    ------
    ThermofitError
        It says how to install it.
    """
    if importlib.util.find_spec("matplotlib") is None:
        raise ThermofitError(
            "pictures need matplotlib, which is not installed; install it by "
            "python -m pip install 'thermofit[pictures]'"
        )


def substitute_errors(result: Substitutes, ax: Axes | None = None) -> Axes:
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
    >>> from thermofit.report import substitute_errors
    >>> found = tf.substitutes("ntc-10k-3977", (0, 60), candidates=["ntc-10k-3950"])
    >>> substitute_errors(found).get_ylabel()  # doctest: +SKIP
    'reading less true temperature / K'
    """
    check_pictures()
    if not isinstance(result, Substitutes):
        raise InputError(f"result must be Substitutes, not {result!r}; thermofit.substitutes gives")
    drawn = _chosen(result)
    if ax is None:
        from matplotlib.figure import Figure

        ax = Figure(figsize=(7.2, 5.4), layout="constrained").add_subplot()
    if np.isfinite(result.own_worst_k):
        own = result.errors()
        ax.fill_between(
            own.t_c, own.low_k, own.high_k, facecolor="none", edgecolor=_OWN, hatch="////",
            linewidth=0.8, label=_wrapped(f"{result.original}, the original, by its tolerance"),
        )  # fmt: skip
    ax.axhline(0.0, color="black", linewidth=0.8)
    for row, (colour, dashes, mark) in zip(drawn, _LOOKS, strict=False):
        curve = result.errors(row)
        _shade(ax, curve, colour)
        ax.plot(
            curve.t_c, _finite(curve.nominal_k), color=colour, linestyle=dashes, linewidth=1.8,
            marker=mark, markersize=5, markevery=max(curve.t_c.size // _MARKS, 1),
            label=_label(row),
        )  # fmt: skip
    low_c, high_c = result.t_range_c
    ax.set_xlim(low_c, high_c)
    ax.set_xlabel("true temperature / °C")
    ax.set_ylabel("reading less true temperature / K")
    ax.set_title(f"In place of {result.original}, whose curve the controller keeps", fontsize=11)
    ax.grid(visible=True, color="#d9d9d9", linewidth=0.6)
    ax.set_axisbelow(True)
    low_k, high_k = ax.get_ylim()
    for there, y, where, words in (
        (high_k > 0.0, 1.0, "top", "reads too warm"),
        (low_k < 0.0, 0.0, "bottom", "reads too cold"),
    ):  # fmt: skip
        if there:
            ax.text(
                1.01, y, words, transform=ax.transAxes, va=where, rotation=90, fontsize=9,
                color="#404040",
            )  # fmt: skip
    left = len(result.rows) - len(drawn)
    title = f"{left} more not drawn, with larger errors or unusable" if left else None
    ax.legend(
        loc="upper center", bbox_to_anchor=(0.5, -0.14), ncols=2, fontsize=9, frameon=False,
        title=title, title_fontsize=9, handlelength=3.5,
    )  # fmt: skip
    return ax


def save_picture(ax: Axes, path: str | Path) -> None:
    """Write the figure of some axes to a file; its ending says in which format.

    Parameters
    ----------
    ax : matplotlib Axes
    path : str or Path

    Raises
    ------
    OSError
        The file cannot be written.
    """
    import matplotlib as mpl
    from matplotlib.figure import Figure

    figure = ax.figure
    assert isinstance(figure, Figure)
    # The same picture gives the same file each time: no date, and no ids by chance.
    dateless = {"Date": None} if Path(path).suffix.lower() == ".svg" else {}
    with mpl.rc_context({"svg.hashsalt": "thermofit"}):
        figure.savefig(path, dpi=200, metadata=dateless)


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
    return near[: len(_LOOKS)]


def _shade(ax: Axes, curve: ErrorCurve, colour: str) -> None:
    if (curve.high_k - curve.low_k > 0.0).any():
        low, high = _finite(curve.low_k), _finite(curve.high_k)
        ax.fill_between(curve.t_c, low, high, color=colour, alpha=0.18, linewidth=0.0)


def _finite(values: Array) -> Array:
    return np.where(np.isfinite(values), values, np.nan)


def _label(row: Substitute) -> str:
    return "\n".join([_wrapped(row.name), *([_wrapped(row.resistors)] if row.resistors else [])])


def _wrapped(text: str) -> str:
    return textwrap.fill(text, _LINE, break_on_hyphens=False)
