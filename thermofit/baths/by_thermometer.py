"""What a thermometer shows: a stirred bath, and room air after a wait."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from thermofit.baths.bath import KEEP_METER_DRY, SCALDING, Bath
from thermofit.baths.boiling import boiling_temperature_c
from thermofit.baths.pressure import SEA_LEVEL_HPA
from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError
from thermofit.instruments import Thermometer
from thermofit.units import to_celsius

__all__ = ["room_air", "stirred_bath"]

SCALDS_C: Final = 45.0
"""Above this the caution is shown; common practice, no source."""

_ROOM_C: Final = (-20.0, 50.0)
"""What air in a workshop or a glasshouse may have; common practice, no source."""


def stirred_bath(
    reading_c: float | Sequence[float],
    thermometer: Thermometer,
    *,
    uniformity_k: float,
    pressure_hpa: float | None = None,
    liquid: str = "water",
) -> Bath:
    """Take a stirred bath at what a thermometer beside the sensor shows.

    Parameters
    ----------
    reading_c : float or sequence of float
        In °C; several are averaged.
    thermometer : Thermometer
    uniformity_k : float
        Limit ± of the difference between the places of sensor and thermometer, drift while
        both are read included, in kelvin.
    pressure_hpa : float, optional
        Air pressure at the bench, which bounds the temperature of water; without it, the bound
        is the boiling point at the highest pressure there is.
    liquid : str
        Of "water" it is checked that it is liquid.

    Returns
    -------
    Bath

    Raises
    ------
    InputError
        Water below 0 °C or above its boiling point, a negative uniformity, or no numbers.

    Examples
    --------
    >>> bath = stirred_bath(68.4, Thermometer.parse("0.5C"), uniformity_k=0.2)
    >>> bath.t_c, round(bath.u_t_k, 2)
    (68.4, 0.31)
    """
    require_number(uniformity_k, "uniformity_k", "K", least=0.0)
    reading = thermometer.measure(reading_c)
    if liquid == "water":
        refuse_not_liquid(reading.value, thermometer.limit_at_k(reading.value), pressure_hpa)
    hot = reading.value > SCALDS_C
    return Bath(
        f"stirred bath, {liquid}",
        _with(reading, Contribution("uniformity of the bath", uniformity_k)),
        (SCALDING, KEEP_METER_DRY) if hot else (KEEP_METER_DRY,),
    )


def refuse_not_liquid(t_c: float, limit_k: float, pressure_hpa: float | None) -> None:
    boiling_c = boiling_temperature_c(SEA_LEVEL_HPA[1] if pressure_hpa is None else pressure_hpa)
    if t_c < -limit_k:
        raise InputError(
            f"a bath of water at {t_c:g} °C would be frozen; use ice_point, or name the liquid"
        )
    if t_c > boiling_c + limit_k:
        raise InputError(
            f"a bath at {t_c:g} °C is above the boiling point of water, {boiling_c:.1f} °C; it "
            f"would be {to_celsius(t_c, 'F'):.1f} °C if it was in °F; else name the liquid"
        )


def room_air(
    reading_c: float | Sequence[float],
    thermometer: Thermometer,
    *,
    waited_min: float,
    time_constant_min: float,
    start_difference_k: float,
    uniformity_k: float,
) -> Bath:
    """Take room air at what a thermometer beside the sensor shows, after a wait.

    Parameters
    ----------
    reading_c : float or sequence of float
        In °C; several are averaged.
    thermometer : Thermometer
    waited_min : float
        How long both have hung there, in minutes.
    time_constant_min : float
        Thermal time constant in air of the slower one, in minutes.
    start_difference_k : float
        How far from the room's temperature the slower one began, in kelvin.
    uniformity_k : float
        Limit ± of the difference between both places, in kelvin.

    Returns
    -------
    Bath

    Raises
    ------
    InputError
        No room's temperature, a wait shorter than three time constants, or negative numbers.

    Notes
    -----
    What is left of the first difference is D·exp(−t/τ), since after one time constant 63.2 % is
    gone (MIL-PRF-23648, thermal time constant).  Whether it adds or subtracts counts as
    unknown, as one of the two is slower.

    Examples
    --------
    >>> bath = room_air(21.3, Thermometer.parse("0.5C"), waited_min=20, time_constant_min=2,
    ...                 start_difference_k=10, uniformity_k=0.3)
    >>> bath.t_c, round(bath.u_t_k, 2)
    (21.3, 0.34)
    """
    require_number(waited_min, "waited_min", "min", least=0.0)
    require_number(time_constant_min, "time_constant_min", "min", above=0.0)
    require_number(start_difference_k, "start_difference_k", "K")
    require_number(uniformity_k, "uniformity_k", "K", least=0.0)
    reading = thermometer.measure(reading_c)
    low_c, high_c = _ROOM_C
    if not low_c <= reading.value <= high_c:
        raise InputError(
            f"room air at {reading.value:g} °C ({low_c:g} to {high_c:g} is usual); it would be "
            f"{to_celsius(reading.value, 'F'):.1f} °C if it was in °F"
        )
    if waited_min < 3.0 * time_constant_min:
        raise InputError(
            f"after {waited_min:g} min the sensor has not settled; wait at least three time "
            f"constants, {3.0 * time_constant_min:g} min"
        )
    left_k = abs(start_difference_k) * math.exp(-waited_min / time_constant_min)
    return Bath(
        "room air",
        _with(
            reading,
            Contribution("not yet settled", left_k, note=f"after {waited_min:g} min"),
            Contribution("uniformity of the air", uniformity_k),
        ),
    )


def _with(reading: Budget, *more: Contribution) -> Budget:
    return Budget(reading.value, reading.unit, [*reading.contributions, *more])
