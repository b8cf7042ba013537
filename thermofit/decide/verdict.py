"""What a check found out about one sensor."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NoReturn

import numpy as np
import numpy.typing as npt

from thermofit.decide.rule import Decision, DecisionRule, Prior
from thermofit.interval import format_pair
from thermofit.notebook import ShownInNotebooks
from thermofit.texttable import aligned, with_minus
from thermofit.texttable import format_probability as format_probability
from thermofit.tolerance import Tolerance
from thermofit.units import format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Cause", "Readings", "Verdict"]

Array = npt.NDArray[np.float64]

Cause = Literal[
    "conforms",
    "shifted",
    "bent",
    "shifted and bent",
    "shifted or bent",
    "another curve",
    "off at one temperature",
    "one temperature only",
    "too uncertain",
    "inconsistent readings",
    "out of range",
    "unusable readings",
]
"""What a verdict rests on, for programs; its ``reason`` says it to people."""


@dataclass(frozen=True, eq=False)
class Readings(ShownInNotebooks):
    """Readings of one sensor, each judged by itself; arrays of shape (n,) in their order.

    Parameters
    ----------
    t_c, r_ohm : array
        As measured.
    low_ohm, high_ohm : array
        Resistances that the tolerance allows at that temperature.
    accept_low_ohm, accept_high_ohm : array
        The same narrowed by the guard band: from here to here a reading is
        accepted.  NaN where nothing is left.
    reject_below_ohm, reject_above_ohm : array
        The same widened by it: a reading beyond is rejected.  NaN where no
        reading is that low.
    deviation_pct : array
        Reading against the nominal resistance at that temperature.
    u_ohm, u_k : array
        Standard uncertainty of the reading, that of its temperature carried
        over, in ohms and as the temperature that it is worth in kelvin.
    probability : array
        Probability that the part conforms at that temperature, from this reading
        (and the prior) alone.
    verdict : array of str
        "accept", "reject" or "cannot tell".
    left_out_k : array
        Measured temperature less the one at which the sensor's other readings
        say that it has this resistance; NaN where they say nothing.

    All but the first two are NaN outside the family's valid range.
    """

    t_c: Array
    r_ohm: Array
    low_ohm: Array
    high_ohm: Array
    accept_low_ohm: Array
    accept_high_ohm: Array
    reject_below_ohm: Array
    reject_above_ohm: Array
    deviation_pct: Array
    u_ohm: Array
    u_k: Array
    probability: Array
    verdict: npt.NDArray[np.str_]
    left_out_k: Array

    def __len__(self) -> int:
        return len(self.t_c)

    def to_frame(self) -> pd.DataFrame:
        """Give the readings as a pandas frame, a row for each."""
        import pandas as pd

        return pd.DataFrame({f.name: getattr(self, f.name) for f in dataclasses.fields(self)})

    def __str__(self) -> str:
        header = ["t / °C", "R", "allowed from", "to", "u / K", "probability", "verdict"]
        rows = [
            [
                f"{self.t_c[i]:g}",
                format_ohm(float(self.r_ohm[i])),
                *(
                    format_ohm(float(limit)) if np.isfinite(limit) else ""
                    for limit in (self.low_ohm[i], self.high_ohm[i])
                ),
                f"{self.u_k[i]:.2g}" if np.isfinite(self.u_k[i]) else "",
                format_probability(float(self.probability[i])),
                str(self.verdict[i]),
            ]
            for i in range(len(self))
        ]
        return aligned([header, *rows], left=0, indent="  ")


@dataclass(frozen=True, eq=False)
class Verdict(ShownInNotebooks):
    """Whether one sensor is good.

    Made by `thermofit.check`.  It is one of three, and so has no truth value:
    compare `verdict`.

    Parameters
    ----------
    verdict : {"accept", "reject", "cannot tell"}
    probability : float
        Probability that the sensor conforms; NaN where the readings do not say.
    cause : str
        What the verdict rests on: one of `Cause`.
    reason : str
        The same in words.
    gamma, beta : float
        Its place: deviation of ln R25, and relative deviation of its log ratio
        (or B value); NaN where the readings do not determine it.
    u_gamma, u_beta, correlation : float
        Their standard uncertainties and correlation.
    chi2, dof, p_value : float, int, float
        How well the readings agree with each other.
    readings : Readings
        Each reading by itself.
    family : str
        Id of the family or curve that it was checked against.
    tolerance : Tolerance
    rule : DecisionRule
    prior : "uniform" or Population
        What was known before the readings.
    notes : tuple of str
        What was taken for granted.
    """

    verdict: Decision
    probability: float
    cause: Cause
    reason: str
    gamma: float
    beta: float
    u_gamma: float
    u_beta: float
    correlation: float
    chi2: float
    dof: int
    p_value: float
    readings: Readings
    family: str
    tolerance: Tolerance
    rule: DecisionRule
    prior: Prior
    notes: tuple[str, ...]

    def __bool__(self) -> NoReturn:
        raise TypeError(
            'a verdict is one of three and neither true nor false; compare .verdict == "accept"'
        )

    def to_frame(self) -> pd.DataFrame:
        """Give the verdict as a pandas frame of one row, as `check` does for many sensors."""
        import pandas as pd

        names = VERDICT_COLUMNS
        return pd.DataFrame(
            {"readings": [len(self.readings)]} | {name: [getattr(self, name)] for name in names}
        )

    def __str__(self) -> str:
        lines = [f"{self.verdict}: {self.reason}", ""]
        lines += [with_minus(f"  against {self.family}: {self.tolerance}")]
        if np.isfinite(self.gamma):
            places = (
                ("R25", 100.0 * np.expm1(self.gamma), self.u_gamma * np.exp(self.gamma)),
                ("B", 100.0 * self.beta, self.u_beta),
            )
            told = []
            for name, value, u in places:
                if value == u == 0.0:  # of a tolerance that is a line
                    told.append(f"{name} as nominal")
                    continue
                shown, u_shown = format_pair(float(value), 100.0 * float(u))
                sign = "" if shown.startswith("-") else "+"
                told.append(f"{name} off by {sign}{shown} %, standard uncertainty {u_shown} %")
            if np.isfinite(self.correlation):
                told.append(f"correlation {self.correlation:+z.2f}")
            lines.append(f"  {with_minus('; '.join(told))}")
        if np.isfinite(self.probability):
            lines.append(f"  probability of conformity {format_probability(self.probability)}")
        lines += [f"  prior: {self.prior}", f"  rule: {self.rule}"]
        if np.isfinite(self.p_value):
            lines.append(f"  χ² = {self.chi2:.3g} with {degrees(self.dof)}, p = {self.p_value:.2g}")
        lines += ["", str(self.readings)]
        return "\n".join([*lines, *(f"  ({note})" for note in self.notes)])

    def __repr__(self) -> str:
        return f"<Verdict {self.verdict}: {self.cause}, against {self.family}>"


VERDICT_COLUMNS = (
    "verdict", "probability", "gamma", "beta", "u_gamma", "u_beta", "correlation",
    "chi2", "dof", "p_value", "cause", "reason",
)  # fmt: skip


def degrees(dof: int) -> str:
    """Write a number of degrees of freedom."""
    return f"{dof} degree{'' if dof == 1 else 's'} of freedom"
