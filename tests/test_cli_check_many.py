"""``thermofit check --sensor-column``: many sensors in one file, a row for each out."""

from __future__ import annotations

import csv
import io
import re
import tempfile
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.shell import Here, Shell
from tests.terminal import on_terminal
from thermofit.pointsfile import read_sensors

FAMILY = tf.family("ntc-10k-3977")
BY = ("--family", "ntc-10k-3977", "--r25-pct", "1")
KNOWN = (*BY, "--u-t", "0.1K", "--u-r", "0.3%")
ESCAPE = re.compile(r"\x1b\[[0-9;]*m")

# Invented readings of air sensors out of glasshouse fan boxes, in three baths and in turns.
BOXES = """sensor,t_c,r_ohm
box 3,0.0,32640
box 5,0.0,35090
box 7,0.0,27050
box 3,17.8,13860
box 5,41.3,5455
box 7,41.3,5572
box 3,68.4,1862
box 5,68.4,2000
box 7,68.4,2332
box 3,41.3,5085
"""


def judged(here: Shell, text: str, *words: str, column: str = "sensor", by: Any = KNOWN) -> Any:
    """The JSON of the sensors in a file."""
    (here.folder / "boxes.csv").write_text(text, encoding="utf-8")
    return here.json("check", "boxes.csv", "--sensor-column", column, *by, *words)


def refused(here: Shell, text: str, *words: str, column: str = "sensor") -> str:
    """What is said of a file that cannot be used."""
    (here.folder / "boxes.csv").write_text(text, encoding="utf-8")
    done = here("check", "boxes.csv", "--sensor-column", column, *KNOWN, *words)
    assert (done.returncode, done.stdout) == (1, ""), done.stderr
    return done.stderr[done.stderr.index("error: ") :]


def by_name(answer: Any) -> dict[str, Any]:
    return {row["sensor"]: row for row in answer["sensors"]}


def same(one: dict[str, Any], other: dict[str, Any]) -> None:
    """Texts and whole numbers are the same; others but for the rounding of sums."""
    assert one.keys() == other.keys()
    for key, value in one.items():
        if isinstance(value, float):
            assert other[key] == pytest.approx(value, rel=1e-8, abs=1e-9), key
        else:
            assert other[key] == value, key


# -- the same as the library, and as each sensor by itself ------------------------


def test_the_rows_are_those_of_the_library(here: Here) -> None:
    answer = judged(here, BOXES)
    assert (answer["format"], answer["format_version"]) == ("thermofit-check-many", 1)
    points = read_sensors(io.StringIO(BOXES), sensor_column="sensor")
    found = tf.check(points.to_frame().assign(u_t_k=0.1), FAMILY, r25_pct=1.0, u_r_pct=0.3)
    for row, own in zip(answer["sensors"], found.to_dict(orient="records"), strict=True):
        assert row == pytest.approx(own)
    assert [row["sensor"] for row in answer["sensors"]] == ["box 3", "box 5", "box 7"]
    assert [row["readings"] for row in answer["sensors"]] == [4, 3, 3]
    assert [row["cause"] for row in answer["sensors"]] == ["conforms", "shifted", "bent"]
    assert {name: answer[name] for name in ("family", "tolerance", "rule", "prior")} == {
        name: found.attrs[name] for name in ("family", "tolerance", "rule", "prior")
    }
    counts = [answer[f"{word}_count"] for word in ("accept", "reject", "cannot_tell")]
    assert counts == [1, 2, 0]


@st.composite
def benches(draw: st.DrawFn) -> list[tuple[str, float, str]]:
    """Rows of a few invented sensors, good and bad, with as many readings as it happens."""
    rows = []
    for number in range(draw(st.integers(1, 4))):
        gamma, beta = draw(st.floats(-0.03, 0.03)), draw(st.floats(-0.02, 0.02))
        places = draw(st.lists(st.sampled_from([-60, 0, 12, 25, 40, 55, 70]), min_size=1,
                               max_size=5, unique=True))  # fmt: skip
        for t_c in places:
            rho = np.log(FAMILY.curve.resistance(max(t_c, -40)) / FAMILY.curve.resistance(25.0))
            noise = draw(st.floats(-0.01, 0.01))
            r_ohm = 10e3 * np.exp(gamma + (1.0 + beta) * rho + noise)
            rows.append((f"box {number}", float(t_c), f"{r_ohm:.6g}"))
    return rows


