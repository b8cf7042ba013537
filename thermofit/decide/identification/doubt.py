"""What an identification leaves open, and what would settle it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from thermofit.decide.identification.apart import Group, alike_groups
from thermofit.decide.identification.comparison import Readings, compare, weigh
from thermofit.decide.identification.field import Field
from thermofit.decide.identification.hypothesis import NONE, Hypothesis
from thermofit.decide.identification.level import levels
from thermofit.decide.identification.nextreading import NextReading, next_reading
from thermofit.decide.identification.result import OtherLevel

__all__ = ["COVERAGE", "other_level", "undecided"]

Array = npt.NDArray[np.float64]
Pair = tuple[float, float]

COVERAGE = 0.95
"""Probability from which an answer counts as decided."""

_WORTH = 0.01  # probability from which a family takes part in groups and in plans
_RANGE_STEPS = 5
_FEW = 3


def undecided(
    readings: Readings, field: Field, posterior: Array, t_range_c: Pair,
    given: tuple[float | None, float | None],
) -> tuple[tuple[Group, ...], NextReading | None]:  # fmt: skip
    """Say what cannot be told apart, and what the next reading should be.

    Parameters
    ----------
    readings : Readings
        Of one sensor.
    field : Field
    posterior : array, shape (h + 1,)
    t_range_c : (float, float)
        Temperatures in °C that the next reading may have.
    given : (float or None, float or None)
        Standard uncertainty of the next reading in K and in percent; the median of
        those at hand for None.

    Returns
    -------
    groups : tuple of Group
    plan : NextReading or None
        None where one answer, or one group that no reading tells apart, has `COVERAGE`.
    """
    u_t = float(np.median(readings.u_t_k)) if given[0] is None else float(given[0])
    u_r = float(np.median(readings.u_ln_r)) if given[1] is None else float(given[1]) / 100.0
    order = np.argsort(-posterior[:-2], kind="stable")
    worth = [int(j) for j in order if posterior[j] >= _WORTH]
    chosen = [field.hypotheses[j] for j in worth]
    groups = alike_groups(chosen, posterior[worth], readings, _over(chosen, t_range_c, u_t, u_r))
    merged: list[list[int]] = []
    for j in worth:
        id = field.hypotheses[j].id
        same = [g.ids for g in groups if g.by != "these readings" and id in g.ids]
        own = same[0] if same else (id,)
        home = next((m for m in merged if field.hypotheses[m[0]].id in own), None)
        if home is None:
            merged.append([j])
        else:
            home.append(j)
    merged.sort(key=lambda own: -float(posterior[own].sum()))
    none = posterior[-2:].sum()
    if max([none, *(float(posterior[own].sum()) for own in merged)]) >= COVERAGE or not merged:
        return groups, None
    names = [" or ".join(field.hypotheses[j].id for j in own) for own in merged]
    # Only what is worth a plan, with the columns counted anew.
    kept = [*worth, len(posterior) - 2, len(posterior) - 1]
    columns = [[kept.index(j) for j in own] for own in merged]
    plan = next_reading(
        readings, [*chosen, field.hypotheses[-1]], field.prior[kept],
        [*columns, [len(kept) - 2, len(kept) - 1]], [*names, NONE],
        t_range_c=t_range_c, u_t_k=u_t, u_r_pct=100.0 * u_r, coverage=COVERAGE,
    )  # fmt: skip
    return groups, plan


def _over(chosen: Sequence[Hypothesis], t_range_c: Pair, u_t: float, u_r: float) -> Readings:
    """Readings all over the range, as far as all families in question are valid there."""
    low, high = t_range_c
    ends = (
        max([low, *(h.curve.t_min_c for h in chosen)]),
        min([high, *(h.curve.t_max_c for h in chosen)]),
    )
    t_c = np.linspace(*(ends if ends[0] < ends[1] else t_range_c), _RANGE_STEPS)[np.newaxis]
    return Readings(t_c, np.zeros(t_c.shape), np.full(t_c.shape, u_r), np.full(t_c.shape, u_t))


def other_level(readings: Readings, field: Field, t_range_c: Pair) -> OtherLevel | None:
    """Find the family whose material a sensor of none may be of, in another R25.

    Parameters
    ----------
    readings : Readings
        Of one sensor.
    field : Field
        With R25 free.
    t_range_c : (float, float)
        Temperatures in °C at which families may be told apart.

    Returns
    -------
    OtherLevel or None
        None where no material is more probable than none, or where the readings do
        not narrow it down to a few.
    """
    found = compare(readings, field.hypotheses)
    answers = field.answers(weigh(found.log_density, field.prior))[0]
    order = np.argsort(-answers[:-1], kind="stable")
    worth = [int(j) for j in order if answers[j] >= _WORTH]
    if not worth:
        return None
    u_t, u_r = float(np.median(readings.u_t_k)), float(np.median(readings.u_ln_r))
    chosen, best = [field.hypotheses[j] for j in worth], worth[0]
    groups = alike_groups(chosen, answers[worth], readings, _over(chosen, t_range_c, u_t, u_r))
    own = [group for group in groups if chosen[0].id in group.ids]
    if own and own[-1].by == "these readings" and len(own[-1].ids) > _FEW:
        return None  # another reading could name the material, and these do not
    ids, p = (own[-1].ids, own[-1].probability) if own else ((chosen[0].id,), float(answers[best]))
    if p <= answers[-1]:
        return None
    r25_ohm, u = levels(field.hypotheses[best], found.place[0, best], found.covariance[0, best])
    return OtherLevel(ids[0], ids, p, r25_ohm, u)
