"""The registry, and the curve sets that ship, against their sources."""

from __future__ import annotations

import json
import math
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from frictionless import Package, Schema

import thermofit as tf
from tests.reference import RT_TABLES, columns
from thermofit import plugins
from thermofit.curvesets.columns import in_order
from thermofit.errors import PluginClashError, UnknownNameError
from thermofit.families import registry, shipped
from thermofit.families.registry import Families
from thermofit.plugins import PluginProblem
from thermofit.testing import curves, families

CURVES = shipped.shipped_folder()

IDS = [
    "ntc-100k-4311", "ntc-10k-3434", "ntc-10k-3435", "ntc-10k-3950", "ntc-10k-3977",
    "ntc-33k-4544", "ntc-47k-4108", "ntc-5k-3988", "ntc-ratio-3544", "ntc-ratio-4014",
    "ntc-ratio-4613", "pt-100-iec60751", "pt-1000-iec60751", "pt-500-iec60751",
]  # fmt: skip


@pytest.fixture
def fresh() -> Iterator[None]:
    """A registry that has not been loaded, before the test and after it."""
    registry._load.cache_clear()
    yield
    registry._load.cache_clear()


# -- what ships, against its sources ----------------------------------------------


@pytest.mark.parametrize("size", RT_TABLES)
def test_a_published_table_ships_as_it_was_published(size: str) -> None:
    t_c, r_ohm = columns(f"rt_table_ntc_{size}.csv")
    published = tf.Curve.from_table(t_c, r_ohm)
    # The id says what the table says: R25, and B25/85 to the nearest kelvin.
    family = tf.family(f"ntc-{size}-{published.b_25_85_k:.0f}")
    assert family.curve.equation.name == "tabulated"
    assert family.curve.resistance(t_c) == pytest.approx(r_ohm, rel=1e-14)
    assert family.curve.r25_ohm == pytest.approx(float(size[:-1]) * 1e3, rel=1e-12)
    t_fine = np.linspace(-40, 125, 331)
    assert family.curve.resistance(t_fine) == pytest.approx(published.resistance(t_fine), rel=1e-12)
    assert (family.curve.t_min_c, family.curve.t_max_c) == (-40.0, 125.0)
    assert family.source_kind == "table"
    assert "Linux kernel 6.1, hwmon NTC driver" in family.source


def test_the_published_material_has_the_published_values() -> None:
    # Vishay BCcomponents, document 29049: coefficients, tolerance example, and
    # that the two polynomial forms agree within 0.005 °C and 0.015 °C.
    family = tf.family("ntc-10k-3977")
    assert list(family.curve.coefficients.values()) == [-14.6337, 4791.842, -115334.0, -3.730535e6]
    assert (family.r25_tol_pct, family.b_tol_pct, family.source_kind) == (5.0, 0.75, "coefficients")
    assert family.curve.resistance(0.0) == pytest.approx(32.56e3, rel=2e-4)
    # Printed as 5.08 %/K; the printed coefficients give 5.09.
    assert family.curve.alpha(0.0) == pytest.approx(-0.0508, abs=1e-4)
    other = tf.Curve.log_polynomial(
        r_ref_ohm=10e3,
        coefficients=[3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8],
        t_range_c=(-41, 126),
    )
    for low, high, limit_k in ((25.0, 125.0, 0.006), (-40.0, 25.0, 0.016)):
        t_c = np.linspace(low, high, 200)
        miss_k = np.abs(other.temperature(family.curve.resistance(t_c)) - t_c).max()
        assert miss_k < limit_k


@pytest.mark.parametrize(("letter", "ratio"), [("A", 19.8), ("B", 29.4), ("C", 48.7)])
def test_a_ratio_characteristic_has_its_ratio(letter: str, ratio: float) -> None:
    # MIL-PRF-23648, Table I.
    b_k = math.log(ratio) / (1 / 298.15 - 1 / 398.15)
    family = tf.family(f"ntc-ratio-{b_k:.0f}")
    assert family.ratio_only
    assert f"characteristic {letter}: R25/R125 = {ratio:g} ± 10 %" in family.curve.note
    assert family.curve.r25_ohm == pytest.approx(1.0, abs=1e-12)
    assert family.curve.resistance(25.0) / family.curve.resistance(125.0) == pytest.approx(ratio)
    assert (family.curve.t_min_c, family.curve.t_max_c) == (25.0, 125.0)


@pytest.mark.parametrize(
    ("id", "r25_ohm", "b_k", "r25_tol_pct"),
    [
        ("ntc-5k-3988", 5e3, 3988.0, 1.0),
        ("ntc-10k-3435", 10e3, 3435.0, None),
        ("ntc-10k-3950", 10e3, 3950.0, None),
    ],
)
def test_a_nominal_pair_says_that_it_has_no_source(
    id: str, r25_ohm: float, b_k: float, r25_tol_pct: float | None
) -> None:
    family = tf.family(id)
    assert list(family.curve.coefficients.values()) == [r25_ohm, b_k]
    assert family.r25_tol_pct == r25_tol_pct
    assert (family.source, family.source_kind) == ("common practice, no source", "nominal")
    assert family.curve.range_basis == "assumed"


