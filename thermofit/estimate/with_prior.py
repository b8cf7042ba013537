"""A fit in which a prior says how the curve bends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.curve import Curve
from thermofit.equations.base import Array
from thermofit.errors import FitError, NotMonotoneError
from thermofit.estimate.plane import Plane, plane_of
from thermofit.estimate.prior import KILOKELVIN, Prior
from thermofit.estimate.prioruse import PriorUse
from thermofit.estimate.refusals import refuse_idle_points, trend
from thermofit.estimate.result import Fit
from thermofit.estimate.slips import likely_slip
from thermofit.estimate.sources import ErrorSources
from thermofit.estimate.update import Update, design_of, update
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    from thermofit.points import Points

__all__ = ["fit_with_prior"]

_CONFLICT_P = 0.01
_MOST_WIDENED = 1e6
_NARROW_K = 10.0
_MAX_REWEIGHTINGS = 50


def fit_with_prior(points: Points, prior: Prior, sources: ErrorSources) -> Fit:
    """Fit the curve of a prior's equation to points.

    Parameters
    ----------
    points : Points
        One or more, with uncertainties.
    prior : Prior
    sources : ErrorSources
        Of the errors of the points.

    Returns
    -------
    Fit
        Its `prior` says what the prior did.

    Raises
    ------
    FitError
        The points have no uncertainties, do not fall with temperature, or lead nowhere.
    NotMonotoneError
        The curve turns within the range of the points.
    """
    plane = plane_of(points, "temperature")
    _refuse(plane)
    ordered = sources.take(plane.order)
    if not (np.hypot(plane.u_t_k, plane.u_r_ohm) > 0.0).all():
        raise FitError("every point needs an uncertainty on one axis at least")
    found, effects = _settled(plane, prior, ordered)
    spare = len(points) - 1
    p_value = _tail(found.chi2, spare)
    use = PriorUse(prior, 1.0, found.chi2, p_value, sources.names, found.by_sources, found.by_prior)
    warnings: list[str] = []
    if p_value is not None and p_value < _CONFLICT_P:
        factor = _widening(plane, prior, effects, spare)
        wider = prior.widened(factor)
        warnings.append(_conflict(plane, prior, effects, use, factor))
        found, effects = _settled(plane, wider, ordered)
        use = PriorUse(
            wider, factor, use.chi2, p_value, sources.names, found.by_sources, found.by_prior
        )
    try:
        curve, about_range = _curve(plane, prior, found, ordered.dof)
    except NotMonotoneError as error:
        if not warnings:
            raise
        raise FitError(f"{warnings[0]} As they stand no curve can be drawn: {error}") from error
    sigma = np.linalg.norm(effects, axis=1) / curve_slope(plane, curve)
    back = np.argsort(plane.order)
    fit = Fit(points, curve, "temperature", _how(prior), sigma[back], None, prior=use)
    return fit.replace(warnings=(*warnings, *about_range, *_doubts(fit, prior)))


def curve_slope(plane: Plane, curve: Curve) -> Array:
    """−d ln R/dT of a curve at the readings, in 1/K."""
    return curve._local_b(plane.inv_t, plane.ln_r) * plane.inv_t**2


def _refuse(plane: Plane) -> None:
    if not plane.stated:
        raise FitError(
            "a prior is weighed against the uncertainties of the readings, and none were given: "
            "state u_t_k, or u_r_ohm, or both"
        )
    refuse_idle_points(plane)
    if len(plane.t_k) > 1 and trend(plane) >= 0.0:
        low, high = plane.t_k[[0, -1]] - ZERO_C_K
        if low == high:
            return
        raise FitError(
            f"the resistance rises with temperature, from {format_ohm(float(plane.r_ohm[0]))} at "
            f"{low:g} °C to {format_ohm(float(plane.r_ohm[-1]))} at {high:g} °C, and that of an "
            "NTC falls: are two readings swapped, or is it a PTC or platinum sensor?"
        )


def _settled(plane: Plane, prior: Prior, sources: ErrorSources) -> tuple[Update, Array]:
    """Update with the slope that the temperatures' errors need taken from the result itself."""
    equation = prior.equation
    c = _plain(np.concatenate([[0.0], prior.mean]))
    slope = equation.slope(plane.inv_t, c) * plane.inv_t**2
    found = update(prior, plane.inv_t, plane.ln_r, sources.in_plane(slope))
    for _ in range(_MAX_REWEIGHTINGS):
        before = slope
        slope = equation.slope(plane.inv_t, _plain(found.coefficients)) * plane.inv_t**2
        if (np.abs(slope - before) <= 1e-12 * np.abs(slope)).all() or not sources.t_k.any():
            break
        found = update(prior, plane.inv_t, plane.ln_r, sources.in_plane(slope))
    return found, sources.in_plane(slope)


