"""Where set-points drift: the true temperature at which the controller switches now."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial

import numpy as np
import numpy.typing as npt

from thermofit.decide.substitute.network import Network
from thermofit.decide.substitute.reader import Reader, reading_errors

__all__ = ["SetPoint", "drifts", "switches_beyond"]

Array = npt.NDArray[np.float64]

# How far from the set-point the true temperature is looked for, and in which steps.
_REACH_K, _STEP_K = 100.0, 2.0
_TOLERANCE_K = 1e-10


@dataclass(frozen=True)
class SetPoint:
    """A set-point, and what becomes of it.

    Parameters
    ----------
    set_c : float
        What the controller compares its reading with, in °C.
    drift_k : float
        True temperature at which it switches, less the set-point, with nominal values; NaN where
        it never does within 100 K.
    low_k, high_k : float
        Limits of that, everything at the end of its tolerance.
    """

    set_c: float
    drift_k: float
    low_k: float
    high_k: float

    def __str__(self) -> str:
        if math.isnan(self.drift_k):
            return f"{self.set_c:g} °C: never reached within {_REACH_K:g} K"
        low, high = (
            "unknown" if math.isnan(end) else f"{end:+.2f}" for end in (self.low_k, self.high_k)
        )
        return f"{self.set_c:g} °C: {self.drift_k:+.2f} K ({low} to {high})"


def drifts(reader: Reader, network: Network, set_points_c: Array) -> tuple[SetPoint, ...]:
    """Find the drift of set-points.

    Parameters
    ----------
    reader : Reader
    network : Network
    set_points_c : array, shape (k,)
        In °C.

    Returns
    -------
    tuple of SetPoint
    """
    found = []
    for set_c in set_points_c.tolist():
        grid = set_c + np.arange(-_REACH_K, _REACH_K + _STEP_K, _STEP_K)
        grid = grid[grid > -250.0]

        def reads(t_c: Array) -> tuple[Array, ...]:
            errors = reading_errors(reader, network.ohms(t_c), t_c)
            return tuple(t_c + error[0] for error in (errors.nominal, errors.high, errors.low))

        coarse = reads(grid)
        nominal, low, high = (
            _crossing(partial(_one, reads, which), grid, coarse[which], set_c) for which in range(3)
        )
        found.append(SetPoint(set_c, nominal - set_c, low - set_c, high - set_c))
    return tuple(found)


def switches_beyond(network: Network, points: Sequence[SetPoint]) -> list[str]:
    """Set-points at which a part is beyond its valid range, in words."""
    words = []
    for point in points:
        switches_c = point.set_c + point.drift_k
        if np.isnan(switches_c):
            continue
        words += [
            f"set-point {point.set_c:g} °C: {one.name} would switch at {switches_c:.1f} °C, beyond "
            "its valid range"
            for one in network.parts
            if not one.part.curve.in_range(switches_c)
        ]
    return list(dict.fromkeys(words))


def _one(reads: Callable[[Array], tuple[Array, ...]], which: int, t_c: float) -> float:
    return float(reads(np.array([t_c]))[which][0])


def _crossing(reads: Callable[[float], float], grid: Array, coarse: Array, set_c: float) -> float:
    """True temperature at which a rising reading passes the set-point; NaN where it does not."""
    from scipy.optimize import brentq

    below = np.where(np.isnan(coarse), np.nan, coarse - set_c)
    with np.errstate(invalid="ignore"):
        ends = np.flatnonzero((below[:-1] <= 0.0) & (below[1:] >= 0.0))
    if not ends.size:
        return float("nan")
    low, high = float(grid[ends[0]]), float(grid[ends[0] + 1])

    def finite(t_c: float) -> float:
        return float(np.clip(reads(t_c) - set_c, -1e6, 1e6))

    found = brentq(finite, low, high, xtol=_TOLERANCE_K)
    return float(found)
