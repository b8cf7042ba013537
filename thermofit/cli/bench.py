"""From what was typed of the bench to readings with budgets."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from typing import Final, Literal

import thermofit as tf
from thermofit.baths import Bath
from thermofit.budget import Budget
from thermofit.cli.benchvalues import BathReading, MeterSpec, Shown, ThermometerSpec
from thermofit.errors import FitError, InputError
from thermofit.units import format_ohm

__all__ = [
    "Bench",
    "BenchOptions",
    "Measured",
    "air_of",
    "boiling_of",
    "ice_of",
    "measure",
    "saying",
    "stirred_of",
]

# What is taken where nothing is said; each is told with the answer.
_BATH_UNIFORMITY_K: Final = 0.2
_AIR_UNIFORMITY_K: Final = 0.3
_TIME_CONSTANT_MIN: Final = 5.0
_START_DIFFERENCE_K: Final = 10.0
_ICE_DIFFERENCE_K: Final = {"slush": 0.1, "flask": 0.01}
_PRACTICE: Final = "common practice, no source"

# What the calls name in their errors, as options; the longer names first.
_NAMES_HERE: Final = {
    "sea_level_pressure_hpa": "--sea-level-pressure",
    "pressure_hpa": "--pressure",
    "altitude_m": "--altitude",
    "shared_u_t_k": "--shared-u-t",
    "shared_u_r_pct": "--shared-u-r",
    "use ice_point": "use --ice",
    "name the liquid": "name the liquid with --liquid",
}


@dataclass(frozen=True)
class BenchOptions:
    """What the options say; None where one is left out."""

    meter: MeterSpec
    thermometer: ThermometerSpec | None = None
    ice: Shown | None = None
    ice_kind: Literal["flask", "slush"] | None = None
    after_ice: Shown | None = None
    ice_difference: float | None = None
    bath: tuple[BathReading, ...] = ()
    uniformity: float | None = None
    liquid: str | None = None
    air: BathReading | None = None
    waited: float | None = None
    time_constant: float | None = None
    start_difference: float | None = None
    air_uniformity: float | None = None
    boiling: Shown | None = None
    probe: Literal["water", "steam"] | None = None
    pressure: float | None = None
    altitude: float | None = None
    sea_level_pressure: float | None = None
    leads: Shown | None = None

    @property
    def shown(self) -> list[Shown]:
        """All that the meter showed."""
        baths = [*self.bath, self.air] if self.air is not None else self.bath
        others = (self.ice, *(one.shown for one in baths), self.boiling, self.after_ice, self.leads)
        return [one for one in others if one is not None]


@dataclass(frozen=True)
class Measured:
    """One reading, and the option that it was typed in."""

    option: str
    reading: tf.Reading


@dataclass(frozen=True)
class Bench:
    """All that was measured.

    Parameters
    ----------
    measured : tuple of Measured
    assumed : tuple of str
        What was taken since nothing was said of it.
    before, after : Budget, optional
        Resistance at ice before and after the other baths, where both were read.
    ice_difference_k : float, optional
        Limit ± of the difference between both ice baths.
    """

    measured: tuple[Measured, ...]
    assumed: tuple[str, ...]
    before: Budget | None = None
    after: Budget | None = None
    ice_difference_k: float | None = None

    @property
    def readings(self) -> list[tf.Reading]:
        """The readings alone."""
        return [one.reading for one in self.measured]


def measure(options: BenchOptions) -> Bench:
    """Make readings of what was typed.

    Parameters
    ----------
    options : BenchOptions

    Returns
    -------
    Bench

    Raises
    ------
    InputError
        What cannot be; the message begins with the option.
    FitError
        A resistance that does not fall with temperature.
    """
    leads = None
    if options.leads is not None:
        with saying(f"--leads {options.leads.text}"):
            leads = options.meter.meter(options.leads.step_ohm).leads(options.leads.r_ohm)
    measured, assumed = [], []
    for option, shown, bath, taken in _baths(options):
        with saying(option):
            measured.append(Measured(option, tf.Reading(bath, _resistance(options, shown, leads))))
        assumed += [line for line in taken if line not in assumed]
    _refuse_no_fall(measured)
    before = after = difference_k = None
    if options.after_ice is not None and options.ice is not None:
        before = measured[0].reading.resistance
        with saying(f"--after-ice {options.after_ice.text}"):
            # In the range of the first reading, whatever digits were typed of the second.
            after = _resistance(options, options.after_ice, leads, options.ice.step_ohm)
        difference_k, taken = _or_usual(
            options.ice_difference, _ICE_DIFFERENCE_K[options.ice_kind or "slush"],
            "both ice baths equally cold within ± {:g} K", "ice-difference",
        )  # fmt: skip
        assumed += taken
    return Bench(
        tuple(measured), (*assumed, *_steps(options)), before, after, difference_k
    )  # fmt: skip


def _baths(options: BenchOptions) -> Iterator[tuple[str, Shown, Bath, list[str]]]:
    """Option, resistance and bath of each reading, and what was assumed of it."""
    if options.ice is not None:
        option = f"--ice {options.ice.text}"
        yield option, options.ice, *ice_of(options, option)
    for one in options.bath:
        option = f"--bath {one.text}"
        yield option, one.shown, *stirred_of(options, option, one.t_c)
    if options.air is not None:
        option = f"--air {options.air.text}"
        yield option, options.air.shown, *air_of(options, option, options.air.t_c)
    if options.boiling is not None:
        option = f"--boiling {options.boiling.text}"
        yield option, options.boiling, *boiling_of(options, option)


def ice_of(options: BenchOptions, option: str) -> tuple[Bath, list[str]]:
    """Ice as the options describe it, and what was assumed of it."""
    with saying(option):
        bath = tf.ice_point(options.ice_kind or "slush", pressure_hpa=options.pressure)
    return bath, []


def stirred_of(
    options: BenchOptions, option: str, t_c: tuple[float, ...]
) -> tuple[Bath, list[str]]:
    """Stirred bath of which the thermometer shows so much."""
    assert options.thermometer is not None
    uniformity_k, taken = _or_usual(
        options.uniformity, _BATH_UNIFORMITY_K, "the bath uniform within ± {:g} K", "uniformity"
    )
    with saying(option):
        bath = tf.stirred_bath(
            t_c, options.thermometer.thermometer, uniformity_k=uniformity_k,
            pressure_hpa=options.pressure, liquid=options.liquid or "water",
        )  # fmt: skip
    return bath, taken


def boiling_of(options: BenchOptions, option: str) -> tuple[Bath, list[str]]:
    """Boiling water at the pressure of the bench."""
    with saying(option):
        bath = tf.boiling_water(
            pressure_hpa=options.pressure, altitude_m=options.altitude,
            sea_level_pressure_hpa=options.sea_level_pressure, probe=options.probe or "water",
        )  # fmt: skip
    by_altitude = options.altitude is not None
    taken = [f"the altitude within ± 20 m ({_PRACTICE})"] if by_altitude else []
    if not by_altitude or options.sea_level_pressure is not None:
        taken.append(f"the pressure within ± 1 hPa ({_PRACTICE})")
    return bath, taken


def air_of(options: BenchOptions, option: str, t_c: tuple[float, ...]) -> tuple[Bath, list[str]]:
    """Room air of which the thermometer shows so much."""
    assert options.thermometer is not None and options.waited is not None
    thermometer = options.thermometer.thermometer
    uniformity_k, first = _or_usual(
        options.air_uniformity, _AIR_UNIFORMITY_K, "the air uniform within ± {:g} K",
        "air-uniformity",
    )  # fmt: skip
    tau_min, second = _or_usual(
        options.time_constant, _TIME_CONSTANT_MIN, "a time constant of {:g} min in air",
        "time-constant",
    )  # fmt: skip
    start_k, third = _or_usual(
        options.start_difference, _START_DIFFERENCE_K, "a start {:g} K away from the air",
        "start-difference",
    )  # fmt: skip
    with saying(option):
        bath = tf.room_air(
            t_c, thermometer, waited_min=options.waited,
            time_constant_min=tau_min, start_difference_k=start_k, uniformity_k=uniformity_k,
        )  # fmt: skip
    return bath, [*first, *second, *third]


def _or_usual(said: float | None, usual: float, words: str, name: str) -> tuple[float, list[str]]:
    if said is not None:
        return said, []
    return usual, [f"{words.format(usual)} ({_PRACTICE}; else say --{name})"]


def _resistance(
    options: BenchOptions, shown: Shown, leads: Budget | None, step_ohm: float | None = None
) -> Budget:
    """Measure what was shown.

    Without stated ranges, a step of another size is another range, with a gain of its own.
    """
    meter = options.meter.meter(shown.step_ohm)
    budget = meter.measure(shown.r_ohm, leads=leads)
    if meter.range_for(shown.r_ohm[0]).full_scale_ohm is not None:
        return budget
    steps = f" in {format_ohm(step_ohm or shown.step_ohm, 1)} steps"
    return Budget(
        budget.value,
        budget.unit,
        [
            replace(part, shared=part.shared + steps) if part.name == "meter accuracy" else part
            for part in budget.contributions
        ],
    )


def _steps(options: BenchOptions) -> list[str]:
    """How the steps of the meter were read, where its ranges do not state them."""
    if "/" in options.meter.text:
        return []
    told = dict.fromkeys(f"{format_ohm(one.step_ohm, 1)} ({one.text})" for one in options.shown)
    return [
        f"steps of the meter from the digits as typed, {', '.join(told)}; type all digits that it "
        'shows, or state its ranges, as in --meter "0.8%+3 @40k/10"'
    ]


def _refuse_no_fall(measured: list[Measured]) -> None:
    """Refuse resistances that do not fall with temperature, with the options that say so."""
    ordered = sorted(measured, key=lambda one: one.reading.temperature.value)
    cold, hot = ordered[0], ordered[-1]
    from_c, to_c = cold.reading.temperature.value, hot.reading.temperature.value
    from_ohm, to_ohm = cold.reading.resistance.value, hot.reading.resistance.value
    if from_c == to_c or to_ohm < from_ohm:
        return
    both = f"{cold.option} and {hot.option}"
    if to_ohm == from_ohm:
        raise FitError(
            f"{both}: the same resistance at {from_c:.4g} and at {to_c:.4g} °C; was one typed "
            "twice, or were the probes on something else than the sensor?"
        )
    raise FitError(
        f"{both}: the resistance rises with temperature, and that of an NTC falls; are they "
        "swapped, does one lack its k, or is it a PTC or platinum sensor, for which "
        "thermofit fit is made?"
    )


@contextmanager
def saying(option: str) -> Iterator[None]:
    """Begin the message of an error with the option that it is about, and name options in it."""
    try:
        yield
    except InputError as error:
        told = str(error)
        for name, here in _NAMES_HERE.items():
            told = told.replace(name, here)
        raise InputError(f"{option}: {told}") from error
