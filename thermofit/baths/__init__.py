"""Reference temperatures: ice, boiling water, stirred bath, room air."""

from thermofit.baths.bath import KEEP_METER_DRY, SCALDING, Bath
from thermofit.baths.boiling import boiling_temperature_c, boiling_water
from thermofit.baths.by_thermometer import room_air, stirred_bath
from thermofit.baths.ice import freezing_depression_k, ice_point
from thermofit.baths.pressure import standard_pressure_hpa

__all__ = [
    "KEEP_METER_DRY",
    "SCALDING",
    "Bath",
    "boiling_temperature_c",
    "boiling_water",
    "freezing_depression_k",
    "ice_point",
    "room_air",
    "standard_pressure_hpa",
    "stirred_bath",
]
