"""What a prior contributed to a fit, and what the readings did."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from thermofit.equations.base import Array
from thermofit.estimate.prior import Prior
from thermofit.estimate.update import design_of
from thermofit.notebook import ShownInNotebooks
from thermofit.texttable import aligned
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["PRIOR", "Contributions", "PriorUse"]

_MOST_ROWS = 12
_LARGEST_ROWS = 8

PRIOR = "bend of the families"
"""Name of the prior among the contributions."""


@dataclass(frozen=True, eq=False)
class PriorUse:
    """How a prior was used in a fit.

    Parameters
    ----------
    prior : Prior
        As it was used, widened where the readings were in conflict with it.
    widened : float
        Factor on its variances; 1 where the readings agree with it.
    chi2 : float
        Of the readings against the prior as it was given; it has n − 1 degrees of freedom.
    p_value : float or None
        Probability of a larger one; None for a single reading.
    names : tuple of str, length m
        Sources of error of the readings.
    by_sources : array, shape (k, m)
        What one standard uncertainty of each does to ln R25, and to B, b2 … in powers of 10³ K.
    by_prior : array, shape (k, k − 1)
        What the prior does to them.
    """

    prior: Prior
    widened: float
    chi2: float
    p_value: float | None
    names: tuple[str, ...]
    by_sources: Array
    by_prior: Array

    @property
    def conflict(self) -> bool:
        """Whether the readings disagree with the prior."""
        return self.widened != 1.0


@dataclass(frozen=True, eq=False)
class Contributions(ShownInNotebooks):
    """What makes up the uncertainty of a curve.

    Parameters
    ----------
    t_c : array, shape (n,)
        Temperatures in °C.
    names : tuple of str, length m
        The largest first, by their greatest effect.
    u_k : array, shape (m, n)
        Standard uncertainty in kelvin that each brings.
    """

    t_c: Array
    names: tuple[str, ...]
    u_k: Array

    @classmethod
    def of(
        cls, t_c: Array, kelvin: Array, by_prior: Array, by_sources: Array, names: Sequence[str]
    ) -> Contributions:
        """Order what a prior and sources of error do to ln R25, and to B, b2 … in 10³ K.

        Parameters
        ----------
        t_c : array, shape (n,)
            Temperatures in °C.
        kelvin : array, shape (n,)
            What a change of ln R by one is worth there, in kelvin.
        by_prior : array, shape (k, k − 1)
        by_sources : array, shape (k, m)
        names : sequence of str, length m
            Of the sources.
        """
        gradient = design_of(1.0 / (t_c + ZERO_C_K), len(by_prior))
        prior = np.linalg.norm(gradient @ by_prior, axis=1)
        u_k = np.vstack([prior, np.abs(gradient @ by_sources).T]) * kelvin
        order = np.argsort(-u_k.max(axis=1), kind="stable")
        u_k, t_c = u_k[order], np.array(t_c)
        u_k.flags.writeable = t_c.flags.writeable = False
        every = (PRIOR, *names)
        return cls(t_c, tuple(every[place] for place in order), u_k)

    @property
    def standard_uncertainty_k(self) -> Array:
        """All of them together, shape (n,)."""
        result: Array = np.sqrt(np.sum(self.u_k**2, axis=0))
        return result

    @property
    def dominating(self) -> str:
        """The contribution with the greatest mean square over the temperatures."""
        return self.names[int(np.argmax(np.sum(self.u_k**2, axis=1)))]

    def to_frame(self) -> pd.DataFrame:
        """Give them as a pandas frame: a row for each contribution, a column for each t_c."""
        import pandas as pd

        frame = pd.DataFrame(self.u_k, index=pd.Index(self.names, name="contribution"))
        frame.columns = pd.Index(self.t_c, name="t_c")
        return frame

    def __str__(self) -> str:
        header = ["standard uncertainty / K at", *(f"{t:g} °C" for t in self.t_c)]
        seen = (self.u_k >= 0.0005).any(axis=1)
        names, u_k = list(np.array(self.names)[seen]), self.u_k[seen]
        if len(names) > _MOST_ROWS:
            rest = np.linalg.norm(u_k[_LARGEST_ROWS:], axis=0)
            names[_LARGEST_ROWS:] = [f"{len(names) - _LARGEST_ROWS} others together"]
            u_k = np.vstack([u_k[:_LARGEST_ROWS], rest])
        rows = [*zip(names, u_k, strict=True), ("together", self.standard_uncertainty_k)]
        return aligned([header, *([name, *(f"{u:.3f}" for u in row)] for name, row in rows)])
