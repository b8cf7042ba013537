"""Decisions: does a part conform, what may it read, what is risked, what does a batch show."""

from thermofit.decide.acceptance import AcceptanceLimits, acceptance_limits
from thermofit.decide.batch import BatchTolerance, batch_tolerance
from thermofit.decide.cause import Causes, SpotReading, causes, display_reading
from thermofit.decide.check import check
from thermofit.decide.identification import Identification, identify
from thermofit.decide.planning import plan
from thermofit.decide.population import Population
from thermofit.decide.risk import Risk, false_accept_risk, false_reject_risk
from thermofit.decide.substitute import Substitutes, substitutes
from thermofit.decide.verdict import Readings, Verdict

__all__ = [
    "AcceptanceLimits",
    "BatchTolerance",
    "Causes",
    "Identification",
    "Population",
    "Readings",
    "Risk",
    "SpotReading",
    "Substitutes",
    "Verdict",
    "acceptance_limits",
    "batch_tolerance",
    "causes",
    "check",
    "display_reading",
    "false_accept_risk",
    "false_reject_risk",
    "identify",
    "plan",
    "substitutes",
]
