"""Points files as people write them are understood, and say how.

All readings are invented: aspirated air sensors from glasshouse climate
controllers, measured in ice and in a stirred bath at a workshop.
"""

from __future__ import annotations

import io
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from thermofit.errors import UnitGuessWarning
from thermofit.points import Points
from thermofit.pointsfile import read_points
from thermofit.pointsfile.columns import recognise

BENCH = Points([0.0, 25.0, 50.0], [32650.0, 10000.0, 3603.0])


def read(text: str, **options: Any) -> Points:
    return read_points(io.StringIO(text), **options)


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        *[(header, None) for header in ("T", "temp", "Temp.", "TEMPERATURE", "t", "T90", "T1")],
        *[(header, None) for header in ("bath temperature", "T (bath)", "Temperatur", "ϑ")],
        *[(header, "C") for header in ("t_c", "T_C", "Temperature (°C)", "T/°C", "T [degC]")],
        *[(header, "C") for header in ("°C", "degC", "℃", "T (º C)", "Temp. deg. C", "tempC")],
        *[(header, "C") for header in ("Temperature, °C", "Temperatur in °C", "temp (Celsius)")],
        *[(header, "F") for header in ("temp_f", "T [degF]", "T (Fahrenheit)", "deg F", "°F")],
        *[(header, "K") for header in ("K", "T (K)", "T/K", "temperature_k", "T in kelvin")],
    ],
)
def test_a_header_names_the_temperature(header: str, unit: str | None) -> None:
    column = recognise(header)
    assert column is not None
    assert (column.kind, column.unit, column.refusal) == ("t", unit, "")


@pytest.mark.parametrize(
    ("header", "unit"),
    [
        *[(header, None) for header in ("R", "r", "Resistance", "R_T", "R(T)", "Widerstand", "R2")],
        *[(header, 1.0) for header in ("r_ohm", "resistance_ohm", "R (Ω)", "R/Ω", "Ω", "ohms")],
        *[(header, 1e3) for header in ("R (kΩ)", "R/kOhm", "kOhm", "R (K)", "R_k", "R [㏀]")],
        *[(header, 1e6) for header in ("Resistance [MΩ]", "R (Mohm)", "R M", "R (megohm)")],
        ("NTC resistance (kΩ)", 1e3),
    ],
)
def test_a_header_names_the_resistance(header: str, unit: float | None) -> None:
    column = recognise(header)
    assert column is not None
    assert (column.kind, column.unit, column.refusal) == ("r", unit, "")


@pytest.mark.parametrize(
    ("header", "kind", "unit"),
    [
        *[(header, "u_t", None) for header in ("u(T)", "u_T", "uT", "sigma_T", "std T", "σ(T)")],
        *[(header, "u_t", "K") for header in ("u_t_k", "u_T (K)", "u(T)/K", "std dev T (K)")],
        ("u(T) (°F)", "u_t", "F"),
        ("u(T)/mK", "u_t", "mK"),
        *[(header, "u_r", None) for header in ("u(R)", "u_R", "standard uncertainty of R", "s(R)")],
        *[(header, "u_r", 1.0) for header in ("u_r_ohm", "u(R) (Ω)")],
        *[(header, "u_r", "%") for header in ("u_R (%)", "u_r_pct", "u(R) (% of reading)")],
        ("u_R (ppm)", "u_r", "ppm"),
    ],
)
def test_lower_case_u_is_a_standard_uncertainty(header: str, kind: str, unit: object) -> None:
    # JCGM 100:2008, 2.3.1 and annex J: u is a standard uncertainty, U an expanded one.
    column = recognise(header)
    assert column is not None
    assert (column.kind, column.unit, column.k, column.refusal) == (kind, unit, 1.0, "")


@pytest.mark.parametrize("header", ["U(R) k=2", "U_R (k = 2)", "UR, k=2", "expanded unc. R k=2,0"])
def test_upper_case_u_is_an_expanded_uncertainty_with_its_k(header: str) -> None:
    column = recognise(header)
    assert column is not None
    assert (column.kind, column.k, column.refusal) == ("u_r", 2.0, "")


@pytest.mark.parametrize(
    "header",
    [
        *("note", "t (s)", "t/min", "time", "R25 (Ω)", "k", "U (V)", "dT", "T error", "T setpoint"),
        *("T_std", "R/T", ",T", "temperature coefficient", "", "(", "x" * 10_000, "T" * 10_000),
    ],
)
def test_other_headers_are_left_alone(header: str) -> None:
    assert recognise(header) is None


