"""What vectorised fits find for a block of sensors."""

from __future__ import annotations

from dataclasses import dataclass

from thermofit.equations.base import Array
from thermofit.estimate.many.block import Mask

__all__ = ["Outcome", "Solved"]


@dataclass(frozen=True, eq=False)
class Outcome:
    """Curves of b sensors.

    Parameters
    ----------
    coefficients : array, shape (k, b)
    covariance : array, shape (k·(k + 1)/2, b)
        Lower triangle, row by row.
    sound : array of bool, shape (b,)
        Where all is as usual; the other sensors are fitted one by one.
    residuals_k : array, shape (m, b), or None
        Measured minus fitted temperatures in kelvin; None where there are none.
    chi2 : array, shape (b,), or None
        None where it is nought.
    """

    coefficients: Array
    covariance: Array
    sound: Mask
    residuals_k: Array | None = None
    chi2: Array | None = None


@dataclass(frozen=True, eq=False)
class Solved:
    """Solutions of b problems.

    Parameters
    ----------
    coefficients : array, shape (k, b)
    factor : array, shape (k, k, b)
        Upper triangular F with F·Fᵀ the covariance; what is below is not set.
    pivot : array, shape (b,)
        The least part of a column, squared, that the columns before it leave.
    """

    coefficients: Array
    factor: Array
    pivot: Array
