"""``thermofit response``: the time constant in a log, and whether air moves over the sensor."""

from __future__ import annotations

import dataclasses
import sys
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import click

from thermofit.circuit.faultrows import CAUTIONS
from thermofit.cli.choosing import curve_options, family_or_curve
from thermofit.cli.circuitvalues import (
    SECONDS,
    SHARE,
    WINDOW,
    refuse_ratio_only,
    warnings_once,
)
from thermofit.cli.naming import as_options, naming_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.sections import Command
from thermofit.cli.values import COVERAGE
from thermofit.curve import Curve
from thermofit.errors import InputError, UnitGuessWarning
from thermofit.family import Family
from thermofit.interval import format_pair
from thermofit.texttable import aligned, paragraph
from thermofit.thermal import AirFlow, StepLog, StepResponse, compare_air_flow, fit_step, read_log
from thermofit.thermal.airflow import CAUTION

__all__ = ["command"]

# What the library names in its errors and notes, as options.
_NAMES: Final = {
    "(time_unit)": "(--time-unit)",
    "(unit)": "(--unit)",
    "(time_column)": "(--time-column)",
    "(value_column)": "(--value-column)",
    "(window_s)": "(--window)",
    "the two exchanged?": "--running and --stopped exchanged?",
    "(curve=)": "(--curve, --family)",
    "state quantity": "state --quantity",
    "quantity='resistance'": "--quantity resistance",
    "give them as r_ohm with a curve": "say --quantity resistance, with --family or --curve",
    "reference_running": "--running",
    "reference_stopped": "--stopped",
}

_FILE: Final = click.Path(exists=True, dir_okay=False)


@dataclass(frozen=True)
class _Read:
    """One log, and what was said of it."""

    option: str
    log: StepLog
    guesses: str


@click.command(
    cls=Command,
    name="response",
    epilog="""\b
Examples:
  thermofit response fan-box.csv
  thermofit response fan-box.csv --running good-on.csv --stopped good-off.csv
  thermofit response ohms.csv --family ntc-10k-3977 --window 20s..3min
docs/controller.md tells how to make the logs.""",
)
@click.argument(
    "file", metavar="LOG.csv", type=click.Path(exists=True, dir_okay=False, allow_dash=True)
)
@curve_options
@click.option("--running", type=_FILE, help="Log of a good sensor of the kind, its fan running.")
@click.option("--stopped", type=_FILE, help="The same with its fan stopped.")
@click.option(
    "--quantity", type=click.Choice(["temperature", "resistance"]),
    help="What to read where a log has both.  [default: temperature]",
)  # fmt: skip
@click.option("--time-column", metavar="COLUMN", help="Time: header or number.")
@click.option("--value-column", metavar="COLUMN", help="Readings: header or number.")
@click.option("--time-unit", type=click.Choice(["ms", "s", "min", "h"]), help="Of bare times.")
@click.option("--unit", help="Of the readings: C, F, K, ohm, kohm.")
@click.option("--decimal", type=click.Choice([".", ","]), help="Decimal sign of the logs.")
@click.option("--window", type=WINDOW, help="Part of LOG.csv to use: 20s..3min.")
@click.option("--step-at", type=SECONDS, help="When the surroundings changed, for the dead time.")
@click.option(
    "--constants", type=click.Choice(["auto", "1", "2"]), default="auto", show_default=True,
    help="How many time constants.",
)  # fmt: skip
@click.option("--coverage", type=COVERAGE, default="0.95", show_default=True, help="Of intervals.")
@click.option(
    "--repeatability", type=SHARE,
    help="By how much two tests of one good sensor differ, k = 1.  [usual: 10%]",
)  # fmt: skip
@click.option(
    "--least-ratio", type=click.FloatRange(1.0, min_open=True), metavar="NUMBER",
    help="Without --stopped: how many times slower at least it gets.  [usual: 2]",
)  # fmt: skip
@json_option
def command(
    file: str,
    curve: str | None,
    family: str | None,
    running: str | None,
    stopped: str | None,
    quantity: Any,
    window: tuple[float, float] | None,
    step_at: float | None,
    constants: str,
    coverage: float,
    repeatability: float | None,
    least_ratio: float | None,
    as_json: bool,
    **columns: Any,
) -> None:
    """Fit the step in LOG.csv (- for standard input), of temperatures or resistances.

    The log is of a sensor that is carried from one temperature to another.  With
    --running, a log of a good one whose fan runs, and better with --stopped too,
    the answer says whether air moves over this one.  What the columns are
    taken for is told on standard error.
    """
    if running is None:
        for option, value in (
            ("stopped", stopped), ("repeatability", repeatability), ("least-ratio", least_ratio),
        ):  # fmt: skip
            if value is not None:
                raise click.UsageError(f"--{option} goes with --running")
    if stopped is not None and least_ratio is not None:
        raise click.UsageError("--least-ratio is for want of --stopped; leave one of them out")
    named = None
    if curve is not None or family is not None:
        named = family_or_curve(curve, family, None, None)
        refuse_ratio_only(named)
    settings = {name: _column(name, text) for name, text in columns.items()}
    given = [("", file), ("--running", running), ("--stopped", stopped)]
    with naming_options(_NAMES):
        reads = [
            _read(option, path, quantity, settings) for option, path in given if path is not None
        ]
        _tell(reads)
        _refuse_idle(reads, named)
        fits = {}
        told: list[str] = []
        for one in reads:
            own: dict[str, Any] = {"window_s": window, "step_s": step_at}
            fits[one.option], doubts = _fit(
                one, named, constants=int(constants) if constants != "auto" else "auto",
                coverage=coverage, **(own if not one.option else {}),
            )  # fmt: skip
            told += doubts
        air = None
        if running is not None:
            air = compare_air_flow(
                fits[""], fits["--running"], fits.get("--stopped"),
                repeatability_pct=repeatability, least_ratio=least_ratio,
            )  # fmt: skip
    cautions = (*((CAUTION,) if air is not None and air.verdict != "moving" else ()), *CAUTIONS)
    if as_json:
        print_json("thermofit-response", 1, {
            "response": fits[""].to_dict(),
            "running": fits["--running"].to_dict() if running is not None else None,
            "stopped": fits["--stopped"].to_dict() if stopped is not None else None,
            "air_flow": None if air is None else dataclasses.asdict(air),
            "read_as": [line for one in reads for line in _lines(one, len(reads) > 1)],
            "cautions": cautions,
            "warnings": told,
        })  # fmt: skip
    else:
        show(lambda: _text(fits, air))
    for text in told:
        tell("warning", text)
    if not as_json:
        for text in cautions:
            tell("caution", text)


