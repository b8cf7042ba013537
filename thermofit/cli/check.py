"""``thermofit check``: is this sensor good?"""

from __future__ import annotations

from typing import Any

import click
import numpy as np

import thermofit as tf
from thermofit.cli.checkmany import many_json, many_text, print_csv
from thermofit.cli.choosing import curve_options, the_part
from thermofit.cli.naming import POINTS_NAMES, TOLERANCE_NAMES, naming_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.points import (
    read_points_file,
    read_sensors_file,
    reading_options,
    refuse_both,
    refuse_reading,
    sensor_option,
)
from thermofit.cli.sections import Command
from thermofit.cli.tolerances import stated_tolerance, tolerance_options
from thermofit.cli.values import (
    READING,
    RISK,
    TEMPERATURE,
    U_RESISTANCE,
    U_TEMPERATURE,
    relative,
)
from thermofit.curve import Curve
from thermofit.decide import Verdict
from thermofit.family import Family

__all__ = ["command"]

Amounts = tuple[float, float]

_CAUTION = (
    "Measure with both leads disconnected, power isolated. A pass at these temperatures does not "
    "exclude a fault that comes and goes."
)


@click.command(
    cls=Command,
    name="check",
    epilog="""\b
Examples, each on one line:
  thermofit check bench.csv --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%
  thermofit check --reading 0C:32.4k --reading 70C:1.75k --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%
  thermofit check --at 23.4C --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%
  thermofit check bench.csv --curve shop.csv:inlet --r25-pct 2 --b-pct 1 --u-t 0.2K --u-r 0.5%
  thermofit check --reading 0C:1.0004k --reading 60C:1.2330k --u-t 0.05K --u-r 0.05%
      --family pt-1000-iec60751 --dt 0.6K --dt-from 0C --dt-to 100C
  thermofit check boxes.csv --sensor-column sensor --family ntc-10k-3977 --u-t 0.2K --u-r 0.5%""",
)
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, allow_dash=True)
)
@click.option("--reading", type=READING, multiple=True, help="A reading: 0C:32.4k.")
@click.option("--at", type=TEMPERATURE, multiple=True, help="Show what to accept at 23.4C instead.")
@curve_options
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
@tolerance_options
@sensor_option
@reading_options
@click.option("--csv", "as_csv", is_flag=True, help="Print CSV; with --sensor-column.")
@json_option
def command(
    file: str | None,
    reading: tuple[tuple[float, float], ...],
    at: tuple[float, ...],
    curve: str | None,
    family: str | None,
    u_t: float | None,
    u_r: tuple[float, float] | None,
    rule: Any,
    risk: float,
    sensor_column: str | None,
    as_csv: bool,
    as_json: bool,
    **options: Any,
) -> None:
    """Judge a sensor by the readings in FILE, or by readings typed in.

    The verdict is accept, reject or cannot tell, with its probability and the
    reason.  It does not change the exit status.  With --sensor-column, judge each
    of the sensors in FILE, a row for each reading.  A tolerance that is stated takes
    the place of the family's.
    """
    if sum((file is not None, bool(reading), bool(at))) != 1:
        raise click.UsageError("give one of FILE, --reading (one or more) and --at (one or more)")
    if file is None and sensor_column is not None:
        raise click.UsageError("--sensor-column is of a FILE of points")
    if as_csv and (as_json or sensor_column is None):
        raise click.UsageError("--csv goes with --sensor-column, and not with --json")
    stated = stated_tolerance(options)
    if file is None:
        refuse_reading(options)
    if at and (u_t is None or u_r is None):
        raise click.UsageError("--at needs the uncertainties of your instruments: --u-t, --u-r")
    part = the_part(curve, family)
    with naming_options(TOLERANCE_NAMES | POINTS_NAMES):
        how = {"rule": rule, "risk": risk, **_tolerance(stated)}
        if at:
            _show_limits(part, at, u_t, u_r, how, as_json)
        elif file is not None and sensor_column is not None:
            named = {"sensor_column": sensor_column} | options
            _judge_many(part, file, u_t, u_r, named, how, as_csv, as_json)
        else:
            _judge_one(part, file or reading, u_t, u_r, options, how, as_json)


def _tolerance(stated: dict[str, Any]) -> dict[str, Any]:
    """Settings of a judgement; R25 or B that is not stated is that of the family."""
    if stated.keys() <= {"r25_pct", "b_pct"}:
        return stated
    return {"tolerance": tf.Tolerance.of(**stated)}


def _show_limits(
    part: Curve | Family, at: tuple[float, ...], u_t: Any, u_r: Any, how: dict[str, Any],
    as_json: bool,
) -> None:  # fmt: skip
    share, fixed = u_r
    limits = tf.acceptance_limits(
        part, list(at), u_t_k=u_t,
        u_r_pct=None if fixed else 100.0 * share, u_r_ohm=fixed or None, **how,
    )  # fmt: skip
    if as_json:
        rows = limits.to_frame().to_dict(orient="records")
        print_json("thermofit-acceptance", 1, {"family": part.id, "rows": rows})
    else:
        show(limits)


def _divided(u_r: Amounts | None) -> tuple[float | None, Amounts | None]:
    """Percentage, which goes to the verdict as such for its guard band, or amounts in ohms."""
    if u_r is None or not u_r[0]:
        return None, u_r
    return 100.0 * u_r[0], None


def _judge_many(
    part: Curve | Family, file: str, u_t: float | None, u_r: Amounts | None,
    reading_of_file: dict[str, Any], how: dict[str, Any], as_csv: bool, as_json: bool,
) -> None:  # fmt: skip
    u_r_pct, fixed = _divided(u_r)
    sensors = read_sensors_file(file, u_t, fixed, reading_of_file)
    refuse_both(sensors, None, u_r_pct)
    found = tf.check(sensors.to_frame(), part, u_r_pct=u_r_pct, **how)
    if as_json:
        print_json("thermofit-check-many", 1, many_json(found, sensors))
    elif as_csv:
        print_csv(found, sensors)
    else:
        show(lambda: many_text(found, sensors))
        tell("caution", _CAUTION)


def _judge_one(
    part: Curve | Family, read: str | tuple[tuple[float, float], ...], u_t: float | None,
    u_r: Amounts | None, reading_of_file: dict[str, Any], how: dict[str, Any], as_json: bool,
) -> None:  # fmt: skip
    u_r_pct, fixed = _divided(u_r)
    if isinstance(read, str):
        points = read_points_file(read, u_t, fixed, reading_of_file)
        refuse_both(points, None, u_r_pct)
    else:
        t_c, r_ohm = zip(*read, strict=True)
        points = tf.Points(t_c, r_ohm, u_t_k=u_t, u_r_ohm=relative(fixed, np.array(r_ohm)))
    verdict = tf.check(points, part, u_r_pct=u_r_pct, **how)
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
