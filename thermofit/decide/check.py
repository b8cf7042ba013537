"""Is this sensor good?  Readings against a family, with the risk of being wrong."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, cast, overload

import numpy as np

from thermofit.arrays import Collection, is_collection
from thermofit.curve import Curve
from thermofit.decide.bench import gather
from thermofit.decide.judge import judge
from thermofit.decide.requirement import requirement_of
from thermofit.decide.rule import Prior, RuleName, checked_prior, decision_rule
from thermofit.decide.verdict import VERDICT_COLUMNS, Verdict
from thermofit.decide.words import reasons
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.points import Points
from thermofit.tolerance import Tolerance
from thermofit.tolerance.spec import Pair

if TYPE_CHECKING:
    import pandas as pd

    from thermofit.estimate import Fit

__all__ = ["check"]


@overload
def check(
    points: Points | Fit, family: Family | Curve, *, rule: RuleName = ..., risk: float = ...,
    prior: Prior = ..., tolerance: Tolerance | None = ..., r25_pct: float | Pair | None = ...,
    b_pct: float | Pair | None = ..., u_t_k: Any = ..., u_r_pct: Any = ...,
) -> Verdict: ...  # fmt: skip
@overload
def check(
    points: pd.DataFrame, family: Family | Curve, *, rule: RuleName = ..., risk: float = ...,
    prior: Prior = ..., tolerance: Tolerance | None = ..., r25_pct: float | Pair | None = ...,
    b_pct: float | Pair | None = ..., u_t_k: Any = ..., u_r_pct: Any = ...,
) -> pd.DataFrame: ...  # fmt: skip
@overload
def check(
    points: Collection, family: Family | Curve, *, rule: RuleName = ..., risk: float = ...,
    prior: Prior = ..., tolerance: Tolerance | None = ..., r25_pct: float | Pair | None = ...,
    b_pct: float | Pair | None = ..., u_t_k: float | None = ..., u_r_pct: float | None = ...,
) -> Any: ...  # fmt: skip
def check(
    points: Any,
    family: Family | Curve,
    *,
    rule: RuleName = "guarded",
    risk: float = 0.05,
    prior: Prior = "uniform",
    tolerance: Tolerance | None = None,
    r25_pct: float | Pair | None = None,
    b_pct: float | Pair | None = None,
    u_t_k: Any = None,
    u_r_pct: Any = None,
) -> Any:
    """Check sensors against a family: accept, reject, or cannot tell.

    Each reading is judged by itself against the band at its temperature, and the
    sensor as a whole by where its place (γ, β) lies:
    ln R(T) = ln R25 + γ + (1 + β)·ln ρ(T), ρ(T) = R(T)/R25 of the nominal curve.
    The place comes from all readings by least squares weighted with the
    uncertainties of both axes, and its ellipse of uncertainty is held against the
    polygon that the tolerance allows.

    Guarded, the default: a reading is accepted (rejected) inside (outside) its
    limits moved inwards (outwards) by z₁₋ᵣᵢₛₖ standard uncertainties of a reading at
    the limit, the numbers of `acceptance_limits`; a sensor is
    accepted if it conforms with probability 1 − risk at least, and rejected if its
    ellipse of coverage 1 − risk lies wholly outside.  A single limit is thus passed
    wrongly, and a conforming sensor rejected, at most with probability risk.
    Simple acceptance takes the estimates at their word.  Under either rule a sensor
    whose readings disagree (χ² so large with probability 1 % or less) is rejected
    if two of them or more each lie so far outside that they would reject it alone
    (one in a hundred of the risk, shared among the readings), whichever one is
    wrong, and else nothing is told of it.  Nothing is told where a reading lies
    outside the family's valid range; and readings at a single temperature can
    reject a sensor but not accept it.

    The errors of different readings are taken as independent.  One that all
    share, such as a thermometer that is off, does not average out: what it may
    amount to must be part of the uncertainty, and is then counted with too much
    optimism where there are many readings.

    Parameters
    ----------
    points : Points, Fit, pandas.DataFrame or Dask DataFrame
        Readings of one sensor (those of a fit, where one is given), or a frame of
        many sensors' with the columns ``sensor``, ``t_c``, ``r_ohm``, and ``u_t_k``
        and ``u_r_ohm`` where they state their standard uncertainties.  A Dask frame is
        shuffled by its sensors, unless they are its index.
    family : Family or Curve
        Nominal curve, and tolerance if it states one.
    rule : {"guarded", "simple"}
    risk : float
        Above 0 and below 0.5.
    prior : "uniform" or Population
        What is known before the readings, for the probability of conformity.
    tolerance : Tolerance, optional
        Instead of the family's.
    r25_pct, b_pct : float or (low, high), optional
        Each instead of the family's.
    u_t_k, u_r_pct : float or array_like, optional
        Standard uncertainty of thermometer (K) and meter (% of the reading), for
        points that do not state them.

    Returns
    -------
    Verdict or pandas.DataFrame
        For a frame, a row for each sensor in the order in which they first
        appear: ``sensor``, ``readings`` (their number), ``verdict``,
        ``probability``, ``gamma``, ``beta``, ``u_gamma``, ``u_beta``,
        ``correlation``, ``chi2``, ``dof``, ``p_value``, ``cause``, ``reason``.  A
        sensor whose cells cannot be used says so in its row, with the verdict
        "cannot tell"; ``frame.attrs["notes"]`` says what was taken for granted.
        For a Dask frame, a lazy one with the same columns, in no particular order and
        without those notes; its reasons name no rows.

    Raises
    ------
    InputError
        No uncertainties, no tolerance or contradictory ones, an unknown rule, a
        risk that is none, a frame without rows or without a column that it needs.

    References
    ----------
    JCGM 106:2012, Evaluation of measurement data – The role of measurement
    uncertainty in conformity assessment, clauses 7 and 8.  ISO 14253-1.

    Examples
    --------
    Invented readings of a fan-aspirated air sensor of a glasshouse climate controller:

    >>> family = Family(Curve.beta(r25_ohm=10e3, b_k=3977, id="air"), r25_tol_pct=2, b_tol_pct=1)
    >>> p = Points([0.0, 25.0, 60.0], [33980, 10015, 2459], u_t_k=0.05, u_r_ohm=[30, 10, 3])
    >>> v = check(p, family)
    >>> v.verdict
    'accept'
    >>> check(Points([0.0, 25.0, 60.0], [35300, 10410, 2556], u_t_k=0.05), family).cause
    'shifted'
    """
    judging = decision_rule(rule, risk)
    prior = checked_prior(prior)
    requirement = requirement_of(family, tolerance=tolerance, r25_pct=r25_pct, b_pct=b_pct)
    if is_collection(points):
        from thermofit.scale import sensor_by_sensor

        alone = partial(
            _of_partition, family=family, rule=rule, risk=risk, prior=prior, tolerance=tolerance,
            r25_pct=r25_pct, b_pct=b_pct, u_t_k=u_t_k, u_r_pct=u_r_pct,
        )  # fmt: skip
        return sensor_by_sensor(alone, points, "sensor", u_t_k=u_t_k, u_r_pct=u_r_pct)
    one = isinstance(points, Points) or hasattr(points, "points")
    if not (one or hasattr(points, "columns")):
        raise InputError(
            "check takes the Points or the Fit of one sensor, or a pandas frame of many, not "
            f"{type(points).__name__}"
        )
    bench = gather(points, u_t_k, u_r_pct)
    if one and bench.problems:
        raise InputError(bench.problems[0])
    judgement = judge(bench, requirement, judging, prior)
    places = judgement.measured.places
    u = np.sqrt(np.diagonal(places.covariance, axis1=-2, axis2=-1))
    with np.errstate(invalid="ignore", divide="ignore"):
        correlation = places.covariance[:, 0, 1] / u.prod(axis=-1)
    told = reasons(bench, judgement, requirement, judging)
    skipped = judgement.measured.skipped
    columns = {
        "verdict": judgement.verdict,
        "probability": judgement.probability,
        "gamma": places.estimate[:, 0],
        "beta": places.estimate[:, 1],
        "u_gamma": u[:, 0],
        "u_beta": u[:, 1],
        "correlation": correlation,
        "chi2": np.where(skipped, np.nan, places.chi2),
        "dof": places.dof,
        "p_value": judgement.p_value,
        "cause": [cause for cause, _ in told],
        "reason": [reason for _, reason in told],
    }
    notes = (*bench.notes, *requirement.notes)
    if one:
        row = {name: columns[name][0] for name in VERDICT_COLUMNS}
        numbers = {k: v.item() if isinstance(v, np.generic) else v for k, v in row.items()}
        return Verdict(
            **cast("Any", numbers), readings=judgement.readings, family=requirement.name,
            tolerance=requirement.tolerance, rule=judging, prior=prior, notes=notes,
        )  # fmt: skip
    import pandas as pd

    count = np.bincount(bench.sensor, minlength=len(bench.names))
    frame = pd.DataFrame({"sensor": list(bench.names), "readings": count, **columns})
    frame.attrs = {
        "family": requirement.name, "tolerance": str(requirement.tolerance),
        "rule": str(judging), "prior": str(prior), "notes": notes,
    }  # fmt: skip
    return frame


def _of_partition(frame: pd.DataFrame, **how: Any) -> pd.DataFrame:
    """Check the sensors of a partition, whose rows nobody has seen and could count."""
    found = check(frame, **how)
    found["reason"] = found["reason"].str.replace(r"\brow \d+: ", "", regex=True)
    return found
