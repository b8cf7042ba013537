"""``thermofit causes`` as a technician meets it."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.shell import Here, Shell
from tests.test_cli_terminal import complete
from thermofit.cli.causes import command
from thermofit.cli.causesreadings import SPOT, SPOT_SHOWN
from thermofit.decide import Causes, SpotReading, display_reading
from thermofit.decide.cause.spot import PLACES, Place
from thermofit.decide.cause.text import told
from thermofit.errors import InputError

# Invented readings of an aspirated air sensor of a glasshouse.
FAMILY = "ntc-10k-3977"
U = ("--u-t", "0.2K", "--u-r", "0.3%")
OF = ("--family", FAMILY)
PAIR = ("--sensor", "20C:12.5k", "--connector", "20C:14.6k", *OF, *U)
SIZES = ("gamma", "beta", "contact_ohm", "leak_ohm")


def spot(place: Place, t_c: float, r_ohm: float) -> SpotReading:
    return SpotReading(place, t_c, r_ohm, 0.2, 0.003 * r_ohm)


VISIT = [spot("sensor", 20.0, 12.5e3), spot("connector", 20.0, 14.6e3)]


def call(*words: str, stdin: str | None = None) -> Result:
    return CliRunner().invoke(command, words, input=stdin)


def answer(*words: str, stdin: str | None = None) -> Any:
    done = call(*words, "--json", stdin=stdin)
    assert done.exit_code == 0, done.output
    return json.loads(done.stdout)


def assert_says(got: Any, found: Causes) -> None:
    """JSON has the numbers of the library, to the last digit."""
    assert (got["verdict"], got["leading"]) == (found.verdict, found.leading)
    assert got["where"] == dict(found.where)
    for row, own in zip(got["causes"], found.rows, strict=True):
        assert (row["cause"], row["part"]) == (own.cause, own.part)
        assert (row["probability"], row["prior"]) == (own.probability, own.prior)
        assert row["undetermined"] == list(own.undetermined)
        assert row["other"] == (own.other or None)
        assert row["other_share"] == (own.other_share if own.other else None)
        for name in SIZES:
            one = getattr(own, name)
            if one is None:
                assert row[name] is None
                continue
            assert one.coverage == got["coverage"]
            assert row[name] == {
                "value": one.value, "standard_uncertainty": one.standard_uncertainty,
                "low": one.low, "high": one.high,
            }  # fmt: skip
    assert got["next_tests"] == [dataclasses.asdict(test) for test in found.next_tests]
    for name in ("next_steps", "unidentified", "disagreements", "notes", "cautions"):
        assert got[name] == list(getattr(found, name))


# ---- the answer -------------------------------------------------------------------------------


def test_the_text_is_that_of_the_library_and_cautions_come_once(shell: Shell) -> None:
    done = shell("causes", *PAIR)
    assert done.returncode == 0
    found = tf.causes(VISIT, FAMILY)
    assert done.stdout == f"{told(found, with_cautions=False)}\n"
    assert done.stdout.startswith("bad contact, 8") and "!" not in done.stdout
    assert max(map(len, done.stdout.split("\n"))) <= 100
    assert done.stderr == "".join(f"caution: {text}\n" for text in found.cautions)
    for words in ("Switch the controlled load off", "fed from the mains can be live",
                  "both its leads disconnected", "intermittent fault"):  # fmt: skip
        assert done.stderr.count(words) == 1


def test_json_says_all_that_the_library_does() -> None:
    got = answer(*PAIR)
    assert list(got)[:2] == ["format", "format_version"]
    assert (got["format"], got["format_version"]) == ("thermofit-causes", 1)
    assert got["family"] == FAMILY
    assert_says(got, tf.causes(VISIT, FAMILY))
    assert got["readings"][1] == {
        "option": "--connector 20C:14.6k", "place": "connector", "t_c": 20.0, "r_ohm": 14600.0,
        "u_t_k": 0.2, "u_r_ohm": 0.003 * 14600.0, "limit_ohm": None, "over_range": False,
    }  # fmt: skip
    assert (got["read_as"], got["warnings"]) == ([], [])


def test_every_place_and_every_kind_of_reading_gets_through() -> None:
    got = answer(
        "--cable-open", "20C:over40M", "--cable-bridged", "20C:under1R", "--display", "20C:18.3C",
        "--connector", "50C:3.6k", "--sensor", "68F:12.5k", "--sensor", "50C:3.6k", *OF, *U,
    )  # fmt: skip
    visit = [
        spot("sensor", 20.0, 12.5e3), spot("sensor", 50.0, 3.6e3), spot("connector", 50.0, 3.6e3),
        display_reading(18.3, tf.family(FAMILY), t_c=20.0, u_t_k=0.2),
        SpotReading("cable bridged", 20.0, 0.0, 0.2, 1.0 / math.sqrt(3.0)),
        SpotReading("cable open", 20.0, math.inf, 0.2, 0.0, 40e6),
    ]  # fmt: skip
    assert_says(got, tf.causes(visit, FAMILY))
    assert [entry["place"] for entry in got["readings"]] == [one.place for one in visit]
    assert set(PLACES) == {one.place for one in visit}
    assert [entry["u_r_ohm"] for entry in got["readings"]] == [one.u_r_ohm for one in visit]
    last = got["readings"][-1]
    assert (last["r_ohm"], last["limit_ohm"], last["over_range"]) == (None, 40e6, True)
    assert last["option"] == "--cable-open 20C:over40M"


def test_a_controller_that_takes_its_sensor_for_broken_needs_no_meter() -> None:
    open_one = answer("--display", "20C:over200k", *OF, "--u-t", "0.2K")
    shorted = answer("--display", "20C:under100R", *OF, "--u-t", "0.2K")
    assert open_one["leading"] == "sensor open" and shorted["leading"] == "cable shorted"
    visit = [SpotReading("display", 20.0, math.inf, 0.2, 0.0, 200e3)]
    assert_says(open_one, tf.causes(visit, FAMILY))


def test_the_step_of_the_display_is_that_of_the_last_digit_unless_it_is_stated() -> None:
    def u_r_ohm(shown: str, *more: str) -> float:
        got = answer("--display", f"20C:{shown}", *OF, "--u-t", "0.2K", *more)
        return float(got["readings"][0]["u_r_ohm"])

    assert u_r_ohm("18.0C") == pytest.approx(0.1 * u_r_ohm("18C"), rel=1e-3)
    assert u_r_ohm("18.0C", "--display-step", "1K") == u_r_ohm("18C")
    # 64.4 °F is 18 °C, and a tenth of it a tenth of 1/1.8 K.
    assert u_r_ohm("64.4F") == pytest.approx(u_r_ohm("18.0C") / 1.8, rel=1e-3)


def test_options_are_handed_on() -> None:
    more = ("--wrong", "ntc-5k-3988", "--next-at", "5C", "--r25-pct", "1")
    got = answer("--sensor", "20C:6.2k", "--display", "20C:36C", *OF, *U, *more,
                 "--u-controller", "2%")  # fmt: skip
    visit = [
        spot("sensor", 20.0, 6.2e3),
        display_reading(36.0, tf.family(FAMILY), t_c=20.0, u_t_k=0.2, display_step_k=1.0),
    ]
    # B is not said, and so that of the family.
    found = tf.causes(
        visit, FAMILY, families=["ntc-5k-3988"], next_t_c=[5.0], u_controller_pct=2.0,
        tolerance=tf.Tolerance.of(r25_pct=1.0, b_pct=0.75),
    )  # fmt: skip
    assert_says(got, found)
    assert got["leading"] == "wrong part fitted" and got["causes"][0]["other"] == "ntc-5k-3988"
    assert {test["t_c"] for test in got["next_tests"]} == {5.0, 20.0}


def test_a_temperature_in_fahrenheit_comes_back_with_a_decimal_or_none() -> None:
    text = call(*PAIR, "--next-at", "120F", "--next-at", "77F").stdout
    assert "the sensor at 48.9 °C" in text and "48.8" not in text


def test_curves_of_a_set_are_parts_as_families_are(tmp_path: Path) -> None:
    nominal = tf.family(FAMILY)
    place = tmp_path / "shop.csv"
    stated = tf.Family(nominal.curve.replace(id="stated"), r25_tol_pct=1.0, b_tol_pct=0.5)
    measured = nominal.curve.replace(id="measured")
    tf.write_curve_set(place, [stated, measured])
    for id_, own in (("stated", stated), ("measured", tf.Family(measured))):
        words = ("--curve", f"{place}:{id_}", "--wrong", f"{place}:measured", "--wrong", FAMILY)
        got = answer(*PAIR[:4], *words, *U)
        found = tf.causes(VISIT, own, families=[tf.Family(measured), FAMILY])
        assert_says(got, found)
        assert (got["family"], got["notes"]) == (id_, list(found.notes))
    assert any("(assumed)" in note for note in got["notes"])


def test_a_tolerance_in_kelvin_is_taken_as_by_band() -> None:
    dt = ("--dt", "0.3K", "--dt-from", "0C", "--dt-to", "100C")
    got = answer("--sensor", "20C:107.79R", "--family", "pt-100-iec60751", *dt, *U)
    stated = tf.Tolerance.of(dt_k=0.3, dt_range_c=(0.0, 100.0))
    assert_says(got, tf.causes([spot("sensor", 20.0, 107.79)], "pt-100-iec60751", tolerance=stated))


def test_where_nothing_is_wrong_the_command_for_the_fan_is_named() -> None:
    good = ("--sensor", "20C:12.5k", "--connector", "20C:12.5k", "--connector", "20C:12.5k")
    assert "(thermofit response)" in call(*good, *OF, *U).stdout


# ---- readings as they are typed ---------------------------------------------------------------

TEMPERATURES = st.floats(-273.15, 1e4, allow_nan=False)
RESISTANCES = st.floats(1e-6, 1e12, allow_nan=False)


@given(TEMPERATURES, RESISTANCES, st.sampled_from(["", "over", "under"]))
def test_every_reading_that_is_accepted_reads_back_to_the_last_digit(
    t_c: float, r_ohm: float, word: str
) -> None:
    text = f"{t_c!r}C:{word}{r_ohm!r}"
    one = SPOT.convert(text, None, None)
    assert (one.text, one.t_c, one.shown) == (text, t_c, None)
    assert one.metered == (word == "")
    known = one.r_ohm if one.metered else one.limit_ohm
    assert known == r_ohm
    if not one.metered:
        assert one.r_ohm == (math.inf if word == "over" else 0.0)
        assert SPOT_SHOWN.convert(text, None, None) == one
    again = f"{one.t_c!r}C:{word}{known!r}ohm"
    assert dataclasses.replace(SPOT.convert(again, None, None), text=text) == one


@given(TEMPERATURES, st.floats(-40.0, 125.0), st.sampled_from(["C", "F", "K"]))
def test_every_display_that_is_accepted_reads_back(t_c: float, shown: float, unit: str) -> None:
    given_k = {"C": shown, "F": 1.8 * shown + 32.0, "K": shown + 273.15}[unit]
    one = SPOT_SHOWN.convert(f"{t_c!r}C:{given_k:.2f}{unit}", None, None)
    assert one.t_c == t_c and not one.metered
    assert one.shown.t_c == pytest.approx(shown, abs=0.0051)
    assert one.shown.step_k == pytest.approx(0.01 / (1.8 if unit == "F" else 1.0))


@given(
    st.lists(
        st.tuples(
            st.sampled_from(["sensor", "connector"]),
            st.floats(0.0, 60.0).map(lambda t: round(t, 1)),
            st.floats(1e3, 50e3).map(lambda r: round(r, 1)),
        ),
        min_size=1, max_size=3,
    )
)  # fmt: skip
@settings(max_examples=8, deadline=None)
def test_json_equals_the_library_and_reads_back_as_a_file(
    tmp_path_factory: pytest.TempPathFactory, visit: list[tuple[Place, float, float]]
) -> None:
    words = [word for place, t, r in visit for word in (f"--{place}", f"{t}C:{r}")]
    got = answer(*words, *OF, *U)
    ordered = sorted(visit, key=lambda one: PLACES.index(one[0]))
    assert_says(got, tf.causes([spot(*one) for one in ordered], FAMILY))
    path = tmp_path_factory.mktemp("visit") / "visit.csv"
    columns = ("place", "t_c", "r_ohm", "u_t_k", "u_r_ohm")
    lines = [",".join(str(entry[name]) for name in columns) for entry in got["readings"]]
    path.write_text("\n".join([",".join(columns), *lines]), encoding="utf-8")
    again = answer(str(path), *OF)
    assert [entry.pop("option") for entry in again["readings"]] == [None] * len(visit)
    for entry in got["readings"]:
        del entry["option"]
    assert again == got


# ---- a file -----------------------------------------------------------------------------------

FILE = """\ufeffplace, t_c, r_ohm, limit_ohm, seen by
sensor, 20, 12500, , "K., at noon"

