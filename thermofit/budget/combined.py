"""Uncertainty budgets: what makes up a standard uncertainty (JCGM 100:2008, clause 5)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from numbers import Real
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.budget.contribution import Contribution, require_number
from thermofit.errors import InputError
from thermofit.interval import coverage_factor, format_pair
from thermofit.notebook import ShownInNotebooks
from thermofit.texttable import aligned

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Budget"]


@dataclass(frozen=True)
class Budget(ShownInNotebooks):
    """A measured value and the contributions to its uncertainty.

    Parameters
    ----------
    value : float
        Best estimate, in `unit`.
    unit : str
        Unit of the value; the uncertainty of one in °C is in kelvin.
    contributions : sequence of Contribution
    correlations : sequence of (str, str, float)
        Correlation coefficients between contributions, by name.  Pairs that are not
        named are independent, unless they have one label `shared`.

    Raises
    ------
    InputError
        Two contributions of one name, a correlation between names that are not there,
        or correlations that cannot hold together.

    Notes
    -----
    Combined standard uncertainty: JCGM 100, equation (16).  Effective degrees of freedom:
    Welch–Satterthwaite, JCGM 100, equation (G.2b), which is for independent contributions;
    correlated ones enter it together, with the fewest degrees of freedom among them
    (common practice, no source).

    Examples
    --------
    >>> print(Budget(0.0, "°C", [Contribution("ice", 0.1), Contribution("reading", 0.05, k=2)]))
    contribution     ±  distribution  divisor      u  unit  sensitivity  effect / K  dof
    ice           0.10   rectangular    1.732  0.058     K            1       0.058    ∞
    reading      0.050        normal        2  0.025     K            1       0.025    ∞
    value 0.000 °C, standard uncertainty 0.063 K, effective degrees of freedom ∞
    ± 0.12 K at 95 % coverage (k = 1.96)
    """

    value: float
    unit: str
    contributions: tuple[Contribution, ...]
    correlations: tuple[tuple[str, str, float], ...] = ()

    def __init__(
        self,
        value: float,
        unit: str,
        contributions: Sequence[Contribution],
        correlations: Sequence[tuple[str, str, float]] = (),
    ) -> None:
        object.__setattr__(self, "value", require_number(value, "the value of a budget", unit))
        object.__setattr__(self, "unit", unit)
        object.__setattr__(self, "contributions", tuple(contributions))
        object.__setattr__(self, "correlations", tuple(correlations))
        names = [item.name for item in self.contributions]
        for name in names:
            if names.count(name) > 1:
                raise InputError(f"two contributions are named {name!r}; rename one of them")
        for one, other, r in self.correlations:
            if one not in names or other not in names or one == other:
                raise InputError(
                    f"a correlation is between {one!r} and {other!r}; "
                    f"the contributions are {', '.join(map(repr, names))}"
                )
            if not (isinstance(r, Real) and abs(r) <= 1.0):
                raise InputError(
                    f"the correlation of {one!r} and {other!r} must lie in −1…1, not {r!r}"
                )
        # Coefficients that were rounded for print may miss by some of their last digit.
        if names and np.linalg.eigvalsh(self._correlation_matrix).min() < -0.01:
            raise InputError(
                f"the correlations {self.correlations} contradict each other; check their signs"
            )

    @cached_property
    def _correlation_matrix(self) -> npt.NDArray[np.float64]:
        matrix = np.eye(len(self.contributions))
        place = {item.name: at for at, item in enumerate(self.contributions)}
        for i, one in enumerate(self.contributions):
            for j, other in enumerate(self.contributions):
                if one.shared and one.shared == other.shared:
                    matrix[i, j] = 1.0
        for first, second, r in self.correlations:
            matrix[place[first], place[second]] = matrix[place[second], place[first]] = r
        return matrix

    @property
    def uncertainty_unit(self) -> str:
        """Unit of the uncertainty."""
        return "K" if self.unit == "°C" else self.unit

    @property
    def standard_uncertainty(self) -> float:
        """Combined standard uncertainty, in `uncertainty_unit`."""
        return self._combined(range(len(self.contributions)))

    def _combined(self, places: Sequence[int]) -> float:
        effects = np.array([self.contributions[at].effect for at in places])
        variance = float(effects @ self._correlation_matrix[np.ix_(places, places)] @ effects)
        return math.sqrt(max(variance, 0.0))  # below zero only by rounding

    @property
    def dof(self) -> float:
        """Effective degrees of freedom, infinite where all uncertainties are known."""
        total, rest = 0.0, list(range(len(self.contributions)))
        u = self.standard_uncertainty
        while rest:
            group = [rest.pop(0)]
            for at in group:  # grows by what is correlated with a member
                joined = [other for other in rest if self._correlation_matrix[at, other] != 0.0]
                group += joined
                rest = [other for other in rest if other not in joined]
            fewest = min(self.contributions[at].dof for at in group)
            # The ratio first: a fourth power of a small uncertainty would underflow.
            total += (self._combined(group) / u) ** 4 / fewest if u else 0.0
        return 1.0 / total if total else np.inf

    def expanded_uncertainty(self, coverage: float = 0.95) -> float:
        """Half-width of the coverage interval, in `uncertainty_unit`.

        Parameters
        ----------
        coverage : float
            Probability, 0 < coverage < 1.

        Returns
        -------
        float
            Quantile of Student's t at the effective degrees of freedom, times the
            combined standard uncertainty (JCGM 100, G.6.4).

        Raises
        ------
        InputError
            The coverage is no probability between 0 and 1.
        """
        return float(coverage_factor(coverage, self.dof)) * self.standard_uncertainty

    def covariance(self, other: Budget) -> float:
        """Covariance with another value, through the contributions that they share.

        Parameters
        ----------
        other : Budget

        Returns
        -------
        float
            In the product of both uncertainty units (JCGM 100, F.1.2.3); 0 where no label
            `shared` is in both.

        Examples
        --------
        >>> ice, hot = (Budget(t, "°C", [Contribution("pt", 0.3, shared="pt")]) for t in (0, 70))
        >>> round(ice.covariance(hot), 4)
        0.03
        """
        return sum(
            mine.effect * theirs.effect
            for mine in self.contributions
            for theirs in other.contributions
            if mine.shared and mine.shared == theirs.shared
        )

    def to_frame(self) -> pd.DataFrame:
        """Give the budget as a pandas frame, a row for each contribution."""
        import pandas as pd

        names = [
            "name", "half_width", "distribution", "divisor", "standard_uncertainty", "unit",
            "sensitivity", "effect", "dof", "shared", "note",
        ]  # fmt: skip
        return pd.DataFrame(
            {name: [getattr(item, name) for item in self.contributions] for name in names}
        )

    def __str__(self) -> str:
        unit, u = self.uncertainty_unit, self.standard_uncertainty
        header = [
            "contribution", "±", "distribution", "divisor", "u", "unit", "sensitivity",
            f"effect / {unit}", "dof",
        ]  # fmt: skip
        rows = [
            [
                item.name, _two_digits(item.half_width), str(item.distribution),
                f"{item.divisor:.4g}", _two_digits(item.standard_uncertainty), item.unit,
                f"{item.sensitivity:.4g}", _two_digits(abs(item.effect)), _dof(item.dof),
            ]
            for item in self.contributions
        ]  # fmt: skip
        value, shown = format_pair(self.value, u)
        notes = [f"{item.name}: {item.note}" for item in self.contributions if item.note]
        return "\n".join(
            [
                aligned([header, *rows]),
                f"value {value} {self.unit}, standard uncertainty {shown} {unit}, "
                f"effective degrees of freedom {_dof(self.dof)}",
                f"± {_two_digits(self.expanded_uncertainty(0.95))} {unit} at 95 % coverage "
                f"(k = {coverage_factor(0.95, self.dof):.2f})",
                *notes,
            ]
        )


def _two_digits(value: float) -> str:
    if 0.0 < value < 1e-3:
        return f"{value:.1e}"
    return format_pair(value, value)[0] if value else "0"


def _dof(dof: float) -> str:
    return "∞" if np.isinf(dof) else f"{dof:.4g}"
