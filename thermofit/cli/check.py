"""``thermofit check``: is this sensor good?"""

from __future__ import annotations

from typing import Any

import click
import numpy as np

import thermofit as tf
from thermofit.cli.checkmany import many_json, many_text, print_csv
from thermofit.cli.choosing import named_family
from thermofit.cli.completing import FAMILY
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.points import (
    read_points_file,
    read_sensors_file,
    reading_options,
    refuse_both,
    sensor_option,
)
from thermofit.cli.sections import Command
from thermofit.cli.values import (
    PERCENT,
    READING,
    RISK,
    TEMPERATURE,
    U_RESISTANCE,
    U_TEMPERATURE,
    relative,
)
from thermofit.decide import Verdict

__all__ = ["command"]

_CAUTION = (
    "Measure with both leads disconnected, power isolated. A pass at these temperatures does not "
    "exclude a fault that comes and goes."
)


@click.command(
    cls=Command,
    name="check",
    epilog="""\b
Examples:
  thermofit check bench.csv --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%
  thermofit check --reading 0C:32.4k --reading 70C:1.75k --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%
  thermofit check --at 23.4C --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%
  thermofit check boxes.csv --sensor-column sensor --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%""",
)
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, allow_dash=True)
)
@click.option("--reading", type=READING, multiple=True, help="A reading: 0C:32.4k.")
@click.option("--at", type=TEMPERATURE, multiple=True, help="Show what to accept at 23.4C instead.")
@click.option("--family", type=FAMILY, required=True, help="The family that it should belong to.")
@click.option("--r25-pct", type=PERCENT, help="Tolerance of R25, if not that of the family.")
@click.option("--b-pct", type=PERCENT, help="Tolerance of B, if not that of the family.")
@click.option("--u-t", type=U_TEMPERATURE, help="Standard uncertainty of the temperatures: 0.2K.")
@click.option("--u-r", type=U_RESISTANCE, help="Standard uncertainty of the resistances: 0.5%.")
@click.option(
    "--rule",
    type=click.Choice(["guarded", "simple"]),
    default="guarded",
    show_default=True,
    help="guarded: keep a guard band for the uncertainty; simple: compare as read.",
)
@click.option("--risk", type=RISK, default="0.05", show_default=True, help="Of a wrong decision.")
@sensor_option
@reading_options
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV; with --sensor-column.")
@json_option
def command(
    file: str | None,
    reading: tuple[tuple[float, float], ...],
    at: tuple[float, ...],
    family: str,
    r25_pct: Any,
    b_pct: Any,
    u_t: float | None,
    u_r: tuple[float, float] | None,
    rule: Any,
    risk: float,
    sensor_column: str | None,
    as_csv: bool,
    as_json: bool,
    **reading_of_file: Any,
) -> None:
    """Judge a sensor by the readings in FILE, or by readings typed in.

    The verdict is accept, reject or cannot tell, with its probability and the
    reason.  It does not change the exit status.  With --sensor-column, judge each
    of the sensors in FILE, a row for each reading.
    """
    if sum((file is not None, bool(reading), bool(at))) != 1:
        raise click.UsageError("give one of FILE, --reading (one or more) and --at (one or more)")
    if file is None and sensor_column is not None:
        raise click.UsageError("--sensor-column is of a FILE of points")
    if as_csv and (as_json or sensor_column is None):
        raise click.UsageError("--csv goes with --sensor-column, and not with --json")
    member = named_family(family)
    stated: dict[str, Any] = {"r25_pct": r25_pct, "b_pct": b_pct, "rule": rule, "risk": risk}
    if at:
        if u_t is None or u_r is None:
            raise click.UsageError("--at needs the uncertainties of your instruments: --u-t, --u-r")
        part, fixed = u_r
        limits = tf.acceptance_limits(
            member, list(at), u_t_k=u_t,
            u_r_pct=None if fixed else 100.0 * part, u_r_ohm=fixed or None, **stated,
        )  # fmt: skip
        if as_json:
            rows = limits.to_frame().to_dict(orient="records")
            print_json("thermofit-acceptance", 1, {"family": family, "rows": rows})
        else:
            show(limits)
        return
    # A percentage goes to the verdict as such: its guard band is that of the limits.
    u_r_pct, u_r_fixed = (None, None) if u_r is None else (100.0 * u_r[0] or None, u_r)
    if u_r_pct is not None:
        u_r_fixed = None
    if file is not None and sensor_column is not None:
        named = {"sensor_column": sensor_column} | reading_of_file
        sensors = read_sensors_file(file, u_t, u_r_fixed, named)
        refuse_both(sensors, None, u_r_pct)
        found = tf.check(sensors.to_frame(), member, u_r_pct=u_r_pct, **stated)
        if as_json:
            print_json("thermofit-check-many", 1, many_json(found, sensors))
        elif as_csv:
            print_csv(found, sensors)
        else:
            show(lambda: many_text(found, sensors))
            tell("caution", _CAUTION)
        return
    if file is not None:
        points = read_points_file(file, u_t, u_r_fixed, reading_of_file)
        refuse_both(points, None, u_r_pct)
    else:
        t_c, r_ohm = zip(*reading, strict=True)
        u_r_ohm = None if u_r_fixed is None else relative(u_r_fixed, np.array(r_ohm))
        points = tf.Points(t_c, r_ohm, u_t_k=u_t, u_r_ohm=u_r_ohm)
    verdict = tf.check(points, member, u_r_pct=u_r_pct, **stated)
    if as_json:
        print_json("thermofit-check", 1, _as_json(verdict))
    else:
        show(verdict)
        tell("caution", _CAUTION)


def _as_json(verdict: Verdict) -> dict[str, Any]:
    scalars = {
        name: getattr(verdict, name)
        for name in (
            "verdict", "cause", "reason", "probability", "gamma", "beta", "u_gamma", "u_beta",
            "correlation", "chi2", "dof", "p_value",
        )
    }  # fmt: skip
    return {
        **scalars,
        "family": str(verdict.family),
        "tolerance": str(verdict.tolerance),
        "rule": str(verdict.rule),
        "prior": str(verdict.prior),
        "notes": list(verdict.notes),
        "readings": verdict.readings.to_frame().to_dict(orient="records"),
    }
