"""``thermofit sheet``: from readings at the bench, a file or a set to a page."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pytest

import thermofit as tf
from tests.shell import BENCH as POINTS
from tests.shell import Shell
from thermofit.cli.app import _cli
from thermofit.report.sheet import read_sheet
from thermofit.report.sheet.document import FORMAT, FORMAT_VERSION, document_of

pytest.importorskip("jinja2")
pytest.importorskip("matplotlib")

BENCH = ("--ice", "32.6k", "--bath", "68.4C:1.87k", "--thermometer", "0.5C", "--meter", "0.8%+3")
SAVE = ("--save", "sheet.html", "--date", "2026-03-21")


class Done(NamedTuple):
    returncode: int
    stdout: str
    stderr: str


Call = Callable[..., Done]


@pytest.fixture
def call(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Call:
    """Call a command in a folder with some points, without a process of its own."""
    monkeypatch.chdir(tmp_path)
    Path("bench.csv").write_text(POINTS, encoding="utf-8")

    def call(*words: str) -> Done:
        with pytest.raises(SystemExit) as end:
            _cli.main(list(words), prog_name="thermofit")
        return Done(int(end.value.code or 0), *capsys.readouterr())

    return call


def answered(done: Done) -> Any:
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_readings_at_the_bench_become_a_sheet(shell: Shell) -> None:
    done = shell("sheet", *BENCH, "--after-ice", "32.7k", "--family", "ntc-10k-3977", "--title",
                 "House 3, inlet", "--range", "0C:60C", "--step", "1C", *SAVE)  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("House 3, inlet\n")
    assert "cannot tell: R25 off by" in done.stdout
    assert "saved: sheet.html" in done.stderr
    assert "caution: Hot water and steam scald" in done.stderr
    record = read_sheet(shell.folder / "sheet.html")
    assert record.date.isoformat() == "2026-03-21"
    assert (record.t_range_c, record.step_k) == ((0.0, 60.0), 1.0)
    assert record.made_with["meter"] == "0.8%+3"
    assert record.made_with["thermometer"] == "0.5C"
    assert any(line.startswith("Back to ice: ") for line in record.remarks)
    assert any("bath uniform within ± 0.2 K" in line for line in record.assumed)
    assert record.curve.source.startswith("2 readings and the bend of")
    # The same as `characterise` finds.
    found = shell.json("characterise", *BENCH)["curve"]["coefficients"]
    assert [entry["value"] for entry in found] == list(record.curve.coefficients.values())
    assert len(record.readings) == 2


def test_a_file_of_points_becomes_a_sheet(call: Call) -> None:
    done = call("sheet", "bench.csv", "--u-t", "0.2K", "--u-r", "0.5%", "--family",
                 "ntc-10k-3977", "--risk", "10%", "--rule", "simple", *SAVE)  # fmt: skip
    assert done.returncode == 0, done.stderr
    record = read_sheet("sheet.html")
    assert record.points is not None
    assert len(record.points) == 6
    assert record.verdict is not None
    assert record.verdict["rule"].startswith("simple")
    told = ("--u-t", "0.2K", "--u-r", "0.5%", "--family", "ntc-10k-3977", "--risk", "10%")
    checked = answered(call("check", "bench.csv", *told, "--rule", "simple", "--json"))
    assert record.verdict["verdict"] == checked["verdict"]
    assert record.verdict["risk"] == 0.1
    assert "bench.csv" in record.curve.source


def test_a_stored_curve_becomes_a_sheet(call: Call) -> None:
    assert call("fit", "bench.csv", "--equation", "steinhart-hart", "--save", "shop.csv", "--id",
                 "inlet").returncode == 0  # fmt: skip
    done = call("sheet", "--curve", "shop.csv:inlet", "--family", "ntc-10k-3977", *SAVE)
    assert done.returncode == 0, done.stderr
    record = read_sheet("sheet.html")
    curve = tf.read_curve_set("shop.csv")["inlet"]
    assert record.curve.coefficients == curve.coefficients
    assert (record.points, record.verdict, record.title) == (None, None, "inlet")
    assert record.step_k == 1.0


def test_json_is_what_the_sheet_holds(call: Call) -> None:
    answer = answered(call("sheet", *BENCH, "--family", "ntc-10k-3977", *SAVE, "--json"))
    held = document_of(read_sheet("sheet.html"))
    assert (answer["format"], answer["format_version"]) == (FORMAT, FORMAT_VERSION)
    assert answer["saved_to"] == "sheet.html"
    assert answer["sha256"] == held["sha256"]
    assert answer["content"]["curve"] == held["content"]["curve"]
    assert answer["content"]["verdict"]["verdict"] == "cannot tell"


def test_a_file_that_is_there_stays_unless_told(call: Call) -> None:
    Path("sheet.html").write_text("mine", encoding="utf-8")
    done = call("sheet", *BENCH, *SAVE)
    assert done.returncode == 1
    assert "error: sheet.html exists; choose another name, or say --replace" in done.stderr
    assert Path("sheet.html").read_text(encoding="utf-8") == "mine"
    assert call("sheet", *BENCH, *SAVE, "--replace").returncode == 0
    assert read_sheet("sheet.html").points is not None


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        ((*SAVE,), 2, "no reading"),
        (BENCH, 2, "--save"),
        ((*BENCH, *SAVE, "--curve", "shop.csv:inlet"), 2, "leave FILE and readings out"),
        (("bench.csv", *SAVE, "--curve", "shop.csv:inlet"), 2, "leave FILE and readings out"),
        ((*BENCH, *SAVE, "--risk", "5%"), 2, "go with --family and readings"),
        ((*BENCH, *SAVE, "--range", "0C"), 2, "write its ends as 0C:60C"),
        ((*BENCH, *SAVE, "--range", "-90C:60C"), 1, "valid from -40 to 125 °C"),
        ((*BENCH, *SAVE, "--step", "0C"), 2, "is no step"),
        ((*BENCH, "--save", "s.html", "--date", "today"), 2, "write it as 2026-03-21"),
        ((*BENCH, *SAVE, "--family", "ntc-9k"), 2, "ntc-9k"),
        ((*BENCH, *SAVE, "--family", "shop.csv:inlet"), 2,
         "by a registered family, and thermofit check judges by --curve shop.csv:inlet"),
        (("bench.csv", *SAVE), 1, "states no uncertainties"),
        ((*BENCH, "--save", "nowhere/s.html"), 1, "create it first"),
    ],
)  # fmt: skip
def test_wrong_calls_say_what_is_right(
    call: Call, words: tuple[str, ...], status: int, told: str
) -> None:
    done = call("sheet", *words)
    assert done.returncode == status, done.stderr
    assert told in " ".join(done.stderr.split())
    assert not list(Path().glob("*.html"))