def as_text(rows: list[tuple[str, float, str]]) -> str:
    return "sensor,t_c,r_ohm\n" + "".join(f"{name},{t},{r}\n" for name, t, r in rows)


@settings(max_examples=40)
@given(benches(), st.data())
def test_the_order_of_rows_does_not_matter(
    rows: list[tuple[str, float, str]], data: st.DataObject
) -> None:
    turned = data.draw(st.permutations(rows))
    with tempfile.TemporaryDirectory() as folder:
        here = Here(Path(folder))
        straight, other = (by_name(judged(here, as_text(each))) for each in (rows, turned))
    assert straight.keys() == other.keys()
    for name, row in straight.items():
        # A reason lists the readings that it names in their order.
        words = [set(each[name].pop("reason").replace(",", "").split()) for each in
                 (straight, other)]  # fmt: skip
        assert words[0] == words[1]
        same(row, other[name])


@settings(max_examples=40)
@given(benches(), st.sampled_from([KNOWN, (*BY, "--u-t", "0.2K"), (*BY, "--u-r", "40ohm")]))
def test_each_row_is_the_answer_for_that_sensor_by_itself(
    rows: list[tuple[str, float, str]], by: tuple[str, ...]
) -> None:
    with tempfile.TemporaryDirectory() as folder:
        here = Here(Path(folder))
        answer = judged(here, as_text(rows), by=by)
        for row in answer["sensors"]:
            own = [each for each in rows if each[0] == row["sensor"]]
            (here.folder / "one.csv").write_text(as_text(own), encoding="utf-8")
            alone = here.json("check", "one.csv", *by)
            assert row.pop("readings") == len(alone["readings"]) == len(own)
            del row["sensor"]
            same(row, {key: alone[key] for key in row})
            assert [answer[key] for key in ("family", "tolerance", "rule", "prior", "notes")] == [
                alone[key] for key in ("family", "tolerance", "rule", "prior", "notes")
            ]


def test_rule_and_risk_are_those_of_the_call(here: Here) -> None:
    simple = judged(here, BOXES, "--rule", "simple")
    assert "simple" in simple["rule"]
    strict = judged(here, BOXES, "--risk", "0.001")
    assert [row["verdict"] for row in strict["sensors"]] == ["cannot tell", "reject", "reject"]


# -- how the file is read ---------------------------------------------------------


def test_units_decimal_commas_and_headers_are_read_as_for_one_sensor(here: Here) -> None:
    """The same readings as a spreadsheet in another country writes them, in °F and kΩ."""
    lines = ["Fühler;T (°F);R (kΩ);Bemerkung"]
    for line in BOXES.splitlines()[1:]:
        name, t_c, r_ohm = line.split(",")
        t_f, r_kohm = 32.0 + 1.8 * float(t_c), float(r_ohm) / 1e3
        lines.append(f"{name};{t_f:.10g};{r_kohm:.10g};erfunden".replace(".", ","))
    plain = by_name(judged(here, BOXES))
    for column in ("Fühler", "fühler", "1"):
        written = judged(here, "\n".join(lines), column=column)
        for name, row in by_name(written).items():
            same(row, plain[name])
    assert "column 1 'Fühler' read as the name of the sensor: 3" in written["read_as"]
    assert "column 3 'R (kΩ)' read as resistance in kΩ" in written["read_as"]
    assert "columns not used: 4 'Bemerkung'" in written["read_as"]


