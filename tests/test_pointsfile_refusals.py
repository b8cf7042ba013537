"""Points files that cannot be read say where, why, and what to do about it.

All readings are invented: aspirated air sensors from glasshouse climate
controllers, measured in ice and in a stirred bath at a workshop.
"""

from __future__ import annotations

import csv
import errno
import io
import os
import pickle
import re
import threading
import warnings
from pathlib import Path
from typing import Any

import pytest

from thermofit.errors import InputError, PointsFileError, UnitError, UnitGuessWarning
from thermofit.pointsfile import read_points, rows


def refusal(content: str | bytes, **options: Any) -> PointsFileError:
    stream: Any = io.StringIO(content) if isinstance(content, str) else io.BytesIO(content)
    with pytest.raises(PointsFileError) as caught:
        read_points(stream, **options)
    return caught.value


def test_every_bad_cell_is_listed_with_row_column_value_and_way_out() -> None:
    error = refusal(
        '# invented\nT (°C),R (Ω),note\n0,32650,"ice,\nstirred"\n\nwarm,10000,\n50,,\n'
        "60,0,\n70,-5,\n-300,5,\n-273.15,5,\n80\n90,1,2,3\n"
        "=1+2,OL,\nNaN,inf,\n25 30,5x,\n1e999,1,\n"
    )
    assert [(p.row, p.column, p.value) for p in error.problems] == [
        (6, "T (°C)", "warm"),
        (7, "R (Ω)", ""),
        (8, "R (Ω)", "0"),
        (9, "R (Ω)", "-5"),
        (10, "T (°C)", "-300"),
        (11, "T (°C)", "-273.15"),
        (12, None, "80"),
        (13, None, "90,1,2,3"),
        (14, "T (°C)", "=1+2"),
        (14, "R (Ω)", "OL"),
        (15, "T (°C)", "NaN"),
        (15, "R (Ω)", "inf"),
        (16, "T (°C)", "25 30"),
        (16, "R (Ω)", "5x"),
        (17, "T (°C)", "1e999"),
    ]
    reasons = [problem.reason for problem in error.problems]
    told = [
        "not a number; write it as 25.3, 25.3C or 77.5F",
        "the cell is empty; fill it in, or delete the row",
        "a resistance is above zero; if the meter showed a short circuit, delete the row",
        "a resistance is above zero; if the meter showed a short circuit, delete the row",
        "below absolute zero; correct it, or its unit",
        "not above absolute zero; correct it, or its unit",
        "1 cell where the header has 3; write the missing ones, or delete the row",
        "4 cells where the header has 3; if the comma is the decimal sign, set columns apart by "
        "semicolons, or quote the cells",
        "not a number; write it as 25.3, 25.3C or 77.5F",
        "an overload is not a reading; measure in a higher range, or delete the row (in the "
        "highest range it means that sensor or lead is open)",
        "not a reading; measure again, or delete the row",
        "an overload is not a reading; measure in a higher range, or delete the row (in the "
        "highest range it means that sensor or lead is open)",
        "a space stands within the number, and it does not group thousands; delete it",
        "'x' is no unit of a resistance; write it as 9870, 9870R or 9.87k",
        "the number is too large; correct it, or delete the row",
    ]
    assert reasons == told
    assert pickle.loads(pickle.dumps(error)).problems == error.problems


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("", "the file is empty, or has only blank lines and comments"),
        ("\n\n# invented\n \n\t\n", "the file is empty, or has only blank lines and comments"),
        ("\n" * 2**21 + "t_c,r_ohm\n25,10000", "nothing but blank lines and comments at the beg"),
        ("t_c,r_ohm\n", "row 1: there is a header, but no readings stand below it"),
        ("T\n25\n50\n", "there is only one column"),
        ("t_c,note\n25,ice\n", "no column is plainly the resistance; name the column (r_column)"),
        ("t_c,note\n25,ice\n", "the columns are 1 't_c', 2 'note'"),
        ("25,10000,3\n50,3603,4\n", "row 1: there is no header, and 3 columns may mean many"),
        ("25,10000\nt_c,r_ohm\n50,3603\n", "row 2, column '1', value 't_c': not a number"),
        ("t_c,r_ohm\nOL,OL\nt_c,r_ohm\n25,10000\n", "row 2, column 't_c', value 'OL': an over"),
        ("T (°C),bath temp,R (Ω)\n1,2,3", "could all be the temperature: 1 'T (°C)', 2 'bath te"),
        ("T (°C),R1 (Ω),R2 (Ω)\n1,2,3", "name the column (r_column) by header or position"),
        ("T (°X),R (Ω)\n25,1", "row 1, column 'T (°X)': '°X' is no unit of a temperature; write"),
        ("T (°C),R (V)\n25,1", "'V' is no unit of a resistance; write Ω, kΩ or MΩ, or state"),
        ("T,R (Ω)\n°F,kΩ\n25,1", "the header and the row below it (kΩ) state different units"),
        ("T,R\n77F,10k\n25,4k7\n", "row 3, column 'T', value '25': has no unit, though others"),
        ("T (°C),R (Ω)\n25,5,10000\n", "3 cells where the header has 2; if the comma is the deci"),
        ("T (°C);R (Ω)\n25;1;2\n", "3 cells where the header has 2; delete what is too much"),
        ('T (°C),R (Ω)\n25,"10000\n50,3603\n', 'row 2: a quote (") is opened here that is never'),
        ('T (°C),R (Ω)\n25,"10"000\n', 'row 2: text follows a closing quote (")'),
        (f"T (°C),R (Ω)\n25,{'1' * 10**6}\n", "row 2: the row is unreasonably long"),
        (f"T (°C),R (Ω)\n25,{'1' * 10**5}\n", "100000 characters are not a number"),
        (",".join(["x"] * 20_000) + "\n", "20000 columns are more than a points file has"),
        (",".join(["x"] * 100_000) + "\n", "row 1: the row is unreasonably long"),
    ],
)
def test_what_is_no_points_file_says_so(content: str, message: str) -> None:
    assert message in str(refusal(content))


