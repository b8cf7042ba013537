"""``thermofit identify`` as a technician meets it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

import thermofit as tf
from tests.shell import BENCH, Shell
from thermofit.cli.identify import command
from thermofit.errors import InputError

# Invented readings of an aspirated air sensor from a glasshouse.
ROOM = ("--reading", "21C:11.95k", "--u-t", "0.5K", "--u-r", "0.2%")
BATHS = ("--reading", "0C:7.37k", "--reading", "70C:394", "--u-t", "0.1K", "--u-r", "0.1%")


def call(*words: str) -> Result:
    return CliRunner().invoke(command, words)


def in_process(*words: str) -> Any:
    done = call(*words, "--json")
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


def test_a_reading_typed_in_is_the_answer_of_the_library(shell: Shell) -> None:
    done = shell("identify", *ROOM)
    assert done.returncode == 0
    found = tf.identify(tf.Points(21.0, 11950.0, u_t_k=0.5, u_r_ohm=0.002 * 11950.0))
    assert done.stdout == f"{found}\n"
    assert done.stderr.startswith("caution: Measure with both leads disconnected")
    assert done.stderr.count("\n") == 1


def test_json_says_all_that_the_library_does() -> None:
    answer = in_process(*ROOM)
    found = tf.identify(tf.Points(21.0, 11950.0, u_t_k=0.5, u_r_ohm=0.002 * 11950.0))
    assert (answer["format"], answer["format_version"]) == ("thermofit-identify", 1)
    assert answer["leading"] == found.leading
    assert found.group is not None and answer["group"] == list(found.group.ids)
    assert answer["credible_set"] == list(found.credible_set(answer["coverage"]))
    for row, own in zip(answer["answers"], found.rows, strict=True):
        assert (row["id"], row["tolerance"]) == (own.id, own.tolerance)
        assert row["probability"] == pytest.approx(own.probability)
        assert row["off_k"] == (pytest.approx(own.off_k) if own.id != "none of these" else None)
    both = answer["another_ntc_probability"] + answer["no_curve_probability"]
    assert both == pytest.approx(found.none_probability)
    plan = found.next_reading
    assert plan is not None
    assert answer["next_reading"]["t_c"] == plan.t_c
    apart = answer["next_reading"]["separation"]
    assert [entry["answer"] for entry in apart] == list(plan.others)
    assert len(answer["next_reading"]["tried"]) == len(plan.tried_c)
    assert answer["other_r25"] is None
    reasons = {entry["id"]: entry["reason"] for entry in answer["not_compared"]}
    assert reasons == dict(found.not_compared)
    assert answer["notes"] == list(found.notes)
    assert answer["readings"][0]["u_r_ohm"] == pytest.approx(23.9)


def test_temperatures_and_resistances_carry_their_units() -> None:
    one = in_process("--reading", "70F:11950", "--u-t", "0.9F", "--u-r", "24ohm")
    assert one["readings"] == [
        {"t_c": pytest.approx((70 - 32) / 1.8), "r_ohm": 11950.0, "u_t_k": pytest.approx(0.5),
         "u_r_ohm": 24.0},
    ]  # fmt: skip


def test_a_file_is_read_as_by_the_other_commands(tmp_path: Path) -> None:
    """The invented bench readings, in kΩ with decimal commas."""
    path = tmp_path / "bench.csv"
    path.write_text(BENCH, encoding="utf-8")
    done = call(str(path), "--u-t", "0.2K", "--u-r", "0.5%")
    assert done.exit_code == 0
    assert done.stdout.splitlines()[0].startswith("undecided between 2 answers; the first is ntc-")
    assert "read: column 2 'R (kΩ)' read as resistance in kΩ" in done.stderr
    answer = in_process(str(path), "--u-t", "0.2K", "--u-r", "0.5%")
    assert {"ntc-10k-3977", "ntc-10k-3950"} == set(answer["credible_set"])
    assert any("kΩ" in line for line in answer["read_as"])
    assert len(answer["readings"]) == 6


def test_with_r25_free_the_material_of_another_r25_is_found() -> None:
    listed, free = in_process(*BATHS), in_process(*BATHS, "--r25", "free")
    assert listed["leading"] == "none of these"
    assert listed["other_r25"]["id"] == free["leading"] == "ntc-10k-3977"
    assert listed["other_r25"]["r25_ohm"] == pytest.approx(free["answers"][0]["r25_ohm"])
    assert free["answers"][0]["r25_ohm"] == pytest.approx(2255.0, abs=15.0)
    assert listed["answers"][1]["r25_ohm"] is None


@pytest.fixture
def own_set(tmp_path: Path) -> Path:
    """Families of a workshop's own: invented, 2252 Ω of a known bend."""
    curve = tf.family("ntc-10k-3977").curve
    t_c = [0, 10, 25, 40, 55, 70]
    own = tf.Curve.from_table(t_c, 0.2252 * curve.resistance(t_c), id="shop-2k2")
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [tf.Family(own, r25_tol_pct=2.0, b_tol_pct=1.0, source_kind="table")])
    return path


