"""The reader of people's points files.

From bytes to readings: `text` (encoding, rows of cells), `columns` (what one
header says), `lookup` and `diagnosis` (columns found, or why not), `layout`
(separator, header row), `roles` (which column is which), `cells` (decimal sign,
one number), `rows` (all of them), `settle` (what is decided in between),
`reader` (the call), `names` and `sensors` (files of many sensors).
"""

from thermofit.pointsfile.reader import DEFAULT_MAX_BYTES, read_points
from thermofit.pointsfile.sensors import SensorPoints, read_sensors

__all__ = ["DEFAULT_MAX_BYTES", "SensorPoints", "read_points", "read_sensors"]
