"""``thermofit causes``: is it the sensor, the wiring or the controller?"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any, Final

import click

import thermofit as tf
from thermofit.cli.benchvalues import SHARE
from thermofit.cli.causesreadings import SPOT, SPOT_SHOWN, Amounts, Spot, frame_of, name_of
from thermofit.cli.choosing import curve_options, the_part, wrong_part
from thermofit.cli.circuitvalues import warnings_once
from thermofit.cli.completing import PART
from thermofit.cli.naming import TOLERANCE_NAMES, as_options, naming_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.sections import Command
from thermofit.cli.tolerances import stated_tolerance, tolerance_options
from thermofit.cli.values import TEMPERATURE, U_RESISTANCE, U_TEMPERATURE
from thermofit.curve import Curve
from thermofit.decide import Causes, SpotReading
from thermofit.decide.cause.result import CauseRow
from thermofit.decide.cause.text import told as told_by
from thermofit.decide.requirement import requirement_of
from thermofit.family import Family
from thermofit.interval import Interval
from thermofit.tolerance import Tolerance

if TYPE_CHECKING:
    from thermofit.decide.cause.spot import Place

__all__ = ["command"]

_COVERAGE: Final = 0.95

# What the library names in its texts, as options.
_NAMES: Final = TOLERANCE_NAMES | {
    "u_controller_pct": "--u-controller",
    "next_t_c": "--next-at",
    "display_step_k": "--display-step",
    "enter SpotReading('display', …, r_ohm=math.inf, limit_ohm=…) for a sensor that the controller "
    "takes for open, r_ohm=0 for a shorted one": "write --display 20C:over200k for a sensor that "
    "the controller takes for open, 20C:under100R for a shorted one",
    "thermofit.thermal.compare_air_flow": "thermofit response",
    "r_ohm=math.inf": "OL as r_ohm",
}
_NAMES_OF_FILE: Final = {
    "the frame has": "{file} has",
    "of the frame": "below the header of {file}",
    "must be a finite number in Ω, not": "must be a number of ohms, as 12500, not",
    "rename the right ones with frame.rename": "call the right ones so in its first line",
}

# Options of the places, in the order of the cable.
_PLACES: Final[dict[str, Place]] = {
    "sensor": "sensor",
    "connector": "connector",
    "display": "display",
    "cable_bridged": "cable bridged",
    "cable_open": "cable open",
}


@click.command(
    cls=Command,
    name="causes",
    epilog="""\b
Examples, each on one line:
  thermofit causes --sensor 20C:12.5k --connector 20C:14.6k
      --family ntc-10k-3977 --u-t 0.2K --u-r 0.3%
  thermofit causes --sensor 70F:12.1k --connector 70F:over40M --display 70F:over200k
      --family ntc-10k-3977 --u-t 0.4F --u-r 0.3%
  thermofit causes --sensor 20C:12.5k --connector 20C:14.6k
      --curve shop.csv:inlet --r25-pct 2 --b-pct 1 --u-t 0.2K --u-r 0.3%
  thermofit causes visit.csv --family ntc-10k-3977 --u-t 0.2K --u-r 0.3%
