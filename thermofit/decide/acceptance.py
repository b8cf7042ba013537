"""The bench table: what a part must read, for the meter and the thermometer at hand."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_FLOOR, Decimal
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import unwrap
from thermofit.curve import Curve
from thermofit.decide.guardband import guarded_limits
from thermofit.decide.requirement import requirement_of
from thermofit.decide.rule import DecisionRule, RuleName, decision_rule
from thermofit.decide.uncertainty import finite_uncertainty, meter_of, reading_uncertainty
from thermofit.errors import ExtrapolationError, InputError
from thermofit.family import Family
from thermofit.notebook import ShownInNotebooks
from thermofit.texttable import aligned
from thermofit.tolerance import Tolerance
from thermofit.tolerance.deviation import in_kelvin
from thermofit.tolerance.spec import Pair
from thermofit.units import format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["AcceptanceLimits", "acceptance_limits", "rounded_to_safety"]

Array = npt.NDArray[np.float64]

_DIGITS = 5


@dataclass(frozen=True, eq=False)
class AcceptanceLimits(ShownInNotebooks):
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
        A reading beyond is rejected; in between nothing can be told.  NaN where
        the instruments are too coarse for any reading to be.
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
        # To the safe side: what the text accepts or rejects, the numbers do too.
        columns = (
            (self.reject_below_ohm, ROUND_FLOOR), (self.accept_low_ohm, ROUND_CEILING),
            (self.accept_high_ohm, ROUND_FLOOR), (self.reject_above_ohm, ROUND_CEILING),
        )  # fmt: skip
        shown = [[rounded_to_safety(float(r), way) for r in np.ravel(ohm)] for ohm, way in columns]
        rows = [
            [f"{t:g}", *ohm, f"{u:.2g}"]
            for t, *ohm, u in zip(np.ravel(self.t_c), *shown, np.ravel(self.u_k), strict=True)
        ]
        lines = [f"{self.family}: {self.tolerance}", f"rule: {self.rule}"]
        lines.append(aligned([header, *rows], left=0, indent="  "))
        return "\n".join([*lines, *(f"({note})" for note in self.notes)])


def rounded_to_safety(r_ohm: float, way: str) -> str:
    """Write a limit in five digits, rounded so that it keeps its promise.

    Parameters
    ----------
    r_ohm : float
        The limit in ohms; NaN where there is none.
    way : str
        A rounding of `decimal`, such as ``ROUND_CEILING``.

    Returns
    -------
    str

    Examples
    --------
    >>> [rounded_to_safety(9_876.54321, way) for way in ("ROUND_CEILING", "ROUND_FLOOR")]
    ['9.8766 kΩ', '9.8765 kΩ']
    """
    if np.isnan(r_ohm):
        return "none"
    exact = Decimal(r_ohm)
    unit = Decimal(1).scaleb(exact.adjusted() + 1 - _DIGITS)
    return format_ohm(float((exact / unit).quantize(Decimal(1), rounding=way) * unit), _DIGITS)


def acceptance_limits(
    family: Family | Curve,
    t_c: Any,
    *,
    u_t_k: Any,
    u_r_pct: Any = None,
    u_r_ohm: Any = None,
    rule: RuleName = "guarded",
    risk: float = 0.05,
    tolerance: Tolerance | None = None,
    r25_pct: float | Pair | None = None,
    b_pct: float | Pair | None = None,
) -> AcceptanceLimits:
    """Resistances between which a part is accepted, and beyond which it is rejected.

    The limits of the tolerance moved by the guard band g = z₁₋ᵣᵢₛₖ·u, inwards for
    acceptance and outwards for rejection, where u² = u_R² + (α·R·u_T)² at the
    limit's own resistance R.  `check` judges a reading by the same numbers; shown
    as text, they are rounded to the safe side.

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
           0     32.511 kΩ    33.127 kΩ  34.675 kΩ     35.331 kΩ   0.11
        23.4     10.438 kΩ    10.610 kΩ  10.879 kΩ     11.059 kΩ   0.11
    (a reading accepted at one temperature says nothing of the others)
    """
    judging = decision_rule(rule, risk)
    requirement = requirement_of(family, tolerance=tolerance, r25_pct=r25_pct, b_pct=b_pct)
    t, _ = unwrap(t_c, "t_c")
    if not np.isfinite(t).all():
        raise InputError("t_c must be finite: a bench table has no row for a missing temperature")
    outside = ~requirement.in_range(t)
    if outside.any():
        first = float(t[outside].flat[0])
        raise ExtrapolationError(
            f"{first:g} °C lies outside the valid range of {requirement.name}, "
            f"{requirement.range_text}{in_kelvin(requirement.curve, first)}"
        )
    ln_r, a, alpha = requirement.nominal(t)
    u_ln_t = np.abs(alpha) * finite_uncertainty(u_t_k, "u_t_k", t.shape)
    relative, ohms, notes = meter_of(u_r_pct, u_r_ohm, t.shape)
    low, high = requirement.region.support(a)
    r_nominal = np.exp(ln_r)
    u = reading_uncertainty(relative, ohms, r_nominal, u_ln_t)
    limits = guarded_limits(judging.guard_factor, ln_r, low, high, relative, ohms, u_ln_t)
    empty = np.isnan(limits.accept_low)
    told = [*notes, *requirement.notes]
    if empty.any():
        where = ", ".join(f"{value:g}" for value in np.atleast_1d(t)[np.atleast_1d(empty)][:5])
        told.append(
            f"the instruments are too coarse to accept any part at {where} °C"
            f"{' and elsewhere' if np.count_nonzero(empty) > 5 else ''}: the guard bands take up "
            "all that the tolerance allows"
        )
    told.append("a reading accepted at one temperature says nothing of the others")
    columns = {
        "t_c": t,
        "nominal_ohm": r_nominal,
        "low_ohm": limits.low,
        "high_ohm": limits.high,
        "accept_low_ohm": limits.accept_low,
        "accept_high_ohm": limits.accept_high,
        "reject_below_ohm": limits.reject_below,
        "reject_above_ohm": limits.reject_above,
        "u_pct": 100.0 * u,
        "u_k": u / np.abs(alpha),
    }
    # Copies, so that the table is a value whatever happens to the caller's arrays.
    return AcceptanceLimits(
        **{name: np.array(column, dtype=np.float64) for name, column in columns.items()},
        family=requirement.name,
        tolerance=requirement.tolerance,
        rule=judging,
        notes=tuple(told),
    )