@pytest.mark.parametrize("r0_ohm", [100, 500, 1000])
def test_platinum_has_the_values_of_the_table(r0_ohm: float) -> None:
    # IEC 60751, values for 100 Ω as the reference gives them (from memory).
    curve = tf.family(f"pt-{r0_ohm}-iec60751").curve
    table = curve.resistance([-100.0, 0.0, 100.0, 200.0]) * 100 / r0_ohm
    assert table.round(2).tolist() == [60.26, 100.00, 138.51, 175.86]
    assert (curve.t_min_c, curve.t_max_c) == (-200.0, 850.0)
    assert "from memory" in curve.note


def test_every_family_has_source_licence_and_note() -> None:
    assert list(tf.families()) == IDS
    for family in tf.families().values():
        assert family.source
        assert family.curve.licence
        assert family.curve.note


# -- the files that ship ----------------------------------------------------------


@pytest.mark.parametrize("name", shipped.SHIPPED_SETS)
def test_a_shipped_set_is_written_as_it_stands(name: str, tmp_path: Path) -> None:
    read = tf.read_curve_set(CURVES / name)
    for again in (read, list(read.families()), list(read)):
        tf.write_curve_set(tmp_path / name, again)
        for path in tmp_path.glob("*.csv"):
            assert path.read_bytes() == (CURVES / path.name).read_bytes()
        assert {path.name for path in tmp_path.glob("*.csv")} == {name, *tables(read)}


def tables(curve_set: tf.CurveSet) -> set[str]:
    rows = (curve_set.sheet.cells(at) for at in range(len(curve_set)))
    return {row["table_file"] for row in rows if "table_file" in row}


def test_the_data_package_lists_every_file_and_is_valid() -> None:
    named = set(shipped.SHIPPED_SETS).union(
        *(tables(tf.read_curve_set(CURVES / name)) for name in shipped.SHIPPED_SETS)
    )
    assert {path.name for path in CURVES.glob("*.csv")} == named
    package = Package(str(CURVES / "datapackage.json"))
    assert {resource.path for resource in package.resources} == named
    report = package.validate()
    assert report.valid, report.flatten(["rowNumber", "fieldName", "message"])
    assert len(report.tasks) == len(named)


def test_the_table_schema_has_the_columns_in_the_order_of_the_writer() -> None:
    names = Schema(str(CURVES / "curve-set.schema.json")).field_names
    assert tuple(names) == in_order(names)


def problems_by_schema(path: Path, schema: str = "curve-set.schema.json") -> list[str]:
    """Validate a file in a data package of its own, described as the shipped one is."""
    shipped_package = json.loads((CURVES / "datapackage.json").read_text(encoding="utf-8"))
    resource = next(r for r in shipped_package["resources"] if r["schema"] == schema)
    resource |= {"name": "shop", "path": path.name}
    shutil.copy(CURVES / schema, path.parent)
    (path.parent / "datapackage.json").write_text(
        json.dumps(shipped_package | {"resources": [resource]}), encoding="utf-8"
    )
    report = Package(str(path.parent / "datapackage.json")).validate()
    assert len(report.tasks) == 1
    return [error.message for task in report.tasks for error in task.errors]


def test_a_set_that_has_just_been_written_keeps_the_schema(tmp_path: Path) -> None:
    from hypothesis import HealthCheck, given, settings
    from hypothesis import strategies as st

    path = tmp_path / "shop.csv"

    @settings(max_examples=25, suppress_health_check=[HealthCheck.too_slow])
    @given(st.lists(curves() | families(), max_size=3, unique_by=lambda item: item.id))
    def check(items: list[tf.Curve | tf.Family]) -> None:
        # What a column of somebody's own holds, no schema of ours can say; and
        # the cells of a row that all are blank make the row a blank one there.
        plain = [
            replace(item, curve=item.curve.replace(extra={}))
            if isinstance(item, tf.Family)
            else item.replace(extra={})
            for item in items
        ]
        tf.write_curve_set(path, plain)
        assert problems_by_schema(path) == []
        for name in tables(tf.read_curve_set(path)):
            assert problems_by_schema(tmp_path / name, "nodes.schema.json") == []

    check()


def test_a_column_of_somebodys_own_keeps_the_schema(tmp_path: Path) -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet")
    tf.write_curve_set(tmp_path / "shop.csv", [curve.replace(extra={"cabinet": "7"})])
    assert problems_by_schema(tmp_path / "shop.csv") == []


