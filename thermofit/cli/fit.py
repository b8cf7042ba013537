"""``thermofit fit``: from a file of points to a curve."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

import thermofit as tf
from thermofit.cli.completing import EQUATION
from thermofit.cli.curvejson import curve_json
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.points import read_points_file, reading_options
from thermofit.cli.saving import check_saving, save_curve, save_options
from thermofit.cli.sections import Command
from thermofit.cli.values import U_RESISTANCE, U_TEMPERATURE
from thermofit.errors import UnknownNameError

__all__ = ["command"]


@click.command(
    cls=Command,
    name="fit",
    epilog="""\b
Examples:
  thermofit fit bench.csv
  thermofit fit bench.csv --equation steinhart-hart --u-t 0.1K --u-r 0.5%
  thermofit fit bench.csv --save shop.csv --id inlet""",
)
@click.argument("file", type=click.Path(exists=True, dir_okay=False, allow_dash=True))
@click.option(
    "--equation",
    default="auto",
    show_default=True,
    type=EQUATION,
    help="beta, steinhart-hart, log-polynomial-3, inverse-polynomial-4, shifted-exponential, "
    "callendar-van-dusen …, or auto, which compares them.",
)
@click.option(
    "--minimise",
    type=click.Choice(["temperature", "resistance"]),
    default="temperature",
    show_default=True,
    help="Which error to make small.",
)
@click.option(
    "--both-axes",
    is_flag=True,
    help="Fit by orthogonal distance; needs uncertainties of both columns.",
)
@click.option(
    "--u-t",
    type=U_TEMPERATURE,
    help="Standard uncertainty of every temperature, if the file has none: 0.1K, 0.2F.",
)
@click.option(
    "--u-r",
    type=U_RESISTANCE,
    help="Standard uncertainty of every resistance, if the file has none: 0.5%, 20ohm.",
)
@reading_options
@save_options
@json_option
def command(
    file: str,
    equation: str,
    minimise: Any,
    both_axes: bool,
    u_t: float | None,
    u_r: tuple[float, float] | None,
    save: str | None,
    id_: str | None,
    note: str,
    replace: bool,
    as_json: bool,
    **reading: Any,
) -> None:
    """Fit a curve to the temperatures and resistances in FILE (- for standard input).

    The file is read as it is: usual headers, units in the header or in the
    cells, comma, semicolon or tab, decimal comma.  What each column was taken
    for is told on standard error.
    """
    check_saving(save, id_, note, replace)
    points = read_points_file(file, u_t, u_r, reading)
    try:
        fitted = tf.fit(
            points,
            equation=equation,
            minimise=minimise,
            method="orthogonal-distance" if both_axes else "effective-variance",
        )
    except UnknownNameError as error:
        raise click.BadParameter(str(error), param_hint="--equation") from None
    curve = fitted.curve
    if save is not None and id_ is not None:
        name = "standard input" if file == "-" else Path(file).name
        curve = curve.replace(id=id_, source=f"{len(points)} readings from {name}", note=note)
        save_curve(curve, save, replace)
    if as_json:
        print_json(
            "thermofit-fit", 1, _as_json(fitted, curve) | {"saved_to": save, "saved_id": id_}
        )
    else:
        from thermofit.estimate.text import report

        show(lambda: report(fitted, with_warnings=False))
    for doubt in fitted.warnings:
        tell("warning", doubt)


def _as_json(fitted: tf.Fit, curve: tf.Curve) -> dict[str, Any]:
    return {
        "curve": curve_json(curve),
        "minimised": fitted.minimise,
        "method": fitted.method,
        "points": fitted.to_frame().to_dict(orient="records"),
        "rms_k": fitted.rms_k,
        "max_abs_k": fitted.max_abs_k,
        "chi2": fitted.chi2,
        "p_value": fitted.p_value,
        "spare_points": fitted.dof,
        "chosen_because": fitted.reason or None,
        "candidates": [
            {
                "equation": entry.name,
                "coefficient_count": entry.terms,
                "loo_rms_k": entry.loo_rms_k,
                "aicc": entry.aicc,
                "not_ranked_because": entry.note or None,
            }
            for entry in fitted.candidates
        ],
        "read_as": list(fitted.points.notes),
        "warnings": list(fitted.warnings),
    }
