"""``thermofit circuit``: what the controller makes of its sensor, healthy or broken."""

from __future__ import annotations

from typing import Any, get_args

import click

from thermofit.circuit.preferred import Series
from thermofit.cli.choosing import curve_options, family_or_curve, round_temperatures
from thermofit.cli.circuitanswer import Sensor, answer_json, answer_of
from thermofit.cli.circuitoptions import (
    CONTROLLER_OPTIONS,
    NAMES,
    Controller,
    check_call,
    circuit_of,
    circuit_options,
    controller_options,
)
from thermofit.cli.circuittext import answer_text
from thermofit.cli.circuitvalues import DISSIPATION, warnings_once
from thermofit.cli.naming import naming_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.sections import Command
from thermofit.cli.tolerances import stated_tolerance, tolerance_options
from thermofit.cli.values import KELVIN, RESISTANCE, TEMPERATURE, U_TEMPERATURE
from thermofit.curve import Curve

__all__ = ["command"]


@click.command(
    cls=Command,
    name="circuit",
    epilog="""\b
Examples, each on one line:
  thermofit circuit --family ntc-10k-3977 --pullup 10k --supply 5V --bits 10
      --from 0C --to 60C --step 5K --pull-tolerance 1%
  thermofit circuit --family ntc-10k-3977 --pullup 10k --supply 5V --bits 10
      --faults --limits 20..1000 --fallback 140F --actual 70F
  thermofit circuit --family ntc-10k-3977 --pullup 10k --supply 5V --bits 10
      --display 18.3C --display 140F --fallback 140F --actual 21C
  thermofit circuit --curve shop.csv:inlet --pullup 10k --supply 5V --bits 10
      --from 0C --to 60C --best-pull E24
docs/controller.md explains the answers.""",
)
@curve_options
@click.option("--r25", type=RESISTANCE, help="R25 of a constant-B curve typed in.")
@click.option("--b", type=KELVIN, help="Its B value: 3950K.")
@circuit_options
@tolerance_options
@click.option("--dissipation", type=DISSIPATION, help="Of the sensor, for self-heating: 2mW/K.")
@click.option("--from", "from_", type=TEMPERATURE, help="First temperature.  [default: the range]")
@click.option("--to", type=TEMPERATURE, help="Last temperature.  [default: the range]")
@click.option("--step", type=U_TEMPERATURE, help="Step.  [default: 5K]")
@controller_options
@click.option(
    "--best-pull", type=click.Choice([*get_args(Series), "any"]),
    help="Find the fixed resistor for the range, among these values.",
)  # fmt: skip
@click.option(
    "--minimise", type=click.Choice(["error", "resolution"]),
    help="With --best-pull: largest error or coarsest count.  [default: error]",
)  # fmt: skip
@json_option
def command(
    curve: str | None,
    family: str | None,
    r25: float | None,
    b: float | None,
    from_: float | None,
    to: float | None,
    step: float | None,
    with_faults: bool,
    best_pull: str | None,
    minimise: str | None,
    dissipation: float | None,
    as_json: bool,
    **options: Any,
) -> None:
    """Show what a controller makes of its sensor: volts, counts, resolution, errors.

    With --faults, what it shows when sensor or wiring are broken; with --display,
    what may be broken when it shows that.  The table of the healthy sensor then
    comes with --from, --to or --step only.
    """
    stated = stated_tolerance(options)
    said = {name: options.pop(name) for name in CONTROLLER_OPTIONS}
    controller = Controller(**said, with_faults=with_faults)
    check_call(controller, best_pull, minimise)
    with naming_options(NAMES), warnings_once() as told:
        circuit = circuit_of(options)
        named = family_or_curve(curve, family, r25, b)
        nominal = named if isinstance(named, Curve) else named.curve
        t_c = round_temperatures(nominal, from_, to, 5.0 if step is None else step)
        sensor = Sensor.of(named, stated, dissipation)
        answer = answer_of(circuit, sensor, controller, t_c, best_pull, minimise)
    if as_json:
        print_json("thermofit-circuit", 1, answer_json(answer) | {"warnings": told})
    else:
        only_asked = with_faults or controller.display or best_pull
        with_table = not only_asked or (from_, to, step) != (None, None, None)
        show(lambda: answer_text(answer, with_table))
    for text in told:
        tell("warning", text)
    if not as_json:
        for text in answer.cautions:
            tell("caution", text)