@pytest.mark.parametrize(
    "text",
    [
        "t_c,r_ohm\n0,32650\n25,10000\n50,3603\n",
        "T (°C);R (kΩ)\n0;32,65\n25;10\n50;3,603\n",
        "temp_f\tR (MΩ)\n32\t0.03265\n77\t0.01\n122\t0.003603\n",
        "K,kOhm\n273.15,32.65\n298.15,10\n323.15,3.603\n",
        "T,R\n32F,32k65\n77 °F,10k\n50°C,3603R\n",
        "R (Ω),T/°C\n32650,0\n10000,25\n3603,50\n",
        '"T (°C)","R (Ω)"\r\n"0,0","32650,0"\r\n"25,0","10000"\r\n"50","3603"\r\n',
        "t_c,r_ohm\r0,32650\r25,10000\r50,3603",
        "\ufefft_c , r_ohm,,\n0, 32650,,\n25, 10000,,\n50, 3603,,\n",
        "T (°C)    R (Ω)\n  0.0    32650\n 25.0    10000\n 50.0     3603\n",
        "T (°C) R (Ω)\n0,0 32650\n25 10000\n50 3603\n",
        "T (°C)|R (Ω)\n0|32650\n25|10000\n50|3603\n",
        "sep=;\nT (°C);R (Ω)\n0;3,265E4\n25;1e4\n50;3603\n",
        "# bench 2\n\nt_c,r_ohm\n0,32650\n# tea\n\n25,10000\n50,3603\n",
        "# t_c r_ohm\n0.0 32650\n25.0 10000\n50.0 3603\n",
        "#,t_c,r_ohm\n1,0,32650\n2,25,10000\n3,50,3603\n",
        "T;R\n[°C];[kΩ]\n0;32,65\n25;10\n50;3,603\n",
        "Logger;12\nStarted;2024-05-01 10:00\n\nT (°C);R (Ω)\n0;32650\n25;10000\n50;3603\n",
        "T (°C);R (Ω)\n0;32 650,0\n25;10\u202f000\n50;3603\n",
        "T (°C);R (Ω)\n0,0;32.650,0\n25;10.000\n50;3603\n",
    ],
)
def test_the_same_readings_are_read_from_every_writing(text: str) -> None:
    assert read(text) == BENCH


def test_a_number_with_a_prefix_is_exact_in_decimal() -> None:
    p = read("T (K),R (kΩ)\n300.1,4.7\n273.25,1.005\n")
    assert p.r_ohm.tolist() == [4700.0, 1005.0]
    assert p.t_c.tolist() == [26.95, 0.1]


def test_unsorted_and_repeated_readings_are_kept_as_they_are() -> None:
    p = read("t_c,r_ohm\n50,3603\n0,32650\n50,3603\n25,10000\n")
    assert p.t_c.tolist() == [50.0, 0.0, 50.0, 25.0]


def test_notes_tell_what_was_read_as_what() -> None:
    p = read(
        "Bench 2\nno;T (°F);R (K);u(T);U(R) (%) k=2;note\n1;77,0;10;0,18;0,1;ice, twice\n;;;;;\n"
    )
    assert p.notes == (
        "columns separated by a semicolon, decimal sign a comma",
        "header in row 2, below a row of other text",
        "rows of empty cells only, passed over: 1",
        "column 2 'T (°F)' read as temperature in °F",
        "column 3 'R (K)' read as resistance in kΩ",
        "column 4 'u(T)' read as standard uncertainty of the temperature in °F "
        "(the unit of the temperature)",
        "column 5 'U(R) (%) k=2' read as expanded uncertainty of the resistance in % of the "
        "reading, divided by k = 2",
        "columns not used: 1 'no', 6 'note'",
    )
    assert p == Points([25], [10e3], u_t_k=[0.18 / 1.8], u_r_ohm=[5.0])


def test_uncertainties_come_to_kelvin_and_ohms() -> None:
    p = read("temp_f,R (kΩ),u_t_f,u(R)\n77,10,0.9,0.005\n32,32.65,50mK,0.1%\n212,1,0.1K,2R\n")
    assert p.u_t_k is not None and p.u_r_ohm is not None
    np.testing.assert_allclose(p.u_t_k, [0.5, 0.05, 0.1], rtol=1e-15)
    np.testing.assert_allclose(p.u_r_ohm, [5.0, 32.65, 2.0], rtol=1e-15)
    assert "cells of column 3 'u_t_f' with a unit of their own: 2" in p.notes


def test_an_uncertainty_of_zero_is_allowed_and_an_empty_column_states_none() -> None:
    p = read("t_c,r_ohm,u(T),u(R)\n25,10000,0,\n50,3603,0.1,\n")
    assert p.u_t_k is not None and p.u_t_k.tolist() == [0.0, 0.1]
    assert p.u_r_ohm is None
    assert "column 4 'u(R)' is empty: uncertainty of the resistance not stated" in p.notes


def test_units_that_are_not_stated_are_guessed_aloud() -> None:
    with pytest.warns(UnitGuessWarning) as caught:
        p = read("T,R\n25,10000\n")
    assert p == Points([25], [10000])
    told = str(caught[0].message)
    assert "'T' taken as temperature in °C" in told and "state the unit (t_unit)" in told
    assert "'R' taken as resistance in Ω" in told and "state the unit (r_unit)" in told
    assert caught[0].filename == __file__
    assert read("T,R\n25,10000\n", t_unit="C", r_unit="ohm") == p  # and no warning


