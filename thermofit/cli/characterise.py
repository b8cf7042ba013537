"""``thermofit characterise``: from a few readings at the bench to a curve with its band."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import click

import thermofit as tf
from thermofit.cli.bench import Bench, BenchOptions, measure, saying
from thermofit.cli.benchfacts import (
    assumed_of,
    conflict_of,
    made_with_of,
    returned_of,
    tell_bare,
)
from thermofit.cli.benchoptions import (
    BENCH_OPTIONS,
    bench_options,
    check_call,
    file_uncertainty_options,
)
from thermofit.cli.benchtext import answer_json, answer_text
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.points import read_points_file, reading_options
from thermofit.cli.saving import check_saving, save_curve, save_options
from thermofit.cli.sections import Command
from thermofit.errors import InputError
from thermofit.readings import cautions_of

__all__ = ["command"]

_DISCONNECT: Final = (
    "Isolate the power before you unplug a sensor, and measure it with both leads disconnected."
)


@click.command(
    cls=Command,
    name="characterise",
    epilog="""\b
Examples:
  thermofit characterise --ice 32.6k --bath 68.4C:1.87k --thermometer 0.5C --meter "0.8%+3"
  thermofit characterise --ice 32.60k --boiling 683R --altitude 450m --meter "0.8%+3 k=2"
  thermofit characterise bench.csv --u-t 0.2K --u-r 0.5% --save shop.csv --id inlet
docs/bench-guide.md tells how to make the baths.""",
)
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, allow_dash=True)
)
@bench_options
@file_uncertainty_options
@reading_options
@save_options
@json_option
def command(
    file: str | None,
    u_t: float | None,
    u_r: tuple[float, float] | None,
    shared_u_t: float | None,
    shared_u_r: float | None,
    save: str | None,
    id_: str | None,
    note: str,
    replace: bool,
    as_json: bool,
    **others: Any,
) -> None:
    """Find the curve of an NTC sensor from one reading or more, and how well it is known.

    Two baths are enough: how NTC ceramics bend is taken from the registered
    families.  Give readings as options, or points in FILE (- for standard input).
    A maker's accuracy is a limit and is taken as rectangular, unless it is
    written with its k: --meter "0.8%+3 k=2".
    """
    typed = {name: others.pop(name) for name in BENCH_OPTIONS}
    of_file = {"u_t": u_t, "u_r": u_r, "shared_u_t": shared_u_t, "shared_u_r": shared_u_r}
    check_call(file, typed, of_file | others)
    check_saving(save, id_, note, replace)
    bench: Bench | None = None
    if file is not None:
        points = read_points_file(file, u_t, u_r, others)
        if points.u_t_k is None and points.u_r_ohm is None:
            raise InputError(
                f"{file} states no uncertainties, and a band needs them: say --u-t 0.2K, --u-r 0.5%"
            )
        with saying(file):
            fitted = tf.characterise(
                points, shared_u_t_k=shared_u_t or 0.0, shared_u_r_pct=shared_u_r or 0.0
            )
        name = "standard input" if file == "-" else Path(file).name
        made_of, made_with = f"{len(points)} readings from {name}", ""
    else:
        options = BenchOptions(**typed)
        tell_bare(options)
        bench = measure(options)
        fitted = tf.characterise(bench.readings)
        made_of = f"{len(bench.measured)} reading{'s' if len(bench.measured) > 1 else ''}"
        made_with = made_with_of(options, bench)
    assert fitted.prior is not None
    curve = fitted.curve.replace(source=f"{made_of} and the bend of {fitted.prior.prior.origin}")
    if save is not None and id_ is not None:
        told = (note, made_with, conflict_of(fitted.prior))
        curve = curve.replace(id=id_, note="; ".join(text for text in told if text))
        save_curve(curve, save, replace)
    returned = returned_of(bench, fitted.curve)
    assumed = assumed_of(bench, shared_u_t is not None or shared_u_r is not None)
    cautions = (*(cautions_of(bench.readings) if bench else ()), _DISCONNECT)
    if as_json:
        answer = answer_json(fitted, curve, bench, returned)
        answer |= {"assumed": assumed, "cautions": cautions, "saved_to": save, "saved_id": id_}
        print_json("thermofit-characterise", 1, answer)
    else:
        show(lambda: answer_text(fitted, bench, returned, assumed))
    for doubt in fitted.warnings:
        tell("warning", doubt)
    if not as_json:
        for caution in cautions:
            tell("caution", caution)
