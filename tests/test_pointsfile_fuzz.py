"""Whatever a points file contains, it is read right or refused with reasons."""

from __future__ import annotations

import io
import string
import warnings
from decimal import Decimal
from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from thermofit.errors import InputError, PointsFileError, UnitGuessWarning
from thermofit.points import Points
from thermofit.pointsfile import read_points


def read_or_refuse(content: str | bytes, **options: Any) -> Points | None:
    stream: Any = io.StringIO(content) if isinstance(content, str) else io.BytesIO(content)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", UnitGuessWarning)
        try:
            return read_points(stream, **options)
        except PointsFileError as error:
            refused = error
    assert refused.problems
    assert all(problem.reason for problem in refused.problems)
    return None


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(content: bytes) -> None:
    read_or_refuse(content)


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(content: str) -> None:
    read_or_refuse(content)


HEADERS = ["T", "t_c", "T (°C)", "temp_f", "K", "R", "r_ohm", "R (kΩ)", "Ω", "u(T)", "u_R (%)"]
CELLS = ["25", "0,5", "1,234", "10.000", "4k7", "77F", "1 000", "-3", "nan", "", "٢٥", "1e9", "=1"]
SIGNS = [",", ";", "\t", " ", "  ", "|", '"', "#", "\n", "\r\n", "\r", "\ufeff", "k=2", "U(R) k=2"]


@given(
    st.lists(st.sampled_from([*HEADERS, *CELLS, *SIGNS, *SIGNS[:9]]), max_size=40).map("".join),
    st.fixed_dictionaries(
        {},
        optional={
            "t_column": st.sampled_from(["T", "t_c", 1, 2, "2", 7]),
            "r_column": st.sampled_from(["R", "r_ohm", 1, 2, "1", 7]),
            "u_t_column": st.sampled_from(["u(T)", 3]),
            "t_unit": st.sampled_from(["C", "F"]),
            "r_unit": st.sampled_from(["ohm", "k"]),
            "decimal": st.sampled_from([".", ","]),
            "delimiter": st.sampled_from([",", ";", "\t", " ", "whitespace", "|", "/"]),
        },
    ),
)
def test_anything_that_resembles_a_points_file_is_read_or_refused(
    content: str, options: dict[str, Any]
) -> None:
    p = read_or_refuse(content, **options)
    if p is not None:
        assert len(p) <= len(content)
        assert (p.r_ohm > 0).all() and (p.t_c > -273.15).all()


@given(
    st.sampled_from(["t_column", "r_column", "t_unit", "r_unit", "decimal", "delimiter"]),
    st.text(max_size=5),
)
def test_any_argument_is_used_or_refused(argument: str, value: str) -> None:
    options: dict[str, Any] = {argument: value}
    told = ""
    try:
        p = read_or_refuse("T,R\n25,10000\n", **options)
    except InputError as error:
        p, told = None, str(error)
    assert (len(p) == 1) if p is not None else (not told or argument in told)


# One decimal at least, so that no comma of a file might group thousands.
tenths = st.integers(-2000, 20000).map(lambda number: Decimal(number).scaleb(-1))
resistances = st.decimals("0.001", "99999999", places=3)
uncertainties = st.integers(0, 99).map(lambda number: Decimal(number) / 100)
readings = st.lists(st.tuples(tenths, resistances, uncertainties), min_size=1, max_size=8)

T_STYLES = {
    "C": ["t_c", "T (°C)", "Temperature/degC", "°C", "Temp. [Celsius]"],
    "F": ["temp_f", "T (°F)", "bath temperature, degF", "°F"],
    "K": ["t_k", "T (K)", "K", "temperature in kelvin"],
}
R_STYLES = {0: ["r_ohm", "R (Ω)", "Ohm"], 3: ["R (K)", "R/kOhm", "kΩ"], 6: ["R [MΩ]", "R (Mohm)"]}


