"""What a test current makes of a reading in still air, in moving air, in a stirred bath."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, get_args

from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError
from thermofit.instruments import Medium, self_heating
from thermofit.interval import format_pair
from thermofit.texttable import aligned
from thermofit.thermal.dissipation import DissipationFactor

__all__ = ["COMMON_PRACTICE", "SelfHeating", "heating_errors"]

# Common practice, no source: nobody has measured these for the sensor at hand.
COMMON_PRACTICE: Final[Mapping[Medium, tuple[float, float]]] = MappingProxyType(
    {"moving air": (1.5, 4.5), "stirred water": (3.0, 10.0)}
)
"""Common practice, no source: how many times the dissipation factor of still air a small sensor
has elsewhere, from … to.  Used only where `heating_errors` is asked to, and marked there."""

_NO_SOURCE: Final = "common practice, no source"


@dataclass(frozen=True)
class SelfHeating:
    """Errors of a reading by self-heating.

    Made by `heating_errors`.

    Parameters
    ----------
    power_w : float
        Power in the sensor in watts.
    rises : mapping of medium to Budget
        How much too warm it reads, in kelvin.
    notes : mapping of medium to str
        Where its dissipation factor comes from.
    """

    power_w: float
    rises: Mapping[Medium, Budget]
    notes: Mapping[Medium, str]

    def corrected(self, t_c: float, medium: Medium) -> Budget:
        """Take the rise off a reading.

        Parameters
        ----------
        t_c : float
            Reading in °C.
        medium : {"still air", "moving air", "stirred water"}
            What the sensor was in.

        Returns
        -------
        Budget
            Temperature of the surroundings in °C; uncertainty of the correction only.

        Raises
        ------
        InputError
            Nothing is known of that medium, or `t_c` is no finite number.
        """
        require_number(t_c, "the reading", "°C")
        if medium not in self.rises:
            raise InputError(
                f"the rise in {medium!r} is not known, only that in {', '.join(self.rises)}"
            )
        rise = self.rises[medium]
        parts = [
            dataclasses.replace(item, sensitivity=-item.sensitivity) for item in rise.contributions
        ]
        return Budget(float(t_c) - rise.value, "°C", parts, rise.correlations)

    def __str__(self) -> str:
        rows = [["medium", "from", "too warm / K", "u / K", "correction / K"]]
        for medium, rise in self.rises.items():
            shown, u = format_pair(rise.value, rise.standard_uncertainty)
            correction, _ = format_pair(-rise.value, rise.standard_uncertainty)
            rows.append([medium, self.notes[medium], shown, u, correction])
        return f"self-heating at {1e3 * self.power_w:.4g} mW\n" + aligned(rows, left=2, indent="  ")


def heating_errors(
    power_w: float,
    factors: Mapping[Medium, float | DissipationFactor],
    *,
    dissipation_limit_pct: float | None = None,
    power_limit_pct: float = 0.0,
    common_practice: bool = False,
) -> SelfHeating:
    """Tell how much too warm a sensor reads in each medium.

    Parameters
    ----------
    power_w : float
        Power in the sensor in watts.
    factors : mapping
        Dissipation factor for each medium: in W/K, or as `dissipation_factor` found it.
    dissipation_limit_pct : float, optional
        Limits ± in percent of factors that are given as numbers; needed for those.
    power_limit_pct : float
        Limits ± of the power in percent.
    common_practice : bool
        Also estimate media that are not given from that of still air, by the wide ranges of
        `COMMON_PRACTICE`, which have no source.  They are marked as such.

    Returns
    -------
    SelfHeating

    Raises
    ------
    InputError
        No factor, an unknown medium, a factor that is not positive, or without limits.

    Examples
    --------
    >>> print(heating_errors(1e-3, {"still air": 2e-3}, dissipation_limit_pct=20,
    ...                      common_practice=True))
    self-heating at 1 mW
      medium         from                        too warm / K  u / K  correction / K
      still air      stated                             0.500  0.058          -0.500
      moving air     common practice, no source         0.222  0.069          -0.222
      stirred water  common practice, no source         0.108  0.036          -0.108
    """
    if not isinstance(factors, Mapping):
        raise InputError(
            f"factors is a mapping of medium to dissipation factor, not {factors!r}; write "
            '{"still air": 2e-3}'
        )
    if not factors:
        raise InputError("give the dissipation factor of one medium at least")
    rises: dict[Medium, Budget] = {}
    notes: dict[Medium, str] = {}
    for medium, factor in factors.items():
        if isinstance(factor, DissipationFactor):
            if factor.medium != medium:
                raise InputError(
                    f"the factor given for {medium} was measured in {factor.medium}, and holds "
                    "there only"
                )
            rises[medium] = factor.heating(power_w, power_limit_pct=power_limit_pct)
            notes[medium] = "measured"
            continue
        if dissipation_limit_pct is None:
            raise InputError(
                f"the dissipation factor in {medium} is given without its limits: state "
                "dissipation_limit_pct"
            )
        rises[medium] = self_heating(
            power_w, dissipation_w_per_k=factor, medium=medium,
            dissipation_limit_pct=dissipation_limit_pct, power_limit_pct=power_limit_pct,
        )  # fmt: skip
        notes[medium] = "stated"
    if common_practice:
        if "still air" not in rises:
            raise InputError("common practice goes by the factor of still air; give that one")
        for medium in get_args(Medium):
            if medium not in rises:
                rises[medium] = _by_common_practice(rises["still air"], medium)
                notes[medium] = _NO_SOURCE
    return SelfHeating(float(power_w), MappingProxyType(rises), MappingProxyType(notes))


def _by_common_practice(still: Budget, medium: Medium) -> Budget:
    """Rise in another medium, anywhere between those of the two ends of common practice.

    The rise goes by the reciprocal of the factor, so the limits are those of the rise itself.
    """
    low, high = COMMON_PRACTICE[medium]
    part = 0.5 * (1.0 / low + 1.0 / high)  # of the rise in still air
    spread = Contribution(
        f"{medium} against still air", 0.5 * (1.0 / low - 1.0 / high), "rectangular", unit="1",
        sensitivity=still.value,
        note=f"{low:g} to {high:g} times the dissipation factor, {_NO_SOURCE}",
    )  # fmt: skip
    own = [
        dataclasses.replace(item, sensitivity=item.sensitivity * part)
        for item in still.contributions
    ]
    return Budget(still.value * part, "K", [spread, *own], still.correlations)
