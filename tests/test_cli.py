"""The command line as a user meets it; where it matters, real processes and exit statuses."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import thermofit as tf
from tests.shell import BENCH, Here, Shell


def test_fit_store_and_convert(shell: Shell) -> None:
    form = ("--equation", "steinhart-hart", "--u-t", "0.1K", "--u-r", "0.5%")
    fitted = shell("fit", "bench.csv", *form, "--save", "shop.csv", "--id", "inlet")
    assert fitted.returncode == 0
    assert "Steinhart–Hart, 6 points" in fitted.stdout
    assert "column 2 'R (kΩ)' read as resistance in kΩ" in fitted.stderr
    assert "saved: inlet in shop.csv" in fitted.stderr
    converted = shell("convert", "--curve", "shop.csv:inlet", "--ohm", "4.7k", "--u-r", "0.5%")
    assert converted.returncode == 0
    assert converted.stderr == ""
    points = tf.read_points(shell.folder / "bench.csv")
    f = tf.fit(
        tf.Points(points.t_c, points.r_ohm, u_t_k=0.1, u_r_ohm=0.005 * points.r_ohm),
        equation="steinhart-hart",
    )
    expected = f.temperature(4700.0, 0.005 * 4700.0)
    line = converted.stdout.splitlines()[1].split()
    assert float(line[2]) == pytest.approx(expected.value, abs=5e-4)
    assert float(line[4]) == pytest.approx(expected.standard_uncertainty, abs=6e-3)


def test_json_of_a_fit_carries_units_and_a_format_number(shell: Shell) -> None:
    answer = shell.json("fit", "bench.csv", "--u-t", "0.1K", "--equation", "beta")
    assert (answer["format"], answer["format_version"]) == ("thermofit-fit", 1)
    assert {"name": "b_k", "unit": "K"}.items() <= answer["curve"]["coefficients"][1].items()
    assert answer["curve"]["t_max_c"] == 70.0
    assert answer["curve"]["degrees_of_freedom"] is None  # infinite: they were stated
    assert set(answer["points"][0]) == {
        "t_c", "r_ohm", "u_t_k", "residual_k", "residual_pct", "loo_k",
    }  # fmt: skip
    points = tf.read_points(shell.folder / "bench.csv")
    f = tf.fit(tf.Points(points.t_c, points.r_ohm, u_t_k=0.1), equation="beta")
    assert answer["chi2"] == pytest.approx(f.chi2)
    assert np.array(answer["curve"]["covariance"]) == pytest.approx(f.covariance)


def test_json_of_conversions_and_families(shell: Shell) -> None:
    answer = shell.json("convert", "--family", "ntc-10k-3977", "--at", "25C", "--at", "77F")
    assert answer["format"] == "thermofit-convert"
    first, second = answer["values"]
    assert first["r_ohm"] == pytest.approx(second["r_ohm"], rel=1e-12)
    assert first["standard_uncertainty_ohm"] is None
    listed = shell.json("families")
    assert {"ntc-10k-3434", "pt-100-iec60751"} <= {entry["id"] for entry in listed["families"]}
    one = shell.json("families", "ntc-10k-3977")
    assert one["families"][0]["b_tol_pct"] == 0.75


@pytest.mark.parametrize(("written", "r_ohm"), [("4.7k", 4700), ("4k7", 4700), ("4,7 kΩ", 4700)])
def test_values_carry_their_units(here: Here, written: str, r_ohm: float) -> None:
    answer = here.json("convert", "--family", "ntc-10k-3977", "--ohm", written)
    assert answer["values"][0]["r_ohm"] == r_ohm


def test_points_come_from_standard_input_too(shell: Shell) -> None:
    done = shell("fit", "-", "--equation", "beta", stdin=BENCH)
    assert done.returncode == 0, done.stderr
    assert "Constant B, 6 points" in done.stdout


def test_a_table_of_a_family_is_shown(shell: Shell) -> None:
    shown = shell("families", "ntc-10k-3434").stdout
    assert "27.219 kΩ" in shown  # the row at 0 °C of the published table
    assert "Linux kernel" in shown
    assert "ntc-47k-4108" in shell("families").stdout


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (["convert", "--ohm", "4.7k"], "name one curve"),
        (["convert", "--family", "ntc-10k-3977"], "--ohm or --at"),
        (["convert", "--family", "ntc-10k-3977", "--ohm", "1k", "--at", "3C"], "not both"),
        (["convert", "--family", "ntc-10k-3977", "--ohm", "4.7q"], "no resistance unit"),
        (["convert", "--family", "ntc-10k-3977", "--ohm", "-5"], "not a positive resistance"),
        (["convert", "--family", "ntc-10k-3977", "--at", "-300C"], "below absolute zero"),
        (["convert", "--family", "ntc-10k-3978", "--at", "3C"], "ntc-10k-3977"),
        (["convert", "--curve", "shop.csv", "--at", "3C"], "SET.csv:ID"),
        (["fit", "nowhere.csv"], "nowhere.csv"),
        (["fit", "bench.csv", "--equation", "steinhard-hart"], "steinhart-hart"),
        (["fit", "bench.csv", "--save", "shop.csv"], "--save and --id"),
        (["fit", "bench.csv", "--note", "x"], "go with --save"),
        (["fit", "bench.csv", "--u-t", "-1K"], "not"),
        (["families", "ntc-10k-3978"], "ntc-10k-3977"),
        (["frobnicate"], "frobnicate"),
    ],
)
def test_a_wrong_call_ends_with_two(here: Here, words: list[str], complaint: str) -> None:
    done = here(*words)
    assert done.returncode == 2
    assert complaint in done.stderr
    assert done.stdout == ""


def test_the_system_sees_the_status_of_a_wrong_call(shell: Shell) -> None:
    done = shell("convert", "--ohm", "4.7k")
    assert (done.returncode, done.stdout) == (2, "")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("content", "complaint"),
    [
        ("", "empty"),
        ("T (°C)\n1\n2\n", "bad.csv"),
        ("T (°C),R (Ω)\n0,32640\n25,abc\n50,xyz\n", "row 3"),
        ("T (°C),R (Ω)\n0,32640\n25,-4\n", "row 3"),
        ("T (°C),R (Ω)\n25,10010\n25,10010\n", "does not follow the temperature"),
        ("T (°C),R (Ω)\n0,100\n25,109.7\n", "callendar-van-dusen"),
    ],
)
def test_bad_data_end_with_one_and_nothing_is_written(
    here: Here, content: str, complaint: str
) -> None:
    (here.folder / "bad.csv").write_text(content, encoding="utf-8")
    before = sorted(path.name for path in here.folder.iterdir())
    done = here("fit", "bad.csv", "--save", "shop.csv", "--id", "inlet")
    assert done.returncode == 1
    assert complaint in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert sorted(path.name for path in here.folder.iterdir()) == before


def test_a_saved_curve_is_not_overwritten_unless_asked(shell: Shell) -> None:
    words = ("fit", "bench.csv", "--equation", "beta", "--save", "shop.csv", "--id", "inlet")
    assert shell(*words).returncode == 0
    saved = (shell.folder / "shop.csv").read_bytes()
    again = shell(*words)
    assert again.returncode == 1
    assert "'inlet'" in again.stderr
    assert again.stderr.endswith("choose another --id, or say --replace\n")
    assert (shell.folder / "shop.csv").read_bytes() == saved
    assert shell(*words, "--replace", "--note", "second try").returncode == 0
    assert tf.read_curve_set(shell.folder / "shop.csv")["inlet"].note == "second try"


@pytest.mark.parametrize("id_", ["../inlet", "a/b", "=1+1", "", ".hidden", "aux"])
def test_ids_that_play_tricks_are_refused(here: Here, id_: str) -> None:
    done = here("fit", "bench.csv", "--equation", "beta", "--save", "shop.csv", "--id", id_)
    assert done.returncode in (1, 2)
    assert not (here.folder / "shop.csv").exists()
    assert "Traceback" not in done.stderr


def test_outside_the_range_is_told_and_strict_refuses(shell: Shell) -> None:
    done = shell("convert", "--family", "ntc-10k-3977", "--at", "200C")
    assert done.returncode == 0
    assert "warning: 200 °C is outside" in done.stderr
    strict = shell("convert", "--family", "ntc-10k-3977", "--at", "200C", "--strict")
    assert (strict.returncode, strict.stdout) == (1, "")


def test_a_value_that_the_curve_does_not_have_is_no_success(shell: Shell) -> None:
    done = shell("convert", "--family", "ntc-10k-3977", "--ohm", "1000000G")
    assert done.returncode == 1
    assert "no value there" in done.stderr


def test_file_and_option_may_not_both_state_uncertainties(here: Here) -> None:
    (here.folder / "own.csv").write_text("t_c,r_ohm,u_t_k\n0,32640,0.1\n25,10010,0.1\n")
    done = here("fit", "own.csv", "--u-t", "0.2K")
    assert done.returncode == 1
    assert "leave --u-t out" in done.stderr


def test_help_and_version(shell: Shell) -> None:
    for words in (("--help",), ("fit", "--help"), ("convert", "--help"), ("families", "--help")):
        done = shell(*words)
        assert done.returncode == 0
        assert "Usage:" in done.stdout
    assert tf.__version__ in shell("--version").stdout


def test_a_terminal_without_the_letters_gets_substitutes(
    shell: Shell, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", "cp1252")
    done = shell("families", "ntc-10k-3434")
    assert done.returncode == 0
    assert "27.219 k?" in done.stdout


def test_a_family_without_r25_is_not_taken_for_one_ohm(here: Here) -> None:
    refused = here("convert", "--family", "ntc-ratio-3544", "--ohm", "10k")
    assert (refused.returncode, refused.stdout) == (2, "")
    assert "--r25" in refused.stderr
    answer = here.json("convert", "--family", "ntc-ratio-3544", "--ohm", "10k", "--r25", "10k")
    assert answer["values"][0]["t_c"] == pytest.approx(25.0)
    assert answer["values"][0]["r_ohm"] == pytest.approx(10e3)
    row = "id,equation,c0,c1,ratio_only\nany,beta,1,3544,true\n"
    (here.folder / "ratio.csv").write_text(row)
    assert here("convert", "--curve", "ratio.csv:any", "--ohm", "10k").returncode == 2


def test_large_uncertainties_do_not_bring_digits_of_nothing(here: Here) -> None:
    done = here("convert", "--family", "ntc-10k-3977", "--at", "-40C", "--u-t", "0.1K")
    assert done.returncode == 0
    here("fit", "bench.csv", "--u-t", "0.3K", "--equation", "beta",
          "--save", "shop.csv", "--id", "inlet")  # fmt: skip
    line = here("convert", "--curve", "shop.csv:inlet", "--at", "0C").stdout.splitlines()[1]
    u, low, high = line.split()[-3:]
    assert all(text.isdigit() for text in (u, low, high))
    assert len(u.strip("0")) <= 2


def test_the_last_reading_of_a_fit_is_inside_for_json_too(here: Here) -> None:
    assert here("fit", "bench.csv", "--save", "shop.csv", "--id", "inlet").returncode == 0
    answer = here.json("convert", "--curve", "shop.csv:inlet", "--ohm", "1.757k")
    assert answer["values"][0]["outside_valid_range"] is False


def test_what_was_stored_is_said_even_if_printing_fails(shell: Shell) -> None:
    full = Path("/dev/full")
    if not full.exists():
        pytest.skip("this system has no /dev/full")
    with full.open("w") as nowhere:
        done = subprocess.run(
            [sys.executable, "-m", "thermofit", "fit", "bench.csv", "--save", "s.csv", "--id", "a"],
            cwd=shell.folder, stdout=nowhere, stderr=subprocess.PIPE, text=True, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert "saved: a in s.csv" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_guess_is_told_once(shell: Shell) -> None:
    (shell.folder / "bare.csv").write_text("T,R\n0,32640\n25,10010\n70,1757\n")
    done = shell("fit", "bare.csv")
    assert done.returncode == 0
    assert "warning: " in done.stderr
    assert len(set(done.stderr.splitlines())) == len(done.stderr.splitlines())
    assert done.stderr.count("°C taken") + done.stderr.count("taken as °C") <= 1
