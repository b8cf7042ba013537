"""Which curves of a large set are monotone beyond doubt, and their values at 25 and 85 °C.

What is told here is told of all curves of one equation at once, with a margin to the
limits of `thermofit.equations.branch.find_branch`, which goes from curve to curve and
decides about those that are left.

A polynomial lies between the least and the largest of its coefficients in the basis of
Bernstein on an interval, and turns there no more often than they change sign (G. Farin,
"Curves and Surfaces for CAGD").
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.equations.base import Array
from thermofit.units import T0_K, ZERO_C_K

__all__ = ["B_PER_LOG_RATIO_K", "Certificate", "certified", "has_certificate"]

Mask = npt.NDArray[np.bool_]

B_PER_LOG_RATIO_K: Final = 1.0 / (1.0 / T0_K - 1.0 / (85.0 + ZERO_C_K))
"""B25/85 is this times ln(R25/R85)."""

_BLOCK: Final = 4096
_T_LIMITS_K: Final = (25.0, 1900.0)
_LN_R_LIMITS: Final = (-25.0, 40.0)
_LOWEST_LN_R: Final = -40.0
"""Where the grid begins on which `find_branch` looks."""

_CELLS: Final = 0.13
"""Two of its steps."""

_HALF: Final = 0.065
"""One of them: as much must lie between the range and the ends of what is looked at."""

_STEPS: Final = 30
_SETTLED: Final = 1e-6
_SMALLEST_ALPHA: Final = 1.1e-5
_CLEAR: Final = 1e-6
"""Least slope, as a part of the sum of its terms' sizes: ten digits above rounding."""

_MILD: Final = 1e-12
_POLYNOMIALS: Final = {
    "beta": 2, "steinhart-hart": 3,
    **{f"bent-beta-{k}": k for k in range(3, 8)},
    **{f"log-polynomial-{k}": k for k in range(2, 6)},
    **{f"inverse-polynomial-{k}": k for k in range(2, 6)},
}  # fmt: skip


@dataclass(frozen=True, eq=False)
class Certificate:
    """What is certain of n curves.

    Parameters
    ----------
    sound : array of bool, shape (n,)
        The curve is monotone over its range, as `Curve` demands it.
    ln_r_25, ln_r_85 : array, shape (n,)
        Ln R at 25 and 85 °C; NaN where the curve is not sound or its range does not hold
        the temperature.
    """

    sound: Mask
    ln_r_25: Array
    ln_r_85: Array


def has_certificate(name: str) -> bool:
    """Whether curves of the equation of this name are looked at here."""
    return name in _POLYNOMIALS or name == "shifted-exponential"


def certified(
    name: str, c: Array, r_ref_ohm: Array | float, t_min_c: Array, t_max_c: Array
) -> Certificate:
    """Look at curves of one equation.

    Parameters
    ----------
    name : str
        One for which `has_certificate` is true.
    c : array, shape (k, n)
        Coefficients.
    r_ref_ohm : float or array, shape (n,)
        Reference resistance of the polynomials.
    t_min_c, t_max_c : array, shape (n,)
        Valid ranges in °C.

    Examples
    --------
    >>> found = certified("beta", np.array([[1e4, 1e4], [3977.0, -1.0]]), 1.0,
    ...                   np.array([-40.0, -40.0]), np.array([125.0, 125.0]))
    >>> found.sound, np.exp(found.ln_r_25).round()
    (array([ True, False]), array([10000.,    nan]))
    """
    n = c.shape[1]
    r_ref_ohm = np.broadcast_to(np.asarray(r_ref_ohm, dtype=np.float64), (n,))
    sound, ln_r = np.zeros(n, dtype=bool), np.full((2, n), np.nan)
    for at in range(0, n, _BLOCK):
        part = slice(at, at + _BLOCK)
        with np.errstate(all="ignore"):
            sound[part], ln_r[:, part] = _look(
                name, c[:, part], r_ref_ohm[part], t_min_c[part], t_max_c[part]
            )
    return Certificate(sound, ln_r[0], ln_r[1])