connector, 20, OL, 40000000, K.
"""


def test_a_file_has_the_columns_of_the_frame(tmp_path: Path) -> None:
    path = tmp_path / "visit.csv"
    path.write_text(FILE, encoding="utf-8")
    visit = [spot("sensor", 20.0, 12.5e3), SpotReading("connector", 20.0, math.inf, 0.2, 0, 40e6)]
    found = tf.causes(visit, FAMILY)
    got = answer(str(path), *OF, *U)
    assert_says(got, found)
    assert got["verdict"] == "wire broken"
    assert [entry["u_r_ohm"] for entry in got["readings"]] == [37.5, 0.0]
    assert got["read_as"] == [f"{path}: columns not used: 'seen by'"]
    assert f"read: {path}: columns not used" in call(str(path), *OF, *U).stderr
    assert_says(answer("-", *OF, *U, stdin=FILE), found)


def test_a_file_may_state_uncertainties_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "visit.csv"
    rows = "sensor,20,12500,0.2,37.5,\nconnector,20,OL,0.2,,4e7\n"
    path.write_text(f"place,t_c,r_ohm,u_t_k,u_r_ohm,limit_ohm\n{rows}", encoding="utf-8")
    visit = [spot("sensor", 20.0, 12.5e3), SpotReading("connector", 20.0, math.inf, 0.2, 0, 40e6)]
    assert_says(answer(str(path), *OF), tf.causes(visit, FAMILY))
    for option, column in (("--u-t", "u_t_k"), ("--u-r", "u_r_ohm")):
        done = call(str(path), *OF, option, "0.5")
        assert isinstance(done.exception, InputError)
        assert f"states {column} of its own; leave {option} out" in str(done.exception)


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "has no readings; its first line names the columns place,t_c,r_ohm"),
        ("place,t_c,r_ohm\n", "has no readings"),
        ("t_c,r_ohm\n20,12500\n", "has no column 'place', only t_c, r_ohm; call the right"),
        ("place,t_f,r_kohm\nsensor,68,12\n", "no column 't_c', 'r_ohm', only place, t_f, r_kohm;"),
        ("place,t_c,t_c,r_ohm\nsensor,20,20,12500\n", "two columns 't_c'"),
        ("place;t_c;r_ohm\nsensor;20;12,5\n", "has 2 cells, and the header 1; commas separate"),
        ("place,t_c,r_ohm\nplug,20,12500\n", "row 1 below the header of visit.csv: a reading is"),
        ("place,t_c,r_ohm\nsensor,20,12k5\n", "must be a number of ohms, as 12500, not '12k5'"),
        ("place,t_c,r_ohm\nsensor,20,OL\n", "state limit_ohm, the largest resistance"),
        ("place,t_c,r_ohm\nsensor,20,\n", "row 1 below the header of visit.csv: r_ohm"),
        ("place,t_c,r_ohm\nsensor,20,\xff", "no CSV file in UTF-8"),
        ("place,t_c,r_ohm\nsensor,200,12500\n", "outside the valid range of ntc-10k-3977"),
    ],
)
def test_a_file_that_cannot_be_used_ends_with_status_1(
    tmp_path: Path, content: str, message: str
) -> None:
    here = Here(tmp_path)
    (tmp_path / "visit.csv").write_text(content, encoding="latin-1")
    done = here("causes", "visit.csv", *OF, *U)
    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr.startswith("error: ") and message in done.stderr
    assert "frame" not in done.stderr


def test_a_file_without_uncertainties_needs_the_options(tmp_path: Path) -> None:
    here = Here(tmp_path)
    (tmp_path / "visit.csv").write_text(FILE, encoding="utf-8")
    done = here("causes", "visit.csv", *OF, "--u-r", "0.3%")
    assert done.returncode == 1
    assert "visit.csv has no column 'u_t_k'; add it, or state --u-t" in done.stderr


# ---- wrong calls ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "message"),
    [
        ((*OF, *U), "one or more of --sensor, --connector, --display, --cable-bridged, --cable-op"),
        (("--sensor", "20C:12k", *U), "name one part: --family ID, or --curve SET.csv:ID"),
        ((*PAIR, "--curve", "shop.csv:inlet"), "name one part: --family ID, or --curve SET.csv:ID"),
        ((*PAIR, "--wrong", "inlet"), "--wrong: no family is called 'inlet'"),
        (("--sensor", "20C:12k", "--family", "a.csv:inlet", *U), "say --curve a.csv:inlet"),
        (("--plug", "20C:12k", *OF, *U), "No such option '--plug'"),
        (("--conector", "20C:12k", *OF, *U), "Did you mean '--connector'?"),
        (("--sensor", "20C:12k", "--family", "nowhere", *U), "--family: no family is called"),
        ((*PAIR, "--wrong", "nowhere"), "--wrong: no family is called 'nowhere'"),
        (("--sensor", "20C:12k", *OF), "--u-t 0.2K, --u-r 0.5%"),
        (("--sensor", "20C:12k", *OF, "--u-t", "0.2K"), "--u-t 0.2K, --u-r 0.5%"),
        (("--display", "20C:12C", *OF, "--u-r", "1%"), "--u-t 0.2K, --u-r 0.5%"),
        (("--sensor", "20C", *OF, *U), "is no reading; write temperature and resistance as 20C:14"),
        (("--sensor", "20C:OL", *OF, *U), "does not say of what range; write"),
        (("--sensor", "20C:over", *OF, *U), "does not say of what range; write"),
        (("--sensor", "20C:0", *OF, *U), "write the smallest that it can show, as 20C:under1R"),
        (("--sensor", "20C:-5", *OF, *U), "is no resistance that a meter shows"),
        (("--sensor", "20C:1e999", *OF, *U), "is no resistance that a meter shows"),
        (("--sensor", "20C:18.3C", *OF, *U), "'18.3C' has no resistance unit"),
        (("--display", "20C", *OF, *U), "true and displayed temperature as 20C:18.3C"),
        (("--display", "20C:18.3", *OF, *U), "'--display': '18.3' has no temperature unit"),
        (("--display", "20C:13.5k", *OF, *U), "true and displayed temperature as 20C:18.3C"),
        ((*PAIR, "--display-step", "1K"), "--display-step goes with a temperature in --display"),
        ((*PAIR, "--dt", "0.2K"), "--dt, --dt-from and --dt-to go together"),
    ],
)
def test_a_wrong_call_ends_with_status_2(words: tuple[str, ...], message: str) -> None:
    done = call(*words)
    assert (done.exit_code, done.stdout) == (2, "")
    assert message in done.stderr


def test_a_file_and_typed_readings_do_not_go_together(tmp_path: Path) -> None:
    path = tmp_path / "visit.csv"
    path.write_text(FILE, encoding="utf-8")
    assert "or else a FILE of them" in call(str(path), *PAIR).stderr


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--sensor", "200C:300", *OF, *U), "outside the valid range of ntc-10k-3977"),
        (("--sensor", "20C:12k", *OF, "--u-t", "0.2K", "--u-r", "90%"), "too much to judge by"),
        (("--sensor", "20C:1k", "--family", "ntc-ratio-4014", *U), "leaves R25 open"),
        ((*PAIR, "--u-controller", "0%"), "--u-controller must be above 0"),
        (("--display", "20C:18C", *OF, *U, "--display-step", "0K"), "--display-step must be above"),
        (("--display", "20C:-250C", *OF, *U), "write --display 20C:over200k for a sensor that"),
    ],
)
def test_readings_that_cannot_be_used_end_with_status_1(
    tmp_path: Path, words: tuple[str, ...], message: str
) -> None:
    done = Here(tmp_path)("causes", *words)
    assert (done.returncode, done.stdout) == (1, "")
    assert message in done.stderr.replace("\n", " ")


def test_a_display_beyond_the_curve_is_warned_of() -> None:
    got = answer("--display", "20C:130.0C", *OF, "--u-t", "0.2K")
    assert any("valid range" in text for text in got["warnings"])


def test_the_shell_is_offered_places_and_families(tmp_path: Path) -> None:
    assert complete(tmp_path, "causes", "--ca") == ["--cable-bridged", "--cable-open"]
    assert complete(tmp_path, "causes", "--co") == ["--connector"]
    for option in ("--family", "--wrong"):
        assert complete(tmp_path, "causes", option, "ntc-5k") == ["ntc-5k-3988"]
    inlet = tf.family(FAMILY).curve.replace(id="inlet")
    tf.write_curve_set(tmp_path / "shop.csv", [inlet])
    for option in ("--curve", "--wrong"):
        assert complete(tmp_path, "causes", option, "shop.csv:i") == ["inlet"]


def test_a_notebook_shows_the_causes_as_a_table() -> None:
    shown = tf.causes(VISIT, FAMILY)._repr_html_()
    assert "<table>" in shown and "bad contact</td>" in shown