def test_uncertainties_of_the_file_are_used_and_not_stated_twice(here: Here) -> None:
    rows = [f"{line},0.1,0.3%" for line in BOXES.splitlines()[1:]]
    text = "\n".join(["sensor,t_c,r_ohm,u_t_k,u(R) (%)", *rows]) + "\n"
    stated = by_name(judged(here, text, by=BY))
    for name, row in by_name(judged(here, BOXES)).items():
        assert stated[name]["u_gamma"] == pytest.approx(row["u_gamma"], rel=0.02)
    (here.folder / "boxes.csv").write_text(text, encoding="utf-8")
    for option, value in (("--u-t", "0.1K"), ("--u-r", "0.3%"), ("--u-r", "30ohm")):
        done = here("check", "boxes.csv", "--sensor-column", "sensor", *BY, option, value)
        assert done.returncode == 1
        assert f"uncertainties of its own; leave {option} out" in done.stderr
        one = here("check", "boxes.csv", *BY, option, value)
        assert one.returncode == 1
        assert f"uncertainties of its own; leave {option} out" in one.stderr


def test_a_file_comes_from_standard_input_too(shell: Shell) -> None:
    words = ("check", "-", "--sensor-column", "sensor", *KNOWN)
    done = shell(*words, stdin=BOXES)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "3 sensors: 1 accept, 2 reject, 0 cannot tell"


def test_without_a_header_columns_have_numbers(here: Here) -> None:
    bare = BOXES.partition("\n")[2]
    answer = judged(here, bare, "--t-column", "2", "--r-column", "3", column="1")
    assert answer["sensors"] == judged(here, BOXES)["sensors"]
    assert "there is no column 'sensor' and no header" in refused(
        here, bare, "--t-column", "2", "--r-column", "3"
    )


def test_numbered_sensors_are_named_as_they_stand(here: Here) -> None:
    text = BOXES.replace("box 3", "007").replace("box 5", "7").replace("box 7", "7.0")
    assert list(by_name(judged(here, text))) == ["007", "7", "7.0"]


@pytest.mark.parametrize("names", [("Box 3", "box 3"), ("box  3", "box 3"), ("box3", "Box 3")])
def test_names_that_differ_in_spaces_or_capitals_are_two_and_told(
    here: Here, names: tuple[str, str]
) -> None:
    one, other = names
    text = BOXES.replace("box 3,0.0", f"{one},0.0").replace("box 3", other)
    answer = judged(here, text)
    assert set(names) < by_name(answer).keys()
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN)
    assert f"warning: '{one}' and '{other}' taken as two sensors" in done.stderr


def test_a_file_of_many_read_as_one_sensor_is_warned_of(here: Here) -> None:
    told = "warning: all rows taken as readings of one sensor, though column 1 'sensor' names"
    (here.folder / "boxes.csv").write_text(BOXES, encoding="utf-8")
    assert told in here("check", "boxes.csv", *KNOWN).stderr
    one = "".join(line for line in BOXES.splitlines(True) if "box 5" not in line)
    one = "".join(line for line in one.splitlines(True) if "box 7" not in line)
    (here.folder / "boxes.csv").write_text(one, encoding="utf-8")
    done = here("check", "boxes.csv", *KNOWN)
    assert done.returncode == 0 and "warning" not in done.stderr
    assert told not in here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN).stderr


# -- sensors that fail, and files -------------------------------------------------


@pytest.mark.parametrize(
    ("cell", "told"),
    [
        ("OL", "row 9, column 'r_ohm', value 'OL': an overload is not a reading"),
        ("", "row 9, column 'r_ohm', value '': the cell is empty"),
        ("0", "row 9, column 'r_ohm', value '0': a resistance is above zero"),
        ("20C0", "row 9, column 'r_ohm', value '20C0'"),
    ],
)
def test_a_sensor_with_a_bad_cell_says_so_and_stops_nobody_else(
    here: Here, cell: str, told: str
) -> None:
    good = by_name(judged(here, BOXES))
    bad = by_name(judged(here, BOXES.replace("box 5,68.4,2000", f"box 5,68.4,{cell}")))
    assert bad["box 5"]["verdict"] == "cannot tell"
    assert bad["box 5"]["cause"] == "unusable readings"
    assert bad["box 5"]["reason"].startswith(told)
    assert bad["box 5"]["gamma"] is None and bad["box 5"]["readings"] == 3
    for name in ("box 3", "box 7"):
        same(good[name], bad[name])


