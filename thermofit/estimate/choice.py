"""Which equation: leave-one-out error in kelvin and AICc, simpler first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermofit.equations.base import Array

__all__ = ["CANDIDATES", "Candidate", "aicc", "choose"]

CANDIDATES: tuple[str, ...] = (
    "beta",
    "steinhart-hart",
    "log-polynomial-3",
    "inverse-polynomial-3",
    "shifted-exponential",
    "log-polynomial-4",
    "inverse-polynomial-4",
    "log-polynomial-5",
    "inverse-polynomial-5",
)
"""Equations that are compared for a resistance that falls with temperature."""

_AICC_ALIKE = 2.0
_AICC_AGAINST = 10.0


@dataclass(frozen=True)
class Candidate:
    """How one equation did.

    Parameters
    ----------
    name : str
        Of the equation.
    terms : int
        Its number of coefficients.
    loo_rms_k : float or None
        Root mean square leave-one-out error in kelvin.
    aicc : float or None
        Akaike's information criterion, corrected for few points, on the
        temperature residuals; infinite where there are too few points for it.
    note : str
        Why it was not ranked; "" if it was.
    """

    name: str
    terms: int
    loo_rms_k: float | None = None
    aicc: float | None = None
    note: str = ""

    @property
    def ranked(self) -> bool:
        """Whether it was compared with the others."""
        return not self.note


def aicc(residuals: Array, sigma: Array | None, terms: int) -> float:
    """Akaike's information criterion with the correction for few points.

    Parameters
    ----------
    residuals : array, shape (n,)
        Temperature residuals in kelvin.
    sigma : array, shape (n,), or None
        Their standard uncertainties, where known; else the scatter counts as one
        more parameter.
    terms : int
        Coefficients of the equation.

    Returns
    -------
    float
        Infinite where the correction has too few points.

    References
    ----------
    K. P. Burnham, D. R. Anderson, Model Selection and Multimodel Inference, 2nd
    ed., Springer 2002, eq. 2.4 and 7.4.
    """
    n = len(residuals)
    if sigma is not None:
        count = terms
        misfit = float(np.sum((residuals / sigma) ** 2))
    else:
        count = terms + 1
        misfit = n * float(np.log(max(float(np.mean(residuals**2)), 1e-300)))
    spare = n - count - 1
    if spare <= 0:
        return float("inf")
    return misfit + 2.0 * count + 2.0 * count * (count + 1) / spare


def choose(candidates: Sequence[Candidate], loo: Sequence[Array]) -> tuple[int, str]:
    """Choose among ranked candidates.

    Those that AICc speaks against strongly are put aside.  Of the rest, the one
    with the smallest leave-one-out error leads, and a simpler one is preferred if
    its error is within noise of that (the mean difference of the squared errors is
    within its own standard error) and AICc does not speak against it at all; of
    equally simple ones, the smaller error is taken.

    Parameters
    ----------
    candidates : sequence of Candidate
        Ranked ones only, simplest first.
    loo : sequence of array, shape (n,)
        Their leave-one-out errors: in kelvin, or over their standard
        uncertainties where those are known.

    Returns
    -------
    index : int
        Place of the chosen one.
    reason : str
        Why, in words.

    References
    ----------
    The one-standard-error rule: L. Breiman, J. Friedman, R. Olshen, C. Stone,
    Classification and Regression Trees, Wadsworth 1984, section 3.4.3.  Differences
    of AICc of 2 and of 10: Burnham and Anderson, section 2.6.
    """
    squared = [errors**2 for errors in loo]
    lowest = min(_number(candidate.aicc) for candidate in candidates)
    above = [
        0.0 if np.isinf(lowest) else _number(candidate.aicc) - lowest for candidate in candidates
    ]
    tenable = [index for index, excess in enumerate(above) if excess <= _AICC_AGAINST]
    best = min(tenable, key=lambda index: squared[index].mean())
    alike = [best]
    for index in tenable:
        excess = squared[index] - squared[best]
        noise = excess.std(ddof=1) / np.sqrt(len(excess))
        if above[index] <= _AICC_ALIKE and excess.mean() <= noise:
            alike.append(index)
    fewest = min(candidates[index].terms for index in alike)
    pick = min(
        (index for index in alike if candidates[index].terms == fewest),
        key=lambda index: squared[index].mean(),
    )
    return pick, _reason(candidates, above, pick, best)


def _reason(candidates: Sequence[Candidate], above: Sequence[float], pick: int, best: int) -> str:
    """Why one was chosen; what has a smaller error in kelvin is named, and why it was not."""
    chosen = candidates[pick]
    error = f"leave-one-out error {chosen.loo_rms_k:.3g} K"
    if pick != best:
        return (
            f"{chosen.name}: {error}, within noise of the smallest "
            f"({candidates[best].loo_rms_k:.3g} K, {candidates[best].name}), with fewer "
            "coefficients"
        )
    smallest = min(range(len(candidates)), key=lambda index: _number(candidates[index].loo_rms_k))
    rival = candidates[smallest]
    if smallest == pick or rival.loo_rms_k == chosen.loo_rms_k:
        return f"{chosen.name}: smallest {error}"
    if above[smallest] > _AICC_AGAINST:
        return (
            f"{chosen.name}: {error}; {rival.name} has {rival.loo_rms_k:.3g} K, but AICc, "
            f"{above[smallest]:.3g} higher, says that it has too many coefficients for these points"
        )
    return (
        f"{chosen.name}: {error}, the smallest in terms of the uncertainties of the points "
        f"({rival.name} has {rival.loo_rms_k:.3g} K)"
    )


def _number(value: float | None) -> float:
    return float("inf") if value is None else value
