"""``thermofit response`` as a technician meets it."""

from __future__ import annotations

import json
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

import thermofit as tf
from tests.shell import Shell
from tests.thermal_logs import Array, quietly, sensor, sleeve
from thermofit.cli.app import _cli
from thermofit.cli.response import command
from thermofit.errors import ThermofitWarning
from thermofit.thermal import compare_air_flow, fit_step, read_log

# Invented logs of a glasshouse fan box, its fan running and stopped.
DEMO = Path(__file__).parent.parent / "docs" / "demo"
ON, OFF = str(DEMO / "fan-on-step.csv"), str(DEMO / "fan-off-step.csv")
T_S = np.arange(0.0, 300.0, 2.0)


def called(*words: str) -> Result:
    return CliRunner().invoke(command, words)


def text(*words: str) -> str:
    done = called(*words)
    assert done.exit_code == 0, done.stderr
    return done.stdout


def answer(*words: str) -> Any:
    return json.loads(text(*words, "--json"))


def noisy(tau_s: float) -> Array:
    rng = np.random.default_rng(5)
    return sensor(T_S, tau_s, 40.0, 22.0, 9.0) + 0.02 * rng.standard_normal(T_S.size)


def logged(path: Path, values: Array, header: str = "time (s),T (°C)") -> str:
    rows = (f"{t:g},{value:.6g}" for t, value in zip(T_S, values, strict=True))
    path.write_text("\n".join([header, *rows]), encoding="utf-8")
    return str(path)


@pytest.fixture
def step(tmp_path: Path) -> str:
    return logged(tmp_path / "step.csv", noisy(15.0))


# ---------------------------------------------------------------- one log


def test_the_fit_is_that_of_the_library(shell: Shell) -> None:
    got = shell.json("response", ON)
    assert (got["format"], got["format_version"]) == ("thermofit-response", 1)
    want = fit_step(read_log(ON))
    tau = got["response"]["tau_s"]
    assert tau["value"] == pytest.approx(want.tau_s, rel=1e-9)
    assert tau["standard_uncertainty"] == pytest.approx(want.u_tau_s, rel=1e-9)
    assert got["response"]["coverage"] == 0.95
    assert (got["running"], got["stopped"], got["air_flow"]) == (None, None, None)
    assert got["read_as"][0] == "column 1 'time (s)' read as time in s"
    assert got["warnings"] == []


def test_the_text_is_the_report_and_what_was_read_is_told_apart() -> None:
    done = called(ON)
    assert done.stdout.startswith("Step response, one constant, 71 readings from")
    assert "read as" not in done.stdout
    assert "read: column 2 'T (°C)' read as temperature in °C" in done.stderr
    assert "read: no reading in rows 49, 53: left out" in done.stderr
    assert "air over the sensor" not in done.stdout


def test_resistances_go_through_the_curve(tmp_path: Path) -> None:
    curve = tf.family("ntc-10k-3977").curve
    k_ohm = np.asarray(curve.resistance(noisy(15.0))) / 1e3
    log = logged(tmp_path / "ohms.csv", k_ohm, "time (s),R (kΩ)")
    got = answer(log, "--family", "ntc-10k-3977")["response"]
    assert got["tau_s"]["value"] == pytest.approx(quietly(T_S, noisy(15.0)).tau_s, rel=1e-3)
    assert "by the curve ntc-10k-3977, taken as exact" in text(log, "--family", "ntc-10k-3977")
    # As if they were temperatures, they would follow no exponential.
    assert called(log).exit_code == 1


def test_resistances_beside_temperatures_are_read_on_demand(tmp_path: Path) -> None:
    family = tf.family("ntc-10k-3977")
    other = np.asarray(family.curve.resistance(noisy(30.0)))
    rows = (f"{t:g},{a:.5g},{r:.6g}" for t, a, r in zip(T_S, noisy(15.0), other, strict=True))
    path = tmp_path / "both.csv"
    path.write_text("\n".join(["time (s),T (°C),R (ohm)", *rows]), encoding="utf-8")
    assert answer(str(path))["response"]["tau_s"]["value"] == pytest.approx(15.0, rel=0.02)
    assert "--quantity resistance reads it" in called(str(path)).stderr
    words = ("--quantity", "resistance", "--family", "ntc-10k-3977")
    assert answer(str(path), *words)["response"]["tau_s"]["value"] == pytest.approx(30.0, rel=0.02)


def test_the_part_of_a_log_and_the_dead_time(step: str) -> None:
    got = answer(step, "--window", "10s..2min", "--step-at", "38s")["response"]
    assert got["dead_time_s"]["value"] == pytest.approx(2.0, abs=0.2)
    assert got["readings"] == 56
    assert "(only readings from 10 to 120 s)" in text(step, "--window", "10s..2min")


