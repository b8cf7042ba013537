"""What readings cannot identify, in words."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from thermofit.decide.cause.kinds import GOOD
from thermofit.decide.cause.visit import Visit
from thermofit.units import format_ohm

__all__ = ["disagreements", "rule_steps", "unidentified"]

# Of the difference of two readings: beyond chance in one case of a thousand.
_APART = 3.3
_WORTH = 0.1
_CONTACTS = ("bad contact", "intermittent contact", "wire broken")
_LEAKS = ("leakage", "cable shorted")
_MOSTLY = 0.5
_MOVED = {
    "sensor": "the fault lies inside the sensor, or the temperature moved",
    "cable bridged": "a contact that comes and goes",
    "cable open": "leakage that comes and goes, with moisture or with movement",
}


def unidentified(visit: Visit) -> tuple[str, ...]:
    """Say what readings at these places and temperatures cannot tell apart, whatever they are.

    Parameters
    ----------
    visit : Visit

    Returns
    -------
    tuple of str
    """
    told = []
    sensor, line = visit.at("sensor"), visit.at("connector", "display")
    bridged, parted = (bool(visit.at(place).any()) for place in ("cable bridged", "cable open"))
    if not sensor.any():
        told += _without_sensor(visit, bool(line.any()), bridged=bridged, parted=parted)
    elif not line.any():
        told += _without_line(bridged=bridged, parted=parted)
    if visit.t_c.size == 1 and (sensor | line).any():
        told.append(
            "one temperature cannot tell a shift of R25 (γ) from a wrong B value (β); measure at a "
            "second one, far from the first"
        )
    kinds = {
        (str(place), int(group) if place in ("sensor", "connector", "display") else -1)
        for place, group in zip(visit.places, visit.group, strict=True)
    }
    count = len(kinds)
    if count < 4:
        told.append(
            f"{count} different {'reading' if count == 1 else 'readings'} cannot separate the four "
            "unknowns γ, β, R_contact and R_leak: each cause is held for the only one, or one of "
            "two, and sizes hold under that cause"
        )
    if not visit.at("display").any():
        told.append("the controller was not weighed: its display was not read")
    else:
        told.append(
            "a bad contact of the plug itself is out of the circuit while the cable is unplugged: "
            "only the display sees it, as a wrong input of the controller or as a contact that "
            "comes and goes"
        )
    return tuple(told)


def _without_sensor(visit: Visit, line: bool, *, bridged: bool, parted: bool) -> list[str]:
    """Say what stays open where nothing was measured at the sensor's own leads."""
    if not line:
        return [
            "the sensor was not measured, and is as probable a cause as beforehand; measure at "
            "its own leads"
        ]
    alike = []
    if not bridged:
        alike.append("a bad contact from a sensor that has risen")
    if not parted:
        alike.append("leakage from a sensor that has fallen")
    if not alike:
        return []
    alone = "one reading at one place" if visit.places.size == 1 else "readings through the cable"
    return [
        f"{alone} cannot tell {', nor '.join(alike)}: they read alike; measure at the sensor's "
        "own leads"
    ]


def _without_line(*, bridged: bool, parted: bool) -> list[str]:
    """Say what stays open where the sensor was not measured through the cable."""
    if bridged and parted:
        return []
    if bridged or parted:
        missing, other = ("leakage", "open") if bridged else ("a bad contact", "bridged")
        return [
            f"{missing} was not looked for: measure at the controller's connector, or with the "
            f"cable {other}"
        ]
    return [
        "nothing was measured through the cable: contact, leakage, a broken wire and a shorted "
        "cable are as probable as beforehand; measure at the controller's connector"
    ]


def disagreements(visit: Visit) -> tuple[str, ...]:
    """Say which repeated readings differ by more than their uncertainties.

    Parameters
    ----------
    visit : Visit

    Returns
    -------
    tuple of str
    """
    told = []
    for place in dict.fromkeys(visit.places.tolist()):
        for j, t_c in enumerate(visit.t_c):
            own = np.flatnonzero((visit.places == place) & (visit.group == j))
            finite = own[visit.finite[own]]
            mixed = finite.size and finite.size < own.size
            apart = 0.0
            if finite.size > 1:
                low, high = (finite[pick(visit.y[finite])] for pick in (np.argmin, np.argmax))
                u = np.hypot(visit.u[low], visit.u[high])
                apart = float((visit.y[high] - visit.y[low]) / u)
            if apart <= _APART and not mixed:
                continue
            shown = " and ".join(
                dict.fromkeys(
                    format_ohm(visit.readings[i].r_ohm, 4)
                    if np.isfinite(visit.readings[i].r_ohm)
                    else "over range"
                    for i in own
                )
            )
            why = _MOVED.get(place, "a contact that comes and goes, or the temperature moved")
            told.append(
                f"repeated readings at {place}, {t_c:g} °C, differ by more than their "
                f"uncertainties ({shown}): {why}"
            )
    return tuple(told)


def rule_steps(probability: Mapping[str, float]) -> tuple[str, ...]:
    """Steps that no model ranks, by rule.

    Parameters
    ----------
    probability : mapping of str to float
        Of the causes.

    Returns
    -------
    tuple of str
    """

    def share(names: tuple[str, ...]) -> float:
        return sum(p for id, p in probability.items() if any(name in id for name in names))

    told = []
    if probability.get(GOOD, 0.0) >= _MOSTLY:
        told.append(
            "if the display is wrong all the same and the sensor is aspirated: see whether its fan "
            "moves air (thermofit.thermal.compare_air_flow), which no resistance shows"
        )
    if share(_CONTACTS) >= _WORTH:
        told.append(
            "move the connector and the cable while you repeat the reading at the connector: a "
            "contact changes, a sensor does not"
        )
    if share(_LEAKS) >= _WORTH:
        told.append(
            "dry the connector and the cable, and repeat the reading at the connector: moisture "
            "goes, a sensor stays"
        )
    return tuple(told)
