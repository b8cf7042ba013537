"""R or B stated by itself: the other half of a family's own tolerance stays."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

from thermofit.errors import InputError
from thermofit.tolerance.limits import BLimits, BLimitsKelvin, Limits, RatioLimits, ResistanceLimits
from thermofit.tolerance.spec import Tolerance

__all__ = ["completed", "own_half"]

_OF_R = ResistanceLimits
_OF_B = BLimits, BLimitsKelvin, RatioLimits


def own_half(own: Tolerance | None, stated: Collection[str]) -> tuple[Limits, ...]:
    """Limits of a family that stay beside stated ones, each at its own temperature.

    Parameters
    ----------
    own : Tolerance or None
        That of the family.
    stated : collection of str
        Names of the arguments of `Tolerance.of` that are given.

    Returns
    -------
    tuple of Limits
        Those of B where only R is stated, those of R where only B is, and none where both or
        neither are.

    Raises
    ------
    InputError
        The family limits R and B together, so that no half of it can stay.
    """
    of_r = not {"r25_pct", "r_pct"}.isdisjoint(stated)
    of_b = not {"b_pct", "b_k", "ratio_pct"}.isdisjoint(stated)
    if own is None or of_r == of_b or not {"dt_k", "table"}.isdisjoint(stated):
        return ()
    if not all(isinstance(entry, (_OF_R, *_OF_B)) for entry in own.limits):
        raise InputError(
            f"the tolerance of the family, {own}, limits R and B together, so that no half of it "
            f"stays beside {' and '.join(stated)}; state both, such as r25_pct and b_pct"
        )
    return tuple(entry for entry in own.limits if isinstance(entry, _OF_R if of_b else _OF_B))


def completed(stated: Mapping[str, Any], half: tuple[Limits, ...]) -> Tolerance:
    """Put stated limits and those that stay together, those of the resistance first."""
    limits = Tolerance.of(**stated).limits
    return Tolerance(tuple(sorted((*limits, *half), key=lambda e: not isinstance(e, _OF_R))))
