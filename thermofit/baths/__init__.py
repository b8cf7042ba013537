"""Reference temperatures: ice, boiling water, stirred bath, a twin, room air."""

from thermofit.baths.bath import KEEP_METER_DRY, SCALDING, Bath
from thermofit.baths.boiling import boiling_temperature_c, boiling_water
from thermofit.baths.by_thermometer import room_air, stirred_bath
from thermofit.baths.ice import freezing_depression_k, ice_point
from thermofit.baths.pressure import standard_pressure_hpa
from thermofit.baths.return_to_ice import ReturnToIce, back_to_ice
from thermofit.baths.twin import twin_bath

__all__ = [
    "KEEP_METER_DRY",
    "SCALDING",
    "Bath",
    "ReturnToIce",
    "back_to_ice",
    "boiling_temperature_c",
    "boiling_water",
    "freezing_depression_k",
    "ice_point",
    "room_air",
    "standard_pressure_hpa",
    "stirred_bath",
    "twin_bath",
]
