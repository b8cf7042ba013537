"""`tolerance_band`: limits of the resistance, and what a reader makes of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Protocol, Unpack

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.curve import Curve
from thermofit.errors import ExtrapolationError, InputError
from thermofit.texttable import aligned
from thermofit.tolerance.box import Box, box_of, stated_box
from thermofit.tolerance.deviation import quiet_ln_r, reading_error, refuse_reference
from thermofit.tolerance.limits import BLimits, ResistanceLimits
from thermofit.tolerance.platinum import platinum_limits_k
from thermofit.tolerance.region import Region
from thermofit.tolerance.spec import Stated, Tolerance
from thermofit.tolerance.statistical import Distribution, Method, Spread, simulated_interval
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Band", "HasTolerance", "tolerance_band"]

Array = npt.NDArray[np.float64]

_MOST_ROWS = 200


class HasTolerance(Protocol):
    """What has a nominal curve and a tolerance: a family."""

    @property
    def curve(self) -> Curve:
        """The nominal curve."""

    @property
    def tolerance(self) -> Tolerance | None:
        """The tolerance, None where it is not stated."""


@dataclass(frozen=True, eq=False)
class Band:
    """Limits of the resistance over temperature.

    All arrays have one shape: that of the temperatures, of the tolerances and of
    the curves, broadcast together.

    Parameters
    ----------
    t_c : array
        Temperature in °C.
    r_low_ohm, r_nominal_ohm, r_high_ohm : array
        Limits and nominal resistance in ohms.
    dr_low_pct, dr_pct : array
        Lower and upper limit in percent of the nominal resistance.
    dt_low_k, dt_high_k : array
        Error in kelvin, by exact inversion, of a reader that assumes the nominal
        curve and meets `r_low_ohm`, or `r_high_ohm`.  NaN where the nominal curve
        never has that resistance.
    dt_low_first_order_k, dt_high_first_order_k : array
        The same to first order, ΔR/(R·α), as data sheets print it.
    alpha_per_k : array
        Temperature coefficient of resistance of the nominal curve, per kelvin.
    meaning : str
        What the limits are limits of.
    """

    t_c: Array
    r_low_ohm: Array
    r_nominal_ohm: Array
    r_high_ohm: Array
    dr_low_pct: Array
    dr_pct: Array
    dt_low_k: Array
    dt_high_k: Array
    dt_low_first_order_k: Array
    dt_high_first_order_k: Array
    alpha_per_k: Array
    meaning: str

    def to_frame(self) -> pd.DataFrame:
        """Give the band as a pandas frame, a row for each element.

        Returns
        -------
        pandas.DataFrame
            With an index of the places where the band has more than one
            dimension.
        """
        import pandas as pd

        index = None
        if self.t_c.ndim > 1:
            index = pd.MultiIndex.from_product([range(size) for size in self.t_c.shape])
        columns = {name: np.ravel(getattr(self, name)) for name in _arrays_of(Band)}
        return pd.DataFrame(columns, index=index)

    def __str__(self) -> str:
        header = ["t / °C", "R low", "R nominal", "R high", "ΔR / %", "α / (%/K)", "reads / K"]
        rows = [header]
        flat = [np.ravel(value) for value in (
            self.t_c, self.r_low_ohm, self.r_nominal_ohm, self.r_high_ohm,
            self.dr_low_pct, self.dr_pct, self.alpha_per_k, self.dt_high_k, self.dt_low_k,
        )]  # fmt: skip
        for t, low, r, high, below, above, alpha, cold, hot in list(zip(*flat, strict=True))[
            :_MOST_ROWS
        ]:
            first, second = sorted((cold, hot))
            rows.append([
                f"{t:g}", format_ohm(low), format_ohm(r), format_ohm(high),
                f"{below:+.2f} to {above:+.2f}", f"{100.0 * alpha:.2f}",
                f"{first:+.2f} to {second:+.2f}",
            ])  # fmt: skip
        more = self.t_c.size - _MOST_ROWS
        ending = f"\n… and {more} more" if more > 0 else ""
        return f"{aligned(rows, left=0)}{ending}\n({self.meaning})"


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
        below takes the place of the family's own, and the other half stays.
        A sequence adds a leading dimension.
    t_c : array_like
        Temperatures in °C, inside the valid range.
    tolerance : Tolerance, optional
        Instead of the keywords below.
    platinum_class : {"AA", "A", "B", "C"}, optional
        Tolerance class of IEC 60751, in kelvin.
    distribution : {"uniform", "normal", "truncated-normal"}, optional
        How parts are spread within their limits; without it, the worst case.
    coverage, k, correlation, method, seed, numerical_tolerance_pct
        See `thermofit.tolerance.Spread`.
    **stated
        ``r25_pct``, ``b_pct``, ``r_pct`` with ``r_at_c``, ``b_k`` with
        ``b_pair_c``, ``ratio_pct`` with ``ratio_pair_c``, ``dt_k`` with
        ``dt_range_c``, ``table``: see `thermofit.tolerance.Tolerance.of`.
        ``r25_pct``, ``r_pct`` and ``b_pct`` may be NumPy arrays, broadcast with
        `t_c`; of a sequence of curves, their first dimension goes with the curves.

    Returns
    -------
    Band

    Raises
    ------
    InputError
        No tolerance, or one that is negative, beyond 100 % or contradictory.
    ExtrapolationError
        A temperature outside the valid range.

    References
    ----------
    The rule for the B value is that of published tables of "deviation due to B
    tolerance", Y = exp(tol_B·|ln(R/R25)|) − 1; for a constant-B curve it is the
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
    spread = None
    if distribution is not None:
        spread = Spread(
            distribution, coverage, k, correlation, method, seed, numerical_tolerance_pct
        )
    given = {name: value for name, value in stated.items() if value is not None}
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
    if isinstance(curve, Iterable):
        curve = list(curve)
        parts = [
            _one(item, t, tolerance, platinum_class, spread, _row_of(given, row, len(curve)))
            for row, item in enumerate(curve)
        ]
        if not parts:
            raise InputError("no curves were given")
        return _stacked(parts)
    return _one(curve, t, tolerance, platinum_class, spread, given)


def _one(
    item: Curve | HasTolerance,
    t_c: Array,
    tolerance: Tolerance | None,
    platinum_class: str | None,
    spread: Spread | None,
    stated: dict[str, Any],
) -> Band:
    nominal = item if isinstance(item, Curve) else item.curve
    _refuse_outside(nominal, t_c)
    ln_r = quiet_ln_r(nominal, t_c)
    if platinum_class is not None:
        if not nominal.equation.ptc:
            raise InputError("a class of IEC 60751 goes with platinum, whose resistance rises")
        if spread is not None:
            raise InputError("a tolerance class of IEC 60751 has limits, and no distribution")
        half_k = platinum_limits_k(platinum_class, t_c)
        ends = [quiet_ln_r(nominal, t_c + sign * half_k) - ln_r for sign in (-1.0, 1.0)]
        meaning = f"limits of class {platinum_class} of IEC 60751"
        return _band(nominal, t_c, ln_r, np.minimum(*ends), np.maximum(*ends), meaning)
    source, name = _source(item, nominal, tolerance, stated)
    lever = ln_r - quiet_ln_r(nominal, source.t_ref_c if isinstance(source, Box) else 25.0)
    low, high = _deviation(source, lever, spread)
    meaning = f"{name}; {'worst case' if spread is None else spread}"
    return _band(nominal, t_c, ln_r, low, high, meaning)


def _source(
    item: Curve | HasTolerance,
    nominal: Curve,
    tolerance: Tolerance | None,
    stated: dict[str, Any],
) -> tuple[Box | Region, str]:
    """Box or region in which parts conform, and its description."""
    if stated:
        if not isinstance(item, Curve):
            stated = _completed(stated, item)
        box = stated_box(stated)
        if box is not None:
            refuse_reference(nominal, box.t_ref_c)
            return box, "tolerances as stated"
        tolerance = Tolerance.of(**stated)
    if tolerance is None and not isinstance(item, Curve):
        tolerance = item.tolerance
    if tolerance is None:
        raise InputError(
            f"no tolerance is known for {nominal.id or 'this curve'}; state one, such as "
            "± % of R25 (r25_pct) and of B (b_pct)"
        )
    box = box_of(tolerance, nominal)
    return (tolerance.region(nominal) if box is None else box), str(tolerance)


def _completed(stated: dict[str, Any], item: HasTolerance) -> dict[str, Any]:
    """Add what a family states of the other half: of B beside R25, or of R25 beside B."""
    own = item.tolerance
    of_resistance = {"r25_pct", "r_pct"} & set(stated)
    of_b = {"b_pct", "b_k", "ratio_pct"} & set(stated)
    if own is None or {"dt_k", "table"} & set(stated) or (of_resistance and of_b):
        return stated
    for limits in own.limits:
        if isinstance(limits, BLimits) and not of_b:
            stated = stated | {"b_pct": (limits.low_pct, limits.high_pct)}
        if isinstance(limits, ResistanceLimits) and not of_resistance:
            stated = stated | {"r25_pct": (limits.low_pct, limits.high_pct)}
    return stated


def _deviation(source: Box | Region, lever: Array, spread: Spread | None) -> tuple[Array, Array]:
    """Limits of ln(R/R_nominal)."""
    if spread is None:
        return source.worst_case(lever) if isinstance(source, Box) else source.support(lever)
    if not spread.closed_form or (isinstance(source, Region) and spread.distribution != "uniform"):
        if spread.method == "analytic":
            raise InputError(f"{spread.distribution} has no closed form here; use method='auto'")
        return simulated_interval(source, lever, spread)
    if isinstance(source, Region):
        tail = 0.5 * (1.0 - spread.coverage)
        return source.uniform_quantile(lever, tail), source.uniform_quantile(lever, 1.0 - tail)
    if spread.distribution == "uniform":
        return source.uniform(lever, spread.coverage)
    return source.normal(lever, spread.coverage, spread.k, spread.correlation)


def _band(nominal: Curve, t_c: Array, ln_r: Array, low: Array, high: Array, meaning: str) -> Band:
    inv_t = 1.0 / (t_c + ZERO_C_K)
    alpha = -nominal._local_b(inv_t, ln_r) * inv_t**2
    t_c, ln_r, low, high, alpha = np.broadcast_arrays(t_c, ln_r, low, high, alpha)
    below, above = np.expm1(low), np.expm1(high)
    fields = {
        "t_c": t_c,
        "r_low_ohm": np.exp(ln_r + low),
        "r_nominal_ohm": np.exp(ln_r),
        "r_high_ohm": np.exp(ln_r + high),
        "dr_low_pct": 100.0 * below,
        "dr_pct": 100.0 * above,
        "dt_low_k": reading_error(nominal, t_c, ln_r + low),
        "dt_high_k": reading_error(nominal, t_c, ln_r + high),
        "dt_low_first_order_k": below / alpha,
        "dt_high_first_order_k": above / alpha,
        "alpha_per_k": alpha,
    }
    # Copies, so that the band is a value whatever happens to the caller's arrays.
    return Band(**{name: np.array(value) for name, value in fields.items()}, meaning=meaning)


def _arrays_of(kind: type[Band]) -> list[str]:
    """Names of the fields of a band that are arrays."""
    return [field.name for field in dataclasses.fields(kind) if field.name != "meaning"]


def _stacked(parts: list[Band]) -> Band:
    fields = {name: np.stack([getattr(part, name) for part in parts]) for name in _arrays_of(Band)}
    meanings = {part.meaning for part in parts}
    return Band(**fields, meaning=meanings.pop() if len(meanings) == 1 else "each as it is stated")


def _row_of(stated: dict[str, Any], row: int, count: int) -> dict[str, Any]:
    """Give a curve of a sequence its own row of an array of tolerances."""

    def own(value: Any, name: str) -> Any:
        if isinstance(value, tuple):
            return tuple(own(end, name) for end in value)
        if not (isinstance(value, np.ndarray) and value.ndim):
            return value
        if value.shape[0] not in (1, count):
            raise InputError(
                f"{name} has {value.shape[0]} rows for {count} curves; the first dimension of a "
                "tolerance goes with the curves"
            )
        return value[row % value.shape[0]]

    return {name: own(value, name) for name, value in stated.items()}


def _refuse_outside(nominal: Curve, t_c: Array) -> None:
    outside = ~nominal.in_range(t_c)
    if outside.any():
        first = float(np.atleast_1d(t_c)[np.atleast_1d(outside)][0])
        raise ExtrapolationError(
            f"{first:g} °C is outside the valid range of the nominal curve, {nominal.t_min_c:g} to "
            f"{nominal.t_max_c:g} °C; a tolerance band does not go beyond it"
        )
