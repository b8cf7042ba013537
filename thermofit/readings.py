"""Readings from the bench: a bath and what the meter showed in it, each with its budget."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from thermofit.baths.bath import Bath
from thermofit.budget import Budget
from thermofit.errors import InputError
from thermofit.points import Points

__all__ = ["Reading", "cautions_of", "points_of"]


@dataclass(frozen=True)
class Reading:
    """One resistance, measured in one bath.

    Parameters
    ----------
    bath : Bath or Budget
        Where the sensor was; or the budget of its temperature in °C.
    resistance : Budget
        In ohms, from `Meter.measure`.

    Raises
    ------
    InputError
        Budgets in other units, or a resistance that is not above zero.

    Notes
    -----
    Contributions with one label `shared` are one error for all readings that have it: the
    gain of one range of a meter, the calibration of one thermometer.

    Examples
    --------
    >>> import thermofit as tf
    >>> meter = tf.Meter.parse("0.8%+3", resolution_ohm=10)
    >>> ice = Reading(tf.ice_point(), meter.measure(32600))
    >>> ice.temperature.value, round(ice.resistance.standard_uncertainty)
    (0.0, 168)
    """

    bath: Bath | Budget
    resistance: Budget

    def __post_init__(self) -> None:
        for budget, unit, what in (
            (self.temperature, "°C", "the temperature"),
            (self.resistance, "Ω", "the resistance"),
        ):
            if budget.unit != unit:
                raise InputError(f"{what} of a reading has a budget in {unit}, not {budget.unit}")
        if not self.resistance.value > 0.0:
            raise InputError(
                f"{self.resistance.value:g} Ω is no resistance of a sensor; a short or an open "
                "circuit cannot be characterised"
            )

    @property
    def temperature(self) -> Budget:
        """Budget of the temperature."""
        return self.bath.budget if isinstance(self.bath, Bath) else self.bath


def points_of(readings: Sequence[Reading], *, source: str | None = None) -> Points:
    """Give readings as points, without what they share.

    Parameters
    ----------
    readings : sequence of Reading
    source : str, optional
        What to call them.

    Returns
    -------
    Points
        With the standard uncertainties of both axes.

    Examples
    --------
    >>> import thermofit as tf
    >>> meter = tf.Meter.parse("1%", resolution_ohm=1)
    >>> p = points_of([Reading(tf.ice_point(), meter.measure(32600))])
    >>> p.t_c, p.u_r_ohm.round()
    (array([0.]), array([188.]))
    """
    return Points(
        [reading.temperature.value for reading in readings],
        [reading.resistance.value for reading in readings],
        [reading.temperature.standard_uncertainty for reading in readings],
        [reading.resistance.standard_uncertainty for reading in readings],
        source=source,
    )


def cautions_of(readings: Sequence[Reading]) -> tuple[str, ...]:
    """Cautions of the baths, each once.

    Parameters
    ----------
    readings : sequence of Reading

    Returns
    -------
    tuple of str
    """
    told = dict.fromkeys(
        caution
        for reading in readings
        if isinstance(reading.bath, Bath)
        for caution in reading.bath.cautions
    )
    return tuple(told)
