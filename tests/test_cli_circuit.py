"""``thermofit circuit`` as a technician meets it, and how it reads what is typed."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from typing import Any

import click
import numpy as np
import pytest
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from tests.shell import Shell
from thermofit.circuit import Converter, Divider, FaultLimits, best_pull, faults, seen
from thermofit.cli.app import _cli
from thermofit.cli.circuit import command
from thermofit.cli.circuitvalues import (
    CURRENT,
    DISPLAYED,
    DISSIPATION,
    LIMITS,
    SECONDS,
    VOLTAGE,
    all_limits,
)
from thermofit.units import format_ohm, to_celsius

# The glasshouse controller of docs/controller.md, which is invented.
PART = ("--family", "ntc-10k-3977")
PULLED = ("--pullup", "10k", "--supply", "5V", "--bits", "10")
USUAL = (*PART, *PULLED)
SHORT = ("--from", "0C", "--to", "50C", "--step", "25K")
DIVIDER = Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10))
FAMILY = tf.family("ntc-10k-3977")


def called(*words: str) -> Result:
    return CliRunner().invoke(command, words)


def text(*words: str) -> str:
    done = called(*words)
    assert done.exit_code == 0, done.stderr
    return done.stdout


def answer(*words: str) -> Any:
    return json.loads(text(*words, "--json"))


def typed(kind: click.ParamType[Any], value: str) -> Any:
    return kind.convert(value, None, None)


def same_rows(rows: list[dict[str, float]], want: Any) -> bool:
    """Whether rows of JSON are those of a table of the library."""
    expected = want.to_frame().to_dict(orient="records")
    assert len(rows) == len(expected)
    return all(row == pytest.approx(one) for row, one in zip(rows, expected, strict=True))


def rows_of(shown: str, first: str) -> list[str]:
    """Rows of the table whose header begins so, without its notes."""
    lines = shown.splitlines()
    at = next(number for number, line in enumerate(lines) if line.lstrip().startswith(first))
    table = lines[at + 1 :]
    end = next((n for n, line in enumerate(table) if not line or line.startswith("(")), len(table))
    return table[:end]


# ---------------------------------------------------------------- the healthy sensor


def test_the_table_is_that_of_the_library(shell: Shell) -> None:
    got = shell.json("circuit", *USUAL, *SHORT, "--pull-tolerance", "1%", "--r25-pct", "1")
    assert (got["format"], got["format_version"]) == ("thermofit-circuit", 1)
    family = replace(FAMILY, r25_tol_pct=1.0)
    want = DIVIDER.replace(pull_pct=1.0).table(family, [0.0, 25.0, 50.0])
    assert same_rows(got["rows"], want)
    assert got["notes"] == ["ntc-10k-3977: R(25 °C) ± 1 %, B ± 0.75 %"]
    assert {row["contribution"] for row in got["errors"]} == {
        "sensor tolerance", "pull resistor", "quantisation",
    }  # fmt: skip
    assert got["warnings"] == []


def test_sensor_and_fixed_resistor_alike_halve_the_supply() -> None:
    """From the definition of a divider: half of 5 V, and half of 1024 counts."""
    shown = text(*USUAL, "--from", "25C", "--to", "25C")
    (row,) = rows_of(shown, "t / °C")
    assert row.split()[:6] == ["25", "10.000", "kΩ", "2.5000", "512", "0.089"]


def test_every_option_of_the_circuit_goes_where_it_belongs() -> None:
    got = answer(
        *PART, *SHORT, "--pulldown", "4.7k", "--supply", "12V", "--reference", "10V",
        "--bits", "12", "--series", "150", "--parallel", "100k", "--pull-tolerance", "1%",
        "--series-tolerance", "2%", "--parallel-tolerance", "3%", "--supply-tolerance", "4%",
        "--reference-tolerance", "0.5%", "--leakage", "100nA", "--converter-gain", "0.2%",
        "--converter-offset", "2", "--noise", "1.5", "--samples", "16", "--dissipation", "2mW/K",
    )  # fmt: skip
    divider = Divider(
        pulldown_ohm=4.7e3, supply_v=12.0, series_ohm=150.0, parallel_ohm=100e3, pull_pct=1.0,
        series_pct=2.0, parallel_pct=3.0, supply_pct=4.0, leakage_limit_a=100e-9,
        converter=Converter(bits=12, reference_v=10.0, reference_pct=0.5, gain_pct=0.2,
                            offset_counts=2.0, noise_counts=1.5, samples=16),
    )  # fmt: skip
    table = divider.table(FAMILY, [0.0, 25.0, 50.0], dissipation_mw_per_k=2.0)
    assert same_rows(got["rows"], table)
    assert got["circuit"]["converter"]["reference_v"] == 10.0
    assert got["circuit"]["ratiometric"] is False
    assert "self-heating" in {row["contribution"] for row in got["errors"]}


@pytest.mark.parametrize(
    ("words", "settings"),
    [
        (("--r25-pct", "-2..5"), {"r25_pct": (-2.0, 5.0)}),
        (("--b-pct", "2"), {"b_pct": 2.0}),
        (
            ("--dt", "0.2K", "--dt-from", "0C", "--dt-to", "70C"),
            {"tolerance": tf.Tolerance.of(dt_k=0.2, dt_range_c=(0.0, 70.0))},
        ),
    ],
)
def test_a_tolerance_is_stated_as_for_a_band(
    words: tuple[str, ...], settings: dict[str, Any]
) -> None:
    want = DIVIDER.table(FAMILY, [0.0, 25.0, 50.0], **settings)
    rows = answer(*USUAL, *SHORT, *words)["rows"]
    assert [row["low_k"] for row in rows] == pytest.approx(list(want.low_k))


def test_a_typed_in_part_and_a_stored_curve_will_do(shell: Shell) -> None:
    part = ("--r25", "10k", "--b", "3950K", *PULLED)
    got = answer(*part, "--r25-pct", "1", *SHORT)
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3950.0)
    want = DIVIDER.table(curve, [0.0, 25.0, 50.0], r25_pct=1.0)
    assert [row["high_k"] for row in got["rows"]] == pytest.approx(list(want.high_k))
    assert got["part"] is None
    fit = ("fit", "bench.csv", "--u-t", "0.1K", "--u-r", "0.5%", "--save", "shop.csv", "--id", "in")
    shell(*fit)
    place = f"{shell.folder / 'shop.csv'}:in"
    stored = answer("--curve", place, *PULLED, *SHORT)
    assert stored["part"] == "in"
    assert {row["contribution"] for row in stored["errors"]} == {"curve", "quantisation"}


def test_a_wider_coverage_widens_the_expected_errors() -> None:
    want = DIVIDER.table(FAMILY, [0.0, 25.0, 50.0], coverage=0.68)
    got = answer(*USUAL, *SHORT, "--coverage", "68%")
    assert got["coverage"] == 0.68
    assert same_rows(got["rows"], want)


def test_a_table_without_a_range_covers_that_of_the_curve() -> None:
    rows = answer(*USUAL)["rows"]
    assert (rows[0]["t_c"], rows[-1]["t_c"], len(rows)) == (-40.0, 125.0, 34)


# ---------------------------------------------------------------- from the fault to the display


def test_faults_are_those_of_the_library() -> None:
    got = answer(*USUAL, "--faults", "--limits", "20..1000", "--fallback", "140F",
                 "--actual", "21C", "--wrong", "ntc-10k-3435")  # fmt: skip
    want = faults(
        DIVIDER, FAMILY, t_c=21.0, limits=FaultLimits(low_counts=20, high_counts=1000),
        fallback_c=60.0, wrong={"ntc-10k-3435": tf.family("ntc-10k-3435")},
    )  # fmt: skip
    assert [(row["kind"], row["counts"], row["caught"], row["use_errs"]) for row in got["faults"]] \
        == [(row.kind, row.counts, row.caught, row.use_errs) for row in want]  # fmt: skip
    assert got["faults"][1]["r_ohm"] is None  # of an open sensor, which is infinite


def test_an_open_sensor_shows_cold_and_the_fallback_errs_the_other_way() -> None:
    words = ("--faults", "--limits", "20..1000", "--fallback", "140F", "--actual", "70F")
    shown = rows_of(text(*USUAL, *words), "fault ")
    cells = [re.split(r"  +", row) for row in shown]
    found = {row[0]: row[1:] for row in cells}
    assert found["open"] == ["5.000", "1023", "lowest", "too cold", "140.0", "too warm"]
    assert found["healthy"][2:] == ["70.1", "right", "as shown", "right"]
    # 1 kΩ in series of 11.88 kΩ at an α of −4.5 %/K: 1.9 K, 3.3 °F.
    assert float(found["contact 1.00 kΩ"][2]) == pytest.approx(70.0 - 3.3, abs=0.3)


def test_displays_are_in_the_unit_that_was_typed() -> None:
    in_c = text(*USUAL, "--faults", "--actual", "21C")
    in_f = text(*USUAL, "--faults", "--actual", "69.8F")
    assert "at a true 21 °C" in in_c and "shows / °C" in in_c
    assert "at a true 69.8 °F" in in_f and "shows / °F" in in_f
    healthy = [rows_of(shown, "fault ")[0].split()[3] for shown in (in_c, in_f)]
    assert healthy == ["21.0", "69.8"]


def test_without_limits_nothing_is_claimed_of_detection() -> None:
    shown = text(*USUAL, "--faults")
    assert "without --limits it is not verified" in shown
    assert "caught" not in shown and "takes" not in shown
    assert "taken: a true 25 °C; else say --actual" in shown


def test_limits_without_a_fallback_leave_open_what_runs() -> None:
    shown = text(*USUAL, "--faults", "--limits", "20..1000")
    assert "say with --fallback" in shown
    assert re.search(r"^open .* \? +not known$", shown, re.M)


def test_a_healthy_sensor_beyond_the_scale_is_told() -> None:
    shown = text(*PART, "--pullup", "10k", "--supply", "12V", "--reference", "5V", "--bits", "10",
                 "--faults")  # fmt: skip
    assert "the healthy sensor itself is at an end of the scale" in shown
    caught = text(*USUAL, "--faults", "--limits", "600..1000")
    assert "the healthy sensor itself is caught" in caught
    assert "healthy sensor itself" not in text(*USUAL, "--faults", "--limits", "20..1000")


# ---------------------------------------------------------------- from the display to the fault


def test_a_display_means_what_the_library_says() -> None:
    got = answer(*USUAL, "--display", "18.3C", "--actual", "21C")["displays"][0]
    want = seen(DIVIDER, FAMILY, 18.3, actual_c=21.0)
    assert got["option"] == "--display 18.3C"
    assert (got["low_ohm"], got["high_ohm"]) == pytest.approx((want.low_ohm, want.high_ohm))
    assert [one["kind"] for one in got["explanations"]] == ["corroded contact"]
    assert got["causes"] == ["corroded contact: 1.493 kΩ to 1.601 kΩ in series, in a connector or "
                             "a splice"]  # fmt: skip


def test_a_display_has_the_step_of_its_last_digit() -> None:
    words = ("--display", "65F")
    coarse, fine = answer(*USUAL, *words, "--display", "65.0F")["displays"]
    (stated,) = answer(*USUAL, *words, "--display-step", "0.1F")["displays"]
    assert coarse["low_counts"] < fine["low_counts"] <= fine["high_counts"] < coarse["high_counts"]
    assert stated["low_ohm"] == pytest.approx(fine["low_ohm"])


def test_a_display_at_the_fallback_names_what_the_limits_catch() -> None:
    words = ("--display", "140F", "--fallback", "140F", "--actual", "70F")
    got = answer(*USUAL, *words, "--limits", "20..1000")
    assert got["displays"][0]["causes"][0] == (
        "fallback: it takes the sensor for broken; its limits catch open, sensor shorted, short to "
        "ground, short to supply"
    )
    assert got["faults"] is None
    shown = text(*USUAL, *words)
    assert "140F (60 °C)" in shown
    assert re.search(r", or any .*\n *if this is the fallback", shown)
    low_only = answer(*USUAL, *words, "--limits", "20..")
    assert "catch sensor shorted, short to ground" in low_only["displays"][0]["causes"][0]


def test_a_display_can_be_right_or_within_tolerances() -> None:
    right, near = answer(
        *USUAL, "--actual", "21C", "--display", "21.0C", "--display", "20.3C"
    )["displays"]  # fmt: skip
    assert right["causes"][0].startswith("no fault: ")
    assert near["causes"][0].startswith("tolerances: ")
    # A tighter part does not err so far, and then the tolerances are no cause.
    tight = answer(*USUAL, "--actual", "21C", "--display", "20.3C", "--r25-pct", "1")
    assert tight["displays"][0]["causes"][0].startswith("corroded contact: ")


def test_without_the_true_temperature_it_is_asked_for() -> None:
    shown = " ".join(text(*USUAL, "--display", "23.0C").split())
    assert "say --actual" in shown and "actual_c" not in shown


def test_another_part_can_be_the_cause() -> None:
    other = float(tf.family("ntc-5k-3988").curve.resistance(21.0))
    shows = float(FAMILY.curve.temperature(other))
    words = ("--display", f"{shows:.1f}C", "--actual", "21C", "--wrong", "ntc-5k-3988")
    kinds = [one["kind"] for one in answer(*USUAL, *words)["displays"][0]["explanations"]]
    assert "wrong part" in kinds
    unlike = answer(*USUAL, *words[:-1], "ntc-10k-3435")["displays"][0]["explanations"]
    assert "wrong part" not in [one["kind"] for one in unlike]


# ---------------------------------------------------------------- the best fixed resistor


@pytest.mark.parametrize("minimise", ["error", "resolution"])
def test_the_best_resistor_is_that_of_the_library(minimise: Any) -> None:
    got = answer(*USUAL, *SHORT, "--best-pull", "E24", "--minimise", minimise)["best_pull"]
    want = best_pull(DIVIDER, FAMILY, (0.0, 50.0), minimise=minimise)
    assert (got["pull_ohm"], got["worst_k"]) == pytest.approx((want.pull_ohm, want.worst_k))
    (present,) = [one["worst_k"] for one in got["tried"] if one["pull_ohm"] == 10e3]
    assert got["present_worst_k"] == pytest.approx(present)


def test_resistors_that_do_nearly_as_well_are_named() -> None:
    words = (*USUAL, *SHORT, "--best-pull", "E24")
    best = answer(*words)["best_pull"]
    good = [one["pull_ohm"] for one in best["tried"] if one["worst_k"] <= 1.01 * best["worst_k"]]
    low, high = (format_ohm(end, 4) for end in (min(good), max(good)))
    assert f"({low} to {high} come within 1 % of it)" in text(*words)


def test_a_resistor_that_cannot_read_the_range_is_told() -> None:
    words = (*PART, "--pullup", "10", "--supply", "5V", "--bits", "8")
    assert answer(*words, *SHORT, "--best-pull", "any")["best_pull"]["present_worst_k"] is None
    assert "(as it is, 10.00 Ω: cannot read all of the range)" in text(
        *words, *SHORT, "--best-pull", "E6"
    )


# ---------------------------------------------------------------- the whole, for people


@pytest.mark.parametrize(
    "words",
    [
        SHORT,
        ("--faults", "--limits", "20..1000", "--fallback", "140F", "--wrong", "ntc-10k-3435"),
        ("--display", "140F", "--display", "18.33F", "--fallback", "140F", "--actual", "70.1F"),
        (*SHORT, "--best-pull", "E24", "--display", "900C", "--dissipation", "2mW/K"),
    ],
)
def test_the_answer_fits_80_columns(words: tuple[str, ...]) -> None:
    done = called(*USUAL, *words)
    assert done.exit_code == 0, done.stderr
    # Standard error is broken into lines where it meets a terminal.
    for line in done.stdout.splitlines():
        assert len(line) < 80, line


def test_numbers_keep_their_units_where_lines_break() -> None:
    shown = text(*USUAL, "--display", "18.3C", "--actual", "21C")
    assert "\u00a0" not in shown
    assert not re.search(r"\d\n +[kM]?Ω", shown)


def test_the_healthy_table_is_shown_alone_or_when_a_range_is_named() -> None:
    assert "K/count" in text(*USUAL)
    assert "K/count" not in text(*USUAL, "--faults")
    assert "K/count" in text(*USUAL, "--faults", "--from", "0C", "--to", "10C")
    assert "K/count" in text(*USUAL, "--faults", "--from", "25C", "--to", "25C")
    assert "K/count" in text(*USUAL, "--faults", "--step", "50K")


def test_cautions_come_once_and_at_the_end_and_not_into_the_answer() -> None:
    done = called(*USUAL, "--faults", "--display", "18.3C")
    told = " ".join(done.stderr.split())
    for caution in (
        "Isolate the power before a sensor is unplugged",
        "one that is fed from the mains can be live",
        "Switch the controlled load off before a sensor is opened or shorted",
        "with both its leads disconnected",
    ):
        assert told.count(caution) == 1
    assert "caution" not in done.stdout
    quiet = called(*USUAL, "--faults", "--json")
    assert quiet.stderr == "" and len(json.loads(quiet.stdout)["cautions"]) == 2


def test_a_warning_is_told_once() -> None:
    # Both the faults and the display are asked for at the same temperature.
    words = ("--faults", "--display", "99.0C", "--actual", "160C")
    told = " ".join(called(*USUAL, *words).stderr.split())
    assert told.count("160 °C is outside the curve's valid range") == 1
    assert len(answer(*USUAL, *words)["warnings"]) == 1


# ---------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("words", "status", "complaint"),
    [
        (PULLED, 2, "name one part"),
        (PART, 2, "--supply"),
        ((*PART, "--supply", "5V", "--bits", "10"), 2, "--pullup 10k where the sensor goes"),
        ((*USUAL, "--pulldown", "1k"), 2, "--pulldown 10k where it goes to the supply"),
        ((*USUAL, "--supply", "5"), 2, "write it as 5V"),
        ((*USUAL, "--supply", "0V"), 2, "not above zero"),
        ((*USUAL, "--bits", "0"), 2, "--bits"),
        ((*USUAL, "--leakage", "1"), 2, "write it as 1uA"),
        ((*USUAL, "--leakage", "-1uA"), 2, "negative"),
        ((*USUAL, "--leakage", "1mA"), 1, "--leakage is written as 1uA"),
        ((*USUAL, "--pull-tolerance", "100%"), 2, "no tolerance"),
        ((*USUAL, "--series-tolerance", "1%"), 2, "goes with --series"),
        ((*USUAL, "--reference-tolerance", "1%"), 2, "goes with --reference"),
        ((*USUAL, "--r25-pct", "120"), 1, "--r25-pct of ntc-10k-3977"),
        ((*USUAL, "--faults", "--limits", "20"), 2, "20..1000 for counts"),
        ((*USUAL, "--faults", "--limits", "20..4V"), 2, "a unit at one end only"),
        ((*USUAL, "--faults", "--limits", "9..9"), 2, "runs the wrong way"),
        ((*USUAL, "--faults", "--limits", "9..", "--limits", "..99"), 2, "two ranges"),
        ((*USUAL, "--limits", "9..99"), 2, "--limits goes with --faults"),
        ((*USUAL, "--display", "20C", "--limits", "9..99"), 2, "--display and --fallback"),
        ((*USUAL, "--display", "20C", "--wrong", "ntc-10k-3435"), 2, "--display and --actual"),
        ((*USUAL, "--actual", "20C"), 2, "--actual goes with"),
        ((*USUAL, "--faults", "--display-step", "1K"), 2, "goes with --display"),
        ((*USUAL, "--display", "60"), 2, "has no temperature unit"),
        ((*USUAL, "--minimise", "error"), 2, "goes with --best-pull"),
        ((*USUAL, "--best-pull", "E7"), 2, "E24"),
        ((*USUAL, "--best-pull", "E6", "--from", "5C", "--to", "5C"), 2, "--from below --to"),
        ((*USUAL, "--faults", "--wrong", "nonsense"), 2, "--wrong"),
        ((*USUAL, "--faults", "--wrong", "ntc-ratio-3544"), 2, "SET.csv:ID"),
        (("--family", "ntc-ratio-3544", *PULLED), 2, "--r25 10k --b 3544K"),
        ((*USUAL, "--dissipation", "0.001mW/K"), 1, "dissipation"),
    ],
)
def test_wrong_calls_and_bad_data_are_told_apart(
    words: tuple[str, ...], status: int, complaint: str
) -> None:
    done = CliRunner().invoke(_cli, ["circuit", *words])
    assert done.exit_code == status, done.stderr
    assert complaint in " ".join(done.stderr.split())
    assert done.stdout == ""


# ---------------------------------------------------------------- what is typed


@pytest.mark.parametrize(
    ("kind", "value", "want"),
    [
        (VOLTAGE, "3V3", 3.3),
        (VOLTAGE, "3300mV", 3.3),
        (CURRENT, "1µA", 1e-6),
        (CURRENT, "100 nA", 1e-7),
        (DISSIPATION, "2mW/K", 2.0),
        (DISSIPATION, "0.002 W/K", 2.0),
        (SECONDS, "2min", 120.0),
        (SECONDS, "500ms", 0.5),
    ],
)
def test_units_of_circuits(kind: click.ParamType[Any], value: str, want: float) -> None:
    assert typed(kind, value) == pytest.approx(want, rel=1e-12)


@pytest.mark.parametrize(
    ("value", "want"),
    [
        ("20..1000", FaultLimits(low_counts=20.0, high_counts=1000.0)),
        ("..1000", FaultLimits(high_counts=1000.0)),
        ("0.1V..4800mV", FaultLimits(low_v=0.1, high_v=4.8)),
        ("500R..200k", FaultLimits(low_ohm=500.0, high_ohm=200e3)),
        ("4k7..", FaultLimits(low_ohm=4700.0)),
    ],
)
def test_limits_of_a_controller(value: str, want: FaultLimits) -> None:
    assert all_limits((typed(LIMITS, value),)) == want


def test_limits_in_two_units_hold_at_once() -> None:
    both = all_limits((typed(LIMITS, "20.."), typed(LIMITS, "..200k")))
    assert both == FaultLimits(low_counts=20.0, high_ohm=200e3)


@given(
    tenths=st.integers(-500, 3000), places=st.integers(0, 1), unit=st.sampled_from(["C", "F"]),
    comma=st.booleans(),
)  # fmt: skip
def test_a_display_is_read_with_its_step(tenths: int, places: int, unit: Any, comma: bool) -> None:
    shown = f"{tenths / 10:.{places}f}"
    got = typed(DISPLAYED, (shown.replace(".", ",") if comma else shown) + unit)
    assert got.t_c == pytest.approx(to_celsius(float(shown), unit), abs=1e-9)
    assert got.step_k == pytest.approx(10.0**-places * (1.0 if unit == "C" else 5.0 / 9.0))
    assert got.unit == unit


# ---------------------------------------------------------------- the page about it


def test_a_display_and_its_fault_are_two_ways_of_one_road() -> None:
    """What a fault shows, read backwards, has that fault among its causes, with its size."""
    shown = answer(*USUAL, "--faults", "--actual", "21C")["faults"]
    for row in shown:
        if row["kind"] in ("corroded contact", "moisture"):
            words = ("--display", f"{row['reads_c']:.2f}C", "--actual", "21C")
            (one,) = [
                each
                for each in answer(*USUAL, *words)["displays"][0]["explanations"]
                if each["kind"] == row["kind"]
            ]
            size = float(re.split(" ", row["detail"])[0])
            size *= {"Ω": 1.0, "kΩ": 1e3, "MΩ": 1e6}[row["detail"].split()[1]]
            slack = 0.2 if size == 100.0 or size == 1e6 else 0.06  # a count is that much of it
            assert np.log(one["low"]) - slack < np.log(size) < np.log(one["high"]) + slack