def _look(
    name: str, c: Array, r_ref_ohm: Array, t_min_c: Array, t_max_c: Array
) -> tuple[Mask, Array]:
    cold, hot = t_min_c + ZERO_C_K, t_max_c + ZERO_C_K
    sound = np.isfinite(c).all(axis=0) & (r_ref_ohm > 0.0) & np.isfinite(r_ref_ohm)
    sound &= (cold >= _T_LIMITS_K[0]) & (cold < hot) & (hot <= _T_LIMITS_K[1])
    wanted_c = np.array([[25.0], [85.0]])
    held = (t_min_c <= wanted_c) & (wanted_c <= t_max_c)
    inv_t = 1.0 / (wanted_c + ZERO_C_K)
    if name == "shifted-exponential":
        well, ln_r = _shifted(c, cold, hot, inv_t)
        sound &= c[0] > 0.0
    elif name == "steinhart-hart" or name.startswith("log-polynomial"):
        p, shift = _as_polynomial(name, c, r_ref_ohm)
        well, ln_r = _by_resistance(p, shift, 1.0 / hot, 1.0 / cold, inv_t)
    else:
        p, shift = _as_polynomial(name, c, r_ref_ohm)
        well = _by_temperature(p, shift, 1.0 / hot, 1.0 / cold)
        if not name.startswith("inverse"):
            sound &= c[0] > 0.0
        ln_r = _value(p, inv_t - shift)
    sound &= well & ~(held & np.isnan(ln_r)).any(axis=0)
    return sound, np.where(held & sound, ln_r, np.nan)


def _as_polynomial(name: str, c: Array, r_ref_ohm: Array) -> tuple[Array, Array]:
    """Coefficients of powers of x − shift, and the shift; as `Equation.plain_polynomial`."""
    none = np.zeros_like(r_ref_ohm)
    if name == "steinhart-hart":
        return np.stack([c[0], c[1], none, c[2]]), none
    if name.startswith("log-polynomial"):
        return c, np.log(r_ref_ohm)
    if name.startswith("inverse-polynomial"):
        return np.concatenate([[c[0] + np.log(r_ref_ohm)], c[1:]]), none
    return np.concatenate([[np.log(c[0])], c[1:]]), none + 1.0 / T0_K


def _shifted(c: Array, cold: Array, hot: Array, inv_t: Array) -> tuple[Mask, Array]:
    """R = a·exp(b/(T + c)) falls above its pole if b is positive."""
    alpha = c[1] / (hot + c[2]) ** 2
    well = (c[1] > 0.0) & (cold + c[2] > 1e-3 * cold) & (alpha > _SMALLEST_ALPHA)
    well &= np.abs(c[1] / (cold + c[2])) < 1e3
    return well, np.log(c[0]) + c[1] * inv_t / (1.0 + c[2] * inv_t)


def _by_temperature(p: Array, shift: Array, low: Array, high: Array) -> Mask:
    """Ln R as a polynomial of 1/T: it rises steadily from `low` to `high`."""
    slope = _bernstein(_derivative(p), low - shift, high - shift)
    least = slope.min(axis=0)
    reach = np.maximum(np.abs(low - shift), np.abs(high - shift))
    well = least > _CLEAR * _size(_derivative(p), reach)
    well &= least * (high - low) / 1024.0 > _MILD * _size(p, reach)
    well &= least * low**2 > _SMALLEST_ALPHA
    found: Mask = well & (_size(p, reach) < 1e3)
    return found