@pytest.mark.parametrize("limit", [1000, 10**9])
def test_what_others_allow_the_csv_module_does_not_matter(limit: int) -> None:
    """Some packages raise its limit when they are imported, for the whole process."""
    before = csv.field_size_limit(limit)
    try:
        told = str(refusal(f"T (°C),R (Ω)\n25,{'1' * 10**6}\n"))
    finally:
        csv.field_size_limit(before)
    assert "row 2: the row is unreasonably long" in told


@pytest.mark.parametrize(
    ("content", "row", "message"),
    [
        ('T,R\n"0",32650\n"25,9960\n', 3, "is opened here that is never closed"),
        ('T;R\n"0";32650\n"25;9960\n', 3, "is opened here that is never closed"),
        ('T,R\n"0",32650\n"25"5,9960\n', 3, "text follows a closing quote"),
    ],
)
def test_a_broken_quote_is_told_under_the_separator_of_the_file(
    content: str, row: int, message: str
) -> None:
    (problem,) = refusal(content).problems
    assert problem.row == row
    assert message in problem.reason


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("T,R,\n0,32650,ice\n", "3 cells where the header has 2; name column 3 in the header"),
        ("T,R,,\n0,32650,,ice\n", "4 cells where the header has 2; name column 4 in the header"),
        ("T;R;\n0;32650;ice\n", "3 cells where the header has 2; name column 3 in the header"),
        ("T,R,\n°C,Ω,\n0,32650,ice\n", "where the header has 2; name column 3 in the header"),
        ('T,R\n0,32650,"ice, stirred"\n', "the header has 2; name column 3 in the header"),
        ("T,R,\n25,5,10000,\n", "the header has 2; if the comma is the decimal sign"),
        ("T,R,note\n25,5,10000,ice\n", "the header has 3; if the comma is the decimal sign"),
        ("0,32650,\n25,5,10000\n", "the first row has 2; if the comma is the decimal sign"),
    ],
)
def test_a_column_without_a_name_is_told_from_a_decimal_comma(content: str, message: str) -> None:
    assert message in str(refusal(content))


