"""What a careful metrologist would question about a fit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    from thermofit.estimate.result import Fit

__all__ = ["doubts"]

_SMALL_P = 0.01
_LARGE_P = 0.999
_FEW_SPARE = 3
_NARROW_K = 10.0

# How much ln B grows when ln R falls by one.  Computed from the four published
# R–T tables in tests/reference, over five ranges of 60 K and more: 0.002 to 0.039.
# °F read as °C gives 0.066 to 0.133, °C read as °F or as kelvin −0.066 to −0.020.
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
                "no uncertainties were given, so none can be stated; give u_t_k and u_r_ohm"
            )
    elif fit.sigma is None and fit.dof < _FEW_SPARE:
        found.append(
            f"the scatter was estimated from only {fit.dof} point{'s' if fit.dof > 1 else ''} "
            "beyond the coefficients, so the intervals are wide"
        )
    span = fit.curve.t_max_c - fit.curve.t_min_c
    if span < _NARROW_K:
        found.append(f"the points span only {span:.3g} K; the curve says little beyond them")
    bend = _odd_bend(fit)
    if bend:
        found.append(bend)
    runs = _long_runs(fit)
    if runs:
        found.append(runs)
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
    """Say if the curve bends as no NTC ceramic does."""
    low, high = fit.curve.t_min_c, fit.curve.t_max_c
    if not fit.equation.ntc or len(fit.coefficients) < 3 or high - low < _BEND_SHOWS_K:
        return None
    middle = 2.0 / (1.0 / (low + ZERO_C_K) + 1.0 / (high + ZERO_C_K)) - ZERO_C_K
    b_cold, b_hot = fit.curve.b_value(low, middle), fit.curve.b_value(middle, high)
    fall = float(np.subtract(*np.log(fit.curve.resistance([low, high]))))
    bend = float(np.log(b_hot / b_cold)) / (0.5 * fall)
    if _USUAL_BEND[0] <= bend <= _USUAL_BEND[1]:
        return None
    guess = "°F that were read as °C" if bend > 0.0 else "°C that were read as °F or as kelvin"
    return (
        f"the B value goes from {b_cold:.0f} K in the colder half of the range to {b_hot:.0f} K in "
        f"the warmer one, and NTC ceramics do not bend like that: {guess}, or a wrong reading?"
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
