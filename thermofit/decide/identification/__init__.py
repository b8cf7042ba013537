"""Which registered family is this sensor?"""

from thermofit.decide.identification.apart import Group
from thermofit.decide.identification.identify import identify
from thermofit.decide.identification.nextreading import NextReading
from thermofit.decide.identification.result import Candidate, Identification, OtherLevel

__all__ = ["Candidate", "Group", "Identification", "NextReading", "OtherLevel", "identify"]
