"""Slips of the pen that would explain readings which no NTC gives."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.plane import Plane
from thermofit.estimate.prior import Prior
from thermofit.estimate.update import update
from thermofit.units import ZERO_C_K, format_ohm

__all__ = ["likely_slip"]

# χ² must fall to this part of itself, and to a usual size for its degrees of freedom.
_FAR_BETTER = 0.2
_USUAL = 4.0

# Where a slip is looked for; common practice, no source.
_POSSIBLE_C = (-80.0, 200.0)


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
        A question, or "" where no slip explains it.
    """
    spare = len(plane.t_k) - 1
    now = update(prior, plane.inv_t, plane.ln_r, effects).chi2
    best, said = min(now * _FAR_BETTER, _USUAL * spare), ""
    for t_c, r_ohm, question in _hypotheses(plane.t_k - ZERO_C_K, plane.r_ohm):
        if t_c.min() < _POSSIBLE_C[0] or t_c.max() > _POSSIBLE_C[1] or _falls_not(t_c, r_ohm):
            continue
        chi2 = update(prior, 1.0 / (t_c + ZERO_C_K), np.log(r_ohm), effects).chi2
        if chi2 < best:
            best, said = chi2, question
    return said


def _hypotheses(t_c: Array, r_ohm: Array) -> Iterator[tuple[Array, Array, str]]:
    from_f = (t_c - 32.0) / 1.8
    yield from_f, r_ohm, "Are the temperatures in °F?"
    yield t_c - ZERO_C_K, r_ohm, "Are the temperatures in kelvin?"
    for place in range(len(t_c)):
        moved = t_c.copy()
        moved[place] = from_f[place]
        yield moved, r_ohm, f"Is the {t_c[place]:g} in °F, that is {from_f[place]:.3g} °C?"
        for factor, meant in ((10.0, "ten times as much"), (0.1, "a tenth of it")):
            other = r_ohm.copy()
            other[place] *= factor
            yield (
                t_c,
                other,
                (
                    f"Is the {format_ohm(float(r_ohm[place]))} at {t_c[place]:g} °C a slip of the "
                    f"decimal point, {meant}?"
                ),
            )
    order = np.argsort(t_c)
    yield t_c[order], np.sort(r_ohm)[::-1], "Are two readings swapped?"


def _falls_not(t_c: Array, r_ohm: Array) -> bool:
    order = np.argsort(t_c, kind="stable")
    return bool(np.any(np.diff(r_ohm[order]) > 0.0))
