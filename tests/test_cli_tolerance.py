"""``thermofit band`` and ``thermofit check`` as a user meets them."""

from __future__ import annotations

import csv
import io

import pytest

import thermofit as tf
from tests.shell import Here, Shell

KNOWN = ("--u-t", "0.1K", "--u-r", "0.5%")


def test_a_band_as_table_csv_and_json_is_one_band(shell: Shell) -> None:
    words = ("band", "--family", "ntc-10k-3977", "--from", "0C", "--to", "50C", "--step", "25K")
    band = tf.tolerance_band(tf.family("ntc-10k-3977"), [0.0, 25.0, 50.0])
    answer = shell.json(*words)
    assert [row["r_high_ohm"] for row in answer["rows"]] == pytest.approx(list(band.r_high_ohm))
    rows = list(csv.DictReader(io.StringIO(shell(*words, "--csv").stdout)))
    assert [float(row["dt_low_k"]) for row in rows] == pytest.approx(list(band.dt_low_k))
    assert "10.500 kΩ" in shell(*words).stdout


def test_a_typed_in_part_has_the_band_of_the_textbook(here: Here) -> None:
    answer = here.json(
        "band", "--r25", "10k", "--b", "3950K", "--r25-pct", "1", "--b-pct", "1",
        "--from", "25C", "--to", "25C",
    )  # fmt: skip
    assert answer["rows"][0]["r_high_ohm"] == pytest.approx(10100.0)
    lopsided = here.json("band", "--family", "ntc-10k-3434", "--r25-pct", "-2..5",
                          "--from", "25C", "--to", "25C")  # fmt: skip
    assert lopsided["rows"][0]["dr_low_pct"] == pytest.approx(-2.0)
    platinum = here.json("band", "--family", "pt-100-iec60751", "--class", "B",
                          "--from", "0C", "--to", "0C")  # fmt: skip
    assert platinum["rows"][0]["dt_high_k"] == pytest.approx(0.3)


def test_the_last_temperature_is_in_the_table_whatever_the_step(here: Here) -> None:
    answer = here.json("band", "--family", "ntc-10k-3977", "--from", "-3C", "--to", "47C")
    assert [row["t_c"] for row in answer["rows"]] == [-3.0, 0.0, 10.0, 20.0, 30.0, 40.0, 47.0]


def test_a_good_sensor_is_accepted_and_a_shifted_one_rejected(shell: Shell) -> None:
    good = shell("check", "bench.csv", "--family", "ntc-10k-3977", *KNOWN)
    assert good.returncode == 0
    assert good.stdout.startswith("accept")
    assert "does not exclude a fault" in good.stderr.replace("\n", " ")
    shifted = shell("check", "--reading", "0C:36k", "--reading", "25C:11k", "--reading",
                    "70C:1.92k", "--family", "ntc-10k-3977", *KNOWN)  # fmt: skip
    assert shifted.returncode == 0
    assert shifted.stdout.startswith("reject")
    assert "R25" in shifted.stdout


def test_json_of_a_verdict_is_that_of_the_library(shell: Shell) -> None:
    answer = shell.json("check", "bench.csv", "--family", "ntc-10k-3977", *KNOWN)
    p = tf.read_points(shell.folder / "bench.csv")
    verdict = tf.check(
        tf.Points(p.t_c, p.r_ohm, u_t_k=0.1, u_r_ohm=0.005 * p.r_ohm), tf.family("ntc-10k-3977")
    )
    assert answer["verdict"] == verdict.verdict
    assert answer["probability"] == pytest.approx(verdict.probability)
    assert len(answer["readings"]) == 6


def test_a_bench_table_says_what_to_accept(here: Here) -> None:
    done = here("check", "--at", "23.4C", "--family", "ntc-10k-3977", *KNOWN)
    assert done.returncode == 0
    limits = tf.acceptance_limits(tf.family("ntc-10k-3977"), 23.4, u_t_k=0.1, u_r_pct=0.5)
    row = here.json("check", "--at", "23.4C", "--family", "ntc-10k-3977", *KNOWN)["rows"][0]
    assert row == pytest.approx(limits.to_frame().to_dict(orient="records")[0], nan_ok=True)


@pytest.mark.parametrize(
    ("words", "status", "complaint"),
    [
        (["band"], 2, "name one part"),
        (["band", "--family", "ntc-10k-3977", "--r25", "10k", "--b", "3950K"], 2, "name one part"),
        (["band", "--r25", "10k"], 2, "go together"),
        (["band", "--family", "ntc-10k-3977", "--csv", "--json"], 2, "not both"),
        (["band", "--family", "ntc-10k-3977", "--step", "0K"], 2, "above zero"),
        (["band", "--family", "ntc-10k-3977", "--from", "9C", "--to", "1C"], 2, "lies above"),
        (["band", "--family", "ntc-10k-3977", "--dt", "0.2K"], 2, "go together"),
        (["band", "--family", "ntc-10k-3434"], 1, "no tolerance is known"),
        (["band", "--family", "ntc-10k-3977", "--r25-pct", "120"], 1, "below 100 %"),
        (["band", "--family", "ntc-10k-3977", "--r25-pct", "-3"], 1, "not negative"),
        (["band", "--family", "ntc-10k-3977", "--to", "300C"], 1, "outside the valid range"),
        (["check", "bench.csv"], 2, "--family"),
        (["check", "--family", "ntc-10k-3977"], 2, "give one of"),
        (["check", "--reading", "25C", "--family", "ntc-10k-3977"], 2, "no reading"),
        (["check", "--at", "25C", "--family", "ntc-10k-3977"], 2, "--u-t"),
        (["check", "bench.csv", "--family", "ntc-10k-3977"], 1, "no uncertainty"),
        (["check", "bench.csv", "--family", "ntc-10k-3434", *KNOWN], 1, "no tolerance"),
        (["check", "bench.csv", "--family", "ntc-10k-3977", *KNOWN, "--risk", "0.7"], 2, "half"),
    ],
)
def test_wrong_calls_and_bad_data_are_told_apart(
    here: Here, words: list[str], status: int, complaint: str
) -> None:
    done = here(*words)
    assert done.returncode == status, done.stderr
    assert complaint in done.stderr
    assert done.stdout == ""
