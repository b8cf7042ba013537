"""The pictures of a sheet, each with words that say what it shows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from thermofit.curve import Curve
from thermofit.decide.verdict import Verdict
from thermofit.errors import InputError
from thermofit.estimate import Fit
from thermofit.family import Family, nominal_curve
from thermofit.interval import format_pair
from thermofit.points import Points
from thermofit.report.curves import curve_picture, residuals_picture
from thermofit.report.plane import plane_picture
from thermofit.report.sheet.numerals import minus, off_by_k, signed, small
from thermofit.report.svg import svg_of
from thermofit.report.tolerances import band_picture
from thermofit.tolerance import Tolerance, tolerance_band
from thermofit.units import format_ohm

__all__ = ["Drawing", "draw_all"]

_STEPS: Final = 61


@dataclass(frozen=True)
class Drawing:
    """One picture.

    Parameters
    ----------
    name : {"curve", "residuals", "band", "plane"}
    svg : str
        An element without attributes ``style``, which the page's policy forbids.
    words : str
        What it shows.
    """

    name: str
    svg: str
    words: str


def draw_all(
    found: Fit | Curve,
    points: Points | None,
    coverage: float,
    family: Family | Curve | None,
    tolerance: Tolerance | None,
    verdict: Verdict | None,
    t_range_c: tuple[float, float],
) -> dict[str, Drawing]:
    """Draw what there is to draw, by name."""
    curve = found.curve if isinstance(found, Fit) else found
    drawn = {}

    def keep(name: str, ax: object, title: str, words: str) -> None:
        svg = svg_of(ax, title=title, description=words)  # type: ignore[arg-type]
        drawn[name] = Drawing(name, svg, words)

    ax = curve_picture(found, points=points, coverage=coverage)
    words = _of_curve(curve, points, coverage)
    keep("curve", ax, "Resistance over temperature", words)
    if points is not None and len(points) > 1:
        off_k = off_by_k(curve, points)
        if np.isfinite(off_k).any():
            ax = residuals_picture(found, points=points, coverage=coverage)
            keep("residuals", ax, "What the readings differ from the curve by", _of_points(off_k))
    if family is not None and tolerance is not None:
        nominal = nominal_curve(family, "family")
        low_c, high_c = max(t_range_c[0], nominal.t_min_c), min(t_range_c[1], nominal.t_max_c)
        if low_c < high_c:
            band = tolerance_band(nominal, np.linspace(low_c, high_c, _STEPS), tolerance=tolerance)
            ax = band_picture(band, quantity="temperature")
            most = np.nanmax(np.abs([band.dt_low_k, band.dt_high_k]), axis=0)
            words = (
                f"From {_at(low_c)} to {_at(high_c)}, parts within {tolerance} of "
                f"{nominal.id or 'the nominal curve'} make a reader err by up to "
                f"{small(most.min())} K where that is least and {small(most.max())} K where it is "
                "most."
            )
            keep("band", ax, "What the tolerance is worth in kelvin", words)
    if verdict is not None:
        try:
            ax = plane_picture(verdict, family, coverage=coverage)
        except InputError:
            # Readings that leave the place open have none to draw; the verdict says so in words.
            return drawn
        keep("plane", ax, "The sensor against its tolerance", _of_place(verdict))
    return drawn


def _of_curve(curve: Curve, points: Points | None, coverage: float) -> str:
    low_c, high_c = curve.t_min_c, curve.t_max_c
    cold, warm = (format_ohm(curve.resistance(t)) for t in (low_c, high_c))
    verb = "rises" if curve.equation.ptc else "falls"
    words = f"The resistance {verb} from {cold} at {_at(low_c)} to {warm} at {_at(high_c)}."
    if points is not None:
        first, last = float(points.t_c.min()), float(points.t_c.max())
        one = len(points) == 1
        words += f" 1 reading at {_at(first)}." if one else (
            f" {len(points)} readings between {_at(first)} and {_at(last)}."
        )  # fmt: skip
    t_c = np.linspace(low_c, high_c, _STEPS)
    band = curve.temperature_interval(curve.resistance(t_c), coverage=coverage)
    half_k = 0.5 * (band.high - band.low)
    if np.isfinite(half_k).any():
        best, worst = int(np.nanargmin(half_k)), int(np.nanargmax(half_k))
        words += (
            f" The {100 * coverage:g} % band of the curve is narrowest near "
            f"{_at(round(t_c[best]))}, ± {small(half_k[best])} K, and widest near "
            f"{_at(round(t_c[worst]))}, ± {small(half_k[worst])} K."
        )
    return words


def _of_points(off_k: np.ndarray) -> str:
    rms = float(np.sqrt(np.nanmean(off_k**2)))
    return (
        f"Measured less fitted temperature lies between {signed(np.nanmin(off_k))} and "
        f"{signed(np.nanmax(off_k))} K; root mean square {small(rms)} K."
    )


def _of_place(verdict: Verdict) -> str:
    words = f"Against {verdict.family}, {verdict.tolerance}: {verdict.verdict}."
    if np.isfinite(verdict.gamma):
        r25, b = 100.0 * np.expm1(verdict.gamma), 100.0 * verdict.beta
        u_r25, u_b = 100.0 * verdict.u_gamma * np.exp(verdict.gamma), 100.0 * verdict.u_beta
        (r25_text, u_r25_text), (b_text, u_b_text) = format_pair(r25, u_r25), format_pair(b, u_b)
        words += (
            f" R25 is off by {minus(r25_text)} %, standard uncertainty {u_r25_text} %; B is off "
            f"by {minus(b_text)} %, standard uncertainty {u_b_text} %."
        )
    return words


def _at(t_c: float) -> str:
    return f"{minus(f'{t_c:.4g}')} °C"
