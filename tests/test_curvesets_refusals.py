"""Curve sets: what is wrong is said, with its place and the way out."""

from __future__ import annotations

import csv
import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.samples import BETA, TABLE, Write
from thermofit.errors import CellProblem, CurveSetError, InputError


def problems_of(path: Path, **options: int) -> tuple[CellProblem, ...]:
    with pytest.raises(CurveSetError) as caught:
        tf.read_curve_set(path, **options)
    assert caught.value.path == str(path)
    assert str(path) in str(caught.value)
    return caught.value.problems


def only_problem_of(path: Path, **options: int) -> CellProblem:
    problems = problems_of(path, **options)
    assert len(problems) == 1, problems
    return problems[0]


# -- what is wrong ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("header", "row", "column", "value", "reason"),
    [
        ("id,equation,c0,c1", "a,beta,10k,3977", "c0", "10k", "no unit and no grouping"),
        ("id,equation,c0,c1", 'a,beta,"10,5",3977', "c0", "10,5", "with a decimal point"),
        ("id,equation,c0,c1", 'a,beta,"10,000",3977', "c0", "10,000", "no unit and no grouping"),
        ("id,equation,c0,c1", "a,beta,1e999,3977", "c0", "1e999", "largest float64"),
        ("id,equation,c0,c1", "a,beta,nan,3977", "c0", "nan", "is not a number"),
        ("id,equation,c0,c1", "a,beta,,3977", "c0", "", "it for r25_ohm, or the column r25_ohm"),
        ("id,equation,c0,c1,c2", "a,beta,10000,3977,1", "c2", "1", "has 2 coefficients"),
        ("id,equation,c0,c1", ",beta,10000,3977", "id", "", "give the curve an id"),
        ("id,equation,c0,c1", "a/b,beta,10000,3977", "id", "a/b", "is no id"),
        ("id,equation,c0,c1", "Aux.1,beta,10000,3977", "id", "Aux.1", "device on Windows"),
        ("id,equation,c0,c1", "a,betta,10000,3977", "equation", "betta", "try beta"),
        ("id,equation,c0,c1", "a,,10000,3977", "equation", "", "name an equation"),
        ("id,equation,r_ref_ohm,c0,c1", "a,beta,5,10000,3977", "r_ref_ohm", "5", "no such setting"),
        ("id,equation,c0,c1,t_min_c", "a,beta,10000,3977,0", "t_max_c", None, "both ends"),
        ("id,equation,c0,c1,range_basis", "a,beta,1,3977,stated", "range_basis", "stated", "t_min"),
        ("id,equation,c0,c1,range_basis", "a,beta,1,3977,guess", "range_basis", "guess", "none of"),
        ("id,equation,c0,c1,r25_ohm", "a,beta,10000,3977,10060", "r25_ohm", "10060", "has 10000"),
        ("id,equation,c0,c1,b_25_85_k", "a,beta,1,3977,3950", "b_25_85_k", "3950", "has 3977"),
        (
            "id,equation,c0,c1,cov_00,cov_11",
            "a,beta,1,3977,1,1",
            "cov_10",
            None,
            "whole lower triangle",
        ),
        ("id,equation,c0,c1", "a,beta,-1,3977", "c0", "-1", "r25_ohm must be positive"),
        ("id,equation,c0,c1,dof", "a,beta,1,3977,0", "dof", "0", "must be positive"),
        ("id,equation,c0,c1,t_min_c,t_max_c", "a,beta,1,3977,9,5", "t_max_c", "5", "from 9.0 to"),
        (
            "id,equation,r_ref_ohm,c0,c1",
            "a,log-polynomial-2,-1,3e-3,2e-4",
            "r_ref_ohm",
            "-1",
            "pos",
        ),
        ("id,equation,c0,c1,cov_00,cov_10,cov_11", "a,beta,1,3e3,,5,1", "cov_00", "", "is blank"),
        (
            "id,equation,c0,c1,cov_00,cov_10,cov_11",
            "a,beta,1,3e3,1,5,1",
            "cov_00",
            "1",
            "blank all cov_ cells",
        ),
        ("id,equation,c0,c1,cov_22", "a,beta,10000,3977,1", "cov_22", "1", "leave it blank"),
        ("id,equation,c0,c1,table_file", "a,beta,1,3977,x.csv", "table_file", "x.csv", "no nodes"),
        ("id,equation,c0,c1,r25_tol_pct", "a,beta,1,3977,100", "r25_tol_pct", "100", "below 100"),
        ("id,equation,c0,c1,b_tol_pct", "a,beta,1,3977,1 %", "b_tol_pct", "1 %", "not a number"),
        ("id,equation,c0,c1,max_power_mw", "a,beta,1,3977,0", "max_power_mw", "0", "positive"),
        ("id,equation,c0,c1,ratio_only", "a,beta,1,3977,yes", "ratio_only", "yes", "neither true"),
        ("id,equation,c0,c1,source_kind", "a,beta,1,3977,web", "source_kind", "web", "one of"),
        ("id,equation,table_file", "a,tabulated,", "table_file", "", "file of its nodes"),
        ("id,equation,table_file", "a,tabulated,n.csv", "table_file", "n.csv", "no such file"),
        ("id,equation,table_file", "a,tabulated,../n.csv", "table_file", "../n.csv", "bare file"),
        ("id,equation,table_file", "a,tabulated,C:n.csv", "table_file", "C:n.csv", "bare file"),
        ("id,equation,table_file", "a,tabulated,.n.csv", "table_file", ".n.csv", "every system"),
        ("id,equation,c0,c1,note", "a,beta,1,3977,=1+1", "note", "=1+1", "as a formula"),
        ("id,equation,c0,c1,note", "a,beta,1,3977,@x", "note", "@x", "as a formula"),
        ("id,equation,c0,c1,shelf", "a,beta,1,3977,-x", "shelf", "-x", "as a formula"),
        ("id,equation,c0,c1,shelf", 'a,beta,1,3977,"\t=x"', "shelf", "\t=x", "may run a formula"),
        ("id,equation,c0,c1,shelf", "a,beta,1,3977,\x00", "shelf", "\x00", "text cannot have"),
    ],
)
def test_a_bad_cell_is_named(
    write: Write, header: str, row: str, column: str, value: str | None, reason: str
) -> None:
    problem = only_problem_of(write(f"{header}\n{row}\n"))
    assert (problem.row, problem.column, problem.value) == (2, column, value)
    assert reason in problem.reason


