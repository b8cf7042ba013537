"""Options of ``thermofit sheet`` about the page, and their values."""

from __future__ import annotations

import datetime
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from thermofit.cli.completing import FAMILY
from thermofit.cli.sections import in_section
from thermofit.cli.values import COVERAGE, RISK, Value
from thermofit.errors import StorageError, UnitError
from thermofit.units import parse_temperature, parse_temperature_difference

__all__ = ["page_options", "refuse_existing", "verdict_options"]

F = TypeVar("F", bound=Callable[..., Any])


def _range(text: str) -> tuple[float, float]:
    low, colon, high = text.partition(":")
    if not colon:
        raise UnitError(f"{text!r} is no range; write its ends as 0C:60C")
    return parse_temperature(low), parse_temperature(high)


def _step(text: str) -> float:
    step_k = parse_temperature_difference(text)
    if not step_k > 0.0:
        raise UnitError(f"{text!r} is no step; write one above zero, such as 1C")
    return step_k


def _date(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        raise UnitError(f"{text!r} is no date; write it as 2026-03-21") from None


RANGE = Value("t:t", _range)
STEP = Value("kelvin", _step)
DATE = Value("date", _date)


def page_options(command: F) -> F:
    """Add the options about the page and where it goes."""
    page = in_section("The sheet")
    options = (
        page("--save", required=True, metavar="SHEET.html", type=click.Path(dir_okay=False),
             help="Write the sheet to this file."),
        page("--replace", is_flag=True, help="Replace the file if there is one."),
        page("--title", default="", help="What to call the sensor: 'House 3, inlet'."),
        page("--range", "t_range_c", type=RANGE,
             help="Of the table: 0C:60C.  [the whole valid range]"),
        page("--step", "step_k", type=STEP, help="Of the table: 1C.  [so that it fits a page]"),
        page("--coverage", type=COVERAGE, default="95%", show_default=True,
             help="Of all intervals."),
        page("--date", type=DATE, help="Day of the sheet: 2026-03-21.  [today]"),
    )  # fmt: skip
    for each in reversed(options):
        command = each(command)
    return command


def verdict_options(command: F) -> F:
    """Add the options about what the sensor should be."""
    judged = in_section("Verdict")
    options = (
        judged("--family", type=FAMILY, help="What it should be; gives verdict and limits."),
        judged("--rule", type=click.Choice(["guarded", "simple"]), help="[usual: guarded]"),
        judged("--risk", type=RISK, help="Of a wrong decision.  [usual: 5%]"),
    )
    for each in reversed(options):
        command = each(command)
    return command


def refuse_existing(save: str, replace: bool) -> None:
    """Refuse to write over a file before any work is done."""
    if Path(save).exists() and not replace:
        raise StorageError(f"{save} exists; choose another name, or say --replace")
