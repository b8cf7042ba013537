"""What readings that are not yet taken will leave open."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermofit.equations.base import Array
from thermofit.errors import InputError
from thermofit.estimate.prior import Prior
from thermofit.estimate.prioruse import Contributions
from thermofit.estimate.sources import sources_of_budgets
from thermofit.estimate.update import Update, design_of, fewest_dof, settled, slope_per_k
from thermofit.readings import Reading
from thermofit.units import ZERO_C_K

__all__ = ["Prediction", "predict"]


@dataclass(frozen=True, eq=False)
class Prediction:
    """A curve that is expected, and how well it will be known.

    Parameters
    ----------
    found : Update
        What the expected readings make of the prior.
    names : tuple of str, length m
        Sources of error of the readings.
    dof : float
        Effective degrees of freedom of the curve, as in a fit.
    """

    found: Update
    names: tuple[str, ...]
    dof: float

    def standard_uncertainty_k(self, t_c: Array) -> Array:
        """Standard uncertainty of the curve in kelvin at temperatures in °C, shape (n,)."""
        gradient, slope = self._at(t_c)
        result: Array = np.linalg.norm(gradient @ self.found.factor, axis=1) / slope
        return result

    def contributions(self, t_c: Array) -> Contributions:
        """What it is made of, at temperatures in °C."""
        _, slope = self._at(t_c)
        return Contributions.of(
            t_c, 1.0 / slope, self.found.by_prior, self.found.by_sources, self.names
        )

    def _at(self, t_c: Array) -> tuple[Array, Array]:
        inv_t = 1.0 / (t_c + ZERO_C_K)
        slope = slope_per_k(inv_t, self.found.coefficients)
        if not (slope > 0.0).all():
            raise InputError(
                f"the curve to which the expected readings lead turns at {t_c[slope <= 0.0][0]:g} "
                "°C, within the range that matters; give another sensor, or a prior that bends less"
            )
        return design_of(inv_t, len(self.found.coefficients)), slope


def predict(readings: Sequence[Reading], prior: Prior) -> Prediction:
    """Weigh expected readings against a prior.

    Parameters
    ----------
    readings : sequence of Reading
        As they are expected.
    prior : Prior

    Returns
    -------
    Prediction

    Notes
    -----
    The covariance of a linear Gaussian update does not depend on what is read, but for the
    slope that takes kelvin to ln R.  That of the expected curve is taken, as a fit takes that
    of its own.  The prior is not widened: expected readings are in no conflict with it.
    """
    t_c = np.array([reading.temperature.value for reading in readings])
    ln_r = np.log([reading.resistance.value for reading in readings])
    sources = sources_of_budgets(
        [reading.temperature for reading in readings], [reading.resistance for reading in readings]
    )
    inv_t = 1.0 / (t_c + ZERO_C_K)
    found, _ = settled(prior, inv_t, ln_r, sources)
    return Prediction(found, sources.names, fewest_dof(found, inv_t, sources.dof))
