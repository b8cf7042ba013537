"""Values with their standard uncertainty and coverage interval (JCGM 100)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import is_lazy
from thermofit.errors import InputError
from thermofit.notebook import ShownInNotebooks

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "Interval",
    "Spans",
    "combine",
    "coverage_factor",
    "format_pair",
    "make_interval",
]

Array = npt.NDArray[np.float64]


def coverage_factor(coverage: float, dof: float | Array = np.inf) -> Any:
    """Factor k that takes a standard uncertainty to a coverage interval.

    Parameters
    ----------
    coverage : float
        Probability, 0 < coverage < 1.
    dof : float or array
        Effective degrees of freedom; infinite where the uncertainties were known.

    Returns
    -------
    float or array
        Quantile of the normal distribution, or of Student's t (JCGM 100, G.3).

    Raises
    ------
    InputError
        The coverage is no probability between 0 and 1.

    Examples
    --------
    >>> round(coverage_factor(0.95), 3), round(coverage_factor(0.95, 8), 3)
    (1.96, 2.306)
    """
    if not 0.0 < coverage < 1.0:
        raise InputError(f"coverage must lie between 0 and 1, such as 0.95, not {coverage!r}")
    # Of the lower tail, whose digits are not lost where the coverage is nearly one.
    tail = 0.5 * (1.0 - coverage)
    if np.all(np.isposinf(dof)):
        from statistics import NormalDist

        return -NormalDist().inv_cdf(tail)
    from scipy.special import ndtri, stdtrit

    factor = -np.where(np.isposinf(dof), ndtri(tail), stdtrit(dof, tail))
    return float(factor) if factor.ndim == 0 else factor


def combine(u_scatter: Array, dof: float, u_known: Array) -> tuple[Array, Array]:
    """Combine an uncertainty estimated from scatter with one that is known.

    Parameters
    ----------
    u_scatter : array
        Standard uncertainty with `dof` degrees of freedom.
    dof : float
    u_known : array
        Standard uncertainty with infinite degrees of freedom.

    Returns
    -------
    u : array
        Combined standard uncertainty.
    dof : array
        Effective degrees of freedom (Welch–Satterthwaite, JCGM 100, G.4).
    """
    u = np.hypot(u_scatter, u_known)
    with np.errstate(divide="ignore", invalid="ignore"):
        effective = np.where(u_scatter > 0.0, dof * (u / u_scatter) ** 4, np.inf)
    return u, effective


@dataclass(frozen=True, eq=False)
class Interval(ShownInNotebooks):
    """Values with standard uncertainty and coverage interval.

    Scalars, arrays or Series, like the argument they were found for.

    Parameters
    ----------
    value : float or array
        Best estimate.
    standard_uncertainty : float or array
        NaN where nothing is known about it.
    low, high : float or array
        Ends of the coverage interval.
    coverage : float
        Probability of the interval.
    dof : float or array
        Effective degrees of freedom behind it.
    unit : str
        Unit of the values; the uncertainty of a temperature is in kelvin.
    note : str
        What the interval speaks of.
    """

    value: Any
    standard_uncertainty: Any
    low: Any
    high: Any
    coverage: float
    dof: Any
    unit: str
    note: str

    def __str__(self) -> str:
        if is_lazy(self.value):
            pending = f"not computed yet, in {self.unit}; dask.compute(…) gives the numbers"
            return f"{pending}\n({self.note})"
        values, uncertainties = np.atleast_1d(self.value), np.atleast_1d(self.standard_uncertainty)
        lows, highs = np.atleast_1d(self.low), np.atleast_1d(self.high)
        lines = []
        for value, u, low, high in zip(
            values.flat, uncertainties.flat, lows.flat, highs.flat, strict=True
        ):
            text, u_text, *ends = format_pair(*map(float, (value, u, low, high)))
            text += f" {self.unit}"
            if np.isfinite(u):
                percent = f"{self.coverage * 100:g} %"
                text += f", standard uncertainty {u_text}, {percent} between {' and '.join(ends)}"
            lines.append(text)
        return "\n".join([*lines, f"({self.note})"])

    def to_frame(self) -> pd.DataFrame:
        """Give the interval as a pandas frame, a row for each value."""
        import pandas as pd

        columns = ("value", "standard_uncertainty", "low", "high")
        # A pyarrow.Array has an `index` too, which is no index.
        index = self.value.index if hasattr(self.value, "iloc") else None
        if np.ndim(self.value) > 1:
            index = pd.MultiIndex.from_product([range(size) for size in np.shape(self.value)])
        data = {name: np.ravel(getattr(self, name)) for name in columns}
        return pd.DataFrame(data, index=index)


@dataclass(frozen=True, eq=False)
class Spans:
    """Arrays of which an `Interval` is made, all of one shape.

    Parameters
    ----------
    value : array
        Best estimates.
    u : array
        Standard uncertainties.
    low, high : array
        Ends of the coverage intervals.
    dof : array
        Effective degrees of freedom.
    known : bool
        Whether anything is known of what the curve brings to the uncertainty.
    """

    value: Array
    u: Array
    low: Array
    high: Array
    dof: Array
    known: bool


def make_interval(
    spans: Spans, coverage: float, dress: Callable[[Array], Any], unit: str, note: str
) -> Interval:
    """Give values with their uncertainty as the caller gave the argument.

    Parameters
    ----------
    spans : Spans
    coverage : float
        Probability of the interval.
    dress : callable
        Makes results of the kind that the caller gave (`thermofit.arrays.unwrap`).
    unit, note : str
        As for `Interval`.

    Returns
    -------
    Interval
    """
    return Interval(
        value=dress(spans.value),
        standard_uncertainty=dress(spans.u),
        low=dress(spans.low),
        high=dress(spans.high),
        coverage=coverage,
        dof=dress(spans.dof),
        unit=unit,
        note=note if spans.known else "uncertainty unknown: the curve has no covariance",
    )


def format_pair(value: float, uncertainty: float, *more: float) -> tuple[str, ...]:
    """Write a value and its standard uncertainty to two digits of the latter.

    Parameters
    ----------
    value, uncertainty : float
    *more : float
        Further values to write to the same place, such as the ends of an interval.

    Returns
    -------
    tuple of str
        Without a usable uncertainty, the value to six digits and "unknown".

    Examples
    --------
    >>> format_pair(25.01342, 0.0421)
    ('25.013', '0.042')
    >>> format_pair(1747753.2, 384.0, 1746973.25)
    ('1747750', '380', '1746970')
    """
    if not (np.isfinite(uncertainty) and np.isfinite(value)):
        return f"{value:.6g}", "unknown", *(f"{other:.6g}" for other in more)
    if uncertainty == 0.0:
        return repr(value), "0", *map(repr, more)
    exponent = int(np.floor(np.log10(uncertainty)))
    if round(uncertainty / 10.0**exponent, 1) >= 10.0:
        exponent += 1
    places = 1 - exponent
    if not -12 < places <= 12:
        digits = max(places + int(np.floor(np.log10(abs(value) or uncertainty))), 1)
        return f"{value:.{digits}e}", f"{uncertainty:.1e}", *(f"{o:.{digits}e}" for o in more)
    numbers = (value, uncertainty, *more)
    return tuple(f"{round(number, places):.{max(places, 0)}f}" for number in numbers)