def test_a_sensor_out_of_range_stops_nobody_else(here: Here) -> None:
    good = by_name(judged(here, BOXES))
    far = by_name(judged(here, BOXES + "box 9,180,120\n"))
    assert far.pop("box 9")["cause"] == "out of range"
    for name, row in far.items():
        same(good[name], row)


def test_many_bad_cells_of_a_sensor_are_counted(here: Here) -> None:
    text = BOXES + "".join(f"box 9,{t},OL\n" for t in range(5))
    reason = by_name(judged(here, text))["box 9"]["reason"]
    assert reason.count("overload") == 3
    assert reason.endswith("; and 2 more cells")


def test_where_no_sensor_is_left_the_file_is_refused(here: Here) -> None:
    """With all the cells, in the order of the file."""
    text = "sensor,t_c,r_ohm\nbox 5,0,OL\nbox 3,0,32640\nbox 3,warm,10000\nbox 5,25,-1\n"
    error = refused(here, text)
    told = ["row 2, column 'r_ohm', value 'OL'", "row 4, column 't_c', value 'warm'",
            "row 5, column 'r_ohm', value '-1'"]  # fmt: skip
    assert sorted(told, key=error.index) == told
    turned = refused(here, text.replace("box 3,0,32640", "box 3,0,open"))
    assert turned.index("row 3, ") < turned.index("row 4, ") < turned.index("row 5, ")


def test_no_number_is_left_in_a_row_with_a_bad_cell() -> None:
    """Half a reading would be one that nobody made."""
    text = BOXES.replace("box 5,41.3,5455", "box 5,41.3,OL").replace("0.0,27050", "x,27050")
    points = read_sensors(io.StringIO(text), sensor_column=1)
    assert np.isnan(points.t_c).tolist() == np.isnan(points.r_ohm).tolist()
    assert np.flatnonzero(np.isnan(points.t_c)).tolist() == [2, 4]
    assert {name: [cell.row for cell in cells] for name, cells in points.unusable.items()} == {
        "box 7": [4], "box 5": [6],
    }  # fmt: skip


def test_a_row_that_names_no_sensor_is_refused_with_its_place(here: Here) -> None:
    """Such as a spreadsheet writes that shows each name once."""
    text = BOXES.replace("box 5,41.3", ",41.3").replace("box 7,68.4", "  ,68.4")
    error = refused(here, text)
    for row in (6, 10):
        assert (
            f"row {row}, column 'sensor', value '': the cell is empty; write the sensor's" in error
        )


@pytest.mark.parametrize(
    ("text", "column", "told"),
    [
        (BOXES, "probe", "row 1: there is no column 'probe'; the columns are 1 'sensor', 2 't_c'"),
        (BOXES, "4", "row 1: there is no column '4'; the columns are 1 'sensor'"),
        (BOXES, "t_c", "no column is left for the temperature"),
        (BOXES.replace("r_ohm", "reading"), "sensor", "row 1: no column is plainly the resistance"),
        (BOXES.replace("t_c,", "sensor,"), "sensor", "no column is plainly the temperature"),
        (BOXES.replace("r_ohm", "R (bar)"), "sensor", "'bar' is no unit of a resistance"),
        (BOXES.replace("box 5,41.3,5455", "box 5,41.3"), "sensor", "row 6, value 'box 5,41.3': 2"),
        (BOXES.replace("41.3,5455", "41.3,5455,x"), "sensor", "row 6, value 'box 5,41.3,5455,x'"),
        ("sensor,t_c,r_ohm\n", "sensor", "no readings stand below it"),
        (BOXES.replace("35090", "35,090"), "sensor", "row 3, value 'box 5,0.0,35,090'"),
    ],
)
def test_a_file_that_cannot_be_read_names_row_and_column(
    here: Here, text: str, column: str, told: str
) -> None:
    assert told in refused(here, text, column=column)


