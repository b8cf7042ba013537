"""What the controller believes: divider, converter, errors, faults."""

from thermofit.circuit.base import Circuit
from thermofit.circuit.bestpull import BestPull, best_pull
from thermofit.circuit.converter import Converter
from thermofit.circuit.current import ConstantCurrent
from thermofit.circuit.divider import Divider
from thermofit.circuit.errorbudget import ErrorBudget
from thermofit.circuit.explanations import Explanation
from thermofit.circuit.faultlimits import FaultLimits
from thermofit.circuit.faultrows import FaultRow, Faults
from thermofit.circuit.faults import faults
from thermofit.circuit.preferred import preferred_values
from thermofit.circuit.seen import Seen, seen
from thermofit.circuit.table import CircuitTable

__all__ = [
    "BestPull",
    "Circuit",
    "CircuitTable",
    "ConstantCurrent",
    "Converter",
    "Divider",
    "ErrorBudget",
    "Explanation",
    "FaultLimits",
    "FaultRow",
    "Faults",
    "Seen",
    "best_pull",
    "faults",
    "preferred_values",
    "seen",
]
