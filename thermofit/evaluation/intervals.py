"""Values with their uncertainty and coverage interval, block by block."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thermofit.equations.base import Array
from thermofit.evaluation.blocks import BLOCK, in_threads
from thermofit.evaluation.evaluator import horner
from thermofit.evaluation.propagating import Propagator
from thermofit.interval import Spans, combine, coverage_factor

__all__ = ["Plain", "spans"]

Plain = Callable[[int, Array, Array | None], tuple[Array, Array, Array | None]]
"""Given a start, values and their uncertainty: results, and what curve and values bring to u."""

_DEGREES = (12, 16, 24, 32)
_EXACT = 2e-13


def spans(
    quick: Propagator | None,
    plain: Plain,
    values: Array,
    u: Array | None,
    dof: float,
    coverage: float,
    workers: int,
) -> Spans:
    """Evaluate a curve with its uncertainty.

    Parameters
    ----------
    quick : Propagator, optional
        For blocks that lie within its limits as a whole.
    plain : callable
        For any other.
    values : array, any shape
    u : array, optional
        Standard uncertainties of the values, of their shape.
    dof : float
        Degrees of freedom behind the covariance of the curve.
    coverage : float
        Probability of the intervals.
    workers : int
        Number of threads.
    """
    if quick is None and values.size <= BLOCK:
        return _plainly(plain, 0, values, u, dof, coverage)
    flat = np.ascontiguousarray(values).reshape(-1)
    own = None if u is None else u.reshape(-1)
    mixed = own is not None and np.isfinite(dof)
    out = np.empty((5 if mixed else 4, flat.size))
    one_factor = coverage_factor(coverage, np.inf if own is not None else dof)
    factors = _factors(coverage, dof) if mixed and quick is not None else None
    if mixed and factors is None:
        quick = None
    known = []

    def work_off(first: int, last: int) -> None:
        work = np.empty((6, min(BLOCK, flat.size)))
        for start in range(first * BLOCK, min(last * BLOCK, flat.size), BLOCK):
            part = slice(start, start + BLOCK)
            value, u_value, low, high, *dof_place = out[:, part]
            given, u_given = flat[part], None if own is None else own[part]
            share = work[5, : given.size]
            k = one_factor
            if (
                quick is not None
                and given.min() >= quick.evaluator.low
                and given.max() <= quick.evaluator.high
                and quick.block(given, u_given, value, u_value, share, work[:5])
            ):
                known.append(True)
                if factors is not None:
                    # Welch–Satterthwaite, JCGM 100, G.4.
                    share *= share
                    np.divide(dof, share, out=dof_place[0])
                    share *= 2.0
                    share -= 1.0
                    horner(factors, share, low)
                    k = low
            else:
                found = _plainly(plain, start, given, u_given, dof, coverage)
                value[...], u_value[...], low[...], high[...] = (
                    found.value, found.u, found.low, found.high,
                )  # fmt: skip
                # Where no reading has a value, nothing shows what is known of the curve.
                if not np.isnan(found.value).all():
                    known.append(found.known)
                if mixed:
                    dof_place[0][...] = found.dof
                continue
            half = np.multiply(k, u_value, out=high)
            np.subtract(value, half, out=low)
            high += value

    in_threads(-(-flat.size // BLOCK), work_off, workers)
    shape = values.shape
    value, u_value, low, high, *effective = (row.reshape(shape) for row in out)
    # One number for all takes no memory.
    same = np.broadcast_to(np.float64(dof if own is None else np.inf), shape)
    dof_all = effective[0] if mixed else same
    return Spans(value, u_value, low, high, dof_all, any(known) or not known)


def _plainly(
    plain: Plain, start: int, values: Array, u: Array | None, dof: float, coverage: float
) -> Spans:
    """Evaluate all at once."""
    value, u_all, u_own = plain(start, values, u)
    known = bool(not np.isnan(u_all).all() or np.isnan(value).all())
    dof_all = np.full(values.shape, dof)
    if u_own is not None:
        u_all, dof_all = combine(u_all, dof, u_own)
    half = coverage_factor(coverage, dof_all) * u_all
    return Spans(value, u_all, value - half, value + half, dof_all, known)


def _factors(coverage: float, dof: float) -> tuple[float, ...] | None:
    """Coverage factor as a polynomial of 2·dof/(effective dof) − 1; None if none is exact.

    Student's t is smooth in the reciprocal of its degrees of freedom, and slow to invert.
    """
    chebyshev = np.polynomial.chebyshev
    at = np.linspace(0.0, 1.0, 101)
    exact = _factor_at(coverage, dof, at)
    for degree in _DEGREES:
        z = np.cos(np.pi * (np.arange(degree + 1) + 0.5) / (degree + 1))
        fitted = chebyshev.chebfit(z, _factor_at(coverage, dof, 0.5 + 0.5 * z), degree)
        falling = tuple(float(value) for value in chebyshev.cheb2poly(fitted)[::-1])
        if (np.abs(np.polyval(falling, 2.0 * at - 1.0) - exact) <= _EXACT * exact).all():
            return falling
    return None


def _factor_at(coverage: float, dof: float, share: Array) -> Array:
    with np.errstate(divide="ignore"):
        result: Array = coverage_factor(coverage, dof / share)
    return result
