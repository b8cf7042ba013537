"""How NTC ceramics bend: the prior that the registered families imply."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal
from functools import cache
from typing import Final

import numpy as np

from thermofit.curve import Curve
from thermofit.equations.base import Array
from thermofit.equations.tabulated import Tabulated
from thermofit.errors import InputError
from thermofit.estimate.linear import least_squares
from thermofit.estimate.prior import KILOKELVIN, Prior
from thermofit.families.registry import families
from thermofit.family import Family
from thermofit.units import T0_K, ZERO_C_K

__all__ = ["bend_prior", "bends_known", "learned"]

_TEACHES: Final = ("measured", "table", "coefficients")
"""Kinds of source whose curve follows the material; a nominal B value says nothing of the bend."""

_TERMS: Final = 5
"""B and four terms of bend: the published tables need no more to within their rounding."""

_RANGE_C: Final = (-40.0, 125.0)
_AT_LEAST_C: Final = (-20.0, 100.0)
_STEP_K: Final = 5.0

_ORDER_BY_ORDER: Final = 0.9
"""How much less the next order of the bend may deviate, in units of 10³ K.

An assumption, not learned: five families cannot teach it.  It is that of a function whose series
in u converges up to |u| = 1/0.9 per 10³ K, somewhat beyond the ends of −40 to 125 °C, which lie at
0.94 and −0.84.
"""

_LEAST_DEVIATION: Final = 1e-4

_KNOWN_TO_K: Final = 0.05
"""Standard uncertainty up to which a curve teaches; common practice, no source."""

_SMOOTH_K: Final = 0.003
"""What a smooth curve misses of any material, beside the rounding of its table."""


def bend_prior(members: Iterable[Family] | None = None) -> Prior:
    """Learn from families how NTC ceramics bend.

    Parameters
    ----------
    members : iterable of Family, optional
        By default all registered ones.  Those whose curve comes from measurement teach:
        tables, coefficients of a maker, measured curves, known over −20 to 100 °C at
        least.  Nominal constant-B curves, platinum and PTC are passed over, and so are curves
        that are known to less than 0.05 K there: those that `characterise` made of a few
        readings have their bend from here.

    Returns
    -------
    Prior
        Over B and b2 … b5, valid from −40 to 125 °C.

    Raises
    ------
    InputError
        Fewer than two families teach.

    Notes
    -----
    Materials are taken as scaled copies of one shape, B·(u + s2·u² + s3·u³ + …), as a
    tolerance on B scales it, with deviations from that shape.  Each family gives its B and
    its s_k by least squares in kelvin over its range, the last digit of a table allowed
    for.  B and the s_k have the means of the families, and so the bend is conditional on B.
    The deviation of s2 has the standard deviation of the families; that of each further
    order is taken, not learned, as 0.9 of the one before, in units of 10³ K.  For the small
    number n of families the spreads of B and of s2 are widened by √(1 + 1/n)·t/1.96, t the
    97.5 % quantile of Student's t with n − 1 degrees of freedom: the 95 % interval is that for
    one more family, if families scatter normally and are no copies of each other.  At a higher
    coverage than 95 % the normal distribution is too short in its tails.

    Examples
    --------
    >>> prior = bend_prior()
    >>> prior.origin
    '5 registered families'
    >>> prior.mean[:2].round(2), prior.standard_uncertainties[:2].round(2)
    (array([ 3.97, -0.2 ]), array([0.64, 0.07]))
    """
    if members is None:
        return _registered()
    teachers = [member for member in members if bends_known(member)]
    return learned([member.curve for member in teachers], f"{len(teachers)} families")


def bends_known(member: Family) -> bool:
    """Whether the curve of a family says how its material bends."""
    curve = member.curve
    low, high = _AT_LEAST_C
    return (
        member.source_kind in _TEACHES
        and curve.equation.name != "beta"
        and curve.t_min_c <= low
        and curve.t_max_c >= high
        and (not isinstance(curve.equation, Tabulated) or len(_on_grid(curve)[0]) > 2 * _TERMS)
        and bool((curve._local_b(*_on_grid(curve)) > 0.0).all())
        and _is_known(curve)
    )


def _is_known(curve: Curve) -> bool:
    """Whether a curve's covariance, where it has one, leaves the bend to be its own."""
    if curve.covariance is None:
        return True
    r_ohm = curve.resistance(np.linspace(*_AT_LEAST_C, 25))
    return bool((curve.temperature_interval(r_ohm).standard_uncertainty <= _KNOWN_TO_K).all())


