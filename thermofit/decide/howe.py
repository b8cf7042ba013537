"""Two-sided normal tolerance intervals, with measurement noise taken out."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

__all__ = ["half_width"]

Array = npt.NDArray[np.float64]


def half_width(variance: Array, noise: Array, n: int, coverage: float, confidence: float) -> Array:
    """Half-width about the mean of what holds a part of the population with confidence.

    Without noise, W. G. Howe's approximation (J. Am. Stat. Assoc. 64 (1969)
    610–620; ISO 16269-6 has the exact factors, for n of ten and more a few tenths of a
    percent away at most):  z·√(σ²(1 + 1/n)), with σ² the upper confidence limit of the variance,
    (n − 1)·s²/χ².  With noise of known variance, σ² is a limit of both together; the
    noise is taken from the spread of the parts, but not from the uncertainty of
    their mean, σ²/n.

    Parameters
    ----------
    variance : array
        Of the sample, noise included.
    noise : array
        Mean variance that measuring adds.
    n : int
        Size of the sample, 2 or more.
    coverage, confidence : float
        Between 0 and 1.

    Returns
    -------
    array

    Examples
    --------
    NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3: n = 43, 90 % with a
    confidence of 99 %, factor 2.217.

    >>> half_width(np.array(1.0), np.array(0.0), 43, 0.90, 0.99).round(3)
    np.float64(2.217)
    """
    from scipy.special import chdtri, ndtri

    upper = (n - 1) * variance / chdtri(n - 1, confidence)
    spread = np.maximum(upper - noise, 0.0) + upper / n
    result: Array = ndtri(0.5 + 0.5 * coverage) * np.sqrt(spread)
    return result
