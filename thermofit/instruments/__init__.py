"""Instruments: what their makers state, as standard uncertainties and budgets."""

from thermofit.instruments.heating import Medium, self_heating
from thermofit.instruments.meter import Meter
from thermofit.instruments.metercheck import MeterCheck
from thermofit.instruments.ranges import MeterRange, resolution_of
from thermofit.instruments.thermometer import Thermometer

__all__ = [
    "Medium",
    "Meter",
    "MeterCheck",
    "MeterRange",
    "Thermometer",
    "resolution_of",
    "self_heating",
]
