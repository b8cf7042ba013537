"""Sensors on the bench against every hypothesis, as arrays."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.bench import Bench
from thermofit.decide.identification.evidence import evidence
from thermofit.decide.identification.hypothesis import Hypothesis

__all__ = [
    "LEAST_U",
    "LOOSE_RANGE_OHM",
    "Comparison",
    "Readings",
    "compare",
    "readings_of",
    "weigh",
]

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.intp]

LEAST_U = 1e-5
"""What is added to the uncertainty of ln R: 0.3 mK, below any bench's and far above rounding."""

LOOSE_RANGE_OHM = (1.0, 10e6)
"""Readings that follow no curve at all: each ln R by itself, even over this range."""


@dataclass(frozen=True, eq=False)
class Readings:
    """Readings of s sensors that have n each, arrays of shape (s, n).

    Parameters
    ----------
    t_c, ln_r : array
    u_ln_r : array
        Standard uncertainty of ln R from the meter.
    u_t_k : array
        That of the temperature in kelvin.
    """

    t_c: Array
    ln_r: Array
    u_ln_r: Array
    u_t_k: Array

    def with_one_more(self, more: Readings) -> Readings:
        """Add readings of shape (s, 1) to those of one sensor, or of as many."""
        count = len(more.t_c)

        def joined(own: Array, new: Array) -> Array:
            return np.hstack([np.broadcast_to(own, (count, own.shape[1])), new])

        return Readings(
            joined(self.t_c, more.t_c), joined(self.ln_r, more.ln_r),
            joined(self.u_ln_r, more.u_ln_r), joined(self.u_t_k, more.u_t_k),
        )  # fmt: skip


@dataclass(frozen=True, eq=False)
class Comparison:
    """What the readings of s sensors say of h hypotheses, the last of them another NTC.

    Parameters
    ----------
    log_density : array, shape (s, h + 1)
        ln p(readings); the column at the end is of readings that follow no curve.
        −∞ where a reading lies outside the valid range of a family.
    chi2, place, covariance : array, shape (s, h), (s, h, 2) and (s, h, 2, 2)
        See `Evidence`; NaN outside the valid range.
    """

    log_density: Array
    chi2: Array
    place: Array
    covariance: Array


def readings_of(bench: Bench, rows: Indices) -> Readings:
    """Take readings of a bench; `rows` of shape (s, n)."""
    r_ohm = bench.r_ohm[rows]
    u = np.hypot(bench.relative[rows], bench.u_r_ohm[rows] / r_ohm)
    return Readings(bench.t_c[rows], np.log(r_ohm), u, bench.u_t_k[rows])


def compare(readings: Readings, hypotheses: tuple[Hypothesis, ...]) -> Comparison:
    """Hold readings against hypotheses.

    The uncertainty of a temperature counts through the slope of the hypothesis
    ("effective variance").

    Parameters
    ----------
    readings : Readings
    hypotheses : tuple of Hypothesis, length h

    Returns
    -------
    Comparison
    """
    sensors, count = readings.t_c.shape
    size = len(hypotheses)
    log_density = np.full((sensors, size + 1), -np.inf)
    chi2 = np.full((sensors, size), np.nan)
    place, covariance = np.full((sensors, size, 2), np.nan), np.full((sensors, size, 2, 2), np.nan)
    where, back = np.unique(readings.t_c, return_inverse=True)
    for j, hypothesis in enumerate(hypotheses):
        at = hypothesis.expected(where)
        ln_r, a, alpha, bend, shape = (
            column[back].reshape(readings.t_c.shape)
            for column in (at.ln_r, at.a, at.alpha, at.bend, at.shape)
        )
        inside = np.isfinite(ln_r).all(axis=-1)
        u = np.sqrt(readings.u_ln_r**2 + (alpha * readings.u_t_k) ** 2 + shape**2 + LEAST_U**2)
        if not inside.any():
            continue
        found = evidence(
            (readings.ln_r - ln_r)[inside], u[inside], a[inside], bend[inside], hypothesis.region
        )
        log_density[inside, j], chi2[inside, j] = found.log_density, found.chi2
        place[inside, j], covariance[inside, j] = found.place, found.covariance
    log_density[:, -1] = -count * np.log(np.diff(np.log(LOOSE_RANGE_OHM))[0])
    return Comparison(log_density, chi2, place, covariance)


def weigh(log_density: Array, prior: Array) -> Array:
    """Posterior probabilities, by Bayes' theorem.

    Parameters
    ----------
    log_density : array, shape (s, k)
    prior : array, shape (k,)

    Returns
    -------
    array, shape (s, k)
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        log_posterior = log_density + np.log(prior)
        most = log_posterior.max(axis=-1, keepdims=True)
        weights = np.exp(log_posterior - most)
    result: Array = weights / weights.sum(axis=-1, keepdims=True)
    return result
