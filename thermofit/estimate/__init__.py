"""From measured points to a fitted curve: exact, linear, nonlinear, both axes, choice."""

from thermofit.estimate.choice import Candidate
from thermofit.estimate.fitting import fit
from thermofit.estimate.linear import least_squares
from thermofit.estimate.many import ManyFits, ManyPoints, fit_many
from thermofit.estimate.prior import Prior
from thermofit.estimate.prioruse import Contributions, PriorUse
from thermofit.estimate.result import Fit

__all__ = [
    "Candidate",
    "Contributions",
    "Fit",
    "ManyFits",
    "ManyPoints",
    "Prior",
    "PriorUse",
    "fit",
    "fit_many",
    "least_squares",
]
