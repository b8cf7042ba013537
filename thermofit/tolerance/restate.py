"""One form of tolerance said in another, and what is lost by it.

A tolerance is a region of (γ, β); another form has regions of another shape.  The
new statement is the tightest one of its form that refuses no part which the old
one accepts; what is lost is that it accepts others besides.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.tolerance.band import tolerance_band
from thermofit.tolerance.deviation import log_ratio
from thermofit.tolerance.limits import BLimits, ResistanceLimits, ResistanceTable, TemperatureLimits
from thermofit.tolerance.spec import Tolerance

__all__ = ["Restated", "as_r_and_b", "as_resistance_table", "as_temperature"]


@dataclass(frozen=True)
class Restated:
    """A tolerance in another form.

    Parameters
    ----------
    tolerance : Tolerance
        The new statement.
    widened_by : float
        Share of the new region that the old one refuses, 0 to 1; NaN where the
        new form has no closed region.
    lost : str
        What is lost, in words.
    """

    tolerance: Tolerance
    widened_by: float
    lost: str

    def __str__(self) -> str:
        return f"{self.tolerance} ({self.lost})"


def as_r_and_b(tolerance: Tolerance, curve: Curve, t_c: float = 25.0) -> Restated:
    """Say a tolerance as limits of the resistance at one temperature and of B.

    Parameters
    ----------
    tolerance : Tolerance
    curve : Curve
        Nominal curve.
    t_c : float
        Temperature of the resistance in °C.

    Returns
    -------
    Restated

    Examples
    --------
    R0 ± 1 % with B ± 1 % allows R25 about ± 2.2 %:

    >>> import thermofit as tf
    >>> curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    >>> low, high = as_r_and_b(tf.Tolerance.of(r_pct=1, r_at_c=0, b_pct=1), curve).tolerance.limits
    >>> round(low.high_pct, 2), round(high.high_pct, 2)
    (2.24, 1.0)
    """
    region = tolerance.region(curve)
    low, high = _with_nominal(*region.support(log_ratio(curve, t_c)))
    beta = region.vertices[:, 1]
    new = Tolerance((
        ResistanceLimits(100.0 * float(np.expm1(low)), 100.0 * float(np.expm1(high)), t_c),
        BLimits(*(100.0 * end for end in _with_nominal(beta.min(), beta.max()))),
    ))  # fmt: skip
    return _restated(tolerance, new, curve)


def as_temperature(tolerance: Tolerance, curve: Curve, dt_range_c: tuple[float, float]) -> Restated:
    """Say a tolerance as limits of the reading error over a range.

    Parameters
    ----------
    tolerance : Tolerance
    curve : Curve
        Nominal curve.
    dt_range_c : tuple of float
        Range in °C.

    Returns
    -------
    Restated
    """
    if not dt_range_c[0] < dt_range_c[1]:
        raise InputError(f"a range runs from a lower to a higher temperature, not {dt_range_c}")
    band = tolerance_band(curve, np.linspace(*dt_range_c, 129), tolerance=tolerance)
    errors = np.stack([band.dt_low_k, band.dt_high_k])
    if np.isnan(errors).any():
        raise InputError("the nominal curve does not reach all resistances that are allowed")
    ends = _with_nominal(errors.min(), errors.max())
    new = Tolerance((TemperatureLimits(*ends, *dt_range_c),))
    return _restated(tolerance, new, curve)


def as_resistance_table(tolerance: Tolerance, curve: Curve, t_c: npt.ArrayLike) -> Restated:
    """Say a tolerance as limits of the resistance in percent at some temperatures.

    Parameters
    ----------
    tolerance : Tolerance
    curve : Curve
        Nominal curve.
    t_c : array_like, shape (n,), n ≥ 2
        Temperatures in °C.

    Returns
    -------
    Restated
    """
    t = np.unique(np.asarray(t_c, dtype=np.float64))
    if t.size < 2:
        raise InputError("a table of tolerances needs two temperatures or more")
    between = np.union1d(np.linspace(t[0], t[-1], 257), t)
    band = tolerance_band(curve, between, tolerance=tolerance)
    at = np.isin(between, t)
    # Where the old limits bulge beyond the straight lines of the table, all of its
    # limits are moved out by the largest bulge.
    low, high = band.dr_low_pct[at], band.dr_pct[at]
    low = low + (band.dr_low_pct - np.interp(between, t, low)).min()
    high = high + (band.dr_pct - np.interp(between, t, high)).max()
    low, high = np.minimum(low, 0.0), np.maximum(high, 0.0)
    new = Tolerance((ResistanceTable(tuple(t), tuple(low), tuple(high)),))
    return _restated(tolerance, new, curve)


def _with_nominal(low: Any, high: Any) -> tuple[float, float]:
    """Limits with the nominal part between them, which only rounding can leave out."""
    return min(float(low), 0.0), max(float(high), 0.0)


def _restated(old: Tolerance, new: Tolerance, curve: Curve) -> Restated:
    before = old.region(curve).area
    after = new.region(curve).area
    if after == 0.0:
        return Restated(new, float("nan"), "both take the shape of the curve as exact")
    widened = max(1.0 - before / after, 0.0)
    if widened < 1e-9:
        return Restated(new, 0.0, "nothing is lost")
    share = f"{100.0 * widened:.2g} %" if widened < 0.995 else "nearly all"
    return Restated(new, widened, f"{share} of the region that this allows, the original refuses")
