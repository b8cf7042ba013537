"""The ranked substitutes as text."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from thermofit.decide.substitute.row import Substitute
from thermofit.decide.substitute.wording import RUNS
from thermofit.texttable import aligned, paragraph, with_minus

if TYPE_CHECKING:
    from thermofit.decide.substitute.result import Substitutes

__all__ = ["as_text"]

# Of a line, where nobody says how wide lines are.
_WIDTH = 99
_MOST_ROWS = 20
_HEADER = [
    "", "part", "reads", "worst / K", "at / °C", "error / K", "curve / K", "change / K",
]  # fmt: skip
_LEGEND = (
    "reads, curve: of the curves alone; error: lowest to highest with tolerances; change: against "
    "the part that was in"
)
_DRIFT = "set-points drift: true temperature at which the controller then switches, less set-point"


def as_text(
    found: Substitutes, *, with_caution: bool = True, naming: Callable[[str], str] = str
) -> str:
    """Write substitutes for people.

    Parameters
    ----------
    found : Substitutes
    with_caution : bool
        Whether the caution stands at the end.
    naming : callable
        Says in other words what a sentence names, before it is broken into lines.

    Returns
    -------
    str
    """
    shown = found.rows[:_MOST_ROWS]
    low, high = found.t_range_c
    head = f"in place of {found.original}, whose curve the controller keeps, {low:g} to {high:g} °C"
    if not np.isnan(found.own_worst_k):
        head += f"; the original itself may be off by {_kelvin(found.own_worst_k)} K"
    lines = [_wrapped(head), _table(shown) if shown else "(nothing stands in)"]
    if len(found.rows) > len(shown):
        lines.append(f"… and {len(found.rows) - len(shown)} more")
    for rank, row in enumerate(shown, start=1):
        lines += [_wrapped(naming(f"{rank}: {with_minus(words)}")) for words in _said(row, rank)]
    notes = [
        *((_LEGEND,) if shown else ()),
        *((_DRIFT,) if any(row.set_points for row in shown) else ()),
        *(
            f"reads {way}: {runs}"
            for way, runs in RUNS.items()
            if any(row.errs in (way, "both") for row in shown)
        ),
        *found.notes,
        *_grouped([
            (remark, one.name) for row in shown for one in row.network.parts
            for remark in one.remarks
        ]),
    ]  # fmt: skip
    lines += [_wrapped(naming(f"({note})")) for note in dict.fromkeys(notes)]
    left_out = _grouped([(why, name) for name, why in found.left_out.items()])
    lines += [_wrapped(naming(f"left out: {words}")) for words in left_out[:_MOST_ROWS]]
    if len(left_out) > _MOST_ROWS:
        lines.append(f"… and {len(left_out) - _MOST_ROWS} more left out")
    lines += [_wrapped(f"! {found.caution}")] if with_caution else []
    return "\n".join(lines)


def _table(rows: Sequence[Substitute]) -> str:
    cells: list[Sequence[str | Sequence[str]]] = [_HEADER]
    for rank, row in enumerate(rows, start=1):
        names = [row.name, *(f"  {one}" for one in row.resistors.split(", ") if one)]
        cells.append([
            f"{rank}{'' if row.usable else '!'}", names, row.errs, _kelvin(row.worst_k),
            f"{row.worst_at_c:g}", _span(row.coldest_k, row.warmest_k), _kelvin(row.curve_k, "+"),
            _kelvin(row.change_k),
        ])  # fmt: skip
    return aligned(cells, left=3, usual=_WIDTH)


def _said(row: Substitute, rank: int) -> list[str]:
    """What is said of a row below the table."""
    words = [f"reads {row.reads}"] if rank == 1 and row.errs == "both" else []
    points = "; ".join(map(str, row.set_points))
    words += [f"set-points drift, {points}"] if points else []
    return [*words, *row.masked, *row.unverified, *row.flags]


def _grouped(pairs: Sequence[tuple[str, str]]) -> list[str]:
    """What holds for several names, once: "one, two: what holds"."""
    names: dict[str, dict[str, None]] = {}
    for words, name in pairs:
        names.setdefault(words, {})[name] = None
    return [
        f"{('; ' if any(',' in name for name in each) else ', ').join(each)}: {words}"
        for words, each in names.items()
    ]


def _wrapped(text: str) -> str:
    return paragraph(text, then="   ", usual=_WIDTH)


def _span(low_k: float, high_k: float) -> str:
    if np.isnan(low_k) or np.isnan(high_k):
        return "unknown"
    if np.isinf(low_k) and low_k == high_k:
        return "beyond"
    return f"{_kelvin(low_k, '+')} to {_kelvin(high_k, '+')}"


def _kelvin(value: float, sign: str = "") -> str:
    if np.isfinite(value):
        return f"{value:{sign}z.{2 if abs(value) < 99.995 else 1}f}"
    return "beyond" if np.isinf(value) else "unknown"
