"""The R–T table to tape to the wall: which temperatures, what stands beside each."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.decide import acceptance_limits
from thermofit.decide.acceptance import rounded_to_safety
from thermofit.decide.verdict import Verdict
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve
from thermofit.points import Points
from thermofit.report.sheet.numerals import at_most, minus, small
from thermofit.tolerance import Tolerance, tolerance_band
from thermofit.units import format_ohm

__all__ = ["Limits", "Wall", "limits_for", "temperatures_for", "wall_of"]

Array = npt.NDArray[np.float64]

_MOST_ROWS: Final = 500
# Temperatures stand in the table to a tenth of it.
_LEAST_K: Final = 1e-3
_USUAL_ROWS: Final = 85
_STEPS_K: Final = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0)
_BLOCK: Final = 10
# The last of the blocks takes a few rows more rather than leave them by themselves.
_FEW: Final = 4


@dataclass(frozen=True)
class Limits:
    """Limits of the resistance in a table, and what they are limits of.

    Parameters
    ----------
    head : str
        Over the first of their columns: "accept from", or "allowed from".
    meaning : str
    low, high : tuple of str
        Rounded to the safe side.
    """

    head: str
    meaning: str
    low: tuple[str, ...]
    high: tuple[str, ...]


@dataclass(frozen=True)
class Wall:
    """The table, in blocks of some rows that stay together on a page.

    Parameters
    ----------
    heads : tuple of str
    blocks : tuple of tuple of tuple of str
        Rows of cells; the first cell is the temperature in °C.
    captions : tuple of str
        Of each block: from which temperature to which.
    """

    heads: tuple[str, ...]
    blocks: tuple[tuple[tuple[str, ...], ...], ...]
    captions: tuple[str, ...]


def temperatures_for(
    curve: Curve, t_range_c: tuple[float, float] | None, step_k: float | None
) -> tuple[Array, tuple[float, float], float]:
    """Choose the temperatures of the table.

    Parameters
    ----------
    curve : Curve
    t_range_c : (float, float), optional
        The whole valid range of the curve without it.
    step_k : float, optional
        Without it, the smallest usual one that gives no more than some 85 rows.

    Returns
    -------
    t_c : array
        Round steps, and both ends.
    t_range_c : (float, float)
    step_k : float

    Raises
    ------
    InputError
        No range, one that the curve is not valid over, or too many rows.
    """
    low_c, high_c = (curve.t_min_c, curve.t_max_c) if t_range_c is None else t_range_c
    low_c, high_c = float(low_c), float(high_c)
    if not (np.isfinite([low_c, high_c]).all() and low_c < high_c):
        raise InputError(
            f"the table runs from a lower to a higher temperature, not from {low_c:g} to "
            f"{high_c:g} °C"
        )
    if not curve.in_range([low_c, high_c]).all():
        raise InputError(
            f"the table would run from {low_c:g} to {high_c:g} °C, and the curve is valid from "
            f"{curve.t_min_c:g} to {curve.t_max_c:g} °C; give a range within that"
        )
    if step_k is None:
        fitting = (step for step in _STEPS_K if (high_c - low_c) / step < _USUAL_ROWS)
        step_k = next(fitting, _STEPS_K[-1])
    if not (np.isfinite(step_k) and step_k >= _LEAST_K):
        raise InputError(f"the step of the table must be {_LEAST_K:g} K or more, not {step_k!r} K")
    if (high_c - low_c) / step_k > _MOST_ROWS:
        raise InputError(f"more than {_MOST_ROWS} rows; take a larger step, or a shorter range")
    numbers = np.arange(np.floor(low_c / step_k) + 1, np.ceil(high_c / step_k))
    inside = numbers * step_k
    apart = 1e-9 * step_k
    inside = inside[(inside > low_c + apart) & (inside < high_c - apart)]
    return np.array([low_c, *inside, high_c]), (low_c, high_c), float(step_k)


def limits_for(
    family: Family | Curve | None,
    tolerance: Tolerance | None,
    points: Points | None,
    verdict: Verdict | None,
    t_c: Array,
) -> Limits | None:
    """Find between what a part of a family must read.

    Parameters
    ----------
    family : Family or Curve, optional
    tolerance : Tolerance, optional
        Without it there are no limits.
    points : Points, optional
        Readings whose largest uncertainty a later reading is taken to have, too.
    verdict : Verdict, optional
        Whose rule holds.
    t_c : array

    Returns
    -------
    Limits or None
        Those of the tolerance; where the uncertainty of readings is known, with the guard band.
    """
    if family is None or tolerance is None:
        return None
    nominal = nominal_curve(family, "family")
    inside = (t_c >= nominal.t_min_c) & (t_c <= nominal.t_max_c)
    if not inside.any():
        return None
    known = points is not None and points.u_t_k is not None and points.u_r_ohm is not None
    if known and verdict is not None:
        assert points is not None and points.u_t_k is not None and points.u_r_ohm is not None
        u_t_k = float(points.u_t_k.max())
        u_r_pct = float(100.0 * (points.u_r_ohm / points.r_ohm).max())
        guarded = acceptance_limits(
            family, t_c[inside], u_t_k=u_t_k, u_r_pct=u_r_pct, tolerance=tolerance,
            rule=verdict.rule.name, risk=verdict.rule.risk,
        )  # fmt: skip
        low, high = guarded.accept_low_ohm, guarded.accept_high_ohm
        head = "accept from"
        meaning = (
            f"{tolerance} of {nominal.id or 'the nominal curve'}, {guarded.rule}, for readings as "
            f"uncertain as the least certain of this sheet (standard uncertainties "
            f"{small(u_t_k)} K and {small(u_r_pct)} %)"
        )
    else:
        band = tolerance_band(nominal, t_c[inside], tolerance=tolerance)
        low, high, head = band.r_low_ohm, band.r_high_ohm, "allowed from"
        meaning = f"{tolerance} of {nominal.id or 'the nominal curve'}, without a guard band"
    shown: list[tuple[str, ...]] = []
    for ohm, way in ((low, ROUND_CEILING), (high, ROUND_FLOOR)):
        cells = np.full(t_c.shape, "–", dtype=object)
        cells[inside] = [rounded_to_safety(float(one), way) for one in ohm]
        shown.append(tuple(cells))
    return Limits(head, meaning, *shown)


def wall_of(curve: Curve, t_c: Array, coverage: float, limits: Limits | None) -> Wall:
    """Make the table.

    Parameters
    ----------
    curve : Curve
    t_c : array, shape (n,)
    coverage : float
        Of the column that says how well the curve is known; there is none where it is not.
    limits : Limits, optional

    Returns
    -------
    Wall
    """
    r_ohm = curve.resistance(t_c)
    band = curve.temperature_interval(r_ohm, coverage=coverage)
    half_k = 0.5 * (band.high - band.low)
    heads = ["°C", "°F", "R"]
    columns = [
        [_degrees(t) for t in t_c],
        [_degrees(1.8 * t + 32.0) for t in t_c],
        [format_ohm(float(r)) for r in r_ohm],
    ]
    if np.isfinite(half_k).any():
        heads.append("± K")
        columns.append([at_most(h) for h in half_k])
    if limits is not None:
        heads += [limits.head, "to"]
        columns += [list(limits.low), list(limits.high)]
    rows = tuple(zip(*columns, strict=True))
    starts = list(range(0, len(rows), _BLOCK))
    if len(starts) > 1 and len(rows) - starts[-1] <= _FEW:
        starts.pop()
    blocks = tuple(
        rows[start:stop] for start, stop in zip(starts, [*starts[1:], len(rows)], strict=True)
    )
    captions = tuple(f"{block[0][0]} to {block[-1][0]} °C" for block in blocks)
    return Wall(tuple(heads), blocks, captions)


def _degrees(value: float) -> str:
    return minus(f"{round(value, 4) + 0.0:.10g}")
