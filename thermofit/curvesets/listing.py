"""Curves and families as a table that a person can read."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from thermofit.curve import Curve
from thermofit.family import Family
from thermofit.texttable import aligned
from thermofit.units import format_ohm

__all__ = ["listing"]

_HEAD = ("id", "equation", "R25", "B25/85", "valid", "R25 ±", "B ±", "source")
_SOURCE_WIDTH = 60


def listing(items: Iterable[Curve | Family]) -> str:
    """Write a line for each curve or family, under a line of headings.

    Examples
    --------
    >>> print(listing([Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet", source="bench")]))
    id     equation  R25        B25/85  valid           R25 ±  B ±  source
    inlet  beta      10.000 kΩ  3977 K  −40 to 125 °C                bench
    """
    return aligned([_HEAD, *(_row(item) for item in items)], left=len(_HEAD))


def _row(item: Curve | Family) -> tuple[str, ...]:
    curve = item.curve if isinstance(item, Family) else item
    tolerances = ("", "")
    if isinstance(item, Family):
        tolerances = _percent(item.r25_tol_pct), _percent(item.b_tol_pct)
    r25_ohm, b_k = curve.r25_ohm, curve.b_25_85_k
    r25 = "—" if not np.isfinite(r25_ohm) else format_ohm(r25_ohm)
    if isinstance(item, Family) and item.ratio_only:
        r25 = "any"
    # A rising resistance has a negative B value, of which nobody speaks.
    b = f"{b_k:.0f} K" if np.isfinite(b_k) and b_k > 0.0 else "—"
    valid = f"{curve.t_min_c:g} to {curve.t_max_c:g} °C".replace("-", "−")
    source = curve.source.split("\n")[0]
    if len(source) > _SOURCE_WIDTH:
        source = source[: _SOURCE_WIDTH - 1] + "…"
    return (curve.id, curve.equation.name, r25, b, valid, *tolerances, source)


def _percent(value: float | None) -> str:
    return "" if value is None else f"{value:g} %"
