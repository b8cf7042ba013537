"""What readings are held against: the families with their prior, and "none of these"."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from numbers import Real
from types import MappingProxyType
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from thermofit.curvesets.curveset import unknown_id
from thermofit.decide.identification.hypothesis import Hypothesis, another_ntc, family_hypothesis
from thermofit.errors import ExtrapolationError, InputError
from thermofit.families import families as registered
from thermofit.family import Family
from thermofit.tolerance import Tolerance

__all__ = ["Field", "Level", "checked_number", "checked_span", "field_of"]

Array = npt.NDArray[np.float64]
Level = Literal["listed", "free"]
Pair = tuple[float, float]

NO_CURVE_SHARE = 0.1
"""Part of the prior of "none of these" that readings have which follow no curve at all."""


@dataclass(frozen=True, eq=False)
class Field:
    """What readings are held against.

    Parameters
    ----------
    hypotheses : tuple of Hypothesis, length h
        Families, and another NTC at the end.
    prior : array, shape (h + 1,)
        The last is of readings that follow no curve.
    left_out : mapping of str to str
        Families that are not among them, and why.
    """

    hypotheses: tuple[Hypothesis, ...]
    prior: Array
    left_out: Mapping[str, str]

    def answers(self, posterior: Array) -> Array:
        """Join both kinds of "none of these", shape (…, h)."""
        none = posterior[..., -2:].sum(axis=-1, keepdims=True)
        return np.concatenate([posterior[..., :-2], none], axis=-1)


def field_of(
    families: Iterable[Family | str] | None,
    r25: Level,
    *,
    weights: Mapping[str, float] | None,
    none_prior: float,
    tolerances: Mapping[str, Tolerance] | None,
    assumed_r25_pct: float,
    assumed_b_pct: float,
    r25_range_ohm: Pair,
) -> Field:
    """Gather what readings are held against; arguments as for `identify`.

    Returns
    -------
    Field
    """
    if not isinstance(r25, str) or r25 not in ("listed", "free"):
        raise InputError(f"r25 must be 'listed' or 'free', not {r25!r}")
    none_prior = checked_number(none_prior, "none_prior", 0.0, 1.0)
    r25_range_ohm = checked_span(r25_range_ohm, "r25_range_ohm", "resistances in Ω above zero")
    if r25_range_ohm[0] <= 0.0:
        raise InputError(f"r25_range_ohm must lie above zero, not from {r25_range_ohm[0]:g} Ω")
    for name, pct in (("assumed_r25_pct", assumed_r25_pct), ("assumed_b_pct", assumed_b_pct)):
        checked_number(pct, name, 0.0, 100.0)
    members = _members(families)
    known = sorted(member.id for member in members)
    weights, tolerances = dict(weights or {}), dict(tolerances or {})
    for name, given in (("weights", weights), ("tolerances", tolerances)):
        for id in given:
            if id not in known:
                raise unknown_id(str(id), known, f"{name}: none of the families compared is called")
    for id, value in weights.items():
        number = isinstance(value, Real) and not isinstance(value, bool)
        if not (number and 0.0 <= value < np.inf):
            raise InputError(f"the weight of {id} must be 0 or more, not {value!r}")
    for id, tolerance in tolerances.items():
        if not isinstance(tolerance, Tolerance):
            raise InputError(
                f"the tolerance of {id} must be a Tolerance, not {tolerance!r}; Tolerance.of "
                "makes one"
            )
    left_out: dict[str, str] = {}
    chosen: list[tuple[Hypothesis, float]] = []
    for member in members:
        weight = float(weights.get(member.id, 1.0))
        if weight == 0.0:
            left_out[member.id] = "its weight is 0"
        elif member.ratio_only and r25 == "listed":
            left_out[member.id] = "R25 is left open, compared with R25 free only"
        else:
            try:
                hypothesis = family_hypothesis(
                    member, tolerances=tolerances, assumed_r25_pct=assumed_r25_pct,
                    assumed_b_pct=assumed_b_pct,
                    r25_range_ohm=r25_range_ohm if r25 == "free" else None,
                )  # fmt: skip
            except ExtrapolationError as error:
                left_out[member.id] = str(error)  # one family must not take the others down
            else:
                chosen.append((hypothesis, weight))
    if not chosen:
        raise InputError(
            "no family is left to compare with: "
            + ("; ".join(f"{id}, {why}" for id, why in left_out.items()) or "there is none")
        )
    share = np.array([weight for _, weight in chosen])
    share = share / share.max()
    share = (1.0 - none_prior) * share / share.sum()
    none = none_prior * np.array([1.0 - NO_CURVE_SHARE, NO_CURVE_SHARE])
    hypotheses = (*(hypothesis for hypothesis, _ in chosen), another_ntc(r25_range_ohm))
    return Field(hypotheses, np.concatenate([share, none]), MappingProxyType(left_out))


def _members(families: Iterable[Family | str] | None) -> list[Family]:
    if families is None:
        return list(registered().values())
    if isinstance(families, Mapping):
        families = families.values()
    if isinstance(families, (str, Family)) or not isinstance(families, Iterable):
        raise InputError(
            f"families is a list of families or of their ids, not {families!r}; "
            "leave it out for all that are registered"
        )
    members = []
    for item in families:
        if not isinstance(item, (str, Family)):
            raise InputError(f"families holds a {type(item).__name__}, and no Family or id")
        members.append(registered()[item] if isinstance(item, str) else item)
    ids = [member.id for member in members]
    twice = sorted({id for id in ids if ids.count(id) > 1})
    if twice:
        raise InputError(f"families has {', '.join(twice)} more than once")
    return members


def checked_number(value: Any, name: str, low: float, high: float) -> float:
    """Give a number strictly between two others, or say that it is none."""
    number = isinstance(value, Real) and not isinstance(value, bool)
    if not (number and low < value < high):
        ends = f"above {low:g}" + (f" and below {high:g}" if np.isfinite(high) else "")
        raise InputError(f"{name} must be a number {ends}, not {value!r}")
    return float(value)


def checked_span(pair: Any, name: str, what: str) -> Pair:
    """Give a pair (low, high), or say that it is none."""
    try:
        low, high = (float(end) for end in pair)
    except (TypeError, ValueError):
        raise InputError(f"{name} is a pair of {what}, low and high, not {pair!r}") from None
    if not (np.isfinite([low, high]).all() and low < high):
        raise InputError(
            f"{name} goes from a lower to a higher value, not from {low:g} to {high:g}"
        )
    return low, high
