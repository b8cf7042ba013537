"""Melting ice."""

from __future__ import annotations

from typing import Final, Literal

from thermofit.baths.bath import Bath
from thermofit.baths.pressure import STANDARD_HPA, STATION_HPA, require_pressure
from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError

__all__ = ["freezing_depression_k", "ice_point"]

_KINDS: Final = {
    "flask": (0.01, "clean shaved ice in a flask; MSL Technical Guide 1, The Ice Point"),
    "slush": (0.1, "slush from tap ice; common practice, no source"),
}

_MELTING_K_PER_HPA: Final = -7.5e-6
"""Melting point against pressure, −7.5e-8 K/Pa; ITS-90, effect of pressure on the triple point
of water, from memory."""

_UNSTATED_HPA: Final = 350.0
"""How far an unstated air pressure lies from the standard one, from the sea to 3,500 m."""

_CRYOSCOPIC_K_KG_PER_MOL: Final = 1.86
"""Cryoscopic constant of water; from memory."""

_SODIUM_CHLORIDE_G_PER_MOL: Final = 58.44
"""Molar mass of table salt; from memory."""

_IONS: Final = 2.0
"""Particles from each unit of table salt: van 't Hoff factor of a dilute solution."""

_MOST_SALT_G_PER_KG: Final = 10.0
"""Above this, the law of dilute solutions is no longer good to a tenth; from memory."""


def freezing_depression_k(salt_g_per_kg: float) -> float:
    """How far dissolved table salt lowers the melting point of ice.

    Parameters
    ----------
    salt_g_per_kg : float
        Grams of salt in a kilogram of water, 0 to 10.

    Returns
    -------
    float
        In kelvin, positive.

    Raises
    ------
    InputError
        A negative content, or more than a bath for calibration may have.

    Notes
    -----
    ΔT = i·K·b with the van 't Hoff factor i = 2, K = 1.86 K·kg/mol and the molality b: the
    law of dilute solutions, from memory.  It overstates by some 7 % at 6 g/kg.

    Examples
    --------
    >>> round(freezing_depression_k(0.5), 3)
    0.032
    """
    require_number(salt_g_per_kg, "salt_g_per_kg", "g/kg", least=0.0)
    if salt_g_per_kg > _MOST_SALT_G_PER_KG:
        raise InputError(
            f"salt_g_per_kg = {salt_g_per_kg:g} is brine, which has no fixed melting point; "
            f"use clean water (at most {_MOST_SALT_G_PER_KG:g} g/kg can be corrected)"
        )
    return _IONS * _CRYOSCOPIC_K_KG_PER_MOL * salt_g_per_kg / _SODIUM_CHLORIDE_G_PER_MOL


def ice_point(
    kind: Literal["flask", "slush"] = "slush",
    *,
    pressure_hpa: float | None = None,
    salt_g_per_kg: float = 0.0,
    salt_limit_g_per_kg: float = 0.0,
    shown_c: float | None = None,
) -> Bath:
    """Melting ice as a reference temperature.

    Parameters
    ----------
    kind : {"flask", "slush"}
        Clean shaved ice in a flask, ± 0.01 K (MSL Technical Guide 1, The Ice Point), or a
        kitchen slush, ± 0.1 K (common practice, no source).
    pressure_hpa : float, optional
        Air pressure at the bench in hPa; without it, its small effect is an uncertainty.
    salt_g_per_kg, salt_limit_g_per_kg : float
        Dissolved salt beyond what the kind allows for, and the limit ± of that, in grams per
        kilogram of water.  Hard tap water has some tenths (common practice, no source).
    shown_c : float, optional
        What a thermometer in the bath shows, in °C.  It is not used but to find mistakes.

    Returns
    -------
    Bath

    Raises
    ------
    InputError
        An unknown kind, a pressure in another unit, brine, or a bath that is not at 0 °C.

    Examples
    --------
    >>> bath = ice_point("flask", pressure_hpa=1013.25)
    >>> round(bath.t_c, 3), round(bath.u_t_k, 4)
    (0.0, 0.0058)
    """
    if kind not in _KINDS:
        raise InputError(f"an ice point is a flask or a slush, not {kind!r}")
    if shown_c is not None:
        _refuse_other_bath(require_number(shown_c, "the reading in the ice", "°C"))
    limit_k, note = _KINDS[kind]
    depression_k = freezing_depression_k(salt_g_per_kg)
    require_number(salt_limit_g_per_kg, "salt_limit_g_per_kg", "g/kg", least=0.0)
    t_c = 0.0 - depression_k
    parts = [Contribution("ice and water", limit_k, note=note)]
    if pressure_hpa is None:
        parts.append(
            Contribution(
                "air pressure not stated", _UNSTATED_HPA, unit="hPa",
                sensitivity=_MELTING_K_PER_HPA,
            )
        )  # fmt: skip
    else:
        require_pressure(pressure_hpa, "pressure_hpa", STATION_HPA)
        t_c += _MELTING_K_PER_HPA * (pressure_hpa - STANDARD_HPA)
    if salt_g_per_kg or salt_limit_g_per_kg:
        parts += [
            Contribution(
                "salt content", salt_limit_g_per_kg, unit="g/kg",
                sensitivity=-freezing_depression_k(1.0),
            ),
            Contribution(
                "law of dilute solutions", 0.1 * depression_k,
                note="a tenth of the depression; from memory",
            ),
        ]  # fmt: skip
    return Bath(f"ice point, {kind}", Budget(t_c, "°C", parts))


def _refuse_other_bath(shown_c: float) -> None:
    if abs(shown_c - 32.0) < 4.0:
        raise InputError(
            f"the ice bath is stated as {shown_c:g} °C: ice melts at 32 °F, which is 0 °C; "
            "give the temperature in °C"
        )
    if abs(shown_c) > 3.0:
        raise InputError(
            f"the ice bath is stated as {shown_c:g} °C; melting ice is at 0 °C: "
            "wait, stir, or add ice, or use stirred_bath for what a thermometer shows"
        )
