"""What is wrong, as a technician reads it: no line over 100 columns."""

from __future__ import annotations

from typing import Final

from thermofit.decide.cause.kinds import ELSE, GOOD, Part
from thermofit.decide.cause.result import CANNOT_TELL, CauseRow, Causes
from thermofit.texttable import aligned, format_probability, paragraph, with_minus

__all__ = ["told"]

_LINE = 100
_LEAST = 0.5
_SHOWN = 0.01
_NEXT = 2
_TELLING = 0.05  # bits
_WHERE: Final[dict[Part, str]] = {
    "none": "nothing wrong", "sensor": "the sensor", "wiring": "the wiring",
    "controller": "the controller", "both": "two places at once", "unknown": "something else",
}  # fmt: skip


def told(found: Causes, *, with_cautions: bool = True) -> str:
    """Write a result out: the verdict, the causes, what is not told, and what to do next.

    Parameters
    ----------
    found : Causes
    with_cautions : bool

    Returns
    -------
    str
        In lines of 100 characters, or as `thermofit.texttable.fitted_to` says.
    """
    shown = [row for row in found.rows if row.probability >= _SHOWN]
    lines = [_wrapped(_headline(found)), "", _table(shown)]
    hidden = len(found.rows) - len(shown)
    if hidden:
        lines.append(f"  and {hidden} more, each below 1 %")
    places = sorted(found.where.items(), key=lambda item: -item[1])
    where = [
        f"{_WHERE[part]} {format_probability(p)}"  # type: ignore[index]
        for part, p in places if p >= _SHOWN
    ]  # fmt: skip
    lines += ["", _wrapped(f"  where: {', '.join(where)}")]
    lines += [_wrapped(f"  {text}") for text in found.disagreements]
    open_ones = [f"{row.cause}: {row.left_open()}" for row in shown if row.left_open()]
    sizes = [f"sizes, about as open as beforehand: {'; '.join(open_ones)}"] if open_ones else []
    untold = [*found.unidentified, *sizes]
    if untold:
        lines.append("  not told by these readings:")
        lines += [_wrapped(f"  - {text}") for text in untold]
    telling = [test for test in found.next_tests if test.bits >= _TELLING][:_NEXT]
    lines += [_wrapped(f"  next: {test}") for test in telling]
    if found.next_tests and not telling:
        lines.append(
            _wrapped("  next: no single further measurement is expected to tell much more")
        )
    lines += [_wrapped(f"  also: {text}") for text in found.next_steps]
    lines += [_wrapped(f"  ({note})") for note in found.notes]
    if with_cautions:
        lines += [_wrapped(f"! {text}") for text in found.cautions]
    return "\n".join(lines)


def _headline(found: Causes) -> str:
    lead = found.rows[0]
    probability = format_probability(lead.probability)
    places = {reading.place for reading in found.readings}
    sensor = bool(places & {"sensor", "connector", "display"})
    cable = bool(places - {"sensor"})
    if found.verdict == CANNOT_TELL:
        part, p = max(found.where.items(), key=lambda item: item[1])
        text = f"cannot tell: the most probable cause, {lead.cause}, has {probability}"
        # What was not measured is as probable as beforehand, and no finding.
        measured = {"sensor": sensor, "wiring": cable, "controller": True}
        if p >= _LEAST and measured.get(part):
            text += (
                f"; but that it lies in {_WHERE[part]} has "  # type: ignore[index]
                f"{format_probability(p)}"
            )
        return text
    if lead.cause == GOOD:
        if not sensor:
            read = "the cable reads as it should; the sensor was not measured"
        elif not cable:
            read = f"the sensor reads as {found.family}; the wiring was not measured"
        else:
            read = f"sensor and wiring read as {found.family}"
        return f"nothing wrong found, {probability}: {read}"
    if lead.cause == ELSE:
        return (
            f"something else, {probability}: no cause that was weighed makes these readings; "
            "check them, their units, their temperatures, and that both leads were disconnected"
        )
    sizes = lead.sizes()
    return f"{lead.cause}, {probability}{f': {sizes}' if sizes else ''}"


def _table(rows: list[CauseRow]) -> str:
    cells = [
        [row.cause, format_probability(row.probability), with_minus(row.sizes())] for row in rows
    ]
    table = [["cause", "probability", "if so"], *cells]
    return aligned(table, left=(0, 2), indent="  ", usual=_LINE)


def _wrapped(text: str) -> str:
    hang = " " * (len(text) - len(text.lstrip()) + 2)
    return paragraph(with_minus(text), then=hang, usual=_LINE)
