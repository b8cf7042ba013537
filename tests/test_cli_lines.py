"""Answers in lines of 80 and of 100 columns: no row and no sentence is broken in the middle."""

from __future__ import annotations

import io
import itertools
import re
import shlex
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

import thermofit as tf
from tests.shell import Here
from thermofit import texttable
from thermofit.cli.app import _COMMANDS

ESCAPE = re.compile(r"\x1b\[[0-9;]*m")
DEMO = Path(__file__).resolve().parents[1] / "docs" / "demo"
SOURCES = Path(tf.__file__).parent
PARTS = "--family ntc-10k-3977 --r25-pct 1 --u-t 0.1K --u-r 0.3%"
BOX = "--pullup 10k --supply 5V --bits 10"
IN_PLACE = f"substitute ntc-10k-3977 --from 0C --to 45C {BOX} --limits 20..1000 --set-point 18C"

# What the examples of the help leave out: verdicts of each kind, long sentences, wide tables.
OTHERS = [
    "fit bench.csv --both-axes --u-t 0.1K --u-r 0.5%",
    "fit bench.csv --minimise resistance --equation log-polynomial-4",
    "convert --curve shop.csv:inlet --at 25C --at 77F --at 200C",
    "families pt-100-iec60751",
    "characterise --bath 21C:11.95k --thermometer 0.5C --meter 0.8%+3",
    "characterise --ice 32.64k --bath 68.4C:1.862k --after-ice 32.61k --thermometer 0.5C "
    "--meter 0.8%+3",
    f"check --reading 0C:31.0k --reading 68.4C:2.0k {PARTS}",
    f"check --reading 0C:29.0k --reading 68.4C:1.7k {PARTS}",
    f"check --reading 25C:9.7k {PARTS}",
    f"check --reading 0C:32.6k --reading 25C:9.0k --reading 50C:3.6k --reading 70C:1.75k {PARTS}",
    f"check --reading -45C:500k --reading 25C:10k {PARTS}",
    f"{IN_PLACE} --parts drawer.csv --pairs both --allow-masked",
    f"{IN_PLACE} --part drawer.csv:bag-12k --trim both --preferred E24 --allow-masked",
    f"circuit --family ntc-10k-3977 {BOX} --from -40C --to 125C --step 15K --pull-tolerance 1%",
    f"circuit --family ntc-10k-3977 {BOX} --display 140F --display 65.0F --display 70.5F "
    "--limits 20..1000 --fallback 140F --actual 70F",
    "response fan-box.csv --running good-on.csv",
]


def examples(name: str) -> Iterator[str]:
    """The examples of a command's help, lines that go on put together."""
    epilog = import_module(f"thermofit.cli.{name}").command.epilog
    for example in re.split(r"\n  (?=thermofit )", epilog)[1:]:
        first, *more = example.split("\n")
        on = itertools.takewhile(lambda line: line.startswith("   "), more)
        whole = " ".join([first, *(line.strip() for line in on)])
        yield whole.removeprefix("thermofit ").replace("\\ ", "")


# CSV is for programs.
SHOWN = [
    example
    for name in _COMMANDS
    if name != "completion"
    for example in examples(name)
    if "--csv" not in example
]


@pytest.fixture
def here(tmp_path: Path) -> Here:
    """A folder with all the files that the examples name."""
    shell = Here(tmp_path)
    points = tf.read_points(tmp_path / "bench.csv")
    inlet = tf.fit(tf.Points(points.t_c, points.r_ohm, u_t_k=0.1)).curve
    inlet = inlet.replace(id="inlet", source="6 readings")
    tf.add_curve(tmp_path / "shop.csv", tf.Family(inlet, r25_tol_pct=1.0, b_tol_pct=1.0))
    for name, new in (
        ("drawer.csv", "drawer.csv"), ("fan-off-step.csv", "fan-box.csv"),
        ("fan-on-step.csv", "good-on.csv"), ("fan-off-step.csv", "good-off.csv"),
    ):  # fmt: skip
        shutil.copy(DEMO / name, tmp_path / new)
    (tmp_path / "july.csv").write_text("time,ntc_ohm\n0,10000\n60,9800\n", encoding="utf-8")
    curve = tf.family("ntc-10k-3977").curve
    step = [f"{t},{curve.resistance(31.0 - 9.4 * 0.5 ** (max(t - 25, 0) / 36)):.1f}"
            for t in range(0, 300, 2)]  # fmt: skip
    (tmp_path / "ohms.csv").write_text("time (s),R (Ω)\n" + "\n".join(step), encoding="utf-8")
    (tmp_path / "visit.csv").write_text(
        "place,t_c,r_ohm\nsensor,20,12500\nconnector,20,14600\n", encoding="utf-8"
    )
    (tmp_path / "boxes.csv").write_text(
        "sensor,t (°C),R (Ω)\nbox 3,0,32640\nbox 3,70,1757\nbox 5,0,31000\nbox 5,70,1990\n",
        encoding="utf-8",
    )
    return shell


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


