"""Rules, applied one by one, so that an author sees all that are broken."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TypeVar

import numpy as np

__all__ = ["Rule", "broken"]

Subject = TypeVar("Subject")
Rule = Callable[[Subject], Iterator[str]]
"""Takes what is checked and yields a line for each breach."""


def broken(rules: Iterable[Rule[Subject]], subject: Subject) -> list[str]:
    """Apply rules and collect the breaches.

    A rule in which the subject itself fails counts as broken and does not keep
    the others from being applied.

    Parameters
    ----------
    rules : iterable of callable
    subject : object

    Returns
    -------
    list of str
    """
    lines: list[str] = []
    for rule in rules:
        try:
            # An overflow gives numbers that the rule will not accept.
            with np.errstate(all="ignore"):
                lines += rule(subject)
        except Exception as error:  # noqa: BLE001  that is what the author must hear of
            name = rule.__name__.lstrip("_")
            lines.append(f"{name}: raised {type(error).__name__}: {error}")
    return lines
