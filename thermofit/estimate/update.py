"""Generalised least squares in the plane with a Gaussian prior of the bend."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermofit.equations.base import Array
from thermofit.errors import FitError
from thermofit.estimate.linear import factorise
from thermofit.estimate.prior import KILOKELVIN, Prior
from thermofit.estimate.sources import ErrorSources
from thermofit.units import T0_K

__all__ = [
    "LEAST_OWN",
    "TOO_SMALL",
    "Update",
    "design_of",
    "fewest_dof",
    "settled",
    "slope_per_k",
    "update",
]

# Readings whose errors are all common leave a combination of them without any error;
# a millionth of the uncertainty of each stands for it.
LEAST_OWN = 1e-12


_MAX_REWEIGHTINGS = 50

TOO_SMALL = (
    "the uncertainties of the readings are so small beside what the prior leaves open that the "
    "digits of a number do not hold both: state them as large as they are"
)


@dataclass(frozen=True, eq=False)
class Update:
    """What readings make of a prior.

    Parameters
    ----------
    coefficients : array, shape (k,)
        ln R25, and B, b2, … in powers of 10³ K.
    factor : array, shape (k, k)
        F with F·Fᵀ their covariance.
    by_sources : array, shape (k, m)
        What one standard uncertainty of each source of error does to them.
    by_prior : array, shape (k, k − 1)
        What one standard uncertainty of each independent part of the prior does.
    chi2 : float
        Squared distance of the readings from what the prior leads to expect, in units of
        their common uncertainty; χ² with n − 1 degrees of freedom.
    """

    coefficients: Array
    factor: Array
    by_sources: Array
    by_prior: Array
    chi2: float


def design_of(inv_t: Array, terms: int) -> Array:
    """Powers of u in 1/(10³ K), shape (n, terms)."""
    return np.vander((inv_t - 1.0 / T0_K) * KILOKELVIN, terms, increasing=True)


def update(prior: Prior, inv_t: Array, ln_r: Array, effects: Array) -> Update:
    """Weigh readings against a prior.

    Parameters
    ----------
    prior : Prior
    inv_t, ln_r : array, shape (n,)
        Readings in the plane.
    effects : array, shape (n, m)
        What one standard uncertainty of each source of error does to ln R.

    Returns
    -------
    Update

    Raises
    ------
    FitError
        The errors of a reading cancel, or are too small beside what the prior leaves open.

    Notes
    -----
    ln R = A·c + E·e, e standard normal, c₁… ~ N(mean, S), c₀ free.  The readings are whitened
    by the Cholesky factor of E·Eᵀ, the prior by that of S, and both are solved together by
    QR factorisation, so that no normal equations are formed.

    References
    ----------
    C. E. Rasmussen, C. K. I. Williams, Gaussian Processes for Machine Learning, MIT Press
    2006, section 2.1 (Bayesian linear regression) and 2.7 (explicit basis functions with a
    vague prior).
    """
    terms = len(prior.mean) + 1
    design = design_of(inv_t, terms)
    n = len(ln_r)
    whiten = _whitening(effects)
    soften = np.zeros((terms - 1, terms))
    soften[:, 1:] = np.linalg.inv(np.linalg.cholesky(prior.covariance))
    stacked = np.vstack([whiten @ design, soften])
    wanted = np.concatenate([whiten @ ln_r, soften[:, 1:] @ prior.mean])
    try:
        q, factor = factorise(stacked)
    except FitError:
        raise FitError(TOO_SMALL) from None
    coefficients = factor @ (q.T @ wanted)
    misses = wanted - stacked @ coefficients
    return Update(
        coefficients=coefficients,
        factor=factor,
        by_sources=factor @ (q[:n].T @ (whiten @ effects)),
        by_prior=factor @ q[n:].T,
        chi2=float(misses @ misses),
    )


def _whitening(effects: Array) -> Array:
    """W with W·E·Eᵀ·Wᵀ = 1, E the effects, of readings known each to its own digits."""
    u_ln_r = np.linalg.norm(effects, axis=1)
    if (u_ln_r == 0.0).any():
        raise FitError(
            "the errors of a reading cancel altogether, or are too small for a number, which would "
            "make it infinitely heavy; state what they do not have in common, the resolution at "
            "least: uncertainties must not be so small"
        )
    relative = effects / u_ln_r[:, np.newaxis]
    correlation = relative @ relative.T
    correlation[np.diag_indices_from(correlation)] += LEAST_OWN
    result: Array = np.linalg.inv(np.linalg.cholesky(correlation)) / u_ln_r
    return result


def slope_per_k(inv_t: Array, coefficients: Array) -> Array:
    """−d ln R/dT in 1/K at 1/T, of ln R25 and coefficients in powers of 10³ K."""
    terms = len(coefficients)
    rising = design_of(inv_t, terms)[:, :-1] @ (coefficients[1:] * np.arange(1, terms))
    result: Array = rising * KILOKELVIN * inv_t**2
    return result


def settled(prior: Prior, inv_t: Array, ln_r: Array, sources: ErrorSources) -> tuple[Update, Array]:
    """Update in which the slope that errors of temperature need is that of the result.

    Parameters
    ----------
    prior : Prior
    inv_t, ln_r : array, shape (n,)
        Readings in the plane.
    sources : ErrorSources

    Returns
    -------
    found : Update
    effects : array, shape (n, m)
        Errors of the readings in ln R, with that slope.

    Raises
    ------
    FitError
        As of `update`.
    """
    slope = slope_per_k(inv_t, np.concatenate([[0.0], prior.mean]))
    found = update(prior, inv_t, ln_r, sources.in_plane(slope))
    for _ in range(_MAX_REWEIGHTINGS):
        before, slope = slope, slope_per_k(inv_t, found.coefficients)
        if (np.abs(slope - before) <= 1e-12 * np.abs(slope)).all() or not sources.t_k.any():
            break
        found = update(prior, inv_t, ln_r, sources.in_plane(slope))
    return found, sources.in_plane(slope)


def fewest_dof(found: Update, inv_t: Array, dof: Array) -> float:
    """Fewest effective degrees of freedom of the curve at the readings.

    Welch–Satterthwaite, JCGM 100, equation (G.2b); the prior counts as known.

    Parameters
    ----------
    found : Update
    inv_t : array, shape (n,)
    dof : array, shape (m,)
        Of each source of error.
    """
    if np.isinf(dof).all():
        return np.inf
    gradient = design_of(inv_t, len(found.coefficients))
    total = np.sum((gradient @ found.factor) ** 2, axis=1)
    spent = np.sum((gradient @ found.by_sources) ** 4 / dof, axis=1) / total**2
    return float(1.0 / spent.max()) if spent.max() > 0.0 else np.inf
