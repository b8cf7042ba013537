"""One choice of baths, and the band that it is expected to leave."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np

from thermofit.arrays import unwrap
from thermofit.baths.bath import Bath
from thermofit.budget import Budget
from thermofit.decide.planning.prediction import Prediction, predict
from thermofit.equations.base import Array
from thermofit.errors import InputError
from thermofit.estimate.prior import Prior
from thermofit.estimate.prioruse import Contributions
from thermofit.interval import coverage_factor
from thermofit.readings import Reading

__all__ = ["Choice", "choice_of", "refuse_same", "shown_of"]

_SHOWN: Final = 5
"""At how many temperatures a band is shown, the ends of the range among them."""


@dataclass(frozen=True, eq=False)
class Choice:
    """Baths to read a sensor in, and the band of its curve that is expected of them.

    Parameters
    ----------
    readings : tuple of Reading
        As they are expected, from cold to hot; where R25 is not known, of a sensor of 1 Ω.
    t_c : array, shape (n,)
        Temperatures in °C, in equal steps over the range that matters.
    u_k : array, shape (n,)
        Standard uncertainty of the curve there, in kelvin.
    coverage : float
        Probability of the band.
    prediction : Prediction
        The same for any temperature.
    """

    readings: tuple[Reading, ...]
    t_c: Array
    u_k: Array
    coverage: float
    prediction: Prediction

    @property
    def baths(self) -> tuple[Bath | Budget, ...]:
        """The baths, from cold to hot."""
        return tuple(reading.bath for reading in self.readings)

    @property
    def baths_c(self) -> tuple[float, ...]:
        """Their temperatures in °C."""
        return tuple(reading.temperature.value for reading in self.readings)

    @cached_property
    def half_width_k(self) -> Array:
        """Half-width of the band in kelvin, shape (n,)."""
        half = self._half(self.u_k)
        half.flags.writeable = False
        return half

    @property
    def largest_k(self) -> float:
        """The largest half-width, in kelvin."""
        return float(self.half_width_k.max())

    @property
    def largest_at_c(self) -> float:
        """Where it is, in °C."""
        return float(self.t_c[int(np.argmax(self.half_width_k))])

    @property
    def mean_k(self) -> float:
        """Mean half-width over the range, in kelvin."""
        return float(self.half_width_k.mean())

    @property
    def dominating(self) -> str:
        """The contribution with the greatest mean square over the range."""
        return self.prediction.contributions(self.t_c).dominating

    @property
    def contributions(self) -> Contributions:
        """What the standard uncertainty is made of, at the ends of the range and between."""
        return self.contributions_at(shown_of(self.t_c))

    def contributions_at(self, t_c: Any) -> Contributions:
        """What the standard uncertainty is made of.

        Parameters
        ----------
        t_c : float or array_like, shape (n,)
            Temperatures in °C.

        Returns
        -------
        Contributions
        """
        return self.prediction.contributions(np.atleast_1d(unwrap(t_c, "t_c")[0]))

    def half_width_at(self, t_c: Any) -> Any:
        """Half-width of the band.

        Parameters
        ----------
        t_c : float or array_like, any shape
            Temperatures in °C.

        Returns
        -------
        float or array
            In kelvin.
        """
        t, dress = unwrap(t_c, "t_c")
        u_k = self.prediction.standard_uncertainty_k(np.ravel(t))
        return dress(self._half(u_k).reshape(t.shape))

    def _half(self, u_k: Array) -> Array:
        result: Array = coverage_factor(self.coverage, self.prediction.dof) * u_k
        return result

    def __str__(self) -> str:
        from thermofit.decide.planning.wording import choice_text

        return choice_text(self)

    def __repr__(self) -> str:
        where = ", ".join(f"{t_c:g}" for t_c in self.baths_c)
        return f"<Choice of {where} °C, largest ± {self.largest_k:.3g} K>"


def choice_of(readings: Sequence[Reading], prior: Prior, t_c: Array, coverage: float) -> Choice:
    """Predict what readings will tell."""
    prediction = predict(readings, prior)
    u_k = prediction.standard_uncertainty_k(t_c)
    u_k.flags.writeable = False
    return Choice(tuple(readings), t_c, u_k, coverage, prediction)


def refuse_same(readings: Sequence[Reading]) -> None:
    """Refuse two readings in one bath."""
    for place, reading in enumerate(readings):
        if any(reading.bath == other.bath for other in readings[:place]):
            raise InputError(
                f"two baths are the same, at {reading.temperature.value:g} °C with a standard "
                f"uncertainty of {reading.temperature.standard_uncertainty:.2g} K: leave one out; "
                "a second reading in one bath repeats the errors of the first"
            )


def shown_of(t_c: Array) -> Array:
    """Temperatures at which a band is shown."""
    return np.linspace(t_c[0], t_c[-1], _SHOWN)
