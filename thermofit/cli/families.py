"""``thermofit families``: what is known without a data sheet."""

from __future__ import annotations

from typing import Any

import click

import thermofit as tf
from thermofit.cli.completing import FAMILY
from thermofit.cli.curvejson import curve_json
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.sections import Command
from thermofit.curvesets.listing import listing
from thermofit.errors import UnknownNameError
from thermofit.family import Family

__all__ = ["command"]

_STEPS = 12


@click.command(
    cls=Command,
    name="families",
    epilog="""\b
Examples:
  thermofit families
  thermofit families ntc-10k-3977""",
)
@click.argument("id_", metavar="[ID]", type=FAMILY, required=False)
@json_option
def command(id_: str | None, as_json: bool) -> None:
    """List all families, or show the one with this ID and a short table of its curve."""
    known = tf.families()
    if id_ is None:
        if as_json:
            content = {
                "families": [_as_json(member) for member in known.values()],
                "problems": [str(problem) for problem in known.problems],
            }
            print_json("thermofit-families", 1, content)
        else:
            show(lambda: listing(known.values()))
        for problem in known.problems:
            tell("warning", f"not usable: {problem}")
        return
    try:
        member = tf.family(id_)
    except UnknownNameError as error:
        raise click.BadParameter(str(error), param_hint="ID") from None
    if as_json:
        print_json("thermofit-families", 1, {"families": [_as_json(member)], "problems": []})
    else:
        show(member.describe)


def _as_json(member: Family) -> dict[str, Any]:
    return {
        **curve_json(member.curve),
        "ratio_only": member.ratio_only,
        "r25_tol_pct": member.r25_tol_pct,
        "b_tol_pct": member.b_tol_pct,
        "source_kind": member.source_kind,
        "ratings": dict(member.ratings),
        "licence": member.curve.licence,
    }
