"""Spot readings: a resistance, measured somewhere between the sensor and the display."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from numbers import Real
from typing import Any, Literal, get_args

import numpy as np

from thermofit.budget import require_number
from thermofit.errors import InputError
from thermofit.units import ZERO_C_K, format_ohm

__all__ = ["PLACES", "Place", "SpotReading", "spot_readings"]

Place = Literal["sensor", "connector", "display", "cable bridged", "cable open"]

PLACES: tuple[Place, ...] = get_args(Place)

_COLUMNS = ("place", "t_c", "r_ohm", "u_t_k", "u_r_ohm")


@dataclass(frozen=True)
class SpotReading:
    """A resistance, and where and at which temperature of the sensor it was measured.

    Parameters
    ----------
    place : str
        "sensor": at its own leads, both disconnected.  "connector": at the cable's end, unplugged
        from the controller.  "display": what the controller makes of it, as a resistance
        (`display_reading`).  "cable bridged" and "cable open": as "connector", with the sensor
        taken off and the cable's far end bridged or left open.
    t_c : float
        Temperature of the sensor in °C.
    r_ohm : float
        In ohms; 0 for none that the meter shows, infinite for "over range".
    u_t_k : float
        Standard uncertainty of the temperature in kelvin.
    u_r_ohm : float
        That of the resistance in ohms; above zero unless the reading is over range.
    limit_ohm : float, optional
        What the meter still shows; needed where it was over range, and only there.

    Raises
    ------
    InputError
        An unknown place, a number that is none, no uncertainty, an over-range reading without
        the meter's limit.

    Examples
    --------
    >>> print(SpotReading("connector", 20.0, 14.55e3, 0.2, 30.0))
    connector, 20 °C: 14.550 kΩ
    >>> print(SpotReading("sensor", 20.0, float("inf"), 0.2, 0.0, limit_ohm=20e6))
    sensor, 20 °C: over 20.000 MΩ
    """

    place: Place
    t_c: float
    r_ohm: float
    u_t_k: float
    u_r_ohm: float
    limit_ohm: float | None = None

    def __post_init__(self) -> None:
        if not isinstance(self.place, str) or self.place not in PLACES:
            raise InputError(
                f"a reading is taken at one of {', '.join(map(repr, PLACES))}, not {self.place!r}"
            )
        where = f"of the reading at {self.place!r}"
        require_number(self.t_c, f"t_c {where}", "°C", above=-ZERO_C_K)
        require_number(self.u_t_k, f"u_t_k {where}", "K", least=0.0)
        over = isinstance(self.r_ohm, Real) and self.r_ohm == math.inf
        if not over:
            require_number(self.r_ohm, f"r_ohm {where}", "Ω", least=0.0)
        require_number(self.u_r_ohm, f"u_r_ohm {where}", "Ω", least=0.0)
        if over and self.limit_ohm is None:
            raise InputError(
                f"the reading at {self.place!r} is over range, and of what range is not said; "
                "state limit_ohm, the largest resistance that the meter shows"
            )
        if not over and self.limit_ohm is not None:
            raise InputError(
                f"limit_ohm {where} goes with r_ohm=math.inf, a reading over range; "
                f"{self.r_ohm:g} Ω is none"
            )
        if self.limit_ohm is not None:
            require_number(self.limit_ohm, f"limit_ohm {where}", "Ω", above=0.0)
        if not over and self.u_r_ohm == 0.0:
            raise InputError(
                f"u_r_ohm {where} is 0, and no reading is without uncertainty; state the standard "
                "uncertainty of the meter"
            )

    @property
    def over_range(self) -> bool:
        """Whether the meter showed "over range", or the controller a broken sensor."""
        return math.isinf(self.r_ohm)

    def __str__(self) -> str:
        if self.over_range:
            shown = f"over {format_ohm(float(self.limit_ohm or np.nan))}"
        else:
            shown = format_ohm(self.r_ohm)
        return f"{self.place}, {self.t_c:g} °C: {shown}"


def spot_readings(readings: Any) -> tuple[SpotReading, ...]:
    """Take readings of one sensor from a sequence or a frame.

    Parameters
    ----------
    readings : iterable of SpotReading, or pandas.DataFrame
        A frame has the columns ``place``, ``t_c``, ``r_ohm``, ``u_t_k``, ``u_r_ohm`` and, where a
        reading is over range, ``limit_ohm``.

    Returns
    -------
    tuple of SpotReading

    Raises
    ------
    InputError
        No readings, columns that are missing, or something that is no reading.
    """
    if isinstance(readings, SpotReading):
        readings = [readings]
    if hasattr(readings, "columns"):
        readings = list(_of_frame(readings))
    if isinstance(readings, str) or not isinstance(readings, Iterable):
        raise InputError(
            f"readings are a sequence of SpotReading or a pandas frame, not "
            f"{type(readings).__name__}"
        )
    found = tuple(readings)
    for reading in found:
        if not isinstance(reading, SpotReading):
            raise InputError(f"readings holds a {type(reading).__name__}, and no SpotReading")
    if not found:
        raise InputError(
            "there are no readings; measure at the sensor's own leads and at the controller's "
            "connector"
        )
    return found


def _of_frame(frame: Any) -> Iterable[SpotReading]:
    import pandas as pd

    columns = [str(name) for name in frame.columns]
    missing = [name for name in _COLUMNS if name not in columns]
    if missing:
        raise InputError(
            f"the frame has no column {', '.join(map(repr, missing))}, only "
            f"{', '.join(columns) or 'none'}; rename the right ones with frame.rename"
        )
    twice = [name for name in (*_COLUMNS, "limit_ohm") if columns.count(name) > 1]
    if twice:
        raise InputError(f"the frame has two columns {twice[0]!r}; leave one of them out")
    names = [*_COLUMNS, *(["limit_ohm"] if "limit_ohm" in columns else [])]
    for row, cells in enumerate(zip(*(frame[name] for name in names), strict=True), start=1):
        limit = None if len(cells) < 6 or pd.isna(cells[5]) else cells[5]
        try:
            place, t_c, r_ohm, u_t_k, u_r_ohm = cells[:5]
            yield SpotReading(place, t_c, r_ohm, u_t_k, u_r_ohm, limit)
        except InputError as error:
            raise InputError(f"row {row} of the frame: {error}") from None
