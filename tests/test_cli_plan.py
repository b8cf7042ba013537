"""``thermofit plan``: what the library plans, in the words of ``thermofit characterise``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.shell import Here, Shell
from thermofit.cli.characterise import command as characterise
from thermofit.cli.plan import command
from thermofit.decide.planning import Choice, Plan
from thermofit.readings import cautions_of

# The invented bench of a workshop for glasshouse controllers: ice, warm water, a kettle.
METER = "0.8%+3 @4k/1; 0.8%+3 @40k/10; 0.8%+3 @400k/100"
SENSOR = ("--meter", METER, "--r25", "10k")
BATHS = ("--ice", "--bath", "40C", "--bath", "70C", "--thermometer", "0.5C")
BENCH = (*BATHS, *SENSOR)
THERMOMETER = tf.Thermometer.parse("0.5C")


def in_process(*words: str) -> Any:
    """The JSON of a call, without the start of another process."""
    done = CliRunner().invoke(command, [*words, "--json"])
    assert done.exit_code == 0, done.stderr
    assert done.stderr == ""
    return json.loads(done.stdout)


def stirred(*t_c: float) -> list[tf.Bath]:
    return [tf.stirred_bath(t, THERMOMETER, uniformity_k=0.2) for t in t_c]


def planned(baths: list[tf.Bath], **more: Any) -> Plan:
    return tf.plan(baths, tf.Meter.parse(METER), **{"r25_ohm": 10e3, **more})


def as_told(choice: Choice, *, contributions: bool = False) -> dict[str, Any]:
    """A choice as the JSON must tell it, by the public names of the library."""
    shown = choice.contributions.t_c
    told: dict[str, Any] = {
        "points": len(choice.readings),
        "baths_c": list(choice.baths_c),
        "largest_k": choice.largest_k,
        "largest_at_c": choice.largest_at_c,
        "mean_k": choice.mean_k,
        "dominating": choice.dominating,
        "band": [{"t_c": float(t), "half_width_k": choice.half_width_at(t)} for t in shown],
    }
    if contributions:
        parts = choice.contributions
        told["contributions"] = [
            {"name": name, "standard_uncertainty_k": u_k.tolist()}
            for name, u_k in zip(parts.names, parts.u_k, strict=True)
        ]
    return told


def close(told: Any, expected: Any) -> bool:
    """The same but for rounding, which depends on how many temperatures are asked for at once."""
    if isinstance(expected, dict):
        return told.keys() == expected.keys() and all(close(told[k], expected[k]) for k in told)
    if isinstance(expected, list):
        return len(told) == len(expected) and all(map(close, told, expected))
    if isinstance(expected, float):
        return bool(told == pytest.approx(expected, rel=1e-12, abs=1e-12))
    return bool(told == expected)


# ---------------------------------------------------------------- what it tells


def test_the_numbers_are_those_of_the_library(shell: Shell) -> None:
    answer = shell.json("plan", *BENCH)
    assert (answer["format"], answer["format_version"]) == ("thermofit-plan", 1)
    p = planned([tf.ice_point(), *stirred(40.0, 70.0)])
    assert close(answer["choices"], [as_told(choice) for choice in p.choices])
    assert close(answer["best"], [as_told(p.best(n), contributions=True) for n in (1, 2, 3)])
    assert [answer[name] for name in ("from_c", "to_c", "by", "coverage", "family", "r25_ohm")] == [
        0.0, 100.0, "largest", 0.95, None, 10e3,
    ]  # fmt: skip
    assert answer["prior"] == {"origin": "5 registered families"}
    assert [bath["option"] for bath in answer["baths"]] == ["--ice", "--bath 40C", "--bath 70C"]
    for bath, reading in zip(answer["baths"], p.readings, strict=True):
        assert (bath["t_c"], bath["r_ohm"]) == (reading.temperature.value, reading.resistance.value)
        assert bath["u_t_k"] == reading.temperature.standard_uncertainty
        assert bath["u_r_ohm"] == reading.resistance.standard_uncertainty
        alpha = p.at_hand.sensor.curve.alpha(bath["t_c"])
        assert bath["u_r_k"] == pytest.approx(bath["u_r_ohm"] / bath["r_ohm"] / -alpha)
        assert bath["temperature_budget"] and bath["resistance_budget"]


def test_one_more_bath_is_that_of_the_library() -> None:
    p = planned([tf.ice_point(), *stirred(40.0, 70.0)])
    extra = [p.extra(choice=n) for n in (1, 2, 3)]
    more = in_process(*BENCH)["one_more"]
    assert (more["t_c"], more["like_c"]) == (50.0, 40.0)
    assert more["u_t_k"] == extra[0].u_t_k
    assert close(more["choices"], [as_told(one.after) for one in extra])
    assert [one["points"] for one in more["choices"]] == [2, 3, 4]
    # Of a bath at which the meter does not reach the sensor, nothing is said.
    hot = ("--bath", "90C", "--thermometer", "0.5C", "--r25", "25k", "--meter", "0.8%+3 @4k/1")
    assert in_process(*hot)["one_more"] is None
    at_hand = in_process("--ice", *SENSOR)["one_more"]
    assert at_hand["like_c"] == 0.0 and at_hand["choices"][0]["baths_c"] == [0.0, 50.0]


def test_the_text_is_that_of_the_library_and_cautions_go_to_standard_error(shell: Shell) -> None:
    done = shell("plan", *BENCH)
    assert done.returncode == 0
    p = planned([tf.ice_point(), *stirred(40.0, 70.0)])
    plan_text, _, taken = done.stdout.partition("\n\n")
    assert plan_text.splitlines() + [f"! {text}" for text in cautions_of(p.readings)] == (
        str(p).splitlines()
    )
    assert " ".join(taken.split()) == (
        "taken: the bath uniform within ± 0.2 K (common practice, no source; else say "
        "--uniformity) taken: no warming of the sensor by the meter's current"
    )
    assert done.stderr.splitlines() == [f"caution: {text}" for text in cautions_of(p.readings)]
    for caution in ("scald", "Keep the meter"):
        assert done.stderr.count(caution) == 1 and caution not in done.stdout


def test_cautions_are_those_of_the_baths_that_are_meant() -> None:
    assert any("scald" in text for text in in_process(*BENCH)["cautions"])
    for cold in (("--ice",), ("--bath", "30C", "--thermometer", "0.5C")):
        (only,) = in_process(*cold, *SENSOR)["cautions"]
        assert "Keep the meter" in only
        assert "scald" not in CliRunner().invoke(command, [*cold, *SENSOR]).stderr
    boiling = ("--boiling", "--altitude", "450m", *SENSOR)
    assert "scald" in CliRunner().invoke(command, boiling).stderr


# ---------------------------------------------------------------- the words of characterise


def test_the_words_that_plan_are_those_that_describe_the_measurement() -> None:
    there = {option.name: option for option in characterise.params}
    own = {"r25", "family", "curve", "from_", "to", "points", "by"}
    for option in command.params:
        if option.name in own:
            continue
        other = there[option.name]
        assert option.opts == other.opts
        if option.name not in ("ice", "bath", "boiling", "air"):
            assert option.type is other.type or option.to_info_dict() == other.to_info_dict()
    assert own <= {option.name for option in command.params}


def test_each_bath_is_that_of_characterise(here: Here) -> None:
    instruments = ("--meter", METER, "--thermometer", "0.5C")
    told = (
        "--ice-kind", "flask", "--pressure", "1008hPa", "--uniformity", "0.1K", "--waited", "20min",
        "--time-constant", "4min", "--start-difference", "8K", "--air-uniformity", "0.2K",
        "--probe", "steam",
    )  # fmt: skip
    meant = here.json("plan", "--r25", "10k", "--ice", "--bath", "68.4C", "--air", "21.3C",
                      "--boiling", *instruments, *told)  # fmt: skip
    made = here.json("characterise", "--ice", "32.62k", "--bath", "68.4C:1.868k", "--air",
                     "21.3C:11.9k", "--boiling", "680R", *instruments, *told)  # fmt: skip
    by_bath = {reading["bath"]: reading for reading in made["readings"]}
    assert len(meant["baths"]) == len(by_bath) == 4
    for bath in meant["baths"]:
        other = by_bath[bath["bath"]]
        assert bath["option"].split()[0] == other["option"].split()[0]
        for name in ("t_c", "u_t_k", "temperature_budget"):
            assert bath[name] == other[name]


def test_the_band_that_was_planned_is_that_of_the_measurement() -> None:
    answer = in_process("--ice", "--bath", "70C", "--thermometer", "0.5C", *SENSOR)
    # Read what was expected, to all digits; the steps are those that the meter states.
    ice, hot = (f"{bath['r_ohm']:.9f}" for bath in answer["baths"])
    done = CliRunner().invoke(
        characterise,
        ["--ice", ice, "--bath", f"70C:{hot}", "--thermometer", "0.5C", "--meter", METER, "--json"],
    )
    row = {row["t_c"]: row for row in json.loads(done.stdout)["band"]}
    for at in answer["best"][1]["band"]:
        half_k = (row[at["t_c"]]["high_c"] - row[at["t_c"]]["low_c"]) / 2.0
        assert at["half_width_k"] == pytest.approx(half_k, rel=1e-6)


def test_what_is_usual_is_told_and_what_is_stated_is_not() -> None:
    air = ("--air", "21C", "--waited", "20min", "--thermometer", "0.5C")
    told = " ".join(in_process(*air, "--boiling", "--altitude", "450m", *SENSOR)["assumed"])
    for words in ("--air-uniformity)", "--time-constant)", "--start-difference)", "± 20 m"):
        assert words in told
    assert "--uniformity)" not in told.replace("--air-uniformity)", "")
    stated = in_process(*BATHS, *SENSOR, "--uniformity", "0.1K")
    assert stated["assumed"] == ["no warming of the sensor by the meter's current"]
    assert len(in_process(*BENCH)["assumed"]) == 2  # of two baths, told once


def test_a_meter_without_steps_is_taken_as_such_and_said() -> None:
    answer = in_process("--ice", "--meter", "0.8%", "--r25", "10k")
    assert answer["assumed"][0] == (
        'no steps of the meter where --meter states none; they stand as in "0.8% @40k/10"'
    )
    parts = answer["baths"][0]["resistance_budget"]
    assert [part["name"] for part in parts] == ["meter accuracy"]
    assert not any("steps" in text for text in in_process(*BENCH)["assumed"])


# ---------------------------------------------------------------- sensor, range, ranking


def test_a_family_is_expected_by_its_curve_and_scaled_to_a_rough_r25() -> None:
    family = tf.family("ntc-5k-3988")
    words = ("--ice", "--bath", "70C", "--thermometer", "0.5C", "--meter", METER)
    whole = in_process(*words, "--family", "ntc-5k-3988")
    r_ohm = family.curve.resistance([0.0, 70.0])
    assert [bath["r_ohm"] for bath in whole["baths"]] == pytest.approx(list(r_ohm), rel=1e-12)
    assert (whole["family"], whole["r25_ohm"]) == ("ntc-5k-3988", None)
    p = planned([tf.ice_point(), *stirred(70.0)], sensor=family, r25_ohm=None)
    assert close(whole["choices"], [as_told(choice) for choice in p.choices])
    half = in_process(*words, "--family", "ntc-5k-3988", "--r25", "2.5k")
    ratio = 2.5e3 / family.curve.resistance(25.0)
    assert [bath["r_ohm"] for bath in half["baths"]] == pytest.approx(
        list(r_ohm * ratio), rel=1e-12
    )


def test_a_stored_curve_is_expected_as_a_family_is(tmp_path: Path) -> None:
    place = tmp_path / "shop.csv"
    inlet = tf.family("ntc-10k-3977").curve.replace(id="inlet")
    tf.write_curve_set(place, [inlet])
    stored = in_process(*BATHS, "--meter", METER, "--curve", f"{place}:inlet")
    known = in_process(*BATHS, "--meter", METER, "--family", "ntc-10k-3977")
    assert (stored["curve"], stored["family"]) == (f"{place}:inlet", None)
    assert (known["curve"], known["family"]) == (None, "ntc-10k-3977")
    for name in ("baths", "best", "choices", "one_more"):
        assert stored[name] == known[name]


def test_a_family_of_ratios_is_expected_by_them() -> None:
    words = ("--bath", "40C", "--bath", "70C", "--thermometer", "0.5C", "--meter", METER)
    curve = tf.family("ntc-ratio-3544").curve
    answer = in_process(*words, "--family", "ntc-ratio-3544", "--r25", "10k")
    ratio = curve.resistance([40.0, 70.0]) / curve.resistance(25.0)
    assert [bath["r_ohm"] for bath in answer["baths"]] == pytest.approx(list(10e3 * ratio))


numbers = st.sampled_from([(), (1,), (2,), (3,), (2, 3), (3, 1)])
ends = st.sampled_from([(0, 100), (-20, 40), (10, 35), (60, 120)])


@given(
    st.lists(st.integers(5, 95), min_size=2, max_size=4, unique=True),
    st.randoms(use_true_random=False), numbers, ends, st.sampled_from(["largest", "mean"]),
)  # fmt: skip
@settings(max_examples=25, deadline=None)
def test_the_order_of_the_baths_is_no_matter_and_the_numbers_are_those_of_the_library(
    temperatures: list[int], random: Any, points: tuple[int, ...], ends: tuple[int, int], by: str
) -> None:
    more = [
        *("--thermometer", "0.5C", "--from", f"{ends[0]}C", "--to", f"{ends[1]}C", "--by", by),
        *(word for n in points for word in ("--points", str(n))),
    ]
    baths = [["--ice"], *(["--bath", f"{t}C"] for t in temperatures)]
    answers = []
    for _ in range(2):
        answers.append(in_process(*(word for bath in baths for word in bath), *SENSOR, *more))
        random.shuffle(baths)
        random.shuffle(temperatures)
    assert answers[0] == answers[1]
    p = planned(
        [tf.ice_point(), *stirred(*temperatures)], t_range_c=ends, counts=points or None, by=by
    )
    assert (answers[0]["from_c"], answers[0]["to_c"], answers[0]["by"]) == (*ends, by)
    assert close(answers[0]["choices"], [as_told(choice) for choice in p.choices])
    assert {one["points"] for one in answers[0]["best"]} == set(p.counts)
    ranked = [one["largest_k" if by == "largest" else "mean_k"] for one in answers[0]["choices"]
              if one["points"] == p.counts[-1]]  # fmt: skip
    assert ranked == sorted(ranked)


def test_units_of_the_bath_and_of_the_range_are_free() -> None:
    one, other = (
        in_process("--ice", "--bath", t, "--thermometer", "0.5C", *SENSOR, "--to", to)
        for t, to in (("50C", "60C"), ("122F", "140F"))
    )
    assert close(one["choices"], other["choices"]) and one["to_c"] == 60.0


# ---------------------------------------------------------------- what is refused


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        ((), "no bath: give --ice, --bath 70C, --boiling or --air 21C"),
        (SENSOR, "no bath: give --ice"),
        (("--ice", "--r25", "10k"), 'for each range: --meter "0.8%+3 @4k/1; 0.8%+3 @40k/10", '),
        (("--ice", "--meter", METER), "Say --r25 10k, which one reading in room air tells"),
        (("--ice", "--meter", METER, "--family", "ntc-ratio-3544"), "Say --r25 10k"),
        (("--ice", "--meter", METER, "--family", "ntc-10k-3978"), "ntc-10k-3977"),
        (("--ice", "--meter", "0.8%+3", "--r25", "10k"), 'state the ranges, with the step of each'),
        (("--ice", *SENSOR, "--from", "50C", "--to", "10C"), "50 °C does not lie below --to 10"),
        (("--ice", *SENSOR, "--from", "50C", "--to", "50C"), "does not lie below"),
        (("--bath", "70C", *SENSOR), "how accurate is the thermometer?"),
        (("--ice", "--thermometer", "0.5C", *SENSOR), "--thermometer goes with --bath or --air"),
        (("--boiling", *SENSOR), "--boiling needs the pressure at the bench"),
        (("--air", "21C", "--thermometer", "0.5C", *SENSOR), "Say --waited 20min with --air"),
        (("--ice", "--uniformity", "0K", *SENSOR), "--uniformity goes with --bath"),
        (("--bath", "70", *SENSOR), "'70' has no temperature unit"),
        (("--bath", "70C:1.8k", *SENSOR), "before measuring there is none; write the temperature"),
        (("--ice", "32.6k", *SENSOR), "32.6k"),
        (("--ice", *SENSOR, "--family", "ntc-10k-3977", "--curve", "a.csv:b"), "not both"),
        (("--ice", "--meter", METER, "--family", "shop.csv:inlet"), "say --curve shop.csv:inlet"),
        (("--ice", *SENSOR, "--by", "median"), "'largest', 'mean'"),
        (("--ice", *SENSOR, "--points", "0"), "x>=1"),
    ],
)  # fmt: skip
def test_a_wrong_call_ends_with_two(here: Here, words: tuple[str, ...], complaint: str) -> None:
    done = here("plan", *words)
    assert (done.returncode, done.stdout) == (2, "")
    assert complaint in done.stderr


MANY = tuple(word for t in range(20, 62, 2) for word in ("--bath", f"{t}C"))


@pytest.mark.parametrize(
    ("words", "complaint"),
    [
        (("--ice", *SENSOR, "--from", "-50C"),
         "the range --from … --to goes from -50 to 100 °C, and how such sensors bend is known from "
         "-40 to 125 °C; narrow it\n"),
        (("--ice", *SENSOR, "--to", "212"), "(is it in °F?); narrow it\n"),
        (("--bath", "150C", "--liquid", "oil", "--thermometer", "0.5C", *SENSOR),
         "the bath at 150 °C lies outside -40 to 125 °C, over which it is known how such sensors "
         "bend (is it in °F?); leave it out\n"),
        (("--bath", "110C", "--thermometer", "0.5C", *SENSOR),
         "--bath 110C: a bath at 110 °C is above the boiling point"),
        (("--bath", "-3C", "--thermometer", "0.5C", *SENSOR),
         "use --ice, or name the liquid with --liquid"),
        (("--air", "21C", "--waited", "5min", "--thermometer", "0.5C", *SENSOR),
         "--air 21C: after 5 min the sensor has not settled"),
        (("--boiling", "--pressure", "29.9hPa", *SENSOR), "--boiling: --pressure = 29.9"),
        (("--bath", "70C", "--bath", "158F", "--thermometer", "0.5C", *SENSOR),
         "two baths are the same, at 70 °C"),
        ((*BENCH, "--points", "4"), "--points says how many of the 3 baths"),
        (("--ice", "--meter", METER, "--r25", "1M"), "in the bath at 0 °C the sensor is expected"),
        (("--ice", "--meter", METER, "--family", "pt-100-iec60751"), "rises with temperature"),
        ((*MANY, "--thermometer", "0.5C", *SENSOR),
         "21 baths give 7546 choices of 1 or 2 or 3 or 4 points, and at most 2000 are compared: "
         "offer fewer baths, or ask for fewer points, such as --points 2\n"),
    ],
)  # fmt: skip
def test_what_cannot_be_planned_ends_with_one(
    here: Here, words: tuple[str, ...], complaint: str
) -> None:
    done = here("plan", *words)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith("error: ") and complaint in done.stderr.replace("\N{MINUS SIGN}",
                                                                                  "-")  # fmt: skip
    assert "Traceback" not in done.stderr
    assert "prior" not in done.stderr and "counts" not in done.stderr


def test_too_many_choices_are_fewer_with_fewer_points() -> None:
    answer = in_process(*MANY, "--thermometer", "0.5C", *SENSOR, "--points", "2")
    assert len(answer["choices"]) == 210