def test_all_bad_cells_are_reported_at_once(write: Write) -> None:
    text = (
        "id,equation,c0,c1,r25_ohm,note\n"
        'good,beta,10000,3977,10000,"two\nlines"\n'
        "bad id,beta,x,y,,\n"
        "good,beta,1,3977,2,=1+1\n"
    )
    found = [(problem.row, problem.column) for problem in problems_of(write(text))]
    assert sorted(map(str, found)) == sorted(
        map(str, [(4, "id"), (4, "c0"), (4, "c1"), (5, "note"), (5, "r25_ohm"), (5, "id")])
    )


def test_a_curve_that_turns_is_refused_with_its_row(write: Write) -> None:
    path = write("id,equation,c0,c1,c2\na,steinhart-hart,1.129e-3,2.341e-4,-3e-6\n")
    problem = only_problem_of(path)
    assert problem.row == 2
    assert "turns" in problem.reason or "does not fall" in problem.reason


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"", "the file is empty"),
        (b"\r\n\r\n", "the file is empty"),
        (b"id;equation;c0\na;beta;1\n", "separated by semicolons"),
        (b"a,beta,10000,3977\n", "no column 'id'"),
        (b'id,equation,note\na,beta,"open\n', "stray quotation mark"),
        (b"id,equation,c0,c0,c1\na,beta,1,1,3977\n", "more than once"),
        (b"id,equation,c0,c1\na,beta,1\n", "this row has 3 cells, the header 4"),
        (b"id,equation,c0,c1,\na,beta,1,3977,x\n", "no name in the header"),
        (b"id,equation,c0,c1,R25 Ohm\na,beta,1,3977,1\n", "as 'r25_ohm'"),
        (b"id,equation,r25_ohm,b_25_85_k,R25 Ohm\na,beta,1,3977,1\n", "too close to 'r25_ohm'"),
        (b"id,equation,C0,c1,r25_ohm\na,beta,1,3977,1\n", "as 'c0'"),
        (b"id,equation,c0,c1,COV-00\na,beta,1,3977,1\n", "as 'cov_00'"),
        (b"id,equation,c0,c1,cov_1_0\na,beta,1,3977,1\n", "as 'cov_10'"),
        (b"ID,equation,c0,c1\na,beta,1,3977\n", "as 'id'"),
        (b"id,equation,c0,c1,=x\na,beta,1,3977,1\n", "as a formula"),
        (b"id,equation,note\na,beta,\xff\n", "byte 25 of the file is not UTF-8"),
        ("id,equation".encode("utf-16"), "is not UTF-8"),
    ],
)
def test_a_file_that_is_no_curve_set_is_refused(write: Write, data: bytes, reason: str) -> None:
    assert any(reason in problem.reason for problem in problems_of(write(data)))