def test_the_number_of_constants_can_be_stated(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    body = sleeve(T_S, 40.0, 12.0, 40.0) + 0.01 * rng.standard_normal(T_S.size)
    log = logged(tmp_path / "sleeve.csv", body)
    both = answer(log, "--constants", "2")["response"]
    assert both["form"] == "lag"
    assert both["tau_1_s"]["value"] == pytest.approx(40.0, rel=0.03)
    assert answer(log, "--constants", "1")["response"]["form"] == "one constant"


def test_a_wider_coverage_widens_the_interval(step: str) -> None:
    usual, wide = (answer(step, *more)["response"]["tau_s"] for more in ((), ("--coverage", "99%")))
    assert wide["high"] - wide["low"] > 1.2 * (usual["high"] - usual["low"])


def test_units_and_columns_that_the_file_does_not_state(tmp_path: Path) -> None:
    log = logged(tmp_path / "bare.csv", 1.8 * noisy(15.0) + 32.0, "clock,reading")
    words = ("--time-column", "1", "--value-column", "2", "--quantity", "temperature")
    got = answer(log, *words, "--time-unit", "min", "--unit", "F")["response"]
    assert got["tau_s"]["value"] == pytest.approx(60.0 * 15.0, rel=0.02)
    assert got["step_k"]["value"] == pytest.approx(9.0, rel=0.01)
    guessed = called(log, *words)
    assert "warning: " in guessed.stderr and "(--time-unit)" in guessed.stderr


def test_a_log_may_come_through_a_pipe(shell: Shell) -> None:
    done = shell("response", "-", "--json", stdin=Path(ON).read_text(encoding="utf-8"))
    assert json.loads(done.stdout)["response"]["tau_s"]["value"] == pytest.approx(14.0, rel=0.01)


def test_doubts_are_warnings_and_not_part_of_the_answer(step: str) -> None:
    words = (step, "--window", "0s..50s")
    done = called(*words)
    assert done.exit_code == 0
    told = " ".join(done.stderr.split())
    assert told.count("the log ends before the temperature settles") == 1
    assert "settles" not in done.stdout
    assert any("settles" in one for one in answer(*words)["warnings"])


# ---------------------------------------------------------------- does air move?


def test_a_stopped_fan_shows_against_a_good_record() -> None:
    air = answer(OFF, "--running", ON)["air_flow"]
    assert air["verdict"] == "not moving"
    assert air["ratio"] == pytest.approx(3.72, abs=0.01)
    assert air["stopped_ratio"] == 2.0
    assert answer(ON, "--running", ON, "--stopped", OFF)["air_flow"]["verdict"] == "moving"


def test_the_comparison_is_that_of_the_library(step: str) -> None:
    words = (step, "--running", ON, "--stopped", OFF, "--repeatability", "25%")
    got = answer(*words)
    fits = [fit_step(read_log(name)) for name in (step, ON, OFF)]
    want = compare_air_flow(*fits, repeatability_pct=25.0)
    assert got["air_flow"]["probability"] == pytest.approx(want.probability, rel=1e-6)
    assert got["air_flow"]["u_ratio"] == pytest.approx(want.u_ratio, rel=1e-6)
    for name, fit in (("running", fits[1]), ("stopped", fits[2])):
        assert got[name]["tau_s"]["value"] == pytest.approx(fit.tau_s)


def test_between_both_records_it_cannot_be_told(tmp_path: Path) -> None:
    log = logged(tmp_path / "slow.csv", noisy(27.0))
    air = answer(log, "--running", ON, "--stopped", OFF)["air_flow"]
    assert air["verdict"] == "cannot tell"
    assert 0.05 < air["probability"] < 0.95
    assert "cannot tell: " in text(log, "--running", ON, "--stopped", OFF)


def test_how_much_slower_a_stopped_fan_makes_it_can_be_stated(tmp_path: Path) -> None:
    log = logged(tmp_path / "slow.csv", noisy(28.0))
    verdicts = [
        answer(log, "--running", ON, "--least-ratio", ratio)["air_flow"]["verdict"]
        for ratio in ("2", "8")
    ]
    assert verdicts == ["not moving", "cannot tell"]


def test_window_and_step_are_of_the_log_alone(step: str) -> None:
    got = answer(step, "--running", ON, "--window", "10s..100s", "--step-at", "38s")
    assert got["running"]["readings"] == 71
    assert "dead_time_s" not in got["running"] and "dead_time_s" in got["response"]


def test_one_log_of_ohms_among_logs_of_temperatures(tmp_path: Path) -> None:
    ohms = np.asarray(tf.family("ntc-10k-3977").curve.resistance(noisy(14.0)))
    log = logged(tmp_path / "ohms.csv", ohms, "time (s),R (ohm)")
    got = answer(log, "--running", ON, "--family", "ntc-10k-3977")
    assert got["air_flow"]["verdict"] == "moving"


def test_doubts_of_a_reference_name_it(tmp_path: Path, step: str) -> None:
    short = tmp_path / "short.csv"
    lines = Path(step).read_text(encoding="utf-8").splitlines()
    short.write_text("\n".join(lines[:32]), encoding="utf-8")
    told = " ".join(called(step, "--running", str(short)).stderr.split())
    assert "warning: --running short.csv: the log ends before the temperature settles" in told
    assert "read: LOG: column 1" in told and "read: --running: column 1" in told


def test_cautions_come_once_and_the_fan_has_its_own() -> None:
    still, moving = called(OFF, "--running", ON), called(ON, "--running", ON)
    told = " ".join(still.stderr.split())
    assert told.count("a fan that stands still may start") == 1
    assert told.count("Isolate the power before a sensor is unplugged") == 1
    assert "may start" not in moving.stderr + moving.stdout + still.stdout
    assert len(answer(OFF, "--running", ON)["cautions"]) == 3


def test_all_of_it_fits_a_terminal_of_80_columns(tmp_path: Path) -> None:
    rng = np.random.default_rng(3)
    body = sleeve(T_S, 40.0, 12.0, 40.0) + 0.01 * rng.standard_normal(T_S.size)
    body[10:150:10] += 3.0  # wild ones
    log = logged(tmp_path / "s.csv", body)
    name = f"Step response, lag, 150 readings from {log}"  # as long as the path
    shown = text(log, "--running", ON, "--stopped", OFF)
    for line in shown.splitlines():
        assert line.startswith(name) or len(line) < 80, line
    assert "wild readings left out" in shown and "(s in seconds since the onset)" in shown


# ---------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "LOG.csv"),
        (("nowhere.csv",), "does not exist"),
        ((ON, "--stopped", OFF), "--stopped goes with --running"),
        ((ON, "--repeatability", "5%"), "--repeatability goes with --running"),
        ((ON, "--least-ratio", "3"), "--least-ratio goes with --running"),
        ((ON, "--running", ON, "--stopped", OFF, "--least-ratio", "3"), "leave one of them out"),
        ((ON, "--running", ON, "--least-ratio", "1"), "x>1"),
        ((ON, "--window", "30s"), "20s..3min"),
        ((ON, "--window", "3min..20s"), "runs backwards"),
        ((ON, "--step-at", "30"), "30s or 2min"),
        ((ON, "--family", "nope"), "no family is called"),
        ((ON, "--family", "ntc-ratio-3544"), "SET.csv:ID"),
        ((ON, "--family", "ntc-10k-3977", "--curve", "shop.csv:in"), "name one part"),
    ],
)
def test_wrong_calls(words: tuple[str, ...], complaint: str) -> None:
    done = called(*words)
    assert done.exit_code == 2
    assert complaint in " ".join(done.stderr.split())
    assert done.stdout == ""


