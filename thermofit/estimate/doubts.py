"""What a careful metrologist would question about a fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.equations.log_polynomial import LogPolynomial
from thermofit.errors import FitError
from thermofit.estimate.linear import fit_linear
from thermofit.estimate.plane import plane_of

if TYPE_CHECKING:
    from thermofit.estimate.result import Fit

__all__ = ["doubts"]

_SMALL_P = 0.01
_LARGE_P = 0.999
_FEW_SPARE = 3
_NARROW_K = 10.0

# How much ln B grows when ln R falls by one.  Computed from the four published
# R–T tables in tests/reference, over five ranges of 60 K and more: 0.000 to 0.039.
# °F read as °C gives 0.063 to 0.132, °C read as °F or as kelvin −0.067 to −0.020.
_USUAL_BEND = (-0.015, 0.055)
_BEND_SHOWS_K = 50.0

_ENOUGH_FOR_RUNS = 10
_FEW_RUNS = -2.6  # of a standard normal: p = 0.005


def doubts(fit: Fit) -> tuple[str, ...]:
    """List the doubts about a fit, in words.

    Parameters
    ----------
    fit : Fit

    Returns
    -------
    tuple of str
        Empty where there is nothing to question.
    """
    found = []
    if fit.dof == 0:
        found.append(
            "as many points as coefficients: the curve goes through every point, and nothing is "
            "left to check it with"
        )
        if fit.sigma is None:
            found.append(
                "no uncertainties were given for the points, so none can be stated for the curve"
            )
    elif fit.sigma is None and fit.dof < _FEW_SPARE:
        found.append(
            f"the scatter was estimated from only {fit.dof} point{'s' if fit.dof > 1 else ''} "
            "beyond the coefficients, so the intervals are wide"
        )
    span = fit.curve.t_max_c - fit.curve.t_min_c
    if span < _NARROW_K:
        found.append(f"the points span only {span:.3g} K; the curve says little beyond them")
    found += filter(None, (look(fit) for look in (_reversal, _outlier, _odd_bend, _long_runs)))
    p_value, sigma = fit.p_value, fit.sigma
    if p_value is not None and sigma is not None:
        if p_value < _SMALL_P:
            worst = int(np.argmax(np.abs(fit._minimised / sigma)))
            found.append(
                f"the points disagree with the curve by more than their uncertainties allow (χ² = "
                f"{fit.chi2:.3g} with {fit.dof} degrees of freedom, p = {p_value:.2g}); worst is "
                f"the reading at {fit.points.t_c[worst]:g} °C, off by {fit.residuals_k[worst]:+.3g}"
                " K. A wrong reading, a unit mixed up, an equation too simple, or uncertainties "
                "stated too small"
            )
        elif p_value > _LARGE_P:
            found.append(
                f"the points agree better than their uncertainties lead to expect (p = "
                f"{p_value:.4f}): these may be stated too large, or share a common part"
            )
    return tuple(found)


def _odd_bend(fit: Fit) -> str | None:
    """Say if the points bend as no NTC ceramic does, whatever equation was fitted.

    The bend is that of a parabola through the points, 2·a2/a1 of
    1/T = a0 + a1·ℓ + a2·ℓ², and counts as odd beyond twice its uncertainty.
    """
    t_c = fit.points.t_c
    low, high = float(t_c.min()), float(t_c.max())
    if not fit.equation.ntc or len(np.unique(t_c)) < 3 or high - low < _BEND_SHOWS_K:
        return None
    plane = plane_of(fit.points, "temperature")
    parabola = LogPolynomial(3).for_points(plane.ln_r)
    try:
        solution = fit_linear(parabola, plane)
    except FitError:
        return None
    a = solution.coefficients
    misses = plane.t_k - plane.predict(parabola, a)[0]
    spare = len(misses) - 3
    scatter = 1.0 if plane.stated else np.sqrt(misses @ misses / spare) if spare else 0.0
    bend = 2.0 * a[2] / a[1]
    allowance = 4.0 * scatter * float(np.linalg.norm(solution.factor[2])) / abs(a[1])
    if _USUAL_BEND[0] - allowance <= bend <= _USUAL_BEND[1] + allowance:
        return None
    slope = parabola.slope(plane.ln_r[[0, -1]], a)
    if not (slope > 0.0).all():
        return None
    b_cold, b_hot = 1.0 / slope
    guess = "°F that were read as °C" if bend > 0.0 else "°C that were read as °F or as kelvin"
    return (
        f"the B value goes from {b_cold:.0f} K at {low:g} °C to {b_hot:.0f} K at {high:g} °C, and "
        f"NTC ceramics do not bend like that: {guess}, or a wrong reading?"
    )


def _reversal(fit: Fit) -> str | None:
    """Say if the resistance rises between two neighbouring points of an NTC."""
    if not fit.equation.ntc:
        return None
    order = np.lexsort((fit.points.r_ohm, fit.points.t_c))
    t_c, r_ohm = fit.points.t_c[order], fit.points.r_ohm[order]
    # Readings within half a kelvin of each other may change places by their noise.
    wrong = (np.diff(t_c) > 0.5) & (np.diff(r_ohm) >= 0.0)
    if not wrong.any():
        return None
    at = int(np.flatnonzero(wrong)[0])
    return (
        f"the resistance does not fall from {t_c[at]:g} °C ({r_ohm[at]:g} Ω) to {t_c[at + 1]:g} °C "
        f"({r_ohm[at + 1]:g} Ω), as that of an NTC must: one of these readings is wrong"
    )


def _outlier(fit: Fit) -> str | None:
    """Say if one reading is off by far more than the others.

    Externally studentised residuals against Student's t with Bonferroni's
    correction: R. D. Cook, S. Weisberg, Residuals and Influence in Regression,
    Chapman and Hall 1982, section 2.2.
    """
    if fit.loo_k is None or fit.sigma is not None or fit.dof < 3:
        return None
    from scipy.special import stdtr

    residuals = fit.residuals_k
    # e²/(1 − h) is what the sum of squares loses when a point is left out.
    relieved = residuals * fit.loo_k
    rest = np.maximum(float(residuals @ residuals) - relieved, 1e-300)
    size = np.sqrt(np.maximum(relieved, 0.0) * (fit.dof - 1) / rest)
    worst = int(np.argmax(size))
    if 2.0 * len(size) * float(stdtr(fit.dof - 1, -size[worst])) >= _SMALL_P:
        return None
    return (
        f"the reading at {fit.points.t_c[worst]:g} °C ({fit.points.r_ohm[worst]:g} Ω) is off by "
        f"{fit.loo_k[worst]:+.3g} K from where the others put it, far more than they scatter: read "
        "it again, or leave it out"
    )


def _long_runs(fit: Fit) -> str | None:
    """Say if the residuals, in order of temperature, keep their sign for too long.

    A. Wald, J. Wolfowitz, "On a test whether two samples are from the same
    population", Ann. Math. Stat. 11 (1940) 147–162.
    """
    residuals = fit.residuals_k[np.argsort(fit.points.t_c, kind="stable")]
    signs = np.sign(residuals[residuals != 0.0])
    n = len(signs)
    above = int(np.count_nonzero(signs > 0.0))
    pairs = 2.0 * above * (n - above)
    if fit.dof == 0 or n < _ENOUGH_FOR_RUNS or pairs <= n:
        return None
    runs = 1 + int(np.count_nonzero(signs[1:] != signs[:-1]))
    spread = np.sqrt(pairs * (pairs - n) / (n**2 * (n - 1.0)))
    if (runs - 1.0 - pairs / n) / spread >= _FEW_RUNS:
        return None
    return (
        f"the residuals change their sign only {runs - 1} times along the {n} points: the equation "
        "does not follow this material, and between the points the curve is off by about as much "
        "as at them; the intervals do not know of that. More terms, or a table, may follow it"
    )
