"""What people at a terminal get: lines that fit, colours, completion, versions."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

import thermofit as tf
from tests.shell import Shell
from tests.terminal import on_terminal
from thermofit.cli.app import _COMMANDS

ESCAPE = re.compile(r"\x1b\[[0-9;]*m")
CHECK = ("check", "--reading", "0C:32.4k", "--reading", "70C:1.75k", "--family", "ntc-10k-3977",
         "--u-t", "0.2K", "--u-r", "0.5%")  # fmt: skip
COMMANDS = [
    CHECK,
    ("families",),
    ("families", "ntc-10k-3977"),
    ("band", "--family", "ntc-10k-3977", "--from", "0C", "--to", "60C"),
    ("fit", "bench.csv", "--u-t", "0.1K"),
    ("characterise", "--ice", "32.6k", "--bath", "68.4C:1.87k", "--thermometer", "0.5C",
     "--meter", "0.8%+3"),
    ("plan", "--ice", "--bath", "70C", "--boiling", "--pressure", "1008hPa",
     "--thermometer", "0.5C", "--meter", "0.8%+3 @4k/1; 0.8%+3 @40k/10", "--r25", "10k"),
    ("identify", "bench.csv", "--u-t", "0.2K", "--u-r", "0.5%"),
    ("substitute", "ntc-10k-3977", "--from", "0C", "--to", "60C"),
    ("circuit", "--family", "ntc-10k-3977", "--pullup", "10k", "--supply", "5V", "--bits", "10",
     "--faults", "--limits", "20..1000"),
    ("causes", "--sensor", "20C:12.5k", "--connector", "20C:14.6k", "--display", "20C:18.3C",
     "--family", "ntc-10k-3977", "--u-t", "0.2K", "--u-r", "0.3%"),
]  # fmt: skip


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_all_lines_fit_the_terminal(shell: Shell, words: tuple[str, ...]) -> None:
    shown = ESCAPE.sub("", on_terminal(shell.folder, 72, *words))
    assert "Traceback" not in shown
    assert max(map(len, shown.split("\n"))) <= 72
    piped = shell(*words)
    # The same is said, whatever the width: words are moved, none is lost.
    assert set((piped.stdout + piped.stderr).split()) <= set(shown.split())


def test_a_pipe_gets_whole_lines_and_no_colours(shell: Shell) -> None:
    piped = shell(*CHECK)
    assert "\x1b" not in piped.stdout + piped.stderr
    assert max(map(len, piped.stdout.split("\n"))) > 200


def test_colours_are_for_terminals_and_no_color_is_honoured(shell: Shell) -> None:
    assert "\x1b[" in on_terminal(shell.folder, 80, *CHECK)
    for plain in ({"NO_COLOR": "1"}, {"TERM": "dumb"}):
        assert "\x1b[" not in on_terminal(shell.folder, 80, *CHECK, environment=plain)
    # An empty NO_COLOR says nothing (no-color.org).
    assert "\x1b[" in on_terminal(shell.folder, 80, *CHECK, environment={"NO_COLOR": ""})


def test_an_error_on_a_terminal_names_itself(shell: Shell) -> None:
    shown = on_terminal(shell.folder, 60, "fit", "bench.csv", "--equation", "beta", "--r-column",
                        "9")  # fmt: skip
    assert ESCAPE.sub("", shown).splitlines()[-1].strip()
    assert "error" in ESCAPE.sub("", shown)


EVIL = "in\x1b]0;renamed\x07\x1b[2J\x9b31mlet\u202e"
HARMLESS = "in�]0;renamed��[2J�31mlet�"


def test_what_others_wrote_commands_no_terminal(shell: Shell) -> None:
    """Notes and names of files and sets are shown, and obeyed by no terminal."""
    words = ("sheet", "--ice", "32.6k", "--bath", "68.4C:1.87k", "--thermometer", "0.5C",
             "--meter", "0.8%+3", "--title", EVIL, "--save", "a.html", "--replace")  # fmt: skip
    shown = on_terminal(shell.folder, 100, *words)
    assert HARMLESS in shown
    assert not set("\x07\x9b\u202e") & set(shown)
    # What is left are colours of our own.
    assert "\x1b" not in ESCAPE.sub("", shown)
    assert HARMLESS in shell(*words).stdout
    printed = shell(*words, "--json").stdout
    assert not set("\x1b\x07\x9b\u202e") & set(printed)
    assert json.loads(printed)["content"]["title"] == EVIL


@pytest.mark.parametrize(
    "words",
    [
        ("convert", "--curve", f"{EVIL}.csv:inlet", "--ohm", "10k"),
        ("convert", "--family", EVIL, "--ohm", "10k"),
        ("convert", "--curve", EVIL, "--ohm", "10k"),
        ("convert", f"--{EVIL}"),
        ("convert", "--curve", f"{EVIL}.set.csv:outlet", "--ohm", "10k"),
    ],
)
def test_a_refusal_commands_no_terminal(shell: Shell, words: tuple[str, ...]) -> None:
    inlet = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet")
    tf.add_curve(shell.folder / f"{EVIL}.set.csv", inlet)
    shown = ESCAPE.sub("", on_terminal(shell.folder, 100, *words))
    assert "renamed" in shown
    assert not set("\x1b\x07\x9b\u202e") & set(shown)


def test_a_note_begins_no_line_that_looks_like_ours() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet", note="fan 2\n\naccept: all is well")
    assert "note      fan 2  accept: all is well" in curve.describe()


def test_version_tells_what_the_figures_rest_on(shell: Shell) -> None:
    first, second, *_ = shell("--version").stdout.splitlines()
    assert first == f"thermofit {tf.__version__}"
    import numpy as np
    import scipy

    assert f"numpy {np.__version__}" in second
    assert f"scipy {scipy.__version__}" in second
    assert "lmfit " in second and "Python " in second


def complete(folder: Path, *words: str) -> list[str]:
    """What bash would be offered after these words, the last one unfinished."""
    answer = subprocess.run(
        [sys.executable, "-m", "thermofit"], cwd=folder, capture_output=True, text=True,
        check=True,
        env=os.environ | {
            "_THERMOFIT_COMPLETE": "bash_complete",
            "COMP_WORDS": "\n".join(("thermofit", *words)),
            "COMP_CWORD": str(len(words)),
        },
    )  # fmt: skip
    return [line.partition(",")[2] for line in answer.stdout.splitlines() if line]


def test_the_shell_is_offered_commands_options_and_names(shell: Shell) -> None:
    assert complete(shell.folder, "ch") == ["characterise", "check"]
    assert complete(shell.folder, "convert", "--cu") == ["--curve"]
    assert complete(shell.folder, "convert", "--family", "ntc-5k") == ["ntc-5k-3988"]
    assert "log-polynomial-4" in complete(shell.folder, "fit", "x.csv", "--equation", "log")


def test_ids_of_a_set_are_offered_though_bash_breaks_words_at_colons(shell: Shell) -> None:
    for id_ in ("inlet", "outlet"):
        curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id=id_)
        tf.add_curve(shell.folder / "shop.csv", curve)
    begun = ("convert", "--curve", "shop.csv")
    assert complete(shell.folder, *begun, ":", "in") == ["inlet"]
    assert complete(shell.folder, *begun, ":") == ["inlet", "outlet"]
    assert complete(shell.folder, "convert", "--curve", "none.csv", ":", "in") == []


@pytest.mark.parametrize("name", ["bash", "zsh", "fish"])
def test_the_lines_for_a_shell_call_thermofit(shell: Shell, name: str) -> None:
    lines = shell("completion", name)
    assert lines.returncode == 0
    assert f"_THERMOFIT_COMPLETE={name}_complete" in lines.stdout


def test_options_stand_under_headings_and_each_help_has_an_example(shell: Shell) -> None:
    for name in _COMMANDS:
        text = shell(name, "--help").stdout
        assert f"thermofit {name}" in text.partition("Examples")[2], name
    text = shell("circuit", "--help").stdout
    assert text.index("The circuit:") < text.index("--pullup") < text.index("The controller:")
