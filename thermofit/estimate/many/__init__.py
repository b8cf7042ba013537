"""Batches: the curves of many sensors at once, with the numbers of the one-by-one path."""

from thermofit.estimate.many.fitting import fit_many, gathered
from thermofit.estimate.many.points import ManyPoints
from thermofit.estimate.many.result import ManyFits
from thermofit.estimate.many.with_prior import fit_many_with_prior

__all__ = ["ManyFits", "ManyPoints", "fit_many", "fit_many_with_prior", "gathered"]
