"""Values with their standard uncertainty and coverage interval (JCGM 100)."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import InputError

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Interval", "combine", "coverage_factor", "format_pair", "make_interval"]

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
    if np.all(np.isposinf(dof)):
        from statistics import NormalDist

        return NormalDist().inv_cdf(0.5 + 0.5 * coverage)
    from scipy.special import ndtri, stdtrit

    upper = 0.5 + 0.5 * coverage
    factor = np.where(np.isposinf(dof), ndtri(upper), stdtrit(dof, upper))
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
class Interval:
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
        index = getattr(self.value, "index", None)
        if np.ndim(self.value) > 1:
            index = pd.MultiIndex.from_product([range(size) for size in np.shape(self.value)])
        data = {name: np.ravel(getattr(self, name)) for name in columns}
        return pd.DataFrame(data, index=index)


def make_interval(
    value: Array,
    u_curve: Array,
    dof: float,
    u_own: Array | None,
    coverage: float,
    dress: Callable[[Array], Any],
    unit: str,
    note: str,
) -> Interval:
    """Expand a standard uncertainty to a coverage interval.

    Parameters
    ----------
    value : array
        Best estimates.
    u_curve : array
        Standard uncertainty that the curve brings, NaN where it is unknown.
    dof : float
        Degrees of freedom behind `u_curve`.
    u_own : array, optional
        Standard uncertainty that the argument brings.
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
    if np.isnan(u_curve).all() and u_curve.size:
        note = "uncertainty unknown: the curve has no covariance"
    u, dof_all = u_curve, np.full(value.shape, dof)
    if u_own is not None:
        u, dof_all = combine(u_curve, dof, u_own)
    half = coverage_factor(coverage, dof_all) * u
    return Interval(
        value=dress(value),
        standard_uncertainty=dress(u),
        low=dress(value - half),
        high=dress(value + half),
        coverage=coverage,
        dof=dress(dof_all),
        unit=unit,
        note=note,
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
