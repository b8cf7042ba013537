"""Points files with the readings of many sensors, a row for each reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import CellProblem
from thermofit.pointsfile.reader import Source, read_table

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["SensorPoints", "read_sensors"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SensorPoints:
    """Readings of many sensors, in the order of the file.

    Parameters
    ----------
    sensor : tuple of str
        Of which sensor each reading is.
    t_c, r_ohm : array, shape (m,)
        In °C and Ω; NaN in a row with a cell that cannot be used.
    u_t_k, u_r_ohm : array, shape (m,), or None
        Standard uncertainties; None where not stated.
    unusable : mapping of str to tuple of CellProblem
        Sensors with cells that cannot be used, and those.
    source : str
        The file.
    notes : tuple of str
        How it was understood.
    """

    sensor: tuple[str, ...]
    t_c: Array
    r_ohm: Array
    u_t_k: Array | None
    u_r_ohm: Array | None
    unusable: Mapping[str, tuple[CellProblem, ...]]
    source: str
    notes: tuple[str, ...]

    def to_frame(self) -> pd.DataFrame:
        """Give the readings as the frame that `thermofit.check` and others take.

        Returns
        -------
        pandas.DataFrame
            Columns `sensor`, `t_c` and `r_ohm`, and `u_t_k` and `u_r_ohm` where stated.
        """
        import pandas as pd

        columns = {name: getattr(self, name) for name in ("t_c", "r_ohm", "u_t_k", "u_r_ohm")}
        stated = {name: column for name, column in columns.items() if column is not None}
        return pd.DataFrame({"sensor": pd.Series(self.sensor, dtype=object), **stated})


def read_sensors(source: Source, *, sensor_column: str | int, **how: Any) -> SensorPoints:
    """Read the points of many sensors from one file, as `read_points` reads those of one.

    Parameters
    ----------
    source : path or file object
    sensor_column : str or int
        Column of the sensors' names: header, or position counted from 1.  The rows
        of a sensor need not stand together.
    **how
        Arguments of `read_points`.

    Returns
    -------
    SensorPoints

    Raises
    ------
    PointsFileError
        The file cannot be read: a column or a name is missing, a row is too short or
        too long, or no sensor has but usable cells.  A cell that cannot be used is
        otherwise told in `SensorPoints.unusable`, and troubles no other sensor.
    UnitError, InputError
        As of `read_points`.

    Warns
    -----
    UnitGuessWarning
        As of `read_points`; also of names that differ in spaces or capitals only.

    Examples
    --------
    Invented readings of two air sensors from glasshouse controllers:

    >>> import io
    >>> file = io.StringIO("box;T (°C);R (kΩ)\\n3;0,0;32,65\\n5;0,0;OL\\n3;25,1;9,96\\n")
    >>> p = read_sensors(file, sensor_column="box")
    >>> p.sensor, p.r_ohm
    (('3', '5', '3'), array([32650.,    nan,  9960.]))
    >>> p.unusable["5"][0].row, p.unusable["5"][0].column, p.unusable["5"][0].value
    (3, 'R (kΩ)', 'OL')
    """
    table = read_table(source, sensor_column=sensor_column, **how)
    table.warn(stacklevel=2)
    unusable = {name: tuple(cells) for name, cells in table.rows.unusable.items()}
    return SensorPoints(
        tuple(table.rows.sensors), *table.columns, unusable, table.name, tuple(table.notes)
    )
