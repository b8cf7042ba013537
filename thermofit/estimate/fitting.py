"""`fit`: from measured points to a curve."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from thermofit.curve import Curve
from thermofit.equations.base import Array, Equation
from thermofit.equations.catalogue import equation as equation_by_name
from thermofit.errors import FitError, InputError, NotMonotoneError
from thermofit.estimate.both_axes import fit_both_axes
from thermofit.estimate.choice import CANDIDATES, Candidate, aicc, choose
from thermofit.estimate.doubts import doubts
from thermofit.estimate.linear import Solution, fit_linear
from thermofit.estimate.nonlinear import fit_nonlinear, solution_at
from thermofit.estimate.plane import Minimise, Plane, plane_of
from thermofit.estimate.prior import Prior
from thermofit.estimate.refusals import (
    TOO_CLOSE,
    refuse_absurd,
    refuse_idle_points,
    refuse_lost_digits,
    refuse_too_few,
    refuse_unreached,
    refuse_wrong_trend,
    trend,
)
from thermofit.estimate.result import Fit
from thermofit.estimate.sources import sources_of_points
from thermofit.estimate.with_prior import fit_with_prior
from thermofit.points import Points

__all__ = ["Method", "fit"]

Method = Literal["effective-variance", "orthogonal-distance"]


# An exact fit that misses a point by more has lost its digits, or does not exist.
_EXACT_K = 1e-6


_SPARE_POINTS = 2
"""Points beyond the coefficients that an equation needs to be compared with others."""

_FAR_BETTER = 1.0 / 3.0

# With fewer points AICc's correction for their number weighs more than the bend of an NTC does,
# which is worth 0.3 K and more in the middle of so wide a range.
_FEW_FOR_A_BEND = 7
_BEND_COUNTS_K = 50.0


def fit(
    points: Points,
    equation: str | Equation = "auto",
    *,
    minimise: Minimise = "temperature",
    method: Method = "effective-variance",
    start: Mapping[str, float] | None = None,
    prior: Prior | None = None,
) -> Fit:
    """Fit a curve to measured points.

    Parameters
    ----------
    points : Points
        Temperatures and resistances, with standard uncertainties where known.
    equation : str or Equation
        "beta", "steinhart-hart", "log-polynomial-3" …, or "auto", which compares
        what the number of points allows by leave-one-out error in kelvin and
        AICc.
    minimise : {"temperature", "resistance"}
        Make the error in temperature small, or that in plain ohms.  With
        uncertainties given, both axes count in either case, by effective
        variance.
    method : {"effective-variance", "orthogonal-distance"}
        How errors on both axes enter.  Orthogonal distance needs uncertainties
        on both.
    start : mapping of str to float, optional
        Coefficients to start a nonlinear fit from.
    prior : Prior, optional
        What is known of B and the bend beforehand.  It has an equation of its own, and
        any number of points will do; `thermofit.characterise` takes the prior from the
        registered families.

    Returns
    -------
    Fit
        With as many points as coefficients the curve goes through every point.
        The covariance follows from the uncertainties where they were given, else
        from the scatter of the residuals; an exact fit without uncertainties has
        none.

    Raises
    ------
    FitError
        The points cannot determine the equation.
    NotMonotoneError
        The best curve of this form turns within the range of the points.
    UnknownNameError
        No equation has this name.

    Notes
    -----
    Equations that are linear in their coefficients are solved in closed form by QR
    factorisation, with weights T²/u that turn an error of 1/T, or of ln R, into
    one in temperature; the others go through lmfit with analytic Jacobians, and by
    Gauss–Newton steps from where it stops to the last digits.

    Examples
    --------
    >>> import thermofit as tf
    >>> p = tf.Points(t_c=[0, 25, 70], r_ohm=[32600, 10010, 1756])
    >>> f = tf.fit(p, equation="steinhart-hart")
    >>> round(f.curve.temperature(4500.0), 2)
    44.29
    """
    for name, given, allowed in (
        ("minimise", minimise, get_args(Minimise)),
        ("method", method, get_args(Method)),
    ):
        if given not in allowed:
            raise InputError(f"{name} must be one of {', '.join(allowed)}, not {given!r}")
    if prior is not None:
        _refuse_beside_prior(prior, equation, minimise, method, start)
        return fit_with_prior(points, prior, sources_of_points(points))
    plane = plane_of(points, minimise)
    refuse_idle_points(plane)
    # Far from the points a curve may be beyond what a number can hold; whatever
    # comes of that in the end is refused by name.
    with np.errstate(all="ignore"):
        if equation == "auto":
            if start is not None:
                raise InputError("start needs a named equation, not 'auto'")
            found = _fit_auto(points, plane, method)
        else:
            form = equation_by_name(equation) if isinstance(equation, str) else equation
            if isinstance(equation, str):
                form = form.for_points(plane.ln_r)
            found = _fit_one(points, plane, form, method, start).fit
        # Of what "auto" compares, only the one that it takes is questioned.
        return found.replace(warnings=doubts(found) + found.warnings)


def _refuse_beside_prior(
    prior: Prior,
    equation: str | Equation,
    minimise: Minimise,
    method: Method,
    start: Mapping[str, float] | None,
) -> None:
    """Refuse what would be ignored beside a prior."""
    if equation not in ("auto", prior.equation.name, prior.equation):
        raise InputError(
            f"the prior is about {prior.equation.name}: leave the equation out, or give the prior "
            f"the numbers that {equation if isinstance(equation, str) else equation.name} needs"
        )
    if minimise != "temperature" or method != "effective-variance" or start is not None:
        raise InputError(
            "with a prior the errors of both axes count by effective variance, in closed form: "
            "leave out minimise, method and start"
        )


@dataclass(frozen=True)
class _Outcome:
    fit: Fit
    loo_k: Array


def _fit_one(
    points: Points,
    plane: Plane,
    equation: Equation,
    method: Method,
    start: Mapping[str, float] | None = None,
) -> _Outcome:
    refuse_too_few(plane, equation)
    refuse_wrong_trend(plane, equation)
    solution, how = _solve(plane, equation, start)
    if method == "orthogonal-distance":
        solution, how = fit_both_axes(equation, plane, solution), "orthogonal distance"
    c = equation.from_fitted(solution.coefficients)
    refuse_absurd(equation, c)
    spare = len(points) - len(c)
    predicted, _ = plane.predict(equation, c)
    misses = plane.observed - predicted
    scale = equation.fitted_scale(c)
    covariance = None
    if plane.stated or spare:
        factor = scale[:, np.newaxis] * solution.factor
        variance = 1.0 if plane.stated else float(misses @ misses) / spare
        covariance = variance * (factor @ factor.T)
        if not np.isfinite(covariance).all():
            raise FitError(TOO_CLOSE.format(equation.name))
    try:
        curve = Curve(
            equation,
            c,
            float(points.t_c.min()),
            float(points.t_c.max()),
            covariance=covariance,
            dof=np.inf if plane.stated or not spare else spare,
            range_basis="data",
        )
    except NotMonotoneError:
        raise
    except InputError as error:
        raise FitError(f"{TOO_CLOSE.format(equation.name)} ({error})") from None
    back = np.argsort(plane.order)
    sigma = plane.effective(equation, c)[back] if plane.stated else None
    result = Fit(points, curve, plane.minimise, how + _taken_as_exact(points), sigma, None)
    refuse_unreached(result)
    if not spare and result.max_abs_k > _EXACT_K:
        raise FitError(
            f"no {equation.label} curve goes through these points: the nearest misses one by "
            f"{result.max_abs_k:.2g} K"
        )
    if covariance is not None:
        refuse_lost_digits(plane, equation, c, solution.factor)
    loo_k = result.residuals_k / np.maximum(1.0 - solution.leverage[back], 1e-12)
    loo_k.flags.writeable = False
    return _Outcome(result.replace(loo_k=loo_k if spare else None), loo_k)


def _taken_as_exact(points: Points) -> str:
    """Words for an axis whose uncertainty was left out while the other's was stated."""
    if (points.u_t_k is None) == (points.u_r_ohm is None):
        return ""
    left_out = "temperatures" if points.u_t_k is None else "resistances"
    return f"; the {left_out} are taken as exact"