def test_a_column_is_not_two_things(here: Here) -> None:
    error = refused(here, BOXES, "--t-column", "2", "--r-column", "3", column="3")
    told = "column 'r_ohm': the column cannot be both the name of the sensor and resistance"
    assert told in error


def test_decimal_points_and_commas_in_one_file_are_refused(here: Here) -> None:
    text = BOXES.replace(",", ";").replace("41.3;5455", "41,3;5455")
    assert "write all with the same sign" in refused(here, text)


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--reading", "0C:32.6k"), "--sensor-column is of a FILE of points"),
        (("--at", "25C"), "--sensor-column is of a FILE of points"),
        ((), "give one of FILE"),
        (("bench.csv", "--csv", "--json"), "--csv goes with --sensor-column, and not with --json"),
    ],
)
def test_a_wrong_call_ends_with_status_2(here: Here, words: tuple[str, ...], told: str) -> None:
    done = here("check", *words, "--sensor-column", "1", *KNOWN)
    assert (done.returncode, done.stdout) == (2, "")
    assert told in done.stderr


def test_csv_is_of_many_sensors(here: Here) -> None:
    done = here("check", "bench.csv", "--csv", *KNOWN)
    assert done.returncode == 2
    assert "--csv goes with --sensor-column" in done.stderr


def test_readings_without_any_uncertainty_are_refused(here: Here) -> None:
    (here.folder / "boxes.csv").write_text(BOXES, encoding="utf-8")
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *BY)
    assert done.returncode == 1
    assert "the readings state no uncertainty" in done.stderr


# -- what is printed --------------------------------------------------------------


