"""Self-heating: how much warmer than its surroundings the test current makes a sensor."""

from __future__ import annotations

from typing import Literal, get_args

from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError

__all__ = ["Medium", "self_heating"]

Medium = Literal["still air", "moving air", "stirred water"]


def self_heating(
    power_w: float,
    *,
    dissipation_w_per_k: float,
    medium: Medium,
    dissipation_limit_pct: float,
    power_limit_pct: float = 0.0,
) -> Budget:
    """Temperature rise of a sensor that is being measured.

    Parameters
    ----------
    power_w : float
        Power in the sensor, in watts; `Meter.power_w` gives it.
    dissipation_w_per_k : float
        Dissipation factor in watts per kelvin.  It holds in one medium only: from a data
        sheet or a measurement in that medium.
    medium : {"still air", "moving air", "stirred water"}
        What the dissipation factor was stated for, and what the sensor is in.
    dissipation_limit_pct, power_limit_pct : float
        Limits ± of both, in percent, rectangular.

    Returns
    -------
    Budget
        Rise in kelvin: the sensor has the temperature of the bath plus this value.

    Raises
    ------
    InputError
        A negative power, a dissipation factor that is not positive, limits outside
        0 to 100 %, or an unknown medium.

    Notes
    -----
    ΔT = P/δ in the steady state, IEC 60539-1 (dissipation factor), from memory.

    Examples
    --------
    >>> rise = self_heating(
    ...     100e-6, dissipation_w_per_k=2e-3, medium="still air", dissipation_limit_pct=30
    ... )
    >>> round(rise.value, 3), round(rise.standard_uncertainty, 4)
    (0.05, 0.0087)
    """
    require_number(power_w, "the power", "W", least=0.0)
    require_number(dissipation_w_per_k, "the dissipation factor", "W/K", above=0.0)
    if medium not in get_args(Medium):
        raise InputError(
            f"the medium is {medium!r}; known are {', '.join(get_args(Medium))}, "
            "and the dissipation factor must be that of the medium"
        )
    limits_pct = {"dissipation": dissipation_limit_pct, "power": power_limit_pct}
    for name, limit_pct in limits_pct.items():
        require_number(limit_pct, f"the {name} limit", "%", least=0.0)
        if limit_pct > 100.0:
            raise InputError(f"the {name} limit is {limit_pct:g} %; beyond 100 % nothing is known")
    rise_k = power_w / dissipation_w_per_k
    parts = [
        Contribution(
            f"dissipation factor in {medium}", dissipation_w_per_k * dissipation_limit_pct / 100.0,
            "rectangular", unit="W/K", sensitivity=-rise_k / dissipation_w_per_k,
            shared=f"dissipation factor in {medium}",
        ),
        Contribution(
            "test power", power_w * power_limit_pct / 100.0, "rectangular", unit="W",
            sensitivity=1.0 / dissipation_w_per_k,
        ),
    ]  # fmt: skip
    return Budget(rise_k, "K", parts)
