"""Readings in conflict with a prior, or with each other."""

from __future__ import annotations

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.chi2 import upper_tail
from thermofit.estimate.plane import Plane
from thermofit.estimate.prior import Prior
from thermofit.estimate.prioruse import PriorUse
from thermofit.estimate.slips import likely_slip
from thermofit.estimate.update import update

__all__ = ["CONFLICT_P", "conflict", "widening"]

CONFLICT_P = 0.01
"""Readings whose χ² is less likely than this are in conflict; common practice, no source."""

# Variance of B and of each bend, in powers of 10³ K, of a material of which nothing is known: B
# anywhere between nought and 10 000 K (common practice, no source).
_ANYTHING = 9.0


def widening(plane: Plane, prior: Prior, effects: Array, chi2: float) -> tuple[float, bool]:
    """How far readings in conflict widen a prior, and whether that leaves them in conflict.

    What even a material far from all NTC ceramics would leave of χ² is how far the readings
    are from each other.  A bend can account for as many degrees of freedom as there are
    temperatures beside the first, and coefficients.  Readings that are farther from each other
    than they should be are believed less by as much (Birge's ratio: R. T. Birge, Phys. Rev. 40
    (1932) 207–227; from memory).

    Returns
    -------
    float
        Factor on the prior's variances at which the readings are as far from it as is usual;
        1 where it is not the prior that they are far from.
    bool
        Whether the readings disagree among themselves.
    """

    def chi2_at(given: Prior) -> float:
        return update(given, plane.inv_t, plane.ln_r, effects).chi2

    def excess(log_factor: float) -> float:
        return chi2_at(prior.widened(float(np.exp(log_factor)))) - usual

    spare, size = len(plane.t_k) - 1, len(prior.mean)
    among = chi2_at(Prior(prior.mean, prior.covariance + _ANYTHING * np.eye(size)))
    bends = min(len(np.unique(plane.t_k)) - 1, size)
    rest = max(spare - bends, 1)
    scale = max(among / rest, 1.0)
    p_among, p_bent = upper_tail(among, rest), upper_tail((chi2 - among) / scale, bends)
    assert p_among is not None
    apart = p_among < CONFLICT_P
    usual = among + scale * bends if apart else max(float(spare), among)
    if chi2 <= usual or p_bent is None or (p_bent >= CONFLICT_P and p_among <= p_bent):
        return 1.0, True
    # Widened by this it is wider in every direction than what `among` was found with.
    top = float(np.log1p(_ANYTHING / np.linalg.eigvalsh(prior.covariance)[0]))
    if excess(top) >= 0.0:  # by rounding
        return float(np.exp(top)), apart
    from scipy.optimize import brentq

    return float(np.exp(brentq(excess, 0.0, top, xtol=1e-6))), apart


def conflict(
    plane: Plane, prior: Prior, effects: Array, use: PriorUse, factor: float, apart: bool
) -> str:
    """Say that readings are in conflict, with what, and what a slip may have done to them."""
    spare = len(plane.t_k) - 1
    how_far = (
        f"(χ² = {use.chi2:.3g} with {spare} degree{'s' if spare > 1 else ''} of freedom, "
        f"{_p_text(use.p_value)})"
    )
    slip = likely_slip(plane, prior, effects)
    if factor == 1.0:
        told = f"these readings disagree among themselves {how_far}, whatever the material"
        return f"{told}. {slip or 'One of them is wrong, or known less well than stated'}"
    told = (
        f"these readings do not bend as {prior.origin} do {how_far}. The readings were "
        f"believed: the prior was widened {np.sqrt(factor):.3g}-fold, and the band with it"
    )
    if apart:
        told += ". Even so they disagree among themselves: one of them is wrong, or known less well"
    if slip:
        return f"{told}. {slip}"
    return told if apart else f"{told}. A wrong reading, another unit, or a material apart?"


def _p_text(p_value: float | None) -> str:
    return "p < 1e-12" if p_value is None or p_value < 1e-12 else f"p = {p_value:.1g}"
