"""Heat: self-heating, step response, and what they tell of the air around a sensor."""

from thermofit.thermal.airflow import AirFlow, compare_air_flow
from thermofit.thermal.dissipation import DissipationFactor, dissipation_factor
from thermofit.thermal.heating import COMMON_PRACTICE, SelfHeating, heating_errors
from thermofit.thermal.log import StepLog
from thermofit.thermal.logfile import read_log
from thermofit.thermal.mil import mil_time_constant
from thermofit.thermal.response import StepResponse
from thermofit.thermal.step import fit_step

__all__ = [
    "COMMON_PRACTICE",
    "AirFlow",
    "DissipationFactor",
    "SelfHeating",
    "StepLog",
    "StepResponse",
    "compare_air_flow",
    "dissipation_factor",
    "fit_step",
    "heating_errors",
    "mil_time_constant",
    "read_log",
]