def _solve(
    plane: Plane, equation: Equation, start: Mapping[str, float] | None
) -> tuple[Solution, str]:
    exact = len(plane.t_k) == len(equation.coefficients)
    if equation.linear:
        if start is not None:
            raise InputError(f"{equation.name} is solved in closed form; it takes no start")
        solution = fit_linear(equation, plane)
        if exact:
            return solution, "exact"
        if plane.minimise == "temperature":
            return solution, "linear least squares, error in temperature"
        near = equation.from_fitted(solution.coefficients)
        return fit_nonlinear(equation, plane, near), "least squares, error in resistance"
    own = equation.through(plane.inv_t, plane.ln_r)
    if start is None and own is None:
        raise FitError(
            f"no {equation.label} curve goes near these points; use another equation"
            + ("" if exact else ", or give starting values")
        )
    if exact and own is not None:
        return solution_at(equation, plane, equation.to_fitted(own)), "exact"
    how = f"nonlinear least squares, error in {plane.minimise}"
    if start is None:
        assert own is not None
        return fit_nonlinear(equation, plane, own), how
    given = fit_nonlinear(equation, plane, _from_start(equation, start))
    if own is None:
        return given, how
    better = fit_nonlinear(equation, plane, own)
    if _misfit(plane, equation, better) < 0.999 * _misfit(plane, equation, given):
        return better, f"{how}; the given start leads to a worse minimum and was not used"
    return given, how


def _misfit(plane: Plane, equation: Equation, solution: Solution) -> float:
    c = equation.from_fitted(solution.coefficients)
    misses = (plane.observed - plane.predict(equation, c)[0]) / plane.effective(equation, c)
    return float(misses @ misses)


