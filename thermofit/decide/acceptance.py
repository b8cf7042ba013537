"""The bench table: what a part must read, for the meter and the thermometer at hand."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import unwrap
from thermofit.curve import Curve
from thermofit.decide.requirement import requirement_of
from thermofit.decide.rule import DecisionRule, decision_rule
from thermofit.decide.uncertainty import meter_of, reading_uncertainty
from thermofit.errors import ExtrapolationError, InputError
from thermofit.family import Family
from thermofit.texttable import aligned
from thermofit.tolerance import Tolerance
from thermofit.tolerance.spec import Pair
from thermofit.units import format_ohm
from thermofit.validation import checked_uncertainty

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["AcceptanceLimits", "acceptance_limits"]

Array = npt.NDArray[np.float64]

# An uncertainty in ohms weighs differently at each limit, so that a guard band
# depends on where it ends; each turn makes that some hundred times more exact.
_TURNS = 20


@dataclass(frozen=True, eq=False)
class AcceptanceLimits:
    """Where a reading is accepted and where rejected; arrays of the shape of `t_c`.

    Parameters
    ----------
    t_c : array
        Temperatures in °C.
    nominal_ohm, low_ohm, high_ohm : array
        Nominal resistance, and what the tolerance allows.
    accept_low_ohm, accept_high_ohm : array
        A reading from the one to the other is accepted.  NaN where the
        instruments are too coarse for any reading to be.
    reject_below_ohm, reject_above_ohm : array
        A reading beyond is rejected; in between nothing can be told.
    u_pct, u_k : array
        Standard uncertainty of a reading at the nominal resistance, in percent of
        that and as the temperature that it is worth in kelvin.
    family : str
    tolerance : Tolerance
    rule : DecisionRule
    notes : tuple of str
    """

    t_c: Array
    nominal_ohm: Array
    low_ohm: Array
    high_ohm: Array
    accept_low_ohm: Array
    accept_high_ohm: Array
    reject_below_ohm: Array
    reject_above_ohm: Array
    u_pct: Array
    u_k: Array
    family: str
    tolerance: Tolerance
    rule: DecisionRule
    notes: tuple[str, ...]

    def to_frame(self) -> pd.DataFrame:
        """Give the limits as a pandas frame, a row for each temperature."""
        import pandas as pd

        names = [f.name for f in dataclasses.fields(self)][:10]
        return pd.DataFrame({name: np.ravel(getattr(self, name)) for name in names})

    def __str__(self) -> str:
        header = ["t / °C", "reject below", "accept from", "to", "reject above", "u / K"]
        columns = (
            self.reject_below_ohm, self.accept_low_ohm, self.accept_high_ohm, self.reject_above_ohm
        )  # fmt: skip
        rows = [
            [f"{t:g}", *("none" if np.isnan(r) else format_ohm(float(r)) for r in ohm), f"{u:.2g}"]
            for t, *ohm, u in zip(
                np.ravel(self.t_c), *map(np.ravel, columns), np.ravel(self.u_k), strict=True
            )
        ]
        lines = [f"{self.family}: {self.tolerance}", f"rule: {self.rule}"]
        lines.append(aligned([header, *rows], left=0, indent="  "))
        return "\n".join([*lines, *(f"({note})" for note in self.notes)])


def acceptance_limits(
    family: Family | Curve,
    t_c: Any,
    *,
    u_t_k: Any,
    u_r_pct: Any = None,
    u_r_ohm: Any = None,
    rule: str = "guarded",
    risk: float = 0.05,
    tolerance: Tolerance | None = None,
    r25_pct: float | Pair | None = None,
    b_pct: float | Pair | None = None,
) -> AcceptanceLimits:
    """Resistances between which a part is accepted, and beyond which it is rejected.

    The limits of the tolerance in ln R moved by the guard band g = z₁₋ᵣᵢₛₖ·u, where
    u² = (u_R/R)² + (α·u_T)²: inwards for acceptance, outwards for rejection.

    Parameters
    ----------
    family : Family or Curve
    t_c : float or array_like, any shape
        Temperatures in °C within the family's valid range.
    u_t_k : float or array_like
        Standard uncertainty of the thermometer in kelvin.
    u_r_pct, u_r_ohm : float or array_like, optional
        Standard uncertainty of the meter, in percent of the reading or in ohms.
    rule : {"guarded", "simple"}
    risk : float
        Of a wrong acceptance, and of a wrong rejection, of a part on a limit.
    tolerance, r25_pct, b_pct
        As for `check`.

    Returns
    -------
    AcceptanceLimits

    Raises
    ------
    ExtrapolationError
        A temperature outside the family's valid range.
    InputError
        As for `check`.

    References
    ----------
    ISO 14253-1; JCGM 106:2012, clause 8.

    Examples
    --------
    >>> family = Family(Curve.beta(r25_ohm=10e3, b_k=3977, id="air"), r25_tol_pct=2, b_tol_pct=1)
    >>> print(acceptance_limits(family, [0.0, 23.4], u_t_k=0.1, u_r_pct=0.2))
    air: R(25 °C) ± 2 %, B ± 1 %
    rule: guarded, risk 5 % (ISO 14253-1, JCGM 106)
      t / °C  reject below  accept from         to  reject above  u / K
           0     32.513 kΩ    33.128 kΩ  34.677 kΩ     35.332 kΩ   0.11
        23.4     10.438 kΩ    10.610 kΩ  10.880 kΩ     11.059 kΩ   0.11
    (a reading accepted at one temperature says nothing of the others)
    """
    judging = decision_rule(rule, risk)
    requirement = requirement_of(family, tolerance=tolerance, r25_pct=r25_pct, b_pct=b_pct)
    t, _ = unwrap(t_c, "t_c")
    if not np.isfinite(t).all():
        raise InputError("t_c must be finite: a bench table has no row for a missing temperature")
    outside = ~requirement.in_range(t)
    if outside.any():
        raise ExtrapolationError(
            f"{t[outside].flat[0]:g} °C lies outside the valid range of {requirement.name}, "
            f"{requirement.range_text}"
        )
    ln_r, a, alpha = requirement.nominal(t)
    u_ln_t = np.abs(alpha) * checked_uncertainty(u_t_k, "u_t_k", t.shape)
    relative, ohms, notes = meter_of(u_r_pct, u_r_ohm, t.shape)
    low, high = requirement.region.support(a)

    def u_at(shift: Array) -> Array:
        return reading_uncertainty(relative, ohms, np.exp(ln_r + shift), u_ln_t)

    inner_low, outer_low, inner_high, outer_high = low, low, high, high
    k = judging.guard_factor
    for _ in range(_TURNS):
        inner_low, outer_low = low + k * u_at(inner_low), low - k * u_at(outer_low)
        inner_high, outer_high = high - k * u_at(inner_high), high + k * u_at(outer_high)
    empty = inner_low > inner_high
    r_nominal = np.exp(ln_r)
    told = [*notes, *requirement.notes]
    if empty.any():
        where = ", ".join(f"{value:g}" for value in np.atleast_1d(t)[np.atleast_1d(empty)][:5])
        told.append(
            f"the instruments are too coarse to accept any part at {where} °C"
            f"{' and elsewhere' if np.count_nonzero(empty) > 5 else ''}: the guard bands take up "
            "all that the tolerance allows"
        )
    told.append("a reading accepted at one temperature says nothing of the others")
    u = u_at(np.zeros(t.shape))
    return AcceptanceLimits(
        t_c=t,
        nominal_ohm=r_nominal,
        low_ohm=r_nominal * np.exp(low),
        high_ohm=r_nominal * np.exp(high),
        accept_low_ohm=np.where(empty, np.nan, r_nominal * np.exp(inner_low)),
        accept_high_ohm=np.where(empty, np.nan, r_nominal * np.exp(inner_high)),
        reject_below_ohm=r_nominal * np.exp(outer_low),
        reject_above_ohm=r_nominal * np.exp(outer_high),
        u_pct=100.0 * u,
        u_k=u / np.abs(alpha),
        family=requirement.name,
        tolerance=requirement.tolerance,
        rule=judging,
        notes=tuple(told),
    )
