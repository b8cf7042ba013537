"""A bar on standard error for what takes long."""

from __future__ import annotations

import sys
import time
from contextlib import ExitStack
from typing import Any, Final

__all__ = ["Progress"]

_LONG_S: Final = 1.0


class Progress(ExitStack):
    """Told how far something is, show it: on a terminal only, and when there is a wait.

    Parameters
    ----------
    label : str
        What is going on.
    """

    def __init__(self, label: str) -> None:
        super().__init__()
        self._label = label
        self._begun = time.monotonic()
        self._bar: Any = None
        self._task: Any = None

    def __call__(self, done: int, total: int) -> None:
        """Tell that this much is done, of so much."""
        if self._bar is None:
            if time.monotonic() - self._begun < _LONG_S or not sys.stderr.isatty():
                return
            from rich.console import Console
            from rich.progress import Progress as Bar

            # The console honours NO_COLOR by itself; the bar goes when it is done.
            self._bar = self.enter_context(Bar(console=Console(stderr=True), transient=True))
            self._task = self._bar.add_task(self._label, total=total)
        self._bar.update(self._task, completed=done, total=total)
