"""A tolerance as stated: one kind of limits or several together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, TypedDict

import numpy as np

from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.tolerance.limits import (
    BLimits,
    BLimitsKelvin,
    Limits,
    RatioLimits,
    ResistanceLimits,
    ResistanceTable,
    TemperatureLimits,
)
from thermofit.tolerance.region import Region, Strip

__all__ = ["Stated", "Tolerance", "rows_of", "temperature_of"]

Pair = tuple[float, float]


class Stated(TypedDict, total=False):
    """The forms in which a tolerance is stated; see `Tolerance.of`."""

    r25_pct: Any
    b_pct: Any
    r_pct: Any
    r_at_c: float | None
    b_k: float | Pair | None
    b_pair_c: Pair | None
    ratio_pct: float | Pair | None
    ratio_pair_c: Pair | None
    dt_k: float | Pair | None
    dt_range_c: Pair | None
    table: Any


@dataclass(frozen=True)
class Tolerance:
    """What a part may deviate by; all limits hold at once.

    Parameters
    ----------
    limits : tuple of Limits

    Examples
    --------
    >>> print(Tolerance.of(r25_pct=1, b_pct=0.75))
    R(25 °C) ± 1 %, B ± 0.75 %
    """

    limits: tuple[Limits, ...]

    def __post_init__(self) -> None:
        entries = tuple(self.limits) if isinstance(self.limits, (tuple, list)) else (self.limits,)
        for entry in entries:
            if not isinstance(entry, Limits):
                raise InputError(
                    f"a tolerance consists of Limits, and {entry!r} is none; Tolerance.of makes "
                    "one of percents, as of R25 (r25_pct) and of B (b_pct)"
                )
        if not entries:
            raise InputError(
                "no tolerance is stated; give r25_pct= and b_pct=, or another of its forms"
            )
        object.__setattr__(self, "limits", entries)

    @classmethod
    def of(
        cls,
        *,
        r25_pct: float | Pair | None = None,
        b_pct: float | Pair | None = None,
        r_pct: float | Pair | None = None,
        r_at_c: float | None = None,
        b_k: float | Pair | None = None,
        b_pair_c: Pair | None = None,
        ratio_pct: float | Pair | None = None,
        ratio_pair_c: Pair | None = None,
        dt_k: float | Pair | None = None,
        dt_range_c: Pair | None = None,
        table: Any = None,
    ) -> Tolerance:
        """Make a tolerance from the forms in which data sheets state it.

        A number is ±; a pair is (low, high), with low ≤ 0 ≤ high.

        Parameters
        ----------
        r25_pct : float or pair
            Of the resistance at 25 °C, in percent.
        b_pct : float or pair
            Of the B value, in percent, whichever pair of temperatures it is of.
        r_pct, r_at_c : float or pair, float
            Of the resistance at another temperature, in percent and °C.
        b_k, b_pair_c : float or pair, pair
            Of the B value in kelvin, and its temperatures; (25, 85) if not given.
        ratio_pct, ratio_pair_c : float or pair, pair
            Of the ratio of two resistances in percent, and their temperatures;
            (25, 125) if not given.
        dt_k, dt_range_c : float or pair, pair
            Of the reading in kelvin, over a range of temperature in °C.
        table : sequence of (t_c, pct) or (t_c, low_pct, high_pct), array or DataFrame
            Of the resistance by temperature, in percent.

        Returns
        -------
        Tolerance

        Raises
        ------
        InputError
            Nothing stated, limits that leave the nominal part out, or two that
            contradict each other.

        Examples
        --------
        >>> print(Tolerance.of(r_pct=1, r_at_c=0, b_pct=1))
        R(0 °C) ± 1 %, B ± 1 %
        >>> print(Tolerance.of(dt_k=0.2, dt_range_c=(0, 70)))
        ± 0.2 K from 0 to 70 °C
        """
        for given, needed, names in (
            (r_at_c, r_pct, "r_at_c goes with r_pct"),
            (b_pair_c, b_k, "b_pair_c goes with b_k"),
            (ratio_pair_c, ratio_pct, "ratio_pair_c goes with ratio_pct"),
            (dt_range_c, dt_k, "dt_range_c goes with dt_k"),
        ):
            if given is not None and needed is None:
                raise InputError(names)
        if r_pct is not None and r_at_c is None:
            raise InputError("r_pct needs r_at_c=, the temperature at which it holds")
        if dt_k is not None and dt_range_c is None:
            raise InputError("dt_k needs dt_range_c=, the range over which it holds")
        if r25_pct is not None and r_at_c == 25.0:
            raise InputError("r25_pct and r_pct at 25 °C contradict each other; give one")
        if sum(form is not None for form in (b_pct, b_k, ratio_pct)) > 1:
            raise InputError("b_pct, b_k and ratio_pct limit the same thing; give one")
        limits: list[Limits] = []
        if r25_pct is not None:
            limits.append(ResistanceLimits(*_pair(r25_pct, "r25_pct")))
        if r_pct is not None and r_at_c is not None:
            limits.append(
                ResistanceLimits(*_pair(r_pct, "r_pct"), t_c=temperature_of(r_at_c, "r_at_c"))
            )
        if b_pct is not None:
            limits.append(BLimits(*_pair(b_pct, "b_pct")))
        if b_k is not None:
            pair_c = (25.0, 85.0) if b_pair_c is None else _temperatures(b_pair_c, "b_pair_c")
            limits.append(BLimitsKelvin(*_pair(b_k, "b_k"), *pair_c))
        if ratio_pct is not None:
            pair_c = (25.0, 125.0)
            if ratio_pair_c is not None:
                pair_c = _temperatures(ratio_pair_c, "ratio_pair_c")
            limits.append(RatioLimits(*_pair(ratio_pct, "ratio_pct"), *pair_c))
        if dt_k is not None and dt_range_c is not None:
            range_c = _temperatures(dt_range_c, "dt_range_c")
            limits.append(TemperatureLimits(*_pair(dt_k, "dt_k"), *range_c))
        if table is not None:
            limits.append(_table(table))
        return cls(tuple(limits))

    def region(self, curve: Curve) -> Region:
        """Region of (γ, β) in which parts with this nominal curve conform.

        Where only the resistance at one temperature is limited, the shape of the
        curve is taken as exact (β = 0).

        Parameters
        ----------
        curve : Curve

        Returns
        -------
        Region
        """
        strips = [strip for limits in self.limits for strip in limits.strips(curve)]
        if self.exact_shape:
            strips.append(Strip(0.0, 1.0, 0.0, 0.0))
        elif not any(strip.p for strip in strips):
            strips.append(Strip(1.0, 0.0, 0.0, 0.0))
        return Region(tuple(strips))

    @property
    def exact_shape(self) -> bool:
        """Whether nothing but the resistance at one temperature is limited."""
        return len(self.limits) == 1 and isinstance(self.limits[0], ResistanceLimits)

    def __str__(self) -> str:
        return ", ".join(map(str, self.limits))


def _pair(value: float | Sequence[float], name: str) -> Pair:
    if isinstance(value, (tuple, list)):
        if len(value) != 2:
            raise InputError(f"{name} is one number, or a pair (low, high), not {value!r}")
        low, high = (_number(end, name, value) for end in value)
        return low, high
    number = _number(value, name, value)
    if not number >= 0.0:
        raise InputError(f"{name} is ± and so not negative, not {value!r}")
    return -number, number


def _number(end: Any, name: str, value: Any) -> float:
    """Take one number of a limit."""
    try:
        return _plain(end)
    except (TypeError, ValueError):
        raise InputError(
            f"{name} is a number, or a pair (low, high), not {value!r}; arrays go with r25_pct, "
            "r_pct and b_pct of tolerance_band"
        ) from None


def _plain(value: Any) -> float:
    """Take a number; a text, a truth value or an array is none."""
    if isinstance(value, (str, bytes, bool, np.bool_)) or np.ndim(value):
        raise TypeError
    return float(value)


def temperature_of(value: Any, name: str) -> float:
    """Take the temperature in °C at which a limit holds, or say that it is none."""
    try:
        t_c = _plain(value)
    except (TypeError, ValueError):
        t_c = np.nan
    if not np.isfinite(t_c):
        raise InputError(f"{name} is a temperature in °C, not {value!r}")
    return t_c


def _temperatures(pair: Any, name: str) -> Pair:
    try:
        first, second = pair
    except (TypeError, ValueError):
        raise InputError(f"{name} is a pair of temperatures, not {pair!r}") from None
    return temperature_of(first, name), temperature_of(second, name)


def rows_of(table: Any) -> Any:
    """Rows of a table of tolerances, which may be an array or a frame."""
    values = table.to_numpy() if hasattr(table, "to_numpy") else table
    return values.tolist() if isinstance(values, np.ndarray) else values


def _table(table: Any) -> ResistanceTable:
    try:
        rows = [tuple(map(_plain, row)) for row in rows_of(table)]
    except (TypeError, ValueError):
        raise InputError(
            f"a table of tolerances is a list of rows of numbers, not {table!r}"
        ) from None
    widths = {len(row) for row in rows}
    if widths == {2}:
        rows = [(t, *_pair(pct, "a tolerance of the table")) for t, pct in rows]
    elif widths != {3}:
        raise InputError("a table of tolerances has rows (t_c, pct) or (t_c, low_pct, high_pct)")
    t_c, low, high = zip(*sorted(rows), strict=True)
    return ResistanceTable(t_c, low, high)