docs/controller.md explains the answers, docs/command-line.md the columns of FILE.""",
)
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, allow_dash=True)
)
@click.option("--sensor", type=SPOT, multiple=True, help="At 20 °C, at its own leads: 20C:12.5k.")
@click.option(
    "--connector", type=SPOT, multiple=True,
    help="At the cable's end, unplugged from the controller: 20C:14.6k, or 20C:over40M for OL "
    "on a meter that goes to 40 MΩ, 20C:under1R for 0.",
)  # fmt: skip
@click.option(
    "--display", type=SPOT_SHOWN, multiple=True,
    help="What the controller shows, all connected: 20C:18.3C; 20C:over200k and 20C:under100R "
    "for a sensor that it takes for open and for shorted.",
)  # fmt: skip
@click.option(
    "--cable-bridged", type=SPOT, multiple=True,
    help="As --connector, the sensor off and the cable's far end bridged: 20C:2.1R.",
)  # fmt: skip
@click.option(
    "--cable-open", type=SPOT, multiple=True,
    help="The same with the far end left open: 20C:over40M.",
)  # fmt: skip
@curve_options
@click.option("--u-t", type=U_TEMPERATURE, help="Standard uncertainty of the temperatures: 0.2K.")
@click.option("--u-r", type=U_RESISTANCE, help="Standard uncertainty of the resistances: 0.5%.")
@click.option("--display-step", type=U_TEMPERATURE, help="Its last digit.  [default: as typed]")
@click.option(
    "--u-controller", type=SHARE, default="1%", show_default=True,
    help="Standard uncertainty of a healthy controller's input.",
)  # fmt: skip
@click.option(
    "--wrong", type=PART, multiple=True,
    help="A family or SET.csv:ID that may be fitted instead.  [default: all families]",
)  # fmt: skip
@click.option(
    "--next-at", type=TEMPERATURE, multiple=True, default=("0C", "50C"), show_default=True,
    help="A temperature that you can have for the next reading.",
)  # fmt: skip
@tolerance_options
@json_option
def command(
    file: str | None,
    curve: str | None,
    family: str | None,
    u_t: float | None,
    u_r: Amounts | None,
    display_step: float | None,
    u_controller: float,
    wrong: tuple[str, ...],
    next_at: tuple[float, ...],
    as_json: bool,
    **options: Any,
) -> None:
    """Say whether readings point to the sensor, the wiring or the controller.

    They are typed in, or stand in FILE.  Bad contact, leakage, an open or a short
    circuit, a sensor out of tolerance, a wrong part, the controller's input: each
    has a probability, and a size if it is so.  The answer does not change the
    exit status.
    """
    stated = stated_tolerance(options)
    typed = [(name, spot) for name in _PLACES for spot in options.pop(name)]
    if (file is None) == (not typed):
        raise click.UsageError(
            f"give readings, one or more of --{', --'.join(_PLACES)}, or else a FILE of them"
            .replace("_", "-")
        )  # fmt: skip
    if display_step is not None and not any(spot.shown for _, spot in typed):
        raise click.UsageError("--display-step goes with a temperature in --display")
    member = _as_family(the_part(curve, family))
    others = [_as_family(wrong_part(name)) for name in wrong] or None
    read_as: list[str] = []
    names = _NAMES | {
        library: ours.format(file=name_of(file or "")) for library, ours in _NAMES_OF_FILE.items()
    }  # fmt: skip
    with naming_options(names), warnings_once() as warned:
        if file is not None:
            readings: Any = frame_of(file, u_t, u_r, read_as)
        else:
            readings = list(_readings(typed, member, u_t, u_r, display_step))
        found = tf.causes(
            readings, member, tolerance=_tolerance(member, stated), families=others,
            u_controller_pct=u_controller, next_t_c=list(next_at),
        )  # fmt: skip
    for line in read_as:
        tell("read", line)
    if as_json:
        typed_as = [f"--{name.replace('_', '-')} {spot.text}" for name, spot in typed]
        answer = _as_json(found, typed_as) | {"read_as": read_as, "warnings": warned}
        print_json("thermofit-causes", 1, answer)
    else:
        show(lambda: as_options(told_by(found, with_cautions=False), names))
    for text in warned:
        tell("warning", text)
    if not as_json:
        for text in found.cautions:
            tell("caution", text)


def _as_family(part: Curve | Family) -> Family:
    """Take a measured curve as nominal; it states no tolerance, so the library assumes one."""
    return part if isinstance(part, Family) else Family(part, source_kind="measured")


def _tolerance(member: Family, stated: dict[str, Any]) -> Tolerance | None:
    """Make the tolerance; R25 or B that is not given is that of the family."""
    if not stated:
        return None
    if stated.keys() <= {"r25_pct", "b_pct"}:
        return requirement_of(member, **stated).tolerance
    return Tolerance.of(**stated)


def _readings(
    typed: list[tuple[str, Spot]], assumed: Family, u_t: float | None, u_r: Amounts | None,
    step_k: float | None,
) -> Iterator[SpotReading]:  # fmt: skip
    if u_t is None or (u_r is None and any(spot.metered for _, spot in typed)):
        raise click.UsageError(
            "readings need the uncertainties of your instruments: --u-t 0.2K, --u-r 0.5%"
        )
    for name, spot in typed:
        yield spot.reading(_PLACES[name], assumed, u_t, u_r or (0.0, 0.0), step_k)


def _as_json(found: Causes, typed_as: list[str]) -> dict[str, Any]:
    options = typed_as or [""] * len(found.readings)
    return {
        "verdict": found.verdict,
        "leading": found.leading,
        "family": found.family,
        "coverage": _COVERAGE,
        "causes": [_row_json(row) for row in found],
        "where": dict(found.where),
        "next_tests": [dataclasses.asdict(test) for test in found.next_tests],
        "next_steps": found.next_steps,
        "unidentified": found.unidentified,
        "disagreements": found.disagreements,
        "readings": [
            {
                "option": option or None,
                **dataclasses.asdict(reading),
                "over_range": reading.over_range,
            }
            for option, reading in zip(options, found.readings, strict=True)
        ],
        "notes": found.notes,
        "cautions": found.cautions,
    }


def _row_json(row: CauseRow) -> dict[str, Any]:
    sizes = ("gamma", "beta", "contact_ohm", "leak_ohm")
    plain = ("cause", "part", "probability", "prior")
    return {
        **{name: getattr(row, name) for name in plain},
        **{name: _interval_json(getattr(row, name)) for name in sizes},
        "undetermined": row.undetermined,
        "other": row.other or None,
        "other_share": row.other_share,
    }


def _interval_json(interval: Interval | None) -> dict[str, Any] | None:
    if interval is None:
        return None
    names = ("value", "standard_uncertainty", "low", "high")
    return {name: getattr(interval, name) for name in names}
