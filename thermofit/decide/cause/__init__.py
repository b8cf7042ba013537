"""From readings to the cause: is it the sensor, the wiring, or the controller?"""

from thermofit.decide.cause.causes import causes
from thermofit.decide.cause.display import display_reading
from thermofit.decide.cause.kinds import PRIORS
from thermofit.decide.cause.nexttest import NextTest
from thermofit.decide.cause.result import CauseRow, Causes
from thermofit.decide.cause.spot import SpotReading

__all__ = [
    "PRIORS",
    "CauseRow",
    "Causes",
    "NextTest",
    "SpotReading",
    "causes",
    "display_reading",
]
