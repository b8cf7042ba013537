"""Uncertainty budgets."""

from thermofit.budget.combined import Budget
from thermofit.budget.contribution import DIVISORS, Contribution, Distribution, require_number

__all__ = ["DIVISORS", "Budget", "Contribution", "Distribution", "require_number"]
