"""Options that state a tolerance, shared by the commands that need one."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import click

from thermofit.cli.sections import in_section
from thermofit.cli.values import PERCENT, TEMPERATURE, U_TEMPERATURE

__all__ = ["stated_tolerance", "tolerance_options"]

F = TypeVar("F", bound=Callable[..., Any])


def tolerance_options(command: F) -> F:
    """Add the options that state a tolerance."""
    option = in_section("A tolerance")
    for each in reversed((
        option("--r25-pct", type=PERCENT, help="Tolerance of R25: 1, 1%, or -2..+5."),
        option("--b-pct", type=PERCENT, help="Tolerance of the B value in percent."),
        option("--b-k", type=U_TEMPERATURE, help="Tolerance of B25/85 in kelvin: 30K."),
        option("--r-pct", type=PERCENT, help="Tolerance of R at --r-at."),
        option("--r-at", type=TEMPERATURE, help="Temperature of --r-pct: 0C, 100C."),
        option("--ratio-pct", type=PERCENT, help="Tolerance of the ratio R25/R125."),
        option("--dt", type=U_TEMPERATURE, help="Reading error allowed over a range: 0.2K."),
        option("--dt-from", type=TEMPERATURE, help="Lower end of the range of --dt."),
        option("--dt-to", type=TEMPERATURE, help="Upper end of the range of --dt."),
    )):  # fmt: skip
        command = each(command)
    return command


def stated_tolerance(options: dict[str, Any]) -> dict[str, Any]:
    """Arguments of `thermofit.Tolerance.of` from the options of a call.

    Parameters
    ----------
    options : dict
        Values of the options; those of a tolerance are taken out of it.
    """
    taken = {
        name: options.pop(name)
        for name in ("r25_pct", "b_pct", "b_k", "r_pct", "ratio_pct")
    }  # fmt: skip
    r_at, dt = options.pop("r_at"), options.pop("dt")
    ends = options.pop("dt_from"), options.pop("dt_to")
    if (taken["r_pct"] is None) != (r_at is None):
        raise click.UsageError("--r-pct and --r-at go together")
    if {dt is None} != {end is None for end in ends}:
        raise click.UsageError("--dt, --dt-from and --dt-to go together")
    taken |= {"r_at_c": r_at, "dt_k": dt, "dt_range_c": None if dt is None else ends}
    return {name: value for name, value in taken.items() if value is not None}
