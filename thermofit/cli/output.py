"""Answers on standard output: text for people, JSON for programs."""

from __future__ import annotations

import json
import math
from typing import Any

import click
import numpy as np

__all__ = ["json_option", "print_json"]

json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON, described in docs/command-line.md."
)


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
    answer = {"format": name, "format_version": version, **_plain(content)}
    click.echo(json.dumps(answer, ensure_ascii=False, indent=2, allow_nan=False))


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
