"""What a sensor may be: each family with its region of (γ, β), and an NTC of no family."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.decide.identification.bend import BEND_K, SHAPE_K, U_BEND_K, bend_shape
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.tolerance import Region, Strip, Tolerance
from thermofit.tolerance.deviation import quiet_ln_r
from thermofit.tolerance.platinum import platinum_limits_k
from thermofit.units import T0_K, ZERO_C_K, format_ohm

__all__ = ["NONE", "Expected", "Hypothesis", "another_ntc", "family_hypothesis"]

Array = npt.NDArray[np.float64]
Pair = tuple[float, float]

NONE = "none of these"
"""Id of the answer that the sensor is of no family."""

_B_OF_NONE_K = (2500.0, 5500.0)
_LEAST_PCT = 0.01  # a tolerance of nothing would be a line, on which no part lies
_PLATINUM = "callendar-van-dusen"
_PLATINUM_C = (-50.0, 0.0, 25.0, 50.0, 100.0, 150.0)
_EVERYWHERE_C = (-250.0, 2000.0)  # no reading of an NTC lies outside


@dataclass(frozen=True, eq=False)
class Expected:
    """What a hypothesis expects at m temperatures; arrays of shape (m,).

    Parameters
    ----------
    ln_r : array
        Ln of the nominal resistance.
    a : array
        ln ρ(T), by which β is multiplied.
    alpha : array
        Temperature coefficient, per kelvin.
    bend : array
        What one standard uncertainty of the bend does to ln R.
    shape : array
        Standard uncertainty of ln R beside the bend, of each temperature by itself.

    NaN outside the valid range.
    """

    ln_r: Array
    a: Array
    alpha: Array
    bend: Array
    shape: Array


@dataclass(frozen=True, eq=False)
class Hypothesis:
    """A nominal curve and the region of (γ, β) over which its parts are spread evenly.

    Parameters
    ----------
    id : str
    curve : Curve
    region : Region
        With an area.
    level : float
        What is added to ln R of the curve: where R25 is free, it takes the curve
        to the middle of the R25 that are looked for.
    bend_at_c : float or None
        For a curve that is R25 and a B value only: the second temperature, beside
        25 °C, at which the B value holds.  Between and beyond, the curve bends
        as NTC ceramics do.
    tolerance : str
        In words.
    assumed : bool
        Whether a part of the tolerance was assumed.
    """

    id: str
    curve: Curve
    region: Region
    level: float
    bend_at_c: float | None
    tolerance: str
    assumed: bool = False

    def expected(self, t_c: Array) -> Expected:
        """Give what is expected at temperatures in °C, shape (m,)."""
        inside = np.asarray(self.curve.in_range(t_c))
        ln_r, a, alpha = np.full((3, t_c.size), np.nan)
        bend, shape = np.where(inside, 0.0, np.nan), np.where(inside, 0.0, np.nan)
        own = np.append(t_c[inside], T0_K - ZERO_C_K)
        inv_t = 1.0 / (own + ZERO_C_K)
        raw = quiet_ln_r(self.curve, own)
        b_local = self.curve._local_b(inv_t, raw)
        ratio = raw - raw[-1]
        if self.bend_at_c is not None:
            one, slope = bend_shape(inv_t, self.bend_at_c)
            b_k = self._b_k
            ratio = ratio + BEND_K * b_k * one
            b_local = b_local + BEND_K * b_k * slope
            bend[inside] = U_BEND_K * b_k * one[:-1]
        ln_r[inside] = raw[-1] + self.level + ratio[:-1]
        a[inside] = ratio[:-1]
        alpha[inside] = (-b_local * inv_t**2)[:-1]
        if self.bend_at_c is not None:
            shape = SHAPE_K * np.abs(alpha)
        return Expected(ln_r, a, alpha, bend, shape)

    @property
    def _b_k(self) -> float:
        # Of the line itself: its B value is meant beyond its valid range too.
        assert self.bend_at_c is not None
        ends = quiet_ln_r(self.curve, np.array([25.0, self.bend_at_c]))
        u = 1.0 / (self.bend_at_c + ZERO_C_K) - 1.0 / T0_K
        return float(ends[1] - ends[0]) / u

    @property
    def ln_r25(self) -> float:
        """Ln of the nominal resistance at 25 °C."""
        return float(quiet_ln_r(self.curve, 25.0)) + self.level


def family_hypothesis(
    family: Family,
    *,
    tolerances: Mapping[str, Tolerance],
    assumed_r25_pct: float,
    assumed_b_pct: float,
    r25_range_ohm: Pair | None,
) -> Hypothesis:
    """Make the hypothesis that a sensor is of a family.

    Parameters
    ----------
    family : Family
    tolerances : mapping of str to Tolerance
        By id; instead of what the family states.
    assumed_r25_pct, assumed_b_pct : float
        For what is not stated.
    r25_range_ohm : pair of float, optional
        R25 is then free, ln R25 spread evenly from the one to the other.

    Returns
    -------
    Hypothesis

    Raises
    ------
    InputError
        The tolerance allows nothing but a line.
    """
    curve = family.curve
    tolerance = tolerances.get(family.id)
    text, assumed = str(tolerance), False
    if tolerance is None and family.tolerance is None and curve.equation.name == _PLATINUM:
        tolerance, text, assumed = _class_b(curve), "class B of IEC 60751 (assumed)", True
    elif tolerance is None:
        stated = family.r25_tol_pct, family.b_tol_pct
        r25, b = (
            max(default if own is None else own, _LEAST_PCT)
            for own, default in zip(stated, (assumed_r25_pct, assumed_b_pct), strict=True)
        )
        tolerance = Tolerance.of(r25_pct=r25, b_pct=b)
        marks = [" (assumed)" if own is None else "" for own in stated]
        text = f"R25 ± {r25:g} %{marks[0]}, B ± {b:g} %{marks[1]}"
        assumed = any(marks)
    region = tolerance.region(curve)
    if not region.area > 0.0:
        raise InputError(
            f"the tolerance {tolerance} of {family.id} takes R25 or B as exact, and no part is "
            "exactly that; state limits of both"
        )
    level = 0.0
    if r25_range_ohm is not None:
        level = _middle(r25_range_ohm) - float(quiet_ln_r(curve, 25.0))
        low, high = region.vertices[:, 1].min(), region.vertices[:, 1].max()
        region = _box(r25_range_ohm, (float(low), float(high)))
        text = f"R25 free, B {100 * low:+.3g} to {100 * high:+.3g} %" + (
            " (assumed)" if assumed else ""
        )
    return Hypothesis(family.id, curve, region, level, _bend_at(family), text, assumed)


def another_ntc(r25_range_ohm: Pair) -> Hypothesis:
    """Make the hypothesis that a sensor is an NTC of no family."""
    low, high = _B_OF_NONE_K
    b_k = 0.5 * (low + high)
    curve = Curve.beta(
        r25_ohm=float(np.exp(_middle(r25_range_ohm))), b_k=b_k, id=NONE, t_range_c=_EVERYWHERE_C
    )
    region = _box(r25_range_ohm, (low / b_k - 1.0, high / b_k - 1.0))
    ends = " to ".join(format_ohm(end, 3) for end in r25_range_ohm)
    text = f"R25 {ends}, B {low:g} to {high:g} K"
    return Hypothesis(NONE, curve, region, 0.0, 85.0, text)


def _middle(r25_range_ohm: Pair) -> float:
    return 0.5 * float(np.log(r25_range_ohm).sum())


def _box(r25_range_ohm: Pair, beta: Pair) -> Region:
    half = 0.5 * float(np.diff(np.log(r25_range_ohm))[0])
    return Region((Strip(1.0, 0.0, -half, half), Strip(0.0, 1.0, *beta)))


def _class_b(curve: Curve) -> Tolerance:
    # With the ends of the valid range, for a part that is stated over little of it.
    t_c = np.unique(np.clip(_PLATINUM_C, curve.t_min_c, curve.t_max_c))
    if t_c.size < 2:
        t_c = np.array([curve.t_min_c, curve.t_max_c])
    pct = 100.0 * platinum_limits_k("B", t_c) * np.asarray(curve.alpha(t_c))
    return Tolerance.of(table=list(zip(t_c.tolist(), pct.tolist(), strict=True)))


def _bend_at(family: Family) -> float | None:
    """Say where a constant-B line was pinned, if the family is one."""
    line = family.curve.equation.name == "beta" and family.source_kind in ("nominal", "standard")
    if not line:
        return None
    # A standard ratio is that of the ends of the range; a nominal B is taken as B25/85.
    return family.curve.t_max_c if family.ratio_only else 85.0
