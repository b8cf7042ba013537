"""The options of `circuit`: divider and converter, and which options go together."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from typing import Any, Final, TypeVar

import click

from thermofit.circuit import Converter, Divider
from thermofit.cli.circuitvalues import (
    CURRENT,
    DISPLAYED,
    LIMITS,
    SHARE,
    VOLTAGE,
    Displayed,
    LimitSpec,
)
from thermofit.cli.completing import PART
from thermofit.cli.sections import in_section
from thermofit.cli.values import COVERAGE, RESISTANCE, U_TEMPERATURE
from thermofit.units import TemperatureUnit

__all__ = [
    "CONTROLLER_OPTIONS",
    "NAMES",
    "Controller",
    "check_call",
    "circuit_of",
    "circuit_options",
    "controller_options",
]

F = TypeVar("F", bound=Callable[..., Any])

NAMES: Final = {
    "pullup_ohm": "--pullup",
    "pulldown_ohm": "--pulldown",
    "parallel_ohm": "--parallel",
    "series_ohm": "--series",
    "reference_v": "--reference",
    "leakage_a is in amperes, 1e-6 for 1 µA": "--leakage is written as 1uA",
    "display_step_k": "--display-step",
    "r25_tol_pct": "--r25-pct",
    "b_tol_pct": "--b-pct",
    "noise_counts": "--noise",
    "offset_counts": "--converter-offset",
}
"""What the library names in its errors, as options."""


def circuit_options(command: F) -> F:
    """Add the options that describe divider and converter."""
    option = in_section("The circuit")
    for each in reversed((
        option("--pullup", type=RESISTANCE, help="Fixed resistor; sensor to ground: 10k."),
        option("--pulldown", type=RESISTANCE, help="Instead, the sensor to the supply."),
        option("--supply", type=VOLTAGE, required=True, help="Supply: 5V, 3V3."),
        option(
            "--reference", type=VOLTAGE, help="Of the converter.  [default: the supply]"
        ),
        option(
            "--bits", type=click.IntRange(1, 32), required=True, metavar="BITS",
            help="Of the converter: 10.",
        ),
        option("--series", type=RESISTANCE, help="Fixed resistor in series with the sensor."),
        option("--parallel", type=RESISTANCE, help="Fixed resistor across the sensor."),
        option("--pull-tolerance", type=SHARE, help="± of the fixed resistor: 1%."),
        option("--series-tolerance", type=SHARE, help="± of --series."),
        option("--parallel-tolerance", type=SHARE, help="± of --parallel."),
        option("--supply-tolerance", type=SHARE, help="± of the supply."),
        option("--reference-tolerance", type=SHARE, help="± of --reference."),
        option("--leakage", type=CURRENT, help="± into the converter's pin: 1uA."),
        option("--converter-gain", type=SHARE, help="± of the converter's gain: 0.2%."),
        option(
            "--converter-offset", type=click.FloatRange(0.0), metavar="COUNTS",
            help="± of its offset, in counts.",
        ),
        option(
            "--noise", type=click.FloatRange(0.0), metavar="COUNTS",
            help="Of a conversion, counts rms.",
        ),
        option("--samples", type=click.IntRange(1), metavar="NUMBER", help="How many it averages."),
    )):  # fmt: skip
        command = each(command)
    return command


def controller_options(command: F) -> F:
    """Add the options about what the controller does and shows."""
    option = in_section("The controller")
    for each in reversed((
        option(
            "--coverage", type=COVERAGE, default="0.95", show_default=True, help="Of errors."
        ),
        option("--faults", "with_faults", is_flag=True, help="Show what faults look like."),
        option(
            "--limits", type=LIMITS, multiple=True,
            help="Good readings of the controller: 20..1000 (counts), 0.1V..4.8V, 500R..200k.",
        ),
        option("--fallback", type=DISPLAYED, help="What it uses for a broken sensor: 140F."),
        option(
            "--display", type=DISPLAYED, multiple=True, help="It shows this; what may be wrong?"
        ),
        option(
            "--actual", type=DISPLAYED, help="True temperature, for --faults and --display."
        ),
        option(
            "--display-step", type=U_TEMPERATURE, help="Its last digit.  [default: as typed]"
        ),
        option(
            "--wrong", type=PART, multiple=True,
            help="A family or SET.csv:ID that may be fitted instead.",
        ),
    )):  # fmt: skip
        command = each(command)
    return command


@dataclass(frozen=True)
class Controller:
    """What is said of the controller; None or empty where nothing is."""

    coverage: float
    limits: tuple[LimitSpec, ...]
    fallback: Displayed | None
    display: tuple[Displayed, ...]
    actual: Displayed | None
    display_step: float | None
    wrong: tuple[str, ...]
    with_faults: bool

    @property
    def fallback_c(self) -> float | None:
        """The fallback reading in °C."""
        return None if self.fallback is None else self.fallback.t_c

    @property
    def actual_c(self) -> float | None:
        """The true temperature in °C."""
        return None if self.actual is None else self.actual.t_c

    @property
    def unit(self) -> TemperatureUnit:
        """Unit of its display, as far as the options tell."""
        typed = [one for one in (*self.display, self.fallback, self.actual) if one is not None]
        return typed[0].unit if typed else "C"


CONTROLLER_OPTIONS: Final = tuple(
    field.name for field in fields(Controller) if field.name != "with_faults"
)
"""Names of the values that `controller_options` adds to a call, but for the flag."""


def check_call(said: Controller, best_pull: str | None, minimise: str | None) -> None:
    """Refuse options that would say nothing, before anything is computed."""
    if minimise is not None and best_pull is None:
        raise click.UsageError("--minimise goes with --best-pull")
    if said.display_step is not None and not said.display:
        raise click.UsageError("--display-step goes with --display")
    if not (said.with_faults or said.display):
        for name in ("limits", "fallback", "actual", "wrong"):
            if getattr(said, name) not in (None, ()):
                raise click.UsageError(f"--{name} goes with --faults or --display")
    if said.limits and not said.with_faults and said.fallback is None:
        raise click.UsageError("--limits goes with --faults, or with --display and --fallback")
    if said.wrong and not said.with_faults and said.actual is None:
        raise click.UsageError("--wrong goes with --faults, or with --display and --actual")


def circuit_of(options: dict[str, Any]) -> Divider:
    """Make the divider that the options describe.

    Parameters
    ----------
    options : dict
        Values of `circuit_options`.

    Returns
    -------
    Divider
    """
    if (options["pullup"] is None) == (options["pulldown"] is None):
        raise click.UsageError(
            "a divider has one fixed resistor: --pullup 10k where the sensor goes to ground, "
            "--pulldown 10k where it goes to the supply"
        )
    for name in ("series", "parallel", "reference"):
        if options[f"{name}_tolerance"] is not None and options[name] is None:
            raise click.UsageError(f"--{name}-tolerance goes with --{name}")
    return Divider(
        pullup_ohm=options["pullup"],
        pulldown_ohm=options["pulldown"],
        supply_v=options["supply"],
        converter=Converter(
            bits=options["bits"],
            reference_v=options["reference"],
            reference_pct=options["reference_tolerance"] or 0.0,
            gain_pct=options["converter_gain"] or 0.0,
            offset_counts=options["converter_offset"] or 0.0,
            noise_counts=options["noise"] or 0.0,
            samples=options["samples"] or 1,
        ),
        series_ohm=options["series"] or 0.0,
        parallel_ohm=options["parallel"],
        leakage_limit_a=options["leakage"] or 0.0,
        supply_pct=options["supply_tolerance"] or 0.0,
        pull_pct=options["pull_tolerance"] or 0.0,
        series_pct=options["series_tolerance"] or 0.0,
        parallel_pct=options["parallel_tolerance"] or 0.0,
    )