@st.composite
def writings(draw: st.DrawFn) -> tuple[list[tuple[Decimal, Decimal, Decimal]], bytes]:
    """Readings in °C, Ω and K, and a file that states them in some way or other."""
    rows = draw(readings)
    unit = draw(st.sampled_from(sorted(T_STYLES)))
    power = draw(st.sampled_from(sorted(R_STYLES)))
    decimal = draw(st.sampled_from(".,"))
    delimiter = draw(st.sampled_from(["\t", ";", ",", "|", "   "]))
    newline = draw(st.sampled_from(["\n", "\r\n", "\r"]))
    in_cells = draw(st.booleans())
    quoted = (delimiter == decimal == ",") or draw(st.booleans())
    encoding = draw(st.sampled_from(["utf-8", "utf-8-sig", "utf-16"]))
    turned = draw(st.booleans())

    def write(number: Decimal, suffix: str) -> str:
        text = f"{number:f}".replace(".", decimal) + (suffix if in_cells else "")
        return f'"{text}"' if quoted else text

    header = [draw(st.sampled_from(T_STYLES[unit])), draw(st.sampled_from(R_STYLES[power]))]
    header = ["T", "R"] if in_cells else header
    header.append("u(T) (K)")
    if "," in header[0] and delimiter == ",":
        header[0] = f'"{header[0]}"'
    suffixes = (unit, {0: "R", 3: "k", 6: "M"}[power], "")
    table = [header]
    for t_c, r_ohm, u_t_k in rows:
        t = {"C": t_c, "F": t_c * Decimal("1.8") + 32, "K": t_c + Decimal("273.15")}[unit]
        numbers = (t, r_ohm.scaleb(-power), u_t_k)
        table.append([write(*pair) for pair in zip(numbers, suffixes, strict=True)])
    if turned:
        table = [row[::-1] for row in table]
    if delimiter != "   " and draw(st.booleans()):
        table = [["", "Note", *row][1:] if at == 0 else ["x", *row] for at, row in enumerate(table)]
    lines = [delimiter.join(row) for row in table]
    if draw(st.booleans()):
        lines[1:1] = ["", "# invented"]
    if draw(st.booleans()):
        lines.insert(0, "Workshop readings")
    return rows, newline.join(lines).encode(encoding)


@given(writings())
def test_the_same_readings_in_any_writing_are_read_back_exactly(
    written: tuple[list[tuple[Decimal, Decimal, Decimal]], bytes],
) -> None:
    rows, content = written
    p = read_points(io.BytesIO(content))
    assert p.t_c.tolist() == [float(t_c) for t_c, _, _ in rows]
    assert p.r_ohm.tolist() == [float(r_ohm) for _, r_ohm, _ in rows]
    assert p.u_t_k is not None
    np.testing.assert_array_equal(p.u_t_k, [float(u_t_k) for _, _, u_t_k in rows])


@given(
    readings,
    st.integers(0, 7),
    st.integers(0, 2),
    st.text(string.ascii_letters + " ?*=()'§", max_size=8),
)
def test_one_bad_cell_is_found_wherever_it_stands(
    rows: list[tuple[Decimal, Decimal, Decimal]], row: int, column: int, bad: str
) -> None:
    assume(row < len(rows))
    cells = [[f"{number:f}" for number in reading] for reading in rows]
    cells[row][column] = bad
    # An uncertainty that is nowhere stated is simply not stated.
    assume(bad.strip() or column < 2 or len(rows) > 1)
    content = "\n".join(["t_c;r_ohm;u_t_k", *map(";".join, cells)])
    with pytest.raises(PointsFileError) as caught:
        read_points(io.StringIO(content))
    (problem,) = caught.value.problems
    header = ("t_c", "r_ohm", "u_t_k")
    assert (problem.row, problem.column) == (row + 2, header[column])
    assert problem.value == bad.strip()


JUNK = ["t_c;r_ohm", "T;R", "°C;Ω", "x;y", "ice", "x;1", "1;x", "Serial;4711", ";5", "1;2;3", '"']


@given(readings, st.lists(st.tuples(st.integers(0, 9), st.sampled_from(JUNK)), max_size=3))
def test_no_reading_is_lost_whatever_stands_between_the_rows(
    rows: list[tuple[Decimal, Decimal, Decimal]], junk: list[tuple[int, str]]
) -> None:
    for header, options in ((["t_c;r_ohm"], {}), ([], {"t_column": 1, "r_column": 2})):
        lines = header + [f"{t_c};{r_ohm:f}" for t_c, r_ohm, _ in rows]
        for place, line in junk:
            lines.insert(place, line)
        p = read_or_refuse("\n".join(lines), t_unit="C", r_unit="ohm", **options)
        if p is not None:
            assert p.t_c.tolist() == [float(t_c) for t_c, _, _ in rows]
            assert p.r_ohm.tolist() == [float(r_ohm) for _, r_ohm, _ in rows]
