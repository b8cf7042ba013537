"""The band of one part."""

from __future__ import annotations

from typing import Any, Protocol

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import ExtrapolationError, InputError
from thermofit.tolerance.box import Box, box_of, stated_box
from thermofit.tolerance.deviation import (
    in_kelvin,
    quiet_ln_r,
    reading_error,
    reference_ln_r,
)
from thermofit.tolerance.halves import completed, own_half
from thermofit.tolerance.platinum import platinum_limits_k
from thermofit.tolerance.region import Region
from thermofit.tolerance.result import Band
from thermofit.tolerance.spec import Tolerance
from thermofit.tolerance.statistical import Spread, simulated_interval
from thermofit.units import ZERO_C_K

__all__ = ["HasTolerance", "band_of_one", "deviation"]

Array = npt.NDArray[np.float64]


class HasTolerance(Protocol):
    """What has a nominal curve and a tolerance: a family."""

    @property
    def curve(self) -> Curve:
        """The nominal curve."""

    @property
    def tolerance(self) -> Tolerance | None:
        """The tolerance, None where it is not stated."""


def band_of_one(
    item: Curve | HasTolerance,
    t_c: Array,
    tolerance: Tolerance | None,
    platinum_class: str | None,
    spread: Spread | None,
    stated: dict[str, Any],
) -> Band:
    """Band of a curve or a family; see `thermofit.tolerance.tolerance_band`."""
    nominal = item if isinstance(item, Curve) else item.curve
    _refuse_outside(nominal, t_c)
    ln_r = quiet_ln_r(nominal, t_c)
    if platinum_class is not None:
        if not nominal.equation.ptc:
            raise InputError("a class of IEC 60751 goes with platinum, whose resistance rises")
        if spread is not None:
            raise InputError("a tolerance class of IEC 60751 has limits, and no distribution")
        half_k = platinum_limits_k(platinum_class, t_c)
        ends = [quiet_ln_r(nominal, t_c + sign * half_k) - ln_r for sign in (-1.0, 1.0)]
        meaning = f"limits of class {platinum_class} of IEC 60751"
        return _band(nominal, t_c, ln_r, np.minimum(*ends), np.maximum(*ends), meaning)
    source, name = _source(item, nominal, tolerance, stated)
    if isinstance(source, Box):
        _refuse_unfit(source, t_c)
    lever = ln_r - reference_ln_r(nominal, source.t_ref_c if isinstance(source, Box) else 25.0)
    low, high = deviation(source, lever, spread)
    meaning = f"{name}; {'worst case' if spread is None else spread}"
    return _band(nominal, t_c, ln_r, low, high, meaning)


def _source(
    item: Curve | HasTolerance,
    nominal: Curve,
    tolerance: Tolerance | None,
    stated: dict[str, Any],
) -> tuple[Box | Region, str]:
    """Box or region in which parts conform, and its description."""
    if stated:
        half = () if isinstance(item, Curve) else own_half(item.tolerance, stated)
        box = stated_box(stated, half, nominal)
        if box is not None:
            return box, "tolerances as stated"
        tolerance = completed(stated, half)
    if tolerance is None and not isinstance(item, Curve):
        tolerance = item.tolerance
    if tolerance is None:
        raise InputError(
            f"no tolerance is known for {nominal.id or 'this curve'}; state one, such as "
            "± % of R25 (r25_pct) and of B (b_pct)"
        )
    box = box_of(tolerance, nominal)
    return (tolerance.region(nominal) if box is None else box), str(tolerance)


def _refuse_unfit(box: Box, t_c: Array) -> None:
    shapes = [np.shape(end) for end in (box.x_low, box.x_high, box.beta_low, box.beta_high)]
    try:
        np.broadcast_shapes(t_c.shape, *shapes)
    except ValueError:
        told = " and ".join(map(str, dict.fromkeys(filter(None, shapes))))
        raise InputError(
            f"tolerances of shape {told} do not go with temperatures of shape {t_c.shape}; arrays "
            "of tolerances are broadcast with the temperatures"
        ) from None


def deviation(source: Box | Region, lever: Array, spread: Spread | None) -> tuple[Array, Array]:
    """Limits of ln(R/R_nominal)."""
    if spread is None:
        return source.worst_case(lever) if isinstance(source, Box) else source.support(lever)
    if not spread.closed_form or (isinstance(source, Region) and spread.distribution != "uniform"):
        if spread.method == "analytic":
            raise InputError(f"{spread.distribution} has no closed form here; use method='auto'")
        return simulated_interval(source, lever, spread)
    if isinstance(source, Region):
        tail = 0.5 * (1.0 - spread.coverage)
        return source.uniform_quantile(lever, tail), source.uniform_quantile(lever, 1.0 - tail)
    if spread.distribution == "uniform":
        return source.uniform(lever, spread.coverage)
    return source.normal(lever, spread.coverage, spread.k, spread.correlation)


def _band(nominal: Curve, t_c: Array, ln_r: Array, low: Array, high: Array, meaning: str) -> Band:
    inv_t = 1.0 / (t_c + ZERO_C_K)
    alpha = -nominal._local_b(inv_t, ln_r) * inv_t**2
    t_c, ln_r, low, high, alpha = np.broadcast_arrays(t_c, ln_r, low, high, alpha)
    below, above = np.expm1(low), np.expm1(high)
    fields = {
        "t_c": t_c,
        "r_low_ohm": np.exp(ln_r + low),
        "r_nominal_ohm": np.exp(ln_r),
        "r_high_ohm": np.exp(ln_r + high),
        "dr_low_pct": 100.0 * below,
        "dr_pct": 100.0 * above,
        "dt_low_k": reading_error(nominal, t_c, ln_r + low),
        "dt_high_k": reading_error(nominal, t_c, ln_r + high),
        "dt_low_first_order_k": below / alpha,
        "dt_high_first_order_k": above / alpha,
        "alpha_per_k": alpha,
    }
    # Copies, so that the band is a value whatever happens to the caller's arrays.
    return Band(**{name: np.array(value) for name, value in fields.items()}, meaning=meaning)


def _refuse_outside(nominal: Curve, t_c: Array) -> None:
    outside = ~nominal.in_range(t_c)
    if outside.any():
        place = int(np.flatnonzero(outside)[0])
        first = float(np.ravel(t_c)[place])
        told = f"{first:g} °C"
        if np.isnan(first):
            told = f"nan (element {place + 1}, a missing temperature)"
        raise ExtrapolationError(
            f"{told} is outside the valid range of the nominal curve, {nominal.t_min_c:g} to "
            f"{nominal.t_max_c:g} °C; a tolerance band does not go beyond it"
            f"{in_kelvin(nominal, first)}"
        )
