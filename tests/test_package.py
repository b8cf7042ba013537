"""The package as a whole: what it imports, what it offers, what its README says."""

from __future__ import annotations

import doctest
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import thermofit as tf

ROOT = Path(tf.__file__).parent.parent
HEAVY = (
    "scipy",
    "pandas",
    "lmfit",
    "odrpack",
    "uncertainties",
    "matplotlib",
    "click",
    "filelock",
    "iapws",
    "rich",
    "jinja2",
    "pyarrow",
    "dask",
    "distributed",
    "xarray",
)


def loaded_after(code: str) -> set[str]:
    """Names of the top-level modules that a fresh interpreter has loaded after some code."""
    ending = "; import sys; print(*sorted({name.partition('.')[0] for name in sys.modules}))"
    done = subprocess.run(
        [sys.executable, "-c", code + ending], capture_output=True, text=True, check=True, cwd=ROOT
    )
    return set(done.stdout.split())


@pytest.mark.parametrize(
    "code",
    [
        "import thermofit",
        "import thermofit as tf; tf.Curve.steinhart_hart(a=1.1e-3, b=2.3e-4, c=9e-8).resistance(3)",
        "import thermofit as tf; tf.family('ntc-10k-3434').curve.temperature(5000.0)",
        "import thermofit as tf; tf.read_curve_set('curves/ntc.csv')[0].temperature(5000.0)",
    ],
)
def test_numpy_alone_is_needed_until_something_else_is(code: str) -> None:
    assert not loaded_after(code) & set(HEAVY)


@pytest.mark.parametrize(
    "words",
    [
        ["--help"],
        ["convert", "--family", "ntc-10k-3977", "--at", "25C"],
        ["convert", "--curve", "SET:inlet", "--ohm", "4.7k"],
    ],
    ids=" ".join,
)
def test_a_command_that_converts_waits_for_nothing_heavy(words: list[str], tmp_path: Path) -> None:
    tf.add_curve(tmp_path / "shop.csv", tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet"))
    words = [word.replace("SET", str(tmp_path / "shop.csv")) for word in words]
    code = (
        f"import sys; sys.argv = ['thermofit', *{words!r}]; import contextlib, io\n"
        "from thermofit.cli import main\n"
        "with contextlib.suppress(SystemExit), contextlib.redirect_stdout(io.StringIO()): main()\n"
        "0"
    )
    assert not loaded_after(code) & (set(HEAVY) - {"click"})


def test_a_linear_fit_needs_no_optimiser() -> None:
    code = "import thermofit as tf; tf.fit(tf.Points([0, 25, 70], [32640, 10010, 1757]))"
    assert not loaded_after(code) & {"lmfit", "odrpack", "pandas"}


def test_every_public_name_is_there() -> None:
    for name in tf.__all__:
        assert getattr(tf, name) is not None
        assert name in dir(tf)
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        getattr(tf, "non" + "sense")


def test_calls_win_over_modules_of_their_name() -> None:
    code = (
        "import thermofit.families.registry, thermofit.family, thermofit as tf; "
        "assert tf.family('ntc-10k-3434').id in tf.families()"
    )
    subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT)


def test_the_examples_of_the_readme_run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    result = doctest.testfile(str(ROOT / "README.md"), module_relative=False, encoding="utf-8")
    assert result.attempted > 5
    assert result.failed == 0


def test_the_readme_shows_what_the_first_command_prints(tmp_path: Path) -> None:
    """Number by number, since the last digits differ between processors."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    command, shown = re.search(r"```sh\n(.*?)```.*?```text\n(.*?)```", readme, re.DOTALL).groups()  # type: ignore[union-attr]
    printed = ""
    for call in re.findall(r"\.venv/bin/thermofit ([^&\n]*)", command):
        words = call.replace("my-sensors.csv", str(tmp_path / "my-sensors.csv")).split()
        done = subprocess.run(
            [sys.executable, "-m", "thermofit", *words], cwd=ROOT, check=True, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, encoding="utf-8",
        )  # fmt: skip
        printed += done.stdout.replace(str(tmp_path / "my-sensors.csv"), "my-sensors.csv")
    number = re.compile(r"[-+]?\d+\.?\d*(?:e[-+]?\d+)?")
    assert number.sub("#", " ".join(printed.split())) == number.sub("#", " ".join(shown.split()))
    for ours, theirs in zip(number.findall(printed), number.findall(shown), strict=True):
        assert float(ours) == pytest.approx(float(theirs), rel=1e-6, abs=1.1e-4)


def test_the_version_is_one() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert project["version"] == tf.__version__
