"""A plan as text for the bench."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from thermofit.decide.planning.choice import shown_of
from thermofit.decide.planning.offered import kind_of
from thermofit.readings import cautions_of
from thermofit.texttable import aligned, indented
from thermofit.units import format_ohm

if TYPE_CHECKING:
    from thermofit.decide.planning.choice import Choice
    from thermofit.decide.planning.extra import ExtraPoint
    from thermofit.decide.planning.outcome import Plan
    from thermofit.readings import Reading

__all__ = ["choice_text", "extra_text", "plan_text"]

_NEAR_K: Final = 5.0
"""Nearer than this to a bath of the choice, another one is not proposed."""
_FEW: Final = 3
"""With more points than these, one more is not worth a line."""


def plan_text(plan: Plan, *, with_cautions: bool = True) -> str:
    """Write a plan: what is at hand, the best choices, what dominates, one more bath."""
    cautions = cautions_of(plan.readings) if with_cautions else ()
    low, high = plan.t_range_c
    best = [plan.best(count) for count in plan.counts]
    ranked = "its largest half-width" if plan.by == "largest" else "its mean half-width"
    return "\n".join(
        [
            f"Where to measure, for {low:g} to {high:g} °C",
            _at_hand(plan),
            f"Best baths, by the {100 * plan.coverage:g} % band of the curve and {ranked}",
            _band(best),
            *_mostly(best),
            *_also(plan, best),
            f"(expected of a sensor that bends as {plan.prior.origin} do; else the band is wider)",
            *(f"! {caution}" for caution in cautions),
        ]
    )


def choice_text(choice: Choice) -> str:
    """Write a choice: its band, and what that is made of."""
    return "\n".join(
        [
            f"{100 * choice.coverage:g} % band of the curve, expected of these baths",
            _band([choice]),
            indented(choice.contributions),
            f"  most of it: {choice.dominating}",
        ]
    )


def extra_text(extra: ExtraPoint) -> str:
    """Write what one more bath brings."""
    before, after = extra.before, extra.after
    return (
        f"one more bath at {_degrees(extra.t_c)} °C (standard uncertainty {_kelvin(extra.u_t_k)} "
        f"K) would take the largest half-width of {_baths(before)} °C alone from "
        f"{_kelvin(before.largest_k)} to {_kelvin(after.largest_k)} K, the mean from "
        f"{_kelvin(before.mean_k)} to {_kelvin(after.mean_k)} K"
    )


def _at_hand(plan: Plan) -> str:
    known = plan.at_hand.sensor.known_r25
    rows = [["bath at hand", "t / °C", "u / K", "meter's u / K", *(["R about"] if known else [])]]
    for reading in plan.readings:
        cells = [
            kind_of(reading.bath),
            _degrees(reading.temperature.value),
            _kelvin(reading.temperature.standard_uncertainty),
            _kelvin(_meter_k(plan, reading)),
        ]
        rows.append([*cells, *([format_ohm(reading.resistance.value, 3)] if known else [])])
    return aligned(rows, indent="  ")


def _meter_k(plan: Plan, reading: Reading) -> float:
    """Standard uncertainty of a resistance, as the temperature it is worth."""
    resistance = reading.resistance
    alpha = plan.at_hand.sensor.curve.alpha(reading.temperature.value)
    return resistance.standard_uncertainty / resistance.value / abs(alpha)


def _band(choices: list[Choice]) -> str:
    shown = shown_of(choices[0].t_c)
    rows = [["points", "at / °C", "largest / K", "where", "mean / K",
             *(f"{_degrees(t)} °C" for t in shown)]]  # fmt: skip
    rows += [
        [
            str(len(choice.readings)), _baths(choice), f"± {_kelvin(choice.largest_k)}",
            f"{_degrees(choice.largest_at_c)} °C", f"± {_kelvin(choice.mean_k)}",
            *(f"± {_kelvin(half)}" for half in choice.half_width_at(shown)),
        ]
        for choice in choices
    ]  # fmt: skip
    return aligned(rows, left=2, indent="  ")


def _mostly(best: list[Choice]) -> list[str]:
    """What dominates, once for all numbers of points that it dominates."""
    by_name: dict[str, list[int]] = {}
    for choice in best:
        by_name.setdefault(choice.dominating, []).append(len(choice.readings))
    return [f"Most of it, with {_points(counts)}: {name}" for name, counts in by_name.items()]


def _also(plan: Plan, best: list[Choice]) -> list[str]:
    also, told = plan.also, []
    if also is None:
        return []
    for choice in best:
        if len(choice.readings) > _FEW or _has(plan, choice, also):
            continue
        extra = plan.extra(choice=choice)
        before, after = (
            one.largest_k if plan.by == "largest" else one.mean_k
            for one in (extra.before, extra.after)
        )
        told.append(
            f"from ± {_kelvin(before)} to ± {_kelvin(after)} K with "
            f"{_points([len(choice.readings)])}"
        )
    if not told:
        return []
    at, like = _degrees(also.temperature.value), ""
    if plan.also_like_c is not None and _degrees(plan.also_like_c) != at:
        like = f", as at {_degrees(plan.also_like_c)} °C"
    return [
        f"One more bath at {at} °C (standard uncertainty "
        f"{_kelvin(also.temperature.standard_uncertainty)} K{like}) would take the {plan.by}",
        *(f"  {text}" for text in told),
    ]


def _has(plan: Plan, choice: Choice, also: Reading) -> bool:
    """Whether a choice has the extra bath, or one like it where nobody asked for that one."""
    near = plan.also_like_c is not None and any(
        abs(t_c - also.temperature.value) < _NEAR_K for t_c in choice.baths_c
    )
    return near or also.bath in choice.baths


def _points(counts: list[int]) -> str:
    listed = " and ".join(filter(None, [", ".join(map(str, counts[:-1])), str(counts[-1])]))
    return f"{listed} point{'' if counts == [1] else 's'}"


def _baths(choice: Choice) -> str:
    return ", ".join(_degrees(t_c) for t_c in choice.baths_c)


def _degrees(t_c: float) -> str:
    return f"{round(t_c, 1):zg}"


def _kelvin(value_k: float) -> str:
    return f"{value_k:#.2g}".rstrip(".") if value_k < 99.5 else f"{value_k:.0f}"
