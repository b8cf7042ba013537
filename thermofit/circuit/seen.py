"""From the display back to the sensor: what the controller sees, and what would explain it."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.budget import require_number
from thermofit.circuit.base import Circuit
from thermofit.circuit.explanations import (
    Explanation,
    at_the_sensor,
    plain,
    sag,
    show_ohms,
    tolerances,
    wiring,
    wrong_parts,
)
from thermofit.circuit.faultrows import CAUTIONS
from thermofit.circuit.faults import checked_circuit, checked_wrong
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family, nominal_curve

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Explanation", "Seen", "from_to", "seen", "volts_from_to"]

Array = npt.NDArray[np.float64]

MEASURE = (
    "Measure the resistance of a sensor with both its leads disconnected: in circuit the fixed "
    "resistor reads in parallel with it."
)


@dataclass(frozen=True)
class Seen:
    """What a controller sees that shows a temperature.

    Parameters
    ----------
    reading_c : float
        What the display shows, in °C.
    low_counts, high_counts : float
        The codes that give this display, first and last.
    low_v, high_v : float
        The voltages that give these codes; infinite at the ends of the scale.
    low_ohm, high_ohm : float
        The resistances of the sensor that give these voltages; infinite or 0 at the ends of the
        scale.
    actual_c : float or None
        True temperature, where it was stated.
    explanations : tuple of Explanation
    notes : tuple of str
    cautions : tuple of str
    """

    reading_c: float
    low_counts: float
    high_counts: float
    low_v: float
    high_v: float
    low_ohm: float
    high_ohm: float
    actual_c: float | None
    explanations: tuple[Explanation, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = (*CAUTIONS, MEASURE)

    def of(self, kind: str) -> Explanation | None:
        """Explanation of one kind; None where that cannot be it."""
        return next((one for one in self.explanations if one.kind == kind), None)

    def to_frame(self) -> pd.DataFrame:
        """Give the explanations as a pandas frame."""
        import pandas as pd

        names = [field.name for field in dataclasses.fields(Explanation)]
        return pd.DataFrame(
            {name: [getattr(one, name) for one in self.explanations] for name in names}
        )

    def __str__(self) -> str:
        lines = [
            f"a display of {self.reading_c:g} °C means counts "
            f"{from_to(self.low_counts, self.high_counts)}, "
            f"{volts_from_to(self.low_v, self.high_v)}, and a sensor of "
            f"{show_ohms(self.low_ohm, self.high_ohm)}"
        ]
        if self.actual_c is not None:
            lines.append(f"at a true {self.actual_c:g} °C, that would be explained by:")
        elif self.explanations:
            lines.append("that would be explained by:")
        lines += [f"- {one.kind}: {one.text}" for one in self.explanations]
        lines += [f"({note})" for note in self.notes]
        return "\n".join([*lines, *(f"! {text}" for text in self.cautions)])


def seen(
    circuit: Circuit,
    curve: Curve | Family,
    reading_c: float,
    *,
    actual_c: float | None = None,
    display_step_k: float = 0.1,
    fallback_c: float | None = None,
    wrong: Curve | Family | Mapping[str, Curve | Family] | None = None,
) -> Seen:
    """Say what a controller sees that shows a temperature, and what would explain it.

    Parameters
    ----------
    circuit : Circuit
        As the controller assumes it.
    curve : Curve or Family
        As the controller assumes it; a family brings its tolerance and its dissipation factor.
    reading_c : float
        What it shows, in °C.
    actual_c : float, optional
        True temperature, from a thermometer beside the sensor.
    display_step_k : float
        Last digit of the display, in kelvin; a display of 20.3 in tenths stands for 20.25 to 20.35.
    fallback_c : float, optional
        What the controller uses when it takes its sensor for broken.
    wrong : Curve, Family, or mapping of name to these, optional
        Parts that may have been fitted instead.

    Returns
    -------
    Seen

    Raises
    ------
    InputError
        A number that is none, or a temperature at which the curve has no value.

    Notes
    -----
    The intervals are those of the codes and of the display.  Where the tolerances of circuit and
    sensor alone allow the error, that is the first explanation (`Circuit.error_budget`); the
    uncertainty of the true temperature comes on top.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.circuit import Converter, Divider, seen
    >>> divider = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
    >>> found = seen(divider, tf.family("ntc-10k-3977").curve, 18.3, actual_c=20.0)
    >>> found.low_counts, found.high_counts, round(found.low_ohm), round(found.high_ohm)
    (587.0, 588.0, 13432, 13540)
    >>> found.of("corroded contact").text
    '944.5 Ω to 1.052 kΩ in series, in a connector or a splice'
    """
    checked_circuit(circuit)
    part, curve, others = curve, nominal_curve(curve), checked_wrong(wrong)
    reading_c = require_number(reading_c, "reading_c", "°C")
    require_number(display_step_k, "display_step_k", "K", above=0.0)
    low_code, high_code, notes = _codes(circuit, curve, reading_c, 0.5 * display_step_k)
    q, converter = circuit._nominal, circuit.converter
    edges = np.array([low_code - 0.5, high_code + 0.5]) + converter.middle(0.0)
    low_v, high_v = map(float, circuit._volts(edges, q))
    ends = circuit._sensor_at(edges, q)
    # The first and the last code stand for anything beyond as well.
    if low_code <= 0.0:
        low_v, ends[0] = -np.inf, 0.0 if circuit.rises else np.inf
    if high_code >= converter.top_code:
        high_v, ends[1] = np.inf, np.inf if circuit.rises else 0.0
    low_ohm, high_ohm = sorted(map(float, ends))
    if not curve.in_range(reading_c):
        notes.append(
            f"{reading_c:g} °C is outside the curve's valid range of {curve.t_min_c:g} to "
            f"{curve.t_max_c:g} °C, where a controller need not follow it"
        )
    found: list[Explanation] = []
    if fallback_c is not None:
        require_number(fallback_c, "fallback_c", "°C")
        if abs(reading_c - fallback_c) <= 0.5 * display_step_k * (1.0 + 1e-9):
            text = f"{fallback_c:g} °C is what the controller uses for a sensor that it takes for "
            found.append(plain("fallback", f"{text}broken: open, shorted or out of its limits"))
    if actual_c is None:
        notes.append(
            "state actual_c, the true temperature, for faults that have a size and for wrong parts"
        )
    else:
        actual_c = require_number(actual_c, "actual_c", "°C")
        own_ohm = float(curve.resistance(actual_c))
        if not np.isfinite(own_ohm):
            raise InputError(f"the curve has no resistance at {actual_c:g} °C")
        own = at_the_sensor(own_ohm, low_ohm, high_ohm)
        if own[0].kind != "none":
            found += tolerances(circuit, part, reading_c - actual_c, actual_c, 0.5 * display_step_k)
        found += own
        found += wrong_parts(others, actual_c, low_ohm, high_ohm)
        found += sag(circuit, own_ohm, edges)
        notes.append(
            "sizes are those of parts that are otherwise exact, and of a true temperature that is"
        )
    found += wiring(circuit, low_code, high_code)
    return Seen(
        reading_c, low_code, high_code, low_v, high_v, low_ohm, high_ohm, actual_c,
        tuple(found), tuple(notes),
    )  # fmt: skip


def _codes(
    circuit: Circuit, curve: Curve, reading_c: float, half_k: float
) -> tuple[float, float, list[str]]:
    """First and last code whose temperature is shown as the reading, and what to say of them."""
    r_ohm = np.exp(curve._quiet_ln_r(np.array([reading_c - half_k, reading_c, reading_c + half_k])))
    if not np.isfinite(r_ohm).all():
        raise InputError(
            f"the curve has no resistance at {reading_c:g} °C ± {half_k:g} K; is the reading, or "
            "display_step_k, right?"
        )
    position = circuit._position(r_ohm, circuit._nominal)
    first_middle = circuit.converter.middle(0.0)
    low = float(np.ceil(position.min() - first_middle))
    high = float(np.floor(position.max() - first_middle))
    notes = []
    if low > high:
        low = high = float(np.floor(position[1] - first_middle + 0.5))
        notes.append(f"no code is shown as {reading_c:g} °C; this is the nearest")
    top = float(circuit.converter.top_code)
    if high <= 0.0 or low >= top:
        notes.append("an end of the converter's scale: the sensor is there, or anywhere beyond")
    return min(max(low, 0.0), top), min(max(high, 0.0), top), notes


def from_to(low: float, high: float) -> str:
    """Write a range of counts."""
    return f"{low:.0f}" if low == high else f"{low:.0f} to {high:.0f}"


def volts_from_to(low: float, high: float) -> str:
    """Write a range of voltages, which may be open at one end."""
    if np.isinf(low) or np.isinf(high):
        return f"{high:.4f} V or less" if np.isinf(low) else f"{low:.4f} V or more"
    return f"{low:.4f} to {high:.4f} V"
