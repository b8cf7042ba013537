"""Decision rules: where accepting ends, where rejecting begins.

Guarded: ISO 14253-1 and JCGM 106:2012, clause 8.  A limit is moved inwards by a
guard band before a part is accepted, and outwards before one is rejected; in
between nothing can be told.  Simple acceptance takes the estimate at its word.
"""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Real
from statistics import NormalDist
from typing import Literal, get_args

import numpy as np
import numpy.typing as npt

from thermofit.decide.population import Population
from thermofit.errors import InputError

__all__ = [
    "Decision",
    "DecisionRule",
    "Prior",
    "RuleName",
    "checked_prior",
    "decision_rule",
    "decisions",
]

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]

Decision = Literal["accept", "reject", "cannot tell"]
RuleName = Literal["guarded", "simple"]
Prior = Population | Literal["uniform"]


@dataclass(frozen=True)
class DecisionRule:
    """A rule with the risk that it is set to.

    Parameters
    ----------
    name : {"guarded", "simple"}
    risk : float
        Probability of a wrong acceptance, and of a wrong rejection, of a part
        exactly on a limit.
    """

    name: RuleName
    risk: float

    @property
    def guard_factor(self) -> float:
        """Width of the guard band in standard uncertainties; 0 for simple acceptance."""
        return NormalDist().inv_cdf(1.0 - self.risk) if self.name == "guarded" else 0.0

    def __str__(self) -> str:
        if self.name == "simple":
            return "simple acceptance: the estimate decides, whatever its uncertainty"
        return f"guarded, risk {100 * self.risk:g} % (ISO 14253-1, JCGM 106)"


def decision_rule(rule: RuleName, risk: float) -> DecisionRule:
    """Make a rule, or say why there is none like it.

    Parameters
    ----------
    rule : {"guarded", "simple"}
    risk : float
        0 < risk < 0.5.

    Returns
    -------
    DecisionRule

    Raises
    ------
    InputError
        An unknown rule, or a risk that is none.
    """
    if not isinstance(rule, str) or rule not in get_args(RuleName):
        raise InputError(f"rule must be 'guarded' or 'simple', not {rule!r}")
    number = isinstance(risk, Real) and not isinstance(risk, bool)
    if not (number and 0.0 < risk < 0.5):
        raise InputError(
            "risk is the probability of a wrong decision on a limit, a number above 0 and below "
            f"0.5, such as 0.05 for 5 %, not {risk!r}"
        )
    return DecisionRule("guarded" if rule == "guarded" else "simple", float(risk))


def checked_prior(prior: Prior) -> Prior:
    """Give a prior back, or say that it is none."""
    if not (isinstance(prior, Population) or (isinstance(prior, str) and prior == "uniform")):
        raise InputError(f"prior must be 'uniform' or a Population, not {prior!r}")
    return prior


def decisions(accept: Bools, reject: Bools) -> npt.NDArray[np.str_]:
    """Write decisions as words."""
    return np.where(accept, "accept", np.where(reject, "reject", "cannot tell"))
