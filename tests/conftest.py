"""Settings for the whole suite."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from hypothesis import settings

import thermofit as tf
from tests.samples import Write
from tests.shell import Shell

# The first call may import lmfit, which alone takes longer than the usual deadline.
settings.register_profile("local", deadline=None)
# On a build machine the same examples every time: a red run means a change.
settings.register_profile("ci", deadline=None, derandomize=True)
settings.load_profile("ci" if os.environ.get("CI") else "local")


@pytest.fixture
def shell(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Shell:
    """A folder with some points, in which commands are called as real processes."""
    # The package under test may lie in the working directory of the suite only.
    monkeypatch.setenv("PYTHONPATH", str(Path(tf.__file__).parent.parent))
    return Shell(tmp_path)


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Write a set by hand: text, or bytes for what text cannot say."""

    def write(text: str | bytes, name: str = "shop.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write
