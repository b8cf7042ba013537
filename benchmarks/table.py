"""What was measured: rows, the table of them, and the file."""

from __future__ import annotations

import csv
import datetime
import os
import platform
from collections.abc import Sequence
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Literal

__all__ = ["Growth", "Row", "growth_text", "in_unit", "machine", "ratio_text", "write_csv"]

Kind = Literal["at most", "at least", "MiB", ""]


@dataclass(frozen=True)
class Row:
    """A comparison: medians in seconds, and the median of the ratios of each round.

    `kind` says how `ratio` is meant: "at most" is ours over theirs, "at least" is theirs over
    ours, "MiB" is no ratio but memory, and an empty one has nothing to reach.
    """

    what: str
    baseline: str
    theirs_s: float
    ours_s: float
    ratio: float
    reach: float
    kind: Kind

    @property
    def met(self) -> bool:
        return self.ratio >= self.reach if self.kind == "at least" else self.ratio <= self.reach

    @property
    def ratio_text(self) -> str:
        return f"{self.ratio:.3g}" if self.ratio < 1e3 else f"{self.ratio:,.0f}"

    @property
    def goal(self) -> str:
        unit = " MiB" if self.kind == "MiB" else " ×"
        sign = {"at most": "≤ ", "MiB": "≤ ", "at least": "≥ ", "": ""}[self.kind]
        return f"{sign}{self.reach:,g}{unit}" if self.kind else ""


@dataclass(frozen=True)
class Growth:
    """Seconds that one call takes for a number of items."""

    what: str
    count: int
    seconds: float


def machine() -> dict[str, str]:
    """Date, processor and versions."""
    processor = platform.processor() or platform.machine()
    about = Path("/proc/cpuinfo")
    if about.is_file():
        names = [line for line in about.read_text().splitlines() if line.startswith("model name")]
        processor = names[0].partition(":")[2].strip() if names else processor
    facts = {
        "date": datetime.date.today().isoformat(),
        "processor": f"{processor}, {os.cpu_count()} cores",
        "Python": platform.python_version(),
    }
    for name in ("numpy", "scipy", "pandas", "lmfit", "uncertainties", "pyarrow"):
        try:
            facts[name] = version(name)
        except ModuleNotFoundError:
            facts[name] = "not installed"
    return facts


def ratio_text(rows: list[Row]) -> str:
    """One table of all comparisons."""
    cells = [("what", "baseline", "baseline", "thermofit", "ratio", "to reach", "")]
    for row in rows:
        times = ("", "") if row.kind == "MiB" else (in_unit(row.theirs_s), in_unit(row.ours_s))
        met = "" if not row.kind else "met" if row.met else "NOT MET"
        cells.append((row.what, row.baseline, *times, row.ratio_text, row.goal, met))
    return _aligned(cells, words=2)


def growth_text(rows: list[Growth]) -> str:
    """Time for each number of items, and for one of them."""
    cells = [("what", "items", "time", "each")]
    cells += [
        (row.what, f"{row.count:,}", in_unit(row.seconds), in_unit(row.seconds / row.count))
        for row in rows
    ]
    return _aligned(cells, words=1)


def write_csv(path: Path, rows: list[Row], growth: list[Growth]) -> None:
    """Write what was measured, with the machine it was measured on."""
    facts = machine()
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file)
        header = ["what", "baseline", "items", "baseline_s", "thermofit_s", "ratio", "reach",
                  "kind", "met", *facts]  # fmt: skip
        writer.writerow(header)
        for row in rows:
            writer.writerow([
                row.what, row.baseline, "", row.theirs_s, row.ours_s, row.ratio, row.reach,
                row.kind, row.met, *facts.values(),
            ])  # fmt: skip
        for item in growth:
            writer.writerow([
                item.what, "", item.count, "", item.seconds, "", "", "growth", "", *facts.values()
            ])  # fmt: skip


def in_unit(seconds: float) -> str:
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if seconds >= size:
            return f"{seconds / size:.3g} {unit}" if seconds < 1e3 else f"{seconds:,.0f} s"
    return f"{seconds * 1e9:.3g} ns"


def _aligned(cells: Sequence[Sequence[str]], *, words: int) -> str:
    widths = [max(map(len, column)) for column in zip(*cells, strict=True)]
    return "\n".join(
        "  ".join(
            cell.ljust(width) if place < words else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in cells
    )
