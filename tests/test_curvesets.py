"""Curve sets: what is written is what is read."""

from __future__ import annotations

import csv
import io
import pickle
import subprocess
import sys
from importlib import import_module
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.samples import BETA, TABLE, Write
from thermofit.curvesets.cells import format_number, parse_number
from thermofit.curvesets.columns import CORE
from thermofit.equations import catalogue
from thermofit.errors import CurveSetError, InputError, UnknownNameError
from thermofit.testing import curves, families

# -- round trip -------------------------------------------------------------------


@settings(max_examples=60)
@given(st.lists(curves() | families(), max_size=4, unique_by=lambda item: item.id))
def test_what_is_written_reads_back_bit_for_bit(
    tmp_path_factory: pytest.TempPathFactory, items: list[tf.Curve | tf.Family]
) -> None:
    path = tmp_path_factory.mktemp("sets") / "shop.csv"
    tf.write_curve_set(path, items)
    read = tf.read_curve_set(path)
    assert read.ids == tuple(item.id for item in items)
    assert read.families() == tuple(item for item in items if isinstance(item, tf.Family))
    for item in items:
        if isinstance(item, tf.Curve):
            again = read[item.id]
            assert again == item
            assert again.coefficients.names == item.coefficients.names
            for values in ("coefficients", "covariance"):
                ours, theirs = getattr(item, values), getattr(again, values)
                assert (ours is None) == (theirs is None)
                assert ours is None or np.asarray(ours).tobytes() == np.asarray(theirs).tobytes()
            t_c = np.linspace(item.t_min_c, item.t_max_c, 7)
            assert again.resistance(t_c).tobytes() == item.resistance(t_c).tobytes()
    files = {entry.name: entry.read_bytes() for entry in path.parent.glob("*.csv")}
    # Neither the set itself nor its curves one by one make another file of it.
    tf.write_curve_set(path, read)
    assert {entry.name: entry.read_bytes() for entry in path.parent.glob("*.csv")} == files
    tf.write_curve_set(path, list(read))
    again_set = tf.read_curve_set(path)
    assert list(again_set) == list(read)
    assert again_set.families() == read.families()


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_a_number_is_written_in_its_shortest_form(value: float) -> None:
    text = format_number(value)
    assert np.float64(parse_number(text)).tobytes() == np.float64(value).tobytes()
    assert len(text) <= len(repr(value))


def test_curves_written_at_once_or_one_by_one_make_the_same_file(tmp_path: Path) -> None:
    family = tf.Family(BETA.replace(id="part", extra={"shelf": "4"}), r25_tol_pct=1.0)
    tf.write_curve_set(tmp_path / "once.csv", [BETA, TABLE, family])
    (tmp_path / "again").mkdir()
    again = tmp_path / "again" / "once.csv"
    for item in (BETA, TABLE, family):
        tf.add_curve(again, item)
    assert again.read_bytes() == (tmp_path / "once.csv").read_bytes()


def test_the_file_is_plain_csv_with_crlf_and_without_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [BETA.replace(note='two lines,\n"quoted" – °C')])
    data = path.read_bytes()
    assert data.startswith(b"id,equation,c0,c1,")
    assert data.endswith(b"\r\n")
    rows = list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline="")))
    assert rows == [
        {
            "id": "inlet", "equation": "beta", "c0": "10000", "c1": "3977", "t_min_c": "-20",
            "t_max_c": "110", "range_basis": "stated", "r25_ohm": "10000", "b_25_85_k": "3977",
            "source": "bench", "licence": "", "note": 'two lines,\n"quoted" – °C',
        }
    ]  # fmt: skip


def test_an_empty_set_has_a_header_only(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [])
    assert path.read_text() == ",".join(CORE) + "\n"
    read = tf.read_curve_set(path)
    assert len(read) == 0
    assert read.families() == ()
    assert "has no curves" in str(read)


def test_the_derived_columns_are_blank_where_the_range_does_not_reach(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    cold = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-40, 20), id="cold")
    cool = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(-40, 50), id="cool")
    pt100 = tf.Curve.callendar_van_dusen(r0_ohm=100, id="pt")
    tf.write_curve_set(path, [cold, cool, pt100])
    frame = tf.read_curve_set(path)
    rows = [frame.sheet.cells(at) for at in range(3)]
    assert [(row.get("r25_ohm"), row.get("b_25_85_k")) for row in rows] == [
        (None, None),
        ("10000", None),
        ("109.735", None),
    ]


# -- hand-written sets ------------------------------------------------------------


def test_a_beta_row_may_give_the_two_numbers_that_people_know(write: Write) -> None:
    path = write("id,equation,r25_ohm,b_25_85_k,t_min_c,t_max_c\na,beta,10000,3977,0,100\n")
    read = tf.read_curve_set(path)["a"]
    assert read == tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(0, 100), id="a")


