"""``thermofit convert --log``: a log, file to file, as a technician meets it."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result

import thermofit as tf
from tests.shell import Shell
from thermofit.cli import convertlog
from thermofit.cli.convert import command
from thermofit.logs import convert_log

# An invented log of the air sensor of a glasshouse.
LOG = 'time,house,ntc_ohm\n06:00,007,12500\n06:10,007,\n06:20,"a, b",9870.50\n'
PART = ("--family", "ntc-10k-3977")


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "july.csv").write_text(LOG)
    return tmp_path


def called(*words: str) -> Result:
    # Errors of the library are turned into messages by the group of commands.
    return CliRunner().invoke(command, words)


def failed(*words: str) -> tuple[int, str]:
    from thermofit.cli.app import _cli

    done = CliRunner().invoke(_cli, ("convert", *words))
    return done.exit_code, done.stderr


BASIC = (*PART, "--log", "july.csv", "--column", "ntc_ohm", "--save", "july-c.csv")


def test_the_example_of_the_help_converts_a_log(folder: Path) -> None:
    done = called(*BASIC)
    assert done.exit_code == 0, done.output
    t_c = tf.family("ntc-10k-3977").curve.temperature([12500.0, 9870.5]).tolist()
    assert (folder / "july-c.csv").read_text() == (
        f"time,house,ntc_ohm,t_c\n06:00,007,12500,{t_c[0]!r}\n06:10,007,,\n"
        f'06:20,"a, b",9870.50,{t_c[1]!r}\n'
    )
    assert done.stderr.splitlines() == [
        "read: cells separated by ',', decimal sign '.'",
        "read: column 3 'ntc_ohm' read as resistance in Ω, from its header",
        "saved: july-c.csv",
    ]
    assert done.stdout.splitlines() == [
        "3 rows of july.csv converted to july-c.csv, new: 't_c'",
        f"  from {min(t_c):.3f} °C to {max(t_c):.3f} °C",
        "  1 row without a reading, blank, the first of them 3",
    ]


def test_the_json_is_the_summary(folder: Path) -> None:
    done = called(*BASIC, "--json")
    answer = json.loads(done.stdout)
    assert (answer["format"], answer["format_version"]) == ("thermofit-convert-log", 1)
    want = convert_log(
        "july.csv", "again.csv", tf.family("ntc-10k-3977").curve, column="ntc_ohm"
    )  # fmt: skip
    for name in ("rows", "blank", "first_blank", "unusable", "outside", "lowest", "highest"):
        assert answer[name] == getattr(want, name)
    assert answer["new_columns"] == ["t_c"]
    assert answer["notes"] == list(want.notes)
    assert (answer["curve_id"], answer["t_min_c"]) == ("ntc-10k-3977", -40.0)
    # What is not known is null.
    (folder / "none.csv").write_text("r_ohm\n")
    empty = json.loads(called(*PART, "--log", "none.csv", "--save", "x.csv", "--json").stdout)
    assert (empty["rows"], empty["lowest"]) == (0, None)


def test_every_option_reaches_the_library(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    seen: dict[str, Any] = {}

    def spy(*paths: Any, **how: Any) -> Any:
        seen.update(how, paths=paths[:2])
        raise tf.ThermofitError("enough")

    monkeypatch.setattr("thermofit.logs.convert_log", spy)
    called(
        *PART, "--log", "a.csv", "--save", "b.csv", "--column", "2", "--unit", "kohm", "--strict",
        "--new-column", "n", "--u-column", "u", "--u-r", "0.5%", "--unusable", "blank",
        "--decimal", ",", "--delimiter", ";", "--replace",
    )  # fmt: skip
    seen.pop("progress")
    assert 1 <= seen.pop("workers") <= 4
    assert seen == {
        "paths": ("a.csv", "b.csv"), "column": "2", "unit": "kohm", "to": "temperature",
        "strict": True, "new_column": "n", "u_column": "u", "u_r_pct": 0.5, "u_r_ohm": 0.0,
        "u_t_k": 0.0, "unusable": "blank", "decimal": ",", "delimiter": ";", "overwrite": True,
    }  # fmt: skip
    called(*PART, "--log", "a.csv", "--save", "b", "--to", "resistance", "--u-t", "0.1K",
           "--u-column", "u")  # fmt: skip
    assert (seen["to"], seen["u_t_k"], seen["unusable"], seen["overwrite"]) == (
        "resistance", 0.1, "refuse", False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("content", "more", "problem"),
    [
        ("ntc_ohm\nOL\n", (), "row 2, column 'ntc_ohm', value 'OL': not a number; correct it, or "
         "let such cells stay blank (--unusable blank)"),
        ("ntc_ohm\n1\n", ("--strict",), "value '1': outside the curve's valid range of -40 to "
         "125 °C; leave --strict out"),
        ("ntc\n1\n", ("--column", "1"), "state it (--unit): ohm or kohm"),
        ("a,b\n1,2\n", ("--column", "ntc"), "name another one (--column)"),
        ("a;ntc_ohm,b\n1,2\n", (), "state the right one (--delimiter)"),
        ("a;ntc_ohm\n1;1,234\n", (), "state it (--decimal)"),
        ("ntc_ohm\n1,2\n", (), "or state the delimiter (--delimiter)"),
        ("ntc_ohm,t_c\n1,2\n", (), "choose another name (--new-column, --u-column)"),
        ("ntc_ohm\n1\n", ("--save", "july.csv"), "it is the log itself"),
        ("ntc_ohm\n1\n", ("--save", "there.csv"), "that it may be replaced (--replace)"),
        ("ntc_ohm\n1\n", ("--u-column", "u"), "leave --u-column out"),
    ],
)  # fmt: skip
def test_refusals_have_status_1_and_name_options(
    folder: Path, content: str, more: tuple[str, ...], problem: str
) -> None:
    (folder / "july.csv").write_text(content)
    (folder / "there.csv").write_text("x")
    part = PART
    if "--u-column" in more:
        tf.write_curve_set("plain.csv", [tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="plain")])
        part = ("--curve", "plain.csv:plain")
    status, said = failed(*part, *BASIC[2:], *more)
    assert status == 1
    assert said.startswith("error: ")
    assert problem in said
    assert not (folder / "july-c.csv").exists()


@pytest.mark.parametrize(
    ("words", "problem"),
    [
        ((*PART, "--log", "july.csv"), "--log and --save go together"),
        ((*PART, "--save", "x.csv"), "--save goes with --log"),
        ((*PART, "--ohm", "5k", "--new-column", "x"), "--new-column goes with --log"),
        ((*PART, "--ohm", "5k", "--replace"), "--replace goes with --log"),
        ((*BASIC, "--ohm", "5k"), "leave them out with --log"),
        ((*BASIC, "--coverage", "0.9"), "--coverage is of intervals"),
        ((*BASIC, "--u-t", "1K"), "--u-t with --to resistance"),
        ((*BASIC, "--u-r", "1%"), "need --u-column"),
        ((*BASIC, "--r25", "10k"), "leave --r25 out"),
        (("--family", "ntc-ratio-3544", *BASIC[2:]), "a log needs the curve of a part"),
        (BASIC[2:], "name one curve"),
    ],
)  # fmt: skip
def test_wrong_calls_have_status_2(folder: Path, words: tuple[str, ...], problem: str) -> None:
    status, said = failed(*words)
    assert status == 2
    assert problem in " ".join(said.split())
    assert not (folder / "july-c.csv").exists()


def test_what_is_outside_the_range_is_a_warning(folder: Path) -> None:
    (folder / "july.csv").write_text("ntc_ohm\n10000\n100\n90\n")
    status, said = failed(*BASIC)
    assert status == 0
    assert "warning: july.csv: 2 values are outside" in said
    assert "the first in row 3" in said
    assert (folder / "july-c.csv").exists()


def test_single_values_need_none_of_what_logs_need(shell: Shell) -> None:
    """The usual call starts as quickly as it did."""
    program = (
        "import sys; from thermofit.cli.app import _cli\n"
        "try: _cli(['convert', '--family', 'ntc-10k-3977', '--ohm', '5k'])\n"
        "except SystemExit: pass\n"
        "heavy = {'pandas', 'pyarrow', 'gzip', 'thermofit.logs', 'thermofit.cli.circuitvalues',\n"
        "         'thermofit.pointsfile', 'thermofit.tolerance'}\n"
        "print(sorted(heavy & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program],
        cwd=shell.folder,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_stored_curve_converts_a_log_as_a_process(shell: Shell) -> None:
    saved = shell("fit", "bench.csv", "--save", "shop.csv", "--id", "inlet")
    assert saved.returncode == 0, saved.stderr
    (shell.folder / "july.csv").write_text(LOG)
    done = shell(
        "convert", "--curve", "shop.csv:inlet", "--log", "july.csv", "--column", "ntc_ohm",
        "--save", "july-c.csv", "--u-column", "u_t_k", "--u-r", "0.5%",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    lines = (shell.folder / "july-c.csv").read_text().splitlines()
    assert lines[0] == "time,house,ntc_ohm,t_c,u_t_k"
    curve = tf.read_curve_set(shell.folder / "shop.csv")["inlet"]
    want = curve.temperature_interval(12500.0, 62.5)
    got = [float(cell) for cell in lines[1].split(",")[3:]]
    np.testing.assert_allclose(got, [want.value, want.standard_uncertainty], rtol=1e-13)


def test_the_log_options_stand_together_in_the_help() -> None:
    shown = called("--help").stdout
    section = shown[shown.index("A log, file to file:") :]
    options = convertlog.log_options(lambda: None).__click_params__  # type: ignore[attr-defined]
    for option in options:
        assert f"  {option.opts[0]} " in section