def _from_start(equation: Equation, start: Mapping[str, float]) -> Array:
    names = [entry.name for entry in equation.coefficients]
    if set(start) != set(names):
        raise InputError(f"start must name {', '.join(names)}, not {', '.join(start) or 'nothing'}")
    values = np.array([float(start[name]) for name in names])
    for entry, value in zip(equation.coefficients, values, strict=True):
        if not np.isfinite(value) or (entry.logarithmic and value <= 0.0):
            raise InputError(f"start value of {entry.name} cannot be {value!r}")
    return values


def _fit_auto(points: Points, plane: Plane, method: Method) -> Fit:
    names = ("callendar-van-dusen",) if trend(plane) > 0.0 else CANDIDATES
    refuse_too_few(plane, equation_by_name(names[0]))
    # All are compared by their errors in temperature, and so fitted for them.
    in_kelvin = plane if plane.minimise == "temperature" else plane_of(points, "temperature")
    candidates: list[Candidate] = []
    ranked: list[tuple[Candidate, Equation, _Outcome]] = []
    spare_one: list[tuple[str, float]] = []
    for name in names:
        form = equation_by_name(name).for_points(plane.ln_r)
        terms = len(form.coefficients)
        spare = len(points) - terms
        if spare < 1:
            candidates.append(Candidate(name, terms, note=_too_few_to_rank(terms)))
            continue
        try:
            outcome = _fit_one(points, in_kelvin, form, method)
        except (FitError, NotMonotoneError) as error:
            candidates.append(Candidate(name, terms, note=str(error)))
            continue
        loo_rms_k = float(np.sqrt(np.mean(outcome.loo_k**2)))
        if spare < _SPARE_POINTS:
            spare_one.append((name, loo_rms_k))
            candidates.append(Candidate(name, terms, note=_too_few_to_rank(terms)))
            continue
        criterion = aicc(outcome.fit.residuals_k, outcome.fit.sigma, terms)
        candidate = Candidate(name, terms, loo_rms_k=loo_rms_k, aicc=criterion)
        candidates.append(candidate)
        ranked.append((candidate, form, outcome))
    if not ranked and len(names) == 1:
        found = _fit_one(points, plane, equation_by_name(names[0]), method).fit
        reason = f"{names[0]}: the only equation for a resistance that rises"
        return found.replace(candidates=tuple(candidates), reason=reason)
    if not ranked:
        return _simplest_exact(points, plane, names, tuple(candidates), method)
    errors = [
        outcome.loo_k / (1.0 if outcome.fit.sigma is None else outcome.fit.sigma)
        for _, _, outcome in ranked
    ]
    pick, reason = choose([candidate for candidate, _, _ in ranked], errors)
    if len(ranked) == 1:
        reason = f"{ranked[0][0].name}: the only one that these points allow to be judged"
    chosen, form, outcome = ranked[pick]
    result = outcome.fit if in_kelvin is plane else _fit_one(points, plane, form, method).fit
    warnings = result.warnings
    if spare_one:
        name, loo_rms_k = min(spare_one, key=lambda entry: entry[1])
        if loo_rms_k < _FAR_BETTER * (chosen.loo_rms_k or 0.0):
            warnings += (
                f"{name}, for which there is a point too few to compare it, would be off by "
                f"{loo_rms_k:.2g} K where {chosen.name} is off by {chosen.loo_rms_k:.2g} K: one "
                f"more point would settle it, or ask for {name}",
            )
    if chosen.name == "beta" and len(points) < _FEW_FOR_A_BEND and _bends(points):
        warnings += (
            "constant B was taken since so few points do not bear more coefficients; NTC ceramics "
            "bend, by tenths of a kelvin between the points and by more beyond them, of which the "
            "intervals do not know. More points would settle it, or thermofit.characterise, which "
            "takes the bend from the registered families",
        )
    return result.replace(candidates=tuple(candidates), reason=reason, warnings=warnings)


def _bends(points: Points) -> bool:
    """Whether points lie far enough apart for the bend of an NTC to count."""
    return float(np.ptp(points.t_c)) >= _BEND_COUNTS_K


def _too_few_to_rank(terms: int) -> str:
    return f"needs {terms + _SPARE_POINTS} points to be compared"


def _simplest_exact(
    points: Points,
    plane: Plane,
    names: tuple[str, ...],
    candidates: tuple[Candidate, ...],
    method: Method,
) -> Fit:
    failures = []
    for name in names:
        form = equation_by_name(name).for_points(plane.ln_r)
        if len(form.coefficients) != len(points):
            continue
        try:
            found = _fit_one(points, plane, form, method).fit
        except (FitError, NotMonotoneError) as error:
            failures.append(f"{name}: {error}")
            continue
        reason = (
            f"{name}: the simplest equation through all {len(points)} points; no comparison is "
            "possible with so few"
        )
        return found.replace(candidates=candidates, reason=reason)
    notes = failures or [f"{entry.name}: {entry.note}" for entry in candidates]
    raise FitError("no equation fits these points\n  " + "\n  ".join(notes))
