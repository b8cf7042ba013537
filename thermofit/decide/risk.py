"""What a measurement plan risks over a population of parts.

The global consumer's risk, that a part does not conform and is accepted, and the
global producer's risk, that it conforms and is rejected: JCGM 106:2012, 9.5.
Both are parts of all that are measured.
"""

from __future__ import annotations

from numbers import Integral
from typing import Any

import numpy as np

from thermofit.curve import Curve
from thermofit.decide.population import Population
from thermofit.decide.readingplan import ReadingPlan, Risk
from thermofit.decide.requirement import Requirement, requirement_of
from thermofit.decide.rule import DecisionRule, Prior, RuleName, checked_prior, decision_rule
from thermofit.decide.uncertainty import finite_uncertainty, meter_of, reading_uncertainty
from thermofit.errors import ExtrapolationError, InputError
from thermofit.family import Family
from thermofit.tolerance import Tolerance
from thermofit.tolerance.spec import Pair

__all__ = ["Risk", "false_accept_risk", "false_reject_risk"]


def false_accept_risk(
    population: Population,
    family: Family | Curve,
    t_c: Any,
    *,
    u_t_k: Any,
    u_r_pct: Any = None,
    u_r_ohm: Any = None,
    rule: RuleName = "guarded",
    risk: float = 0.05,
    prior: Prior = "uniform",
    tolerance: Tolerance | None = None,
    r25_pct: float | Pair | None = None,
    b_pct: float | Pair | None = None,
    draws: int = 100_000,
    seed: int = 1,
) -> Risk:
    """Probability that a part of a population does not conform and is accepted.

    With one reading what is at stake is the resistance at its temperature, and
    whether that reading is accepted; the probability is integrated.  With readings
    at several temperatures it is the sensor as a whole, decided on as `check`
    does; parts and readings are simulated.

    Parameters
    ----------
    population : Population
        How the parts are spread.
    family : Family or Curve
        Nominal curve, and tolerance if it states one.
    t_c : float or array_like, shape (n,)
        Temperatures of the plan in °C; one twice means two readings there.
    u_t_k : float or array_like
        Standard uncertainty of the thermometer in kelvin.
    u_r_pct, u_r_ohm : float or array_like, optional
        Standard uncertainty of the meter in percent of the reading, or in ohms
        (weighed at the nominal resistance).
    rule, risk, prior, tolerance, r25_pct, b_pct
        As for `check`.  The prior matters to a sensor as a whole.
    draws : int
        Parts to simulate.
    seed : int
        Of the simulation: the same gives the same.

    Returns
    -------
    Risk

    Raises
    ------
    InputError
        As for `check`; or no Population, no temperature, fewer than a hundred draws.
    ExtrapolationError
        A temperature outside the family's valid range.

    References
    ----------
    JCGM 106:2012, 9.5.

    Examples
    --------
    >>> parts = Population([0.0, 0.0], [[0.01**2, 0.0], [0.0, 0.005**2]])
    >>> c = Curve.beta(r25_ohm=10e3, b_k=3977)
    >>> plan = dict(u_t_k=0.1, r25_pct=2, b_pct=1)
    >>> guarded = false_accept_risk(parts, c, 25.0, **plan)
    >>> simple = false_accept_risk(parts, c, 25.0, rule="simple", **plan)
    >>> guarded.probability < 0.002 < simple.probability
    True
    """
    plan = _plan(
        population, t_c, u_t_k, u_r_pct, u_r_ohm, decision_rule(rule, risk), prior,
        requirement_of(family, tolerance=tolerance, r25_pct=r25_pct, b_pct=b_pct), draws, seed,
    )  # fmt: skip
    return plan.risk(accepting=True)


def false_reject_risk(
    population: Population,
    family: Family | Curve,
    t_c: Any,
    *,
    u_t_k: Any,
    u_r_pct: Any = None,
    u_r_ohm: Any = None,
    rule: RuleName = "guarded",
    risk: float = 0.05,
    prior: Prior = "uniform",
    tolerance: Tolerance | None = None,
    r25_pct: float | Pair | None = None,
    b_pct: float | Pair | None = None,
    draws: int = 100_000,
    seed: int = 1,
) -> Risk:
    """Probability that a part of a population conforms and is rejected.

    Everything as for `false_accept_risk`.

    Parameters
    ----------
    population, family, t_c, u_t_k, u_r_pct, u_r_ohm
        What is measured, and how.
    rule, risk, prior, tolerance, r25_pct, b_pct
        What decides.
    draws, seed
        Of the simulation.

    Returns
    -------
    Risk

    References
    ----------
    JCGM 106:2012, 9.5.

    Examples
    --------
    >>> parts = Population([0.0, 0.0], [[0.01**2, 0.0], [0.0, 0.005**2]])
    >>> c = Curve.beta(r25_ohm=10e3, b_k=3977)
    >>> plan = dict(u_t_k=0.1, r25_pct=2, b_pct=1, draws=20_000)
    >>> false_reject_risk(parts, c, [0.0, 60.0], **plan).standard_error < 0.001
    True
    """
    plan = _plan(
        population, t_c, u_t_k, u_r_pct, u_r_ohm, decision_rule(rule, risk), prior,
        requirement_of(family, tolerance=tolerance, r25_pct=r25_pct, b_pct=b_pct), draws, seed,
    )  # fmt: skip
    return plan.risk(accepting=False)


def _plan(
    population: Population, t_c: Any, u_t_k: Any, u_r_pct: Any,
    u_r_ohm: Any, rule: DecisionRule, prior: Prior, requirement: Requirement,
    draws: int, seed: int,
) -> ReadingPlan:  # fmt: skip
    if not isinstance(population, Population):
        raise InputError(
            f"population must be a Population(mean, covariance), not {type(population).__name__}"
        )
    t = np.atleast_1d(np.asarray(t_c, dtype=np.float64))
    if t.ndim != 1 or not t.size or not np.isfinite(t).all():
        raise InputError("t_c must be one or more finite temperatures in °C, shape (n,)")
    outside = ~requirement.in_range(t)
    if outside.any():
        raise ExtrapolationError(
            f"{t[outside][0]:g} °C lies outside the valid range of {requirement.name}, "
            f"{requirement.range_text}"
        )
    if requirement.line is not None and t.size > 1:
        raise InputError(
            f"{requirement.tolerance} takes R25 or B as exact, and no part of a Population has "
            "exactly that; state limits of both"
        )
    for name, value, least in (("draws", draws, 100), ("seed", seed, 0)):
        if isinstance(value, bool) or not isinstance(value, Integral) or value < least:
            raise InputError(f"{name} must be {least} at least, a whole number, not {value!r}")
    ln_r, a, alpha = requirement.nominal(t)
    relative, ohms, _ = meter_of(u_r_pct, u_r_ohm, t.shape)
    u_ln_t = np.abs(alpha) * finite_uncertainty(u_t_k, "u_t_k", t.shape)
    u = reading_uncertainty(relative, ohms, np.exp(ln_r), u_ln_t)
    return ReadingPlan(
        population, requirement, rule, checked_prior(prior), ln_r, a, relative, ohms, u_ln_t, u,
        int(draws), int(seed),
    )  # fmt: skip