@pytest.mark.parametrize(
    "text",
    [
        "# my sensors\nid,equation,c0,c1\na,beta,1,3977\n",
        "sep=,\nid,equation,c0,c1\na,beta,1,3977\n",
        "id\tequation\tc0\tnote\na\tbeta\t1\tnear the door, left\n",
        "a,beta,1,3977\nb,beta,1,3977,1\n",
    ],
)
def test_a_first_row_that_is_no_header_is_all_that_is_told(write: Write, text: str) -> None:
    problem = only_problem_of(write(text))
    assert problem.row == 1
    assert "no header of a curve set" in problem.reason
    assert "with commas between the columns" in problem.reason


def test_a_header_is_counted_from_the_first_line_of_the_file(write: Write) -> None:
    assert only_problem_of(write("\n\nid,c0,c1\na,1,3977\n")).row == 3


def test_a_column_that_is_missing_is_told_once_with_the_names_that_nobody_knows(
    write: Write,
) -> None:
    problems = problems_of(
        write("id,equation,a,c1,tmin,t_max_c\nx,beta,1,3977,0,90\ny,beta,1,3977,0,90\n")
    )
    assert [(p.row, p.column, p.value) for p in problems] == [
        (2, "c0", None), (2, "t_min_c", None)
    ]  # fmt: skip
    for problem in problems:
        assert "there is no such column" in problem.reason
        assert "'a', 'tmin'" in problem.reason


def test_the_two_numbers_that_people_know_are_missed_in_every_row(write: Write) -> None:
    path = write("id,equation,r25_ohm,b_25_85_k\na,beta,,3977\nb,beta,,3977\nc,beta,1,\n")
    problems = problems_of(path)
    assert [(p.row, p.column, p.value) for p in problems] == [
        (2, "r25_ohm", ""), (3, "r25_ohm", ""), (4, "b_25_85_k", "")
    ]  # fmt: skip
    assert [p.reason for p in problems[1:]] == [
        "is blank; beta needs it for r25_ohm", "is blank; beta needs it for b_k"
    ]  # fmt: skip


def test_problems_are_told_in_the_order_of_the_rows(write: Write) -> None:
    text = "id,equation,c0,c1,Note\na,beta,x,3977,\nb,beta,1\nc,beta,1,y,\n"
    assert [problem.row for problem in problems_of(write(text))] == [1, 2, 3, 4]


def test_an_equation_that_is_not_known_may_be_that_of_a_package(write: Write) -> None:
    problem = only_problem_of(write("id,equation,c0,c1\na,beta,1,3977\nb,power-law,1,2\n"))
    assert (problem.row, problem.column, problem.value) == (3, "equation", "power-law")
    assert "or install the package that gives it" in problem.reason


def test_a_missing_file_and_a_folder_are_refused(tmp_path: Path) -> None:
    assert "no such file" in only_problem_of(tmp_path / "shop.csv").reason
    assert "this is a folder" in only_problem_of(tmp_path).reason


