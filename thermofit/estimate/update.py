"""Generalised least squares in the plane with a Gaussian prior of the bend."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.linear import least_squares
from thermofit.estimate.prior import KILOKELVIN, Prior
from thermofit.units import T0_K

__all__ = ["Update", "design_of", "update"]

# Readings whose errors are all common leave a combination of them without any error;
# a millionth of the uncertainty stands for it.
_LEAST_OWN = 1e-12


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
    variance = effects @ effects.T
    variance[np.diag_indices_from(variance)] += _LEAST_OWN * np.diag(variance).max()
    whiten = np.linalg.inv(np.linalg.cholesky(variance))
    spread = np.linalg.cholesky(prior.covariance)
    soften = np.zeros((terms - 1, terms))
    soften[:, 1:] = np.linalg.inv(spread)
    stacked = np.vstack([whiten @ design, soften])
    wanted = np.concatenate([whiten @ ln_r, soften[:, 1:] @ prior.mean])
    found = least_squares(stacked, wanted, np.ones(len(wanted)))
    misses = wanted - stacked @ found.coefficients
    covariance = found.factor @ found.factor.T
    gain = covariance @ (whiten @ design).T @ whiten
    before = np.zeros((terms, terms - 1))
    before[1:] = spread
    return Update(
        coefficients=found.coefficients,
        factor=found.factor,
        by_sources=gain @ effects,
        by_prior=before - gain @ (design @ before),
        chi2=float(misses @ misses),
    )
