"""Logs as loggers and people write them are understood, and nothing in them is guessed.

All logs are invented.
"""

from __future__ import annotations

import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.errors import (
    InputError,
    PointsFileError,
    ThermofitError,
    ThermofitWarning,
    UnitError,
    UnitGuessWarning,
)
from thermofit.thermal import StepLog, compare_air_flow, fit_step, read_log
from thermofit.thermal.logtime import time_header

DEMO = Path(__file__).parent.parent / "docs" / "demo"


def read(text: str, **options: Any) -> StepLog:
    return read_log(io.StringIO(text), **options)


@pytest.mark.parametrize(
    ("header", "unit_s"),
    [
        *[(header, 1.0) for header in ("t (s)", "t_s", "time_s", "time [sec]", "Seconds", "s")],
        *[(header, 60.0) for header in ("time (min)", "Elapsed time/min", "t_min", "Zeit (min)")],
        *[(header, 3600.0) for header in ("time/h", "hours", "t (h)")],
        *[(header, 1e-3) for header in ("time (ms)", "t_ms")],
        *[(header, None) for header in ("time", "Timestamp", "Date/Time", "Uhrzeit", "time (UTC)")],
    ],
)
def test_a_header_names_the_time(header: str, unit_s: float | None) -> None:
    found = time_header(header)
    assert found is not None and found.unit_s == unit_s


@pytest.mark.parametrize(
    "header", ["T", "t", "t_c", "T (°C)", "temp", "min", "h", "R", "r_ohm", "note", "", "T1", "max"]
)
def test_other_headers_name_no_time(header: str) -> None:
    assert time_header(header) is None


@pytest.mark.parametrize(
    ("text", "t_s"),
    [
        ("time_s,t_c\n0,20\n1.5,21\n4,22\n", [0, 1.5, 4]),
        ("t (min);T (°C)\n0;20\n0,5;21\n2;22\n", [0, 30, 120]),
        ("time (ms),t_c\n0,20\n500,21\n750,22\n", [0, 0.5, 0.75]),
        ("time,t_c\n0:00:58,20\n0:01:00.5,21\n1:00:00,22\n", [58, 60.5, 3600]),
        ("time (mm:ss),t_c\n0:58,20\n1:00,21\n61:00,22\n", [58, 60, 3660]),
        ("time (hh:mm),t_c\n0:58,20\n1:00,21\n1:01,22\n", [3480, 3600, 3660]),
        ("time,t_c\n2026-11-25 23:59:58,20\n2026-11-26T00:00:01.25,21\n", [0, 3.25]),
        ("time\tt_c\n2026-11-25T10:00:00+01:00\t20\n2026-11-25T09:00:04Z\t21\n", [0, 4]),
        ("date,time,t_c\n2026-11-25,23:59:58,20\n2026-11-26,00:00:02,21\n", [0, 4]),
        ("time_s,t_c\n0 s,20\n2 min,21\n0.1 h,22\n", [0, 120, 360]),
        ("# bench 2\nLogger 7\ntime_s,t_c,remark\n0,20,\n2,21,door\n", [0, 2]),
    ],
)
def test_times_are_read(text: str, t_s: list[float]) -> None:
    log = read(text)
    assert log.t_s == pytest.approx(t_s)
    assert log.t_c == pytest.approx([20.0, 21.0, 22.0][: len(t_s)])


@pytest.mark.parametrize(
    ("header", "cells", "t_c", "r_ohm"),
    [
        ("T (°F)", ("68", "77"), [20.0, 25.0], None),
        ("T (K)", ("293.15", "298.15"), [20.0, 25.0], None),
        ("temp", ("77F", "25C"), [25.0, 25.0], None),
        ("R (kΩ)", ("12.5", "10"), None, [12500.0, 10000.0]),
        ("R", ("4k7", "10k"), None, [4700.0, 10000.0]),
    ],
)
def test_readings_are_read_in_their_unit(
    header: str, cells: tuple[str, str], t_c: list[float] | None, r_ohm: list[float] | None
) -> None:
    log = read(f"time_s,{header}\n0,{cells[0]}\n2,{cells[1]}\n")
    for found, expected in ((log.t_c, t_c), (log.r_ohm, r_ohm)):
        assert (found is None) == (expected is None)
        assert found is None or found == pytest.approx(expected)


def test_units_that_are_not_stated_are_guessed_aloud() -> None:
    with pytest.warns(UnitGuessWarning, match=r"seconds.*time_unit.*°C.*\(unit\)"):
        log = read("time,T\n0,20\n2,21\n")
    assert log.t_s[1] == 2.0 and log.t_c is not None and log.t_c[1] == 21.0
    log = read("time,T\n0,68\n2,77\n", time_unit="min", unit="F")
    assert log.t_s[1] == 120.0 and log.t_c is not None and log.t_c[1] == pytest.approx(25.0)


def test_missing_cells_are_left_out_and_told() -> None:
    log = read("time_s,t_c\n0,20\n2,\n4,OL\n,21\n8,22\n")
    assert log.t_s == pytest.approx([0.0, 8.0])
    assert "no reading in rows 3, 4, 5: left out" in log.notes


