"""A population of parts: how their places (γ, β) are spread."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.errors import InputError

__all__ = ["Population"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False, init=False)
class Population:
    """Parts whose places (γ, β) are normally distributed.

    γ is a part's deviation of ln R25 from the nominal curve and β the relative
    deviation of its log ratio, as throughout `thermofit.tolerance`.

    Parameters
    ----------
    mean : array_like, shape (2,)
        Mean (γ, β).
    covariance : array_like, shape (2, 2)
        Their covariance, positive definite.

    Raises
    ------
    InputError
        Other shapes, numbers that are not finite, or a covariance that is none.

    Examples
    --------
    R25 spread by 0.4 % and B by 0.3 % (standard deviations), independent:

    >>> print(Population([0.0, 0.0], [[0.004**2, 0.0], [0.0, 0.003**2]]))
    normal, R25 +0.00 % (s = 0.40 %), B +0.00 % (s = 0.30 %), correlation +0.00
    """

    mean: Array
    covariance: Array

    def __init__(self, mean: npt.ArrayLike, covariance: npt.ArrayLike) -> None:
        mean = np.array(as_float_array(mean, "mean"))
        covariance = np.array(as_float_array(covariance, "covariance"))
        if mean.shape != (2,) or covariance.shape != (2, 2):
            raise InputError(
                "a population has a mean (γ, β) of shape (2,) and a covariance of shape (2, 2), "
                f"not {mean.shape} and {covariance.shape}"
            )
        if not (np.isfinite(mean).all() and np.isfinite(covariance).all()):
            raise InputError("the mean and the covariance of a population must be finite")
        variances = np.diag(covariance)
        if not (
            (variances > 0.0).all()
            and abs(covariance[0, 1] - covariance[1, 0]) <= 1e-9 * np.sqrt(variances.prod())
            and covariance[0, 1] ** 2 < variances.prod()
        ):
            raise InputError(
                "the covariance of a population must be symmetric and positive definite, not "
                f"{covariance.tolist()}; for parts that do not differ in B, give B a small spread"
            )
        for name, value in (("mean", mean), ("covariance", covariance)):
            value.flags.writeable = False
            object.__setattr__(self, name, value)

    def along(self, a: npt.ArrayLike) -> tuple[Array, Array]:
        """Mean and standard deviation of the deviation γ + β·a of ln R.

        Parameters
        ----------
        a : array_like, any shape
            ln ρ(T) of the nominal curve.

        Returns
        -------
        mean, deviation : array
            Of the shape of `a`.
        """
        a = np.asarray(a, dtype=np.float64)
        c = self.covariance
        variance = c[0, 0] + a * (2.0 * c[0, 1] + a * c[1, 1])
        return self.mean[0] + a * self.mean[1], np.sqrt(variance)

    def __str__(self) -> str:
        s = np.sqrt(np.diag(self.covariance))
        return (
            f"normal, R25 {100 * np.expm1(self.mean[0]):+z.2f} % (s = {100 * s[0]:.2f} %), "
            f"B {100 * self.mean[1]:+z.2f} % (s = {100 * s[1]:.2f} %), "
            f"correlation {self.covariance[0, 1] / (s[0] * s[1]):+z.2f}"
        )
