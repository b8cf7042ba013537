"""Answers on standard output, text for people or JSON for programs; the rest on standard error."""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from typing import Any, Final, Literal

import click
import numpy as np

from thermofit.texttable import fitted_to, legal, paragraph

__all__ = ["json_option", "print_json", "show", "tell"]

Kind = Literal["error", "warning", "caution", "read", "saved", "written"]

# Words carry the meaning; colours help those who see them, and only on a terminal.
_COLOURS: Final[dict[str, dict[str, Any]]] = {
    "error": {"fg": "red", "bold": True},
    "warning": {"fg": "yellow", "bold": True},
    "caution": {"fg": "magenta", "bold": True},
    "accept": {"fg": "green", "bold": True},
    "reject": {"fg": "red", "bold": True},
    "cannot tell": {"fg": "yellow", "bold": True},
}
_NARROWEST: Final = 40

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON: docs/command-line.md."
)


def show(answer: object | Callable[[], str]) -> None:
    """Print an answer for people; on a terminal, in lines that fit it.

    Parameters
    ----------
    answer : object or callable
        What has a text, or what gives one.  It is made here, since its tables must know
        how much room there is.
    """
    width = _width(sys.stdout)
    with fitted_to(width):
        text = legal(str(answer() if callable(answer) else answer))
    click.echo(_coloured(_folded(text, width)))


def tell(kind: Kind, text: str) -> None:
    """Say something on standard error, after a word for its kind.

    Parameters
    ----------
    kind : str
        ``"error"``, ``"warning"``, ``"caution"``, ``"read"``, ``"saved"`` or ``"written"``.
    text : str
        Broken into lines on a terminal only.
    """
    click.echo(_coloured(_folded(f"{kind}: {legal(text)}", _width(sys.stderr))), err=True)


def print_json(name: str, version: int, content: dict[str, Any]) -> None:
    """Print an answer as JSON, with the name and the number of its format.

    Parameters
    ----------
    name : str
        Of the format, for example ``"thermofit-fit"``.
    version : int
        Raised when a key changes its meaning or goes away.
    content : dict
        Arrays become lists; NaN and infinity, which JSON does not know, null.
    """
    import json

    answer = {"format": name, "format_version": version, **_plain(content)}
    text = json.dumps(answer, ensure_ascii=False, indent=2, allow_nan=False)
    # A program reads the same, and a terminal that shows it obeys none of it.
    click.echo(
        "".join(
            mark if shown in (mark, "\n") else json.dumps(mark)[1:-1]
            for mark, shown in zip(text, legal(text), strict=True)
        )
    )


def _width(stream: Any) -> int | None:
    """Columns of a terminal; None for a file or a pipe, whose lines stay whole."""
    if stream is None or not stream.isatty():
        return None
    import shutil

    return max(shutil.get_terminal_size().columns, _NARROWEST)


def _folded(text: str, width: int | None) -> str:
    if width is None:
        return text
    return "\n".join(
        line if len(line) <= width else _hanging(line, width) for line in text.split("\n")
    )


def _hanging(line: str, width: int) -> str:
    hang = " " * (len(line) - len(line.lstrip()) + 2)
    with fitted_to(width):
        return paragraph(line, then=hang)


def _coloured(text: str) -> str:
    for word, style in _COLOURS.items():
        if text.startswith((f"{word}:", f"{word} ")):
            return click.style(word, **style) + text[len(word) :]
    return text


def _plain(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _plain(item) for key, item in value.items()}
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, float):
        return float(value) if math.isfinite(value) else None
    return value
