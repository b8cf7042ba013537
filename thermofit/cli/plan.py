"""``thermofit plan``: in which baths to measure a sensor, before getting wet."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, Final, TypeVar, get_args

import click

import thermofit as tf
from thermofit.baths import Bath
from thermofit.cli.bench import (
    BenchOptions,
    Measured,
    air_of,
    boiling_of,
    ice_of,
    stirred_of,
)
from thermofit.cli.benchfacts import NO_HEATING
from thermofit.cli.benchoptions import check_means, means_options
from thermofit.cli.benchtext import reading_json, taken_text
from thermofit.cli.benchvalues import BATH_AT, BathAt, MeterSpec
from thermofit.cli.choosing import the_part
from thermofit.cli.completing import CURVE, FAMILY
from thermofit.cli.naming import naming_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.sections import Command, in_section
from thermofit.cli.values import RESISTANCE, TEMPERATURE
from thermofit.decide.planning.choice import Choice, shown_of
from thermofit.decide.planning.outcome import By, Plan
from thermofit.decide.planning.wording import plan_text
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.instruments import Meter
from thermofit.readings import cautions_of

__all__ = ["command"]

_METER_AS: Final = "0.8%+3 @4k/1; 0.8%+3 @40k/10"
# What the call names in its errors, as options; a prior of one's own has none.
_NAMES: Final = {
    "t_range_c": "the range --from … --to",
    "counts says": "--points says",
    "counts=2": "--points 2",
    "out, or give a prior that reaches as far": "out",
    "it, or give a prior that reaches as far": "it",
}

F = TypeVar("F", bound=Callable[..., Any])


def _bath_options(command: F) -> F:
    """Add the baths, each by the name under which characterise takes its reading."""
    bath = in_section("Baths that could be made")
    options = (
        bath("--ice", is_flag=True, help="Melting ice."),
        bath("--bath", type=BATH_AT, multiple=True, help="Stirred bath: 70C."),
        bath("--boiling", is_flag=True, help="Boiling water."),
        bath("--air", type=BATH_AT, help="Room air: 21C."),
    )
    for each in reversed(options):
        command = each(command)
    return command


@click.command(
    cls=Command,
    name="plan",
    epilog="""\b
Examples, each on one line:
  thermofit plan --ice --bath 40C --bath 70C --thermometer 0.5C --r25 10k
      --meter "0.8%+3 @4k/1; 0.8%+3 @40k/10"
  thermofit plan --ice --air 21C --waited 20min --boiling --altitude 450m
      --thermometer 0.5C --meter "0.8%+3 @40k/10" --family ntc-10k-3977 --from 0C --to 40C
