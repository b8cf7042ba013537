"""Decisions: does a part conform, what may it read, what is risked, what does a batch show."""

from thermofit.decide.acceptance import AcceptanceLimits, acceptance_limits
from thermofit.decide.batch import BatchTolerance, batch_tolerance
from thermofit.decide.check import check
from thermofit.decide.population import Population
from thermofit.decide.risk import Risk, false_accept_risk, false_reject_risk
from thermofit.decide.verdict import Readings, Verdict

__all__ = [
    "AcceptanceLimits",
    "BatchTolerance",
    "Population",
    "Readings",
    "Risk",
    "Verdict",
    "acceptance_limits",
    "batch_tolerance",
    "check",
    "false_accept_risk",
    "false_reject_risk",
]
