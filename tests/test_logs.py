"""Logs converted file to file: what is computed, what is kept, what is refused."""

from __future__ import annotations

import csv
import gzip
import io
import warnings
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.errors import FileError, UnitError
from thermofit.logs import LogConversion, convert_log, csvlog, numbers, rows

pa = pytest.importorskip("pyarrow")

CURVE = tf.Curve.steinhart_hart(a=1.129148e-3, b=2.34125e-4, c=8.76741e-8, t_range_c=(-20, 80))
KNOWN = CURVE.replace(id="inlet", covariance=np.diag([1e-12, 1e-14, 1e-18]))


@pytest.fixture(params=["pyarrow", "without"])
def either(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """CSV is converted alike with and without pyarrow."""
    if request.param == "without":
        for module in (numbers, rows):
            monkeypatch.setattr(module, "has_arrow", lambda: False)


def converted(folder: Path, content: str | bytes, **how: Any) -> tuple[str, LogConversion]:
    source, target = folder / "july.csv", folder / "july-c.csv"
    source.write_bytes(content.encode() if isinstance(content, str) else content)
    done = convert_log(source, target, how.pop("curve", CURVE), overwrite=True, **how)
    return target.read_bytes().decode("utf-8", "surrogateescape"), done


def refused(folder: Path, content: str | bytes, **how: Any) -> str:
    with pytest.raises(FileError) as caught:
        converted(folder, content, **how)
    assert str(folder / "july.csv") in str(caught.value)
    return str(caught.value)


# -- what is computed -------------------------------------------------------------


@pytest.mark.usefixtures("either")
def test_every_reading_is_converted_as_the_curve_does_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(csvlog, "_BLOCK", 4096)
    r_ohm = np.geomspace(1500.0, 90e3, 3000)
    text = "r_ohm\n" + "".join(f"{value!r}\n" for value in r_ohm.tolist())
    new, done = converted(tmp_path, text)
    got = [float(line.split(",")[1]) for line in new.splitlines()[1:]]
    np.testing.assert_array_equal(got, CURVE.temperature(r_ohm))
    assert (done.rows, done.lowest, done.highest) == (3000, min(got), max(got))


@pytest.mark.usefixtures("either")
def test_resistances_come_from_temperatures_in_their_unit(tmp_path: Path) -> None:
    text, done = converted(tmp_path, "t_f,x\n77.0,a\n32,b\n", to="resistance")
    got = [float(line.split(",")[2]) for line in text.splitlines()[1:]]
    np.testing.assert_array_equal(got, CURVE.resistance([25.0, 0.0]))
    assert text.startswith("t_f,x,r_ohm\n")
    assert "read as temperature in °F, from its header" in done.notes[1]


@pytest.mark.parametrize(
    ("header", "unit", "ohm"),
    [("r_ohm", None, 1.0), ("R / kΩ", None, 1e3), ("ntc", "kohm", 1e3), ("r_ohm", "kohm", 1e3)],
)
def test_the_unit_is_that_of_the_header_or_the_one_stated(
    tmp_path: Path, header: str, unit: str | None, ohm: float
) -> None:
    text, done = converted(tmp_path, f"{header}\n{9000.0 / ohm!r}\n", column=1, unit=unit)
    assert float(text.split(",")[-1]) == CURVE.temperature(9000.0)
    assert done.notes[1].endswith("from its header" if unit is None else "as stated")


def test_a_unit_is_never_guessed(tmp_path: Path) -> None:
    assert "state it (unit): ohm or kohm" in refused(tmp_path, "ntc\n9000\n", column="ntc")
    assert "state it (unit)" in refused(tmp_path, "R\n9000\n")
    with pytest.raises(UnitError, match="'volt' is no unit of a resistance"):
        converted(tmp_path, "ntc\n9000\n", column="ntc", unit="volt")


@pytest.mark.usefixtures("either")
def test_uncertainties_are_those_of_the_curve(tmp_path: Path) -> None:
    content = "r_ohm\n9000\n\n12000\nNaN\n"
    text, _ = converted(tmp_path, content, curve=KNOWN, u_column="u_t_k", u_r_pct=0.5, u_r_ohm=3)
    r = np.array([9000.0, 12000.0])
    want = KNOWN.temperature_interval(r, 0.005 * r + 3.0).standard_uncertainty
    lines = text.splitlines()
    assert lines[0] == "r_ohm,t_c,u_t_k"
    got = [float(lines[place].split(",")[2]) for place in (1, 3)]
    np.testing.assert_allclose(got, want, rtol=1e-14)
    assert lines[4] == "NaN,,"
    text, _ = converted(
        tmp_path, "t_c\n25\n", curve=KNOWN, to="resistance", u_column="u", u_t_k=0.1
    )
    want_ohm = KNOWN.resistance_interval(25.0, 0.1).standard_uncertainty
    assert float(text.split(",")[-1]) == pytest.approx(want_ohm, rel=1e-14)
    with pytest.raises(tf.InputError, match="no covariance"):
        converted(tmp_path, content, u_column="u_t_k")


@pytest.mark.parametrize("workers", [2, -1])
def test_threads_change_nothing(
    tmp_path: Path, workers: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(csvlog, "_BLOCK", 1024)
    content = "n,r_ohm\n" + "".join(f"{n},{9000 + n}\n" for n in range(2000))
    assert converted(tmp_path, content, workers=workers) == converted(tmp_path, content)


# -- what is kept -----------------------------------------------------------------

signs = st.text(st.characters(exclude_characters="\0", exclude_categories=["Cs"]), max_size=6)
cells = signs | st.text('\n\r",;a', max_size=9)
endings = st.sampled_from(["\n", "\r\n"])


def as_cell(value: str | float, quoted: bool) -> str:
    """A cell as RFC 4180 has it."""
    text = value if isinstance(value, str) else repr(value)
    quoted = quoted or any(sign in text for sign in '",\r\n')
    return '"{}"'.format(text.replace('"', '""')) if quoted else text


@settings(max_examples=60)
@given(
    st.lists(st.tuples(cells, st.floats(2e3, 9e4), cells), min_size=1, max_size=12),
    endings, st.booleans(), st.booleans(), st.booleans(), st.integers(1, 64),
)  # fmt: skip
def test_other_cells_are_kept_to_the_byte_whatever_stands_in_them(
    tmp_path_factory: pytest.TempPathFactory, table: list[tuple[str, float, str]],
    ending: str, all_quoted: bool, open_end: bool, arrow: bool, block: int,
) -> None:  # fmt: skip
    lines: list[tuple[str | float, ...]] = [("note", "r_ohm", "by"), *table]
    text = "".join(",".join(as_cell(c, all_quoted) for c in line) + ending for line in lines)
    if open_end:
        text = text.removesuffix(ending)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("os.fsync", lambda file: None)
        patch.setattr(csvlog, "_BLOCK", 32 + block)
        for module in (numbers, rows):
            patch.setattr(module, "has_arrow", lambda: arrow)
        new, done = converted(tmp_path_factory.mktemp("log"), text)
    before = list(csv.reader(io.StringIO(text, newline="")))
    after = list(csv.reader(io.StringIO(new, newline="")))
    assert [row[:-1] for row in after] == before
    got = [float(row[-1]) for row in after[1:]]
    np.testing.assert_array_equal(got, CURVE.temperature([r for _, r, _ in table]))
    assert done.rows == len(table)
    # Taken away again, the new cells leave the very bytes of the log.
    places = 0
    for cell in ["t_c", *(row[-1] for row in after[1:])]:
        places = new.index(f",{cell}", places)
        assert text.startswith(new[:places])
        new = new[:places] + new[places + len(cell) + 1 :]
    assert new == text


@pytest.mark.usefixtures("either")
@pytest.mark.parametrize(
    ("content", "expected"),
    [
        ("id,r_ohm\n007,1e4\n1.50,10000\n", "id,r_ohm,t_c\n007,1e4,{}\n1.50,10000,{}\n"),
        ("r_ohm\r\n10000\r\n", "r_ohm,t_c\r\n10000,{}\r\n"),
        ("r_ohm\n10000", "r_ohm,t_c\n10000,{}"),
        ("\ufeffr_ohm,n\n10000,\n", "\ufeffr_ohm,n,t_c\n10000,,{}\n"),
        ("# july\n\nr_ohm\n\n10000\n\n", "# july\n\nr_ohm,t_c\n\n10000,{}\n\n"),
        ('"r_ohm","a\nb"\n" 10000 ","x"\n', '"r_ohm","a\nb",t_c\n" 10000 ","x",{}\n'),
        ("n\tr_ohm\n1\t+10000\n", "n\tr_ohm\tt_c\n1\t+10000\t{}\n"),
        ("n|r_ohm|\n1| 10000|\n", "n|r_ohm||t_c\n1| 10000||{}\n"),
        ("r_ohm\n", "r_ohm,t_c\n"),
        ("r_ohm", "r_ohm,t_c\n"),
    ],
)
def test_the_form_of_the_file_is_kept(tmp_path: Path, content: str, expected: str) -> None:
    text, _ = converted(tmp_path, content)
    t_c = CURVE.temperature(10e3)
    assert text == expected.format(*[repr(t_c)] * expected.count("{}"))


@pytest.mark.usefixtures("either")
def test_bytes_that_are_no_utf8_stay_as_they_are(tmp_path: Path) -> None:
    text, _ = converted(tmp_path, "r_ohm,caf\u00e9\n10000,\u00e9t\u00e9\n".encode("cp1252"))
    assert text.encode("utf-8", "surrogateescape").startswith(
        b"r_ohm,caf\xe9,t_c\n10000,\xe9t\xe9,"
    )


@pytest.mark.usefixtures("either")
def test_a_decimal_comma_is_seen_and_written(tmp_path: Path) -> None:
    content = "zeit;R (kΩ)\n1;12,5\n2;1\n"
    curve = CURVE.replace(t_range_c=(-20, 120))
    text, done = converted(tmp_path, content, curve=curve)
    want = [repr(t).replace(".", ",") for t in curve.temperature([12.5e3, 1e3]).tolist()]
    assert text == f"zeit;R (kΩ);t_c\n1;12,5;{want[0]}\n2;1;{want[1]}\n"
    assert done.notes[0] == "cells separated by ';', decimal sign ','"


@pytest.mark.usefixtures("either")
def test_inches_in_a_note_never_join_two_rows(tmp_path: Path) -> None:
    text = 't,note,r_ohm\n06:00,5 " pipe,10000\n06:10,6 " pipe,20000\n'
    assert "row 2: a quote" in refused(tmp_path, text)
    assert "row 3: a quote" in refused(tmp_path, 't,note,r_ohm\n1,a,9e3\n2,to "a,b" x,9e3\n')


@pytest.mark.usefixtures("either")
def test_spaces_may_stand_around_a_quoted_cell(tmp_path: Path) -> None:
    rows_ = ['1;  "a;b" ;9000;"x"  ', '  "2"; "c ""d""";9000;  "y;" ']
    for end in ("\n", "\r\n"):
        text = end.join(["n;note;r_ohm;z", *rows_, ""])
        new, done = converted(tmp_path, text)
        assert done.rows == 2
        for line, row in zip(new.split(end)[1:], rows_, strict=False):
            assert line.rpartition(";")[0] == row


@pytest.mark.usefixtures("either")
def test_a_long_note_hinders_nobody(tmp_path: Path) -> None:
    # Longer than a cell of Python's csv module may be.
    text = f'note;r_ohm\n{"x" * 200_000};10000,5\n"a;b\nc";9000,5\n'
    new, done = converted(tmp_path, text)
    assert (done.rows, done.blank) == (2, 0)
    assert new.splitlines()[1].count(",") == 2
    assert "decimal sign ','" in done.notes[0]


def test_a_header_that_is_none_is_told(tmp_path: Path) -> None:
    assert "the header is unreasonably long" in refused(tmp_path, f"r_ohm,{'x' * 200_000}\n1,2\n")


@pytest.mark.usefixtures("either")
def test_a_comma_that_may_group_thousands_must_be_settled(tmp_path: Path) -> None:
    content = "n;r_ohm\n1;12,500\n"
    assert "state it (decimal)" in refused(tmp_path, content)
    curve = CURVE.replace(t_range_c=(-20, 280))
    low, _ = converted(tmp_path, content.replace("12,500", "100,500"), decimal=",", curve=curve)
    assert float(low.split(";")[-1].replace(",", ".")) == curve.temperature(100.5)
    assert "row 2, column 'r_ohm', value '12,500': not a number" in refused(
        tmp_path, content, decimal="."
    )
    # A point beside decimal commas is no number either.
    assert "value '1.000'" in refused(tmp_path, "n;r_ohm\n1;9000,5\n2;1.000\n")


@pytest.mark.parametrize("ending", [".csv.gz", ".csv"])
def test_a_compressed_log_is_read_and_written(tmp_path: Path, ending: str) -> None:
    source, target = tmp_path / "july.csv.gz", tmp_path / f"out{ending}"
    source.write_bytes(gzip.compress(b"r_ohm\n10000\n"))
    convert_log(source, target, CURVE)
    content = target.read_bytes()
    text = gzip.decompress(content) if ending.endswith("gz") else content
    assert text == f"r_ohm,t_c\n10000,{CURVE.temperature(10e3)!r}\n".encode()
    source.write_bytes(source.read_bytes()[:-6])
    with pytest.raises(FileError, match="the compressed file is damaged"):
        convert_log(source, tmp_path / "again.csv", CURVE)


# -- cells without a reading, and such that no sensor can have --------------------


@pytest.mark.usefixtures("either")
def test_blank_cells_stay_blank_and_are_counted(tmp_path: Path) -> None:
    content = 'n,r_ohm\n1,10000\n2,\n3,NaN\n4, n/a \n5,""\n6,--\n'
    text, done = converted(tmp_path, content)
    assert [line.rpartition(",")[2] for line in text.splitlines()[2:]] == [""] * 5
    assert (done.rows, done.blank, done.first_blank, done.unusable) == (6, 5, 3, 0)


UNUSABLE = ["0", "-5", "inf", "1e400", "OL", "open", "1_000", "10 k", "0x10"]


@pytest.mark.usefixtures("either")
@pytest.mark.parametrize("cell", UNUSABLE)
def test_what_no_sensor_can_show_is_refused_with_its_place(tmp_path: Path, cell: str) -> None:
    content = f'"a\nb",r_ohm\n1,10000\n\n"x\ny",{cell}\n'
    problem = refused(tmp_path, content)
    assert f"row 5, column 'r_ohm', value '{cell}'" in problem
    assert "unusable='blank'" in problem
    assert not (tmp_path / "july-c.csv").exists()
    text, done = converted(tmp_path, content, unusable="blank")
    assert text.endswith(f"{cell},\n")
    assert (done.unusable, done.first_unusable, done.blank) == (1, 5, 0)


def test_temperatures_end_at_absolute_zero(tmp_path: Path) -> None:
    problem = refused(tmp_path, "t_k\n300\n0\n", to="resistance")
    assert "row 3, column 't_k', value '0': no temperature" in problem


@pytest.mark.usefixtures("either")
def test_what_is_outside_the_range_is_counted_and_told_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(csvlog, "_BLOCK", 64)
    content = "r_ohm\n" + "10000\n" * 50 + "900.0\n" * 40 + "10000\n"
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        _, done = converted(tmp_path, content)
    assert [str(w.message).partition(": ")[2] for w in caught] == [
        "40 values are outside the curve's valid range of -20 to 80 °C, the first in row 52"
    ]
    assert Path(caught[0].filename).name == "test_logs.py"
    assert (done.outside, done.first_outside, done.no_value) == (40, 52, 0)
    with pytest.raises(tf.ExtrapolationError, match=r"row 52, column 'r_ohm', value '900.0'"):
        converted(tmp_path, content, strict=True)


@pytest.mark.filterwarnings("ignore::thermofit.errors.ExtrapolationWarning")
def test_where_the_curve_has_no_value_the_cell_is_blank(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(csvlog, "_BLOCK", 64)
    platinum = tf.Curve.callendar_van_dusen(r0_ohm=100.0)
    assert np.isnan(platinum.temperature(1e6))
    text, done = converted(tmp_path, "r_ohm\n100\n1e6\n" + "100\n" * 50 + "1e6\n", curve=platinum)
    assert text.endswith("1e6,\n")
    assert (done.outside, done.no_value, done.blank, done.first_outside) == (2, 2, 0, 3)
    assert "2 rows of these blank: the curve has no value there" in str(done)


# -- files that cannot be used ----------------------------------------------------


@pytest.mark.usefixtures("either")
@pytest.mark.parametrize(
    ("content", "problem"),
    [
        ("", "there is no header"),
        ("\n\n", "there is no header"),
        ("a,r_ohm\n1,2\n3,10000,5\n", "row 3: 3 cells where the header has 2"),
        ("a,r_ohm\n1,10000\n\n3\n4,2\n", "row 4: 1 cell where the header has 2"),
        ("a,r_ohm\n1,10000\n# noon\n", "row 3: 1 cell where"),
        ("a,r_ohm\n1,10000\n9000\n9000\n", "row 3: 1 cell where"),
        ("a,r_ohm\n1,10000\n9000\n1,2,9000\n", "row 3: 1 cell where"),
        ('a,r_ohm\n5" pipe,10000\n6" pipe,10000\n', 'row 2: a quote (") within a cell'),
        ('a,r_ohm\n1,10000\n"x"y,10000\n', 'row 3: a quote (") within a cell'),
        ('a,r_ohm\n1,10000\n"x,10000\n', 'row 3: a quote (") within a cell'),
        ("a,r_ohm\r\n1,10000\r\n2,1\r0\r\n", "row 3: a CR without LF"),
        ('a,"r_ohm\n1,10000\n', 'row 1: a quote (") in the header is never closed'),
        ('"a"b,r_ohm\n1,10000\n', 'row 1: text follows a closing quote (") in the header'),
        ("a;b,r_ohm\n1,2\n", "';' and ',' divide the header alike"),
        ("time,note\n1,2\n", "no column is plainly the resistance; name it (column)"),
        ("r1_ohm,r2_ohm\n1,2\n", "2 columns are plainly the resistance"),
        ("t_c,r_ohm\rx\n", "lines end with CR alone"),
        ("r_ohm\n10000\n".encode("utf-16"), "no UTF-8 text"),
    ],
)
def test_a_file_of_another_form_is_refused_with_the_row(
    tmp_path: Path, content: str | bytes, problem: str
) -> None:
    assert problem in refused(tmp_path, content)
    assert [path.name for path in tmp_path.iterdir()] == ["july.csv"]


def test_a_quote_that_never_closes_does_not_fill_the_memory(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rows, "_LONGEST_ROW", 5000)
    monkeypatch.setattr(csvlog, "_BLOCK", 1000)
    content = "a,r_ohm\n" + "1,10000\n" * 300 + '"x,10000\n' + "1,10000\n" * 3000
    assert "row 302: the row is unreasonably long" in refused(tmp_path, content)


@pytest.mark.parametrize(
    ("column", "problem"),
    [
        ("outlet", "there is no column 'outlet'"),
        (4, "there is no column 4"),
        ("t_c", "column 't_c' is a temperature, where resistance is wanted"),
    ],
)
def test_a_column_that_does_not_do_is_refused(
    tmp_path: Path, column: str | int, problem: str
) -> None:
    message = refused(tmp_path, "t_c,r_ohm,n\n1,2,3\n", column=column)
    assert problem in message


@pytest.mark.parametrize(
    ("how", "problem"),
    [
        ({"new_column": "n"}, "has a column 'n' already"),
        ({"new_column": " "}, "cannot be the name of a column"),
        ({"new_column": "u", "u_column": "u", "curve": KNOWN}, "has a column 'u' already"),
        ({"delimiter": "ab"}, "delimiter must be one character"),
        ({"decimal": ","}, "a comma cannot part the cells and be the decimal sign"),
        ({"decimal": ";"}, "decimal must be"),
        ({"to": "voltage"}, "to must be 'temperature' or 'resistance'"),
        ({"unusable": "drop"}, "unusable must be"),
        ({"workers": 0}, "workers must be"),
        ({"u_r_pct": 1.0}, r"name the column for it \(u_column\)"),
        ({"u_column": "u", "u_t_k": 1.0, "curve": KNOWN}, "u_t_k with temperatures"),
        ({"u_column": "u", "u_r_ohm": -1.0, "curve": KNOWN}, "u_r_ohm must be zero or more"),
        ({"curve": 3977.0}, "curve must be a Curve, not float"),
    ],
)
def test_arguments_that_make_no_sense_are_refused(
    tmp_path: Path, how: dict[str, Any], problem: str
) -> None:
    with pytest.raises(tf.InputError, match=problem):
        converted(tmp_path, "n,r_ohm\n1,10000\n", **how)
    assert not (tmp_path / "july-c.csv").exists()


def test_the_ending_tells_the_form(tmp_path: Path) -> None:
    (tmp_path / "july.txt").write_text("r_ohm\n10000\n")
    with pytest.raises(tf.InputError, match=r"must end in \.csv, \.csv\.gz or \.parquet"):
        convert_log(tmp_path / "july.txt", tmp_path / "x.csv", CURVE)
    with pytest.raises(FileError, match="there is no such file"):
        convert_log(tmp_path / "july.csv", tmp_path / "x.csv", CURVE)
    (tmp_path / "folder.csv").mkdir()
    with pytest.raises(FileError, match="it cannot be read"):
        convert_log(tmp_path / "folder.csv", tmp_path / "x.csv", CURVE)


def test_the_summary_says_what_became_of_the_rows(tmp_path: Path) -> None:
    _, done = converted(tmp_path, "r_ohm\n10000\n\nNA\n0\n9000\n", unusable="blank")
    low, high = CURVE.temperature([10e3, 9e3])
    lines = str(done).splitlines()
    assert lines[0].startswith("4 rows of ")
    assert lines[1:] == [
        f"  from {low:.3f} °C to {high:.3f} °C",
        "  1 row without a reading, blank, the first of them 4",
        "  1 row with no reading of a sensor, left blank, the first of them 5",
    ]
    assert done._repr_html_().startswith("<div>")
