"""Slips of the pen that would explain readings which no NTC gives."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.plane import Plane
from thermofit.estimate.prior import Prior
from thermofit.estimate.update import update
from thermofit.units import ZERO_C_K, format_ohm

__all__ = ["likely_slip", "nearer_in_fahrenheit"]

# χ² must fall to this part of itself, and to a usual size for its degrees of freedom.
_FAR_BETTER = 0.2
_USUAL = 4.0

# χ² must fall by this for °F to be worth a question without a conflict; no source.
_NEARER = 1.0

_TIED = 1e-6

# Where a slip is looked for; common practice, no source.
_POSSIBLE_C = (-80.0, 200.0)

_OF_R = {
    10.0: "the decimal point, ten times as much",
    0.1: "the decimal point, a tenth of it",
    1e3: "a prefix, a thousand times as much",
    1e-3: "a prefix, a thousandth of it",
}


def likely_slip(plane: Plane, prior: Prior, effects: Array) -> str:
    """Say which single slip would bring readings and prior together, if one would.

    Parameters
    ----------
    plane : Plane
    prior : Prior
    effects : array, shape (n, m)
        Errors of the readings in ln R.

    Returns
    -------
    str
        A question, or "" where no slip explains it.  Of two readings either one may be the
        wrong one: then both are asked about.
    """
    spare = len(plane.t_k) - 1
    now = update(prior, plane.inv_t, plane.ln_r, effects).chi2
    best, asked = min(now * _FAR_BETTER, _USUAL * spare), [""]
    for t_c, r_ohm, question in _hypotheses(plane.t_k - ZERO_C_K, plane.r_ohm):
        if t_c.min() < _POSSIBLE_C[0] or t_c.max() > _POSSIBLE_C[1] or _falls_not(t_c, r_ohm):
            continue
        chi2 = update(prior, 1.0 / (t_c + ZERO_C_K), np.log(r_ohm), effects).chi2
        if abs(chi2 - best) < _TIED:
            asked.append(f"Or {question[0].lower()}{question[1:]}")
        elif chi2 < best:
            best, asked = chi2, [question]
    return " ".join(asked)


def nearer_in_fahrenheit(plane: Plane, prior: Prior, effects: Array) -> bool:
    """Whether readings beyond the prior's range are within it, and nearer to it, if in °F."""
    from_f = (plane.t_k - ZERO_C_K - 32.0) / 1.8
    low, high = prior.t_range_c
    if from_f.min() < low or from_f.max() > high:
        return False
    now = update(prior, plane.inv_t, plane.ln_r, effects).chi2
    return update(prior, 1.0 / (from_f + ZERO_C_K), plane.ln_r, effects).chi2 < now - _NEARER


def _hypotheses(t_c: Array, r_ohm: Array) -> Iterator[tuple[Array, Array, str]]:
    from_f = (t_c - 32.0) / 1.8
    yield from_f, r_ohm, "Are the temperatures in °F?"
    yield t_c - ZERO_C_K, r_ohm, "Are the temperatures in kelvin?"
    for place in range(len(t_c)):
        moved = t_c.copy()
        moved[place] = from_f[place]
        yield moved, r_ohm, f"Is the {t_c[place]:g} in °F, that is {from_f[place]:.3g} °C?"
        for factor, slip in _OF_R.items():
            other = r_ohm.copy()
            other[place] *= factor
            yield (
                t_c,
                other,
                f"Is the {format_ohm(float(r_ohm[place]))} at {t_c[place]:g} °C a slip of {slip}?",
            )
    order = np.argsort(t_c)
    yield t_c[order], np.sort(r_ohm)[::-1], "Are two readings swapped?"


def _falls_not(t_c: Array, r_ohm: Array) -> bool:
    order = np.argsort(t_c, kind="stable")
    return bool(np.any(np.diff(r_ohm[order]) > 0.0))