def _column(name: str, text: str | None) -> Any:
    """A column by its number, where digits are typed."""
    return int(text) if text is not None and name.endswith("column") and text.isdigit() else text


def _read(option: str, path: str, quantity: Any, settings: dict[str, Any]) -> _Read:
    source: Any = sys.stdin.buffer if path == "-" else path
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", UnitGuessWarning)
        log = read_log(source, quantity=quantity, **settings)
    return _Read(option, log, " ".join(str(entry.message) for entry in caught))


def _lines(one: _Read, several: bool) -> list[str]:
    """What a log was read as, with its option where there are several logs."""
    name = f"{one.option or 'LOG'}: " if several else ""
    return [name + as_options(line, _NAMES) for line in one.log.notes]


def _tell(reads: list[_Read]) -> None:
    """Tell on standard error what the logs were read as; what was guessed as a warning."""
    for one in reads:
        for note, line in zip(one.log.notes, _lines(one, len(reads) > 1), strict=True):
            tell("warning" if note in one.guesses else "read", line)


def _refuse_idle(reads: list[_Read], named: Curve | Family | None) -> None:
    """Refuse a curve that no log needs."""
    if named is not None and all(one.log.r_ohm is None for one in reads):
        raise InputError(
            f"{reads[0].log.source} is read as temperatures: leave --family or --curve out, or say "
            "--quantity resistance if it has a column of those"
        )


def _fit(
    one: _Read, named: Curve | Family | None, **settings: Any
) -> tuple[StepResponse, list[str]]:
    """Fit one log, and give what is doubtful of it."""
    with warnings_once() as told:
        # What the columns are was told; what is said of the curve belongs to the answer.
        log = StepLog(one.log.t_s, one.log.t_c, one.log.r_ohm, source=one.log.source)
        try:
            response = fit_step(log, curve=named if log.r_ohm is not None else None, **settings)
        except InputError as error:
            place = f"{one.option} {one.log.source}".strip()
            raise InputError(f"{place}: {error}") from error
    name = f"{one.option} {Path(one.log.source).name}: " if one.option else ""
    return response, [name + text for text in told]


def _text(fits: dict[str, StepResponse], air: AirFlow | None) -> str:
    response = fits[""]
    blocks = [str(dataclasses.replace(response, warnings=()))]
    if air is not None:
        rows = [["air over the sensor", "time to 63.2 % / s", "standard uncertainty"]]
        for option, name in (("", "this log"), ("--running", "running"), ("--stopped", "stopped")):
            if option in fits:
                shown, u = format_pair(fits[option].tau_s, fits[option].u_tau_s)
                rows.append([name, shown, u])
        lines = [line for line in str(air).splitlines() if CAUTION not in line]
        blocks += [aligned(rows), "\n".join(paragraph(line.strip(), then="  ") for line in lines)]
    return "\n\n".join(blocks)
