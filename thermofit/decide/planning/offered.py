"""Baths as people state them: a bath, a budget, or a temperature with its uncertainty."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thermofit.baths.bath import Bath
from thermofit.budget import Budget, Contribution, require_number
from thermofit.errors import InputError
from thermofit.estimate.prior import Prior

__all__ = ["BathLike", "bath_like", "bath_of", "budget_of", "kind_of", "refuse_unknown_range"]

BathLike = Bath | Budget | tuple[float, float]
"""A bath; the budget of its temperature in °C; or that in °C and its standard uncertainty in K."""


def bath_of(stated: BathLike, prior: Prior) -> Bath | Budget:
    """Take a bath as it was stated, or say what is wrong with it."""
    if isinstance(stated, (Bath, Budget)):
        budget = stated.budget if isinstance(stated, Bath) else stated
        if budget.unit != "°C":
            raise InputError(f"the budget of a bath is in °C, not in {budget.unit}")
        bath = stated
    elif isinstance(stated, (tuple, list)) and len(stated) == 2:
        t_c, u_t_k = stated
        require_number(t_c, "the temperature of a bath", "°C")
        require_number(u_t_k, f"the standard uncertainty of the bath at {t_c:g} °C", "K", least=0.0)
        bath = Budget(t_c, "°C", [Contribution("temperature", u_t_k, k=1.0)])
    else:
        raise InputError(
            "a bath is a Bath such as tf.ice_point(), a Budget in °C, or a pair of its "
            f"temperature in °C and its standard uncertainty in K, not {stated!r}"
        )
    t_c, (low, high) = budget_of(bath).value, prior.t_range_c
    if not low <= t_c <= high:
        raise InputError(
            f"the bath at {t_c:g} °C lies outside {low:g} to {high:g} °C, over which it is known "
            f"how such sensors bend{_fahrenheit(t_c, high)}; leave it out, or give a prior that "
            "reaches as far"
        )
    return bath


def bath_like(bath: Bath | Budget, t_c: float) -> Budget:
    """Make one at another temperature, of the same uncertainty and with what it shares."""
    parts = budget_of(bath).contributions
    own = float(np.linalg.norm([part.effect for part in parts if not part.shared]))
    shared = [replace(part, note="") for part in parts if part.shared]
    return Budget(t_c, "°C", [*shared, Contribution("bath", own, k=1.0)])


def budget_of(bath: Bath | Budget) -> Budget:
    """Budget of the temperature."""
    return bath.budget if isinstance(bath, Bath) else bath


def kind_of(bath: Bath | Budget) -> str:
    """What to call it."""
    return bath.kind if isinstance(bath, Bath) else "bath"


def refuse_unknown_range(t_range_c: tuple[float, float], prior: Prior) -> tuple[float, float]:
    """Take the range that matters, or say why nothing can be said of it."""
    try:
        low_c, high_c = t_range_c
    except (TypeError, ValueError):
        raise InputError(
            f"t_range_c is a pair of temperatures in °C such as (0, 100), not {t_range_c!r}"
        ) from None
    require_number(low_c, "the lower end of t_range_c", "°C")
    require_number(high_c, "the upper end of t_range_c", "°C")
    if low_c >= high_c:
        raise InputError(
            f"t_range_c runs from a lower to a higher temperature, not from {low_c:g} to "
            f"{high_c:g} °C"
        )
    low, high = prior.t_range_c
    if low_c < low or high_c > high:
        raise InputError(
            f"t_range_c goes from {low_c:g} to {high_c:g} °C, and how such sensors bend is known "
            f"from {low:g} to {high:g} °C{_fahrenheit(high_c, high)}; narrow it, or give a prior "
            "that reaches as far"
        )
    return float(low_c), float(high_c)


def _fahrenheit(t_c: float, highest_c: float) -> str:
    return " (is it in °F?)" if t_c > highest_c else ""
