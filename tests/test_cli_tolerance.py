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
        (["check", "bench.csv"], 2, "name one part: --family ID, or --curve SET.csv:ID"),
        (["check", "--family", "ntc-10k-3977"], 2, "give one of"),
        (["check", "--reading", "25C", "--family", "ntc-10k-3977"], 2, "no reading"),
        (["check", "--at", "25C", "--family", "ntc-10k-3977"], 2, "--u-t"),
        (["check", "bench.csv", "--family", "ntc-10k-3977"], 1, "no uncertainty"),
        (["check", "bench.csv", "--family", "ntc-10k-3434", *KNOWN], 1, "no tolerance"),
        (["check", "bench.csv", "--family", "ntc-10k-3977", *KNOWN, "--risk", "0.7"], 2, "half"),
        (["check", "bench.csv", "--family", "ntc-10k-3977", *KNOWN, "--curve", "a.csv:b"], 2,
         "name one part: --family ID, or --curve SET.csv:ID"),
        (["check", "bench.csv", "--family", "shop.csv:inlet", *KNOWN], 2,
         "'shop.csv:inlet' names a curve of a set; say --curve shop.csv:inlet"),
        (["check", "bench.csv", "--curve", "bench.csv:inlet", *KNOWN], 1, "bench.csv"),
        (["check", "bench.csv", "--family", "ntc-10k-3434", *KNOWN], 1,
         "R25 (--r25-pct) and of B (--b-pct)"),
        (["band", "--family", "ntc-10k-3434"], 1, "R25 (--r25-pct) and of B (--b-pct)"),
        (["check", "bench.csv", "--family", "ntc-10k-3977", *KNOWN, "--b-k", "30K"], 1,
         "limit R25 as well (--r25-pct, 0 where R25 is exact)"),
        (["check", "bench.csv", "--family", "pt-1000-iec60751", *KNOWN], 1,
         "in kelvin over a range of temperature (--dt, --dt-from, --dt-to)"),
        (["check", "bench.csv", "--family", "ntc-10k-3977", "--u-t", "0.1K", "--r-column", "9"], 1,
         "9"),
        (["check", "--reading", "0C:32k", "--family", "ntc-10k-3977", "--u-t", "0K", "--u-r", "0%"],
         1, "state --u-t or --u-r above zero"),
        (["check", "--reading", "0C:32k", "--family", "ntc-10k-3977", *KNOWN, "--t-unit", "F"], 2,
         "--t-unit is of a FILE of points"),
        (["check", "--reading", "0C:OL", "--family", "ntc-10k-3977", *KNOWN], 2,
         "'OL' is an overload and no resistance; measure in a higher range, and where the highest "
         "shows it too, sensor or lead is open: thermofit causes"),
        (["convert", "--family", "ntc-10k-3977", "--ohm", "0L"], 2, "'0L' is an overload"),
        (["characterise", "--ice", "O.L", "--meter", "1%"], 2, "'O.L' is an overload"),
    ],
)  # fmt: skip
def test_wrong_calls_and_bad_data_are_told_apart(
    here: Here, words: list[str], status: int, complaint: str
) -> None:
    done = here(*words)
    assert done.returncode == status, done.stderr
    assert complaint in done.stderr
    assert done.stdout == ""


# -- curves of one's own, and tolerances in other forms ---------------------------


@pytest.fixture
def own_set(here: Here) -> Here:
    """A set with a measured curve, and with the same as a part with a tolerance."""
    curve = tf.family("ntc-10k-3977").curve
    stated = tf.Family(curve.replace(id="stated"), r25_tol_pct=1.0, b_tol_pct=0.5)
    tf.write_curve_set(here.folder / "shop.csv", [stated, curve.replace(id="measured")])
    return here


