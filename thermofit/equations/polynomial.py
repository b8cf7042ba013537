"""What the two polynomials share: a number of terms and a reference resistance."""

from __future__ import annotations

from abc import ABC
from collections.abc import Mapping
from dataclasses import dataclass
from typing import ClassVar, Self

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.errors import InputError

__all__ = ["Polynomial"]

_TERMS = range(2, 6)


@dataclass(frozen=True)
class Polynomial(Equation, ABC):
    """A polynomial of two to five terms around a reference resistance.

    Parameters
    ----------
    terms : int
        Number of coefficients, 2 to 5.
    r_ref_ohm : float
        Reference resistance.  A fitted curve does not depend on it, its
        coefficients may.

    Raises
    ------
    InputError
        Another number of terms, or a reference resistance that is not positive.
    """

    terms: int = 4
    r_ref_ohm: float = 1.0

    kind: ClassVar[str]
    """Name without the number of terms."""

    linear: ClassVar[bool] = True

    def __post_init__(self) -> None:
        if self.terms not in _TERMS:
            raise InputError(f"a polynomial has 2 to 5 terms, not {self.terms!r}")
        if not (np.isfinite(self.r_ref_ohm) and self.r_ref_ohm > 0.0):
            raise InputError(
                f"the reference resistance must be positive, not r_ref_ohm={self.r_ref_ohm!r}"
            )

    @property
    def name(self) -> str:
        """Name of the equation, with the number of terms."""
        return f"{self.kind}-{self.terms}"

    @property
    def settings(self) -> Mapping[str, float]:
        """The reference resistance."""
        return {"r_ref_ohm": self.r_ref_ohm}

    @classmethod
    def from_name(cls, name: str, settings: Mapping[str, float]) -> Self | None:
        """Read the number of terms from the name."""
        for terms in _TERMS:
            if name == f"{cls.kind}-{terms}":
                return cls(terms, settings.get("r_ref_ohm", 1.0))
        return None

    def for_points(self, ln_r: Array) -> Self:
        """Put the reference resistance in the middle of the points.

        To three digits, so that it can be copied by hand.
        """
        middle = np.exp(0.5 * (ln_r.min() + ln_r.max()))
        return type(self)(self.terms, float(f"{middle:.3g}"))