def test_the_tolerance_of_families_that_state_none_can_be_said() -> None:
    """Not that of ntc-10k-3977, which states its own."""
    usual, wide = in_process(*ROOM), in_process(*ROOM, "--assumed-r25-pct", "10%")
    tolerances = [
        {row["id"]: row["tolerance"] for row in each["answers"]} for each in (usual, wide)
    ]
    assert tolerances[0]["ntc-10k-3950"] == "R25 ± 5 % (assumed), B ± 2 % (assumed)"
    assert tolerances[1]["ntc-10k-3950"] == "R25 ± 10 % (assumed), B ± 2 % (assumed)"
    assert tolerances[0]["ntc-10k-3977"] == tolerances[1]["ntc-10k-3977"]
    found = tf.identify(
        tf.Points(21.0, 11950.0, u_t_k=0.5, u_r_ohm=0.002 * 11950.0), assumed_b_pct=0.75
    )
    narrow = in_process(*ROOM, "--assumed-b-pct", "0.75")
    for row, own in zip(narrow["answers"], found.rows, strict=True):
        assert (row["id"], row["tolerance"]) == (own.id, own.tolerance)
        assert row["probability"] == pytest.approx(own.probability)


def test_families_of_a_curve_set_are_compared_as_well(own_set: Path) -> None:
    answer = in_process(*BATHS, "--families", str(own_set))
    assert answer["leading"] == "shop-2k2"
    assert answer["answers"][0]["probability"] > 0.9
    assert len(answer["answers"]) == len(in_process(*BATHS)["answers"]) + 1


def test_a_set_that_claims_an_id_again_or_has_no_family_is_refused(
    own_set: Path, tmp_path: Path
) -> None:
    twice = call(*BATHS, "--families", str(own_set), "--families", str(own_set))
    assert isinstance(twice.exception, InputError)
    assert "there is another family 'shop-2k2'" in str(twice.exception)
    bare = tmp_path / "bare.csv"
    tf.write_curve_set(bare, [tf.Curve.beta(r25_ohm=2252, b_k=3977, id="bare")])
    none = call(*BATHS, "--families", str(bare))
    assert isinstance(none.exception, InputError)
    assert "has no family" in str(none.exception)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((), "give one of FILE and --reading"),
        (("--reading", "21C"), "is no reading"),
        (("--reading", "21C:-5"), "not a positive resistance"),
        (("--reading", "21C:11k", "--r25", "open"), "is not one of"),
        (("--reading", "21C:11k", "--t-unit", "C"), "--t-unit is of a FILE"),
        (("--reading", "21C:11k", "--families", "nowhere.csv"), "does not exist"),
        (("--reading", "21C:11k", "--assumed-b-pct", "0"), "no part is exactly as nominal"),
        (("--reading", "21C:11k", "--assumed-r25-pct", "100"), "is no tolerance"),
    ],
)
def test_a_wrong_call_ends_with_status_2(words: tuple[str, ...], message: str) -> None:
    done = call(*words)
    assert done.exit_code == 2
    assert message in done.stderr


def test_data_that_cannot_be_used_end_with_status_1(shell: Shell) -> None:
    done = shell("identify", "--reading", "21C:11.95k")
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith("error: the readings state no uncertainty")
