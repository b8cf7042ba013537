"""``thermofit convert``: resistance to temperature and back."""

from __future__ import annotations

from typing import Any

import click
import numpy as np

from thermofit.cli.choosing import curve_options, family_curve, fixes_ratio_only, stored_curve
from thermofit.cli.convertlog import convert_file, log_is_meant, log_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.sections import Command
from thermofit.cli.values import (
    COVERAGE,
    RESISTANCE,
    TEMPERATURE,
    U_RESISTANCE,
    U_TEMPERATURE,
    relative,
)
from thermofit.curve import Curve
from thermofit.interval import Interval, format_pair
from thermofit.texttable import aligned
from thermofit.units import format_ohm

__all__ = ["command"]


@click.command(
    cls=Command,
    name="convert",
    epilog="""\b
Examples:
  thermofit convert --curve shop.csv:inlet --ohm 4.7k --ohm 5k1
  thermofit convert --family ntc-10k-3977 --at 25C --at 77F
  thermofit convert --curve shop.csv:inlet --ohm 4.7k --u-r 0.5%
  thermofit convert --curve shop.csv:inlet --log july.csv --column ntc_ohm --save july-c.csv""",
)
@curve_options
@click.option("--ohm", type=RESISTANCE, multiple=True, help="A resistance: 4.7k, 4k7, 470R, 1M.")
@click.option("--at", type=TEMPERATURE, multiple=True, help="A temperature: 25C, 77F, 298.15K.")
@click.option("--r25", type=RESISTANCE, help="R25 of a part whose family fixes R(T)/R25 only.")
@click.option(
    "--u-r", type=U_RESISTANCE, help="Standard uncertainty of the resistances: 0.5%, 20ohm."
)
@click.option("--u-t", type=U_TEMPERATURE, help="Standard uncertainty of the temperatures: 0.1K.")
@click.option(
    "--coverage", type=COVERAGE, default="0.95", show_default=True, help="Of the intervals."
)
@click.option("--strict", is_flag=True, help="Refuse what lies outside the curve's valid range.")
@log_options
@json_option
def command(
    curve: str | None,
    family: str | None,
    ohm: tuple[float, ...],
    at: tuple[float, ...],
    r25: float | None,
    u_r: tuple[float, float] | None,
    u_t: float | None,
    coverage: float,
    strict: bool,
    as_json: bool,
    **log: Any,
) -> None:
    """Give the temperature of each --ohm, or the resistance of each --at.

    With --log, convert a file of any length to another one, which gets a new
    column and keeps the others as they are.
    """
    if (curve is None) == (family is None):
        raise click.UsageError("name one curve: --curve SET.csv:ID or --family ID")
    if log_is_meant(log):
        if ohm or at:
            raise click.UsageError("--ohm and --at are single values; leave them out with --log")
        source = click.get_current_context().get_parameter_source("coverage")
        if source is click.core.ParameterSource.COMMANDLINE:
            raise click.UsageError("--coverage is of intervals; --u-column holds no interval")
        chosen = family_curve(family) if family is not None else stored_curve(curve or "")
        convert_file(chosen, r25, u_r, u_t, strict, as_json, log)
        return
    if bool(ohm) == bool(at):
        raise click.UsageError("give --ohm or --at, as often as you like, but not both")
    if (u_r and not ohm) or (u_t is not None and not at):
        raise click.UsageError("--u-r goes with --ohm, and --u-t with --at")
    chosen = family_curve(family) if family is not None else stored_curve(curve or "")
    unit_ohm = _unit_ohm(chosen, fixes_ratio_only(chosen), r25)
    if ohm:
        r_ohm = np.array(ohm) / unit_ohm
        u_own = relative(u_r, r_ohm)
        interval = chosen.temperature_interval(r_ohm, u_own, coverage=coverage, strict=strict)
        t_c = interval.value
    else:
        t_c = np.array(at)
        interval = chosen.resistance_interval(t_c, u_t, coverage=coverage, strict=strict)
        r_ohm = interval.value
    r_ohm = r_ohm * unit_ohm
    missing = np.isnan(interval.value)
    if as_json:
        print_json("thermofit-convert", 1, _as_json(chosen, r_ohm, t_c, interval, bool(ohm)))
    else:
        show(lambda: _as_text(r_ohm, t_c, interval, bool(ohm)))
    if missing.any():
        tell("error", "the curve has no value there, so far outside its range")
        click.get_current_context().exit(1)


def _unit_ohm(chosen: Curve, ratio_only: bool, r25: float | None) -> float:
    """What one ohm of the curve stands for, in ohms."""
    if ratio_only and r25 is None:
        raise click.UsageError(
            f"{chosen.id} fixes R(T)/R25 only; say which R25 the part has: --r25 10k"
        )
    if not ratio_only and r25 is not None:
        raise click.UsageError("--r25 goes with families that fix R(T)/R25 only")
    return 1.0 if r25 is None else r25


def _as_text(r_ohm: Any, t_c: Any, interval: Interval, by_resistance: bool) -> str:
    known = np.isfinite(interval.standard_uncertainty).any()
    unit = "K" if by_resistance else "Ω"
    header = ["R", "t / °C", "t / °F"]
    if known:
        percent = f"{interval.coverage * 100:g} %"
        header += [f"standard uncertainty / {unit}", f"{percent} from / {interval.unit}", "to"]
    rows = [header]
    for place, (r, t) in enumerate(zip(r_ohm, t_c, strict=True)):
        row = [format_ohm(r, 6), f"{t:.3f}", f"{t * 1.8 + 32.0:.3f}"]
        if known:
            u = float(interval.standard_uncertainty[place])
            ends = interval.low[place], interval.high[place]
            row += format_pair(float(interval.value[place]), u, *map(float, ends))[1:]
        rows.append(row)
    return f"{aligned(rows, left=0)}\n({interval.note})"


def _as_json(
    curve: Curve, r_ohm: Any, t_c: Any, interval: Interval, by_resistance: bool
) -> dict[str, Any]:
    suffix, u_name = ("c", "k") if by_resistance else ("ohm", "ohm")
    outside = ~curve.in_range(t_c)
    return {
        "curve_id": curve.id or None,
        "equation": curve.equation.name,
        "t_min_c": curve.t_min_c,
        "t_max_c": curve.t_max_c,
        "coverage": interval.coverage,
        "interval_note": interval.note,
        "values": [
            {
                "r_ohm": float(r_ohm[place]),
                "t_c": float(t_c[place]),
                f"standard_uncertainty_{u_name}": float(interval.standard_uncertainty[place]),
                f"low_{suffix}": float(interval.low[place]),
                f"high_{suffix}": float(interval.high[place]),
                "outside_valid_range": bool(outside[place]),
            }
            for place in range(len(t_c))
        ],
    }
