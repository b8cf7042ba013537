"""``thermofit substitute`` as a technician meets it."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

import thermofit as tf
from tests.shell import Here, Shell
from thermofit.circuit import Converter, Divider, FaultLimits
from thermofit.cli.substitute import command
from thermofit.errors import InputError, ThermofitError

RANGE = ("ntc-10k-3977", "--from", "0C", "--to", "60C")
CIRCUIT = ("--pullup", "10k", "--supply", "5V", "--bits", "10")


def call(*words: str) -> Result:
    return CliRunner().invoke(command, words)


def answer(*words: str) -> Any:
    done = call(*words, "--json")
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


def test_the_answer_is_that_of_the_library() -> None:
    told = answer(
        *RANGE, *CIRCUIT, "--part", "12k/3950K", "--part", "ntc-10k-3435", "--limits", "20..1000",
        "--trim", "both", "--preferred", "E24", "--resistor-tolerance", "2%",
        "--resistor-min", "470R", "--resistor-max", "100k", "--set-point", "64.4F",
    )  # fmt: skip
    found = tf.substitutes(
        "ntc-10k-3977", (0, 60),
        Divider(pullup_ohm=10e3, supply_v=5.0, converter=Converter(bits=10)),
        candidates={"12k/3950K": (12e3, 3950.0), "ntc-10k-3435": "ntc-10k-3435"},
        limits=FaultLimits(low_counts=20, high_counts=1000), trim="both", series="E24",
        resistor_pct=2.0, resistor_range_ohm=(470.0, 100e3), set_points_c=18.0,
    )  # fmt: skip
    assert (told["format"], told["format_version"]) == ("thermofit-substitute", 1)
    assert [row["name"] for row in told["substitutes"]] == [row.name for row in found]
    for one, row in zip(told["substitutes"], found, strict=True):
        for name in ("worst_k", "coldest_k", "change_k", "series_ohm", "coarsest_count_k", "errs"):
            assert one[name] == getattr(row, name)
        assert one["parallel_ohm"] == (row.parallel_ohm if np.isfinite(row.parallel_ohm) else None)
        assert one["set_points"][0]["drift_k"] == pytest.approx(row.set_points[0].drift_k)
    assert told["own_worst_k"] == found.own_worst_k
    assert told["circuit"]["pullup_ohm"] == 10e3
    assert any("safety function" in text for text in told["cautions"])
    assert len(told["cautions"]) == 3


def test_a_technician_reads_the_answer_and_is_cautioned_beside_it(shell: Shell) -> None:
    done = shell("substitute", *RANGE)
    assert done.returncode == 0
    assert done.stdout.startswith("in place of ntc-10k-3977")
    assert max(map(len, done.stdout.splitlines())) <= 100
    stderr = " ".join(done.stderr.split())
    assert "caution: Never for a sensor in a safety function" in stderr
    assert "Isolate the power" in stderr and "load off" in stderr
    assert "safety" not in done.stdout
    assert "substitute " in shell("--help").stdout


def test_candidates_come_from_the_drawer(tmp_path: Path) -> None:
    drawer = tmp_path / "drawer.csv"
    spare = tf.Family(tf.Curve.beta(r25_ohm=9e3, b_k=3900.0, id="bin-7"), r25_tol_pct=3.0)
    tf.write_curve_set(drawer, [spare, tf.Curve.beta(r25_ohm=12e3, b_k=3950.0, id="bin-8")])
    told = answer(*RANGE, "--parts", str(drawer), "--part", "ntc-10k-3950")
    assert {row["name"] for row in told["substitutes"]} == {"bin-7", "bin-8", "ntc-10k-3950"}
    (loose,) = (row for row in told["substitutes"] if row["name"] == "bin-7")
    assert "R(25 °C) ± 3 %" in loose["notes"][-1]
    told = answer(f"{drawer}:bin-7", "--from", "0C", "--to", "60C", "--part", f"{drawer}:bin-8")
    assert told["original"] == "bin-7" and told["substitutes"][0]["name"] == "bin-8"
    assert told["own_worst_k"] > 0.5  # its row states a tolerance
    told = answer("10k/3977K", "--from", "0C", "--to", "60C", "--part", "9k/3900K")
    assert told["substitutes"][0]["name"] == "9k/3900K" and told["own_worst_k"] is None
    done = call(*RANGE, "--parts", str(drawer), "--part", f"{drawer}:bin-7")
    assert done.exit_code == 2 and "two candidates are called 'bin-7'" in done.stderr


def test_resistors_are_within_the_range_asked_for() -> None:
    told = answer(*RANGE, "--part", "8k/4300K", "--trim", "series", "--preferred", "E6",
                  "--resistor-min", "2k", "--resistor-max", "4k")  # fmt: skip
    (row,) = (row for row in told["substitutes"] if row["resistors"])
    assert row["series_ohm"] in (2.2e3, 3.3e3)


def test_a_stored_material_without_r25_is_no_part(tmp_path: Path) -> None:
    tf.write_curve_set(tmp_path / "drawer.csv", [tf.family("ntc-ratio-3544")])
    for words in (
        (*RANGE, "--part", f"{tmp_path}/drawer.csv:ntc-ratio-3544"),
        (f"{tmp_path}/drawer.csv:ntc-ratio-3544", "--from", "25C", "--to", "60C"),
    ):
        done = call(*words)
        assert done.exit_code == 2 and "fixes R(T)/R25 only" in done.stderr
    done = call(*RANGE, "--part", f"{tmp_path}/drawer.csv:bin-7")
    assert done.exit_code == 2 and "--part" in done.stderr and "bin-7" in done.stderr


def test_a_tolerance_is_that_of_parts_that_state_none() -> None:
    plain, supposed = (
        answer(*RANGE, "--part", "ntc-10k-3950", *more)["substitutes"][0]
        for more in ((), ("--r25-pct", "1", "--b-pct", "1"))
    )
    assert plain["worst_k"] < supposed["worst_k"]
    assert "R(25 °C) ± 1 %, B ± 1 %" in supposed["notes"][-1]


def test_what_hides_a_fault_needs_to_be_asked_for() -> None:
    words = (*RANGE, *CIRCUIT, "--part", "22k/4100K", "--trim", "parallel", "--limits", "30..1000")
    kept, asked = answer(*words), answer(*words, "--allow-masked")
    assert [row["masked"] for row in kept["substitutes"]] == [[], []]
    assert any(
        "open is masked" in row["masked"][0] for row in asked["substitutes"] if row["masked"]
    )
    pairs = answer(*RANGE, *CIRCUIT, "--part", "20k/3977K", "--pairs", "parallel",
                   "--limits", "30..1000")  # fmt: skip
    assert pairs["left_out"][0]["id"] == "2 × 20k/3977K in parallel"


def test_the_table_for_the_firmware_is_that_of_the_best(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    words = (*RANGE, *CIRCUIT, "--part", "12k/3950K", "--firmware", str(path))
    done = call(*words)
    assert done.exit_code == 0 and f"written: {path}" in done.stderr
    assert "12k/3950K: what the controller would have to assume" in done.stdout
    rows = path.read_bytes().decode().split("\r\n")
    assert rows[0] == "t_c,r_ohm,counts" and len(rows) == 15
    assert float(rows[6].split(",")[1]) == pytest.approx(12e3)
    table = answer(*words)["firmware"]
    beta = next(one for one in table["equations"] if one["equation"] == "beta")
    assert beta["coefficients"]["b_k"] == pytest.approx(3950.0)
    assert table["rows"][5] == {"t_c": 25.0, "r_ohm": pytest.approx(12e3), "counts": 558.0}
    assert answer(*RANGE)["firmware"] is None


def test_a_table_of_what_is_not_usable_is_doubted(tmp_path: Path) -> None:
    path = tmp_path / "table.csv"
    done = call(*RANGE, "--part", "500k/3977K", "--pullup", "10k", "--supply", "5V", "--bits", "6",
                "--firmware", str(path))  # fmt: skip
    assert done.exit_code == 0
    assert "warning: nothing is usable" in done.stderr


def test_a_picture_is_drawn_into_a_file(tmp_path: Path) -> None:
    pytest.importorskip("matplotlib")
    for name, start in (("errors.png", b"\x89PNG"), ("errors.svg", b"<?xml")):
        path = tmp_path / name
        done = call(*RANGE, "--picture", str(path))
        assert done.exit_code == 0, done.stderr
        assert path.read_bytes().startswith(start)
    before = path.read_bytes()
    call(*RANGE, "--picture", str(path))
    assert path.read_bytes() == before


def test_without_matplotlib_the_way_out_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    found = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util,
        "find_spec",
        lambda name, *a: None if name == "matplotlib" else found(name, *a),
    )
    done = call(*RANGE, "--picture", "never.png")
    assert isinstance(done.exception, ThermofitError)
    assert 'pip install "thermofit[pictures]"' in str(done.exception)
    assert not Path("never.png").exists() and done.stdout == ""


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("ntc-10k-3976", "--from", "0C", "--to", "60C"), "the nearest are ntc-10k-3977"),
        ((*RANGE, "--part", "ntc-10k-3976"), "the nearest are ntc-10k-3977"),
        ((*RANGE, "--part", "ntc-ratio-3544"), "fixes R(T)/R25 only"),
        ((*RANGE, "--part", "12k/warm"), "write an id, SET.csv:ID, or R25 and B as 12k/3950K"),
        ((*RANGE, "--part", "12k/-3950K"), "not above zero"),
        ((*RANGE, "--part", "/3950K"), "is no part"),
        (("ntc-10k-3977", "--from", "60C", "--to", "0C"), "does not lie below"),
        (("ntc-10k-3977", "--from", "0C", "--to", "0C"), "does not lie below"),
        (("ntc-10k-3977", "--from", "0C"), "Missing option '--to'"),
        ((*RANGE, "--supply", "5V"), "a circuit needs --bits"),
        ((*RANGE, "--pullup", "10k"), "a circuit needs --supply"),
        ((*RANGE, "--supply", "5V", "--bits", "10"), "one fixed resistor"),
        ((*RANGE, "--limits", "20..1000"), "without it write ohms"),
        ((*RANGE, "--resistor-tolerance", "5%"), "go with --trim"),
        ((*RANGE, "--allow-masked"), "goes with --trim or --pairs"),
        ((*RANGE, "--picture", "errors.gif"), "must end in .png or .svg"),
        ((*RANGE, "--firmware", "table.txt"), "must end in .csv"),
        ((*RANGE, "--parts", "nowhere.csv"), "does not exist"),
        ((*RANGE, "--preferred", "E95"), "is not one of"),
    ],
)
def test_wrong_calls_are_told_from_bad_data(words: tuple[str, ...], told: str) -> None:
    done = call(*words)
    assert done.exit_code == 2
    assert told in " ".join(done.stderr.split())


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (
            ("ntc-10k-3977", "--from", "0C", "--to", "130C"),
            "--from --to of 0 to 130 °C is not within",
        ),
        ((*RANGE, "--set-point", "200C"), "the set-point of 200 °C is not within"),
        ((*RANGE, "--part", "pt-100-iec60751"), "rises with temperature"),
        ((*RANGE, *CIRCUIT, "--limits", "..700"), "or narrow --from --to"),
    ],
)
def test_data_that_cannot_be_used_are_an_error(words: tuple[str, ...], told: str) -> None:
    done = call(*words)
    assert isinstance(done.exception, InputError)
    assert told in str(done.exception)


def test_data_that_cannot_be_used_end_with_status_1(shell: Shell) -> None:
    done = shell("substitute", "ntc-10k-3977", "--from", "0C", "--to", "130C")
    assert done.returncode == 1 and done.stdout == ""
    assert done.stderr.startswith("error: --from --to of 0 to 130 °C")


def test_who_names_a_stored_part_alone_hears_how_it_is_written(here: Here) -> None:
    for words in (("inlet",), ("ntc-10k-3977", "--part", "inlet")):
        done = here("substitute", *words, "--from", "0C", "--to", "60C")
        assert done.returncode == 2
        assert done.stderr.endswith("; a curve of a set is written as SET.csv:ID\n")
