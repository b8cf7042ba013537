"""What a sensor is expected to read before its curve is known."""

from __future__ import annotations

from dataclasses import dataclass

from thermofit.budget import require_number
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.estimate.prior import Prior
from thermofit.family import Family

__all__ = ["Sensor", "expected_sensor"]


@dataclass(frozen=True, eq=False)
class Sensor:
    """An expected curve.

    Parameters
    ----------
    curve : Curve
    factor : float
        On its resistances.
    known_r25 : bool
        Whether the resistances mean anything, or only their ratios.
    """

    curve: Curve
    factor: float
    known_r25: bool

    def resistance_ohm(self, t_c: float) -> float:
        """Resistance in ohms at a temperature in °C.

        Raises
        ------
        ExtrapolationError
            Outside the valid range of the curve.
        InputError
            The curve does not fall there.
        """
        r_ohm = self.curve.resistance(t_c, strict=True)
        if not self.curve.alpha(t_c) < 0.0:
            raise InputError(
                f"the resistance of {self.curve.id or 'the sensor'} rises with temperature at "
                f"{t_c:g} °C; a plan rests on how NTC ceramics bend, and says nothing of PTC or "
                "platinum sensors"
            )
        return self.factor * r_ohm


def expected_sensor(sensor: Curve | Family | None, r25_ohm: float | None, prior: Prior) -> Sensor:
    """Choose the expected curve: of a sensor that is given, or the mean of the prior."""
    if r25_ohm is not None:
        require_number(r25_ohm, "r25_ohm", "Ω", above=0.0)
    if sensor is None:
        return Sensor(prior.curve(1.0), r25_ohm or 1.0, r25_ohm is not None)
    if not isinstance(sensor, (Curve, Family)):
        raise InputError(
            f"sensor is a Curve or a Family, not {sensor!r}; a rough resistance at 25 °C is "
            "r25_ohm=…, and tf.family(id) gives a family"
        )
    curve = sensor.curve if isinstance(sensor, Family) else sensor
    known = r25_ohm is not None or not (isinstance(sensor, Family) and sensor.ratio_only)
    factor = 1.0 if r25_ohm is None else r25_ohm / curve.resistance(25.0, strict=True)
    return Sensor(curve, factor, known)
