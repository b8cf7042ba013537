"""Bands of many parts at once: those of the usual kind in blocks, the others one by one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, cast

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.errors import InputError, ThermofitError
from thermofit.tolerance.blocks import fill
from thermofit.tolerance.result import Band, arrays_of_a_band
from thermofit.tolerance.single import HasTolerance, band_of_one
from thermofit.tolerance.spec import Tolerance
from thermofit.tolerance.statistical import Spread
from thermofit.tolerance.usual import UsualLimits, own_limits
from thermofit.tolerance.usualstated import stated_limits

__all__ = ["band_of_many"]

Array = npt.NDArray[np.float64]
Truth = npt.NDArray[np.bool_]

# Below this the preparation costs more than it saves.
_FEWEST = 8


def band_of_many(
    parts: Sequence[Curve | HasTolerance],
    t_c: Array,
    tolerance: Tolerance | None,
    platinum_class: str | None,
    spread: Spread | None,
    stated: dict[str, Any],
    workers: int,
) -> Band:
    """Bands of parts, stacked along a new first dimension; see `tolerance_band`."""
    count = len(parts)
    if not count:
        raise InputError("no curves were given")
    curves = _nominal(parts)

    def one(row: int) -> Band:
        part = parts[row]
        try:
            own = _row_of(stated, row, count)
            return band_of_one(part, t_c, tolerance, platinum_class, spread, own)
        except ThermofitError as error:
            id_ = curves[row].id
            place = f"item {row + 1} of {count}{f' ({id_})' if id_ else ''}"
            error.args = (f"{place}: {error}", *error.args[1:])
            raise

    limits = None
    plain = platinum_class is None and (spread is None or spread.closed_form)
    if plain and t_c.size and count >= _FEWEST:
        limits = stated_limits(parts, stated, t_c.shape) if stated else own_limits(parts, tolerance)
    if limits is None:
        return _stacked([one(row) for row in range(count)])
    quick = limits.usual & _answer_as_curves(curves) & _valid(curves, t_c, limits)
    out = np.empty((len(_FILLED), count, t_c.size))
    meanings = {f"{name}; {'worst case' if spread is None else spread}" for name in limits.names}

    def by_itself(row: int) -> None:
        band = one(row)
        out[:, row] = [np.ravel(getattr(band, name)) for name in _FILLED]
        meanings.add(band.meaning)

    together = np.flatnonzero(quick)
    refused = None
    # Those first that are likely to be refused.
    for row in np.flatnonzero(~quick).tolist():
        try:
            by_itself(row)
        except ThermofitError as error:
            # Among those before it, one may be refused all the same, and is the first then.
            refused, together = error, together[together < row]
            break
    for row in fill(out, curves, together, t_c.ravel(), limits, spread, workers).tolist():
        by_itself(row)
    if refused is not None:
        raise refused
    shape = count, *t_c.shape
    fields = {name: array.reshape(shape) for name, array in zip(_FILLED, out, strict=True)}
    return Band(np.broadcast_to(t_c.copy(), shape), **fields, meaning=_common(meanings))


_FILLED = [name for name in arrays_of_a_band() if name != "t_c"]


def _nominal(parts: Sequence[Curve | HasTolerance]) -> list[Curve]:
    try:
        if any(issubclass(kind, Curve) for kind in set(map(type, parts))):
            return [part if isinstance(part, Curve) else part.curve for part in parts]
        return [cast("HasTolerance", part).curve for part in parts]
    except AttributeError:
        for row, part in enumerate(parts):
            if not isinstance(part, Curve) and not hasattr(part, "curve"):
                raise InputError(
                    f"item {row + 1} of {len(parts)} is no Curve and no Family, but {part!r}"
                ) from None
        raise


# What a band asks its curve.
_ASKED = ("in_range", "_quiet_ln_r", "_quiet_inv_t", "_local_b")


def _answer_as_curves(curves: Sequence[Curve]) -> Truth | bool:
    """Whether curves answer what a band asks as `Curve` does, and not as a derived class may."""
    other = {
        kind
        for kind in set(map(type, curves))
        if any(getattr(kind, name) is not getattr(Curve, name) for name in _ASKED)
    }
    return np.array([type(curve) not in other for curve in curves]) if other else True


def _valid(curves: Sequence[Curve], t_c: Array, limits: UsualLimits) -> Truth:
    """Whether curves are valid at the temperatures, and where their tolerance is stated."""
    low = np.array([curve.t_min_c for curve in curves])
    high = np.array([curve.t_max_c for curve in curves])
    # NaN among the temperatures compares false, and so is refused one by one.
    coldest, hottest = np.where(
        limits.refers,
        (np.minimum(t_c.min(), limits.t_ref_c), np.maximum(t_c.max(), limits.t_ref_c)),
        ((t_c.min(),), (t_c.max(),)),
    )
    valid: Truth = (coldest >= low) & (hottest <= high)
    if not valid.all():
        slack_k = np.array([curve._range_slack_k for curve in curves])
        valid = (coldest >= low - slack_k) & (hottest <= high + slack_k)
    return valid


def _stacked(parts: list[Band]) -> Band:
    fields = {
        name: np.stack([getattr(part, name) for part in parts]) for name in arrays_of_a_band()
    }
    return Band(**fields, meaning=_common({part.meaning for part in parts}))


def _common(meanings: set[str]) -> str:
    return meanings.pop() if len(meanings) == 1 else "each as it is stated"


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
