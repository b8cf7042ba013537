"""The bar that shows how far a long command is."""

from __future__ import annotations

import io
import sys

import pytest

from thermofit.cli import progress
from thermofit.cli.progress import Progress


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def bar(monkeypatch: pytest.MonkeyPatch, stream: io.StringIO, wait_s: float) -> str:
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(progress, "_LONG_S", wait_s)
    monkeypatch.setenv("TERM", "xterm")
    with Progress("converting") as told:
        for done in (1, 50, 100):
            told(done, 100)
    return stream.getvalue()


def test_a_terminal_sees_how_far_a_long_command_is(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = bar(monkeypatch, Terminal(), wait_s=0.0)
    assert "converting" in shown and "100%" in shown


def test_a_pipe_and_a_short_command_show_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    assert bar(monkeypatch, io.StringIO(), wait_s=0.0) == ""
    assert bar(monkeypatch, Terminal(), wait_s=60.0) == ""