@pytest.mark.parametrize(
    ("content", "message"),
    [
        (b"PK\x03\x04\x14\x00", "this is a spreadsheet workbook, not CSV; open it where it was"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1", "this is a spreadsheet workbook, not CSV"),
        (b"t_c,r_ohm\n25,1\x000000\n", "row 2: this is not text: it contains NUL bytes"),
        (b"t_c,r_ohm\n25,\x8110000\n", "row 2: the byte 0x81 is not Windows-1252 or UTF-8 text"),
        (b"\xff\xfet\x00\x00\xd8,\x00", "is not UTF-16 text; save it as UTF-8"),
        (b"t_c,r_ohm\n25,\x0710000\n", "control character '\\x07'"),
        ("t_c,r_ohm\n25,\udc81\n", "row 2: undecodable bytes; pass the stream in binary mode"),
    ],
)
def test_what_is_no_text_says_so(content: str | bytes, message: str) -> None:
    assert message in str(refusal(content))


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("t_c,r_ohm,U(T)\n25,10000,0.1\n", "upper-case U is an expanded uncertainty"),
        ("t_c,r_ohm,U_R\n25,10000,5\n", "write u(R) for a standard one or state k, as in U(R) k=2"),
        ("t_c,r_ohm,uncertainty of T\n25,10000,1\n", "does not say whether this is a standard or"),
        ("t_c,r_ohm,u(T) k=2\n25,10000,0.1\n", "names a standard uncertainty, which has no k"),
        ("t_c,r_ohm,U(T) k=0\n25,10000,0.1\n", "k = 0 is no coverage factor"),
        ("t_c,r_ohm,u(T) (V)\n25,10000,0.1\n", "'V' is no unit of a temperature; write K or °F"),
        ("t_c,r_ohm,u(T),u_T\n25,10000,1,2\n", "could all be the uncertainty of the temperature"),
        ("T,r_ohm,u(T)\n77F,10000,1\n", "so that the unit of its uncertainty cannot be told"),
        ("t_c,r_ohm,u(T)\n25,1,0.1\n50,2,\n", "row 3, column 'u(T)', value '': the cell is empty"),
        ("t_c,r_ohm,u(T)\n25,1,-0.1\n", "an uncertainty is not negative; write it without its"),
        ("t_c,r_ohm,u(R) (%)\n25,1,nan\n", "row 2, column 'u(R) (%)', value 'nan': not a reading"),
        ("t_c,r_ohm,u(R) (%)\n25,1,\n26,2,x\n", "row 2, column 'u(R) (%)', value '': the cell is"),
    ],
)
def test_uncertainties_that_may_mean_something_else_are_refused(content: str, message: str) -> None:
    assert message in str(refusal(content))


def test_commas_that_may_group_thousands_are_refused_cell_by_cell() -> None:
    text = 't_c,r_ohm\n0,"32,650"\n25,"10,000"\n'
    error = refusal(text)
    assert [(p.row, p.value) for p in error.problems] == [(2, "32,650"), (3, "10,000")]
    assert error.problems[0].reason == (
        "may mean 32.650 or 32650, and nothing in the file tells which; write the right one, or "
        "state the decimal sign (decimal): a comma for 32.650, a point for 32650"
    )
    assert read_points(io.StringIO(text), decimal=".").r_ohm.tolist() == [32650.0, 10000.0]
    assert read_points(io.StringIO(text), decimal=",").r_ohm.tolist() == [32.65, 10.0]


@pytest.mark.parametrize(
    ("content", "message"),
    [
        ("T (°C);R (Ω)\n25,1;10.000\n", "has a point, but the decimal sign of the file is the c"),
        ("T (°C);R (Ω)\n25,1;9.98\n", "row 2, column 'T (°C)', value '25,1': has a decimal comma"),
        ("T (°C);R (Ω)\n25,1;9.98\n", "row 2, column 'R (Ω)', value '9.98': has a decimal point"),
        ("T (°C);R (Ω)\n25;12,34,5\n", "has a comma, but the decimal sign of the file is the po"),
    ],
)
def test_two_decimal_signs_in_one_file_are_refused(content: str, message: str) -> None:
    assert message in str(refusal(content))


