"""Put measured tables into a page: `python -m benchmarks.page MEASURED.csv PAGE.md`.

The rows of each of the two tables are replaced; what stands around them is written by hand.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Sequence
from pathlib import Path

from benchmarks.table import Row, in_unit

HEADS = ("| what | baseline | of the baseline |", "| what | items | one call |")


def rewritten(page: str, rows: Sequence[dict[str, str]]) -> str:
    """Give the page with the rows of its tables as they were measured."""
    tables = ([_compared(row) for row in rows if not row["items"]],
              [_grown(row) for row in rows if row["items"]])  # fmt: skip
    lines = page.splitlines()
    for head, table in zip(HEADS, tables, strict=True):
        start = next(place for place, line in enumerate(lines) if line.startswith(head)) + 2
        stop = next(place for place in range(start, len(lines)) if not lines[place])
        lines[start:stop] = table
    return "\n".join([*lines, ""])


def _compared(cells: dict[str, str]) -> str:
    row = Row(
        cells["what"], cells["baseline"], float(cells["baseline_s"]), float(cells["thermofit_s"]),
        float(cells["ratio"]), float(cells["reach"]), cells["kind"],  # type: ignore[arg-type]
    )  # fmt: skip
    times = ("", "") if row.kind == "MiB" else (in_unit(row.theirs_s), in_unit(row.ours_s))
    goal = {"at least": "at least {:,g}", "at most": "at most {:g}", "MiB": "at most {:g} MiB"}
    # Narrow columns break at spaces.
    reach = goal.get(row.kind, "").format(row.reach).replace(" ", "\N{NO-BREAK SPACE}")
    met = "" if not row.kind else "reached" if row.met else "not reached"
    return _line([row.what, row.baseline, *times, row.ratio_text, reach, met])


def _grown(cells: dict[str, str]) -> str:
    count, seconds = int(cells["items"]), float(cells["thermofit_s"])
    return _line([cells["what"], f"{count:,}", in_unit(seconds), in_unit(seconds / count)])


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |".replace("|  |", "| |").replace("|  |", "| |")


if __name__ == "__main__":
    measured, page = map(Path, sys.argv[1:])
    with measured.open(newline="", encoding="utf-8") as file:
        page.write_text(rewritten(page.read_text("utf-8"), list(csv.DictReader(file))), "utf-8")
