"""The usual tolerance, R at one temperature and the B value, of many parts at once."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol, cast

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.tolerance.box import Box
from thermofit.tolerance.limits import BLimits, ResistanceLimits, percent_to_log
from thermofit.tolerance.single import HasTolerance
from thermofit.tolerance.spec import Tolerance

__all__ = ["T25_C", "Numbers", "UsualLimits", "as_numbers", "names_of", "own_limits"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]

T25_C = 25.0

Numbers = tuple[bool, bool, float, float, float, float, float]
"""Whether R and whether B is limited, the temperature at which R is, and the limits in percent."""

_NO_LIMITS: Numbers = (False, False, T25_C, 0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, eq=False)
class UsualLimits:
    """Limits of many parts, a row for each.

    Parameters
    ----------
    usual : array of bool, shape (n,)
        Whether the row holds; false for a tolerance of another kind, and for one that is
        none or unusable.
    refers : array of bool, shape (n,)
        Whether the curve must be valid at the reference temperature.
    t_ref_c : array, shape (n,)
        Temperature at which R is limited.
    ends : array, shape (4, n, 1) or (4, n, m)
        Lower and upper limit of the deviation of ln R there, and of β; for each of m
        temperatures where they differ.
    names : tuple of str
        What the tolerances of the usual rows are called; of those that differ, two.
    """

    usual: Truth
    refers: Truth
    t_ref_c: Array
    ends: Array
    names: tuple[str, ...]

    @classmethod
    def of_percent(
        cls, usual: Truth, refers: Truth, t_ref_c: Array, limits_pct: Array, names: tuple[str, ...]
    ) -> UsualLimits:
        """Make them of limits in percent, shape (4, n) or (4, n, m); unusual rows do not count."""
        ends = np.array(limits_pct.reshape(4, len(usual), -1))
        ends[:, ~usual] = 0.0
        ends[:2] = percent_to_log(ends[:2])
        ends[2:] /= 100.0
        return cls(usual, refers, t_ref_c, ends, names)

    def at_one_temperature(self, rows: npt.NDArray[np.intp]) -> bool:
        """Whether some rows refer to one temperature, and have the same limits at all of them."""
        t_ref_c = self.t_ref_c[rows]
        return self.ends.shape[-1] == 1 and bool((t_ref_c == t_ref_c[:1]).all())

    def box(self, rows: npt.NDArray[np.intp]) -> Box:
        """Limits of some rows, to be broadcast with results of shape (n, m)."""
        return Box(T25_C, *self.ends[:, rows])


class _InPercent(Protocol):
    """What states ± % of R25 and of B, as a family does."""

    @property
    def r25_tol_pct(self) -> float | None: ...
    @property
    def b_tol_pct(self) -> float | None: ...


def own_limits(
    parts: Sequence[Curve | HasTolerance], tolerance: Tolerance | None
) -> UsualLimits | None:
    """Collect one tolerance for all parts, or that which each has of its own.

    Returns
    -------
    UsualLimits or None
        None where nothing is of this kind.
    """
    own: Sequence[Tolerance | None]
    if tolerance is not None:
        own = [tolerance] * len(parts)
        rows = [as_numbers(tolerance)] * len(parts)
    else:
        quick = _percents(parts)
        if quick is not None:
            return quick
        own = [None if isinstance(part, Curve) else part.tolerance for part in parts]
        rows = [None if one is None else as_numbers(one) for one in own]
    usual = np.array([row is not None for row in rows])
    if not usual.any():
        return None
    table = np.array([row or _NO_LIMITS for row in rows])
    names = names_of(table, usual, lambda row: str(own[row]))
    return UsualLimits.of_percent(usual, table[:, 0] > 0.0, table[:, 2], table[:, 3:].T, names)


def _percents(parts: Sequence[Curve | HasTolerance]) -> UsualLimits | None:
    """Take ± % of R25 and of B, as families state them, without making each a tolerance."""
    for kind in set(map(type, parts)):
        part = next(part for part in parts if type(part) is kind)
        if isinstance(part, Curve) or not _makes_it_of_percents(kind):
            return None
        if part.tolerance != _of_percents(cast("_InPercent", part)):
            return None
    families = cast("Sequence[_InPercent]", parts)
    columns = [part.r25_tol_pct for part in families], [part.b_tol_pct for part in families]
    pct = np.array(columns, dtype=np.float64).T
    stated = ~np.isnan(pct)
    usable = ~stated | ((pct >= 0.0) & (pct < 100.0))
    usual = np.asarray(stated.any(axis=1) & usable.all(axis=1))
    table = np.where(stated, pct, -1.0)
    names = names_of(table, usual, lambda row: str(_of_percents(families[row])))
    half = np.where(stated, pct, 0.0).T
    limits = np.stack([-half[0], half[0], -half[1], half[1]])
    return UsualLimits.of_percent(usual, stated[:, 0], np.full(len(pct), T25_C), limits, names)


def _makes_it_of_percents(kind: type) -> bool:
    """Whether a class has ± % of R25 and of B, and itself makes its tolerance.

    One whose parts hold a tolerance each may say another thing with it, and so may one that has
    the percents of the class from which it derives.
    """
    names = "tolerance", "r25_tol_pct", "b_tol_pct"
    homes = [next((base for base in kind.__mro__ if name in vars(base)), None) for name in names]
    home = homes[0]
    if home is None or any(other is not home for other in homes):
        return False
    return isinstance(vars(home)["tolerance"], property)


def _of_percents(part: _InPercent) -> Tolerance | None:
    if part.r25_tol_pct is None and part.b_tol_pct is None:
        return None
    return Tolerance.of(r25_pct=part.r25_tol_pct, b_pct=part.b_tol_pct)


def as_numbers(tolerance: Tolerance) -> Numbers | None:
    """Give a tolerance as numbers, if it is of the usual kind."""
    of_r: ResistanceLimits | None = None
    of_b: BLimits | None = None
    for entry in tolerance.limits:
        if type(entry) is ResistanceLimits and of_r is None:
            of_r = entry
        elif type(entry) is BLimits and of_b is None:
            of_b = entry
        else:
            return None
    t_ref_c, r_low, r_high = (
        (T25_C, 0.0, 0.0) if of_r is None else (of_r.t_c, of_r.low_pct, of_r.high_pct)
    )
    b_low, b_high = (0.0, 0.0) if of_b is None else (of_b.low_pct, of_b.high_pct)
    return of_r is not None, of_b is not None, t_ref_c, r_low, r_high, b_low, b_high


def names_of(table: Array, usual: Truth, name: Callable[[int], str]) -> tuple[str, ...]:
    """Name of the first usual row, and that of the first with another one.

    Parameters
    ----------
    table : array, shape (n, k)
        Rows that are alike have the same name.
    usual : array of bool, shape (n,)
    name : callable
        Gives that of a row.
    """
    rows = np.flatnonzero(usual)
    if not rows.size:
        return ()
    first = name(int(rows[0]))
    differing = rows[(table[rows] != table[rows[0]]).any(axis=1)]
    others = (name(row) for row in differing.tolist())
    other = next((text for text in others if text != first), None)
    return (first,) if other is None else (first, other)
