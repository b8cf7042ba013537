"""Packages that add families and equations, installed with pip, good and broken."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import thermofit as tf

HERE = Path(__file__).parent
REPOSITORY = Path(tf.__file__).parents[1]
PLUGINS = ("good", "raises", "rubbish", "clash", "clash_shipped")


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Install every plugin into a folder of its own."""
    root = tmp_path_factory.mktemp("plugins")
    options = ["--no-deps", "--no-build-isolation", "--no-index", "--disable-pip-version-check"]
    running = [
        subprocess.Popen(
            [sys.executable, "-m", "pip", "install", "-q", *options, "--target", root / name,
             HERE / "plugins" / name],
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
        )
        for name in PLUGINS
    ]  # fmt: skip
    for process in running:
        output, _ = process.communicate()
        assert process.returncode == 0, output
    return root


def python(installed: Path, plugins: tuple[str, ...], program: str) -> Any:
    """Run a program that sees these plugins, and give what it prints as JSON."""
    paths = [str(installed / name) for name in plugins] + [str(REPOSITORY)]
    environment = os.environ | {"PYTHONPATH": os.pathsep.join(paths)}
    done = subprocess.run(
        [sys.executable, "-c", "import json, thermofit as tf\n" + program],
        capture_output=True, text=True, env=environment, cwd=installed,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


ALL = """
found = tf.families()
print(json.dumps([list(found), [[p.package, p.entry_point, p.reason] for p in found.problems]]))
"""


def family_error(id: str) -> str:
    return f"""
try:
    tf.family({id!r})
except tf.ThermofitError as error:
    print(json.dumps([type(error).__name__, str(error), getattr(error, "packages", None)]))
"""


SHIPPED = list(tf.families())


def test_a_good_plugin_adds_its_families_in_every_way(installed: Path) -> None:
    ids, problems = python(installed, ("good",), ALL)
    own = {"good-0", "good-1", "good-2", "good-one", "good-called", "good-table", "good-power"}
    assert set(ids) == own | set(SHIPPED)
    assert ids == sorted(ids)
    assert problems == []


def test_families_of_a_plugin_are_like_those_that_ship(installed: Path) -> None:
    program = """
from thermofit.testing import check_family
for family in tf.families().values():
    check_family(family)
table, power = tf.family("good-table"), tf.family("good-power")
print(json.dumps([
    table.curve.resistance(25.0), table.r25_tol_pct, table.source_kind,
    power.curve.equation.name, power.curve.temperature(10e3), tf.families().package("good-0"),
]))
"""
    assert python(installed, ("good",), program) == [
        pytest.approx(10e3), 2.0, "table", "power-law", pytest.approx(25.0), "thermofit-good"
    ]  # fmt: skip


def test_an_equation_of_a_plugin_is_like_those_that_ship(installed: Path) -> None:
    program = """
import tempfile, pathlib
from thermofit.equations import equation
from thermofit.testing import check_equation
form = equation("power-law", {"t_ref_c": 20.0})
check_equation(form, [10e3, 13.2], (-20, 100))
check_equation(type(form), [10e3, 13.2], (-20, 100))
curve = tf.Curve(form, [12.3e3, 13.2], -20, 100, id="x", covariance=[[100, 0], [0, 1e-4]])
path = pathlib.Path(tempfile.mkdtemp(), "set.csv")
beta = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="y", extra={"t_ref_c": "not a setting of beta"})
tf.write_curve_set(path, [beta, curve])
tf.add_curve(path, curve.replace(id="z"))
read = tf.read_curve_set(path)
print(json.dumps([
    path.read_text().split("\\n")[0].split(",")[:6],
    list(read) == [beta, curve, curve.replace(id="z")],
]))
"""
    assert python(installed, ("good",), program) == [
        ["id", "equation", "t_ref_c", "c0", "c1", "cov_00"], True
    ]  # fmt: skip


def test_a_set_with_an_equation_that_is_not_installed_says_what_is_missing(
    installed: Path,
) -> None:
    program = f"""
try:
    tf.read_curve_set({str(installed / "good" / "thermofit_good" / "data" / "parts.csv")!r})
except tf.ThermofitError as error:
    print(json.dumps([[p.row, p.column, p.value] for p in error.problems]))
"""
    assert python(installed, (), program) == [[3, "equation", "power-law"]]


def test_a_plugin_that_fails_takes_nothing_down(installed: Path) -> None:
    ids, problems = python(installed, ("raises", "good"), ALL)
    assert {"good-0", "ntc-10k-3977"} <= set(ids)
    # What was given before the failure is usable.
    assert "raises-before" in ids
    reasons = {(package, point): reason for package, point, reason in problems}
    name = "thermofit-raises"
    assert reasons.keys() == {(name, point) for point in ("import", "exit", "call", "iterate")}
    assert "RuntimeError: this module cannot be imported" in reasons[name, "import"]
    assert "SystemExit: this module leaves Python" in reasons[name, "exit"]
    assert "LookupError: the parts list is on another machine" in reasons[name, "call"]
    assert "ZeroDivisionError: in the middle" in reasons[name, "iterate"]
    # Once for its families, once for its equation.
    assert [point for _, point, _ in problems].count("import") == 2


def test_rubbish_lands_among_the_problems(installed: Path) -> None:
    ids, problems = python(installed, ("rubbish",), ALL)
    assert [id for id in ids if id.startswith("rubbish")] == [
        "rubbish-but-one", "rubbish-row-family"
    ]  # fmt: skip
    assert set(SHIPPED) <= set(ids)
    assert {package for package, _, _ in problems} == {"thermofit-rubbish"}
    reasons: dict[str, list[str]] = {}
    for _, point, reason in problems:
        reasons.setdefault(point, []).append(reason)
    assert (
        "it gives something of type int; it must name an iterable of Family" in reasons["number"][0]
    )
    assert reasons["mixed"] == [
        "item 2 is of type str, and no Family",
        "item 3 is of type NoneType, and no Family",
    ]  # fmt: skip
    assert "of type dict" in reasons["mapping"][0]
    assert "absent.csv: there is no such file" in reasons["no-file"][0]
    assert "row 2, column 'c0', value 'ten': is not a number" in reasons["bad-file"][0]
    assert "rubbish-plain lack" in reasons["plain-rows"][0]
    assert "'rubbish/../id' is no id" in reasons["bad-id"][0]
    assert "AttributeError" in reasons["no-attribute"][0]
    assert "names a sub-class of" in reasons["function"][0]
    assert "TypeError" in reasons["demanding"][0]
    assert (
        "'beta' is registered by thermofit and by thermofit-rubbish" in (reasons["shipped-name"][0])
    )


def test_two_plugins_with_one_id_are_both_named(installed: Path) -> None:
    ids, problems = python(installed, ("good", "clash"), ALL)
    assert "good-1" not in ids
    assert {"good-0", "good-2", "clash-own", "ntc-10k-3977"} <= set(ids)
    assert [(package, point) for package, point, _ in problems] == [
        # The curve set of thermofit-good uses the equation that both have.
        ("thermofit-good", "file"),
        ("thermofit-clash and thermofit-good", "families and listed"),
    ]
    assert "'power-law' is registered by thermofit-clash and by" in problems[0][2]
    assert problems[1][2] == (
        "'good-1' is registered by thermofit-clash and by thermofit-good; "
        "rename it in one of them or uninstall one"
    )
    kind, message, packages = python(installed, ("good", "clash"), family_error("good-1"))
    assert kind == "PluginClashError"
    assert packages == ["thermofit-clash", "thermofit-good"]
    assert "thermofit-clash" in message
    assert "thermofit-good" in message


def test_two_plugins_with_one_equation_are_both_named(installed: Path) -> None:
    program = """
try:
    from thermofit.equations import equation
    equation("power-law")
except tf.ThermofitError as error:
    print(json.dumps([type(error).__name__, list(error.packages)]))
"""
    assert python(installed, ("good", "clash"), program) == [
        "PluginClashError", ["thermofit-clash", "thermofit-good"]
    ]  # fmt: skip


def test_a_plugin_with_a_shipped_id_is_named_beside_thermofit(installed: Path) -> None:
    ids, problems = python(installed, ("clash_shipped",), ALL)
    assert set(ids) == (set(SHIPPED) - {"ntc-10k-3977"}) | {"shipped-own"}
    assert [problem[0] for problem in problems] == [
        "thermofit and thermofit-clash-shipped", "thermofit-clash-shipped"
    ]  # fmt: skip
    kind, _, packages = python(installed, ("clash_shipped",), family_error("ntc-10k-3977"))
    assert (kind, packages) == ("PluginClashError", ["thermofit", "thermofit-clash-shipped"])
    kind, message, _ = python(installed, ("clash_shipped",), family_error("twice"))
    assert kind == "PluginClashError"
    assert "thermofit-clash-shipped (families)" in message


def test_everything_at_once_still_works(installed: Path) -> None:
    ids, problems = python(installed, PLUGINS, ALL)
    assert {"good-0", "clash-own", "shipped-own", "rubbish-but-one", "ntc-10k-3434"} <= set(ids)
    assert not {"good-1", "ntc-10k-3977", "twice"} & set(ids)
    assert len(problems) > 10