def test_gaps_are_told_and_not_filled() -> None:
    rows = "".join(f"{t},20\n" for t in (0, 2, 4, 6, 8, 30, 32, 34))
    log = read(f"time_s,t_c\n{rows}")
    assert len(log) == 8
    assert "a gap of 22 s before row 7, where 2 s is usual" in log.notes


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("time_s,t_c\n0,20\n4,21\n2,22\n", r"row 4.*'time_s'.*'2'.*backwards, after '4' in row 3"),
        ("time_s,t_c\n0,20\n4,21\n4,22\n", r"row 4.*repeats.*row 3"),
        ("time,t_c\n23:59:58,20\n00:00:02,21\n", r"row 3.*midnight.*write the date"),
        ("time,t_c\n12:58,20\n13:00,21\n", r"hours and minutes or minutes and seconds"),
        ("time,t_c\n0:00:01,20\n2026-11-25 10:00,21\n", r"row 3.*unlike the times before"),
        ("time,t_c\n2026-11-25 10:00:00,1\n2026-11-25T10:00:02Z,2\n", r"row 3.*offset from UTC"),
        ("time,t_c\n25.11.2026 10:00:02,21\n", r"row 2.*2026-11-25 10:00:02"),
        ("time,t_c\n2026-13-25 10:00:02,21\n", r"row 2.*no date"),
        ("time_s,t_c\n0,twenty\n2,21\n", r"row 2.*'twenty'.*not a number"),
        ("time_s,temp\n0,68F\n2,20\n", r"row 3.*has no unit, though others"),
        ("time_s,R (kΩ)\n0,10\n2,25 °C\n", r"row 3.*no unit of a resistance"),
        ("time_s,t_c\n0,-300\n2,21\n", r"row 2.*absolute zero"),
        ("time_s,t_c\n", "no readings stand below"),
        ("time_s,t_c\n,\n2,\n", "no row has both"),
        ("", "no table"),
        ("a,b\n1,2\n", r"no column is plainly the time; name it \(time_column\).*a temperature or"),
        ("time_s,T1,T2\n0,20,21\n", r"2 columns could be the temperature.*value_column"),
        ("time_s,t_min,t_c\n0,0,20\n", r"2 columns could be the time.*time_column"),
    ],
)
def test_files_that_are_no_log_say_where_and_why(text: str, words: str) -> None:
    with pytest.raises(PointsFileError, match=words):
        read(text)


def test_all_bad_rows_are_listed_at_once() -> None:
    with pytest.raises(PointsFileError) as caught:
        read("time_s,t_c\n0,20\nx,21\n4,y\n3,20\n2,19\n")
    assert [problem.row for problem in caught.value.problems] == [3, 4, 6]


def test_the_caller_may_name_columns() -> None:
    text = "a,b,left (kΩ),right (kΩ)\n0,9,10,20\n2,9,11,21\n"
    log = read(text, time_column="a", value_column=4, quantity="resistance", time_unit="s")
    assert log.r_ohm == pytest.approx([20e3, 21e3])
    with pytest.raises(PointsFileError, match="there is no column 'z'"):
        read(text, time_column="z", value_column=4)
    with pytest.raises(PointsFileError, match="state quantity"):
        read(text, time_column="a", value_column="b")


def test_a_file_with_both_gives_temperatures_and_says_so() -> None:
    text = "time_s,R (kΩ),T (°C)\n0,12,21\n2,11,22\n"
    log = read(text)
    assert log.t_c == pytest.approx([21.0, 22.0])
    assert any("quantity='resistance'" in note for note in log.notes)
    assert read(text, quantity="resistance").r_ohm == pytest.approx([12e3, 11e3])


@pytest.mark.parametrize(
    ("options", "error"),
    [
        ({"quantity": "power"}, InputError),
        ({"time_unit": "fortnight"}, UnitError),
        ({"unit": "V"}, UnitError),
        ({"decimal": "·"}, InputError),
    ],
)
def test_arguments_that_make_no_sense(options: dict[str, Any], error: type[Exception]) -> None:
    with pytest.raises(error):
        read("time_s,t_c\n0,20\n", **options)


def test_the_demo_logs_tell_a_running_fan_from_a_stopped_one() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
    running = fit_step(read_log(DEMO / "fan-on-step.csv"))
    stopped = fit_step(read_log(DEMO / "fan-off-step.csv"))
    # What they were made with.
    for response, tau_s in ((running, 14.0), (stopped, 52.0)):
        interval = response.interval("tau_s", coverage=0.999)
        assert interval.low < tau_s < interval.high
        assert any("left out" in note for note in response.notes)
    assert compare_air_flow(stopped, running).verdict == "not moving"
    with pytest.raises(InputError, match="leave the curve out"):
        fit_step(read_log(DEMO / "fan-on-step.csv"), curve=curve)


def test_the_demo_logs_say_that_they_are_invented() -> None:
    for name in ("fan-on-step.csv", "fan-off-step.csv"):
        assert (DEMO / name).read_text(encoding="utf-8").startswith("# Invented")


cells = st.sampled_from(
    [
        "0",
        "1",
        "2,5",
        "3.5",
        "",
        "OL",
        "x",
        "20",
        "0:01:00",
        "12:00",
        "2026-11-25 10:00:00",
        "1e400",
    ]
)


@settings(max_examples=150)
@given(
    st.sampled_from(["time_s", "time", "t_c", "R (kΩ)", "date", "x", ""]),
    st.sampled_from(["t_c", "T", "R", "time", "x"]),
    st.lists(st.tuples(cells, cells), max_size=6),
    st.sampled_from([",", ";", "\t"]),
)
def test_whatever_the_file_there_is_a_log_or_an_error_of_ours(
    one: str, other: str, rows: list[tuple[str, str]], separator: str
) -> None:
    text = "\n".join(separator.join(row) for row in [(one, other), *rows])
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ThermofitWarning)
        try:
            log = read(text)
        except ThermofitError:
            return
    assert (np.diff(log.t_s) > 0.0).all()
