"""What every family keeps, as a function that an author can call."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from thermofit.curvesets.cells import check_id
from thermofit.curvesets.columns import FAMILY
from thermofit.curvesets.reader import read_curve_set
from thermofit.curvesets.writer import write_curve_set
from thermofit.errors import ConformanceError, CurveSetError, InputError
from thermofit.family import Family
from thermofit.testing.rules import broken

__all__ = ["check_family"]

_ROUND_TRIP_K = 1e-9
_R25_OHM = (1.0, 1e9)
_B_K = (500.0, 10e3)
_LARGEST_TOLERANCE_PCT = {"r25_tol_pct": 50.0, "b_tol_pct": 20.0}


def check_family(family: Family) -> None:
    """Check that a family is one that others can use.

    Parameters
    ----------
    family : Family

    Raises
    ------
    ConformanceError
        With a line for each rule that is broken:

        - the id can be part of a file name, and the source is stated;
        - the resistance is monotone over the valid range, and T(R(T)) is T
          within 1e-9 K;
        - R25 and B25/85 of a thermistor are those of a real one, the range holds
          the temperatures that the tolerances speak of, and these are plausible;
        - a family that fixes the ratio only is 1 Ω at 25 °C;
        - written to a curve set, it reads back as it is.

    Examples
    --------
    >>> import thermofit as tf
    >>> check_family(tf.family("ntc-10k-3977"))
    """
    if not isinstance(family, Family):
        raise ConformanceError(repr(family), ["a family is a thermofit.Family"])
    failures = broken(_RULES, family)
    if failures:
        raise ConformanceError(f"family {family.id}", failures)


def _id(family: Family) -> Iterator[str]:
    try:
        check_id(family.id)
    except InputError as error:
        yield f"id: {family.id!r} {error}"


def _source(family: Family) -> Iterator[str]:
    if not family.source.strip():
        yield "source: is blank; say where the numbers come from"


def _monotone(family: Family) -> Iterator[str]:
    curve = family.curve
    steps = np.diff(np.log(curve.resistance(np.linspace(curve.t_min_c, curve.t_max_c, 2001))))
    if not (np.all(steps < 0.0) or np.all(steps > 0.0)):
        yield "monotone: the resistance turns, or stands still, within the valid range"


def _round_trip(family: Family) -> Iterator[str]:
    curve = family.curve
    t_c = np.linspace(curve.t_min_c, curve.t_max_c, 501)
    miss_k = float(np.max(np.abs(curve.temperature(curve.resistance(t_c)) - t_c)))
    if not miss_k <= _ROUND_TRIP_K:
        yield f"round trip: T(R(T)) misses T by {miss_k:.2g} K, more than {_ROUND_TRIP_K:g} K"


def _values(family: Family) -> Iterator[str]:
    curve = family.curve
    covers_25 = curve.t_min_c <= 25.0 <= curve.t_max_c
    if family.ratio_only and not abs(curve.r25_ohm - 1.0) <= 1e-9:
        yield f"ratio_only: the curve must be 1 Ω at 25 °C, not {curve.r25_ohm:.6g} Ω"
    if not family.ratio_only and covers_25 and not _R25_OHM[0] <= curve.r25_ohm <= _R25_OHM[1]:
        yield f"R25: {curve.r25_ohm:.6g} Ω is that of no sensor; check the unit of the resistances"
    falls = curve.resistance(curve.t_min_c) > curve.resistance(curve.t_max_c)
    if covers_25 and curve.t_max_c >= 85.0 and falls:
        b_k = curve.b_25_85_k
        if not _B_K[0] <= b_k <= _B_K[1]:
            yield f"B25/85: {b_k:.6g} K is that of no thermistor; check units and coefficients"


def _tolerances(family: Family) -> Iterator[str]:
    curve = family.curve
    for name, largest in _LARGEST_TOLERANCE_PCT.items():
        value = getattr(family, name)
        if value is None:
            continue
        if value > largest:
            yield f"{name}: ± {value:g} % is more than any maker states; it is in percent"
        if not curve.t_min_c <= 25.0 <= curve.t_max_c:
            yield (
                f"{name}: speaks of 25 °C, which the range of {curve.t_min_c:g} to "
                f"{curve.t_max_c:g} °C does not hold"
            )
    if family.ratio_only and family.r25_tol_pct is not None:
        yield "r25_tol_pct: a family that fixes the ratio only leaves R25 open"


def _curve_set(family: Family) -> Iterator[str]:
    stale = sorted(set(family.curve.extra) & set(FAMILY))
    if stale:
        yield (
            f"curve set: the curve still carries {', '.join(stale)} as extra cells; take the "
            "family from the set with family(id), or make the curve without them"
        )
        return
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "set.csv")
        try:
            write_curve_set(path, [family])
            read = read_curve_set(path).families()
        except CurveSetError as error:
            yield from (f"curve set: {problem}" for problem in error.problems)
            return
        if read != (family,):
            yield "curve set: written and read back, the family is another one"


_RULES = (_id, _source, _monotone, _round_trip, _values, _tolerances, _curve_set)
