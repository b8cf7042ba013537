"""What cannot be fitted, and the words for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.errors import FitError
from thermofit.estimate.plane import Plane
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    from thermofit.estimate.result import Fit

__all__ = [
    "TOO_CLOSE",
    "refuse_absurd",
    "refuse_constant",
    "refuse_idle_points",
    "refuse_lost_digits",
    "refuse_too_few",
    "refuse_unreached",
    "refuse_unusable",
    "refuse_wrong_trend",
    "trend",
]

_HOTTEST_C = 1500.0

# How far an uncertainty may be off for the rounding of the covariance.
_LOST_PART = 0.01

TOO_CLOSE = (
    "the points lie too close together to determine the coefficients of {}; spread them over the "
    "range, or use an equation with fewer coefficients"
)


def trend(plane: Plane) -> float:
    """Sign of the change of resistance with temperature."""
    inv_t, ln_r = plane.inv_t, plane.ln_r
    return -float(np.sign((inv_t - inv_t.mean()) @ (ln_r - ln_r.mean())))


def refuse_idle_points(plane: Plane) -> None:
    """Refuse points that can determine no curve at all."""
    refuse_unusable(plane)
    refuse_constant(plane)


def refuse_constant(plane: Plane) -> None:
    """Refuse one resistance at several points."""
    if len(np.unique(plane.r_ohm)) == 1 and len(plane.t_k) > 1:
        raise FitError(
            f"all {len(plane.r_ohm)} points have the resistance {plane.r_ohm[0]:g} Ω: the reading "
            "does not follow the temperature; check the contacts and the range of the meter"
        )


def refuse_unusable(plane: Plane) -> None:
    """Refuse a temperature that is none, and a point without uncertainty among those with."""
    hottest_c = float(plane.t_k[-1]) - ZERO_C_K
    if hottest_c > _HOTTEST_C:
        raise FitError(
            f"no resistance thermometer works at {hottest_c:g} °C: are the columns of temperature "
            "and resistance swapped?"
        )
    blind = (plane.u_t_k == 0.0) & (plane.u_r_ohm == 0.0)
    if plane.stated and blind.any():
        number = int(plane.order[np.flatnonzero(blind)[0]]) + 1
        raise FitError(
            f"point {number} has no uncertainty on either axis, which would make it infinitely "
            "heavy; state one, or leave them all out"
        )


def refuse_too_few(plane: Plane, equation: Equation) -> None:
    """Refuse fewer temperatures than coefficients."""
    terms, distinct = len(equation.coefficients), len(np.unique(plane.t_k))
    if terms == 0:
        raise FitError(
            f"{equation.name} is not fitted; a table becomes a curve as it is (Curve.from_table)"
        )
    if distinct >= terms:
        return
    have = "1 point" if len(plane.t_k) == 1 else f"{len(plane.t_k)} points"
    if distinct < len(plane.t_k):
        have += f" at {distinct} temperature" + ("s" if distinct > 1 else "")
    simpler = (
        " or use the equation beta (2 points)" if equation.ntc and terms > 2 <= distinct else ""
    )
    raise FitError(
        f"{equation.name} has {terms} coefficients; {have} cannot determine them: add points "
        f"at other temperatures{simpler}"
    )


def refuse_absurd(equation: Equation, c: Array) -> None:
    """Refuse coefficients that are beyond what a number can hold."""
    for entry, value in zip(equation.coefficients, c, strict=True):
        if not np.isfinite(value) or (entry.logarithmic and value == 0.0):
            raise FitError(
                f"the points lead to {entry.name} = {value:g}, which no {equation.label} curve can "
                "have: check their temperatures and resistances"
            )


def refuse_unreached(result: Fit) -> None:
    """Refuse a curve that does not reach all of its own points."""
    misses = ~(np.isfinite(result.residuals_k) & np.isfinite(result.residuals_pct))
    if misses.any():
        number = int(np.flatnonzero(misses)[0])
        raise FitError(
            f"the best {result.equation.label} curve does not reach point {number + 1} "
            f"({result.points.t_c[number]:g} °C, {result.points.r_ohm[number]:g} Ω): a wrong "
            "reading, or another equation is needed"
        )


def refuse_wrong_trend(plane: Plane, equation: Equation) -> None:
    """Refuse points whose resistance rises for an equation that falls."""
    if equation.ntc and trend(plane) >= 0.0:
        raise FitError(
            f"the resistance rises with temperature, from {plane.r_ohm[0]:g} Ω to "
            f"{plane.r_ohm[-1]:g} Ω, and {equation.name} describes one that falls: is it a PTC or "
            "platinum sensor (equation callendar-van-dusen), or are two columns swapped?"
        )


def refuse_lost_digits(plane: Plane, equation: Equation, c: Array, factor: Array) -> None:
    """Refuse coefficients whose covariance no longer tells how well the curve is known.

    Coefficients of plain powers grow and cancel as points draw together.  The
    factor of the covariance suffers from that once, the covariance twice; they
    must still give the same uncertainty of the curve at the points.
    """
    x, _, _, _ = plane.axes(equation)
    gradient = equation.gradient(x, c)
    by_factor = np.linalg.norm(gradient.T @ factor, axis=1)
    by_covariance = np.sqrt(np.einsum("in,ij,jn->n", gradient, factor @ factor.T, gradient))
    if not np.allclose(by_covariance, by_factor, rtol=_LOST_PART, atol=1e-3 * by_factor.max()):
        raise FitError(TOO_CLOSE.format(equation.name))
