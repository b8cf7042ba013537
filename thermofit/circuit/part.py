"""The sensor as a budget of errors sees it: nominal curve, tolerance, dissipation factor."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.circuit.base import Circuit
from thermofit.circuit.network import quiet_t_c
from thermofit.circuit.node import Quantities
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve
from thermofit.tolerance import Region, Tolerance
from thermofit.tolerance.deviation import log_ratio, quiet_ln_r
from thermofit.tolerance.spec import Pair
from thermofit.units import ZERO_C_K

__all__ = ["CURVE_K", "Part", "part_of"]

Array = npt.NDArray[np.float64]

CURVE_K = 3.0
"""The uncertainty of a curve has no limits; the worst case takes it this many times."""

_MOST_STEPS = 400
_SETTLED_K = 1e-9


@dataclass(frozen=True, eq=False)
class Part:
    """A nominal curve, and what a sensor may differ from it by.

    Parameters
    ----------
    curve : Curve
        The one that the controller assumes.
    tolerance : Tolerance, optional
        None where nothing is known, and the sensor is taken as exact.
    dissipation_mw_per_k : float, optional
        None where self-heating is left out.
    """

    curve: Curve
    tolerance: Tolerance | None
    dissipation_mw_per_k: float | None

    @cached_property
    def region(self) -> Region | None:
        """Region of (γ, β) that the tolerance allows."""
        return None if self.tolerance is None else self.tolerance.region(self.curve)

    @cached_property
    def _moments(self) -> tuple[Array, Array]:
        """Mean and covariance of (γ, β), if parts are spread evenly over the region."""
        assert self.region is not None
        corners, areas = self.region._triangles
        if areas.sum() == 0.0:  # a line, or the nominal part only
            ends = self.region.vertices[[0, -1]]
            away = ends[1] - ends[0]
            return ends.mean(axis=0), np.outer(away, away) / 12.0
        weights = areas / areas.sum()
        centres = corners.mean(axis=1)
        mean = weights @ centres
        # The second moments of a triangle about its centre: a twelfth of those of its corners.
        arms = corners - centres[:, np.newaxis, :]
        off = centres - mean
        covariance = np.einsum("t,tca,tcb->ab", weights, arms, arms) / 12.0
        covariance += np.einsum("t,ta,tb->ab", weights, off, off)
        return mean, covariance

    def deviation(self, t_c: Array) -> tuple[Array, Array, Array, Array]:
        """Deviation of ln R from the nominal curve: limits, mean and standard uncertainty.

        The nominal curve of a tolerance is exact, since it defines the part; without a tolerance
        the curve is that of one sensor, known as well as its covariance says.
        """
        if self.region is None:
            zero = np.zeros(np.shape(t_c))
            if self.curve.covariance is None:
                return zero, zero, zero, zero
            u = self.curve._u_ln_r(1.0 / (t_c + ZERO_C_K), quiet_ln_r(self.curve, t_c))
            return -CURVE_K * u, CURVE_K * u, zero, u
        lever = log_ratio(self.curve, t_c)
        low, high = self.region.support(lever)
        mean, covariance = self._moments
        variance = covariance[0, 0] + lever * (2.0 * covariance[0, 1] + lever * covariance[1, 1])
        return low, high, mean[0] + lever * mean[1], np.sqrt(np.maximum(variance, 0.0))

    def rise_k(self, circuit: Circuit, t_c: Array, q: Quantities) -> Array:
        """Self-heating of the nominal sensor in the steady state, ΔT = P/δ.

        Returns
        -------
        array
            In kelvin; NaN where it would heat itself without settling, or beyond its curve.
        """
        shape = np.broadcast_shapes(np.shape(t_c), *(np.shape(value) for value in q.values()))
        rise = np.zeros(shape)
        if self.dissipation_mw_per_k is None:
            return rise
        for _ in range(_MOST_STEPS):
            r_ohm = np.exp(self.curve._quiet_ln_r(t_c + rise))
            target = circuit._power(r_ohm, q) * 1e3 / self.dissipation_mw_per_k
            # Half the way, so that a power that falls fast with temperature does not overshoot.
            step = 0.5 * (target - rise)
            rise = rise + step
            if not (np.abs(step) > _SETTLED_K).any():
                break
        return np.where(np.abs(step) > _SETTLED_K, np.nan, rise)

    def resistance(self, t_c: Array) -> Array:
        """Nominal resistance, also somewhat beyond the valid range."""
        result: Array = np.exp(quiet_ln_r(self.curve, t_c))
        return result

    def reads(self, circuit: Circuit, position: Array, q: Quantities) -> Array:
        """Temperature that the controller makes of a count position; NaN where none."""
        return quiet_t_c(self.curve, circuit._sensor_at(position, q))

    def falls(self, t_c: Array) -> Any:
        """Whether the resistance falls with temperature, as that of an NTC does."""
        inner = np.clip(t_c, self.curve.t_min_c, self.curve.t_max_c)
        return np.asarray(self.curve.alpha(inner)) < 0.0

    @property
    def notes(self) -> tuple[str, ...]:
        """What is taken for granted, in words."""
        name = self.curve.id or "the sensor"
        if self.tolerance is None and self.curve.covariance is not None:
            return (f"{name}: uncertainty of its curve, in the worst case at k = {CURVE_K:g}",)
        if self.tolerance is None:
            return (f"no tolerance of {name} is stated: it is taken as exact",)
        if self.tolerance.exact_shape:
            return (f"{name}: {self.tolerance}, none of B stated: its shape is taken as exact",)
        return (f"{name}: {self.tolerance}",)


def part_of(
    part: Family | Curve,
    *,
    tolerance: Tolerance | None = None,
    r25_pct: float | Pair | None = None,
    b_pct: float | Pair | None = None,
    dissipation_mw_per_k: float | None = None,
) -> Part:
    """Put together what is known of a sensor.

    Parameters
    ----------
    part : Family or Curve
        A family brings its tolerance and its dissipation factor.
    tolerance : Tolerance, optional
        Instead of the two that follow.
    r25_pct, b_pct : float or pair, optional
        ± % or (low, high); each takes the place of what the family states.
    dissipation_mw_per_k : float, optional
        Dissipation factor (IEC 60539-1) in milliwatts per kelvin.

    Returns
    -------
    Part

    Raises
    ------
    InputError
        No family and no curve, two tolerances, or a family that leaves R25 open.
    """
    curve = nominal_curve(part)
    if tolerance is not None and not isinstance(tolerance, Tolerance):
        raise InputError(
            f"tolerance must be a Tolerance, such as Tolerance.of(r25_pct=1), not {tolerance!r}"
        )
    if tolerance is not None and (r25_pct is not None or b_pct is not None):
        raise InputError("a tolerance and r25_pct or b_pct beside it contradict; give one")
    if isinstance(part, Family):
        if dissipation_mw_per_k is None:
            dissipation_mw_per_k = part.ratings.get("dissipation_factor_mw_per_k")
        if tolerance is None:
            r25_pct = part.r25_tol_pct if r25_pct is None else r25_pct
            b_pct = part.b_tol_pct if b_pct is None else b_pct
    if tolerance is None and (r25_pct is not None or b_pct is not None):
        tolerance = Tolerance.of(r25_pct=r25_pct, b_pct=b_pct)
    if dissipation_mw_per_k is not None:
        require_number(dissipation_mw_per_k, "dissipation_mw_per_k", "mW/K", above=0.0)
    return Part(curve, tolerance, dissipation_mw_per_k)
