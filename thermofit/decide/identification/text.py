"""An identification in words and a table, for people."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from thermofit.decide.identification.hypothesis import NONE
from thermofit.interval import format_pair
from thermofit.texttable import aligned, format_probability, paragraph, with_minus
from thermofit.units import format_ohm

if TYPE_CHECKING:
    from thermofit.decide.identification.result import Candidate, Identification

__all__ = ["name_of", "text_of"]

_SHOWN, _LEAST_SHOWN = 0.001, 3  # probability from which a row is printed, and how many are
_WIDTH = 100
_FAR_K = 50.0


def text_of(found: Identification) -> str:
    """Write an identification, for a person at the bench."""
    lines = [_wrapped(_headline(found), "", "  "), "", _table(found), ""]
    ids = found.credible_set(0.95)
    told = [f"95 % of the probability: {', '.join(ids)}"] if len(ids) > 1 else []
    low, high = found.t_range_c
    for group in found.groups:
        what = "by readings at these temperatures, however many"
        if group.by != "these readings":
            what = f"by any reading from {low:g} to {high:g} °C"
        told.append(
            f"cannot be told apart {what}: {', '.join(group.ids)} "
            f"(together {format_probability(group.probability)})"
        )
    if found.next_reading is not None:
        told.append(f"next: {found.next_reading}")
    if found.other_level is not None:
        told.append(_level(found))
    told += found.of_readings
    assumed = [row for row in _shown(found) if "(assumed)" in row.tolerance]
    for tolerance in dict.fromkeys(row.tolerance for row in assumed):
        own = [row.id for row in assumed if row.tolerance == tolerance]
        told.append(f"tolerance {tolerance}: {', '.join(own)}")
    for why in dict.fromkeys(found.not_compared.values()):
        out = [id for id, reason in found.not_compared.items() if reason == why]
        told.append(f"not compared, {why}: {', '.join(out)}")
    return "\n".join([*lines, *(_wrapped(text) for text in told)]).rstrip()


def name_of(found: Identification) -> str:
    """Name the leading answer, with what cannot be told apart from it."""
    group = found.group
    return found.leading if group is None else " or ".join(group.ids)


def _headline(found: Identification) -> str:
    lead, group = found.rows[0], found.group
    answers = found.credible_set(0.95)
    if len(answers) > 1 and not (group and set(answers) <= set(group.ids)):
        text = f"undecided between {len(answers)} answers"
        if group is not None:
            return f"{text}; of these {name_of(found)} cannot be told apart"
        return f"{text}; the first is {lead.id}, {format_probability(lead.probability)}"
    if lead.id == NONE:
        return f"none of these, {format_probability(lead.probability)}: {_why_none(found)}"
    p = lead.probability if group is None else group.probability
    text = f"{name_of(found)}, {format_probability(p)}"
    if group is not None:
        text += " together"
    if lead.p_value < 0.01:
        text += (
            f"; but it does not fit well either (p = {lead.p_value:.2g}, up to "
            f"{lead.outside_k:.2g} K outside the tolerance)"
        )
    return text


def _why_none(found: Identification) -> str:
    compared = len(found.rows) - 1
    if found.other_level is not None:
        text = f"but of the material of {' or '.join(found.other_level.ids)}, in another R25"
    elif found.no_curve > found.another_ntc:
        text = (
            "the readings follow no curve of this kind; check them, their units, that the "
            "sensor is neither open nor shorted and that both leads were disconnected"
        )
    elif compared == 1:
        text = "an NTC that is not of the one family compared"
    else:
        text = f"an NTC that is not among the {compared} families compared"
    if found.out_of_range:
        count = len(found.out_of_range)
        text += (
            f"; but {count} {'family is' if count == 1 else 'families are'} not valid at all "
            "of these temperatures and could not be compared"
        )
    return text


def _shown(found: Identification) -> list[Candidate]:
    return [
        row for k, row in enumerate(found.rows) if row.probability >= _SHOWN or k < _LEAST_SHOWN
    ]


def _table(found: Identification) -> str:
    header = ["answer", "probability", "χ²", "p", "off / K", "outside / K"]
    free = found.r25 == "free"
    rows: list[list[str]] = [[*header, "R25", "u(R25)"] if free else header]
    shown = _shown(found)
    left = len(found.rows) - len(shown)
    for row in shown:
        cells = [row.id, format_probability(row.probability)]
        if np.isnan(row.chi2):
            cells += [""] * 4
        else:
            chi2 = f"{row.chi2:.2f}" if row.chi2 < 100.0 else f"{row.chi2:.3g}"
            cells += [
                chi2,
                f"{row.p_value:.2g}",
                _kelvin(row.off_k, "+z"),
                _kelvin(row.outside_k),
            ]
        if free:
            known = np.isfinite(row.r25_ohm)
            cells += [format_ohm(row.r25_ohm), format_ohm(row.u_r25_ohm, 2)] if known else [""] * 2
        rows.append(cells)
    table = aligned(rows, indent="  ")
    if any(np.isfinite(row.off_k) for row in shown):
        table += (
            "\n  off: from the nominal curve, above zero where that reads too warm; "
            "outside: beyond the tolerance"
        )
    if left:
        table += f"\n  and {left} more, each {format_probability(0.5 * _SHOWN)}"
    return table


def _level(found: Identification) -> str:
    assert found.other_level is not None
    other = found.other_level
    value, u = format_pair(other.r25_ohm, other.u_r25_ohm)
    return (
        f"in another R25 the material of {' or '.join(other.ids)} fits "
        f"({format_probability(other.probability)} with R25 free): R25 = {value} Ω, standard "
        f"uncertainty {u} Ω"
    )


def _wrapped(text: str, first: str = "  ", then: str = "    ") -> str:
    return paragraph(with_minus(text), first=first, then=then, usual=_WIDTH)


def _kelvin(value: float, sign: str = "") -> str:
    """To 10 mK; far away, where it is first order only, no more than that it is far."""
    if abs(value) > _FAR_K:
        return f"{'below -' if value < 0.0 else 'above '}{_FAR_K:g}"
    return f"{value:{sign}.2f}" if abs(value) < 10.0 else f"{value:{sign}.0f}"