def _plain(scaled: Array) -> Array:
    """Coefficients of the equation from ln R25 and powers of 10³ K."""
    result: Array = scaled * KILOKELVIN ** np.arange(len(scaled))
    result[0] = np.exp(scaled[0])
    return result


def _curve(plane: Plane, prior: Prior, found: Update, dof: Array) -> tuple[Curve, tuple[str, ...]]:
    c = _plain(found.coefficients)
    if not np.isfinite(c).all() or c[0] == 0.0:
        raise FitError(
            "the readings lead to no finite resistance at 25 °C: check temperatures and resistances"
        )
    per_scaled = KILOKELVIN ** np.arange(len(c))
    per_scaled[0] = c[0]
    factor = per_scaled[:, np.newaxis] * found.factor
    low, high = float(plane.t_k[0]) - ZERO_C_K, float(plane.t_k[-1]) - ZERO_C_K
    known_low, known_high = prior.t_range_c
    ranges = [(min(low, known_low), max(high, known_high))]
    if low < high:
        ranges.append((low, high))
    for place, t_range_c in enumerate(ranges):
        try:
            curve = Curve(
                prior.equation,
                c,
                *t_range_c,
                covariance=factor @ factor.T,
                dof=_dof(plane, found, dof),
                range_basis="stated" if place == 0 else "data",
            )
        except NotMonotoneError:
            if place == len(ranges) - 1:
                raise
            continue
        about = []
        if place:
            about.append(
                "the curve turns beyond the readings, so it is valid over their range only"
            )
        elif low < known_low or high > known_high:
            fahrenheit = "" if high < 100.0 else " (Are they in °F?)"
            about.append(
                f"the readings go beyond {known_low:g} to {known_high:g} °C, over which the prior "
                f"is known: there the curve rests on the readings alone{fahrenheit}"
            )
        return curve, tuple(about)
    raise AssertionError("unreachable: the last range returns or raises")


def _dof(plane: Plane, found: Update, dof: Array) -> float:
    """Fewest effective degrees of freedom of the curve at the readings.

    Welch–Satterthwaite, JCGM 100, equation (G.2b); the prior counts as known.
    """
    if np.isinf(dof).all():
        return np.inf
    gradient = design_of(plane.inv_t, len(found.coefficients))
    effects = gradient @ found.by_sources
    total = np.sum((gradient @ found.factor) ** 2, axis=1)
    spent = np.sum(effects**4 / dof, axis=1) / total**2
    return float(1.0 / spent.max()) if spent.max() > 0.0 else np.inf


def _tail(chi2: float, dof: int) -> float | None:
    """Probability of a larger χ²; None without degrees of freedom."""
    if dof == 0:
        return None
    from scipy.special import gammaincc

    return float(gammaincc(0.5 * dof, 0.5 * chi2))


def _widening(plane: Plane, prior: Prior, effects: Array, dof: int) -> float:
    """Factor on the prior's variances at which the readings are as far from it as is usual."""

    def excess(log_factor: float) -> float:
        wider = prior.widened(float(np.exp(log_factor)))
        return update(wider, plane.inv_t, plane.ln_r, effects).chi2 - dof

    top = float(np.log(_MOST_WIDENED))
    if excess(top) >= 0.0:
        return _MOST_WIDENED
    from scipy.optimize import brentq

    return float(np.exp(brentq(excess, 0.0, top, xtol=1e-6)))


def _conflict(plane: Plane, prior: Prior, effects: Array, use: PriorUse, factor: float) -> str:
    spare = len(plane.t_k) - 1
    told = (
        f"these readings do not bend as {prior.origin} do (χ² = {use.chi2:.3g} with {spare} degree"
        f"{'s' if spare > 1 else ''} of freedom, {_p_text(use.p_value)}). The readings were "
        f"believed: the prior was widened {np.sqrt(factor):.3g}-fold, and the band with it"
    )
    if factor == _MOST_WIDENED:
        told += ". Even so they disagree among themselves: one of them is wrong, or known less well"
    slip = likely_slip(plane, prior, effects)
    return told + (f". {slip}" if slip else ". A wrong reading, another unit, or a material apart?")


def _p_text(p_value: float | None) -> str:
    return "p < 1e-12" if p_value is None or p_value < 1e-12 else f"p = {p_value:.1g}"


def _doubts(fit: Fit, prior: Prior) -> list[str]:
    n = len(fit.points)
    told = []
    span = float(fit.points.t_c.max() - fit.points.t_c.min())
    if n == 1:
        told.append(
            f"one reading tells the level alone: how the resistance changes with temperature comes "
            f"from {prior.origin} only, so the band is wide away from {fit.points.t_c[0]:g} °C"
        )
    elif span < _NARROW_K:
        told.append(
            f"the readings span only {span:.3g} K: B comes mostly from {prior.origin}; add one at "
            "another temperature"
        )
    return told


def _how(prior: Prior) -> str:
    return f"generalised least squares in 1/T and ln R, with the bend of {prior.origin} as prior"
