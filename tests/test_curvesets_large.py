"""Large curve sets: what is read and written by columns is what is read and written by rows."""

from __future__ import annotations

import pickle
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace as with_changes
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.samples import BETA, TABLE, Write
from thermofit.curvesets import bulk, reader, scan, sheet
from thermofit.curvesets.cells import check_text
from thermofit.curvesets.certify import examine
from thermofit.curvesets.columns import is_number
from thermofit.curvesets.monotone import certified, has_certificate
from thermofit.curvesets.numbers import formatted, numbers_of, numbers_of_text
from thermofit.curvesets.plain import PlainRows
from thermofit.curvesets.scan import plain_sheet
from thermofit.curvesets.sheet import parse_sheet, render_sheet
from thermofit.equations.catalogue import SHIPPED_NAMES, equation
from thermofit.errors import CellProblem, CurveSetError, InputError, ThermofitError
from thermofit.estimate.many import ManyPoints, fit_many
from thermofit.testing import curves, families

NEVER = 2**40


@contextmanager
def by_columns() -> Iterator[None]:
    """Treat the smallest set as a large one."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sheet, "_WORTH_COLUMNS_BYTES", 0)
        patch.setattr(scan, "_WORTH_PANDAS", 0)
        patch.setattr(reader, "_FEW", 0)
        patch.setattr(bulk, "_FEW", 0)
        yield


@contextmanager
def by_rows() -> Iterator[None]:
    """Treat the largest set as a small one."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sheet, "_WORTH_COLUMNS_BYTES", NEVER)
        patch.setattr(reader, "_FEW", NEVER)
        patch.setattr(bulk, "_FEW", NEVER)
        yield


# -- invented curves of each equation ---------------------------------------------

COVARIANCE = [[4.1e-11, -8.4e-12, 4.7e-14], [-8.4e-12, 1.8e-12, -9.7e-15],
              [4.7e-14, -9.7e-15, 5.6e-17]]  # fmt: skip
PARTS = [
    tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-40, 125), covariance=[[100, -3], [-3, 25]]),
    tf.Curve.steinhart_hart(a=1.129e-3, b=2.341e-4, c=8.775e-8, covariance=COVARIANCE, dof=8),
    tf.Curve.log_polynomial(r_ref_ohm=10e3, coefficients=[3.354e-3, 2.57e-4, 2.62e-6, 6.4e-8]),
    # Its slope turns at ln(R/R_ref) = −24 and 119, far from all that the sensor does.
    tf.Curve.log_polynomial(r_ref_ohm=1e4, coefficients=[3.354e-3, 2.57e-4, 4.3e-6, -3e-8]),
    tf.Curve.log_polynomial(
        r_ref_ohm=49.6e3, coefficients=[3.3674e-3, 2.5e-4, 2.66e-6, -4.56e-8, -4.97e-9],
        t_range_c=(-40, 125),
    ),
    tf.Curve.inverse_polynomial(
        r_ref_ohm=10e3, coefficients=[-14.6337, 4791.842, -115334.0, -3.730535e6]
    ),
    tf.Curve.bent_beta(r25_ohm=10e3, b_k=3900, bend=[-2.4e5, 1e7]),
    tf.Curve.shifted_exponential(a_ohm=0.05, b_k=3000, c_k=-52.0, t_range_c=(-20, 20)),
    tf.Curve.callendar_van_dusen(r0_ohm=100),
]  # fmt: skip


def rows_of(parts: list[tf.Curve]) -> list[dict[str, str]]:
    """Cells of the rows that these curves have in a set."""
    return [bulk_cells(part.replace(id=f"part-{at}")) for at, part in enumerate(parts)]


def bulk_cells(curve: tf.Curve) -> dict[str, str]:
    from thermofit.curvesets.companions import Companions
    from thermofit.curvesets.encode import encode

    return encode(curve, Companions(Path("shop.csv"))).cells


ROWS = rows_of(PARTS)
HEADER = (
    *dict.fromkeys(name for row in ROWS for name in row),
    "source",
    "licence",
    "note",
    "cabinet",
)


