"""One input of a measurement, and its uncertainty (JCGM 100:2008, clause 4)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from numbers import Real
from typing import Any, Final, Literal

import numpy as np

from thermofit.errors import InputError

__all__ = ["DIVISORS", "Contribution", "Distribution", "require_number"]

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
