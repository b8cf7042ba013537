"""The data inside a sheet: a record as JSON with a name, a version and a checksum."""

from __future__ import annotations

import datetime
import hashlib
import json
import math
from collections.abc import Mapping
from typing import Any, Final, NoReturn

from thermofit.errors import InputError
from thermofit.report.sheet.benchdata import (
    points_from_data,
    points_to_data,
    reading_from_data,
    reading_to_data,
)
from thermofit.report.sheet.converterdata import converter_data
from thermofit.report.sheet.curvedata import curve_from_data, curve_to_data
from thermofit.report.sheet.fields import Fields
from thermofit.report.sheet.record import SheetRecord
from thermofit.report.sheet.verdictdata import figures_from_data, figures_to_data

__all__ = ["FORMAT", "FORMAT_VERSION", "document_of", "document_text", "record_from_text"]

FORMAT: Final = "thermofit-sheet"
FORMAT_VERSION: Final = 1

_LISTS: Final = ("assumed", "warnings", "remarks", "cautions")
# What could end the element that holds the data, or begin a comment in it.
_ESCAPED: Final = str.maketrans({"<": "\\u003c", ">": "\\u003e", "&": "\\u0026"})


def document_of(record: SheetRecord) -> dict[str, Any]:
    """Give the data of a record, with the format's name and version and the checksum.

    Parameters
    ----------
    record : SheetRecord

    Returns
    -------
    dict
        Ready for JSON; docs/bench-sheet.md describes it.
    """
    content = {
        "title": record.title,
        "date": record.date.isoformat(),
        "curve": curve_to_data(record.curve),
        "points": record.points and points_to_data(record.points),
        "readings": [reading_to_data(reading) for reading in record.readings],
        "family": record.family,
        "verdict": record.verdict and figures_to_data(record.verdict),
        "coverage": record.coverage,
        "table": {
            "t_from_c": record.t_range_c[0],
            "t_to_c": record.t_range_c[1],
            "step_k": record.step_k,
        },
        "made_with": dict(record.made_with),
        **{name: list(getattr(record, name)) for name in _LISTS},
        "versions": dict(record.versions),
        "converter": converter_data(record.curve, record.coverage),
    }
    return {
        "format": FORMAT,
        "format_version": FORMAT_VERSION,
        "sha256": _checksum(content),
        "content": content,
    }


def document_text(document: Mapping[str, Any]) -> str:
    """Write the data so that it can stand inside a page: ASCII, without <, > and &."""
    return _dumped(document).translate(_ESCAPED)


def record_from_text(text: str) -> SheetRecord:
    """Make a record of the data inside a sheet.

    Parameters
    ----------
    text : str

    Returns
    -------
    SheetRecord

    Raises
    ------
    InputError
        Another format or version, damage, or values that cannot be.
    """
    try:
        parsed = json.loads(
            text, object_pairs_hook=_once, parse_constant=_refuse, parse_float=_finite
        )
    except (ValueError, RecursionError) as error:
        raise _damaged(error) from None
    document = Fields(parsed, "the data")
    name, version = document.text("format"), document.number("format_version")
    if name != FORMAT:
        raise InputError(f"its data are of the format {name!r}, not {FORMAT!r}")
    if version != FORMAT_VERSION:
        raise InputError(
            f"its data are of version {version:g}, and this thermofit reads version "
            f"{FORMAT_VERSION}; read it with a thermofit that is as new as the sheet"
        )
    content = document.part("content")
    try:
        checksum = _checksum(parsed["content"])
    except RecursionError as error:
        raise _damaged(error) from None
    if document.text("sha256") != checksum:
        raise InputError(
            "its data were changed after it was written: the checksum does not fit; take another "
            "copy of the sheet, or make it again"
        )
    return _record(content)


def _record(content: Fields) -> SheetRecord:
    table = content.part("table")
    try:
        date = datetime.date.fromisoformat(content.text("date"))
    except ValueError:
        raise InputError(f"{content.text('date')!r} is no date like 2026-03-21") from None
    return SheetRecord(
        title=content.text("title"),
        date=date,
        curve=curve_from_data(content.part("curve")),
        points=None if content.absent("points") else points_from_data(content.part("points")),
        readings=tuple(reading_from_data(part) for part in content.parts("readings")),
        family=content.text("family"),
        verdict=None if content.absent("verdict") else figures_from_data(content.part("verdict")),
        coverage=content.number("coverage"),
        t_range_c=(table.number("t_from_c"), table.number("t_to_c")),
        step_k=table.number("step_k"),
        made_with=content.named_texts("made_with"),
        versions=content.named_texts("versions"),
        **{name: content.texts(name) for name in _LISTS},
    )


def _damaged(error: Exception) -> InputError:
    return InputError(f"its data are damaged and cannot be read: {error}")


def _checksum(content: Any) -> str:
    """SHA-256 of the content in one way of writing it: it tells damage, not forgery."""
    return hashlib.sha256(_dumped(content).encode("ascii")).hexdigest()


def _dumped(data: Any) -> str:
    return json.dumps(data, sort_keys=True, separators=(",", ":"), allow_nan=False)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice in one object")
    return found


def _finite(text: str) -> float:
    number = float(text)
    if math.isinf(number):
        raise ValueError(f"{text} is beyond all numbers")
    return number


def _refuse(constant: str) -> NoReturn:
    raise ValueError(f"{constant} is no number of JSON")
