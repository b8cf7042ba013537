"""Baseline and candidate are timed in turn, so that a machine whose speed drifts slows both."""

from __future__ import annotations

import statistics
import time
import warnings
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Protocol

import pytest

from benchmarks.table import Growth, Kind, Row, growth_text, machine, ratio_text, write_csv
from thermofit.errors import ThermofitWarning

ROWS = pytest.StashKey[list[Row]]()
GROWTH = pytest.StashKey[list[Growth]]()

Call = Callable[[], object]


class Compare(Protocol):
    """Compare a call with its baseline."""

    def __call__(
        self,
        what: str,
        baseline_name: str,
        baseline: Call,
        candidate: Call,
        *,
        reach: float = 0.0,
        kind: Kind = "",
        times: float = 1.0,
        rounds: int = 9,
    ) -> Row: ...


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--ratios", metavar="FILE.csv", help="write the table to this file, too")


def pytest_configure(config: pytest.Config) -> None:
    config.stash[ROWS] = []
    config.stash[GROWTH] = []


@pytest.fixture(autouse=True)
def _quiet() -> Iterator[None]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ThermofitWarning)
        yield


@pytest.fixture
def compare(benchmark: Any, request: pytest.FixtureRequest) -> Compare:
    """Time a candidate against a baseline; `times` scales a baseline that was given less to do."""

    def measure(
        what: str, baseline_name: str, baseline: Call, candidate: Call, *,
        reach: float = 0.0, kind: Kind = "", times: float = 1.0, rounds: int = 9,
    ) -> Row:  # fmt: skip
        theirs: list[float] = []

        def before_each_round() -> None:
            theirs.append(times * _seconds(baseline))

        baseline(), candidate()
        benchmark.pedantic(candidate, setup=before_each_round, rounds=rounds)
        ours = list(benchmark.stats.stats.data)
        pairs = zip(theirs, ours, strict=True)
        ratios = [their / own if kind == "at least" else own / their for their, own in pairs]
        row = Row(
            what, baseline_name, statistics.median(theirs), statistics.median(ours),
            statistics.median(ratios), reach, kind,
        )  # fmt: skip
        benchmark.extra_info.update(
            baseline=baseline_name, baseline_s=row.theirs_s, ratio=row.ratio, reach=reach, kind=kind
        )
        request.config.stash[ROWS].append(row)
        return row

    return measure


@pytest.fixture
def note(request: pytest.FixtureRequest) -> Callable[[Row], None]:
    """Take up a row that is no comparison of times."""
    return request.config.stash[ROWS].append


@pytest.fixture
def grow(benchmark: Any, request: pytest.FixtureRequest) -> Callable[[str, int, Call], None]:
    """Time one call for a number of items."""

    def measure(what: str, count: int, call: Call) -> None:
        call()
        benchmark.pedantic(call, rounds=3)
        request.config.stash[GROWTH].append(Growth(what, count, benchmark.stats.stats.median))

    return measure


def pytest_terminal_summary(terminalreporter: Any, config: pytest.Config) -> None:
    rows, growth = config.stash[ROWS], config.stash[GROWTH]
    write = terminalreporter.write_line
    write("")
    write(", ".join(f"{name} {value}" for name, value in machine().items()))
    if rows:
        write("")
        write(ratio_text(rows))
    if growth:
        write("")
        write(growth_text(growth))
    path = config.getoption("--ratios")
    if path:
        write_csv(Path(path), rows, growth)
        write(f"\nwritten: {path}")


def _seconds(call: Call) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start
