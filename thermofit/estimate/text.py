"""A fit as text that prints well."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.estimate.priortext import prior_report
from thermofit.interval import format_pair
from thermofit.texttable import aligned
from thermofit.units import format_ohm

if TYPE_CHECKING:
    from thermofit.estimate.result import Fit

__all__ = ["report"]

# More points than this, and only the worst are worth a reader's time.
_MOST_ROWS = 16
_WORST_ROWS = 8


def report(fit: Fit, *, with_warnings: bool = True) -> str:
    """Write a fit for a person to read.

    Parameters
    ----------
    fit : Fit
    with_warnings : bool
        Whether its warnings come last.

    Returns
    -------
    str
        Several lines; warnings come last, each in a line of its own.
    """
    if fit.prior is not None:
        blocks = [*prior_report(fit), _points(fit)]
    else:
        blocks = [_head(fit), _coefficients(fit), _quality(fit), _points(fit)]
    if fit.reason:
        blocks.append(_candidates(fit))
    if with_warnings and fit.warnings:
        blocks.append("\n".join(f"! {text}" for text in fit.warnings))
    return "\n\n".join(blocks)


def _head(fit: Fit) -> str:
    curve = fit.curve
    lines = [f"{fit.equation.label}, {len(fit.points)} points"]
    if fit.points.source:
        lines[0] += f" from {fit.points.source}"
    lines.append(f"  {fit.equation.formula}   (T in kelvin, R in ohms)")
    lines += [f"  {name} = {value!r}" for name, value in fit.equation.settings.items()]
    lines.append(f"  valid {curve.t_min_c:g} to {curve.t_max_c:g} °C, the range of the points")
    if curve.t_min_c <= 25.0 <= curve.t_max_c:
        lines.append(f"  R25 = {format_ohm(curve.r25_ohm)}")
    lines.append(f"  {fit.method}")
    return "\n".join(lines)


def _coefficients(fit: Fit) -> str:
    uncertainties = fit.standard_uncertainties
    rows = []
    for entry in fit.equation.coefficients:
        value = fit.coefficients[entry.name]
        u = float("nan") if uncertainties is None else uncertainties[entry.name]
        shown, u_shown = format_pair(value, u)
        if uncertainties is None:
            shown = "unknown"
        rows.append([entry.name, entry.unit, repr(value), shown, u_shown])
    header = ["coefficient", "unit", "to compute with", "rounded", "standard uncertainty"]
    text = aligned([header, *rows], left=2, indent="  ")
    if fit.correlation is not None and len(rows) > 1:
        names = list(fit.coefficients)
        triangle = [["correlation", *names[:-1]]]
        for i in range(1, len(names)):
            numbers = [f"{fit.correlation[i, j]:+.6f}" for j in range(i)]
            triangle.append([names[i], *numbers, *[""] * (len(names) - 1 - i)])
        text += "\n\n" + aligned(triangle, indent="  ")
    return text


def _quality(fit: Fit) -> str:
    lines = [
        f"  residuals in t, measured − fitted: rms {fit.rms_k:.3g} K, largest {fit.max_abs_k:.3g} K"
    ]
    if fit.chi2 is not None and fit.p_value is not None:
        lines.append(
            f"  χ² = {fit.chi2:.4g} with {fit.dof} degrees of freedom, p = {fit.p_value:.3g}"
        )
    elif fit.sigma is None and fit.dof > 0:
        unit = "K" if fit.minimise == "temperature" else "Ω"
        scatter = np.sqrt(fit.rss / fit.dof)
        lines.append(
            f"  uncertainties from the scatter: {scatter:.3g} {unit}, {fit.dof} degrees of freedom"
        )
    if fit.loo_k is not None:
        lines.append(f"  leave-one-out error: rms {np.sqrt(np.mean(fit.loo_k**2)):.3g} K")
    return "\n".join(lines)


def _points(fit: Fit) -> str:
    rows = [["t / °C", "R", "residual in t / K", "residual in R / %"]]
    t_c, r_ohm = fit.points.t_c, fit.points.r_ohm
    shown, above = np.arange(len(t_c)), ""
    if len(t_c) > _MOST_ROWS:
        shown = np.sort(np.argsort(-np.abs(fit.residuals_k), kind="stable")[:_WORST_ROWS])
        above = f"  the {_WORST_ROWS} worst of {len(t_c)} points:\n"
    rows += [
        [
            f"{t_c[i]:g}",
            format_ohm(r_ohm[i]),
            f"{fit.residuals_k[i]:+z.4f}",
            f"{fit.residuals_pct[i]:+z.4f}",
        ]
        for i in shown
    ]
    return above + aligned(rows, left=0, indent="  ")


def _candidates(fit: Fit) -> str:
    rows = [
        [
            entry.name,
            str(entry.terms),
            "" if entry.loo_rms_k is None else f"{entry.loo_rms_k:.4g}",
            "" if entry.aicc is None else f"{entry.aicc:.1f}".replace("inf", "∞"),
            entry.note.split(":")[0],
        ]
        for entry in fit.candidates
    ]
    header = ["equation", "coefficients", "leave-one-out / K", "AICc", ""]
    compared = any(entry.ranked for entry in fit.candidates)
    # The last column says in words why one was not compared.
    return f"  chosen: {fit.reason}" + (
        f"\n{aligned([header, *rows], left=[0, 4], indent='  ')}" if compared else ""
    )
