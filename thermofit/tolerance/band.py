"""`tolerance_band`: limits of the resistance, and what a reader makes of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Unpack

import numpy.typing as npt

from thermofit.arrays import as_float_array, is_collection, refuse_misaligned
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.evaluation import thread_count
from thermofit.tolerance.many import band_of_many
from thermofit.tolerance.result import Band
from thermofit.tolerance.single import HasTolerance, band_of_one
from thermofit.tolerance.spec import Stated, Tolerance, rows_of
from thermofit.tolerance.statistical import Distribution, Method, Spread

__all__ = ["Band", "HasTolerance", "tolerance_band"]


def tolerance_band(
    curve: Curve | HasTolerance | Sequence[Curve | HasTolerance],
    t_c: npt.ArrayLike,
    *,
    tolerance: Tolerance | None = None,
    platinum_class: str | None = None,
    distribution: Distribution | None = None,
    coverage: float = 0.95,
    k: float = 2.0,
    correlation: float = 0.0,
    method: Method = "auto",
    seed: int = 1,
    numerical_tolerance_pct: float = 0.01,
    workers: int = 1,
    **stated: Unpack[Stated],
) -> Band:
    """Limits of the resistance of parts with a tolerance, and their reading errors.

    A part deviates from its nominal curve by a shift γ of ln R25 and a scaling β
    of the log ratio: ln R(T) = ln R25 + γ + (1 + β)·ln ρ(T).  The worst case is
    the largest deviation over all (γ, β) that the tolerance allows; it is found
    exactly, at the corners of the region.

    Parameters
    ----------
    curve : Curve, Family or sequence of these
        Nominal curve.  A family brings its tolerance; of R25 and B, what is stated
        below takes the place of the family's own, and the other half stays, R at the
        temperature at which the family limits it.  Limits of both together, in kelvin or
        by table, have no half that could stay: both are to be stated.
        A sequence adds a leading dimension; thousands of curves that are polynomials in
        the plane, with limits of R and of B in percent, take one go.
    t_c : array_like
        Temperatures in °C, inside the valid range.  Those of pandas, xarray and Dask give
        fields of their kind; what is lazy stays lazy.
    tolerance : Tolerance, optional
        Instead of the keywords below.
    platinum_class : {"AA", "A", "B", "C"}, optional
        Tolerance class of IEC 60751, in kelvin.
    distribution : {"uniform", "normal", "truncated-normal"}, optional
        How parts are spread within their limits; without it, the worst case.
    coverage, k, correlation, method, seed, numerical_tolerance_pct
        Of the distribution, see `thermofit.tolerance.Spread`; the worst case takes none of
        them.
    workers : int
        Threads for a long sequence of curves; −1 for as many as there are processors.
    **stated
        ``r25_pct``, ``b_pct``, ``r_pct`` with ``r_at_c``, ``b_k`` with
        ``b_pair_c``, ``ratio_pct`` with ``ratio_pair_c``, ``dt_k`` with
        ``dt_range_c``, ``table``: see `thermofit.tolerance.Tolerance.of`.
        ``r25_pct``, ``r_pct`` and ``b_pct`` (and the ends of a pair) may be NumPy arrays or
        pandas Series, broadcast with `t_c`; of a sequence of curves, their first dimension
        goes with the curves.

    Returns
    -------
    Band

    Raises
    ------
    InputError
        No tolerance, or one that is negative, beyond 100 % or contradictory.  Of a sequence,
        the message names the first item that is refused.
    ExtrapolationError
        A temperature outside the valid range.

    References
    ----------
    The rule for the B value is that of published tables of "deviation due to B
    tolerance", ``Y = exp(tol_B·|ln(R/R25)|) − 1``; for a constant-B curve it is the
    same as changing B.

    Examples
    --------
    The published example of a material with B25/85 = 3977 K ± 0.75 %, at 0 °C
    with R25 ± 5 %: Z = 5.93 %, 1.17 K to first order.

    >>> import thermofit as tf
    >>> band = tf.tolerance_band(tf.family("ntc-10k-3977"), 0.0, r25_pct=5, b_pct=0.75)
    >>> band.dr_pct.round(2), abs(band.dt_high_first_order_k).round(2)
    (np.float64(5.93), np.float64(1.17))
    """
    # Of a sequence, rows of tolerances go with the curves and not with the temperatures.
    beside = None if isinstance(curve, Iterable) else t_c
    given = {
        name: _as_arrays(value, name, beside) for name, value in stated.items() if value is not None
    }
    if is_collection(t_c) or hasattr(t_c, "iloc"):
        from thermofit.scale import evaluated_band

        band: Band = evaluated_band(
            tolerance_band, curve, t_c, tolerance=tolerance, platinum_class=platinum_class,
            distribution=distribution, coverage=coverage, k=k, correlation=correlation,
            method=method, seed=seed, numerical_tolerance_pct=numerical_tolerance_pct,
            workers=workers, **given,
        )  # fmt: skip
        return band
    unknown = stated.keys() - Stated.__annotations__.keys()
    if unknown:
        raise TypeError(
            f"tolerance_band() got an unexpected keyword argument {min(unknown)!r}; a tolerance is "
            f"stated by {', '.join(Stated.__annotations__)}"
        )
    if not (tolerance is None or isinstance(tolerance, Tolerance)):
        raise InputError(
            f"tolerance must be a Tolerance, not {tolerance!r}; Tolerance.of makes one, of ± % of "
            "R25 (r25_pct) and of B (b_pct), say"
        )
    spread = None
    if distribution is not None:
        spread = Spread(
            distribution, coverage, k, correlation, method, seed, numerical_tolerance_pct
        )
    if (tolerance is not None) + bool(given) + (platinum_class is not None) > 1:
        raise InputError(
            "state the tolerance once: as a tolerance, as a platinum class, or in its parts"
        )
    t = as_float_array(t_c, "t_c")
    if isinstance(curve, (str, Mapping)) or not (
        isinstance(curve, (Curve, Iterable)) or hasattr(curve, "curve")
    ):
        raise InputError(
            f"a band is that of a Curve, a Family or a sequence of them, not of {curve!r}; "
            "thermofit.family(id) gives the family of an id"
        )
    threads = thread_count(workers)
    if isinstance(curve, Iterable):
        parts = list(curve)
        return band_of_many(parts, t, tolerance, platinum_class, spread, given, threads)
    return band_of_one(curve, t, tolerance, platinum_class, spread, given)


def _as_arrays(value: Any, name: str, t_c: Any) -> Any:
    """Give Series and masked arrays as arrays, pairs as tuples, and a table as rows.

    What is masked becomes NaN, which is refused, whatever number stands beneath.
    """
    if name == "table":
        return rows_of(value)
    if isinstance(value, (tuple, list)):
        return tuple(_as_arrays(end, name, t_c) for end in value)
    if is_collection(value) or not (hasattr(value, "filled") or hasattr(value, "iloc")):
        return value
    if not is_collection(t_c):
        refuse_misaligned(t_c, value, f"t_c and {name}")
    return as_float_array(value, name)
