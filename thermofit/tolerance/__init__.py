"""Tolerance-band mathematics."""

from thermofit.tolerance.band import Band, tolerance_band
from thermofit.tolerance.limits import (
    BLimits,
    BLimitsKelvin,
    Limits,
    RatioLimits,
    ResistanceLimits,
    ResistanceTable,
    TemperatureLimits,
)
from thermofit.tolerance.region import Region, Strip
from thermofit.tolerance.restate import (
    Restated,
    as_r_and_b,
    as_resistance_table,
    as_temperature,
)
from thermofit.tolerance.spec import Tolerance
from thermofit.tolerance.statistical import Spread

__all__ = [
    "BLimits",
    "Band",
    "BLimitsKelvin",
    "Limits",
    "RatioLimits",
    "Region",
    "ResistanceLimits",
    "ResistanceTable",
    "Restated",
    "Spread",
    "Strip",
    "TemperatureLimits",
    "Tolerance",
    "as_r_and_b",
    "as_resistance_table",
    "as_temperature",
    "tolerance_band",
]