def large_set(count: int, rows: list[dict[str, str]] = ROWS, ends: str = "\r\n") -> str:
    """Text of a set with copies of these rows."""
    lines = [",".join(HEADER)]
    for at in range(count):
        row = rows[at % len(rows)] | {"id": f"s{at}", "cabinet": f"{at % 40}"}
        lines.append(",".join(row.get(name, "") for name in HEADER))
    return ends.join([*lines, ""])


def test_what_usual_curves_are_is_certain_without_a_look_at_each() -> None:
    with by_columns():
        parsed, problems = parse_sheet(large_set(18).encode())
        found = examine(parsed)
    assert not problems
    assert isinstance(parsed.rows, PlainRows)
    # Platinum is looked at row by row.
    assert list(found.doubtful) == [8, 17]
    for at, part in enumerate(PARTS[:8]):
        inside_25 = part.t_min_c <= 25.0 <= part.t_max_c
        inside_85 = inside_25 and part.t_max_c >= 85.0
        want = part.r25_ohm if inside_25 else np.nan
        assert found.r25_ohm[at] == pytest.approx(want, rel=1e-12, nan_ok=True)
        want = part.b_25_85_k if inside_85 else np.nan
        assert found.b_25_85_k[at] == pytest.approx(want, rel=1e-11, nan_ok=True)


# -- the same answers -------------------------------------------------------------


def is_plain(cell: str) -> bool:
    """Whether a text that is read by columns may have this cell."""
    try:
        check_text(cell)
    except InputError:
        return False
    return not set(cell) & set("\t\n")


ODD_CELLS = [
    "", " ", "0", "-1", "+5", "1e3", " 10000 ", "10k", "1,5", '1"5', "nan", "NA", "inf", "-inf",
    "1e999", "1_000", "1e-400", "0x10", "True", "=1+1", "+text", "-text", "@x", "＝1", "‐", "１２",
    "beta", "Beta", "steinhart-hart", "log-polynomial-3", "tabulated", "nonsense", "stated",
    "guessed", "part-0", "aux", "aux.b", "com1", "a b", "ü", "two\nlines", "\ttab", "bell\x07",
    "\x85", '"quoted"', "a, b", "3977.0000", "9007199254740993", "-273.16", "25", "1e9", "\xa05",
    "0.00010000000000000000479", "1e5\x00", "truth", "true",
]  # fmt: skip


PLAIN_CELLS = [cell for cell in ODD_CELLS if is_plain(cell)]


@st.composite
def damaged_sets(draw: st.DrawFn, *, rough: bool) -> bytes:
    """Sets as CSV text, in which some cells and names are not what they should be.

    In rough ones also lines, quotation marks and the end of the file.
    """
    count = draw(st.integers(1, 6))
    rows = [dict(draw(st.sampled_from(ROWS))) | {"id": f"s{at}"} for at in range(count)]
    header = list(HEADER)
    for name in draw(st.lists(st.sampled_from(HEADER[2:]), max_size=2)):
        if name in header:
            header.remove(name)
    more = [
        "shelf",
        "r25_tol_pct",
        "source_kind",
        "ratio_only",
        "table_file",
        "cvd_c",
        "C0",
        "cov_33",
    ]
    more = [*more, ""] if rough else [name for name in more if name not in header]
    header += draw(st.lists(st.sampled_from(more), max_size=1))
    for _ in range(draw(st.integers(0, 4))):
        name = draw(st.sampled_from(header if rough else header[1:]))
        draw(st.sampled_from(rows))[name] = draw(
            st.sampled_from(ODD_CELLS if rough else PLAIN_CELLS)
        )
    ends = draw(st.sampled_from(["\r\n", "\n"]))
    quoted = draw(st.sets(st.sampled_from(header[1:]), max_size=3))

    def written(name: str, cell: str) -> str:
        needs = any(sign in cell for sign in ',"\r\n') and not (rough and draw(st.booleans()))
        return '"' + cell.replace('"', '""') + '"' if needs or name in quoted else cell

    text = ",".join(header) + ends
    for row in rows:
        text += ",".join(written(name, row.get(name, "")) for name in header)
        text += draw(st.sampled_from([ends] * 9 + ["\r", ",x" + ends, ends * 2])) if rough else ends
    cut = draw(st.sampled_from([0, 0, 1, 2])) if rough else draw(st.sampled_from([0, len(ends)]))
    mark = draw(st.sampled_from([b"", b"", b"\xef\xbb\xbf"]))
    return mark + (text[:-cut] if cut else text).encode("utf-8", "surrogatepass")


