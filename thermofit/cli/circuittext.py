"""The answer of `circuit`, in words and tables."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any, Final

from thermofit.circuit import BestPull, Divider, FaultRow, Faults
from thermofit.circuit.explanations import show_ohms
from thermofit.circuit.seen import from_to, volts_from_to
from thermofit.cli.circuitanswer import Answer, Meaning
from thermofit.cli.circuitvalues import Displayed
from thermofit.texttable import aligned, paragraph, with_minus
from thermofit.units import TemperatureUnit, format_ohm

__all__ = ["answer_text"]

# Of the table that is made of words, where nobody says how wide lines are.
_WIDTH: Final = 79
_ERRS: Final = {
    "colder": "too cold", "warmer": "too warm", "right": "right", "unknown": "not known",
}  # fmt: skip
_SHORT: Final = {
    "none": "healthy", "corroded contact": "contact", "supply sag": "sag", "wrong part": "part",
}  # fmt: skip
_MEANS: Final = {
    "corroded contact": "contact: corroded, in series",
    "moisture": "moisture: in parallel",
    "supply sag": "sag: of the supply",
    "wrong part": "part: fitted instead",
}


def answer_text(answer: Answer, with_table: bool) -> str:
    """Write an answer for people.

    Parameters
    ----------
    answer : Answer
    with_table : bool
        Whether to show the table of the healthy sensor.

    Returns
    -------
    str
    """
    said, circuit = answer.controller, answer.circuit
    blocks = [_head(circuit, answer.sensor.id or "the sensor")]
    if with_table:
        blocks.append(str(answer.table))
    if answer.found is not None:
        blocks.append(_faults_text(answer.found, said.unit, circuit.ratiometric))
    if answer.meanings:
        blocks.append(_meanings_text(answer.meanings, said.actual))
    if answer.best is not None and answer.present_k is not None:
        t_c = answer.table.t_c
        blocks.append(_best_pull_text(answer.best, t_c, circuit.pull_ohm, answer.present_k))
    if answer.assumed:
        blocks.append("\n".join(paragraph(f"taken: {text}", then="  ") for text in answer.assumed))
    return "\n\n".join(blocks)


def _head(circuit: Divider, name: str) -> str:
    """Say in one line what circuit it is and what it reads."""
    ends = ("ground", f"{circuit.supply_v:g} V")[:: 1 if circuit.rises else -1]
    parts = [f"{name} to {ends[0]}"]
    if circuit.parallel_ohm is not None:
        parts.append(f"{format_ohm(circuit.parallel_ohm, 4)} across it")
    if circuit.series_ohm:
        parts.append(f"{format_ohm(circuit.series_ohm, 4)} in series")
    parts.append(f"{format_ohm(circuit.pull_ohm, 4)} to {ends[1]}")
    converter = circuit.converter
    reference = "the supply" if circuit.ratiometric else f"{converter.reference_v:g} V"
    parts[-1] += f"; {converter.bits} bits, reference {reference}"
    return paragraph(", ".join(parts), then="  ")


def _faults_text(found: Faults, unit: TemperatureUnit, ratiometric: bool) -> str:
    """Tabulate what the controller makes of each fault, in the unit of its display."""
    known = found.rows[0].caught is not None
    of = _unit(unit)
    rows = [["fault", "V / V", "counts", f"shows / {of}", "errs"]]
    if known:
        rows[0] += [f"takes / {of}", "errs"]
    for row in found.rows:
        cells = [_fault(row), f"{row.voltage_v:.3f}", f"{row.counts:.0f}", _shown(row, unit),
                 _ERRS[row.errs]]  # fmt: skip
        if known:
            cells += [_taken(row, unit), _ERRS[row.use_errs]]
        rows.append(cells)
    title = f"faults at a true {_number(found.rows[0].t_c, unit)} {of}: what the controller shows"
    if known:
        title += ", and what it then goes by"
    return "\n".join([title, aligned(rows), *_legend(found, known, ratiometric)])


def _fault(row: FaultRow) -> str:
    size = row.detail.split(",")[0].removesuffix(" in series").removesuffix(" in parallel")
    return f"{_SHORT.get(row.kind, row.kind)} {size}".strip()


def _shown(row: FaultRow, unit: TemperatureUnit) -> str:
    """What would be computed; at an end of the scale only which end is certain."""
    if row.end_of_scale:
        return {"colder": "lowest", "warmer": "highest"}.get(row.errs, "an end")
    shown = _number(row.reads_c, unit, 1)
    return "no value" if shown == "nan" else shown + ("*" if row.beyond_curve else "")


def _taken(row: FaultRow, unit: TemperatureUnit) -> str:
    if not row.caught:
        return "as shown" if row.kind == "none" else "not caught"
    shown = _number(row.uses_c, unit, 1)
    return "?" if shown == "nan" else shown


def _legend(found: Faults, known: bool, ratiometric: bool) -> list[str]:
    kinds = {row.kind for row in found.rows}
    means = dict(_MEANS)
    if ratiometric:
        means["supply sag"] += ", and of the converter's reference with it"
    lines = ["; ".join(text for kind, text in means.items() if kind in kinds)]
    if any(row.end_of_scale for row in found.rows):
        lines.append("lowest, highest: an end of the converter's scale")
    if any(
        row.beyond_curve and not row.end_of_scale and math.isfinite(row.reads_c)
        for row in found.rows
    ):
        lines.append("*: beyond the curve's valid range, extrapolated")
    runs = dict.fromkeys(
        (row.use_errs, row.then_runs) for row in found.rows if row.use_errs != "unknown"
    )
    lines += [f"{_ERRS[errs]}: {then}" for errs, then in runs if then]
    if not known:
        lines.append("without --limits it is not verified that the controller notices any of these")
    elif any(row.caught and row.use_errs == "unknown" for row in found.rows):
        lines.append("?: say with --fallback what it uses in place of a caught reading")
    if any(row.kind == "none" and row.end_of_scale for row in found.rows):
        lines.append("the healthy sensor itself is at an end of the scale: is the circuit right?")
    if any(row.kind == "none" and row.caught for row in found.rows):
        lines.append("the healthy sensor itself is caught: are circuit and --limits right?")
    return [paragraph(f"({line})", then=" ") for line in lines]


def _meanings_text(meanings: Sequence[Meaning], actual: Displayed | None) -> str:
    """Tabulate what displays mean: the resistance that is seen, and what would explain it."""
    causes = "and the likely causes are"
    if actual is not None:
        causes += f", at a true {_both(actual)}"
    rows: list[list[str | list[str]]] = [
        ["if the display says", "the resistance it sees is", causes]
    ]
    notes: dict[str, None] = {}
    for meaning in meanings:
        one = meaning.seen
        sees = [show_ohms(one.low_ohm, one.high_ohm)]
        if one.of("fallback"):
            sees[0] += ", or any if this is the fallback"
        sees += [
            f"counts {from_to(one.low_counts, one.high_counts)}",
            volts_from_to(one.low_v, one.high_v),
        ]
        rows.append([_both(meaning.display), sees, [with_minus(text) for text in meaning.causes]])
        notes |= dict.fromkeys(one.notes)
    table = aligned(rows, left=3, usual=_WIDTH)
    return "\n".join([table, *(paragraph(f"({note})", then=" ") for note in notes)])


def _best_pull_text(best: BestPull, t_c: Any, own_ohm: float, own_k: float) -> str:
    """Show the best fixed resistor, how little others lose, and what the present one has."""
    good = best.tried_ohm[best.tried_k <= 1.01 * best.worst_k]
    what = "largest error" if best.minimised == "error" else "coarsest count"
    own = "cannot read all of the range" if own_k == float("inf") else f"{own_k:.3f} K"
    lines = [f"fixed resistor for {t_c[0]:g} to {t_c[-1]:g} °C, by the {what}", str(best)]
    if good.size > 1:
        lines.append(
            f"({format_ohm(good.min(), 4)} to {format_ohm(good.max(), 4)} come within 1 % of it)"
        )
    return "\n".join([*lines, f"(as it is, {format_ohm(own_ohm, 4)}: {own})"])


def _both(shown: Displayed) -> str:
    return shown.text if shown.unit == "C" else f"{shown.text} ({shown.t_c:.4g} °C)"


def _unit(unit: TemperatureUnit) -> str:
    return "K" if unit == "K" else f"°{unit}"


def _number(t_c: float, unit: TemperatureUnit, places: int | None = None) -> str:
    value = {"C": t_c, "F": t_c * 1.8 + 32.0, "K": t_c + 273.15}[unit]
    return f"{value:.4g}" if places is None else f"{value:.{places}f}"