@contextmanager
def watched(wanted: Callable[[], bool]) -> Iterator[list[str]]:
    """Rows of tables and lines of sentences, as they are written while that is so."""
    written: list[str] = []

    def noted(module: Any, name: str) -> Any:
        true = getattr(module, name)

        def call(*args: Any, **settings: Any) -> str:
            text: str = true(*args, **settings)
            # A plan sorts its baths by their budgets, and shows none of these.
            if wanted() and "\ncontribution " not in f"\n{text}":
                written.extend(text.split("\n"))
            return text

        return mock.patch.object(module, name, call)

    with ExitStack() as stack:
        stack.enter_context(noted(texttable, "_written"))
        for name, module in list(sys.modules.items()):
            if name.startswith("thermofit.") and hasattr(module, "paragraph"):
                stack.enter_context(noted(module, "paragraph"))
        yield written


def for_a_terminal() -> bool:
    return texttable._room.get() is not None


def on_terminal(here: Here, columns: int, words: list[str]) -> str:
    """What a terminal of so many columns shows of an answer, and of what comes with it."""
    environment = {"COLUMNS": str(columns), "NO_COLOR": "1", "MPLBACKEND": "agg"}
    with mock.patch.dict("os.environ", environment), mock.patch.object(io, "StringIO", Terminal):
        done = here(*words)
    assert done.returncode == 0, done.stderr
    return ESCAPE.sub("", done.stdout + done.stderr)


def words_of(call: str) -> list[str]:
    words = shlex.split(call)
    return [*words, "--replace"] if "--save" in words else words


def test_there_is_an_example_for_each_command() -> None:
    names = {shlex.split(call)[0] for call in SHOWN}
    assert names == set(_COMMANDS) - {"completion"}


def test_lines_are_broken_in_one_place() -> None:
    """Whoever breaks them elsewhere does not know the terminal, which would break them again."""
    elsewhere = {
        path.relative_to(SOURCES).as_posix()
        for path in SOURCES.rglob("*.py")
        if re.search(r"^\s*(import|from) textwrap", path.read_text(encoding="utf-8"), re.MULTILINE)
    }
    # The second for the legends of pictures.
    assert elsewhere == {"texttable.py", "report/canvas.py"}


@pytest.mark.parametrize("columns", [80, 100])
def test_candidates_are_one_table(here: Here, columns: int) -> None:
    """Why one was not compared is said in words, which are broken before a table is divided."""
    shown = on_terminal(here, columns, ["fit", "bench.csv"]).partition("chosen:")[2].split("\n")
    for name in ("equation", "steinhart-hart", "log-polynomial-5"):
        assert sum(line.split()[:1] == [name] for line in shown) == 1
    (row,) = (line for line in shown if "log-polynomial-5" in line)
    assert row.split()[1:4] == ["5", "needs", "7"]


@pytest.mark.parametrize("call", [*SHOWN, *OTHERS], ids=lambda call: call[:60])
def test_no_row_and_no_sentence_is_broken_in_the_middle(here: Here, call: str) -> None:
    """Whatever was made to fit is shown as it was made, perhaps further to the right."""
    # What is written for the page of a sheet is not shown.
    with watched(lambda: not call.startswith("sheet ")) as written:
        done = here(*words_of(call))
    assert done.returncode == 0, done.stderr
    piped = done.stdout + done.stderr
    assert broken(written, piped) == []
    for columns in (80, 100):
        with watched(for_a_terminal) as written:
            shown = on_terminal(here, columns, words_of(call))
        assert max(map(len, shown.split("\n"))) <= columns
        assert broken(written, shown) == []
        # The same is said: words are moved, none is lost and none comes from elsewhere.
        assert set(shown.split()) == set(piped.split())


def broken(written: list[str], shown: str) -> list[str]:
    whole = {line.strip() for line in shown.split("\n")}
    return [line for line in written if line.strip() not in whole]