@pytest.mark.parametrize(
    ("nodes", "reason"),
    [
        (b"", "the file is empty"),
        (b"temperature,r_ohm\n0,1\n", "there is no column 't_c'"),
        (
            b"# a table\nt_c,r_ohm\n0,2\n1,1\n",
            "there is no column 't_c'; there is no column 'r_ohm'",
        ),
        (b"t_c,r_ohm,tolerance\n0,2,1\n1,1,1\n", "'tolerance' does not belong"),
        (b"t_c,r_ohm\n0,2\n1,x\n", "row 3, column 'r_ohm', value 'x'"),
        (b"t_c,r_ohm\n0,2\n", "two nodes or more"),
        (b"t_c,r_ohm\n0,2\n0,1\n", "is not above the node before it"),
        (b"t_c,r_ohm\n0,2\n1,1\n2,3\n", "turn, or stand still, at 1"),
        (b"t_c,r_ohm,node_b_k\n0,2,1e9\n1,1,1e9\n", "leave the slopes out"),
    ],
)
def test_a_broken_companion_is_named(write: Write, nodes: bytes, reason: str) -> None:
    write(nodes, "nodes.csv")
    problem = only_problem_of(write("id,equation,table_file\na,tabulated,nodes.csv\n"))
    assert (problem.row, problem.column, problem.value) == (2, "table_file", "nodes.csv")
    assert reason in problem.reason
    assert "the header" not in problem.reason


def test_a_set_of_unreasonable_size_is_refused_before_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [TABLE])
    size = sum(entry.stat().st_size for entry in tmp_path.glob("*.csv"))
    assert len(tf.read_curve_set(path, max_bytes=size)) == 1
    assert "max_bytes" in only_problem_of(path, max_bytes=size - 1).reason
    assert "max_bytes" in only_problem_of(path, max_bytes=10).reason
    # A sparse file of a terabyte costs no more than the limit.
    os.truncate(path, 2**40)
    program = (
        "import resource, sys, thermofit as tf\n"
        "resource.setrlimit(resource.RLIMIT_AS, (2**31, 2**31))\n"
        "try: tf.read_curve_set(sys.argv[1])\n"
        "except tf.ThermofitError as error: print(error)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, path], capture_output=True, text=True, check=True
    )
    assert "has more than 268435456 bytes" in done.stdout


def test_a_long_note_is_read_and_the_limit_of_the_csv_module_left_alone(tmp_path: Path) -> None:
    before = csv.field_size_limit()
    long = BETA.replace(note="long " * 100_000)
    tf.write_curve_set(tmp_path / "shop.csv", [long])
    assert tf.read_curve_set(tmp_path / "shop.csv")["inlet"] == long
    assert csv.field_size_limit() == before


COLUMNS = (
    "id", "equation", "r_ref_ohm", "cvd_c", "c0", "c1", "c2", "c3", "c4", "cov_00", "cov_10",
    "cov_11", "dof", "t_min_c", "t_max_c", "range_basis", "r25_ohm", "b_25_85_k", "r25_tol_pct",
    "max_power_mw", "ratio_only", "source_kind", "table_file", "source", "note", "cabinet",
)  # fmt: skip
CELLS = st.sampled_from(
    ["", "0", "-1", "1e-320", "-1e308", "1e999", "10000", "3977", "2e-4", "9e-8", "25", "nodes.csv",
     "beta", "steinhart-hart", "tabulated", "log-polynomial-5", "true", "stated", "=1+1", "a,b"]
) | st.text(max_size=5)  # fmt: skip