@pytest.mark.parametrize(
    ("content", "options", "advice"),
    [
        (
            "R (kΩ);T (°C)\n32,65;0\n1.741;70\n",
            {},
            "has a point, but the decimal sign of the file is the comma; write 1,741, or, if the "
            "point groups thousands, write 1741 or state the decimal sign (decimal)",
        ),
        (
            'R (kΩ),T (°C)\n32.65,0.0\n"1,741",70.0\n',
            {},
            "has a comma, but the decimal sign of the file is the point; write 1.741, or, if the "
            "comma groups thousands, write 1741 or state the decimal sign (decimal)",
        ),
        (
            "R (kΩ);T (°C)\n32,65;0\n9.96 k;25\n",
            {"decimal": ","},
            "has a point, but the decimal sign of the file is the comma; write 9,96 k",
        ),
        (
            'r_ohm,t_c\n32650.5,0\n"1,741e3",70\n',
            {},
            "has a comma, but the decimal sign of the file is the point; write 1.741e3, or, if the "
            "comma groups thousands, write 1741e3 or state the decimal sign (decimal)",
        ),
        (
            "R (kΩ);T (°C)\n32,65;0\n1.234.5;25\n",
            {},
            "has a point, but the decimal sign of the file is the comma; write the number with no "
            "other sign",
        ),
    ],
)
def test_advice_about_the_other_sign_keeps_the_size_of_the_number(
    content: str, options: dict[str, Any], advice: str
) -> None:
    (problem,) = refusal(content, **options).problems
    assert problem.reason == advice


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"t_column": "Temp"}, "there is no column 'Temp'; the columns are 1 'T1', 2 'T2', 3 'R',"),
        ({"t_column": 9}, "there is no column 9"),
        ({"t_column": "T1", "u_t_column": "x"}, "row 1: there is no column 'x'; the columns are"),
        ({"t_column": "R"}, "the header says resistance, not temperature"),
        ({"t_column": "T1", "u_r_column": "R"}, "no column is left for the resistance"),
        ({"t_column": "T1", "r_column": "T2"}, "header says temperature, not resistance; rename"),
        ({"t_column": "T1", "r_column": 1}, "header says temperature, not resistance; rename"),
        ({"t_column": 4, "r_column": 4}, "the column cannot be both temperature and resistance"),
    ],
)
def test_columns_that_do_not_exist_or_do_not_fit_are_refused(
    options: dict[str, Any], message: str
) -> None:
    assert message in str(refusal("T1,T2,R,other\n25,26,10000,5\n", **options))


def test_a_name_that_two_columns_have_is_refused_in_favour_of_its_position() -> None:
    error = refusal("T (°C),T (°C),r_ohm\n25,26,10000\n", t_column="T (°C)")
    assert "2 columns are called 'T (°C)'; name the right one by its position" in str(error)


def test_a_first_row_without_readings_is_not_taken_for_a_header() -> None:
    error = refusal("NaN,OL\n25,10000\n", t_column=1, r_column=2)
    assert "row 1: this is not a header that readings follow" in str(error)


def test_a_name_without_any_header_is_refused() -> None:
    assert "there is no header that names a column 'T'" in str(refusal("25,1\n", t_column="T"))


@pytest.mark.parametrize(
    ("options", "message"),
    [
        ({"t_unit": "ohm"}, "'ohm' is no unit of temperature (t_unit); use C, F or K"),
        ({"r_unit": "V"}, "'V' is no unit of resistance (r_unit); use ohm, kohm or Mohm"),
        ({"decimal": ";"}, "decimal must be '.' or ','"),
        ({"delimiter": "ab"}, "delimiter must be one character"),
        ({"delimiter": "5"}, "delimiter must be one character"),
        ({"delimiter": ""}, "delimiter must be one character"),
        ({"t_column": 0}, "t_column must be a header, or a position counted from 1, not 0"),
        ({"r_column": True}, "r_column must be a header, or a position"),
        ({"u_t_column": " "}, "u_t_column must be a header, or a position"),
        ({"max_bytes": 0}, "max_bytes must be a whole number above zero, not 0"),
    ],
)
def test_arguments_that_make_no_sense_are_refused(options: dict[str, Any], message: str) -> None:
    with pytest.raises(InputError) as caught:
        read_points(io.StringIO("t_c,r_ohm\n25,10000\n"), **options)
    assert message in str(caught.value)
    assert isinstance(caught.value, UnitError) == bool({"t_unit", "r_unit"} & options.keys())


def test_a_stated_delimiter_is_the_only_one_tried() -> None:
    error = refusal("t_c,r_ohm\n25,10000\n", delimiter=";")
    assert "there is only one column" in str(error)


def test_a_missing_file_and_a_directory_say_so(tmp_path: Path) -> None:
    with pytest.raises(PointsFileError, match="there is no such file"):
        read_points(tmp_path / "bench.csv")
    with pytest.raises(PointsFileError, match=r"pass io\.StringIO\(text\)"):
        read_points("t_c,r_ohm\n25,10000\n")
    with pytest.raises(PointsFileError, match="this is a directory; name a file in it"):
        read_points(tmp_path)
    with pytest.raises(PointsFileError, match="cannot be opened"):
        read_points("bench\x00.csv")