docs/bench-guide.md tells how to make the baths.""",
)
@_bath_options
@means_options
@click.option("--r25", type=RESISTANCE, help="Rough resistance at 25 °C: 10k.")
@click.option("--family", type=FAMILY, help="Or the family that it may be of.")
@click.option("--curve", type=CURVE, help="Or a stored curve that it may be like.")
@click.option("--from", "from_", type=TEMPERATURE, default="0C", show_default=True,
              help="Range that matters.")  # fmt: skip
@click.option("--to", type=TEMPERATURE, default="100C", show_default=True, help="Its other end.")
@click.option(
    "--points",
    type=click.IntRange(min=1),
    multiple=True,
    metavar="N",
    help="In how many baths to measure; for several numbers say it again.  [usual: 1 to 4]",
)
@click.option("--by", type=click.Choice(get_args(By)), default="largest", show_default=True,
              help="Half-width of the band, over the range, that ranks the baths.")  # fmt: skip
@json_option
def command(
    ice: bool,
    bath: tuple[BathAt, ...],
    boiling: bool,
    air: BathAt | None,
    r25: float | None,
    family: str | None,
    curve: str | None,
    from_: float,
    to: float,
    points: tuple[int, ...],
    by: By,
    as_json: bool,
    **means: Any,
) -> None:
    """Say in which baths to measure an NTC sensor, and what band then follows.

    Name the baths that could be made, the instruments, and roughly the sensor; the
    options are those of characterise, without what is read.  For each number of
    baths the best ones are shown, with the band of the curve over the range.
    """
    said = {"ice": ice or None, "bath": bath, "boiling": boiling or None, "air": air}
    if not any(said.values()):
        raise click.UsageError("no bath: give --ice, --bath 70C, --boiling or --air 21C")
    check_means(said | means, _METER_AS)
    if not from_ < to:
        raise click.UsageError(f"--from {from_:g} °C does not lie below --to {to:g} °C")
    if family is not None and curve is not None:
        raise click.UsageError("--family or --curve, not both")
    like = None if family is None and curve is None else the_part(curve, family)
    ratios = isinstance(like, Family) and like.ratio_only
    if r25 is None and (like is None or ratios):
        raise click.UsageError(
            "how many ohms has the sensor, roughly? Say --r25 10k, which one reading in room air "
            "tells, or a --family or --curve that has its R25"
        )
    options = BenchOptions(**means)
    meter, assumed = _meter(options.meter)
    offered = list(_offered(options, ice, bath, boiling, air))
    with naming_options(_NAMES):
        found = tf.plan(
            [one for _, one, _ in offered],
            meter,
            t_range_c=(from_, to),
            sensor=like,
            r25_ohm=r25,
            counts=points or None,
            by=by,
        )
    assumed = list(dict.fromkeys([*(line for *_, taken in offered for line in taken), *assumed]))
    cautions = cautions_of(found.readings)
    if as_json:
        sensor = {"family": family, "curve": curve, "r25_ohm": r25}
        answer = _as_json(found, {option: one for option, one, _ in offered})
        told = {"assumed": assumed, "cautions": cautions}
        print_json("thermofit-plan", 1, sensor | answer | told)
    else:
        show(lambda: f"{plan_text(found, with_cautions=False)}\n\n{taken_text(assumed)}")
        for caution in cautions:
            tell("caution", caution)


def _meter(spec: MeterSpec) -> tuple[Meter, list[str]]:
    """The meter, and what was assumed of it; no digits are typed yet that tell its steps."""
    try:
        meter = tf.Meter.parse(spec.text)
    except InputError:
        raise click.UsageError(
            f"--meter {spec.text!r} has counts, and before measuring no digits tell what one is "
            f'in ohms; state the ranges, with the step of each: --meter "{_METER_AS}"'
        ) from None
    steps = 'no steps of the meter where --meter states none; they stand as in "0.8% @40k/10"'
    unstated = any(one.resolution_ohm is None for one in meter.ranges)
    return meter, [*([steps] if unstated else []), NO_HEATING]


def _offered(
    options: BenchOptions, ice: bool, bath: tuple[BathAt, ...], boiling: bool, air: BathAt | None
) -> Iterator[tuple[str, Bath, list[str]]]:
    """Option, bath, and what was assumed of it."""
    if ice:
        yield "--ice", *ice_of(options, "--ice")
    for one in bath:
        option = f"--bath {one.text}"
        yield option, *stirred_of(options, option, (one.t_c,))
    if air is not None:
        option = f"--air {air.text}"
        yield option, *air_of(options, option, (air.t_c,))
    if boiling:
        yield "--boiling", *boiling_of(options, "--boiling")


def _as_json(found: Plan, options: dict[str, Bath]) -> dict[str, Any]:
    curve = found.at_hand.sensor.curve
    low, high = found.t_range_c
    return {
        "from_c": low,
        "to_c": high,
        "by": found.by,
        "coverage": found.coverage,
        "prior": {"origin": found.prior.origin},
        "baths": [
            reading_json(Measured(option, reading), curve)
            for reading in found.readings
            for option, bath in options.items()
            if bath is reading.bath
        ],
        "best": [
            _choice_json(choice) | _contributions_json(choice)
            for choice in map(found.best, found.counts)
        ],
        "choices": [_choice_json(choice) for choice in found.choices],
        "one_more": _one_more_json(found),
    }


def _choice_json(choice: Choice) -> dict[str, Any]:
    names = ("baths_c", "largest_k", "largest_at_c", "mean_k", "dominating")
    shown = shown_of(choice.t_c)
    return {
        "points": len(choice.readings),
        **{name: getattr(choice, name) for name in names},
        "band": [
            {"t_c": t_c, "half_width_k": half_k}
            for t_c, half_k in zip(shown, choice.half_width_at(shown), strict=True)
        ],
    }


def _contributions_json(choice: Choice) -> dict[str, Any]:
    """What makes up the uncertainty at the temperatures of its band."""
    parts = choice.contributions
    return {
        "contributions": [
            {"name": name, "standard_uncertainty_k": u_k}
            for name, u_k in zip(parts.names, parts.u_k, strict=True)
        ]
    }


def _one_more_json(found: Plan) -> dict[str, Any] | None:
    if found.also is None:
        return None
    extra = [found.extra(choice=count) for count in found.counts]
    return {
        "t_c": found.also.temperature.value,
        "u_t_k": found.also.temperature.standard_uncertainty,
        "like_c": found.also_like_c,
        "choices": [_choice_json(one.after) for one in extra],
    }
