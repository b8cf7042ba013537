"""``thermofit substitute``: which part may stand in, how wrong it reads, and what mends that."""

from __future__ import annotations

from pathlib import Path
from typing import Any, get_args

import click

import thermofit as tf
from thermofit.circuit import Divider
from thermofit.circuit.preferred import Series
from thermofit.cli.circuitoptions import NAMES as CIRCUIT_NAMES
from thermofit.cli.circuitoptions import circuit_of, circuit_options
from thermofit.cli.circuitvalues import (
    LIMITS,
    SHARE,
    LimitSpec,
    all_limits,
    warnings_once,
)
from thermofit.cli.naming import as_options, naming_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.sections import Command
from thermofit.cli.substituteanswer import (
    NAMES,
    answer_json,
    candidates_of,
    cautions_of,
    check_files,
    check_limits,
    named_part,
)
from thermofit.cli.tolerances import stated_tolerance, tolerance_options
from thermofit.cli.values import RESISTANCE, TEMPERATURE
from thermofit.decide.substitute.building import Trim
from thermofit.decide.substitute.text import as_text
from thermofit.tolerance import Tolerance

__all__ = ["command"]

_ALL_NAMES = CIRCUIT_NAMES | NAMES
_OUTPUT = click.Path(dir_okay=False, writable=True)


@click.command(
    cls=Command,
    name="substitute",
    epilog="""\b
Examples, each on one line:
  thermofit substitute ntc-10k-3977 --from 0C --to 60C
  thermofit substitute ntc-10k-3977 --from 0C --to 60C --part 12k/3950K
      --pullup 10k --supply 5V --bits 10 --limits 20..1000 --trim both
  thermofit substitute shop.csv:inlet --from 0C --to 60C --parts drawer.csv
      --set-point 18C --set-point 24C --picture errors.png
  thermofit substitute ntc-10k-3977 --from 0C --to 60C --part ntc-10k-3435
      --firmware table.csv
docs/substitutes.md explains the answers.""",
)
@click.argument("original")
@click.option("--from", "from_", type=TEMPERATURE, required=True, help="Range that matters: 0C.")
@click.option("--to", type=TEMPERATURE, required=True, help="Its other end: 60C.")
@click.option(
    "--part", metavar="PART", multiple=True,
    help="A candidate: ID, SET.csv:ID, or R25 and B as 12k/3950K.  [default: all families]",
)  # fmt: skip
@click.option(
    "--parts", metavar="SET.csv", multiple=True, type=click.Path(exists=True, dir_okay=False),
    help="A curve set of candidates: what is in the drawer.",
)  # fmt: skip
@click.option("--set-point", type=TEMPERATURE, multiple=True, help="Show how it drifts: 18C.")
@click.option(
    "--limits", type=LIMITS, multiple=True,
    help="Good readings of the controller: 20..1000 (counts), 0.1V..4.8V, 500R..200k.",
)  # fmt: skip
@click.option("--trim", type=click.Choice(get_args(Trim)), help="Look for trimming resistors.")
@click.option("--pairs", type=click.Choice(get_args(Trim)), help="Try two candidates together.")
@click.option(
    "--preferred", type=click.Choice(get_args(Series)), default="E96", show_default=True,
    help="Values of the trimming resistors.",
)  # fmt: skip
@click.option("--resistor-tolerance", type=SHARE, help="± of them.  [default: 1%]")
@click.option("--resistor-min", type=RESISTANCE, help="The smallest.  [default: 10R]")
@click.option("--resistor-max", type=RESISTANCE, help="The largest.  [default: 10M]")
@click.option("--allow-masked", is_flag=True, help="Also such as hide an open or shorted sensor.")
@tolerance_options
@circuit_options
@click.option("--firmware", type=_OUTPUT, metavar="FILE.csv", help="Write the table of the best.")
@click.option("--picture", type=_OUTPUT, metavar="FILE.png|svg", help="Draw the errors.")
@json_option
def command(
    original: str,
    from_: float,
    to: float,
    part: tuple[str, ...],
    parts: tuple[str, ...],
    set_point: tuple[float, ...],
    limits: tuple[LimitSpec, ...],
    trim: Any,
    pairs: Any,
    preferred: Any,
    resistor_tolerance: float | None,
    resistor_min: float | None,
    resistor_max: float | None,
    allow_masked: bool,
    firmware: str | None,
    picture: str | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Say which part can stand in for ORIGINAL while the controller keeps its curve.

    ORIGINAL is an id, SET.csv:ID, or R25 and B as 10k/3977K.  The options of a
    tolerance hold for parts that state none.  --series and --parallel are fixed
    resistors of the controller; what --trim finds comes on top, at the sensor.
    """
    if not from_ < to:
        raise click.UsageError(f"--from {from_:g} °C does not lie below --to {to:g} °C")
    if trim is None and (resistor_tolerance, resistor_min, resistor_max) != (None, None, None):
        raise click.UsageError("--resistor-tolerance, -min and -max go with --trim")
    if allow_masked and trim is None and pairs is None:
        raise click.UsageError("--allow-masked goes with --trim or --pairs")
    check_files(picture, firmware)
    if picture is not None:
        from thermofit.report import check_pictures

        check_pictures()
    stated = stated_tolerance(options)
    circuit = _circuit(options)
    known = all_limits(limits)
    check_limits(known, circuit is not None)
    with naming_options(_ALL_NAMES), warnings_once() as told:
        found = tf.substitutes(
            named_part(original, "ORIGINAL"),
            (from_, to),
            circuit,
            candidates=candidates_of(part, parts),
            set_points_c=list(set_point),
            limits=known,
            trim=trim,
            pairs=pairs,
            series=preferred,
            resistor_pct=1.0 if resistor_tolerance is None else resistor_tolerance,
            resistor_range_ohm=(resistor_min or 10.0, resistor_max or 10e6),
            allow_masked=allow_masked,
            unstated=Tolerance.of(**stated) if stated else None,
        )
        table = None if firmware is None else found.firmware(found.best)
    if table is not None and firmware is not None:
        Path(firmware).write_text(table.to_csv(), encoding="utf-8", newline="")
    if picture is not None:
        from thermofit.report import save_picture, substitutes_picture

        save_picture(substitutes_picture(found), picture)
    if as_json:
        files = {"firmware": firmware, "picture": picture}
        print_json("thermofit-substitute", 1, answer_json(found, table, files) | {"warnings": told})
    else:
        show(lambda: as_text(found, with_caution=False, naming=_as_options))
        if table is not None:
            click.echo()
            show(table)
    for text in told:
        tell("warning", text)
    if table is not None and not found.best.usable:
        tell("warning", "nothing is usable; the table is of the first row all the same")
    if not as_json:
        for path in (firmware, picture):
            if path is not None:
                tell("written", path)
        for text in cautions_of(found):
            tell("caution", text)


def _as_options(text: str) -> str:
    return as_options(text, _ALL_NAMES)


def _circuit(options: dict[str, Any]) -> Divider | None:
    """Make the divider, if any of its options is given."""
    if all(value is None for value in options.values()):
        return None
    for name in ("supply", "bits"):
        if options[name] is None:
            raise click.UsageError(f"a circuit needs --{name}, and --pullup or --pulldown")
    return circuit_of(options)


# Here the circuit may be left out, all of it.
for _option in command.params:
    if _option.name in ("supply", "bits"):
        _option.required = False
