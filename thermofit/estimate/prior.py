"""A prior: what is known of how a thermistor bends before it is measured."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.curve import Curve
from thermofit.equations.base import Array
from thermofit.equations.bent_beta import BentBeta
from thermofit.errors import InputError
from thermofit.validation import check_range, checked_covariance

__all__ = ["KILOKELVIN", "Prior"]

KILOKELVIN = 1e3
"""In units of this, B and the bend are of order one: b_k goes with 10³ K to the power k."""


@dataclass(frozen=True, eq=False)
class Prior:
    """A Gaussian over B and the bend of ln(R/R25) = B·u + b2·u² + …, u = 1/T − 1/298.15 K.

    R25 is free: nothing is known of it before it is measured.

    Parameters
    ----------
    mean : array_like, shape (m,)
        Of B, b2, b3 … in powers of 10³ K: the k-th in (10³ K)^k.  Two to six.
    covariance : array_like, shape (m, m)
        In the same units, positive definite.
    t_range_c : (float, float)
        Temperatures in °C over which it is meant.
    origin : str
        Whose bend it is, as a report shall say: "two lots of our own".

    Raises
    ------
    InputError
        Numbers that are no mean and covariance.

    Examples
    --------
    >>> prior = Prior([3.9, -0.16], [[0.16, 0], [0, 0.001]], origin="two lots of our own")
    >>> round(prior.curve(r25_ohm=10e3).b_value(25, 85))
    3990
    """

    mean: Array
    covariance: Array
    t_range_c: tuple[float, float] = (-40.0, 125.0)
    origin: str = "the materials of a given prior"

    def __init__(
        self,
        mean: npt.ArrayLike,
        covariance: npt.ArrayLike,
        t_range_c: tuple[float, float] = (-40.0, 125.0),
        origin: str = "the materials of a given prior",
    ) -> None:
        centre = np.array(as_float_array(mean, "mean"))
        if centre.ndim != 1 or not 2 <= centre.size <= 6 or not np.isfinite(centre).all():
            raise InputError(
                "the mean of a prior has two to six finite numbers: B, b2, … in powers of 10³ K"
            )
        spread = checked_covariance(covariance, centre.size)
        if spread is None:
            raise InputError("a prior needs a covariance: how well its numbers are known")
        try:
            np.linalg.cholesky(spread)
        except np.linalg.LinAlgError:
            raise InputError(
                "the covariance of a prior must be positive definite: give each number a variance "
                "above zero and no correlation of ±1"
            ) from None
        check_range(*t_range_c)
        centre.flags.writeable = False
        for name, value in (
            ("mean", centre), ("covariance", spread),
            ("t_range_c", (float(t_range_c[0]), float(t_range_c[1]))), ("origin", origin),
        ):  # fmt: skip
            object.__setattr__(self, name, value)

    def __reduce__(self) -> tuple[type[Prior], tuple[Array, Array, tuple[float, float], str]]:
        return Prior, (self.mean, self.covariance, self.t_range_c, self.origin)

    @property
    def equation(self) -> BentBeta:
        """The form that the prior is about."""
        return BentBeta(len(self.mean) + 1)

    @property
    def standard_uncertainties(self) -> Array:
        """Square roots of the variances, in powers of 10³ K."""
        result: Array = np.sqrt(np.diag(self.covariance))
        return result

    def curve(self, r25_ohm: float) -> Curve:
        """Give the curve of the mean.

        Parameters
        ----------
        r25_ohm : float
            Resistance at 25 °C in ohms.
        """
        return self._curve(r25_ohm, self.mean)

    def draw(self, rng: np.random.Generator, r25_ohm: float = 10e3) -> Curve:
        """Draw a material at random.

        Parameters
        ----------
        rng : numpy.random.Generator
        r25_ohm : float
            Resistance at 25 °C in ohms.

        Raises
        ------
        NotMonotoneError
            What was drawn turns within the range: draw again.
        """
        step = np.linalg.cholesky(self.covariance) @ rng.standard_normal(len(self.mean))
        return self._curve(r25_ohm, self.mean + step)

    def widened(self, factor: float) -> Prior:
        """Give the same prior with all variances multiplied.

        Parameters
        ----------
        factor : float
            Above zero.
        """
        if not (np.isfinite(factor) and factor > 0.0):
            raise InputError(f"a prior is widened by a positive factor, not {factor!r}")
        return Prior(self.mean, self.covariance * factor, self.t_range_c, self.origin)

    def _curve(self, r25_ohm: float, bend: Array) -> Curve:
        plain = bend * KILOKELVIN ** np.arange(1, len(bend) + 1)
        return Curve(self.equation, [r25_ohm, *plain], *self.t_range_c)
