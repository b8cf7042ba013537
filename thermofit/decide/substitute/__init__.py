"""Which part can stand in for another, and can trimming resistors mend the reading error."""

from thermofit.decide.substitute.firmware import Firmware, FirmwareFit
from thermofit.decide.substitute.linearise import linearising_ohm
from thermofit.decide.substitute.result import ErrorCurve, Substitutes
from thermofit.decide.substitute.row import Substitute
from thermofit.decide.substitute.search import substitutes
from thermofit.decide.substitute.setpoints import SetPoint

__all__ = [
    "ErrorCurve",
    "Firmware",
    "FirmwareFit",
    "SetPoint",
    "Substitute",
    "Substitutes",
    "linearising_ohm",
    "substitutes",
]