def test_the_text_has_a_row_for_each_sensor_the_reasons_and_the_count(here: Here) -> None:
    (here.folder / "boxes.csv").write_text(BOXES + "box 9,0.0,OL\n", encoding="utf-8")
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN)
    lines = done.stdout.splitlines()
    rows = [line.split("  ") for line in lines]
    table = [[cell.strip() for cell in row if cell] for row in rows[:5]]
    assert table[0] == [
        "sensor", "verdict", "probability", "R25 off / %", "B off / %", "because",
    ]  # fmt: skip
    answer = by_name(here.json("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN))
    for row in table[1:4]:
        own = answer[row[0]]
        assert [row[1], row[5]] == [own["verdict"], own["cause"]]
        assert float(row[3]) == pytest.approx(100.0 * np.expm1(own["gamma"]), abs=0.005)
        assert float(row[4]) == pytest.approx(100.0 * own["beta"], abs=0.005)
    assert table[4] == ["box 9", "cannot tell", "unusable readings"]
    for name in ("box 5", "box 7", "box 9"):
        assert f"  {name}: {answer[name]['reason']}" in lines
    assert not any(line.startswith("  box 3:") for line in lines)
    assert lines[-1] == "4 sensors: 1 accept, 2 reject, 1 cannot tell"
    assert "against ntc-10k-3977: R(25 °C) ± 1 %, B ± 0.75 %" in lines
    told = next(line for line in lines if line.startswith("  standard uncertainty: "))
    u_r25, u_b = (re.findall(r"\d\.\d+", part) for part in told.split(", B "))
    known = [answer[name] for name in ("box 3", "box 5", "box 7")]
    for shown, own in (
        (u_r25, [100.0 * row["u_gamma"] * np.exp(row["gamma"]) for row in known]),
        (u_b, [100.0 * row["u_beta"] for row in known]),
    ):
        assert float(shown[0]) == pytest.approx(min(own), abs=0.005)
        assert float(shown[-1]) == pytest.approx(max(own), abs=0.005)
    assert "caution: Measure with both leads disconnected" in done.stderr


@pytest.mark.parametrize("columns", [80, 100])
def test_lines_fit_the_terminal_and_a_pipe_gets_whole_ones(shell: Shell, columns: int) -> None:
    text = BOXES.replace("box 7", "north house bench 2 box 7") + "box 9,0.0,OL\nbox 11,300,10\n"
    (shell.folder / "boxes.csv").write_text(text, encoding="utf-8")
    words = ("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN)
    shown = ESCAPE.sub("", on_terminal(shell.folder, columns, *words))
    assert max(map(len, shown.split("\n"))) <= columns
    # One table, in which each sensor comes once.
    assert shown.count("probability") == 1
    assert "5 sensors: 1 accept, 2 reject, 2 cannot tell" in shown.splitlines()
    piped = shell(*words)
    assert set((piped.stdout + piped.stderr).split()) <= set(shown.split())
    assert "\x1b" not in piped.stdout
    assert max(map(len, piped.stdout.split("\n"))) > 100


def test_a_thousand_sensors_have_a_thousand_rows(here: Here) -> None:
    rng = np.random.default_rng(11)
    t_c = np.array([0.0, 25.0, 70.0])
    lines = ["sensor,t_c,r_ohm"]
    for number in range(1000):
        r_ohm = FAMILY.curve.resistance(t_c) * np.exp(rng.normal(0.0, 0.01))
        lines += [f"box {number},{t},{r:.6g}" for t, r in zip(t_c, r_ohm, strict=True)]
    (here.folder / "boxes.csv").write_text("\n".join(lines), encoding="utf-8")
    printed = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN).stdout.splitlines()
    assert [line.split("  ")[0] for line in printed[1:1001]] == [f"box {n}" for n in range(1000)]
    counts = [int(number) for number in re.findall(r"\d+", printed[-1])]
    assert counts[0] == sum(counts[1:]) == 1000


FORMULAS = ["=1+1", "+A1", "-box", "@SUM(A1)", '=HYPERLINK("http://invalid.example")']


@pytest.mark.parametrize("name", FORMULAS)
def test_a_name_that_a_spreadsheet_would_run_goes_into_no_csv(here: Here, name: str) -> None:
    quoted = name.replace('"', '""')
    text = BOXES.replace("box 5", f'"{quoted}"')
    assert name in by_name(judged(here, text))
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN)
    assert f"\n{name} " in done.stdout
    error = refused(here, text, "--csv")
    assert f"boxes.csv: the sensor {name!r} begins with {name[0]!r}" in error
    assert "as a formula; put a word before it, or take --json" in error


def test_csv_says_what_the_json_says(here: Here) -> None:
    answer = judged(here, BOXES.replace("box 5", '"box 5, ""east"""') + "-9,0.0,OL\n")
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN, "--csv")
    assert done.returncode == 0
    rows = list(csv.DictReader(io.StringIO(done.stdout)))
    assert list(rows[0]) == list(answer["sensors"][0])
    for row, own in zip(rows, answer["sensors"], strict=True):
        for key, value in own.items():
            read = float(row[key]) if isinstance(value, (int, float)) else row[key]
            assert read == ("" if value is None else value)


def test_names_begin_no_lines_and_turn_no_writing(here: Here) -> None:
    name = "box\u202e 5\n9 sensors: 9 accept"
    answer = judged(here, BOXES.replace("box 5", f'"{name}"'))
    assert name in by_name(answer)
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN)
    assert "\u202e" not in done.stdout
    assert not any(line.startswith("9 sensors") for line in done.stdout.splitlines())


def test_a_name_longer_than_a_line_is_cut_in_the_text_only(here: Here) -> None:
    name = "x" * 300
    assert name in by_name(judged(here, BOXES.replace("box 5", name)))
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN)
    assert f"\n{'x' * 39}…  reject" in done.stdout


def test_a_shorted_sensor_shows_no_more_digits_than_the_others(here: Here) -> None:
    rows = "sensor,t_c,r_ohm\ngood,0,32600\ngood,70,1760\nshorted,0,0.3\nshorted,70,0.3\n"
    (here.folder / "boxes.csv").write_text(rows, encoding="utf-8")
    done = here("check", "boxes.csv", "--sensor-column", "sensor", *KNOWN)
    (row,) = [line for line in done.stdout.splitlines() if line.startswith("shorted ")]
    assert "below 0.1 %" in row and " -100.0" in row and "-99.99" not in row
