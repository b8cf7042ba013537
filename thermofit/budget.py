"""Uncertainty budgets: what makes up a standard uncertainty (JCGM 100:2008)."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from numbers import Real
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError
from thermofit.interval import coverage_factor, format_pair
from thermofit.texttable import aligned

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["DIVISORS", "Budget", "Contribution", "Distribution", "require_number"]

Distribution = Literal["rectangular", "triangular", "U-shaped", "normal"]

DIVISORS: Final[dict[Distribution, float]] = {
    "rectangular": 3.0**0.5,
    "triangular": 6.0**0.5,
    "U-shaped": 2.0**0.5,
}
"""What divides half-widths to standard uncertainties.  Rectangular and triangular: JCGM 100,
4.3.7 and 4.3.9; U-shaped (the arcsine distribution of a cycling quantity): from memory."""


@dataclass(frozen=True)
class Contribution:
    """One input of a measurement and its uncertainty.

    Parameters
    ----------
    name : str
        What it is; unique within a budget.
    half_width : float
        Half-width of the limits, in `unit`; for "normal", k times the standard uncertainty.
    distribution : {"rectangular", "triangular", "U-shaped", "normal"}, optional
        Without it, rectangular; normal where `k` is stated.
    k : float, optional
        Coverage factor of a normal contribution, 1 unless stated.
    unit : str
        Unit of the input.
    sensitivity : float
        Change of the result per unit of the input, with its sign.
    dof : float
        Degrees of freedom behind the standard uncertainty.
    shared : str
        Contributions with one such label, in this or another budget, are one error:
        the same meter range, the same thermometer.  Empty for an independent one.
    note : str
        Where the number comes from.

    Raises
    ------
    InputError
        A negative half-width, a k without a normal distribution, degrees of freedom
        that are not positive, or something that is no number.

    Examples
    --------
    >>> round(Contribution("thermometer", 0.5).standard_uncertainty, 3)
    0.289
    >>> Contribution("certificate", 0.5, k=2).standard_uncertainty
    0.25
    """

    name: str
    half_width: float
    distribution: Distribution | None = None
    k: float | None = None
    unit: str = "K"
    sensitivity: float = 1.0
    dof: float = np.inf
    shared: str = ""
    note: str = ""

    def __post_init__(self) -> None:
        require_number(self.half_width, f"the half-width of {self.name!r}", self.unit, least=0.0)
        require_number(self.sensitivity, f"the sensitivity of {self.name!r}", "")
        if not (isinstance(self.dof, Real) and self.dof > 0.0):
            raise InputError(
                f"the degrees of freedom of {self.name!r} must be positive, not {self.dof!r}; "
                "leave them out where the uncertainty is known"
            )
        if self.k is not None:
            require_number(self.k, f"the coverage factor k of {self.name!r}", "", above=0.0)
        if self.distribution is None:
            # A frozen dataclass has no other way to fill in what follows from its fields.
            object.__setattr__(self, "distribution", "rectangular" if self.k is None else "normal")
        if self.distribution not in (*DIVISORS, "normal"):
            raise InputError(
                f"{self.name!r} has the distribution {self.distribution!r}; "
                f"known are {', '.join(DIVISORS)} and normal"
            )
        if self.k is not None and self.distribution != "normal":
            raise InputError(
                f"{self.name!r} has k = {self.k:g}, which belongs to a normal distribution, "
                f"not to a {self.distribution} one; leave one of the two out"
            )

    @classmethod
    def from_readings(
        cls, name: str, readings: Sequence[float], *, unit: str, sensitivity: float = 1.0
    ) -> Contribution:
        """Evaluate the scatter of repeated readings of one quantity (type A).

        Parameters
        ----------
        name : str
        readings : sequence of float
            At least two, in `unit`.
        unit : str
        sensitivity : float

        Returns
        -------
        Contribution
            Standard deviation of the mean with n − 1 degrees of freedom (JCGM 100, 4.2.3).

        Raises
        ------
        InputError
            Fewer than two readings, or something that is no number.

        Examples
        --------
        >>> scatter = Contribution.from_readings("scatter", [4.0, 5.0, 6.0], unit="Ω")
        >>> round(scatter.standard_uncertainty, 3), scatter.dof
        (0.577, 2.0)
        """
        values = [require_number(value, f"a reading of {name!r}", unit) for value in readings]
        if len(values) < 2:
            raise InputError(
                f"{name!r}: the scatter of {len(values)} reading is unknown; two or more are needed"
            )
        u = float(np.std(values, ddof=1) / len(values) ** 0.5)
        note = f"mean of {len(values)} readings"
        return cls(
            name, u, "normal", 1.0, unit, sensitivity, dof=float(len(values) - 1), note=note
        )  # fmt: skip

    @property
    def divisor(self) -> float:
        """What takes the half-width to the standard uncertainty."""
        if self.distribution is None or self.distribution == "normal":
            return 1.0 if self.k is None else self.k
        return DIVISORS[self.distribution]

    @property
    def standard_uncertainty(self) -> float:
        """Standard uncertainty of the input, in its unit."""
        return self.half_width / self.divisor

    @property
    def effect(self) -> float:
        """Sensitivity times standard uncertainty, with the sensitivity's sign."""
        return self.sensitivity * self.standard_uncertainty


@dataclass(frozen=True)
class Budget:
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


def require_number(
    value: Any, name: str, unit: str, *, least: float = -np.inf, above: float = -np.inf
) -> float:
    """Take a finite number within its bound, or say what is wrong with it.

    Parameters
    ----------
    value : float
    name, unit : str
        What to call it in an error, and its unit.
    least, above : float
        The smallest that will do; what it must exceed.

    Returns
    -------
    float

    Raises
    ------
    InputError
        No number, not finite, or out of bounds.
    """
    number = float(value) if isinstance(value, Real) and not isinstance(value, bool) else np.nan
    if not np.isfinite(number):
        raise InputError(f"{name} must be a finite number{unit and f' in {unit}'}, not {value!r}")
    if number < least or number <= above:
        bound = f"at least {least:g}" if number < least else f"above {above:g}"
        raise InputError(f"{name} must be {bound}{unit and f' {unit}'}, not {number:g}")
    return number


def _two_digits(value: float) -> str:
    if 0.0 < value < 1e-3:
        return f"{value:.1e}"
    return format_pair(value, value)[0] if value else "0"


def _dof(dof: float) -> str:
    return "∞" if np.isinf(dof) else f"{dof:.4g}"
