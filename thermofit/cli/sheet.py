"""``thermofit sheet``: one page that tells all of a sensor, to print and to keep."""

from __future__ import annotations

from pathlib import Path
from typing import Any, Final

import click

import thermofit as tf
from thermofit.cli.bench import BenchOptions, measure, saying
from thermofit.cli.benchfacts import assumed_of, conflict_of, returned_of, tell_bare
from thermofit.cli.benchoptions import (
    BENCH_OPTIONS,
    bench_options,
    check_call,
    file_uncertainty_options,
)
from thermofit.cli.choosing import named_family, stored_curve
from thermofit.cli.completing import CURVE
from thermofit.cli.output import json_option, print_json, show, tell
from thermofit.cli.points import read_points_file, reading_options
from thermofit.cli.sections import Command
from thermofit.cli.sheetoptions import page_options, refuse_existing, verdict_options
from thermofit.errors import InputError

__all__ = ["command"]

_NO_VERDICT_BY: Final = (
    "the verdict of a sheet is by a registered family, and thermofit check judges by --curve"
)


@click.command(
    cls=Command,
    name="sheet",
    epilog="""\b
Examples:
  thermofit sheet --ice 32.6k --bath 68.4C:1.87k --thermometer 0.5C --meter "0.8%+3" \\
    --family ntc-10k-3977 --title "House 3, inlet" --range 0C:60C --save inlet.html
  thermofit sheet bench.csv --u-t 0.2K --u-r 0.5% --save inlet.html
  thermofit sheet --curve shop.csv:inlet --range 0C:60C --step 1C --save inlet.html
docs/bench-sheet.md tells what is on it, and how it is read back.""",
)
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, allow_dash=True)
)
@page_options
@click.option("--curve", type=CURVE, help="A stored curve instead of readings.")
@bench_options
@file_uncertainty_options
@reading_options
@verdict_options
@json_option
def command(
    file: str | None,
    save: str,
    replace: bool,
    title: str,
    curve: str | None,
    u_t: float | None,
    u_r: tuple[float, float] | None,
    shared_u_t: float | None,
    shared_u_r: float | None,
    family: str | None,
    rule: Any,
    risk: float | None,
    as_json: bool,
    **others: Any,
) -> None:
    """Write one HTML page of a sensor: what was measured, curve, table, verdict.

    Give readings as for characterise, as options or as points in FILE (- for standard
    input), or --curve of a set.  The page needs no network, prints on A4 and on Letter,
    converts resistances that are typed in, and holds its data: tf.read_sheet.
    """
    typed = {name: others.pop(name) for name in BENCH_OPTIONS}
    page = {name: others.pop(name) for name in ("t_range_c", "step_k", "coverage", "date")}
    of_file = {"u_t": u_t, "u_r": u_r, "shared_u_t": shared_u_t, "shared_u_r": shared_u_r}
    if curve is None:
        check_call(file, typed, of_file | others)
    elif file is not None or any(
        value not in (None, ()) for value in (typed | of_file | others).values()
    ):
        raise click.UsageError("--curve is a stored curve; leave FILE and readings out")
    if (rule is not None or risk is not None) and (family is None or curve is not None):
        raise click.UsageError("--rule and --risk go with --family and readings")
    refuse_existing(save, replace)
    member = None if family is None else named_family(family, _NO_VERDICT_BY)
    made: dict[str, Any] = {"title": title, "family": member}
    found: tf.Fit | tf.Curve
    if curve is not None:
        found = stored_curve(curve)
    elif file is not None:
        found, told = _of_file(file, of_file, others)
        made |= told
    else:
        found, told = _of_bench(BenchOptions(**typed))
        made |= told
    if isinstance(found, tf.Fit) and member is not None and member.tolerance is not None:
        made["verdict"] = tf.check(
            found, member, rule=rule or "guarded", risk=0.05 if risk is None else risk
        )
    from thermofit.report.sheet import bench_sheet

    sheet = bench_sheet(found, **made, **page)
    sheet.save(save, replace=replace)
    tell("saved", save)
    if as_json:
        _print_json(sheet, save)
    else:
        show(lambda: _summary(sheet))
    for doubt in sheet.record.warnings:
        tell("warning", doubt)
    if not as_json:
        for caution in sheet.record.cautions:
            tell("caution", caution)


def _of_file(
    file: str, stated: dict[str, Any], reading: dict[str, Any]
) -> tuple[tf.Fit, dict[str, Any]]:
    """Characterise points of a file; and what the page tells of them."""
    points = read_points_file(file, stated["u_t"], stated["u_r"], reading)
    if points.u_t_k is None and points.u_r_ohm is None:
        raise InputError(
            f"{file} states no uncertainties, and a band needs them: say --u-t 0.2K, --u-r 0.5%"
        )
    u_t_k, u_r_pct = stated["shared_u_t"], stated["shared_u_r"]
    with saying(file):
        fitted = tf.characterise(points, shared_u_t_k=u_t_k or 0.0, shared_u_r_pct=u_r_pct or 0.0)
    name = "standard input" if file == "-" else Path(file).name
    any_shared = u_t_k is not None or u_r_pct is not None
    return _sourced(fitted, f"{len(points)} readings from {name}"), {
        "assumed": assumed_of(None, any_shared)
    }


def _of_bench(options: BenchOptions) -> tuple[tf.Fit, dict[str, Any]]:
    """Characterise readings that were typed in; and what the page tells of them."""
    tell_bare(options)
    bench = measure(options)
    fitted = tf.characterise(bench.readings)
    returned = returned_of(bench, fitted.curve)
    made_with = {"meter": options.meter.text}
    if options.thermometer is not None:
        made_with["thermometer"] = options.thermometer.text
    made_with["typed in"] = "; ".join(one.option.removeprefix("--") for one in bench.measured)
    count = len(bench.measured)
    return _sourced(fitted, f"{count} reading{'s' if count > 1 else ''}"), {
        "readings": bench.readings,
        "made_with": made_with,
        "assumed": assumed_of(bench, False),
        "remarks": [f"Back to ice: {line}" for line in str(returned).split("\n")]
        if returned is not None
        else [],
    }


def _sourced(fitted: tf.Fit, made_of: str) -> tf.Fit:
    assert fitted.prior is not None
    source = f"{made_of} and the bend of {fitted.prior.prior.origin}"
    return fitted.replace(curve=fitted.curve.replace(source=source, note=conflict_of(fitted.prior)))


def _summary(sheet: Any) -> str:
    from thermofit.describing import facts_text

    record = sheet.record
    curve = record.curve
    facts = [
        ("date", record.date.isoformat()),
        ("curve", f"{curve.equation.label}, {curve.t_min_c:g} to {curve.t_max_c:g} °C"),
        ("R25", f"{curve.r25_ohm:.6g} Ω" if curve.t_min_c <= 25.0 <= curve.t_max_c else ""),
        ("readings", str(len(record.points)) if record.points is not None else ""),
        ("table", f"{record.t_range_c[0]:g} to {record.t_range_c[1]:g} °C in {record.step_k:g} K"),
    ]
    lines = [record.title, facts_text(facts)]
    if record.verdict is not None:
        lines += ["", f"{record.verdict['verdict']}: {record.verdict['reason']}"]
    return "\n".join(lines)


def _print_json(sheet: Any, save: str) -> None:
    """Print the data that the sheet holds, and where it is."""
    from thermofit.report.sheet.document import FORMAT, FORMAT_VERSION, document_of

    document = document_of(sheet.record)
    answer = {name: document[name] for name in ("sha256", "content")}
    print_json(FORMAT, FORMAT_VERSION, {**answer, "saved_to": save})
