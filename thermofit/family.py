"""A family: what parts of one type number share.  Curve, tolerance, ratings, source."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from thermofit.curve import Curve
from thermofit.describing import facts_text, short_table
from thermofit.errors import InputError
from thermofit.notebook import as_html

if TYPE_CHECKING:
    from thermofit.tolerance.spec import Tolerance

__all__ = ["RATINGS", "SOURCE_KINDS", "Family", "SourceKind", "nominal_curve"]

SourceKind = Literal["measured", "table", "coefficients", "standard", "nominal"]
"""What kind of source stands behind a family's curve.

measured : fitted to readings of a person's own
table : a published R–T table, which a maker measured
coefficients : published coefficients, which a maker fitted to measurements
standard : defined by a standard
nominal : R25 and a B value only, which say nothing of how the curve bends
"""

SOURCE_KINDS: tuple[SourceKind, ...] = get_args(SourceKind)

RATINGS: tuple[str, ...] = (
    "dissipation_factor_mw_per_k",
    "thermal_time_constant_s",
    "max_power_mw",
    "max_voltage_v",
)
"""Ratings that a family may state, in the terms of IEC 60539-1."""


@dataclass(frozen=True)
class Family:
    """Parts that share a nominal curve.

    Parameters
    ----------
    curve : Curve
        Nominal curve; its ``id`` is that of the family.
    r25_tol_pct : float, optional
        Tolerance of R25 as ± %; None where it is not stated.
    b_tol_pct : float, optional
        Tolerance of the B value as ± %; None where it is not stated.
    source_kind : {"measured", "table", "coefficients", "standard", "nominal"}
        What stands behind the curve.
    ratio_only : bool
        The family fixes R(T)/R25 and leaves R25 open; the curve then has the
        resistance 1 Ω at 25 °C.
    ratings : mapping of str to float
        See `RATINGS`.

    Raises
    ------
    InputError
        No id, a tolerance that is negative or 100 % and more, an unknown rating
        or one that is not positive.

    Examples
    --------
    >>> f = Family(Curve.beta(r25_ohm=5e3, b_k=3988, id="ntc-5k-3988"), r25_tol_pct=1.0)
    >>> f.id, f.r25_tol_pct, f.b_tol_pct
    ('ntc-5k-3988', 1.0, None)
    """

    curve: Curve
    r25_tol_pct: float | None = None
    b_tol_pct: float | None = None
    source_kind: SourceKind = "nominal"
    ratio_only: bool = False
    ratings: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if not self.curve.id:
            raise InputError("a family needs an id: make its curve with id=…")
        for name in ("r25_tol_pct", "b_tol_pct"):
            value = getattr(self, name)
            if value is not None and not 0.0 <= value < 100.0:
                raise InputError(
                    f"{name} of {self.id} must be from 0 to below 100 %, not {value!r}"
                )
        if self.source_kind not in SOURCE_KINDS:
            raise InputError(
                f"source_kind of {self.id} must be one of {', '.join(SOURCE_KINDS)}, "
                f"not {self.source_kind!r}"
            )
        for name, value in self.ratings.items():
            if name not in RATINGS:
                raise InputError(
                    f"{self.id} has no rating {name!r}; there are {', '.join(RATINGS)}"
                )
            if not (np.isfinite(value) and value > 0.0):
                raise InputError(f"{name} of {self.id} must be positive, not {value!r}")
        object.__setattr__(self, "ratings", MappingProxyType(dict(self.ratings)))

    @property
    def id(self) -> str:
        """Name of the family, such as ``ntc-10k-3434``."""
        return self.curve.id

    @property
    def tolerance(self) -> Tolerance | None:
        """Tolerance of R25 and of the B value; None where neither is stated."""
        if self.r25_tol_pct is None and self.b_tol_pct is None:
            return None
        # Not before it is asked for: who only converts readings has no use for tolerances.
        from thermofit.tolerance.spec import Tolerance

        return Tolerance.of(r25_pct=self.r25_tol_pct, b_pct=self.b_tol_pct)

    @property
    def source(self) -> str:
        """Where the curve comes from."""
        return self.curve.source

    def describe(self) -> str:
        """Tell what the family is: curve, tolerance, ratings, source and a short table.

        Returns
        -------
        str

        Examples
        --------
        >>> import thermofit as tf
        >>> print(tf.family("ntc-10k-3977").describe().split("\\n")[8].strip())
        R25 ±      5 %
        """
        curve = self.curve
        facts = [
            *curve._form(),
            ("R25 ±", _percent(self.r25_tol_pct)),
            ("B ±", _percent(self.b_tol_pct)),
            *((name, f"{value:g}") for name, value in self.ratings.items()),
            ("source", f"{self.source} ({self.source_kind})"),
            ("licence", curve.licence),
            ("note", curve.note),
        ]
        table = short_table(curve, ratio_only=self.ratio_only)
        return f"{self.id}\n{facts_text(facts)}\n\n{table}"

    def _repr_html_(self) -> str:
        return as_html(self.describe)

    def __hash__(self) -> int:
        return hash((self.curve, self.r25_tol_pct, self.b_tol_pct, self.source_kind))

    def __getstate__(self) -> dict[str, Any]:
        return {f.name: getattr(self, f.name) for f in dataclasses.fields(self)} | {
            "ratings": dict(self.ratings)
        }

    def __setstate__(self, state: dict[str, Any]) -> None:
        self.__init__(**state)  # type: ignore[misc]


def _percent(value: float | None) -> str:
    return "not stated" if value is None else f"{value:g} %"


def nominal_curve(part: Any, name: str = "part") -> Curve:
    """Take a curve, or the nominal one of a family whose R25 is known.

    Parameters
    ----------
    part : Curve or Family
    name : str
        What to call it in an error.

    Returns
    -------
    Curve

    Raises
    ------
    InputError
        Something else, or a family that leaves R25 open.

    Examples
    --------
    >>> nominal_curve(Family(Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet"))).id
    'inlet'
    """
    if isinstance(part, Curve):
        return part
    if not isinstance(part, Family):
        raise InputError(
            f"{name} must be a Family or a Curve, not {type(part).__name__}; thermofit.family(id) "
            "gives a family"
        )
    if part.ratio_only:
        raise InputError(
            f"{part.id} fixes R(T)/R25 only and leaves R25 open; make a family with the R25 of "
            "your part"
        )
    return part.curve