def learned(curves: Sequence[Curve], origin: str) -> Prior:
    """Make a prior of the curves of two or more materials."""
    n = len(curves)
    if n < 2:
        raise InputError(
            f"{n} famil{'y' if n == 1 else 'ies'} with a measured curve cannot teach a prior: two "
            "are the least; give a Prior of your own"
        )
    bends = np.array([_bend(curve) for curve in curves])
    b, shapes = bends[:, 0], bends[:, 1:] / bends[:, :1]
    widening = _for_few(n)
    b_mean, shape = float(b.mean()), np.concatenate([[1.0], shapes.mean(axis=0)])
    deviation = max(float(shapes[:, 0].std(ddof=1)), _LEAST_DEVIATION) * widening
    deviations = deviation * _ORDER_BY_ORDER ** np.arange(_TERMS - 1)
    b_spread = max(float(b.std(ddof=1)), _LEAST_DEVIATION) * widening
    covariance = b_spread**2 * np.outer(shape, shape)
    covariance[1:, 1:] += np.diag((b_mean * deviations) ** 2)
    return Prior(b_mean * shape, covariance, _RANGE_C, origin)


@cache
def _registered() -> Prior:
    teachers = [member for member in families().values() if bends_known(member)]
    return learned([member.curve for member in teachers], f"{len(teachers)} registered families")


def _bend(curve: Curve) -> Array:
    """B, b2, b3 … of a curve in powers of 10³ K, shape (5,), best in kelvin."""
    inv_t, ln_r = _on_grid(curve)
    per_k = np.abs(curve._local_b(inv_t, ln_r)) * inv_t**2
    sigma = np.hypot(_SMOOTH_K * per_k, _rounding_ohm(curve) / np.exp(ln_r))
    design = np.vander((inv_t - 1.0 / T0_K) * KILOKELVIN, _TERMS + 1, increasing=True)
    found: Array = least_squares(design, ln_r, sigma).coefficients
    return found[1:]


def _rounding_ohm(curve: Curve) -> float:
    """Standard uncertainty of a table's resistances from the last digit that they have."""
    if not isinstance(curve.equation, Tabulated):
        return 0.0
    digits = min(
        int(Decimal(repr(r)).normalize().as_tuple().exponent) for r in curve.equation.r_ohm
    )
    return 10.0**digits / float(np.sqrt(12.0))


def _on_grid(curve: Curve) -> tuple[Array, Array]:
    """1/T and ln R over the range: at the nodes of a table, else in equal steps."""
    low, high = max(curve.t_min_c, _RANGE_C[0]), min(curve.t_max_c, _RANGE_C[1])
    t_c = np.linspace(low, high, 1 + round((high - low) / _STEP_K))
    if isinstance(curve.equation, Tabulated):
        nodes = np.array(curve.equation.t_c)
        t_c = nodes[(nodes >= low) & (nodes <= high)]
    inv_t = 1.0 / (t_c + ZERO_C_K)
    return inv_t, curve._ln_r(inv_t)


def _for_few(n: int) -> float:
    """Widening of a standard deviation that n families gave."""
    from scipy.special import ndtri, stdtrit

    return float(np.sqrt(1.0 + 1.0 / n) * stdtrit(n - 1, 0.975) / ndtri(0.975))
