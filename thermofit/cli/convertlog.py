"""``thermofit convert --log``: a log, file to file."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import asdict
from typing import Any, Final, TypeVar

import click

from thermofit.cli.choosing import fixes_ratio_only
from thermofit.cli.output import print_json, show, tell
from thermofit.cli.progress import Progress
from thermofit.cli.sections import in_section
from thermofit.curve import Curve

__all__ = ["convert_file", "log_is_meant", "log_options"]

F = TypeVar("F", bound=Callable[..., Any])

# What the library names in its errors, as options.
_NAMES: Final = {
    "(column)": "(--column)",
    "(unit)": "(--unit)",
    "(delimiter)": "(--delimiter)",
    "(decimal)": "(--decimal)",
    "(new_column, u_column)": "(--new-column, --u-column)",
    "(unusable='blank')": "(--unusable blank)",
    "(overwrite=True)": "(--replace)",
    "leave u_column out": "leave --u-column out",
    "leave strict out": "leave --strict out",
    "(u_column)": "(--u-column)",
}
# Reading and writing keep up with no more threads than this.
_MOST_THREADS: Final = 4


def log_options(command: F) -> F:
    """Add the options that are about a log to a command."""
    option = in_section("A log, file to file")
    path = click.Path(dir_okay=False)
    for each in reversed((
        option("--log", metavar="FILE", type=path, help="Log to convert: .csv, .csv.gz, .parquet."),
        option("--save", metavar="FILE", type=path, help="Where to: one of the same endings."),
        option("--column", metavar="COLUMN", help="Its readings: header or number."),
        option("--unit", help="Unit of that column, if its header has none: ohm, kohm, F."),
        option(
            "--to", type=click.Choice(["temperature", "resistance"]), help="[default: temperature]"
        ),
        option("--new-column", metavar="NAME", help="[default: t_c or r_ohm]"),
        option("--u-column", metavar="NAME", help="One more, with the standard uncertainty."),
        option(
            "--unusable", type=click.Choice(["refuse", "blank"]),
            help="What no sensor can show: refuse the log, or leave the new cell blank.  "
            "[default: refuse]",
        ),
        option("--decimal", type=click.Choice([".", ","]), help="Decimal sign of the log."),
        option("--delimiter", metavar="CHARACTER", help="What parts the cells of the log."),
        option("--replace", is_flag=True, help="Replace a file that is there."),
    )):  # fmt: skip
        command = each(command)
    return command


def log_is_meant(log: dict[str, Any]) -> bool:
    """Whether a log is named; its other options alone are a wrong call."""
    if log["log"] is not None:
        return True
    for name, value in log.items():
        if value:
            raise click.UsageError(f"--{name.replace('_', '-')} goes with --log")
    return False


def convert_file(
    curve: Curve,
    r25: float | None,
    u_r: tuple[float, float] | None,
    u_t: float | None,
    strict: bool,
    as_json: bool,
    log: dict[str, Any],
) -> None:
    """Convert a log and say what became of it.

    Parameters
    ----------
    curve : Curve
    r25 : float, optional
    u_r : tuple of float, optional
        Standard uncertainty of resistances: part of the reading, and ohms.
    u_t : float, optional
        The same of temperatures, in kelvin.
    strict, as_json : bool
    log : dict
        Values of `log_options`.
    """
    if log["save"] is None:
        raise click.UsageError("--log and --save go together: the log itself is kept")
    if r25 is not None or fixes_ratio_only(curve):
        raise click.UsageError("a log needs the curve of a part with its R25; leave --r25 out, and "
                               "name a curve or family that has one")  # fmt: skip
    to: Any = log["to"] or "temperature"
    if (u_r and to == "resistance") or (u_t is not None and to == "temperature"):
        raise click.UsageError("--u-r goes with --to temperature, and --u-t with --to resistance")
    if (u_r or u_t) and log["u_column"] is None:
        raise click.UsageError("--u-r and --u-t need --u-column, the column that they go into")
    from thermofit.cli.naming import as_options
    from thermofit.errors import ThermofitError
    from thermofit.logs import convert_log

    part, fixed_ohm = u_r or (0.0, 0.0)
    kept = {name: log[name] for name in ("column", "unit", "new_column", "u_column")}
    try:
        with Progress("converting") as progress:
            done = convert_log(
                log["log"], log["save"], curve, **kept, to=to, strict=strict,
                u_r_pct=100.0 * part, u_r_ohm=fixed_ohm, u_t_k=u_t or 0.0,
                delimiter=log["delimiter"], decimal=log["decimal"],
                unusable=log["unusable"] or "refuse", overwrite=log["replace"],
                workers=min(os.cpu_count() or 1, _MOST_THREADS), progress=progress,
            )  # fmt: skip
    except ThermofitError as error:
        raise ThermofitError(as_options(str(error), _NAMES)) from error
    for note in done.notes:
        tell("read", note)
    tell("saved", done.target)
    if as_json:
        limits = {"t_min_c": curve.t_min_c, "t_max_c": curve.t_max_c}
        print_json("thermofit-convert-log", 1, asdict(done) | limits)
    else:
        show(done)
