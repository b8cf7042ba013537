"""What all pictures share: axes, looks that survive print and colour blindness, files."""

from __future__ import annotations

import importlib.util
import re
import textwrap
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from thermofit.errors import InputError, ThermofitError
from thermofit.interval import format_pair
from thermofit.texttable import legal

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["check_pictures", "save_picture"]

# Colours that stay apart for most kinds of colour blindness (M. Okabe and K. Ito, Color universal
# design, 2002; from memory), dark enough for print; dashes and marks tell them apart in grey.
LOOKS: Final = (
    ("#0072B2", "-", "o"),
    ("#D55E00", "--", "s"),
    ("#009E73", "-.", "^"),
    ("#CC79A7", ":", "D"),
    ("#000000", (0, (8, 2, 1, 2, 1, 2)), "v"),
)
BLUE: Final = LOOKS[0][0]
RED: Final = LOOKS[1][0]
BLACK: Final = "#000000"
DARK: Final = "#404040"
GREY: Final = "#8c8c8c"
_GRID: Final = "#d9d9d9"

SMALL: Final = 9
_WIDTH_IN: Final = 7.0
_LINE: Final = 38
# A name that is longer would leave no room to draw.
_MOST_LINES: Final = 4
# With more than this, only powers of ten have numbers.
_DECADES: Final = 4.5
# A number is not parted from its sign and its unit.
_HELD: Final = re.compile(r"(?<=±) | (?=[±%])|(?<=\d) (?=[°A-Za-zΩ]{1,3}\b)")
# What ticks, their labels and the label of the axis take.
_BELOW_PT: Final = 33


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
            'python -m pip install "thermofit[pictures]"'
        )


def require(value: object, kind: type | tuple[type, ...], name: str, way: str) -> None:
    """Refuse to draw something else."""
    if not isinstance(value, kind):
        kinds = kind if isinstance(kind, tuple) else (kind,)
        wanted = " or ".join(one.__name__ for one in kinds)
        raise InputError(f"{name} must be {wanted}, not {type(value).__name__}; {way}")


def axes_for(ax: Axes | None, height_in: float = 4.6) -> Axes:
    """Axes to draw into: those of the caller, or new ones that no window and no list keeps."""
    check_pictures()
    if ax is not None:
        from matplotlib.axes import Axes as Kind

        if not isinstance(ax, Kind):
            raise InputError(f"ax must be Axes of matplotlib, not {type(ax).__name__}")
        return ax
    from matplotlib.figure import Figure

    return Figure(figsize=(_WIDTH_IN, height_in), layout="constrained").add_subplot()


def dress(ax: Axes, x: str, y: str, title: str) -> None:
    """Give axes their labels, with units, a title, and lines to read numbers off."""
    ax.set_xlabel(x, fontsize=10)
    ax.set_ylabel(y, fontsize=10)
    ax.set_title(wrapped(title, 76), fontsize=11)
    ax.tick_params(labelsize=SMALL)
    ax.grid(visible=True, color=_GRID, linewidth=0.6)
    ax.set_axisbelow(True)
    ax.spines[["top", "right"]].set_visible(False)


def explain(ax: Axes, *, title: str | None = None) -> None:
    """Put the legend below the axes, where it hides nothing."""
    from matplotlib.transforms import offset_copy

    if not ax.get_legend_handles_labels()[0]:
        return
    below = offset_copy(ax.transAxes, figure_of(ax), y=-_BELOW_PT, units="points")
    ax.legend(
        loc="upper center", bbox_to_anchor=(0.5, 0.0), bbox_transform=below, ncols=2,
        fontsize=SMALL, frameon=False, title=title, title_fontsize=SMALL, handlelength=3.2,
        columnspacing=1.6,
    )  # fmt: skip


def plain_numbers(ax: Axes) -> None:
    """Make the scale upwards logarithmic, with numbers as one reads them."""
    from matplotlib.ticker import FuncFormatter, LogLocator, NullFormatter

    ax.set_yscale("log")
    low, high = ax.get_ylim()
    few = high < 10.0**_DECADES * low
    ax.yaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0) if few else (1.0,), numticks=30))
    ax.yaxis.set_major_formatter(FuncFormatter(lambda value, _: f"{value:g}"))
    ax.yaxis.set_minor_formatter(NullFormatter())


def say_which_way(ax: Axes) -> None:
    """Say beside the axes which error reads too warm and which too cold."""
    low_k, high_k = ax.get_ylim()
    for there, y, where, words in (
        (high_k > 0.0, 1.0, "top", "reads too warm"),
        (low_k < 0.0, 0.0, "bottom", "reads too cold"),
    ):  # fmt: skip
        if there:
            ax.text(
                1.01, y, words, transform=ax.transAxes, va=where, rotation=90, fontsize=SMALL,
                color=DARK,
            )  # fmt: skip


def wrapped(text: str, width: int = _LINE) -> str:
    """Break text into lines, and make it `plain`."""
    held = _HELD.sub("\u00a0", text)
    lines = (
        textwrap.fill(line, width, break_on_hyphens=False, max_lines=_MOST_LINES, placeholder=" …")
        for line in held.split("\n")
    )
    return plain("\n".join(lines))


def plain(text: str) -> str:
    """Text that is drawn as it stands, whoever wrote it: no formulas, no control characters."""
    shown = legal(text).replace("$", r"\$")
    # Labels that begin with an underscore are left out of legends.
    return f"\u2009{shown}" if shown.startswith("_") else shown


def two_digits(value: float) -> str:
    """Write an uncertainty to two significant digits."""
    return format_pair(value, value)[1] if value > 0.0 else f"{value:.2g}"


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
    # The same picture gives the same file each time: no date, and no ids by chance.
    dateless = {"Date": None} if Path(path).suffix.lower() == ".svg" else {}
    with drawing({"svg.hashsalt": "thermofit"}):
        figure_of(ax).savefig(path, dpi=200, metadata=dateless)


def figure_of(ax: Axes) -> Figure:
    """Give the whole figure that axes are part of."""
    from matplotlib.figure import Figure

    figure = ax.figure.figure
    assert isinstance(figure, Figure)
    return figure


@contextmanager
def drawing(settings: Any) -> Iterator[None]:
    """Draw with settings of matplotlib; what the font lacks is shown as a box, without a word."""
    import matplotlib as mpl

    with mpl.rc_context(settings), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph .* missing from", category=UserWarning)
        yield
