"""The command line in a folder of its own."""

from __future__ import annotations

import contextlib
import io
import json
import subprocess
import sys
from pathlib import Path
from typing import Any
from unittest import mock

from thermofit.cli import main

# Invented readings of an aspirated air sensor from a glasshouse controller.
BENCH = """T (°C);R (kΩ)
0,0;32,64
12,0;17,93
25,0;10,01
38,0;5,79
52,0;3,345
70,0;1,757
"""


class Shell:
    """A folder in which commands are called."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        (folder / "bench.csv").write_text(BENCH, encoding="utf-8")

    def __call__(self, *words: str, stdin: str | None = None) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-m", "thermofit", *words],
            cwd=self.folder, capture_output=True, text=True, input=stdin, encoding="utf-8",
            errors="replace",
            check=False,
        )  # fmt: skip

    def json(self, *words: str) -> Any:
        done = self(*words, "--json")
        assert done.returncode == 0, done.stderr
        return json.loads(done.stdout)


class Here(Shell):
    """The same without a process for each call, for the many cases of one statement.

    What only a process of its own can show (imports, encodings, exit statuses that the system
    sees) is the business of `Shell`.
    """

    def __call__(self, *words: str, stdin: str | None = None) -> subprocess.CompletedProcess[str]:
        out, err = io.StringIO(), io.StringIO()
        with (
            contextlib.chdir(self.folder),
            contextlib.redirect_stdout(out),
            contextlib.redirect_stderr(err),
            mock.patch.object(sys, "argv", ["thermofit", *words]),
            mock.patch.object(sys, "stdin", io.StringIO(stdin or "")),
        ):
            try:
                main()
            except SystemExit as ending:
                status = ending.code
        assert isinstance(status, int)
        return subprocess.CompletedProcess(words, status, out.getvalue(), err.getvalue())
