"""The reader of people's points files.

From bytes to readings: `text` (encoding, rows of cells), `columns` (what one
header says), `lookup` and `diagnosis` (columns found, or why not), `layout`
(separator, header row), `roles` (which column is which), `cells` (decimal sign,
one number), `rows` (all of them), `settle` (what is decided in between),
`reader` (the call).
"""

from thermofit.pointsfile.reader import DEFAULT_MAX_BYTES, read_points

__all__ = ["DEFAULT_MAX_BYTES", "read_points"]