@pytest.mark.parametrize(
    ("name", "words", "complaint"),
    [
        ("ohms", (), "(--curve, --family)"),
        ("flat", (), "the log never moves"),
        ("bad", (), "row 3"),
        ("step", ("--family", "ntc-10k-3977"), "leave --family or --curve out"),
        ("step", ("--running", "flat.csv"), "--running flat.csv: the log never moves"),
        ("step", ("--running", OFF, "--stopped", ON), "are --running and --stopped exchanged?"),
        ("step", ("--window", "1h..2h"), "(--window)"),
        ("step", ("--unit", "ohm"), "(--unit)"),
        ("step", ("--constants", "2"), "do not determine two time constants"),
    ],
)
def test_data_that_cannot_be_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, words: tuple[str, ...],
    complaint: str,
) -> None:  # fmt: skip
    monkeypatch.chdir(tmp_path)
    logged(tmp_path / "step.csv", noisy(15.0))
    logged(tmp_path / "flat.csv", np.full(T_S.size, 20.0))
    logged(tmp_path / "ohms.csv", np.linspace(12e3, 9e3, T_S.size), "time (s),R (ohm)")
    (tmp_path / "bad.csv").write_text("time (s),T (°C)\n0,20\n1,x\n", encoding="utf-8")
    done = CliRunner().invoke(_cli, ["response", f"{name}.csv", *words])
    assert done.exit_code == 1, done.stderr
    assert "error: " in done.stderr and complaint in done.stderr
    assert done.stdout == ""


def test_no_argument_of_the_library_is_named_to_a_user(step: str) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ThermofitWarning)
        done = called(step, "--running", OFF, "--stopped", ON)
    told = str(done.exception) + done.stderr
    assert not any(name in told for name in ("reference_running", "reference_stopped", "curve="))