@pytest.mark.parametrize(
    ("header", "row"),
    [
        ("id,c0,c1", "a,1,3977"),
        ("id,equation,c0,c1", "a b,beta,1,3977"),
        ("id,equation,c0,c1", "a,beta,1k,3977"),
        ("id,equation,c0,c1,range_basis", "a,beta,1,3977,guess"),
        ("id,equation,c0,c1,r25_tol_pct", "a,beta,1,3977,-1"),
        ("id,equation,c0,c1,table_file", "a,beta,1,3977,../x.csv"),
        ("id,equation,c0,c1", "a,beta,1,3977\na,beta,1,3977"),
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(tmp_path: Path, header: str, row: str) -> None:
    path = tmp_path / "shop.csv"
    path.write_text(f"{header}\n{row}\n")
    assert len(problems_by_schema(path)) >= 1
    with pytest.raises(tf.ThermofitError):
        tf.read_curve_set(path)


# -- the registry -----------------------------------------------------------------


def test_families_are_a_mapping_in_the_order_of_their_ids() -> None:
    found = tf.families()
    assert len(found) == len(list(found)) == len(found.values())
    assert found["ntc-5k-3988"] is tf.family("ntc-5k-3988")
    assert "ntc-5k-3988" in found
    assert "x" not in found
    assert found.get("x") is None
    assert found.get("x", "y") == "y"
    assert tf.families() is found
    assert found.problems == ()


def test_an_unknown_id_gets_the_nearest() -> None:
    with pytest.raises(UnknownNameError, match=r"'ntc-10k-3978'; the nearest are ntc-10k-3977"):
        tf.family("ntc-10k-3978")
    with pytest.raises(LookupError, match="no family is called 'x'"):
        tf.families()["x"]


def test_families_are_readable() -> None:
    lines = str(tf.families()).splitlines()
    assert lines[0].split("  ")[0] == "id"
    row = next(line for line in lines if line.startswith("ntc-10k-3977"))
    assert "10.000 kΩ" in row
    assert "3977 K" in row
    assert "5 %" in row
    assert "any" in next(line for line in lines if line.startswith("ntc-ratio-3544"))
    assert "ntc-10k-3977" in repr(tf.families())


def test_families_become_a_frame() -> None:
    frame = tf.families().to_frame().set_index("id")
    assert frame.loc["ntc-10k-3977", "r25_tol_pct"] == 5.0
    assert frame["b_tol_pct"].isna().sum() == len(frame) - 1
    assert set(frame["package"]) == {"thermofit"}
    assert Families([]).to_frame().columns.tolist() == tf.families().to_frame().columns.tolist()


def test_an_id_of_two_packages_goes_to_neither() -> None:
    family = tf.family("ntc-5k-3988")
    other = tf.Family(family.curve.replace(id="other"))
    problem = PluginProblem("c", "point", "it failed")
    found = Families([("a", "x", family), ("b", "y", family), ("b", "y", other)], [problem])
    assert list(found) == ["other"]
    assert found.problems[0] is problem
    assert found.problems[1].package == "a and b"
    with pytest.raises(PluginClashError, match="registered by a and by b") as caught:
        found["ntc-5k-3988"]
    assert caught.value.packages == ("a", "b")
    assert "not usable:" in str(found)
    assert "2 problems" in repr(found)


@pytest.mark.usefixtures("fresh")
def test_a_damaged_installation_is_among_the_problems(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shipped, "_MARK", "not-there.json")
    found = tf.families()
    assert list(found) == []
    assert len(found.problems) == len(shipped.SHIPPED_SETS)
    assert "install thermofit again" in found.problems[0].reason
    assert "no families" in str(found)
    with pytest.raises(UnknownNameError, match="and no other either"):
        tf.family("ntc-5k-3988")


def test_a_package_with_damaged_metadata_takes_nothing_down(
    monkeypatch: pytest.MonkeyPatch, fresh: None
) -> None:
    class Nameless:
        name = None

    class Point:
        dist: Any = Nameless()
        name = "families"
        module = "nowhere"

        def load(self) -> None:
            raise ModuleNotFoundError("No module named 'nowhere'")

    class Points:
        def select(self, group: str) -> list[Point]:
            return [Point()] if group == "thermofit.families" else []

    monkeypatch.setattr(plugins, "_entry_points", lambda path: Points())
    found = tf.families()
    assert found.problems[0].package == "unknown package"
    assert "ntc-10k-3434" in found


def test_the_registry_needs_numpy_alone() -> None:
    program = (
        "import json, sys, thermofit as tf\n"
        "tf.family('ntc-10k-3434').curve.temperature(10e3)\n"
        "slow = {'scipy', 'pandas', 'filelock', 'lmfit', 'hypothesis'}\n"
        "print(json.dumps(sorted(slow & set(sys.modules))))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True
    )
    assert json.loads(done.stdout) == []
