"""``thermofit identify``: which family is this sensor of?"""

from __future__ import annotations

import dataclasses
from typing import Any

import click
import numpy as np

import thermofit as tf
from thermofit.cli.circuitvalues import SHARE
from thermofit.cli.naming import POINTS_NAMES, naming_options
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.points import read_points_file, reading_options, refuse_reading
from thermofit.cli.sections import Command
from thermofit.cli.values import READING, U_RESISTANCE, U_TEMPERATURE, relative
from thermofit.decide import Identification
from thermofit.errors import InputError
from thermofit.family import Family

__all__ = ["command"]

_COVERAGE = 0.95
_CAUTION = (
    "Measure with both leads disconnected, power isolated. A family that fits says nothing of a "
    "part's ratings."
)


@click.command(
    cls=Command,
    name="identify",
    epilog="""\b
Examples:
  thermofit identify --reading 21C:11.95k --u-t 0.5K --u-r 0.5%
  thermofit identify bench.csv --u-t 0.2K --u-r 0.5% --families shop.csv
  thermofit identify --reading 0C:7.37k --reading 70C:394 --u-t 0.2K --u-r 0.5% --r25 free""",
)
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, allow_dash=True)
)
@click.option("--reading", type=READING, multiple=True, help="A reading: 21C:11.95k.")
@click.option("--u-t", type=U_TEMPERATURE, help="Standard uncertainty of the temperatures: 0.2K.")
@click.option("--u-r", type=U_RESISTANCE, help="Standard uncertainty of the resistances: 0.5%.")
@click.option(
    "--r25",
    type=click.Choice(["listed", "free"]),
    default="listed",
    show_default=True,
    help="free: look for the material, whatever R25.",
)
@click.option(
    "--families",
    metavar="SET.csv",
    type=click.Path(exists=True, dir_okay=False),
    multiple=True,
    help="More families, from a curve set.",
)
@click.option(
    "--assumed-r25-pct", type=SHARE, help="± of R25 of families that state none.  [default: 5]"
)
@click.option(
    "--assumed-b-pct", type=SHARE, help="± of B of families that state none.  [default: 2]"
)
@reading_options
@json_option
def command(
    file: str | None,
    reading: tuple[tuple[float, float], ...],
    u_t: float | None,
    u_r: tuple[float, float] | None,
    r25: Any,
    families: tuple[str, ...],
    assumed_r25_pct: float | None,
    assumed_b_pct: float | None,
    as_json: bool,
    **reading_of_file: Any,
) -> None:
    """Say which family a sensor is of, by the points in FILE, or by readings typed in.

    Every registered family has a probability, and so has "none of these".  What
    cannot be told apart is said, and which reading would help most.  The answer
    does not change the exit status.
    """
    if (file is None) == (not reading):
        raise click.UsageError("give one of FILE and --reading (one or more)")
    assumed = {"assumed_r25_pct": assumed_r25_pct, "assumed_b_pct": assumed_b_pct}
    assumed_pct: dict[str, Any] = {k: pct for k, pct in assumed.items() if pct is not None}
    if 0.0 in assumed_pct.values():
        raise click.UsageError("no part is exactly as nominal: assume a tolerance above zero")
    if file is not None:
        points = read_points_file(file, u_t, u_r, reading_of_file)
    else:
        refuse_reading(reading_of_file)
        t_c, r_ohm = zip(*reading, strict=True)
        points = tf.Points(t_c, r_ohm, u_t_k=u_t, u_r_ohm=relative(u_r, np.array(r_ohm)))
    with naming_options(POINTS_NAMES):
        found = tf.identify(points, families=_with_sets(families), r25=r25, **assumed_pct)
    if as_json:
        print_json("thermofit-identify", 1, _as_json(found))
    else:
        show(found)
        tell("caution", _CAUTION)


def _with_sets(paths: tuple[str, ...]) -> list[Family] | None:
    """Give the registered families and those of curve sets; None for no set."""
    if not paths:
        return None
    members = dict(tf.families())
    for path in paths:
        own = tf.read_curve_set(path).families()
        if not own:
            raise InputError(
                f"{path} has no family: a row is one that states a tolerance, a rating or a "
                "source_kind; give the rows that are to count their ± in two columns more, "
                "r25_tol_pct and b_tol_pct (docs/curve-set.md)"
            )
        for member in own:
            if member.id in members:
                raise InputError(
                    f"{path}: there is another family {member.id!r}; call this one otherwise"
                )
            members[member.id] = member
    return list(members.values())


def _as_json(found: Identification) -> dict[str, Any]:
    low, high = found.t_range_c
    return {
        "leading": found.leading,
        "group": list(found.group.ids) if found.group else [found.leading],
        "coverage": _COVERAGE,
        "credible_set": found.credible_set(_COVERAGE),
        "r25": found.r25,
        "answers": [dataclasses.asdict(row) for row in found.rows],
        "another_ntc_probability": found.another_ntc,
        "no_curve_probability": found.no_curve,
        "groups": [dataclasses.asdict(group) for group in found.groups],
        "range_low_c": low,
        "range_high_c": high,
        "next_reading": _next_json(found),
        "other_r25": found.other_level and dataclasses.asdict(found.other_level),
        "not_compared": [{"id": id, "reason": why} for id, why in found.not_compared.items()],
        "out_of_range": found.out_of_range,
        "readings": found.points.to_frame().to_dict(orient="records"),
        "notes": found.notes,
        "read_as": found.points.notes,
    }


def _next_json(found: Identification) -> dict[str, Any] | None:
    plan = found.next_reading
    if plan is None:
        return None
    names = ("t_c", "u_t_k", "u_r_pct", "decided", "coverage", "doubt_bits", "doubt_left_bits")
    tried = zip(plan.tried_c, plan.tried_decided, plan.tried_left_bits, strict=True)
    return {
        **{name: getattr(plan, name) for name in names},
        "away_from": plan.leading,
        "separation": [
            {"answer": other, "standard_uncertainties": float(value)}
            for other, value in zip(plan.others, plan.separation, strict=True)
        ],
        "tried": [
            {"t_c": float(t), "decided": float(decided), "doubt_left_bits": float(left)}
            for t, decided, left in tried
        ],
    }