def _by_resistance(
    p: Array, shift: Array, low: Array, high: Array, inv_t: Array
) -> tuple[Mask, Array]:
    """1/T as a polynomial of ln R: it rises steadily where it has the values `low` to `high`."""
    x, solved = _solve(p, shift, inv_t)
    # Some way beyond the ends of the range: two steps find these well enough.
    ends, _ = _newton(p, np.stack([low, high]), x[:1], shift, steps=2)
    begin, end = ends[0] + shift - _CELLS, ends[1] + shift + _CELLS
    well = (begin > _LN_R_LIMITS[0]) & (end < _LN_R_LIMITS[1])
    begin, end = begin - shift, end - shift
    slope = _bernstein(_derivative(p), begin, end)
    least = slope.min(axis=0)
    reach = np.maximum(np.abs(begin), np.abs(end))
    well &= least > _CLEAR * _size(_derivative(p), reach)
    well &= least * _CELLS > _MILD * _size(p, reach)
    at_begin, at_end = _value(p, np.stack([begin, end]))
    # So it is not flat either: its slope is less than low/0.13.
    well &= (at_begin > 0.0) & (at_begin + least * _HALF < low) & (at_end - least * _HALF > high)
    # Of two stretches that have all values the first is taken; there must be none before.
    before = _bernstein(_derivative(p), _LOWEST_LN_R - shift, begin)
    changes = (np.diff(np.sign(before), axis=0) != 0.0).sum(axis=0)
    clear = (np.abs(before) > _CLEAR * np.abs(before).max(axis=0)).all(axis=0)
    highest = _bernstein(p, _LOWEST_LN_R - shift, begin).max(axis=0)
    well &= ((changes <= 1) & clear) | (highest < 0.999 * high)
    # A long step may have led to another stretch.
    found = solved & (x >= begin) & (x <= end)
    return well, np.where(found, x + shift, np.nan)


def _solve(p: Array, shift: Array, inv_t: Array) -> tuple[Array, Mask]:
    """Where a polynomial has these values, shape (m, 1), less the shift; and whether it was found.

    Both are of shape (m, n).
    """
    # One of them first, from somewhere usual: 10 kΩ; the others lie near.
    start = np.log(1e4) - shift[np.newaxis]
    first, first_solved = _newton(p, inv_t[:1], start, shift)
    others, others_solved = _newton(p, inv_t[1:], first, shift)
    return np.concatenate([first, others]), np.concatenate([first_solved, others_solved])


def _newton(
    p: Array, targets: Array, x: Array, shift: Array, steps: int = _STEPS
) -> tuple[Array, Mask]:
    """Newton's method from `x`; and whether the last step was small."""
    least, most = _LN_R_LIMITS[0] - shift, _LN_R_LIMITS[1] - shift
    slope = _derivative(p)
    settled: Mask = np.zeros(x.shape, dtype=bool)
    for _ in range(steps):
        step = (_value(p, x) - targets) / _value(slope, x)
        # The error after a step is about its square.
        settled = np.abs(step) <= _SETTLED
        x = np.minimum(np.maximum(x - step, least), most)
        if settled.all():
            break
    return x, settled


def _value(p: Array, x: Array) -> Array:
    if len(p) == 1:
        constant: Array = p[0] + np.zeros_like(x)
        return constant
    result: Array = p[-1] * x
    for term in p[-2:0:-1]:
        result += term
        result *= x
    result += p[0]
    return result


def _derivative(p: Array) -> Array:
    derivative: Array = p[1:] * np.arange(1.0, len(p))[:, np.newaxis]
    return derivative


def _size(p: Array, reach: Array) -> Array:
    """Sum of the sizes of the terms of a polynomial within ± `reach`."""
    return _value(np.abs(p), reach)


def _bernstein(p: Array, low: Array, high: Array) -> Array:
    """Coefficients of a polynomial in the basis of Bernstein on an interval, shape as `p`."""
    degree = len(p) - 1
    moved = np.array(p)
    for first in range(degree):  # Taylor's expansion at `low`, by repeated Horner
        for k in range(degree - 1, first - 1, -1):
            moved[k] += low * moved[k + 1]
    width = high - low
    scale = np.ones_like(width)
    for k in range(degree + 1):
        moved[k] *= scale
        scale = scale * width
    out = np.empty_like(moved)
    for i in range(degree + 1):
        out[i] = sum(comb(i, k) / comb(degree, k) * moved[k] for k in range(i + 1))
    return out
