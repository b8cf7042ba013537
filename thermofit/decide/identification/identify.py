"""Which registered family is this sensor?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, overload

import numpy as np
import numpy.typing as npt

from thermofit.decide.bench import gather
from thermofit.decide.identification.comparison import (
    Comparison,
    Readings,
    compare,
    readings_of,
    weigh,
)
from thermofit.decide.identification.distance import distances_k
from thermofit.decide.identification.doubt import COVERAGE, other_level, undecided
from thermofit.decide.identification.field import (
    Field,
    Level,
    checked_number,
    checked_span,
    field_of,
)
from thermofit.decide.identification.hypothesis import NONE
from thermofit.decide.identification.level import levels
from thermofit.decide.identification.many import identified_many
from thermofit.decide.identification.result import Candidate, Identification
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.points import Points
from thermofit.tolerance import Tolerance
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    import pandas as pd

    from thermofit.estimate import Fit

__all__ = ["identify"]

Array = npt.NDArray[np.float64]
Pair = tuple[float, float]


@overload
def identify(
    points: Points | Fit, *, families: Iterable[Family | str] | None = ..., r25: Level = ...,
    weights: Mapping[str, float] | None = ..., none_prior: float = ...,
    tolerances: Mapping[str, Tolerance] | None = ..., assumed_r25_pct: float = ...,
    assumed_b_pct: float = ..., r25_range_ohm: Pair = ..., u_t_k: Any = ..., u_r_pct: Any = ...,
    t_range_c: Pair = ..., next_u_t_k: float | None = ..., next_u_r_pct: float | None = ...,
) -> Identification: ...  # fmt: skip
@overload
def identify(
    points: pd.DataFrame, *, families: Iterable[Family | str] | None = ..., r25: Level = ...,
    weights: Mapping[str, float] | None = ..., none_prior: float = ...,
    tolerances: Mapping[str, Tolerance] | None = ..., assumed_r25_pct: float = ...,
    assumed_b_pct: float = ..., r25_range_ohm: Pair = ..., u_t_k: Any = ..., u_r_pct: Any = ...,
    t_range_c: Pair = ..., next_u_t_k: float | None = ..., next_u_r_pct: float | None = ...,
) -> pd.DataFrame: ...  # fmt: skip
def identify(
    points: Any,
    *,
    families: Iterable[Family | str] | None = None,
    r25: Level = "listed",
    weights: Mapping[str, float] | None = None,
    none_prior: float = 0.1,
    tolerances: Mapping[str, Tolerance] | None = None,
    assumed_r25_pct: float = 5.0,
    assumed_b_pct: float = 2.0,
    r25_range_ohm: Pair = (10.0, 10e6),
    u_t_k: Any = None,
    u_r_pct: Any = None,
    t_range_c: Pair = (0.0, 70.0),
    next_u_t_k: float | None = None,
    next_u_r_pct: float | None = None,
) -> Any:
    """Say which registered family a sensor is of, and how sure that is.

    For each family, the probability of the readings is integrated over the parts
    that its tolerance allows, spread evenly over its region of (γ, β):
    ln R(T) = ln R25 + γ + (1 + β)·ln ρ(T).  Bayes' theorem with the prior makes it
    the probability of the family.  "None of these" is an answer like the others:
    another NTC, with ln R25 even over `r25_range_ohm` and B even from 2500 to
    5500 K, or, one time in ten, readings that follow no curve at all.

    A family that is R25 and a B value only does not say how its curve bends: it is
    taken to bend as NTC ceramics do, with a standard uncertainty, and with 0.1 K
    beside (`thermofit.decide.identification.bend`).

    The errors of different readings are taken as independent.

    Parameters
    ----------
    points : Points, Fit or pandas.DataFrame
        Readings of one sensor, one to many, or a frame of many sensors', as for
        `check`.
    families : iterable of Family or str, optional
        To choose from; all registered ones if not given.
    r25 : {"listed", "free"}
        "free" looks for the material by its B value and bend, whatever R25: the
        same material in another R25 is found, and R25 given out.
    weights : mapping of str to float, optional
        Prior weights of families by id; those not named have 1, and 0 leaves one out.
    none_prior : float
        Prior probability of "none of these", above 0 and below 1.
    tolerances : mapping of str to Tolerance, optional
        By id, instead of what a family states.
    assumed_r25_pct, assumed_b_pct : float
        ± %, for families that do not state theirs (common practice, no source).
        Platinum without one is taken as class B of IEC 60751.
    r25_range_ohm : (float, float)
        R25 that are looked for, where it is free and for "none of these".
    u_t_k, u_r_pct : float or array_like, optional
        Standard uncertainty of thermometer (K) and meter (% of the reading), for
        points that do not state them.
    t_range_c : (float, float)
        Range of temperature in °C for the next reading, and for what no reading
        tells apart.
    next_u_t_k, next_u_r_pct : float, optional
        Standard uncertainty of the next reading; those of the present ones (median)
        if not given.

    Returns
    -------
    Identification or pandas.DataFrame
        For a frame, a row for each sensor in the order in which they first appear:
        ``sensor``, ``readings`` (their number), ``leading``, ``probability``,
        ``p_value``, ``none_probability``, ``credible_set`` (95 %, a tuple),
        ``out_of_range`` (a tuple of the families that are not valid at all of its
        temperatures, and were not compared), ``problem``: of a sensor with a cell
        that cannot be used, or at whose temperatures no family is valid, and then
        ``leading`` is empty.

    Raises
    ------
    InputError
        No readings, no uncertainties, a prior or a range that is none; readings at
        which no family is valid.
    UnknownNameError
        No family has an id that is named.

    References
    ----------
    E. T. Jaynes, Probability Theory: The Logic of Science (2003), chapter 20, for
    the comparison of models.  D. V. Lindley, Ann. Math. Stat. 27 (1956) 986–1005,
    for the next reading.

    Examples
    --------
    Invented readings of an air sensor of a glasshouse climate controller, taken out
    of its aspirated housing, in ice and in hot water:

    >>> import thermofit as tf
    >>> p = tf.Points([0.0, 70.0], [158.1e3, 7.81e3], u_t_k=0.1, u_r_ohm=[300, 15])
    >>> found = identify(p)
    >>> found.leading, found.credible_set()
    ('ntc-47k-4108', ('ntc-47k-4108',))

    At room temperature alone, an honestly long list:

    >>> identify(tf.Points(21.0, 11.9e3, u_t_k=0.5, u_r_ohm=25)).credible_set()
    ('ntc-10k-3977', 'ntc-10k-3950', 'ntc-10k-3435', 'ntc-10k-3434')
    """

    def against(level: Level) -> Field:
        return field_of(
            families, level, weights=weights, none_prior=none_prior, tolerances=tolerances,
            assumed_r25_pct=assumed_r25_pct, assumed_b_pct=assumed_b_pct,
            r25_range_ohm=r25_range_ohm,
        )  # fmt: skip

    field = against(r25)
    t_range_c = checked_span(t_range_c, "t_range_c", "temperatures in °C")
    if t_range_c[0] <= -ZERO_C_K:
        raise InputError(f"t_range_c must lie above absolute zero, not from {t_range_c[0]:g} °C")
    for name, value in (("next_u_t_k", next_u_t_k), ("next_u_r_pct", next_u_r_pct)):
        if value is not None:
            checked_number(value, name, 0.0, np.inf)
    bench = gather(points, u_t_k, u_r_pct)
    if not (isinstance(points, Points) or hasattr(points, "points")):
        return identified_many(bench, field, COVERAGE)
    if bench.problems:
        raise InputError(bench.problems[0])
    readings = readings_of(bench, np.arange(len(bench.t_c))[np.newaxis])
    found = compare(readings, field.hypotheses)
    outside = _out_of_range(readings, found, field)
    if len(outside) == len(field.hypotheses) - 1:
        id, why = next(iter(outside.items()))
        raise InputError(f"no family is valid at all of these temperatures: of {id}, {why}")
    posterior = weigh(found.log_density, field.prior)[0]
    rows = _rows(readings, found, field, posterior, free=r25 == "free")
    apart, plan = undecided(readings, field, posterior, t_range_c, (next_u_t_k, next_u_r_pct))
    none_leads = r25 == "listed" and rows[0].id == NONE
    level = other_level(readings, against("free"), t_range_c) if none_leads else None
    own = getattr(points, "points", points)
    return Identification(
        rows, float(posterior[-2]), float(posterior[-1]), apart, t_range_c, plan, level,
        MappingProxyType(dict(field.left_out) | outside), tuple(outside), r25, own,
        bench.notes, (*bench.notes, *_notes(field, none_prior, r25_range_ohm)),
    )  # fmt: skip


def _rows(
    readings: Readings, found: Comparison, field: Field, posterior: Array, *, free: bool
) -> tuple[Candidate, ...]:
    from scipy.special import chdtrc

    answers, prior = field.answers(posterior), field.answers(field.prior)
    count = readings.t_c.shape[1]
    rows = []
    # By the logarithm, so that of what has no probability left the nearest comes first.
    with np.errstate(divide="ignore"):
        rank = found.log_density[0] + np.log(field.prior)
    rank = np.append(rank[:-2], np.logaddexp(*rank[-2:]))
    for j in np.argsort(-rank, kind="stable"):
        hypothesis, chi2 = field.hypotheses[j], float(found.chi2[0, j])
        nan = float("nan")
        numbers = nan, nan, nan, nan, nan, nan
        if hypothesis.id != NONE:
            if np.isnan(chi2):
                continue  # not compared
            place, spread = found.place[0, j], found.covariance[0, j]
            r25 = levels(hypothesis, place, spread) if free else (nan, nan)
            shift = np.log(r25[0]) - hypothesis.ln_r25 if free else 0.0
            off = distances_k(hypothesis, place, readings.t_c[0], shift)
            numbers = chi2, float(chdtrc(count, chi2)), *off, *r25
        probabilities = float(answers[j]), float(prior[j])
        told = hypothesis.tolerance
        rows.append(Candidate(hypothesis.id, *probabilities, count, *numbers, told))
    return tuple(rows)


def _out_of_range(readings: Readings, found: Comparison, field: Field) -> dict[str, str]:
    told = {}
    for hypothesis, chi2 in zip(field.hypotheses[:-1], found.chi2[0, :-1], strict=True):
        if np.isnan(chi2):
            curve = hypothesis.curve
            outside = readings.t_c[0][~np.asarray(curve.in_range(readings.t_c[0]))]
            told[hypothesis.id] = (
                f"the reading at {outside[0]:g} °C lies outside the valid range, "
                f"{curve.t_min_c:g} to {curve.t_max_c:g} °C"
            )
    return told


def _notes(field: Field, none_prior: float, r25_range_ohm: Pair) -> list[str]:
    families = field.hypotheses[:-1]
    even = np.ptp(field.prior[:-2]) < 1e-12
    low, high = (format_ohm(end, 3) for end in r25_range_ohm)
    on = "one family" if len(families) == 1 else f"{len(families)} families"
    how = "" if len(families) == 1 else ", evenly" if even else ", by the weights given"
    notes = [
        f"prior: {100 * (1 - none_prior):g} % on {on}{how}, and {100 * none_prior:g} % on none of "
        f"these: an NTC with R25 from {low} to {high} and B from 2500 to 5500 K, or, one time in "
        "ten, readings that follow no curve",
        "the errors of the readings are taken as independent",
    ]
    assumed = [h for h in families if h.assumed]
    for text in dict.fromkeys(h.tolerance for h in assumed):
        ids = ", ".join(h.id for h in assumed if h.tolerance == text)
        notes.append(f"tolerance {text}: {ids}")
    bent = [h.id for h in families if h.bend_at_c is not None]
    if bent:
        notes.append(f"taken to bend as NTC ceramics do, only B is stated: {', '.join(bent)}")
    return notes
