"""R–T equations: one file each, pure array mathematics."""

from thermofit.equations.base import Coefficient, Equation
from thermofit.equations.bent_beta import BentBeta
from thermofit.equations.beta import Beta
from thermofit.equations.callendar_van_dusen import CallendarVanDusen
from thermofit.equations.catalogue import equation
from thermofit.equations.inverse_polynomial import InversePolynomial
from thermofit.equations.log_polynomial import LogPolynomial
from thermofit.equations.shifted_exponential import ShiftedExponential
from thermofit.equations.steinhart_hart import SteinhartHart
from thermofit.equations.tabulated import Tabulated

__all__ = [
    "BentBeta",
    "Beta",
    "CallendarVanDusen",
    "Coefficient",
    "Equation",
    "InversePolynomial",
    "LogPolynomial",
    "ShiftedExponential",
    "SteinhartHart",
    "Tabulated",
    "equation",
]
