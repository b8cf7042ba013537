"""The part that should be fitted, and those that may be fitted instead."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.decide.identification.hypothesis import Hypothesis, family_hypothesis
from thermofit.errors import ExtrapolationError, InputError
from thermofit.families.registry import families as registered
from thermofit.family import Family
from thermofit.tolerance import Tolerance

__all__ = ["other_parts", "own_part"]

# For what a family does not state: common practice, no source.
_R25_PCT, _B_PCT = 5.0, 2.0


def own_part(family: Any, tolerance: Any) -> tuple[Hypothesis, tuple[str, ...]]:
    """Take the part that should be fitted, and what was assumed of it.

    Parameters
    ----------
    family : Family or str
    tolerance : Tolerance, optional

    Returns
    -------
    hypothesis : Hypothesis
    notes : tuple of str

    Raises
    ------
    InputError
        No family, one that leaves R25 open, or a tolerance that is none.
    """
    member = _family(family)
    if tolerance is not None and not isinstance(tolerance, Tolerance):
        raise InputError(
            f"tolerance must be a Tolerance, not {tolerance!r}; Tolerance.of makes one"
        )
    if member.ratio_only:
        raise InputError(
            f"{member.id} fixes R(T)/R25 only and leaves R25 open, so that no resistance can be "
            "judged; make a family with the R25 of your part"
        )
    own = _hypothesis(member, {} if tolerance is None else {member.id: tolerance})
    return own, (f"{own.id}: parts even over {own.tolerance}",)


def other_parts(
    families: Any, own: Hypothesis, t_c: npt.NDArray[np.float64]
) -> tuple[tuple[Hypothesis, ...], tuple[str, ...]]:
    """Take the parts that may be fitted instead.

    Parameters
    ----------
    families : iterable of Family or str, optional
    own : Hypothesis
    t_c : array
        Temperatures of the readings; families that are not valid there are left out, and noted.

    Returns
    -------
    hypotheses : tuple of Hypothesis
    notes : tuple of str
    """
    if isinstance(families, (str, Family)) or not (
        families is None or isinstance(families, Iterable)
    ):
        raise InputError(
            f"families is a list of families or of their ids, not {families!r}; leave it out for "
            "all that are registered"
        )
    if families is None:
        members = [member for member in registered().values() if not member.ratio_only]
    else:
        given = families.values() if isinstance(families, Mapping) else families
        members = [_family(item) for item in given]
    found, left_out = [], []
    for member in members:
        if member.id == own.id:
            continue
        if member.ratio_only:
            raise InputError(f"{member.id} leaves R25 open, and cannot be the wrong part")
        try:
            hypothesis = _hypothesis(member, {})
        except ExtrapolationError:
            left_out.append(member.id)  # its tolerance is of temperatures that its curve lacks
            continue
        if np.all(hypothesis.curve.in_range(t_c)):
            found.append(hypothesis)
        else:
            left_out.append(member.id)
    ids = ", ".join(one.id for one in found) or "none"
    notes = [f"parts that may be fitted instead: {ids}"]
    if left_out:
        notes.append(f"not valid at these temperatures, and left out: {', '.join(left_out)}")
    return tuple(found), tuple(notes)


def _family(item: Any) -> Family:
    if isinstance(item, str):
        return registered()[item]
    if not isinstance(item, Family):
        raise InputError(
            f"a part is a Family or the id of one, not {type(item).__name__}; "
            "thermofit.family(id) gives a family"
        )
    return item


def _hypothesis(member: Family, tolerances: Mapping[str, Tolerance]) -> Hypothesis:
    return family_hypothesis(
        member, tolerances=tolerances, assumed_r25_pct=_R25_PCT, assumed_b_pct=_B_PCT,
        r25_range_ohm=None,
    )  # fmt: skip
