"""The command line on a terminal of a certain width."""

from __future__ import annotations

import fcntl
import os
import pty
import struct
import subprocess
import sys
import termios
from pathlib import Path


def on_terminal(
    folder: Path, columns: int, *words: str, environment: dict[str, str] | None = None
) -> str:
    """What a terminal shows, escapes and all."""
    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 40, columns, 0, 0))
    left_out = ("COLUMNS", "LINES", "NO_COLOR", "TERM", "FORCE_COLOR")
    inherited = {name: value for name, value in os.environ.items() if name not in left_out}
    with subprocess.Popen(
        [sys.executable, "-m", "thermofit", *words],
        cwd=folder, stdin=theirs, stdout=theirs, stderr=theirs,
        env=inherited | {"TERM": "xterm", "PYTHONIOENCODING": "utf-8"} | (environment or {}),
    ) as process:  # fmt: skip
        os.close(theirs)
        shown = b""
        while True:
            try:
                part = os.read(ours, 65536)
            except OSError:  # the other end is closed
                break
            if not part:
                break
            shown += part
        process.wait()
    os.close(ours)
    return shown.decode("utf-8").replace("\r\n", "\n")
