"""``thermofit families``: what is known without a data sheet."""

from __future__ import annotations

from typing import Any

import click
import numpy as np

import thermofit as tf
from thermofit.cli.curvejson import curve_json
from thermofit.cli.output import json_option, print_json
from thermofit.curvesets.listing import listing
from thermofit.errors import UnknownNameError
from thermofit.family import Family
from thermofit.texttable import aligned
from thermofit.units import format_ohm

__all__ = ["command"]

_STEPS = 12


@click.command(
    name="families",
    epilog="""\b
Examples:
  thermofit families
  thermofit families ntc-10k-3977""",
)
@click.argument("id_", metavar="[ID]", required=False)
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
            click.echo(listing(known.values()))
        for problem in known.problems:
            click.echo(f"warning: not usable: {problem}", err=True)
        return
    try:
        member = tf.family(id_)
    except UnknownNameError as error:
        raise click.BadParameter(str(error), param_hint="ID") from None
    if as_json:
        print_json("thermofit-families", 1, {"families": [_as_json(member)], "problems": []})
    else:
        click.echo(_as_text(member))


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


def _as_text(member: Family) -> str:
    curve = member.curve
    facts = [
        ("equation", f"{curve.equation.label}: {curve.equation.formula}"),
        *((name, f"{value:g}") for name, value in curve.equation.settings.items()),
        *((entry.name, f"{curve.coefficients[entry.name]!r} {entry.unit}")
          for entry in curve.equation.coefficients),
        ("valid", f"{curve.t_min_c:g} to {curve.t_max_c:g} °C ({curve.range_basis})"),
        ("R25 ±", _percent(member.r25_tol_pct)),
        ("B ±", _percent(member.b_tol_pct)),
        *((name, f"{value:g}") for name, value in member.ratings.items()),
        ("source", f"{member.source} ({member.source_kind})"),
        ("licence", curve.licence),
        ("note", curve.note),
    ]  # fmt: skip
    described = aligned([[name, text] for name, text in facts if text], left=2, indent="  ")
    return f"{member.id}\n{described}\n\n{_short_table(member)}"


def _short_table(member: Family) -> str:
    curve = member.curve
    t_c = _round_temperatures(curve.t_min_c, curve.t_max_c)
    r_ohm, alpha = curve.resistance(t_c), curve.alpha(t_c)
    # A family that fixes the ratio only has no resistance to show.
    head = "R/R25" if member.ratio_only else "R"
    show = (lambda r: f"{r:.5g}") if member.ratio_only else format_ohm
    rows = [["t / °C", head, "α / (%/K)"]]
    rows += [
        [f"{t:g}", show(float(r)), f"{100.0 * a:.3f}"]
        for t, r, a in zip(t_c, r_ohm, alpha, strict=True)
    ]
    return aligned(rows, left=0, indent="  ")


def _round_temperatures(low_c: float, high_c: float) -> Any:
    """About a dozen round temperatures within a range, with 25 °C where it is inside."""
    steps = [1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0]
    step = next((s for s in steps if (high_c - low_c) / s <= _STEPS), steps[-1])
    round_ones = np.arange(np.ceil(low_c / step), np.floor(high_c / step) + 1) * step
    extra = [25.0] if low_c <= 25.0 <= high_c else []
    return np.unique([low_c, high_c, *round_ones, *extra])


def _percent(value: float | None) -> str:
    return "not stated" if value is None else f"{value:g} %"
