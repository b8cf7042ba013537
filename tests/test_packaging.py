"""The distribution: built and installed without a network, it has all that it needs."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import sysconfig
import tarfile
import zipfile
from dataclasses import dataclass
from pathlib import Path

import pytest

import thermofit as tf

REPOSITORY = Path(tf.__file__).resolve().parents[1]
CURVES = sorted(path.name for path in (REPOSITORY / "curves").glob("[!.]*"))
OFFLINE = ["--no-index", "--disable-pip-version-check", "-q"]
AS_IT_IS = ["--no-deps", "--no-build-isolation"]

pytestmark = pytest.mark.skipif(
    not (REPOSITORY / "pyproject.toml").is_file(), reason="not run from a source tree"
)


def run(*command: str | Path, cwd: Path | None = None) -> str:
    # What is on the path of this process must not be on that of the installed one.
    environment = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "PIP_"))}
    done = subprocess.run(
        list(map(str, command)), cwd=cwd, env=environment, text=True,
        stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout
    return done.stdout


@dataclass(frozen=True)
class Built:
    sdist: Path
    wheel: Path
    wheel_of_sdist: Path


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Built:
    """Build a source distribution, a wheel, and a wheel of the former."""
    folder = tmp_path_factory.mktemp("built")
    run(sys.executable, "-m", "hatchling", "build", "-d", folder, cwd=REPOSITORY)
    (sdist,) = folder.glob("*.tar.gz")
    (wheel,) = folder.glob("*.whl")
    other = folder / "of-sdist"
    run(sys.executable, "-m", "pip", "wheel", *OFFLINE, *AS_IT_IS, "-w", other, sdist)
    (wheel_of_sdist,) = other.glob("*.whl")
    return Built(sdist, wheel, wheel_of_sdist)


def environment(folder: Path) -> Path:
    """Make a virtual environment that sees the packages of this one, but not its programs."""
    run(sys.executable, "-m", "venv", "--without-pip", folder)
    (packages,) = folder.glob("lib/python*/site-packages")
    own = {sysconfig.get_path("purelib"), sysconfig.get_path("platlib")}
    (packages / "parent.pth").write_text("".join(f"{path}\n" for path in sorted(own)))
    return folder


def install(folder: Path, *what: str | Path) -> Path:
    made = environment(folder)
    python = made / "bin" / "python"
    run(sys.executable, "-m", "pip", "--python", python, "install", *OFFLINE, *AS_IT_IS, *what)
    return made


PROBE = """
import json, pathlib, sys
import thermofit as tf
family = tf.family("ntc-10k-3434")
print(json.dumps([
    tf.__file__, family.curve.temperature(10e3), len(tf.families()), tf.families().problems,
    (pathlib.Path(tf.__file__).parent / "py.typed").is_file(),
]))
"""


def probe(made: Path, cwd: Path) -> Path:
    """Use an installed thermofit from elsewhere; give the folder of the package."""
    file, t_c, count, problems, typed = json.loads(
        run(made / "bin" / "python", "-c", PROBE, cwd=cwd)
    )
    assert t_c == pytest.approx(25.0)
    assert count == len(tf.families())
    assert problems == []
    assert typed
    return Path(file).parent


# -- contents ---------------------------------------------------------------------


def contents(wheel: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(wheel) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def test_the_wheel_has_the_package_its_curves_and_its_mark_of_types(built: Built) -> None:
    names = set(contents(built.wheel))
    assert "thermofit/py.typed" in names
    assert {f"thermofit/curves/{name}" for name in CURVES} <= names
    assert {name.split("/")[0] for name in names} == {"thermofit", "thermofit-0.1.0.dist-info"}
    assert not [name for name in names if name.endswith((".pyc", ".lock", ".tmp"))]


def test_the_curves_are_packed_byte_for_byte(built: Built) -> None:
    packed = contents(built.wheel)
    for name in CURVES:
        assert packed[f"thermofit/curves/{name}"] == (REPOSITORY / "curves" / name).read_bytes()


def test_the_source_distribution_has_what_a_build_and_the_tests_need(built: Built) -> None:
    with tarfile.open(built.sdist) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    assert {"pyproject.toml", "LICENSE", "README.md", "thermofit/py.typed"} <= names
    assert {f"curves/{name}" for name in CURVES} <= names
    assert {"tests/test_packaging.py", "tests/plugins/good/pyproject.toml"} <= names


def test_the_wheel_of_the_source_distribution_is_the_same(built: Built) -> None:
    assert contents(built.wheel_of_sdist) == contents(built.wheel)


# -- installed --------------------------------------------------------------------


def test_the_wheel_works_where_it_is_installed(built: Built, tmp_path: Path) -> None:
    made = install(tmp_path / "env", built.wheel)
    assert probe(made, tmp_path).is_relative_to(made)


def test_the_source_distribution_works_where_it_is_installed(built: Built, tmp_path: Path) -> None:
    made = install(tmp_path / "env", built.sdist)
    assert probe(made, tmp_path).is_relative_to(made)


def test_an_editable_install_works_with_the_curves_of_the_source_tree(tmp_path: Path) -> None:
    made = install(tmp_path / "env", "-e", REPOSITORY)
    assert probe(made, tmp_path) == REPOSITORY / "thermofit"


def test_the_curves_are_found_without_the_source_tree(built: Built, tmp_path: Path) -> None:
    """Unpacked somewhere else altogether, beside a folder that is called like ours."""
    target = tmp_path / "target"
    with zipfile.ZipFile(built.wheel) as archive:
        archive.extractall(target)
    (target / "curves").mkdir()
    program = f"import sys; sys.path.insert(0, {str(target)!r})\n{PROBE}"
    file, *_ = json.loads(run(sys.executable, "-c", program, cwd=tmp_path))
    assert Path(file).parent == target / "thermofit"
    shutil.rmtree(target / "thermofit" / "curves")
    program = f"import sys; sys.path.insert(0, {str(target)!r})\nimport thermofit as tf\n"
    output = run(sys.executable, "-c", program + "print(tf.families())", cwd=tmp_path)
    assert "install thermofit again" in output


def test_the_program_is_installed(built: Built, tmp_path: Path) -> None:
    made = install(tmp_path / "env", built.wheel)
    assert "thermofit" in run(made / "bin" / "thermofit", "--help", cwd=tmp_path)
