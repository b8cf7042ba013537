"""Why a verdict is what it is, in words."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from thermofit.decide.bench import Bench
from thermofit.decide.conformity import region_probability
from thermofit.decide.judge import SMALL_P, Judgement
from thermofit.decide.requirement import Requirement
from thermofit.decide.rule import DecisionRule
from thermofit.decide.verdict import Cause, degrees, format_probability
from thermofit.texttable import with_minus

__all__ = ["reasons"]

Array = npt.NDArray[np.float64]
Indices = npt.NDArray[np.intp]

_SHOWN = 3

# Part of χ² that a parabola may leave where the readings are said to bend smoothly.
_BENT_SHARE = 0.05


def reasons(
    bench: Bench, judgement: Judgement, requirement: Requirement, rule: DecisionRule
) -> list[tuple[Cause, str]]:
    """Say of each sensor what its verdict rests on.

    Parameters
    ----------
    bench : Bench
    judgement : Judgement
    requirement : Requirement
    rule : DecisionRule

    Returns
    -------
    list of (cause, reason)
    """
    places, measured = judgement.measured.places, judgement.measured
    order = np.argsort(bench.sensor, kind="stable")
    ends = np.cumsum(np.bincount(bench.sensor, minlength=len(bench.names)))
    rows = np.split(order, ends[:-1])
    nominal = np.where(places.located[:, np.newaxis], [0.0, 0.0], np.nan)
    best = region_probability(nominal, places.covariance, requirement)
    words: list[tuple[Cause, str]] = []
    for i, own in enumerate(rows):
        if i in bench.problems:
            # What was read is told as it was written.
            words.append(("unusable readings", bench.problems[i]))
        elif measured.skipped[i]:
            words.append(_out_of_range(bench, own[measured.out_of_range[own]], requirement))
        elif judgement.inconsistent[i]:
            words.append(_inconsistent(i, own, bench, judgement, requirement))
        elif not places.located[i]:
            words.append(_one_temperature(i, own, bench, judgement, requirement))
        elif judgement.verdict[i] == "accept":
            words.append(("conforms", _accepted(i, judgement, rule)))
        elif judgement.verdict[i] == "reject":
            words.append(_rejected(i, own, bench, judgement, requirement, rule))
        else:
            words.append(("too uncertain", _uncertain(i, judgement, rule, float(best[i]))))
    return [
        (cause, text if i in bench.problems else with_minus(text))
        for i, (cause, text) in enumerate(words)
    ]


def _out_of_range(bench: Bench, own: Indices, requirement: Requirement) -> tuple[Cause, str]:
    where = _listed([f"{t:g} °C" for t in bench.t_c[own]])
    what = f"the reading at {where} lies" if len(own) == 1 else f"the readings at {where} lie"
    return "out of range", (
        f"{what} outside the valid range of {requirement.name}, {requirement.range_text}, where "
        "no tolerance is stated; leave out what lies outside knowingly, or check against a family "
        "that covers it"
    )


def _inconsistent(
    i: int, own: Indices, bench: Bench, judgement: Judgement, requirement: Requirement
) -> tuple[Cause, str]:
    """Name the readings of which each by itself could be the wrong one.

    Without reading j, χ² falls by the square of its score.
    """
    from scipy.special import chdtrc

    places, measured = judgement.measured.places, judgement.measured
    row = np.cumsum(~measured.skipped[bench.sensor]) - 1  # of a reading among the located
    scores = np.abs(places.left_out_score[row[own]])
    off_k = judgement.readings.left_out_k[own]
    dof = int(places.dof[i])
    rest = np.maximum(places.chi2[i] - scores**2, 0.0)
    explains = np.isfinite(scores) & (
        (chdtrc(max(dof - 1, 1), rest) >= SMALL_P) if dof > 1 else True
    )
    # Scores that differ by rounding only, as those of three readings do, are the same.
    ranked = np.argsort(-np.nan_to_num(np.round(scores, 6), nan=-1.0), kind="stable")
    culprits = [j for j in ranked if explains[j]]
    text = (
        f"the readings disagree by more than their uncertainties allow (χ² = {places.chi2[i]:.3g} "
        f"with {degrees(dof)}, p = {judgement.p_value[i]:.2g}): "
    )
    rejected = judgement.verdict[i] == "reject"
    if rejected and len(culprits) != 1 and _bends(i, own, judgement):
        return _another_curve(i, own, bench, judgement, requirement)

    def told(j: int) -> str:
        return f"the one at {bench.t_c[own[j]]:g} °C is off by {off_k[j]:+z.2g} K"

    if len(culprits) == 1:
        text += f"{told(culprits[0])} from what the others say"
    elif culprits:
        text += f"any one of these could be the wrong one: {_listed([*map(told, culprits)])}"
        text += " from what the others say"
    else:
        text += f"more than one is off; most of all, {told(int(ranked[0]))} from what the rest say"
    if rejected:
        return "inconsistent readings", (
            f"{text}. Whichever one is left out, the rest still reject the part: "
            f"{_beyond(own, bench, judgement, requirement)}"
        )
    return "inconsistent readings", f"{text}. Measure again"


def _bends(i: int, own: Indices, judgement: Judgement) -> bool:
    """Whether a parabola in ln ρ takes up nearly all that the readings disagree by."""
    from scipy.special import chdtri

    measured = judgement.measured
    a, y, u = (values[own] for values in (measured.a, measured.deviation, measured.u))
    if len(np.unique(a)) < 4:
        return False
    scaled = (a - a.mean()) / np.ptp(a)
    design = np.stack([np.ones_like(a), scaled, scaled**2], axis=1) / u[:, np.newaxis]
    solution = np.linalg.lstsq(design, y / u, rcond=None)[0]
    left = float(np.sum((y / u - design @ solution) ** 2))
    noise = float(chdtri(len(a) - 3, SMALL_P))
    return left <= max(_BENT_SHARE * float(measured.places.chi2[i]), noise)


def _another_curve(
    i: int, own: Indices, bench: Bench, judgement: Judgement, requirement: Requirement
) -> tuple[Cause, str]:
    places = judgement.measured.places
    return "another curve", (
        f"the readings follow another curve than that of {requirement.name}: they bend away from "
        f"it smoothly (χ² = {places.chi2[i]:.3g} with {degrees(int(places.dof[i]))}, p = "
        f"{judgement.p_value[i]:.2g}), as a part of another material does, and are nearest to it "
        f"with {_place(i, judgement)}; {_beyond(own, bench, judgement, requirement)}"
    )


def _beyond(own: Indices, bench: Bench, judgement: Judgement, requirement: Requirement) -> str:
    """Count the readings that reject the part each by itself, and show the worst."""
    measured = judgement.measured
    low, high = requirement.region.support(measured.a[own])
    deviation = measured.deviation[own]
    far = np.maximum(low - deviation, deviation - high) / measured.u[own]
    worst = int(np.argmax(far))
    return (
        f"{np.count_nonzero(judgement.condemned[own])} of {len(own)} readings lie outside their "
        f"limits by more than their uncertainties allow, most of all that at "
        f"{bench.t_c[own[worst]]:g} °C with {_percent(deviation[worst], None)}, where "
        f"{_span(float(low[worst]), float(high[worst]))} is allowed"
    )


def _one_temperature(
    i: int, own: Indices, bench: Bench, judgement: Judgement, requirement: Requirement
) -> tuple[Cause, str]:
    places, t_c = judgement.measured.places, float(bench.t_c[own[0]])
    low, high = requirement.region.support(places.a_mean[i])
    text = (
        f"at {t_c:g} °C it deviates by {_percent(places.shift[i], places.u_shift[i])}, where "
        f"{_span(float(low), float(high))} is allowed"
    )
    if judgement.verdict[i] == "reject":
        return "off at one temperature", (
            f"{text}; one temperature does not tell a shift of R25 from a wrong B value"
        )
    return "one temperature only", (
        f"{text}; that can reject a sensor but not accept it, since it says nothing of the others: "
        "measure at a second temperature, far from this one"
    )


def _accepted(i: int, judgement: Judgement, rule: DecisionRule) -> str:
    text = f"{_place(i, judgement)}, within the tolerance"
    if rule.name == "simple":
        return f"{text} (the estimate, by simple acceptance)"
    return f"{text} with a probability of {format_probability(float(judgement.probability[i]))}"


def _rejected(
    i: int, own: Indices, bench: Bench, judgement: Judgement, requirement: Requirement,
    rule: DecisionRule,
) -> tuple[Cause, str]:  # fmt: skip
    places = judgement.measured.places
    gamma, beta = places.estimate[i]
    lowest, highest = (
        requirement.region.vertices.min(axis=0),
        requirement.region.vertices.max(axis=0),
    )
    u_gamma, u_beta = np.sqrt(np.diag(places.covariance[i]))
    # Beyond its own limit; and by so much that it is not the uncertainty's doing.
    beyond = np.maximum(lowest - places.estimate[i], places.estimate[i] - highest)
    shifted, bent = beyond > np.maximum(0.0, rule.guard_factor * np.array([u_gamma, u_beta]))
    told = []
    if shifted:
        told.append(f"shifted: R25 is off by {_percent(gamma, u_gamma)}, where "
                    f"{_span(lowest[0], highest[0])} is allowed")  # fmt: skip
    if bent:
        told.append(f"bent: B is off by {_percent(beta, u_beta, log=False)}, where "
                    f"{_span(lowest[1], highest[1], log=False)} is allowed")  # fmt: skip
    if told:
        cause: Cause = "shifted and bent" if len(told) > 1 else "shifted" if shifted else "bent"
        if len(told) == 1 and beyond[1 if shifted else 0] > 0.0:
            other, u = (
                (f"B, off by {_percent(beta, u_beta, log=False)}", u_beta)
                if shifted
                else (f"R25, off by {_percent(gamma, u_gamma)}", u_gamma)
            )
            told.append(
                f"{other} with a standard uncertainty of {100.0 * u:.2g} %, is not known well "
                "enough to say whether it is off too"
            )
        return cause, "; ".join(told)
    # Neither by itself: say where both together lead out of the band the most.
    a = judgement.measured.a[own]
    low, high = requirement.region.support(a)
    fitted = gamma + beta * a
    worst = int(np.argmax(np.maximum(fitted - high, low - fitted)))
    if beyond.max() > 0.0:
        pct = [100.0 * u_gamma * np.exp(gamma), 100.0 * u_beta]
        allowed = _span(float(low[worst]), float(high[worst]))
        return "shifted or bent", (
            f"shifted or bent: at {bench.t_c[own[worst]]:g} °C it is off by "
            f"{_percent(fitted[worst], None)}, where {allowed} is allowed, but which of the two "
            f"is not known: {_place(i, judgement)}, with standard uncertainties of "
            f"{pct[0]:.2g} % and {pct[1]:.2g} %"
        )
    return "shifted and bent", (
        f"shifted and bent: {_place(i, judgement)}, which together lead out of the tolerance; at "
        f"{bench.t_c[own[worst]]:g} °C by {_percent(fitted[worst], None)}, where "
        f"{_span(float(low[worst]), float(high[worst]))} is allowed"
    )


def _uncertain(i: int, judgement: Judgement, rule: DecisionRule, best: float) -> str:
    text = (
        f"{_place(i, judgement)}, within the tolerance with a probability of "
        f"{format_probability(float(judgement.probability[i]))}, which its uncertainties leave "
        "too open for a verdict"
    )
    if best < 1.0 - rule.risk:
        text += "; measured like this, even a part exactly as nominal would not be accepted"
    return f"{text}. Measure more accurately, or at more temperatures further apart"


def _place(i: int, judgement: Judgement) -> str:
    places = judgement.measured.places
    (gamma, beta), (u_gamma, u_beta) = places.estimate[i], np.sqrt(np.diag(places.covariance[i]))
    told = []
    if u_gamma > 0.0:
        told.append(f"R25 off by {_percent(gamma, u_gamma)}")
    if u_beta > 0.0:
        told.append(f"B off by {_percent(beta, u_beta, log=False)}")
    return " and ".join(told)


def _percent(value: float, u: float | None, *, log: bool = True) -> str:
    pct = 100.0 * (np.expm1(value) if log else value)
    digits = 2 if u is None else int(np.clip(1 - np.floor(np.log10(100.0 * u)), 0, 6))
    return f"{pct:+z.{digits}f} %"


def _span(low: float, high: float, *, log: bool = True) -> str:
    ends = np.array([low, high])
    low, high = 100.0 * (np.expm1(ends) if log else ends)
    return f"{low:+z.3g} to {high:+z.3g} %"


def _listed(texts: list[str]) -> str:
    more = len(texts) - _SHOWN
    if more > 0:
        return f"{', '.join(texts[:_SHOWN])} and {more} more"
    return " and ".join(filter(None, [", ".join(texts[:-1]), texts[-1]]))
