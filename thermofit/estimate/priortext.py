"""A fit with a prior as text that prints well."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.curve import Curve
from thermofit.interval import coverage_factor, format_pair
from thermofit.texttable import aligned, indented
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    from thermofit.estimate.result import Fit

__all__ = ["prior_report"]

_BAND_C = (-40.0, -20.0, 0.0, 10.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0, 70.0, 80.0, 100.0, 125.0)
_SHARES_C = (-20.0, 0.0, 25.0, 50.0, 75.0, 100.0)


def prior_report(fit: Fit) -> list[str]:
    """Write the blocks of a report that a fit with a prior has in place of the usual ones."""
    return [_head(fit), _band(fit), _shares(fit), _coefficients(fit), _agreement(fit)]


def _head(fit: Fit) -> str:
    curve, n = fit.curve, len(fit.points)
    source = f" from {fit.points.source}" if fit.points.source else ""
    lines = [f"{n} reading{'s' if n > 1 else ''}{source}, and how NTC ceramics bend"]
    if curve.in_range(25.0):
        known = curve.resistance_interval(25.0)
        half_pct = 50.0 * (known.high - known.low) / known.value
        within = format_pair(half_pct, half_pct)[0]
        lines.append(f"  R25 = {format_ohm(float(known.value))} ± {within} % (95 %)")
    if curve.in_range([25.0, 85.0]).all():
        half_k = coverage_factor(0.95, curve.dof) * _u_b_25_85(curve)
        within = format_pair(half_k, half_k)[0]
        lines.append(f"  B25/85 = {curve.b_25_85_k:.0f} ± {within} K (95 %)")
    lines += [f"  valid {curve.t_min_c:g} to {curve.t_max_c:g} °C", f"  {fit.method}"]
    return "\n".join(lines)


def _u_b_25_85(curve: Curve) -> float:
    """Standard uncertainty of B25/85, in kelvin."""
    assert curve.covariance is not None
    inv_t = 1.0 / (np.array([25.0, 85.0]) + ZERO_C_K)
    at = curve.equation.gradient(inv_t, curve._c) / curve.equation.fitted_scale(curve._c)[:, None]
    gradient = (at[:, 1] - at[:, 0]) / (inv_t[1] - inv_t[0])
    return float(np.sqrt(gradient @ curve.covariance @ gradient))


def _band(fit: Fit) -> str:
    curve = fit.curve
    shown = [t for t in _BAND_C if curve.t_min_c <= t <= curve.t_max_c]
    t_c = np.array(shown if len(shown) > 1 else [curve.t_min_c, *shown, curve.t_max_c])
    r_ohm = curve.resistance(t_c)
    band = fit.temperature(r_ohm)
    half_k = 0.5 * (band.high - band.low)
    rows = [
        [f"{t:g}", format_ohm(float(r)), f"± {format_pair(half, half)[0]}"]
        for t, r, half in zip(t_c, r_ohm, half_k, strict=True)
    ]
    return aligned([["t / °C", "R", "95 % / K"], *rows], left=0, indent="  ")


def _shares(fit: Fit) -> str:
    curve = fit.curve
    shown = [t for t in _SHARES_C if curve.t_min_c <= t <= curve.t_max_c] or [curve.t_min_c]
    parts = fit.contributions(shown)
    squares = np.sum(parts.u_k**2, axis=1)
    largest = "most of it" if squares.max() > 0.5 * squares.sum() else "the largest"
    return f"{indented(parts)}\n  {largest}: {parts.dominating}"


def _coefficients(fit: Fit) -> str:
    uncertainties = fit.standard_uncertainties
    assert uncertainties is not None
    rows = []
    for entry in fit.equation.coefficients:
        value = fit.coefficients[entry.name]
        shown = format_pair(value, uncertainties[entry.name])
        rows.append([entry.name, entry.unit, repr(value), *shown])
    header = ["coefficient", "unit", "to compute with", "rounded", "standard uncertainty"]
    formula = f"  {fit.equation.formula}   (T in kelvin, R in ohms)"
    table = aligned([header, *rows], left=2, indent="  ")
    which = "  (b_k is B at 25 °C, of the slope there; B25/85 is that between 25 and 85 °C)"
    return f"{formula}\n{table}\n{which}"


def _agreement(fit: Fit) -> str:
    use = fit.prior
    assert use is not None
    if use.p_value is None:
        return "  one reading cannot agree or disagree with the families"
    s = "s" if fit.dof > 1 else ""
    told = (
        f"  readings against the families: χ² = {use.chi2:.3g} with {fit.dof} degree{s} of "
        f"freedom, p = {use.p_value:.2g}"
    )
    if use.conflict:
        return f"{told}; prior widened {np.sqrt(use.widened):.3g}-fold"
    return told
