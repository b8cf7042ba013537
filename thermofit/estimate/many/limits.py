"""What counts as usual in a batch; sensors beyond it are fitted one by one.

All limits are well within those of the one-by-one path, which decides and gives the reason.
"""

from __future__ import annotations

from typing import Final

__all__ = [
    "HOTTEST_K",
    "LARGEST_SLOPE",
    "LN_R_LIMITS",
    "MARGIN",
    "MOST_AMPLIFIED",
    "MOST_AMPLIFIED_CENTRED",
    "SMALLEST_SLOPE",
]

HOTTEST_K: Final = 1600.0

LN_R_LIMITS: Final = (-25.0, 40.0)

SMALLEST_SLOPE: Final = 1e-7
"""Of 1/T against ln R, in 1/K: B = 10⁷ K."""

LARGEST_SLOPE: Final = 1e-2
"""B = 100 K: steeper than the one-by-one path allows at the hottest of sensors."""

MARGIN: Final = 1.1
"""How far beyond the points, in half-widths from their middle, the curve must be monotone."""

MOST_AMPLIFIED: Final = 5e8
"""Variance of a coefficient's share of the curve over that of a reading: 4 of 16 digits lost."""

MOST_AMPLIFIED_CENTRED: Final = 1e12
"""The same for equations that the one-by-one path centres on the points, and so loses fewer."""
