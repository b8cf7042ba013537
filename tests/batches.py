"""What the tests of batches share."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

import thermofit as tf
from thermofit.errors import InputError
from thermofit.estimate import Fit
from thermofit.estimate.many.collected import Collected

__all__ = ["SAME", "alone_or_why", "spied"]

SAME = 1e-10
"""What the requirement for batches allows between them and the one-by-one path."""


def alone_or_why(call: Callable[[], Fit]) -> Fit | str:
    """The result for one sensor, or the reason why there is none."""
    try:
        return call()
    except InputError as error:
        return str(error)


def spied(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Places of the sensors that a batch hands to the one-by-one path, as it does."""
    seen: list[int] = []
    real = Collected.one_by_one

    def spy(self: Collected, left: Any, alone: Callable[[tf.Points], Fit]) -> None:
        left = list(left)
        seen.extend(left)
        real(self, left, alone)

    monkeypatch.setattr(Collected, "one_by_one", spy)
    return seen
