"""The options of the bench: readings that are typed in, and what they were made with."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final, TypeVar

import click

from thermofit.cli.benchvalues import (
    ALTITUDE,
    BATH,
    METER,
    MINUTES,
    PRESSURE,
    SHARE,
    SHOWN,
    THERMOMETER,
)
from thermofit.cli.sections import in_section
from thermofit.cli.values import U_RESISTANCE, U_TEMPERATURE

__all__ = [
    "BENCH_OPTIONS",
    "bench_options",
    "check_call",
    "check_means",
    "file_uncertainty_options",
    "means_options",
]

F = TypeVar("F", bound=Callable[..., Any])

_READINGS: Final = ("ice", "bath", "air", "boiling")

# What says something of certain readings only, and would else be passed over in silence.
_GOES_WITH: Final = {
    "meter": _READINGS,
    "leads": _READINGS,
    "thermometer": ("bath", "air"),
    "ice_kind": ("ice",),
    "after_ice": ("ice",),
    "ice_difference": ("after_ice",),
    "uniformity": ("bath",),
    "liquid": ("bath",),
    "waited": ("air",),
    "time_constant": ("air",),
    "start_difference": ("air",),
    "air_uniformity": ("air",),
    "probe": ("boiling",),
    "pressure": ("ice", "bath", "boiling"),
    "altitude": ("boiling",),
    "sea_level_pressure": ("altitude",),
}

BENCH_OPTIONS: Final = (*_READINGS, *_GOES_WITH)
"""Names of the values that `bench_options` adds to a call."""


def bench_options(command: F) -> F:
    """Add the options about readings at the bench."""
    reading = in_section("Readings at the bench")
    options = (
        reading("--ice", type=SHOWN, help="Reading in melting ice: 32.6k, or several 32.6k;32.7k."),
        reading("--bath", type=BATH, multiple=True, help="Stirred bath: 68.4C:1.87k."),
        reading("--boiling", type=SHOWN, help="Reading in boiling water."),
        reading("--air", type=BATH, help="Room air: 21.3C:11.9k."),
        reading("--after-ice", type=SHOWN, help="Reading back in the ice, after the hot bath."),
        reading(
            "--ice-difference",
            type=U_TEMPERATURE,
            help="Limit ± between both ice baths.  [usual: 0.1K, of flasks 0.01K]",
        ),
        reading("--leads", type=SHOWN, help="Reading with the probes shorted: 0.3ohm."),
    )
    command = means_options(command)
    for each in reversed(options):
        command = each(command)
    return command


def means_options(command: F) -> F:
    """Add the options about instruments and baths, whatever is read in them."""
    means = in_section("Instruments and baths")
    options = (
        means("--meter", type=METER, help="Accuracy of the meter: 0.8%+3, 0.8%+3 @40k/10."),
        means("--thermometer", type=THERMOMETER, help="Its accuracy: 0.5C, 0.5%+0.3C, class A."),
        means("--uniformity", type=U_TEMPERATURE, help="Limit ± within the bath.  [usual: 0.2K]"),
        means("--liquid", help="Of --bath, if not water."),
        means("--ice-kind", type=click.Choice(["slush", "flask"]), help="[usual: slush]"),
        means("--pressure", type=PRESSURE, help="Of the air at the bench: 1008hPa."),
        means("--altitude", type=ALTITUDE, help="Instead: 450m."),
        means(
            "--sea-level-pressure", type=PRESSURE, help="With --altitude: as in the weather report."
        ),
        means(
            "--probe", type=click.Choice(["water", "steam"]), help="Where it boils.  [usual: water]"
        ),
        means("--waited", type=MINUTES, help="How long sensor and thermometer hung in the air."),
        means("--time-constant", type=MINUTES, help="Of the slower one in air.  [usual: 5min]"),
        means("--start-difference", type=U_TEMPERATURE, help="How far off it began.  [usual: 10K]"),
        means(
            "--air-uniformity", type=U_TEMPERATURE, help="Limit ± within the air.  [usual: 0.3K]"
        ),
    )
    for each in reversed(options):
        command = each(command)
    return command


def file_uncertainty_options(command: F) -> F:
    """Add the options that say how well the points of a file are known."""
    option = in_section("How well the points of a FILE are known")
    for each in reversed((
        option("--u-t", type=U_TEMPERATURE, help="Standard uncertainty of the temperatures: 0.2K."),
        option("--u-r", type=U_RESISTANCE, help="Standard uncertainty of the resistances: 0.5%."),
        option("--shared-u-t", type=U_TEMPERATURE, help="The part of --u-t that all share."),
        option("--shared-u-r", type=SHARE, help="The part of --u-r that all share: 0.4%."),
    )):  # fmt: skip
        command = each(command)
    return command


def check_call(file: str | None, bench: dict[str, Any], of_file: dict[str, Any]) -> None:
    """Refuse what does not go together, before anything is read.

    Parameters
    ----------
    file : str, optional
    bench, of_file : dict
        Values of the options about readings that are typed in, and about a file.
    """
    given = _given(bench)
    if file is not None:
        if given:
            raise click.UsageError(
                f"{_option(given[0])} is of readings typed in; for FILE say --u-t and --u-r"
            )
        return
    alone = [name for name, value in of_file.items() if value is not None]
    if alone:
        raise click.UsageError(f"{_option(alone[0])} is of a FILE of points, and none is given")
    if not set(_READINGS) & set(given):
        raise click.UsageError(
            "no reading: give --ice 32.6k, --bath 68.4C:1.87k, --boiling or --air, or a FILE"
        )
    check_means(bench)


def check_means(bench: dict[str, Any], meter: str = "0.8%+3") -> None:
    """Refuse what does not go with the baths, and baths without what they need.

    Parameters
    ----------
    bench : dict
        Values of the options about baths and what they are made with; None where one is
        left out.
    meter : str
        An accuracy that the command takes.
    """
    given = _given(bench)
    for name in given:
        needed = _GOES_WITH.get(name, ())
        if needed and not set(needed) & set(given):
            raise click.UsageError(f"{_option(name)} goes with {' or '.join(map(_option, needed))}")
    if bench["meter"] is None:
        raise click.UsageError(
            f'how accurate is the meter? Its manual says it for each range: --meter "{meter}", '
            "percent of the reading and counts of the last digit"
        )
    if {"bath", "air"} & set(given) and bench["thermometer"] is None:
        raise click.UsageError(
            "how accurate is the thermometer? Its manual or certificate says it: "
            "--thermometer 0.5C, or --thermometer 0.9F"
        )
    if "boiling" in given:
        pressure = bench["pressure"] is not None
        if pressure == (bench["altitude"] is not None):
            raise click.UsageError(
                "--boiling needs the pressure at the bench, --pressure 1008hPa, or --altitude "
                "450m, with --sea-level-pressure if you know it; one of the two"
            )
    if "air" in given and bench["waited"] is None:
        raise click.UsageError("how long in the air? Say --waited 20min with --air")


def _given(options: dict[str, Any]) -> list[str]:
    return [name for name, value in options.items() if value not in (None, ())]


def _option(name: str) -> str:
    return "--" + name.replace("_", "-")
