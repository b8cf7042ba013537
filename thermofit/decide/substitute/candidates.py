"""What may stand in: from what a person names to parts with their tolerance and ratings."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from numbers import Real
from typing import Any

from thermofit.circuit.part import Part, part_of
from thermofit.curve import Curve
from thermofit.curvesets import CurveSet
from thermofit.decide.substitute.reader import Reader
from thermofit.errors import InputError, ThermofitError
from thermofit.families.registry import families, family
from thermofit.family import Family
from thermofit.tolerance import Tolerance
from thermofit.tolerance.limits import BLimits, ResistanceLimits

__all__ = ["Candidate", "candidate", "check_tolerance", "gather", "parts_of"]

_ASSUMED = "its valid range is assumed"
_NOMINAL = "R25 and a B value only: how its curve bends is not known"
_EXACT = "no tolerance is stated, and it is taken as exact"


@dataclass(frozen=True, eq=False)
class Candidate:
    """A part by name.

    Parameters
    ----------
    name : str
    part : Part
        Curve, tolerance and dissipation factor.
    ratings : mapping of str to float
        See `thermofit.family.RATINGS`.
    nominal : bool
        Nothing but R25 and a B value stands behind the curve.
    """

    name: str
    part: Part
    ratings: Mapping[str, float]
    nominal: bool

    @property
    def remarks(self) -> tuple[str, ...]:
        """What is taken for granted of it, in words that do not name it."""
        part = self.part
        exact = part.tolerance is None and part.curve.covariance is None
        said = (_EXACT,) if exact else part.notes
        return (
            *((_NOMINAL,) if self.nominal else ()),
            *((_ASSUMED,) if part.curve.range_basis == "assumed" else ()),
            *(note.removeprefix(f"{part.curve.id or 'the sensor'}: ") for note in said),
        )

    @property
    def notes(self) -> tuple[str, ...]:
        """The same, each with its name."""
        return tuple(f"{self.name or 'the original'}: {remark}" for remark in self.remarks)


def candidate(item: Any, unstated: Tolerance | None, name: str = "") -> Candidate:
    """Make a candidate of what names one.

    Parameters
    ----------
    item : str, Family, Curve or (float, float)
        Id of a registered family, a family, a curve, or R25 in ohms and B in kelvin.
    unstated : Tolerance, optional
        Of parts that state none.
    name : str
        What to call it, where not by its id.

    Returns
    -------
    Candidate

    Raises
    ------
    UnknownNameError
        No family has this id.
    InputError
        None of these things, or a family that leaves R25 open.
    """
    nominal = False
    if isinstance(item, str):
        item = family(item)
    elif _is_r25_and_b(item):
        r25_ohm, b_k = map(float, item)
        item = Curve.beta(r25_ohm=r25_ohm, b_k=b_k)
        name = name or f"{r25_ohm:g} Ω, B {b_k:g} K"
        nominal = True
    if not isinstance(item, Family | Curve):
        raise InputError(
            f"a part is a Family, a Curve, an id, or a pair (r25_ohm, b_k), not {item!r}"
        )
    part = part_of(item)
    if name and not part.curve.id:
        part = Part(part.curve.replace(id=name), part.tolerance, part.dissipation_mw_per_k)
    if part.tolerance is None and part.curve.covariance is None and unstated is not None:
        part = Part(part.curve, unstated, part.dissipation_mw_per_k)
    ratings: Mapping[str, float] = {}
    if isinstance(item, Family):
        ratings, nominal = item.ratings, item.source_kind == "nominal"
    return Candidate(name or part.curve.id, part, ratings, nominal)


def gather(
    candidates: Any, original: Candidate, unstated: Tolerance | None
) -> tuple[list[Candidate], dict[str, str]]:
    """Collect the candidates.

    Parameters
    ----------
    candidates : None, or as for `substitutes`
    original : Candidate
    unstated : Tolerance, optional

    Returns
    -------
    found : list of Candidate
    left_out : dict
        Those that cannot be compared, and why.

    Raises
    ------
    UnknownNameError
        No family has an id that is given.
    InputError
        Something that is no part, two of one name, or none that can be compared.
    """
    found: dict[str, Candidate] = {}
    left_out: dict[str, str] = {}
    falls = Reader.of(original.part.curve).falls
    for number, (name, item) in enumerate(_named(candidates, original), start=1):
        item = family(item) if isinstance(item, str) else item
        if isinstance(item, Family) and item.ratio_only:
            left_out[name or item.id] = "fixes R(T)/R25 only and leaves R25 open"
            continue
        one = candidate(item, unstated, name)
        one = one if one.name else candidate(item, unstated, f"candidate {number}")
        if one.name in found:
            raise InputError(
                f"two candidates are called {one.name!r}; give a mapping of names to parts"
            )
        if Reader.of(one.part.curve).falls != falls:
            way = ("rises", "falls") if falls else ("falls", "rises")
            left_out[one.name] = (
                f"its resistance {way[0]} with temperature, that of the original {way[1]}"
            )
            continue
        try:
            check_tolerance(one)
        except ThermofitError as error:
            left_out[one.name] = str(error)
            continue
        found[one.name] = one
    if not found:
        reasons = "; ".join(f"{name}: {why}" for name, why in left_out.items())
        raise InputError(f"there is no candidate to compare{reasons and f' ({reasons})'}")
    return list(found.values()), left_out


def parts_of(curve_set: CurveSet) -> dict[str, Family | Curve]:
    """Give the rows of a curve set by id: families with their tolerance, and curves."""
    own = {member.id: member for member in curve_set.families()}
    return {curve.id: own.get(curve.id, curve) for curve in curve_set}


def check_tolerance(one: Candidate) -> None:
    """Refuse a tolerance that means nothing to a curve: stated at a temperature it does not have.

    Raises
    ------
    ThermofitError
    """
    tolerance, curve = one.part.tolerance, one.part.curve
    plain = tolerance is None or all(
        isinstance(entry, BLimits)
        or (isinstance(entry, ResistanceLimits) and curve.in_range(entry.t_c))
        for entry in tolerance.limits
    )
    if not plain:
        _ = one.part.region  # made to hear whether it can be


def _named(candidates: Any, original: Candidate) -> Iterable[tuple[str, Any]]:
    if candidates is None:
        return [(id, item) for id, item in families().items() if id != original.name]
    if isinstance(candidates, Mapping):
        return [(str(name), item) for name, item in candidates.items()]
    if isinstance(candidates, CurveSet):
        return parts_of(candidates).items()
    if isinstance(candidates, str | Family | Curve) or _is_r25_and_b(candidates):
        return [("", candidates)]
    if not isinstance(candidates, Iterable):
        raise InputError(
            "candidates are a list or a mapping of families, curves, ids or pairs (r25_ohm, b_k), "
            f"or a curve set, not {candidates!r}"
        )
    return [("", item) for item in candidates]


def _is_r25_and_b(item: Any) -> bool:
    return (
        isinstance(item, tuple)
        and len(item) == 2
        and all(isinstance(number, Real) and not isinstance(number, bool) for number in item)
    )
