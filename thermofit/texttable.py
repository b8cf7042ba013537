"""Cells in aligned columns, and what stands in them, for reports that people read."""

from __future__ import annotations

import math
from collections.abc import Sequence

__all__ = ["aligned", "format_probability"]


def aligned(rows: Sequence[Sequence[str]], *, left: int = 1, indent: str = "") -> str:
    """Align the cells of each column.

    Parameters
    ----------
    rows : sequence of sequences of str, all of one length
        The header first.
    left : int
        How many leading columns hold words and are aligned to the left; the rest
        hold numbers and are aligned to the right.
    indent : str
        What each line begins with.

    Returns
    -------
    str

    Examples
    --------
    >>> print(aligned([["sensor", "R / kΩ"], ["inlet", "9.99"], ["outlet", "10.31"]]))
    sensor  R / kΩ
    inlet     9.99
    outlet   10.31
    """
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return "\n".join(
        indent
        + "  ".join(
            cell.ljust(width) if place < left else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    )


def format_probability(probability: float) -> str:
    """Write a probability in percent, never rounded to a certainty.

    Parameters
    ----------
    probability : float

    Returns
    -------
    str
        Empty for NaN.

    Examples
    --------
    >>> format_probability(0.9512), format_probability(1.0 - 1e-9)
    ('95.1 %', 'above 99.9 %')
    """
    if math.isnan(probability):
        return ""
    if probability > 0.999:
        return "above 99.9 %"
    if probability < 0.001:
        return "below 0.1 %"
    return f"{100.0 * probability:.1f} %"
