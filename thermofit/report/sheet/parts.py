"""The tables and lists of a page, as text."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR
from typing import Final

import numpy as np

from thermofit.baths import Bath
from thermofit.budget import Budget
from thermofit.curve import Curve
from thermofit.decide.acceptance import rounded_to_safety
from thermofit.decide.verdict import degrees
from thermofit.estimate import Fit
from thermofit.interval import coverage_factor, format_pair
from thermofit.report.sheet.numerals import minus, off_by_k, signed, small
from thermofit.report.sheet.record import SheetRecord
from thermofit.texttable import format_probability
from thermofit.units import format_ohm

__all__ = [
    "Grid",
    "budget_grids",
    "coefficient_grid",
    "contribution_grid",
    "curve_facts",
    "judged_grid",
    "points_grid",
    "verdict_facts",
]

Fact = tuple[str, str]

# Shown to the safe side: what the page accepts, the figures do too.
_LIMITS: Final = (
    ("low_ohm", ROUND_CEILING), ("high_ohm", ROUND_FLOOR),
    ("accept_low_ohm", ROUND_CEILING), ("accept_high_ohm", ROUND_FLOOR),
)  # fmt: skip


@dataclass(frozen=True)
class Grid:
    """A table of a page.

    Parameters
    ----------
    caption : str
    heads : tuple of str
    rows : tuple of tuple of str
        The first cell names the row.
    words : frozenset of int
        Columns of words rather than numbers.
    """

    caption: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    words: frozenset[int] = frozenset({0})


def points_grid(record: SheetRecord) -> Grid | None:
    """List what was measured, and what it differs from the curve by."""
    points = record.points
    if points is None:
        return None
    baths = [
        reading.bath.kind if isinstance(reading.bath, Bath) else "bath"
        for reading in record.readings
    ]
    heads = ["reading", "t / °C", "R"]
    columns = [
        baths if len(baths) == len(points) else [str(at + 1) for at in range(len(points))],
        [minus(_to_place(t, u)) for t, u in _with(points.t_c, points.u_t_k)],
        [format_ohm(float(r)) for r in points.r_ohm],
    ]
    if points.u_t_k is not None:
        heads.append("u(t) / K")
        columns.append([small(u) for u in points.u_t_k])
    if points.u_r_ohm is not None:
        heads.append("u(R) / %")
        columns.append([small(100.0 * u) for u in points.u_r_ohm / points.r_ohm])
    heads.append("t − curve / K")
    columns.append([signed(off) for off in off_by_k(record.curve, points)])
    rows = tuple(zip(*columns, strict=True))
    return Grid("Readings; u is a standard uncertainty (k = 1)", tuple(heads), rows)


def budget_grids(record: SheetRecord) -> list[Grid]:
    """Show what the uncertainty of each reading is made of."""
    grids = []
    for at, reading in enumerate(record.readings, start=1):
        kind = reading.bath.kind if isinstance(reading.bath, Bath) else "bath"
        rows = [*_budget_rows(reading.temperature), *_budget_rows(reading.resistance)]
        t, r = reading.temperature, reading.resistance
        caption = f"Reading {at}, {kind}: {minus(f'{t.value:.6g}')} °C, {format_ohm(r.value)}"
        heads = ("contribution", "limits ±", "taken as", "standard uncertainty", "from")
        grids.append(Grid(caption, heads, tuple(rows), frozenset({0, 2, 4})))
    return grids


def contribution_grid(found: Fit | Curve) -> Grid | None:
    """Show what makes up the uncertainty of the curve; None where the fit does not tell."""
    if not isinstance(found, Fit) or found.prior is None:
        return None
    curve = found.curve
    low, high = max(curve.t_min_c, -20.0), min(curve.t_max_c, 100.0)
    if not low < high:
        low, high = curve.t_min_c, curve.t_max_c
    t_c = np.linspace(low, high, 5).round()
    t_c = t_c[curve.in_range(t_c)]
    if not t_c.size:
        return None
    parts = found.contributions(t_c)
    rows = [
        (name, *(f"{u:.3f}" for u in u_k)) for name, u_k in zip(parts.names, parts.u_k, strict=True)
    ]
    rows.append(("together", *(f"{u:.3f}" for u in np.linalg.norm(parts.u_k, axis=0))))
    heads = ("standard uncertainty / K at", *(minus(f"{t:g} °C") for t in t_c))
    return Grid("What the uncertainty of the curve is made of", heads, tuple(rows))


def curve_facts(record: SheetRecord) -> list[Fact]:
    """Tell what the curve is."""
    curve = record.curve
    facts = [
        ("equation", f"{curve.equation.label}: {curve.equation.formula}"),
        *((name, f"{value!r}") for name, value in curve.equation.settings.items()),
    ]
    if curve.t_min_c <= 25.0 <= curve.t_max_c:
        facts.append(("R25", _r25(curve, record.coverage)))
        if curve.t_max_c >= 85.0 and not curve.equation.ptc:
            facts.append(("B25/85", f"{curve.b_25_85_k:.0f} K"))
    ends = f"{curve.t_min_c:.6g} to {curve.t_max_c:.6g}"
    facts += [
        ("valid", f"{minus(ends)} °C ({curve.range_basis})"),
        ("id", curve.id),
        ("source", curve.source),
        ("licence", curve.licence),
        ("note", curve.note),
    ]
    return [(name, text) for name, text in facts if text]


def coefficient_grid(curve: Curve) -> Grid | None:
    """List coefficients to compute with, rounded ones, and their uncertainty."""
    entries = curve.equation.coefficients
    if not entries:
        return None
    known = curve.standard_uncertainties
    rows = []
    for entry in entries:
        value = curve.coefficients[entry.name]
        row = [entry.name, entry.unit or "1", repr(value)]
        if known is not None:
            row += map(minus, format_pair(value, known[entry.name]))
        rows.append(tuple(row))
    heads = ["coefficient", "unit", "to compute with"]
    if known is not None:
        heads += ["rounded", "standard uncertainty"]
    caption = "Coefficients; T in kelvin, R in ohms"
    return Grid(caption, tuple(heads), tuple(rows), frozenset({0, 1}))


def verdict_facts(record: SheetRecord) -> list[Fact]:
    """Tell what a verdict rests on, and what it may cost."""
    figures = record.verdict
    assert figures is not None
    facts = [("against", f"{figures['family']}: {figures['tolerance']}")]
    if np.isfinite(figures["gamma"]):
        for name, value, u in (
            (
                "R25",
                100.0 * np.expm1(figures["gamma"]),
                100.0 * figures["u_gamma"] * np.exp(figures["gamma"]),
            ),
            ("B", 100.0 * figures["beta"], 100.0 * figures["u_beta"]),
        ):
            shown, u_shown = format_pair(float(value), float(u))
            facts.append((name, f"off by {minus(shown)} %, standard uncertainty {u_shown} %"))
    if np.isfinite(figures["probability"]):
        facts.append(("probability of conformity", format_probability(figures["probability"])))
    risk = f"{100.0 * figures['risk']:g} %"
    facts += [
        ("rule", figures["rule"]),
        ("risk", f"a part exactly on a limit is accepted wrongly, or rejected wrongly, with a "
                 f"probability of {risk} at most"),
        ("prior", figures["prior"]),
    ]  # fmt: skip
    if figures["rule"].startswith("simple"):
        facts = [fact for fact in facts if fact[0] != "risk"]
        facts.append(("risk", "up to one half for a part on a limit: no guard band is kept"))
    if np.isfinite(figures["p_value"]):
        told = f"χ² = {figures['chi2']:.3g} with {degrees(int(figures['dof']))}"
        facts.append(("readings among themselves", f"{told}, p = {figures['p_value']:.2g}"))
    return facts


def judged_grid(record: SheetRecord) -> Grid | None:
    """List each reading as it was judged by itself."""
    figures = record.verdict
    if figures is None or not figures["readings"]:
        return None
    rows = [
        (
            minus(f"{row['t_c']:.6g}"),
            format_ohm(row["r_ohm"]),
            *(
                rounded_to_safety(row[name], way) if np.isfinite(row[name]) else "–"
                for name, way in _LIMITS
            ),
            str(row["verdict"]),
        )
        for row in figures["readings"]
    ]
    heads = ("t / °C", "R", "allowed from", "to", "accepted from", "to", "by itself")
    return Grid("Each reading judged by itself", heads, tuple(rows), frozenset({6}))


def _budget_rows(budget: Budget) -> list[tuple[str, ...]]:
    rows = []
    for part in budget.contributions:
        taken = str(part.distribution)
        if part.k is not None:
            taken += f", k\u00a0=\u00a0{part.k:g}"
        rows.append(
            (part.name, f"{small(part.half_width)} {part.unit}", taken,
             f"{small(abs(part.effect))} {budget.uncertainty_unit}", part.note)
        )  # fmt: skip
    total = f"{small(budget.standard_uncertainty)} {budget.uncertainty_unit}"
    together = "temperature, together" if budget.unit == "°C" else "resistance, together"
    return [*rows, (together, "", "", total, "")]


def _r25(curve: Curve, coverage: float) -> str:
    shown = format_ohm(curve.r25_ohm)
    u = curve.resistance_interval(25.0).standard_uncertainty
    if not np.isfinite(u):
        return shown
    pct = 100.0 * coverage_factor(coverage, curve.dof) * u / curve.r25_ohm
    return f"{shown} ± {small(pct)} % ({100 * coverage:g} %)"


def _with(values: np.ndarray, u: np.ndarray | None) -> list[tuple[float, float]]:
    return [(float(v), float("nan") if u is None else float(u[at])) for at, v in enumerate(values)]


def _to_place(value: float, u: float) -> str:
    return format_pair(value, u)[0] if np.isfinite(u) and u > 0.0 else f"{value:.6g}"