def test_a_row_without_a_range_gets_the_assumed_one_and_says_so(write: Write) -> None:
    curve = tf.read_curve_set(write("id,equation,c0,c1\na,beta,10000,3977\n"))[0]
    assert (curve.t_min_c, curve.t_max_c, curve.range_basis) == (-40.0, 125.0, "assumed")


def test_a_table_without_a_range_has_that_of_its_nodes(write: Write) -> None:
    write("t_c,r_ohm\n0,32554\n25,10000\n60,2489\n", "nodes.csv")
    curve = tf.read_curve_set(write("id,equation,table_file\na,tabulated,nodes.csv\n"))[0]
    assert (curve.t_min_c, curve.t_max_c, curve.range_basis) == (0.0, 60.0, "stated")
    assert curve == tf.Curve.from_table([0, 25, 60], [32554, 10000, 2489], id="a")


@pytest.mark.parametrize("ends", ["\r\n", "\n", "\r"])
@pytest.mark.parametrize("mark", [b"", b"\xef\xbb\xbf"])
def test_spreadsheets_may_choose_line_ends_a_mark_and_blank_rows(
    write: Write, ends: str, mark: bytes
) -> None:
    lines = ["id, equation ,c0,c1,,", "a,beta, 10000 ,3977,,", ",,,,,", "", "b,beta,5e3,3.988E+3,,"]
    read = tf.read_curve_set(write(mark + ends.join(lines).encode()))
    assert read.ids == ("a", "b")
    assert read.columns == ("id", "equation", "c0", "c1")
    assert read["b"] == tf.Curve.beta(r25_ohm=5e3, b_k=3988, id="b")


def test_cells_that_nobody_knows_are_kept_and_written_back(write: Write, tmp_path: Path) -> None:
    text = (
        "id,equation,cabinet,c0,c1,fitted_on\r\n"
        "a,beta,7,10000.0,3977.00,2026-03-01\r\n"
        "b,beta,,5e3,3988,\r\n"
    )
    path = write(text)
    read = tf.read_curve_set(path)
    assert read["a"].extra == {"cabinet": "7", "fitted_on": "2026-03-01"}
    assert read["b"].extra == {}
    tf.write_curve_set(tmp_path / "copy.csv", read)
    assert (tmp_path / "copy.csv").read_bytes() == text.encode()
    tf.add_curve(path, BETA)
    kept = path.read_text().splitlines()
    assert kept[0].startswith("id,equation,cabinet,c0,c1")
    assert kept[1].startswith("a,beta,7,10000.0,3977.00")
    assert kept[2].startswith("b,beta,,5e3,3988")
    tf.write_curve_set(path, list(tf.read_curve_set(path)))
    assert tf.read_curve_set(path)["a"].extra == {"cabinet": "7", "fitted_on": "2026-03-01"}