def outcome(path: Path) -> tuple[tuple[CellProblem, ...], list[tf.Curve] | None, bytes]:
    """What comes of reading a set: its problems, or its curves and what is written again."""
    try:
        read = tf.read_curve_set(path)
    except CurveSetError as error:
        return error.problems, None, b""
    return (), list(read), render_sheet(read.columns, read.sheet.rows)


@settings(max_examples=60)
@given(damaged_sets(rough=False) | damaged_sets(rough=True))
def test_a_set_is_judged_alike_by_columns_and_by_rows(
    tmp_path_factory: pytest.TempPathFactory, data: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "judged.csv"
    path.write_bytes(data)
    with by_rows():
        want = outcome(path)
    with by_columns():
        assert outcome(path) == want


@settings(max_examples=50)
@given(damaged_sets(rough=False))
def test_plain_text_is_taken_apart_as_any_text_is(data: bytes) -> None:
    found = plain_sheet(data)
    assert found is not None
    header, rows = found
    with by_rows():
        slow, problems = parse_sheet(data)
    assert not problems
    assert (slow.header, slow.rows) == (header, tuple(rows))
    assert list(slow.lines) == list(range(2, len(rows) + 2))
    for at, name in enumerate(header):
        column = [row[at] for row in slow.rows]
        assert rows.column(at) == column
        texts, places = with_changes(slow, rows=rows).labels(name)
        assert [texts[place] for place in places] == column
        if is_number(name):
            assert rows.numbers[at].tobytes() == numbers_of(column).tobytes()
    assert rows[1:] == slow.rows[1:]
    assert rows == slow.rows and hash(rows) == hash(slow.rows)


@pytest.mark.parametrize("name", ["id", "equation", "c1", "cov_10", "t_max_c", "range_basis",
                                  "r25_ohm", "dof", "r_ref_ohm", "source"])  # fmt: skip
def test_odd_cells_of_a_plain_text_are_judged_alike(write: Write, name: str) -> None:
    rows = [ROWS[1] | {"id": f"s{at}"} | {name: cell} for at, cell in enumerate(PLAIN_CELLS)]
    data = render_sheet(HEADER, [[row.get(column, "") for column in HEADER] for row in rows])
    assert (plain_sheet(data) is None) == (name == "id")  # a row without an id may be blank
    path = write(data)
    with by_rows():
        want = outcome(path)
    assert len(want[0]) > 20 or name in {"id", "source"}
    with by_columns():
        assert outcome(path) == want


@pytest.mark.parametrize("cell", [cell for cell in ODD_CELLS if not is_plain(cell)])
def test_a_text_with_such_a_cell_is_not_plain(cell: str) -> None:
    rows = [[row.get(name, "") for name in HEADER] for row in ROWS[:2]]
    assert plain_sheet(render_sheet(HEADER, rows)) is not None
    rows[1][HEADER.index("source")] = cell
    assert plain_sheet(render_sheet(HEADER, rows)) is None


@pytest.mark.parametrize("cell", ['a"b', '"a"b', '"a', 'a"', 'a"b"', '"a"b"'])
def test_a_text_with_stray_quotation_marks_is_not_plain(cell: str) -> None:
    text = f"id,equation,c0,c1,source,note\na,beta,10000,3977,{cell},x\nb,beta,5000,3988,c,d\n"
    assert plain_sheet(text.encode()) is None


@pytest.mark.parametrize("prefix", ["s", "sensor-in-the-glasshouse-"])
def test_an_id_that_stands_twice_is_found_by_columns(write: Write, prefix: str) -> None:
    text = large_set(900, ROWS[:2]).replace("\r\ns", f"\r\n{prefix}")
    read = tf.read_curve_set(write(text))
    assert len(read.ids) == 900 and isinstance(read.sheet.rows, PlainRows)
    path = write(text.replace(f"{prefix}217,", f"{prefix}30,"))
    with pytest.raises(CurveSetError, match=f"row 219, column 'id', value '{prefix}30': row 32"):
        tf.read_curve_set(path)


@pytest.mark.parametrize("cells", [("s30", '"s30"'), ('"s30 "', "s30"), ('"s30"', '" s30"')])
def test_an_id_in_quotation_marks_is_the_one_without(write: Write, cells: tuple[str, str]) -> None:
    text = large_set(900, ROWS[:2])
    for id, cell in zip(("s30", "s217"), cells, strict=True):
        text = text.replace(f"\r\n{id},", f"\r\n{cell},")
    with pytest.raises(CurveSetError, match="row 219, column 'id', value 's30': row 32"):
        tf.read_curve_set(write(text))


# Around the edges of a number of eight bytes, and of the longest label.
WIDTHS = (0, 1, 7, 8, 9, 16, 17, 39, 40, 41)
CELLS = st.sampled_from(WIDTHS).flatmap(
    lambda width: st.text("aZ9é", min_size=width, max_size=width)
)


@settings(max_examples=100)
@given(st.lists(CELLS | CELLS.map(lambda text: f'"{text}""x"'), max_size=5), st.booleans(),
       st.sampled_from(["", "\n", "\r\n"]))  # fmt: skip
def test_words_are_the_bytes_of_the_cells(cells: list[str], alike: bool, end: str) -> None:
    """Also of the last cells of a file, which have no eight bytes after them."""
    cells = [cells[0]] * len(cells) if alike and cells else cells
    lines = ["id,equation,note", *(f"a{at},beta,{cell}" for at, cell in enumerate(cells))]
    with by_columns():
        found = plain_sheet(((end or "\n").join(lines) + end).encode())
    assert found is not None
    words = found[1].words(2)
    if any(len(cell.encode()) > 40 for cell in cells):
        assert words is None
        return
    assert words is not None
    for row, cell in enumerate(cells):
        assert words[:, row].tobytes().rstrip(b"\0") == cell.encode()


@pytest.mark.parametrize("name", ["r25_ohm", "b_25_85_k"])
@pytest.mark.parametrize(("off", "agrees"), [(0.0045, True), (-0.0045, True), (0.0055, False),
                                             (-0.0055, False)])  # fmt: skip
def test_r25_and_b_must_agree_within_half_a_percent(
    write: Write, name: str, off: float, agrees: bool
) -> None:
    own = {"r25_ohm": PARTS[1].r25_ohm, "b_25_85_k": PARTS[1].b_25_85_k}[name]
    rows = [ROWS[1], ROWS[1] | {name: repr(own * (1.0 + off))}]
    path = write(large_set(200, rows))
    if agrees:
        assert len(tf.read_curve_set(path)) == 200
    else:
        with pytest.raises(CurveSetError) as caught:
            tf.read_curve_set(path)
        assert len(caught.value.problems) == 100


# -- what is certain --------------------------------------------------------------


@st.composite
def any_curves(draw: st.DrawFn) -> tuple[str, list[float], float, float, float]:
    """An equation, coefficients around usual ones or far from them, R_ref, and a range."""
    part = draw(st.sampled_from([part for part in PARTS if has_certificate(part.equation.name)]))
    factor = st.one_of(st.just(1.0), st.floats(0.3, 3.0), st.sampled_from([-1.0, 0.0, 30.0, -8.0]))
    c = [float(value) * draw(factor) for value in np.asarray(part.coefficients)]
    t_min_c = draw(st.floats(-240.0, 300.0))
    span = draw(st.floats(0.1, 500.0))
    r_ref_ohm = part.equation.settings.get("r_ref_ohm", 1.0) * draw(st.sampled_from([1, 1, 20]))
    return part.equation.name, c, r_ref_ohm, t_min_c, t_min_c + span


@settings(max_examples=100)
@given(any_curves())
def test_a_curve_that_is_certain_is_one_and_has_the_values_that_were_found(
    given_curve: tuple[str, list[float], float, float, float],
) -> None:
    name, c, r_ref_ohm, t_min_c, t_max_c = given_curve
    found = certified(name, np.array([c]).T, r_ref_ohm, np.array([t_min_c]), np.array([t_max_c]))
    assume(found.sound[0])
    curve = tf.Curve(equation(name, {"r_ref_ohm": r_ref_ohm}), c, t_min_c, t_max_c)
    for t_c, ln_r in ((25.0, found.ln_r_25[0]), (85.0, found.ln_r_85[0])):
        if t_min_c <= t_c <= t_max_c:
            assert ln_r == pytest.approx(np.log(curve.resistance(t_c)), rel=1e-9, abs=1e-9)
        else:
            assert np.isnan(ln_r)


def test_a_curve_that_turns_within_its_range_is_not_certain() -> None:
    # 1/T = a + b·x − c·x³, which turns where x² = b/(3c): at x = ln R = 10.8.
    c = np.array([[2.3e-3], [2.1e-4], [-6e-7]])
    cold, hot = np.array([-20.0]), np.array([60.0])
    assert not certified("steinhart-hart", c, 1.0, cold, hot).sound[0]
    with pytest.raises(ThermofitError, match="turns at"):
        tf.Curve(equation("steinhart-hart"), c.ravel(), -20.0, 60.0)


@pytest.mark.parametrize("b_k", [0.2, 0.01])
def test_a_curve_that_is_flat_is_not_certain(b_k: float) -> None:
    c = [3.354e-3, 1.0 / b_k]
    cold, hot = np.array([-20.0]), np.array([60.0])
    assert not certified("log-polynomial-2", np.array([c]).T, 1e4, cold, hot).sound[0]
    assert not certified("beta", np.array([[1e4], [b_k]]), 1.0, cold, hot).sound[0]
    with pytest.raises(ThermofitError, match=r"flat near|does not fall"):
        tf.Curve.log_polynomial(r_ref_ohm=1e4, coefficients=c, t_range_c=(-20, 60))
    with pytest.raises(ThermofitError, match="is flat near"):
        tf.Curve.beta(r25_ohm=1e4, b_k=b_k, t_range_c=(-20, 60))


def test_the_second_of_two_stretches_that_reach_everything_is_not_certain() -> None:
    # A cubic has two rising stretches; a curve takes the first, below ln(R/R_ref) = −14.
    roots = np.polynomial.polynomial.polyfromroots([-14.0, -2.0])
    slope = np.polynomial.polynomial.polymul(roots, [9.3e-6])
    c = np.concatenate([[3.354e-3], slope / [1, 2, 3]])
    t_min_c, t_max_c = np.array([0.0]), np.array([40.0])
    found = certified("log-polynomial-4", c[:, np.newaxis], 1e4, t_min_c, t_max_c)
    curve = tf.Curve.log_polynomial(r_ref_ohm=1e4, coefficients=c.tolist(), t_range_c=(0, 40))
    assert np.log(curve.resistance(25.0)) < np.log(1e4) - 14.0
    assert not found.sound[0]


def test_the_equations_that_are_looked_at_by_columns_ship() -> None:
    left = [name for name in SHIPPED_NAMES if not has_certificate(name)]
    assert left == ["callendar-van-dusen"]


# -- numbers to the last bit ------------------------------------------------------


@settings(max_examples=50)
@given(st.lists(st.one_of(st.floats(), st.integers(-(2**70), 2**70).map(float)), min_size=1))
def test_numbers_keep_their_last_bit_through_columns(values: list[float]) -> None:
    values = [value for value in values if np.isfinite(value)] or [0.1]
    texts = formatted(values)
    assert texts == [repr(float(value)).removesuffix(".0") for value in values]
    want = np.array(values, dtype=np.float64).tobytes()
    assert numbers_of(texts).tobytes() == want
    assert through_pandas(texts).tobytes() == want


@settings(max_examples=50)
@given(st.lists(st.from_regex(r"-?[0-9]{1,40}(\.[0-9]{0,40})?(e-?[0-9]{1,2})?", fullmatch=True),
                min_size=1))  # fmt: skip
def test_numbers_with_more_digits_than_a_float_are_rounded_as_python_does(texts: list[str]) -> None:
    want = np.array([float(text) for text in texts])
    assert through_pandas(texts).tobytes() == want.tobytes()


def through_pandas(texts: list[str]) -> np.ndarray:
    """What a large set makes of a column of these cells."""
    data = "\n".join(["id,equation,c0", *(f"a,beta,{text}" for text in texts), ""]).encode()
    assert 2 in numbers_of_text(data, [2]) or any(len(text) > 15 for text in texts)
    with by_columns():
        found = plain_sheet(data)
    assert found is not None
    return found[1].numbers[2]


def test_ten_thousand_curves_survive_to_the_last_bit(tmp_path: Path) -> None:
    rng = np.random.default_rng(7)
    rows = [dict(row) for row in ROWS[:4]]
    text = large_set(10_000, rows)
    path = tmp_path / "shop.csv"
    path.write_text(text, newline="")
    read = tf.read_curve_set(path)
    scale = rng.uniform(0.999, 1.001, len(read))
    changed = read.with_columns({"c0": read.sheet.numbers("c0") * scale, "r25_ohm": [""] * 10_000,
                                 "b_25_85_k": [""] * 10_000})  # fmt: skip
    tf.write_curve_set(tmp_path / "changed.csv", changed)
    again = tf.read_curve_set(tmp_path / "changed.csv")
    assert again == changed
    for name in filter(is_number, again.columns):
        assert again.sheet.numbers(name).tobytes() == changed.sheet.numbers(name).tobytes()
    assert again.sheet.numbers("c0").tobytes() == (read.sheet.numbers("c0") * scale).tobytes()
    # What is not changed is written as it stood.
    tf.write_curve_set(tmp_path / "copy.csv", read)
    assert (tmp_path / "copy.csv").read_bytes() == path.read_bytes()
    for at in (0, 1, 4999, 9999):
        assert read[at] == PARTS[at % 4].replace(id=f"s{at}", extra={"cabinet": str(at % 40)})


# -- the set as a value -----------------------------------------------------------


def test_a_curve_is_made_when_one_is_asked_for(
    write: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    made = []
    plain_init: Callable[..., None] = tf.Curve.__init__

    def counting(self: tf.Curve, *args: object, **options: object) -> None:
        made.append(1)
        plain_init(self, *args, **options)

    path = write(large_set(1000, ROWS[:8]))
    monkeypatch.setattr(tf.Curve, "__init__", counting)
    read = tf.read_curve_set(path)
    assert len(read) == 1000 and "s999" in read.ids
    tf.write_curve_set(path, read)
    tf.write_curve_set(path, read[100:])
    assert not made
    assert read["s17"].id == "s17"
    assert len(made) == 1


def test_a_large_set_keeps_what_nobody_knows_and_what_is_quoted(
    write: Write, tmp_path: Path
) -> None:
    rows = [
        ROWS[0] | {"source": '"bench 2, ""the old one"""', "note": "µ – 5 °C", "c1": "3977.00"},
        ROWS[1] | {"licence": "-40", "source": '"a, b"'},
    ]
    text = large_set(900, rows, "\n").replace("cabinet", "fitted by")
    read = tf.read_curve_set(write(text))
    assert isinstance(read.sheet.rows, PlainRows)
    assert read["s0"].source == 'bench 2, "the old one"'
    assert read["s1"].source == "a, b"
    assert read["s41"].extra == {"fitted by": "1"}
    tf.write_curve_set(tmp_path / "copy.csv", read)
    assert (tmp_path / "copy.csv").read_bytes() == text.replace("\n", "\r\n").encode()
    assert pickle.loads(pickle.dumps(read)) == read
    assert read[::3].ids == read.ids[::3]
    assert list(read[897:]) == [read[at] for at in (897, 898, 899)]
    tf.add_curve(tmp_path / "copy.csv", BETA)
    assert tf.read_curve_set(tmp_path / "copy.csv").ids == (*read.ids, "inlet")


def test_all_that_is_wrong_in_a_large_set_is_said(write: Write) -> None:
    lines = large_set(1000).split("\r\n")
    at = HEADER.index("c0")
    for number, cell in ((17, "10k"), (500, "=1+1"), (999, "1e999")):
        cells = lines[number].split(",")
        cells[at] = cell
        lines[number] = ",".join(cells)
    lines[600] = lines[600].replace("s599", "s3")
    with pytest.raises(CurveSetError) as caught:
        tf.read_curve_set(write("\r\n".join(lines)))
    places = [(problem.row, problem.column, problem.value) for problem in caught.value.problems]
    assert places == [
        (18, "c0", "10k"), (501, "c0", "=1+1"), (501, "c0", "=1+1"), (601, "id", "s3"),
        (1000, "c0", "1e999"),
    ]  # fmt: skip


def test_a_large_set_becomes_the_frame_that_its_rows_make(write: Write) -> None:
    path = write(large_set(300))
    with by_rows():
        read = tf.read_curve_set(path)
        assert not isinstance(read.sheet.rows, PlainRows)
        want = [(curve.r25_ohm, curve.b_25_85_k) for curve in read[:9]]
    frame = tf.read_curve_set(path).to_frame()
    pd.testing.assert_frame_equal(frame, read.to_frame())
    assert frame["c0"].dtype == np.float64
    np.testing.assert_allclose(frame.loc[:8, ["r25_ohm", "b_25_85_k"]], want, rtol=1e-11)


def test_columns_of_a_set_are_changed_and_checked(write: Write) -> None:
    read = tf.read_curve_set(write(large_set(200, ROWS[:2])))
    changed = read.with_columns(
        {"t_min_c": np.full(200, -30.0), "dof": [np.nan] * 200, "shelf": ["b0", "b1"] * 100}
    )  # fmt: skip
    assert changed[1] == read[1].replace(
        t_min_c=-30.0, range_basis="assumed", dof=np.inf, extra={"cabinet": "1", "shelf": "b1"}
    )
    assert read[1].t_min_c == -40.0
    with pytest.raises(CurveSetError, match=r"row 3, column 'r25_ohm'.*the curve itself has"):
        read.with_columns({"r25_ohm": np.where(np.arange(200) == 1, 10500.0, np.nan)})
    with pytest.raises(InputError, match="'note' has 3 values, the set 200 curves"):
        read.with_columns({"note": ["a", "b", "c"]})
    with pytest.raises(InputError, match="'note' has other things than texts"):
        read.with_columns({"note": [["a"]] * 200})


# -- writing ----------------------------------------------------------------------


@settings(max_examples=25)
@given(st.lists(curves() | families(), max_size=6))
def test_many_curves_are_written_as_one_by_one(
    tmp_path_factory: pytest.TempPathFactory, items: list[tf.Curve | tf.Family]
) -> None:
    folder = tmp_path_factory.mktemp("sets")

    def written() -> bytes | tuple[CellProblem, ...]:
        try:
            tf.write_curve_set(folder / "shop.csv", items)
        except CurveSetError as error:
            return error.problems
        return (folder / "shop.csv").read_bytes()

    with by_rows():
        want = written()
    with by_columns():
        assert written() == want


def test_usual_curves_are_written_without_a_look_at_each(tmp_path: Path) -> None:
    items = [part.replace(id=f"p{at}", extra={"shelf": "4"}) for at, part in enumerate(PARTS)]
    with by_columns():
        ready = bulk.encode_many([*items, TABLE, BETA.replace(id="a", note="=1+1")])
        assert [row is None for row in ready] == [False] * 8 + [True] * 3
        with pytest.raises(CurveSetError, match=r"column 'note', value '=1\+1'"):
            tf.write_curve_set(tmp_path / "shop.csv", [*items, BETA.replace(note="=1+1")])
    for item, row in zip(items[:8], ready[:8], strict=True):
        assert row is not None
        assert row.cells == bulk_cells(item)


def test_a_value_between_two_six_digit_numbers_is_left_to_the_curve(tmp_path: Path) -> None:
    tie = tf.Curve.beta(r25_ohm=10000.05, b_k=3977.0, id="tie")
    with by_columns():
        assert bulk.encode_many([tie]) == [None]
        tf.write_curve_set(tmp_path / "shop.csv", [tie])
        assert tf.read_curve_set(tmp_path / "shop.csv")[0] == tie


GOOD = {"t_c": [0.0, 25.0, 70.0, 85.0], "r_ohm": [32640.0, 10010.0, 1757.0, 1070.0]}


def many_points(count: int) -> pd.DataFrame:
    """Invented readings of as many sensors in four baths."""
    rng = np.random.default_rng(3)
    names = [f"s{at}" for at in range(count)]
    r_ohm = np.outer(rng.uniform(0.9, 1.1, count), GOOD["r_ohm"]).ravel()
    return pd.DataFrame({"sensor": np.repeat(names, 4), "t_c": GOOD["t_c"] * count,
                         "r_ohm": r_ohm, "u_t_k": 0.05})  # fmt: skip


@pytest.mark.parametrize("name", ["steinhart-hart", "log-polynomial-3", "beta"])
def test_a_batch_of_fits_is_written_without_making_curves(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    fits = fit_many(ManyPoints.from_frame(many_points(100)), name)
    want = [fits.curve(f"s{at}") for at in range(100)]
    tf.write_curve_set(tmp_path / "list.csv", want)
    with monkeypatch.context() as patch:
        patch.setattr(tf.Curve, "__init__", None)
        tf.write_curve_set(tmp_path / "shop.csv", fits)
        read = tf.read_curve_set(tmp_path / "shop.csv")
    assert list(read) == want
    assert (tmp_path / "shop.csv").read_bytes() == (tmp_path / "list.csv").read_bytes()


def test_sensors_without_names_have_their_numbers_as_ids(tmp_path: Path) -> None:
    fits = fit_many(ManyPoints(GOOD["t_c"], [GOOD["r_ohm"]] * 3))
    tf.write_curve_set(tmp_path / "shop.csv", fits)
    read = tf.read_curve_set(tmp_path / "shop.csv")
    assert read.ids == ("0", "1", "2")
    assert read["2"] == fits.curve(2).replace(id="2")


def test_a_sensor_without_a_curve_keeps_the_batch_from_being_written(tmp_path: Path) -> None:
    r_ohm = np.array([GOOD["r_ohm"]] * 3)
    r_ohm[1, 2] = -1.0
    fits = fit_many(ManyPoints(GOOD["t_c"], r_ohm))
    with pytest.raises(CurveSetError, match=r"value '1': this sensor has no curve: .*without it"):
        tf.write_curve_set(tmp_path / "shop.csv", fits)
    named = many_points(1).assign(sensor=2.5)
    with pytest.raises(InputError, match=r"sensor 2\.5 has no text for a name"):
        tf.write_curve_set(tmp_path / "shop.csv", fit_many(ManyPoints.from_frame(named)))
    assert not list(tmp_path.iterdir())


# -- what it costs ----------------------------------------------------------------


def test_sets_of_some_thousand_curves_need_no_pandas(write: Write) -> None:
    path = write(large_set(2000, ROWS[:4]))
    program = (
        "import sys, thermofit as tf\n"
        "tf.read_curve_set(sys.argv[1])['s7'].temperature(10e3)\n"
        "print(*sorted({'scipy', 'pandas', 'filelock', 'lmfit'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, path], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == ""


def test_a_set_is_held_in_little_more_than_its_text(write: Write) -> None:
    text = large_set(5000, ROWS[:4])
    rows = tf.read_curve_set(write(text)).sheet.rows
    assert isinstance(rows, PlainRows)
    columns = sum(column.nbytes for column in rows.numbers.values())
    held = len(rows.data) + rows.starts.nbytes + rows.ends.nbytes + columns
    assert held < len(text) + 5000 * (4 + 12 * len(HEADER))


def test_rows_in_doubt_are_few_in_a_set_of_usual_curves(write: Write) -> None:
    read = tf.read_curve_set(write(large_set(400, ROWS[:8])))
    assert not list(examine(read.sheet).doubtful)
