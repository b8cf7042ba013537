"""Why a points file has no table that can be read."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from thermofit.errors import PointsFileError
from thermofit.pointsfile.columns import QUANTITIES, Kind, recognise
from thermofit.pointsfile.lookup import (
    MAX_COLUMNS,
    Wanted,
    is_numeric,
    listed,
    locate,
    missing,
    trimmed,
)
from thermofit.pointsfile.text import Record, refusal

__all__ = ["explain_no_table"]


def explain_no_table(
    samples: Mapping[str, list[Record]], cut: bool, name: str, wanted: Wanted
) -> PointsFileError:
    """Say why no table was found, under the separator that makes most sense.

    Parameters
    ----------
    samples : mapping
        First rows of the file under each separator.
    cut : bool
        Whether the file has more text than was looked at.
    name : str
        The file.
    wanted : dict
        Columns that the caller names.

    Returns
    -------
    PointsFileError
        To be raised.
    """
    best: list[Record] = []
    best_count = 0
    for sample in samples.values():
        widths = Counter(len(trimmed(record.cells)) for record in sample)
        count = max((number for width, number in widths.items() if width > 1), default=0)
        if count > best_count:
            best, best_count = sample, count
    if not any(samples.values()):
        reason = "the file is empty, or has only blank lines and comments"
        if cut:
            reason = "nothing but blank lines and comments at the beginning; delete most of them"
        return refusal(name, reason)
    if not best:
        return refusal(
            name,
            "there is only one column; a points file has two, temperatures and resistances, "
            "set apart by a comma, a semicolon or a tab",
        )
    numeric = (sum(map(is_numeric, record.cells[:100])) > 1 for record in best)
    begin = next((index for index, found in enumerate(numeric) if found), None)
    wide = next(index for index, record in enumerate(best) if len(trimmed(record.cells)) > 1)
    above = wide if begin is None else begin - 1
    if above < 0:
        blank = [""] * len(trimmed(best[0].cells))
        unknown = [value for value in wanted.values() if locate(blank, value) is None]
        if unknown:
            return refusal(
                name,
                f"there is no header that names a column {unknown[0]!r}; write one above the "
                f"readings, or name the columns by position (t_column, r_column)",
                best[0].line,
            )
        return refusal(
            name,
            f"there is no header, and {len(blank)} columns may mean many things; write a header "
            f"such as t_c,r_ohm above them, or name the columns by position (t_column, r_column)",
            best[0].line,
        )
    record = best[above]
    header = trimmed(record.cells)
    if len(header) > MAX_COLUMNS:
        return refusal(
            name,
            f"{len(header)} columns are more than a points file has ({MAX_COLUMNS} at most); "
            f"copy temperature and resistance to a file of their own",
            record.line,
        )
    seen = {column.kind for column in map(recognise, header) if column is not None}
    reasons = []
    kinds: tuple[Kind, ...] = ("t", "r")
    for kind in kinds:
        if kind in wanted and locate(header, wanted[kind]) is None:
            reasons.append(missing(header, wanted[kind]))
        elif kind not in wanted and kind not in seen:
            reasons.append(
                f"no column is plainly the {QUANTITIES[kind]}; name the column ({kind}_column)"
            )
    reasons = reasons or ["this is not a header that readings follow"]
    reasons.append(f"the columns are {listed(enumerate(header))}")
    return refusal(name, "; ".join(reasons), record.line)