def test_a_sensor_is_judged_by_a_curve_of_a_set(own_set: Here) -> None:
    points = tf.read_points(own_set.folder / "bench.csv")
    known = tf.read_curve_set(own_set.folder / "shop.csv")
    by_family = tf.check(points, known.family("stated"), u_t_k=0.1, u_r_pct=0.5)
    answer = own_set.json("check", "bench.csv", "--curve", "shop.csv:stated", *KNOWN)
    assert (answer["family"], answer["tolerance"]) == ("stated", str(by_family.tolerance))
    assert answer["probability"] == by_family.probability
    # A tolerance that is typed in takes the place of the row's, and a plain curve needs one.
    wide = ("--r25-pct", "5", "--b-pct", "2")
    for id_ in ("stated", "measured"):
        answer = own_set.json("check", "bench.csv", "--curve", f"shop.csv:{id_}", *wide, *KNOWN)
        by_hand = tf.check(points, known[id_], r25_pct=5, b_pct=2, u_t_k=0.1, u_r_pct=0.5)
        assert answer["verdict"] == by_hand.verdict == "accept"
        assert answer["probability"] == by_hand.probability
    plain = own_set("check", "bench.csv", "--curve", "shop.csv:measured", *KNOWN)
    assert plain.returncode == 1 and "measured states no tolerance" in plain.stderr


def test_limits_and_many_sensors_go_by_a_curve_of_a_set_too(own_set: Here) -> None:
    part = ("--curve", "shop.csv:stated")
    limits = tf.acceptance_limits(
        tf.read_curve_set(own_set.folder / "shop.csv").family("stated"), [25.0], u_t_k=0.02,
        u_r_pct=0.1,
    )  # fmt: skip
    answer = own_set.json("check", "--at", "25C", *part, "--u-t", "0.02K", "--u-r", "0.1%")
    assert answer["family"] == "stated"
    assert answer["rows"] == limits.to_frame().to_dict(orient="records")
    (own_set.folder / "boxes.csv").write_text("box,t_c,r_ohm\n1,0,32600\n1,70,1760\n", "utf-8")
    many = own_set.json("check", "boxes.csv", "--sensor-column", "box", *part, *KNOWN)
    assert many["family"] == "stated"


def test_platinum_is_judged_by_a_tolerance_in_kelvin(here: Here) -> None:
    words = ("check", "--family", "pt-1000-iec60751", "--dt", "0.6K", "--dt-from", "0C", "--dt-to",
             "100C", "--u-t", "0.02K", "--u-r", "0.02%")  # fmt: skip
    good = here.json(*words, "--reading", "0C:1.0004k", "--reading", "100C:1.3850k")
    assert good["verdict"] == "accept"
    # One degree is 3.85 Ω.
    off = here.json(*words, "--reading", "0C:1.0060k", "--reading", "100C:1.3910k")
    assert off["verdict"] == "reject"
    tolerance = tf.Tolerance.of(dt_k=0.6, dt_range_c=(0, 100))
    points = tf.Points([0.0, 100.0], [1006.0, 1391.0], u_t_k=0.02)
    verdict = tf.check(points, tf.family("pt-1000-iec60751"), tolerance=tolerance, u_r_pct=0.02)
    assert (off["tolerance"], off["gamma"]) == (str(tolerance), verdict.gamma)


def test_a_stored_tolerance_counts_in_every_command(own_set: Here) -> None:
    at = ("--from", "0C", "--to", "50C")
    band = own_set.json("band", "--curve", "shop.csv:stated", *at)
    by_hand = own_set.json(
        "band", "--curve", "shop.csv:measured", "--r25-pct", "1", "--b-pct", "0.5", *at
    )
    assert band["rows"] == by_hand["rows"]
    circuit = ("circuit", "--pullup", "10k", "--supply", "5V", "--bits", "10", *at)
    assert "R(25 °C) ± 1 %, B ± 0.5 %" in own_set(*circuit, "--curve", "shop.csv:stated").stdout


def test_what_a_tolerance_takes_as_exact_has_no_uncertainty_to_show(here: Here) -> None:
    answer = here("check", "--reading", "0C:17.0k", "--reading", "70C:865R", *KNOWN, "--family",
                  "ntc-5k-3988")  # fmt: skip
    (place,) = [line for line in answer.stdout.splitlines() if line.startswith("  R25 off by")]
    assert place.endswith("; B as nominal") and "nan" not in answer.stdout


def test_what_is_guessed_of_a_file_names_the_options(here: Here) -> None:
    (here.folder / "plain.csv").write_text("T,R\n0,32600\n70,1760\n", "utf-8")
    for words in (("check", "plain.csv", "--family", "ntc-10k-3977"), ("identify", "plain.csv")):
        done = here(*words, *KNOWN)
        assert "state the unit (--r-unit)" in done.stderr and "(r_unit)" not in done.stderr
        alone = here(*words)
        assert alone.returncode == 1
        assert "(--u-t)" in alone.stderr and "u_t_k" not in alone.stderr
