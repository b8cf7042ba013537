"""Settings for the whole suite."""

from __future__ import annotations

import csv
import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings

import thermofit as tf
from tests.samples import Write
from tests.shell import Here, Shell

# The first call may import lmfit, which alone takes longer than the usual deadline.
settings.register_profile("local", deadline=None)
# On a build machine the same examples every time: a red run means a change.
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "local")


@pytest.fixture(autouse=True, scope="module")
def usual_cells() -> Iterator[None]:
    """The limit on the size of a CSV cell that Python starts with.

    frictionless lifts it for the whole process, and what comes after would not be refused.
    """
    before = csv.field_size_limit(131_072)
    yield
    csv.field_size_limit(before)


@pytest.fixture
def shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shell:
    """A folder with some points, in which commands are called as real processes."""
    # The package under test may lie in the working directory of the suite only.
    monkeypatch.setenv("PYTHONPATH", str(Path(tf.__file__).parent.parent))
    return Shell(tmp_path)


@pytest.fixture
def here(tmp_path: Path) -> Here:
    """The same folder, in which commands are called without a process for each."""
    return Here(tmp_path)


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write a set by hand: text, or bytes for what text cannot say."""

    def write(text: str | bytes, name: str = "shop.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write