def test_a_file_that_may_not_be_opened_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(*_: Any, **__: Any) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    # As in a directory that the user may not enter, where nothing can be learnt about the file.
    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", refuse)
        patch.setattr(os, "stat", refuse)
        with pytest.raises(PointsFileError, match=r"cannot be opened \(Permission denied\)"):
            read_points("bench.csv")


@pytest.mark.parametrize("source", [None, 5, ["bench.csv"]])
def test_what_is_neither_path_nor_file_is_refused(source: Any) -> None:
    with pytest.raises(InputError, match="source must be a path or an open file"):
        read_points(source)


def test_a_stream_that_cannot_be_read_says_so(tmp_path: Path) -> None:
    closed = io.StringIO("t_c,r_ohm")
    closed.close()
    with pytest.raises(PointsFileError, match="reading failed"):
        read_points(closed)
    with (
        (tmp_path / "out.csv").open("w", encoding="utf-8") as unreadable,
        pytest.raises(PointsFileError, match=r"out\.csv: reading failed"),
    ):
        read_points(unreadable)
    broken = io.TextIOWrapper(io.BytesIO(b"t_c\xff"), encoding="utf-8")
    with pytest.raises(PointsFileError, match="open the file in binary mode"):
        read_points(broken)


class Endless(io.RawIOBase):
    """A file without an end that counts what is taken from it."""

    taken = 0

    def read(self, size: int = -1) -> bytes:
        assert size > 0
        self.taken += size
        return b"\x00" * size


def test_no_more_than_the_limit_and_one_byte_is_read() -> None:
    endless: Any = Endless()
    with pytest.raises(PointsFileError, match=r"split the file, or raise the limit \(max_bytes\)"):
        read_points(endless, max_bytes=5000)
    assert endless.taken == 5001
    content = "t_c,r_ohm\n25,10000\n"
    assert len(read_points(io.StringIO(content), max_bytes=len(content))) == 1
    assert "larger than" in str(refusal(content, max_bytes=len(content) - 1))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_that_never_ends_is_refused(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)

    def pour() -> None:
        try:
            with pipe.open("wb", buffering=0) as stream:
                while True:
                    stream.write(b"25,10000\n" * 100)
        except BrokenPipeError:
            pass

    writer = threading.Thread(target=pour, daemon=True)
    writer.start()
    with pytest.raises(PointsFileError, match="larger than 100000 bytes"):
        read_points(pipe, max_bytes=100_000)
    writer.join(timeout=10)
    assert not writer.is_alive()


def test_a_flood_of_problems_ends_with_word_of_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rows, "_MAX_PROBLEMS", 10)
    error = refusal("t_c,r_ohm\n" + "a,b\n" * 100)
    assert len(error.problems) == 11
    assert str(error.problems[-1]) == "row 7: reading stopped here, after 10 problems"


@pytest.mark.parametrize(
    ("content", "options"),
    [
        ("25,10000\n", {"t_column": "T"}),
        ("25,10000,3\n", {}),
        ("t_c,note\n25,ice\n", {}),
        ("T (°X),R (V)\n25,1\n", {}),
        ("T (°C),R1 (Ω),R2 (Ω)\n1,2,3\n", {}),
        ("T1,R,other\n25,10000,5\n", {"t_column": "T1", "u_r_column": "R"}),
        ('t_c,r_ohm\n0,"32,650"\n', {}),
        ("t_c;r_ohm\n0,5;9.98\n", {}),
        ("t_c,r_ohm\n25,10000\n", {"max_bytes": 5}),
        ("T;R (mohm)\n25;10.000\n", {}),
        ("25,10000\n", {}),
    ],
)
def test_messages_serve_the_command_line_and_python_alike(
    content: str, options: dict[str, Any]
) -> None:
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always", UnitGuessWarning)
        try:
            read_points(io.StringIO(content), **options)
            told = " ".join(str(entry.message) for entry in caught)
        except PointsFileError as error:
            told = str(error)
    assert told
    assert not re.search(r"[a-z]=|\bpass\b|\bargument\b", told)
