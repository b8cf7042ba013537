"""The usual tolerance of many parts, as a caller states it: numbers, or arrays with rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from numbers import Real
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.tolerance.limits import BLimits, Limits, ResistanceLimits
from thermofit.tolerance.single import HasTolerance
from thermofit.tolerance.spec import Tolerance
from thermofit.tolerance.usual import T25_C, UsualLimits, as_numbers, names_of

__all__ = ["stated_limits"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]

_FORMS = {"r25_pct", "r_pct", "r_at_c", "b_pct"}


def stated_limits(
    parts: Sequence[Curve | HasTolerance], stated: Mapping[str, Any], shape: tuple[int, ...]
) -> UsualLimits | None:
    """Collect tolerances that are stated for all, of which arrays have a row for each part.

    Parameters
    ----------
    parts : sequence of Curve or Family
    stated : mapping
        As for `thermofit.tolerance.tolerance_band`.
    shape : tuple of int
        That of the temperatures.

    Returns
    -------
    UsualLimits or None
        None where they are of another kind, or take a closer look.
    """
    of_r = "r_pct" if "r_pct" in stated else "r25_pct"
    at_c = stated.get("r_at_c", T25_C)
    if (
        set(stated) - _FORMS
        or {"r_pct", "r25_pct"} <= set(stated)
        or (of_r == "r_pct") != ("r_at_c" in stated)
        or not isinstance(at_c, Real)
    ):
        return None
    count = len(parts)
    ends: list[Array] = []
    for name in (of_r, "b_pct"):
        pair = _ends(stated.get(name, 0.0), count, shape)
        if pair is None:
            return None
        ends += pair
    t_ref_c = np.full(count, float(at_c))
    limited = np.array([[of_r in stated] * count, ["b_pct" in stated] * count])
    widest = max(end.ndim for end in ends)
    ends = [end.reshape(*end.shape, *[1] * (widest - end.ndim)) for end in ends]
    limits = np.stack(np.broadcast_arrays(*ends))
    usual: Truth = _usable(limits)
    if not limited.all():
        fixed = of_r in stated, "b_pct" in stated
        _complete(parts, limits, limited, t_ref_c, usual, fixed)
    if limits.ndim > 2:
        limits = np.broadcast_to(limits, (4, count, *shape))
        told = ("tolerances as stated",)
        return UsualLimits.of_percent(usual, limited[0], t_ref_c, limits, told)
    table = np.vstack([limited, t_ref_c, limits]).T
    names = names_of(table, usual, lambda row: str(_tolerance(*table[row].tolist())))
    return UsualLimits.of_percent(usual, limited[0], t_ref_c, limits, names)


def _ends(value: Any, count: int, shape: tuple[int, ...]) -> tuple[Array, Array] | None:
    """Lower and upper limits, shape (n,) + those of a row; None where it takes a closer look."""
    is_pair = isinstance(value, (tuple, list))
    if is_pair and len(value) != 2:
        return None
    found = []
    for end in value if is_pair else (value,):
        if isinstance(end, np.ndarray) and end.ndim:
            if isinstance(value, list):  # a list is a pair of numbers only
                return None
            row = end.shape[1:]
            fits = end.dtype.kind in "fiu" and end.shape[0] in (1, count)
            if not fits or len(row) > len(shape):
                return None
            if any(one not in (1, size) for one, size in zip(row[::-1], shape[::-1], strict=False)):
                return None
            end = np.broadcast_to(end, (count, *row))
            if row:
                end = end.reshape(count, *[1] * (len(shape) - len(row)), *row)
            found.append(end.astype(np.float64))
        elif isinstance(end, Real) and not isinstance(end, bool):
            found.append(np.full(count, float(end)))
        else:
            return None
    return (-found[0], found[0]) if len(found) == 1 else (found[0], found[1])


def _usable(limits_pct: Array) -> Truth:
    """Which rows are tolerances: finite, below 100 %, with the nominal part inside."""
    low, high = limits_pct[0::2], limits_pct[1::2]
    good = (
        np.isfinite(limits_pct[0::2])
        & np.isfinite(limits_pct[1::2])
        & (low > -100.0)
        & (low <= 0.0)
        & (high >= 0.0)
    )
    good &= high < 100.0
    return np.asarray(good.all(axis=(0, *range(2, good.ndim))))


def _complete(
    parts: Sequence[Curve | HasTolerance],
    limits: Array,
    limited: Truth,
    t_ref_c: Array,
    usual: Truth,
    fixed: tuple[bool, bool],
) -> None:
    """Add the half that families bring of their own: of B beside R, or of R beside B."""
    for row, part in enumerate(parts):
        own = None if isinstance(part, Curve) else part.tolerance
        if own is None:
            continue
        numbers = as_numbers(own)
        if numbers is None:
            usual[row] = False
            continue
        for half in (0, 1):
            if not fixed[half] and numbers[half]:
                limited[half, row] = True
                if half == 0:
                    t_ref_c[row] = numbers[2]
                for end in (2 * half, 2 * half + 1):
                    limits[end, row] = numbers[3 + end]


def _tolerance(
    of_r: float, of_b: float, t_ref_c: float, r_low: float, r_high: float,
    b_low: float, b_high: float,
) -> Tolerance:  # fmt: skip
    limits: list[Limits] = []
    if of_r:
        limits.append(ResistanceLimits(r_low, r_high, t_ref_c))
    if of_b:
        limits.append(BLimits(b_low, b_high))
    return Tolerance(tuple(limits))
