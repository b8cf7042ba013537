"""A fit in which a prior says how the curve bends."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.curve import Curve
from thermofit.equations.base import Array
from thermofit.errors import FitError, NotMonotoneError
from thermofit.estimate.chi2 import upper_tail
from thermofit.estimate.conflict import CONFLICT_P, conflict, widening
from thermofit.estimate.plane import Plane, plane_of
from thermofit.estimate.prior import KILOKELVIN, Prior
from thermofit.estimate.prioruse import PriorUse
from thermofit.estimate.refusals import (
    refuse_constant,
    refuse_lost_digits,
    refuse_unusable,
    trend,
)
from thermofit.estimate.result import Fit
from thermofit.estimate.slips import nearer_in_fahrenheit
from thermofit.estimate.sources import ErrorSources
from thermofit.estimate.update import (
    TOO_SMALL,
    Update,
    fewest_dof,
    settled,
    slope_per_k,
    update,
)
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    from thermofit.points import Points

__all__ = ["fit_with_prior"]

# Resistances and their variances must be numbers.
_R_OHM = (1e-100, 1e100)
_LN_MOST = 700.0


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
    _refuse_rising(plane, prior, ordered)
    found, effects = settled(prior, plane.inv_t, plane.ln_r, ordered)
    spare = len(points) - 1
    p_value = upper_tail(found.chi2, spare)
    use = PriorUse(prior, 1.0, found.chi2, p_value, sources.names, found.by_sources, found.by_prior)
    warnings: list[str] = []
    if p_value is not None and p_value < CONFLICT_P:
        factor, apart = widening(plane, prior, effects, found.chi2)
        warnings.append(conflict(plane, prior, effects, use, factor, apart))
        if factor != 1.0:
            wider = prior.widened(factor)
            found, effects = settled(wider, plane.inv_t, plane.ln_r, ordered)
            use = PriorUse(
                wider, factor, use.chi2, p_value, sources.names, found.by_sources, found.by_prior
            )
    try:
        curve, about_range = _curve(plane, prior, found, ordered.dof)
    except (FitError, NotMonotoneError) as error:
        if not warnings:
            raise
        stop = "" if warnings[0].endswith("?") else "."
        raise FitError(
            f"{warnings[0]}{stop} As they stand no curve can be drawn: {error}"
        ) from error
    if about_range and not warnings and nearer_in_fahrenheit(plane, prior, effects):
        about_range = (f"{about_range[0]}. Are they in °F?",)
    slope_per_k = curve._local_b(plane.inv_t, plane.ln_r) * plane.inv_t**2
    sigma = (np.linalg.norm(effects, axis=1) / slope_per_k)[np.argsort(plane.order)]
    sigma.flags.writeable = False
    told = (*warnings, *about_range, *_doubts(points, use))
    return Fit(points, curve, "temperature", _how(prior), sigma, None, told, prior=use)


def _refuse(plane: Plane) -> None:
    if not plane.stated:
        raise FitError(
            "a prior is weighed against the uncertainties of the readings, and none were given: "
            "state u_t_k, or u_r_ohm, or both"
        )
    refuse_unusable(plane)


def _refuse_rising(plane: Plane, prior: Prior, sources: ErrorSources) -> None:
    """Refuse a resistance that rises, or stays, by more than the errors of the readings."""
    low, high = plane.t_k[[0, -1]] - ZERO_C_K
    if low == high or trend(plane) < 0.0:
        return
    slope = slope_per_k(plane.inv_t, np.concatenate([[0.0], prior.mean]))
    chi2 = update(prior, plane.inv_t, plane.ln_r, sources.in_plane(slope)).chi2
    p_value = upper_tail(chi2, len(plane.t_k) - 1)
    if p_value is None or p_value >= CONFLICT_P:
        return
    refuse_constant(plane)
    raise FitError(
        f"the resistance rises with temperature, from {format_ohm(float(plane.r_ohm[0]))} at "
        f"{low:g} °C to {format_ohm(float(plane.r_ohm[-1]))} at {high:g} °C, and that of an "
        "NTC falls: are two readings swapped, or is it a PTC or platinum sensor?"
    )


def _plain(scaled: Array) -> Array:
    """Coefficients of the equation from ln R25 and powers of 10³ K."""
    result: Array = scaled * KILOKELVIN ** np.arange(len(scaled))
    with np.errstate(over="ignore"):
        result[0] = np.exp(scaled[0])
    return result


def _curve(plane: Plane, prior: Prior, found: Update, dof: Array) -> tuple[Curve, tuple[str, ...]]:
    c = _plain(found.coefficients)
    _refuse_no_sensor(c[0], 25.0)
    factor = KILOKELVIN ** np.arange(len(c))[:, np.newaxis] * found.factor
    with np.errstate(invalid="ignore"):
        try:
            refuse_lost_digits(plane, prior.equation, c, factor)
        except FitError:
            raise FitError(TOO_SMALL) from None
    factor[0] *= c[0]
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
                dof=fewest_dof(found, plane.inv_t, dof),
                range_basis="stated" if place == 0 else "data",
            )
        except NotMonotoneError:
            if place == len(ranges) - 1:
                raise
            continue
        for t_c in t_range_c:
            _refuse_no_sensor(np.exp(min(float(curve._quiet_ln_r(t_c)), _LN_MOST)), t_c)
        about = []
        if place:
            about.append(
                "the curve turns beyond the readings, so it is valid over their range only"
            )
        elif low < known_low or high > known_high:
            about.append(
                f"the readings go beyond {known_low:g} to {known_high:g} °C, over which the bend "
                f"of {prior.origin} is known: there it is only continued"
            )
        return curve, tuple(about)
    raise AssertionError("unreachable: the last range returns or raises")


def _refuse_no_sensor(r_ohm: float, t_c: float) -> None:
    if not _R_OHM[0] < r_ohm < _R_OHM[1]:
        raise FitError(
            f"the readings lead to {r_ohm:.3g} Ω at {t_c:g} °C, which no sensor has: check "
            "temperatures and resistances"
        )


def _doubts(points: Points, use: PriorUse) -> list[str]:
    prior = use.prior
    if len(points) == 1:
        return [
            f"one reading tells the level alone: how the resistance changes with temperature comes "
            f"from {prior.origin} only, so the band is wide away from "
            f"{round(points.t_c[0], 3):g} °C"
        ]
    left = np.hypot(np.linalg.norm(use.by_prior[1]), np.linalg.norm(use.by_sources[1]))
    # The inverse variances of prior and readings add up.
    if left**2 > 0.5 * prior.covariance[0, 0]:
        return [
            f"the readings tell B less well than {prior.origin} do: add one at another "
            "temperature, or one that is better known"
        ]
    return []


def _how(prior: Prior) -> str:
    return f"generalised least squares in 1/T and ln R, with the bend of {prior.origin} as prior"