def test_tolerances_and_ratings_survive_a_list_of_curves(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    family = tf.Family(
        BETA.replace(extra={"shelf": "4"}), r25_tol_pct=1.0, b_tol_pct=0.75, source_kind="measured",
        ratings={"dissipation_factor_mw_per_k": 2.1, "max_power_mw": 60.0},
    )  # fmt: skip
    tf.write_curve_set(path, [family, TABLE])
    before = path.read_bytes()
    tf.write_curve_set(path, list(tf.read_curve_set(path)))
    assert path.read_bytes() == before
    again = tf.read_curve_set(path).family("inlet")
    assert again == family
    assert again.curve.extra == {"shelf": "4"}
    assert again.ratings["max_power_mw"] == 60.0


def test_the_fields_of_a_family_win_over_cells_that_its_curve_carries(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [tf.Family(BETA, r25_tol_pct=1.0, source_kind="standard")])
    carried = tf.read_curve_set(path)["inlet"]
    assert carried.extra == {"r25_tol_pct": "1", "source_kind": "standard"}
    tf.write_curve_set(path, [tf.Family(carried, b_tol_pct=3.0)])
    assert tf.read_curve_set(path).family("inlet") == tf.Family(BETA, b_tol_pct=3.0)


# -- settings of an equation that does not ship -----------------------------------


@pytest.fixture
def power_law(monkeypatch: pytest.MonkeyPatch) -> Any:
    """An equation with the setting t_ref_c, as a package may add it."""
    monkeypatch.syspath_prepend(Path(__file__).parent / "plugins" / "good")
    kind = import_module("thermofit_good.power_law").PowerLaw
    monkeypatch.setattr(catalogue, "_SHIPPED", (*catalogue._SHIPPED, kind))
    return kind


def test_a_name_close_to_a_setting_is_refused_like_one_close_to_a_column(
    power_law: Any, write: Write
) -> None:
    rows = "a,power-law,10000,13.2,20\nb,beta,10000,3977,\n"
    with pytest.raises(CurveSetError, match=r"row 1, column 'T_ref_C': .* write it as 't_ref_c'"):
        tf.read_curve_set(write(f"id,equation,c0,c1,T_ref_C\n{rows}"))
    assert tf.read_curve_set(write(f"id,equation,c0,c1,t_ref_c\n{rows}"))[0].extra == {}
    # Where no row has such an equation the name is free.
    path = write("id,equation,c0,c1,T_ref_C\nb,beta,10000,3977,20\n")
    beta = tf.read_curve_set(path)["b"]
    assert beta.extra == {"T_ref_C": "20"}
    curve = tf.Curve(power_law(20.0), [10e3, 13.2], id="a")
    before = path.read_bytes()
    with pytest.raises(CurveSetError, match=r"column 'T_ref_C': .* too close to 't_ref_c'"):
        tf.add_curve(path, curve)
    with pytest.raises(CurveSetError, match=r"column 'T_ref_C': .* too close to 't_ref_c'"):
        tf.write_curve_set(path, [beta, curve])
    assert path.read_bytes() == before
    tf.write_curve_set(path, [curve])
    with pytest.raises(CurveSetError, match=r"column 'T_ref_C': .* too close to 't_ref_c'"):
        tf.add_curve(path, beta)
    tf.add_curve(path, beta.replace(extra={"cabinet": "7"}))
    assert tf.read_curve_set(path).ids == ("a", "b")


# -- add --------------------------------------------------------------------------


def test_an_id_that_is_there_is_replaced_only_on_demand(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [BETA, TABLE])
    before = path.read_bytes()
    other = tf.Curve.beta(r25_ohm=9.9e3, b_k=3950, id="inlet")
    with pytest.raises(CurveSetError, match=r"row 2, column 'id', value 'inlet': .*to be replaced"):
        tf.add_curve(path, other)
    assert path.read_bytes() == before
    tf.add_curve(path, other, replace=True)
    assert list(tf.read_curve_set(path)) == [other, TABLE]


def test_nothing_is_added_to_a_set_that_cannot_be_read(write: Write) -> None:
    path = write("id,equation,c0,c1\na,beta,x,3977\n")
    with pytest.raises(CurveSetError, match="row 2, column 'c0', value 'x'"):
        tf.add_curve(path, BETA)
    assert path.read_text() == "id,equation,c0,c1\na,beta,x,3977\n"


# -- the set as a value -----------------------------------------------------------


def test_curves_are_found_by_place_and_by_id(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [BETA, TABLE, tf.Family(BETA.replace(id="part"), r25_tol_pct=5)])
    read = tf.read_curve_set(str(path))
    assert read.path == path
    assert read.ids == ("inlet", "outlet", "part")
    assert read[0] == read["inlet"] == read[-3] == BETA
    assert "outlet" in read
    assert TABLE in read
    assert "x" not in read
    assert read[1:].ids == ("outlet", "part")
    assert [family.id for family in read.families()] == ["part"]
    with pytest.raises(IndexError):
        read[3]
    with pytest.raises(UnknownNameError, match=r"has no curve 'inlett'; the nearest are inlet"):
        read["inlett"]
    with pytest.raises(InputError, match="is a curve and no family"):
        read.family("inlet")
    assert pickle.loads(pickle.dumps(read)) == read
    assert hash(read) == hash(tf.read_curve_set(path))
    assert read != read[1:]
    assert "3 curves: inlet, outlet, part" in repr(read)
    assert "±" in str(read).splitlines()[0]
    assert "5 %" in str(read).splitlines()[3]


def test_a_set_becomes_a_frame(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    family = tf.Family(BETA.replace(id="part"), r25_tol_pct=5, ratio_only=True)
    tf.write_curve_set(path, [TABLE, family])
    frame = tf.read_curve_set(path).to_frame()
    assert list(frame["id"]) == ["outlet", "part"]
    assert frame["r25_tol_pct"].isna().tolist() == [True, False]
    assert frame["c1"].dtype == np.float64
    assert frame["ratio_only"].tolist() == [False, True]
    assert frame["r25_ohm"].tolist() == pytest.approx([10e3, 10e3])


def test_reading_needs_numpy_alone(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [TABLE, BETA])
    program = (
        "import sys, thermofit as tf\n"
        "tf.read_curve_set(sys.argv[1])['outlet'].temperature(10e3)\n"
        "print(*sorted({'scipy', 'pandas', 'filelock', 'lmfit', 'hypothesis'} & set(sys.modules)))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program, path], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == ""
