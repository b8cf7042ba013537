"""Numbers that are computed later or elsewhere: Dask's arrays and frames, and xarray's arrays."""

from thermofit.scale.bands import evaluated_band
from thermofit.scale.evaluate import evaluated, evaluated_fields
from thermofit.scale.records import evaluated_record
from thermofit.scale.sensors import sensor_by_sensor

__all__ = [
    "evaluated", "evaluated_band", "evaluated_fields", "evaluated_record", "sensor_by_sensor",
]  # fmt: skip