def test_two_columns_without_a_header_are_temperature_and_resistance_aloud() -> None:
    with pytest.warns(UnitGuessWarning, match="no header: column 1 taken as temperature"):
        p = read("25,10000\n50,3603\n")
    assert p == Points([25, 50], [10000, 3603])
    stated: dict[str, Any] = {"t_column": 2, "r_column": 1, "t_unit": "°F", "r_unit": "kΩ"}
    assert read("10,77\n", **stated) == Points([25], [10000])  # and no warning


def test_bare_numbers_among_values_with_a_prefix_are_ohms_aloud() -> None:
    with pytest.warns(UnitGuessWarning, match="cells without a unit in column 2 'R' taken as"):
        assert read("t_c,R\n25,4k7\n60,975\n").r_ohm.tolist() == [4700.0, 975.0]


def test_milliohms_are_doubted_aloud() -> None:
    with pytest.warns(UnitGuessWarning, match="taken as milliohm, as it is spelt"):
        read("t_c,R (mohm)\n25,10\n")


def test_a_point_that_may_group_thousands_is_doubted_aloud() -> None:
    text = "T (°C);R (Ω)\n25;10.000\n"
    with pytest.warns(UnitGuessWarning, match=r"'10\.000' \(row 2, .*taken as the decimal sign"):
        assert read(text).r_ohm[0] == 10.0
    assert read(text, decimal=".").r_ohm[0] == 10.0
    assert read(text, decimal=",").r_ohm[0] == 10_000.0


def test_commas_group_thousands_where_one_number_proves_it() -> None:
    p = read('t_c,r_ohm\n0,"32,650.0"\n25,"10,000"\n50,3603\n')
    assert p == BENCH
    assert "thousands grouped by a comma" in p.notes


def test_commas_before_three_digits_group_thousands_where_other_columns_have_points() -> None:
    p = read('T (°F),R (Ω)\n32.0,"32,650"\n77.0,"10,000"\n122.0,3603\n')
    assert p == BENCH
    assert "thousands grouped by a comma" in p.notes


def test_a_decimal_comma_anywhere_settles_the_whole_file() -> None:
    assert read("T (°C);R (Ω)\n25,1;10,000\n").r_ohm[0] == 10.0


def test_the_caller_names_columns_by_header_or_position() -> None:
    text = "T1 (°C),T2 (°C),R (Ω),acc\n25,26,10000,0.1\n"
    assert read(text, t_column="T2 (°C)").t_c[0] == 26.0
    assert read(text, t_column=1).t_c[0] == 25.0
    assert read(text, t_column="2").t_c[0] == 26.0
    p = read(text, t_column="t1 (°c)", u_t_column="acc")
    assert p.u_t_k is not None and p.u_t_k[0] == 0.1


def test_a_named_column_has_the_unit_of_its_header() -> None:
    p = read("Channel 1 (°F),Channel 2 [kΩ]\n77,10\n", t_column=1, r_column="Channel 2 [kΩ]")
    assert p == Points([25], [10000])
    p = read("Channel 1;Channel 2\n°F;kΩ\n77;10\n", t_column="Channel 1", r_column="Channel 2")
    assert p == Points([25], [10000])


def test_a_stated_unit_overrules_the_header_and_the_notes_say_so() -> None:
    p = read("T (°C),r_ohm\n77,10000\n", t_unit="F")
    assert p.t_c[0] == 25.0
    assert any("in °F as told, though its header says °C" in note for note in p.notes)


@pytest.mark.parametrize(
    ("encoding", "note"),
    [
        ("utf-8", None),
        ("utf-8-sig", None),
        ("utf-16", "read as UTF-16"),
        ("cp1252", "not UTF-8; read as Windows-1252 (Western European)"),
    ],
)
def test_files_in_common_encodings_are_read(
    encoding: str, note: str | None, tmp_path: Path
) -> None:
    path = tmp_path / "bench.csv"
    path.write_bytes("T (°C),R (kOhm)\n0,32.65\n25,10\n50,3.603\n".encode(encoding))
    p = read_points(path)
    assert p == read_points(str(path)) == BENCH
    assert p.source == str(path)
    assert (p.notes[0] == note) if note else p.notes[0].startswith("columns separated")


def test_open_files_and_standard_input_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    content = "t_c,r_ohm\n0,32650\n25,10000\n50,3603\n"
    assert read_points(io.BytesIO(content.encode())) == BENCH
    monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(content.encode())))
    assert read_points(sys.stdin) == BENCH


def test_a_quoted_cell_may_hold_separators_line_breaks_and_what_looks_like_a_comment() -> None:
    p = read('t_c,r_ohm,note\n0,32650,"ice,\n# not a comment\nstirred"\n25,10000,\n50,3603,""\n')
    assert p == BENCH


def test_a_hundred_thousand_rows_take_seconds_at_most() -> None:
    rows = "".join(f"{n % 90 + 0.25:.2f},{3 + n % 29:.3f}\n" for n in range(100_000))
    begin = time.perf_counter()
    p = read("T (°C),R (kΩ)\n" + rows)
    assert len(p) == 100_000
    assert time.perf_counter() - begin < 10.0  # about one second on a quiet machine
