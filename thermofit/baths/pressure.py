"""Air pressure: plausible values, the standard atmosphere, reduction to sea level."""

from __future__ import annotations

import math
from typing import Final

from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError

__all__ = ["SEA_LEVEL_HPA", "STANDARD_HPA", "STATION_HPA", "require_pressure",
           "standard_pressure_hpa", "station_pressure"]  # fmt: skip

STANDARD_HPA: Final = 1013.25
"""The standard atmosphere in hPa."""

STATION_HPA: Final = (400.0, 1090.0)
"""Where people live and work, from high mountains to below the sea; common practice, no source."""

SEA_LEVEL_HPA: Final = (870.0, 1090.0)
"""From the lowest to the highest that was ever reported, rounded outwards; from memory."""

_WEATHER_HPA: Final = 25.0
"""What the weather adds to an altitude's pressure; common practice, no source."""

_COLUMN_K: Final = 20.0
"""How far the mean temperature of the air below a station lies from that of the standard
atmosphere; common practice, no source."""

# ISO 2533:1975: temperature and its gradient, gravity, gas constant, radius; from memory.
_T0_K: Final = 288.15
_GRADIENT_K_PER_M: Final = 0.0065
_GRAVITY_M_PER_S2: Final = 9.80665
_GAS_J_PER_KG_K: Final = 287.05287
_RADIUS_M: Final = 6356766.0

# One of each unit in hPa, for the hint about a number that is no pressure in hPa.
_UNITS_HPA: Final = {
    "kPa": 10.0, "Pa": 0.01, "inHg": 33.8639, "mmHg": 1.33322, "psi": 68.9476, "bar": 1000.0,
}  # fmt: skip


def require_pressure(value: float, name: str, between_hpa: tuple[float, float]) -> float:
    """Take a plausible air pressure in hPa, or name the unit it may be in.

    Parameters
    ----------
    value : float
    name : str
        What to call it in an error.
    between_hpa : (float, float)
        `STATION_HPA` or `SEA_LEVEL_HPA`.

    Returns
    -------
    float

    Raises
    ------
    InputError
        Outside; the message lists units in which the number would be plausible.

    Examples
    --------
    >>> require_pressure(29.92, "pressure_hpa", STATION_HPA)
    Traceback (most recent call last):
    thermofit.errors.InputError: pressure_hpa = 29.92 is no air pressure in hPa (400 to 1090); ...
    """
    require_number(value, name, "hPa")
    low, high = between_hpa
    if low <= value <= high:
        return float(value)
    hints = [
        f"{value * factor:.1f} if it was in {unit}"
        for unit, factor in _UNITS_HPA.items()
        if low <= value * factor <= high
    ]
    way_out = f"it would be {' or '.join(hints)}" if hints else "check the reading and its unit"
    raise InputError(
        f"{name} = {value:g} is no air pressure in hPa ({low:g} to {high:g}); {way_out}"
    )


def standard_pressure_hpa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    altitude_m : float
        Altitude above mean sea level in metres (geometric), −450 to 6000.

    Returns
    -------
    float
        In hPa.

    Raises
    ------
    InputError
        An altitude where nobody boils water.

    Notes
    -----
    p = p0·(1 − 0.0065·H/288.15)^5.2559 with the geopotential altitude H; ISO 2533:1975.

    Examples
    --------
    >>> round(standard_pressure_hpa(1000), 2)
    898.76
    """
    require_number(altitude_m, "altitude_m", "m")
    if not -450.0 <= altitude_m <= 6000.0:
        raise InputError(
            f"altitude_m = {altitude_m:g} is no altitude of a bench in metres (−450 to 6000); "
            f"{altitude_m * 0.3048:.0f} if it was in feet"
        )
    geopotential_m = _RADIUS_M * altitude_m / (_RADIUS_M + altitude_m)
    exponent = _GRAVITY_M_PER_S2 / (_GAS_J_PER_KG_K * _GRADIENT_K_PER_M)
    return float(STANDARD_HPA * (1.0 - _GRADIENT_K_PER_M * geopotential_m / _T0_K) ** exponent)


def station_pressure(
    *,
    pressure_hpa: float | None,
    altitude_m: float | None,
    sea_level_pressure_hpa: float | None,
    pressure_limit_hpa: float,
    altitude_limit_m: float,
) -> Budget:
    """Air pressure at the bench, from what is known about it.

    Parameters
    ----------
    pressure_hpa : float or None
        What a barometer at the bench shows, not reduced to sea level.
    altitude_m : float or None
        Altitude in metres; alone, or with a pressure that is reduced to sea level.
    sea_level_pressure_hpa : float or None
        What weather reports give.
    pressure_limit_hpa, altitude_limit_m : float
        Limits ± of the pressure that was given and of the altitude, rectangular.

    Returns
    -------
    Budget
        In hPa.

    Raises
    ------
    InputError
        Nothing, too much or something ambiguous is given, or no pressure in hPa.
    """
    require_number(pressure_limit_hpa, "pressure_limit_hpa", "hPa", least=0.0)
    require_number(altitude_limit_m, "altitude_limit_m", "m", least=0.0)
    if pressure_hpa is not None:
        if altitude_m is not None or sea_level_pressure_hpa is not None:
            raise InputError(
                f"pressure_hpa = {pressure_hpa:g} is the pressure at the bench and needs no "
                "altitude nor sea-level pressure; if it is reduced to sea level, as in weather "
                "reports, give it as sea_level_pressure_hpa with altitude_m"
            )
        station = require_pressure(pressure_hpa, "pressure_hpa", STATION_HPA)
        return Budget(
            station, "hPa", [Contribution("barometer", pressure_limit_hpa, unit="hPa")]
        )  # fmt: skip
    if altitude_m is None:
        if sea_level_pressure_hpa is not None:
            raise InputError(
                f"sea_level_pressure_hpa = {sea_level_pressure_hpa:g} needs altitude_m (0 at the "
                "sea); if it is the pressure at the bench, give it as pressure_hpa"
            )
        raise InputError("the boiling point needs pressure_hpa, or altitude_m in metres")
    standard = standard_pressure_hpa(altitude_m)
    t_k = _T0_K - _GRADIENT_K_PER_M * altitude_m
    fall_per_m = _GRAVITY_M_PER_S2 / (_GAS_J_PER_KG_K * t_k)
    if sea_level_pressure_hpa is None:
        station = standard
        parts = [
            Contribution("weather", _WEATHER_HPA, unit="hPa", note="common practice, no source")
        ]
    else:
        sea_level = require_pressure(
            sea_level_pressure_hpa, "sea_level_pressure_hpa", SEA_LEVEL_HPA
        )  # fmt: skip
        ratio = standard / STANDARD_HPA
        station = sea_level * ratio
        mean_k = _T0_K - _GRADIENT_K_PER_M * altitude_m / 2.0
        parts = [
            Contribution(
                "sea-level pressure", pressure_limit_hpa, unit="hPa", sensitivity=ratio
            ),
            Contribution(
                "temperature of the air below", _COLUMN_K, unit="K",
                sensitivity=-station * math.log(ratio) / mean_k, note="common practice, no source",
            ),
        ]  # fmt: skip
    altitude = Contribution(
        "altitude", altitude_limit_m, unit="m", sensitivity=-station * fall_per_m
    )  # fmt: skip
    return Budget(station, "hPa", [*parts, altitude])
