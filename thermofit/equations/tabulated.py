"""A curve given by its nodes: monotone interpolation in the plane."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import ClassVar

import numpy as np

from thermofit.equations.base import Array, Coefficient, Equation, Explicit
from thermofit.errors import InputError, NotMonotoneError
from thermofit.units import ZERO_C_K

__all__ = ["Tabulated"]


@dataclass(frozen=True)
class Tabulated(Equation):
    """Cubic pieces through the nodes of an R–T table, monotone like the table.

    The pieces run in the plane of 1/T and ln R, where a thermistor is nearly
    straight.  Their slopes at the nodes are those of the shape-preserving
    interpolant of F. N. Fritsch and J. Butland, SIAM J. Sci. Stat. Comput. 5
    (1984) 300–304, as SciPy's ``PchipInterpolator`` finds them.  Beyond the first
    and the last node the line goes on straight.

    Parameters
    ----------
    t_c : sequence of float
        Temperatures of the nodes in °C, rising.
    r_ohm : sequence of float
        Resistances of the nodes in ohms, falling throughout or rising throughout.
    node_b_k : sequence of float, optional
        Slope d ln R/d(1/T) at each node, in kelvin: the local B value.  Found
        with SciPy where it is not given.

    Raises
    ------
    NotMonotoneError
        The resistances, or the pieces with these slopes, turn.
    InputError
        Fewer than two nodes, or a number that is no temperature or resistance.
    """

    t_c: tuple[float, ...] = (0.0, 1.0)
    r_ohm: tuple[float, ...] = (1.0, 2.0)
    node_b_k: tuple[float, ...] = ()

    label: ClassVar[str] = "Table"
    formula: ClassVar[str] = "monotone cubic pieces of ln R over 1/T"
    explicit: ClassVar[Explicit] = "resistance"
    ntc: ClassVar[bool] = False

    def __post_init__(self) -> None:
        for field in ("t_c", "r_ohm", "node_b_k"):
            object.__setattr__(self, field, tuple(float(v) for v in getattr(self, field)))
        _check_nodes(self.t_c, self.r_ohm)
        if not self.node_b_k:
            object.__setattr__(self, "node_b_k", self._shape_preserving_slopes())
        self._check_slopes()

    @property
    def name(self) -> str:
        """Name of the equation."""
        return "tabulated"

    @property
    def coefficients(self) -> tuple[Coefficient, ...]:
        """None: the nodes are the equation."""
        return ()

    @property
    def limits_c(self) -> tuple[float, float]:
        """First and last node: a table says nothing beyond them."""
        return self.t_c[0], self.t_c[-1]

    def value(self, x: Array, c: Array) -> Array:
        """Ln R at 1/T."""
        del c
        at, step, s = self._locate(x)
        left, right = self._ln_r[at], self._ln_r[at + 1]
        slope_left, slope_right = self._slopes[at] * step, self._slopes[at + 1] * step
        inside = np.clip(s, 0.0, 1.0)
        # Bernstein form: each end's value and slope enter without cancellation.
        rest = 1.0 - inside
        cubic = rest**2 * ((1.0 + 2.0 * inside) * left + inside * slope_left) + inside**2 * (
            (1.0 + 2.0 * rest) * right - rest * slope_right
        )
        return cubic + (s - inside) * np.where(s < 0.0, slope_left, slope_right)

    def slope(self, x: Array, c: Array) -> Array:
        """D ln R / d(1/T)."""
        del c
        at, step, s = self._locate(x)
        rise = (self._ln_r[at + 1] - self._ln_r[at]) / step
        inside = np.clip(s, 0.0, 1.0)
        left, right = self._slopes[at], self._slopes[at + 1]
        return (
            6.0 * inside * (1.0 - inside) * rise
            + (1.0 - inside) * (1.0 - 3.0 * inside) * left
            + inside * (3.0 * inside - 2.0) * right
        )

    def gradient(self, x: Array, c: Array) -> Array:
        """Empty: there are no coefficients."""
        del c
        return np.empty((0, *np.shape(x)))

    def turning_points(self, c: Array, low: float, high: float) -> Array:
        """None: construction has made sure of that."""
        del c, low, high
        return np.empty(0)

    @cached_property
    def _x(self) -> Array:
        """Inverse temperatures, rising (so the nodes are in reverse)."""
        return 1.0 / (np.array(self.t_c[::-1]) + ZERO_C_K)

    @cached_property
    def _ln_r(self) -> Array:
        result: Array = np.log(np.array(self.r_ohm[::-1]))
        return result

    @cached_property
    def _slopes(self) -> Array:
        return np.array(self.node_b_k[::-1])

    def _locate(self, x: Array) -> tuple[np.typing.NDArray[np.intp], Array, Array]:
        """Piece, its width, and the place within it (0 to 1; beyond at the ends)."""
        at = np.clip(np.searchsorted(self._x, x, side="right") - 1, 0, len(self._x) - 2)
        step = self._x[at + 1] - self._x[at]
        return at, step, (x - self._x[at]) / step

    def _shape_preserving_slopes(self) -> tuple[float, ...]:
        from scipy.interpolate import PchipInterpolator

        slopes = PchipInterpolator(self._x, self._ln_r).derivative()(self._x)
        # Where the three-point formula would leave an end flat, give it the slope of
        # the outermost piece: a flat end has no temperature for a resistance.
        rise = np.diff(self._ln_r) / np.diff(self._x)
        for end in (0, -1):
            if slopes[end] * rise[end] <= 1e-9 * rise[end] ** 2:
                slopes[end] = rise[end]
        return tuple(float(slope) for slope in slopes[::-1])

    def _check_slopes(self) -> None:
        if len(self.node_b_k) != len(self.t_c):
            raise InputError(
                f"{len(self.node_b_k)} node slopes for {len(self.t_c)} nodes; "
                "leave the slopes out to have them found"
            )
        rise = np.diff(self._ln_r) / np.diff(self._x)
        left, right = self._slopes[:-1] / rise, self._slopes[1:] / rise
        # Necessary and sufficient for a monotone cubic piece: F. N. Fritsch and
        # R. E. Carlson, SIAM J. Numer. Anal. 17 (1980) 238–246.
        most = 3.0 + 1e-12  # an end slope may be three, give or take its last digit
        inside_box = (left >= 0.0) & (right >= 0.0) & (left <= most) & (right <= most)
        ellipse = left**2 + right**2 + left * right - 6.0 * (left + right) + 9.0
        good = inside_box | ((left >= 0.0) & (right >= 0.0) & (ellipse <= 0.0))
        if not good.all():
            worst = int(np.flatnonzero(~good)[0])
            t_c = 1.0 / self._x[worst + 1] - ZERO_C_K
            raise NotMonotoneError(
                f"the node slopes make the table turn above {t_c:.6g} °C; "
                "leave the slopes out to have them found",
                t_c,
            )


def _check_nodes(t_c: Sequence[float], r_ohm: Sequence[float]) -> None:
    if len(t_c) != len(r_ohm):
        raise InputError(f"a table needs as many resistances as temperatures, not {len(r_ohm)} "
                         f"for {len(t_c)}")  # fmt: skip
    if len(t_c) < 2:
        raise InputError(f"a table needs two nodes or more, not {len(t_c)}")
    for number, (t, r) in enumerate(zip(t_c, r_ohm, strict=True), start=1):
        if not (np.isfinite(t) and t > -ZERO_C_K):
            raise InputError(f"node {number}: {t!r} °C is not a temperature")
        if not (np.isfinite(r) and r > 0.0):
            raise InputError(f"node {number}: {r!r} Ω is not a positive resistance")
    step = np.diff(t_c)
    if not (step > 0.0).all():
        number = int(np.flatnonzero(step <= 0.0)[0]) + 2
        raise InputError(
            f"node {number}: {t_c[number - 1]!r} °C is not above the node before it; "
            "sort the table by temperature and give each temperature once"
        )
    change = np.sign(np.diff(r_ohm))
    turns = np.flatnonzero(change != (change[0] or 1.0))
    if turns.size:
        t_turn = float(t_c[int(turns[0])])
        raise NotMonotoneError(
            f"the resistances of the table turn, or stand still, at {t_turn:.6g} °C", t_turn
        )
