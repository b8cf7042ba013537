"""What is at hand: a meter, and a sensor that is expected to read so and so."""

from __future__ import annotations

from dataclasses import dataclass

from thermofit.baths.bath import Bath
from thermofit.budget import Budget, Contribution, require_number
from thermofit.decide.planning.offered import budget_of
from thermofit.decide.planning.sensor import Sensor
from thermofit.errors import InputError
from thermofit.instruments import Meter
from thermofit.readings import Reading
from thermofit.units import format_ohm

__all__ = ["AtHand", "at_hand"]


@dataclass(frozen=True, eq=False)
class AtHand:
    """A meter and a sensor.

    Parameters
    ----------
    sensor : Sensor
    meter : Meter or float
        Or the standard uncertainty of a resistance, in percent of it.
    """

    sensor: Sensor
    meter: Meter | float

    def reading(self, bath: Bath | Budget) -> Reading:
        """Reading that is expected in a bath, with what it will not tell."""
        t_c = budget_of(bath).value
        r_ohm = self.sensor.resistance_ohm(t_c)
        reading = Reading(bath, self._measured(r_ohm, t_c))
        if not (
            reading.temperature.standard_uncertainty > 0.0
            or reading.resistance.standard_uncertainty > 0.0
        ):
            raise InputError(
                f"a reading at {t_c:g} °C would have no uncertainty at all, neither of the "
                "temperature nor of the resistance; state one of them"
            )
        return reading

    def _measured(self, r_ohm: float, t_c: float) -> Budget:
        if not isinstance(self.meter, Meter):
            u_ohm = self.meter / 100.0 * r_ohm
            return Budget(r_ohm, "Ω", [Contribution("resistance", u_ohm, k=1.0, unit="Ω")])
        try:
            budget = self.meter.measure(r_ohm)
            # A meter that was checked corrects what it shows, so it will show another number.
            return self.meter.measure(r_ohm * r_ohm / budget.value)
        except InputError as error:
            raise InputError(
                f"in the bath at {t_c:g} °C the sensor is expected to have {format_ohm(r_ohm)}: "
                f"{error}"
            ) from error


def at_hand(meter: Meter | None, u_r_pct: float | None, sensor: Sensor) -> AtHand:
    """Take a meter, or the uncertainty that stands for one."""
    if (meter is None) == (u_r_pct is None):
        raise InputError(
            "a plan takes a meter, or u_r_pct, the standard uncertainty of a resistance in "
            f"percent of it; got {'none of them' if meter is None else 'both'}"
        )
    if u_r_pct is not None:
        return AtHand(sensor, require_number(u_r_pct, "u_r_pct", "%", least=0.0))
    if not isinstance(meter, Meter):
        raise InputError(
            f"meter is a Meter, such as tf.Meter.parse('0.8%+3 @40k/10'), not {meter!r}; a "
            "standard uncertainty in percent is u_r_pct=…"
        )
    if not sensor.known_r25:
        raise InputError(
            "what a meter does depends on the resistances, and that of the sensor is not known: "
            "give r25_ohm, roughly (one reading in room air will do), or u_r_pct in place of the "
            "meter"
        )
    return AtHand(sensor, meter)
