"""``thermofit band``: limits of the resistance over temperature."""

from __future__ import annotations

from typing import Any

import click

import thermofit as tf
from thermofit.cli.choosing import curve_options, family_or_curve, round_temperatures
from thermofit.cli.naming import TOLERANCE_NAMES, naming_options
from thermofit.cli.output import json_option, print_json, show
from thermofit.cli.sections import Command
from thermofit.cli.tolerances import stated_tolerance, tolerance_options
from thermofit.cli.values import COVERAGE, KELVIN, RESISTANCE, TEMPERATURE, U_TEMPERATURE
from thermofit.curve import Curve

__all__ = ["command"]


@click.command(
    cls=Command,
    name="band",
    epilog="""\b
Examples:
  thermofit band --family ntc-10k-3977
  thermofit band --family ntc-10k-3434 --r25-pct 1 --b-pct 0.75 --from 0C --to 60C --step 5K
  thermofit band --r25 10k --b 3950K --r25-pct 1 --b-pct 1 --csv
  thermofit band --family pt-100-iec60751 --class B --from 0C --to 100C""",
)
@curve_options
@click.option("--r25", type=RESISTANCE, help="R25 of a constant-B curve typed in.")
@click.option("--b", type=KELVIN, help="Its B value: 3950K.")
@tolerance_options
@click.option("--class", "class_", metavar="CLASS", help="Class of IEC 60751: AA, A, B or C.")
@click.option("--from", "from_", type=TEMPERATURE, help="First temperature.  [default: the range]")
@click.option("--to", type=TEMPERATURE, help="Last temperature.  [default: the range]")
@click.option("--step", type=U_TEMPERATURE, default="10K", show_default=True, help="Step.")
@click.option(
    "--spread",
    type=click.Choice(["uniform", "normal", "truncated-normal"]),
    help="Give the interval of parts that are spread so, rather than the worst case.",
)
@click.option("--coverage", type=COVERAGE, default="0.95", show_default=True, help="Of --spread.")
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV.")
@json_option
def command(
    curve: str | None,
    family: str | None,
    r25: float | None,
    b: float | None,
    class_: str | None,
    from_: float | None,
    to: float | None,
    step: float,
    spread: Any,
    coverage: float,
    as_csv: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Show between what limits the resistance of good parts lies, and what they read.

    The last column is the error of a reader that assumes the nominal curve.
    """
    if as_csv and as_json:
        raise click.UsageError("--csv or --json, not both")
    stated = stated_tolerance(options)
    part = family_or_curve(curve, family, r25, b)
    nominal = part if isinstance(part, Curve) else part.curve
    t_c = round_temperatures(nominal, from_, to, step)
    with naming_options(TOLERANCE_NAMES):
        band = tf.tolerance_band(
            part, t_c, platinum_class=class_, distribution=spread, coverage=coverage, **stated
        )
    if as_json:
        rows = band.to_frame().to_dict(orient="records")
        print_json("thermofit-band", 1, {"meaning": band.meaning, "rows": rows})
    elif as_csv:
        click.echo(band.to_frame().to_csv(index=False), nl=False)
    else:
        show(band)
