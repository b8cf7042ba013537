"""Boiling water at the local pressure."""

from __future__ import annotations

from dataclasses import replace
from typing import Final, Literal

from thermofit.baths.bath import KEEP_METER_DRY, SCALDING, Bath
from thermofit.baths.pressure import STATION_HPA, require_pressure, station_pressure
from thermofit.budget import Budget, Contribution
from thermofit.errors import InputError
from thermofit.units import ZERO_C_K

__all__ = ["boiling_temperature_c", "boiling_water"]

_SUPERHEAT_K: Final = 0.5
"""Water in a pot is up to this much above the boiling point: superheat, and the weight of the
water over the probe; common practice, no source."""

_STEAM_K: Final = 0.05
"""Pressure of the steam above that of the room, and condensate; common practice, no source."""

_FORMULATION_K: Final = 0.01
"""Uncertainty of the saturation line and of what it takes to be ITS-90, rounded up; from memory."""


def boiling_temperature_c(pressure_hpa: float) -> float:
    """Temperature at which pure water boils.

    Parameters
    ----------
    pressure_hpa : float
        Pressure at the water's surface in hPa.

    Returns
    -------
    float
        In °C (ITS-90).

    Raises
    ------
    InputError
        No air pressure in hPa.

    Notes
    -----
    Saturation line of IAPWS-IF97 (IAPWS R7-97(2012), equation 31), by the package iapws.

    Examples
    --------
    >>> round(boiling_temperature_c(1013.25), 4)
    99.9743
    """
    require_pressure(pressure_hpa, "pressure_hpa", STATION_HPA)
    return _saturation_c(pressure_hpa)


def _saturation_c(pressure_hpa: float) -> float:
    # The package's objects compute some thirty properties, of which one is wanted.
    from iapws.iapws97 import _TSat_P

    return float(_TSat_P(pressure_hpa * 1e-4)) - ZERO_C_K


def boiling_water(
    *,
    pressure_hpa: float | None = None,
    altitude_m: float | None = None,
    sea_level_pressure_hpa: float | None = None,
    probe: Literal["water", "steam"] = "water",
    pressure_limit_hpa: float = 1.0,
    altitude_limit_m: float = 20.0,
) -> Bath:
    """Boiling water as a reference temperature.

    Parameters
    ----------
    pressure_hpa : float, optional
        Pressure at the bench in hPa, from a barometer that is not reduced to sea level.
    altitude_m : float, optional
        Altitude in metres.  Alone, it carries the weather's ± 25 hPa (about ± 0.7 K;
        common practice, no source).
    sea_level_pressure_hpa : float, optional
        Pressure reduced to sea level, as in weather reports; with `altitude_m`.
    probe : {"water", "steam"}
        Where the sensor is.  Steam has the boiling point; water is up to 0.5 K warmer,
        and the middle of that is added (JCGM 100, 4.3.8).
    pressure_limit_hpa, altitude_limit_m : float
        Limits ± of the pressure and of the altitude; what is taken unless stated is
        common practice, no source.

    Returns
    -------
    Bath

    Raises
    ------
    InputError
        No pressure and no altitude, both, a pressure in another unit, or an unknown probe.

    Examples
    --------
    >>> bath = boiling_water(pressure_hpa=1013.25, probe="steam")
    >>> round(bath.t_c, 2), round(bath.u_t_k, 2)
    (99.97, 0.03)
    """
    pressure = station_pressure(
        pressure_hpa=pressure_hpa,
        altitude_m=altitude_m,
        sea_level_pressure_hpa=sea_level_pressure_hpa,
        pressure_limit_hpa=pressure_limit_hpa,
        altitude_limit_m=altitude_limit_m,
    )
    at_hpa = require_pressure(pressure.value, "the pressure at the bench", STATION_HPA)
    slope_k_per_hpa = _saturation_c(at_hpa + 0.5) - _saturation_c(at_hpa - 0.5)
    parts = [
        replace(part, sensitivity=part.sensitivity * slope_k_per_hpa)
        for part in pressure.contributions
    ]
    parts.append(Contribution("saturation line", _FORMULATION_K, note="IAPWS-IF97; from memory"))
    t_c = _saturation_c(at_hpa)
    if probe == "water":
        t_c += _SUPERHEAT_K / 2.0
        parts.append(
            Contribution(
                "superheat and depth", _SUPERHEAT_K / 2.0, note="common practice, no source"
            )
        )  # fmt: skip
    elif probe == "steam":
        parts.append(Contribution("steam", _STEAM_K, note="common practice, no source"))
    else:
        raise InputError(f"probe is {probe!r}; the sensor is in the water or in the steam")
    kind = f"boiling water at {at_hpa:.1f} hPa, sensor in the {probe}"
    return Bath(kind, Budget(t_c, "°C", parts), (SCALDING, KEEP_METER_DRY))