@settings(max_examples=200)
@given(
    st.lists(
        st.dictionaries(st.sampled_from(COLUMNS), CELLS, max_size=12)
        | st.dictionaries(st.sampled_from(COLUMNS), CELLS, max_size=3).map(
            lambda cells: {"id": "a", "equation": "beta", "c0": "10000", "c1": "3977"} | cells
        ),
        max_size=3,
    ),
    st.binary(max_size=3),
)
def test_whatever_stands_in_a_file_it_is_read_or_refused(
    tmp_path_factory: pytest.TempPathFactory, rows: list[dict[str, str]], tail: bytes
) -> None:
    folder = tmp_path_factory.getbasetemp() / "anything"
    folder.mkdir(exist_ok=True)
    (folder / "nodes.csv").write_text("t_c,r_ohm\n0,32554\n25,10000\n60,2489\n")
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS)
    writer.writeheader()
    writer.writerows(rows)
    path = folder / "shop.csv"
    path.write_bytes(out.getvalue().encode("utf-8", "surrogatepass") + tail)
    problems: tuple[CellProblem, ...] = ()
    read = None
    try:
        read = tf.read_curve_set(path)
    except CurveSetError as error:
        problems = error.problems
    # What is shipped fails in no other way than by refusing.
    assert not [problem for problem in problems if "failed with" in problem.reason]
    if read is not None:
        assert len(read) == len(list(read))
        tf.write_curve_set(folder / "copy.csv", read)
        assert list(tf.read_curve_set(folder / "copy.csv")) == list(read)


# -- what cannot be written -------------------------------------------------------


@pytest.mark.parametrize(
    ("item", "column", "reason"),
    [
        (BETA.replace(id=""), "id", "curve 2: is blank"),
        (BETA.replace(id="a b"), "id", "is no id"),
        (BETA.replace(id="outlet"), "id", "an earlier curve has this id too"),
        (BETA.replace(note="=HYPERLINK(1)"), "note", "as a formula"),
        (BETA.replace(note="+49 30"), "note", "as a formula"),
        (BETA.replace(source="\rx"), "source", "may run a formula"),
        (BETA.replace(note="\ud800"), "note", "text cannot have"),
        (BETA.replace(extra={"c0": "1"}), "c0", "belongs to the curve itself"),
        (BETA.replace(extra={"R25 Ohm": "1"}), "R25 Ohm", "too close to 'r25_ohm'"),
        (BETA.replace(extra={"COV_00": "1"}), "COV_00", "too close to 'cov_00'"),
        (BETA.replace(extra={"C 7": "1"}), "C 7", "too close to 'c7'"),
        (BETA.replace(extra={" x": "1"}), " x", "without spaces"),
        (BETA.replace(extra={"x": 1}), "x", "are texts"),
        (BETA.replace(extra={"=x": "1"}), None, "as a formula"),
        (BETA.replace(extra={"r25_tol_pct": "much"}), "r25_tol_pct", "is not a number"),
    ],
)
def test_a_curve_that_would_not_read_back_is_refused(
    tmp_path: Path, item: tf.Curve, column: str | None, reason: str
) -> None:
    path = tmp_path / "shop.csv"
    with pytest.raises(CurveSetError) as caught:
        tf.write_curve_set(path, [TABLE, item])
    (problem,) = caught.value.problems
    assert problem.column == column
    assert reason in problem.reason
    assert not list(tmp_path.glob("*.csv"))


def test_a_curve_that_is_written_alone_has_no_number(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    with pytest.raises(CurveSetError) as caught:
        tf.add_curve(path, BETA.replace(id="aux"))
    assert str(caught.value) == (
        f"{path}: column 'id', value 'aux': is the name of a device on Windows; add something to it"
    )
    with pytest.raises(CurveSetError, match="value '=x': curve inlet: begins with '='"):
        tf.add_curve(path, BETA.replace(note="=x"))
    with pytest.raises(CurveSetError, match="curve 2 \\(aux\\): is the name of a device"):
        tf.write_curve_set(path, [BETA, TABLE.replace(id="aux")])


def test_only_curves_and_families_make_a_set(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    with pytest.raises(InputError, match="put a single curve into a list"):
        tf.write_curve_set(path, BETA)  # type: ignore[arg-type]
    with pytest.raises(InputError, match=r"give its values\(\)"):
        tf.write_curve_set(path, {"a": BETA})  # type: ignore[dict-item]
    with pytest.raises(InputError, match="item 2 is a str"):
        tf.write_curve_set(path, [BETA, "outlet"])  # type: ignore[list-item]
    assert not list(tmp_path.iterdir())
