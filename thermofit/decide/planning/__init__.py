"""Planning before getting wet: which baths, and how well the curve will then be known."""

from thermofit.decide.planning.choice import Choice
from thermofit.decide.planning.extra import ExtraPoint
from thermofit.decide.planning.outcome import Plan
from thermofit.decide.planning.planner import plan

__all__ = ["Choice", "ExtraPoint", "Plan", "plan"]
