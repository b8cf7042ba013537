"""`substitutes`: which part can stand in for another, and can a resistor mend the error."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, get_args

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.budget import require_number
from thermofit.circuit import Circuit, FaultLimits, preferred_values
from thermofit.circuit.preferred import Series
from thermofit.curve import Curve
from thermofit.decide.substitute.accepted import accepted_ohm
from thermofit.decide.substitute.building import Trim, best_trimmed, paired
from thermofit.decide.substitute.candidates import Candidate, candidate, check_tolerance, gather
from thermofit.decide.substitute.compare import Setting, compare, largest
from thermofit.decide.substitute.network import Network
from thermofit.decide.substitute.ohms import concatenated, ohms_of
from thermofit.decide.substitute.reader import Reader, reading_errors
from thermofit.decide.substitute.result import Substitutes
from thermofit.decide.substitute.row import Substitute
from thermofit.decide.substitute.wording import NOT_VERIFIED
from thermofit.errors import ExtrapolationError, InputError
from thermofit.family import Family
from thermofit.tolerance import Tolerance

__all__ = ["Trim", "substitutes", "temperatures"]

Array = npt.NDArray[np.float64]

_NO_RESISTORS = (
    "no resistors of the series leave the controller a healthy range with open and short caught"
)

_NO_HELP = "no resistors of the series make the worst error smaller"
_LEAST_TEMPERATURES = 61
_MOST_TEMPERATURES = 10_000


def substitutes(
    fam: Family | Curve | str | tuple[float, float],
    t_range_c: Sequence[float],
    circuit: Circuit | None = None,
    *,
    candidates: Any = None,
    set_points_c: Any = (),
    limits: FaultLimits | None = None,
    trim: Trim | None = None,
    pairs: Trim | None = None,
    series: Series = "E96",
    resistor_pct: float = 1.0,
    resistor_range_ohm: Sequence[float] = (10.0, 10e6),
    allow_masked: bool = False,
    unstated: Tolerance | None = None,
    step_k: float = 1.0,
) -> Substitutes:
    """Say which parts can stand in for another while the controller stays as it is.

    The controller assumes the original's nominal curve T_o(R).  With a substitute it reads
    T_o(R_s(T)), and the error is that less T.  It is found at equally spaced temperatures of the
    range, with all tolerances at their ends.

    Parameters
    ----------
    fam : Family, Curve, str or (float, float)
        The original, the id of its family, or its R25 in ohms and B in kelvin.
    t_range_c : (float, float)
        Range in °C that matters.
    circuit : Circuit, optional
        What reads the sensor.  It knows its own fixed resistors, so that the errors depend on the
        sensor alone; the ends of its scale, its resolution, its power in the sensor and its fault
        limits do depend on it.
    candidates : optional
        A mapping of names to parts, a list of parts, one part, or a curve set; a part is a Family,
        a Curve, an id, or a tuple of R25 in ohms and B in kelvin.  Without them, all families but
        the original.
    set_points_c : array_like, shape (k,)
        Set-points in °C whose drift is wanted.
    limits : FaultLimits, optional
        Limits beyond which the controller takes its sensor for broken; without a circuit, in ohms.
    trim : {"series", "parallel", "both"}, optional
        Look for the best resistor in series, across the part, or for the best of all pairs of
        them, where either may be left out: (part ∥ parallel) + series, at the sensor.
    pairs : {"series", "parallel", "both"}, optional
        Try two candidates, equal or not, in series, in parallel, or either way.
    series : {"E3" … "E192"}
        Preferred numbers of the resistors (IEC 60063).
    resistor_pct : float
        Limits ± of the resistors, in percent.
    resistor_range_ohm : (float, float)
        Smallest and largest resistor.
    allow_masked : bool
        Keep networks whose resistors hide an open or a shorted part from the fault limits, and
        pairs of which one may fail unseen, as well; the rows say which fault, and what the
        controller would read.
    unstated : Tolerance, optional
        Of parts, the original included, that state none; else these are taken as exact.
    step_k : float
        Largest step between temperatures; there are 61 of them at least.

    Returns
    -------
    Substitutes

    Raises
    ------
    UnknownNameError
        No family has an id that is given.
    ExtrapolationError
        The range, or a set-point, is not within the valid range of the original, or its tolerance
        is stated at a temperature that is not.
    InputError
        A circuit, limits, a range or a candidate that cannot be used; no candidate is left.

    Notes
    -----
    Three errors are told apart.  `worst_k` is what the user sees with the substitute: the mismatch
    of the curves, and its own tolerance.  `own_worst_k` is what the original was allowed.
    `change_k` is by how much the reading may change against the part that was in, with both
    tolerances.  Errors of the circuit itself come on top: `Circuit.error_budget`.

    References
    ----------
    IEC 60063 (preferred numbers); IEC 60539-1 (ratings).

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.decide import substitutes
    >>> found = substitutes("ntc-10k-3977", (0, 60), candidates="ntc-10k-3950", trim="both")
    >>> print([(row.resistors, round(row.worst_k, 2)) for row in found])
    [('1.30 MΩ across, 21.5 Ω in series', 0.15), ('', 0.63)]
    """
    for name, value in (("trim", trim), ("pairs", pairs)):
        if value is not None and value not in get_args(Trim):
            raise InputError(f"{name} must be series, parallel or both, not {value!r}")
    if circuit is not None and not isinstance(circuit, Circuit):
        raise InputError(
            f"circuit must be a Divider or a ConstantCurrent, not {circuit!r}; see "
            "thermofit.circuit"
        )
    if limits is not None and not isinstance(limits, FaultLimits):
        raise InputError(f"limits must be FaultLimits(…), not {limits!r}")
    if unstated is not None and not isinstance(unstated, Tolerance):
        raise InputError(f"unstated must be a Tolerance, not {unstated!r}; Tolerance.of makes one")
    pct = require_number(resistor_pct, "resistor_pct", "%", least=0.0)
    if pct >= 100.0:
        raise InputError(f"resistor_pct must be below 100 %, not {pct:g} %")
    original = candidate(fam, unstated)
    try:
        check_tolerance(original)
    except ExtrapolationError as error:
        raise ExtrapolationError(
            f"{original.name or 'the original'}, the original: {error}"
        ) from None
    t_c = temperatures(original.part.curve, t_range_c, step_k)
    reader = Reader.of(original.part.curve)
    own_ohms = ohms_of([original.part], t_c)
    own = reading_errors(reader, own_ohms, t_c)
    accepted = accepted_ohm(circuit, limits, t_c, own_ohms.nominal[0])
    wanted = _set_points(original.part.curve, set_points_c)
    setting = Setting(original, reader, t_c, own, circuit, accepted, wanted)
    found, left_out = gather(candidates, original, unstated)
    bare = ohms_of([one.part for one in found], t_c)
    notes = [NOT_VERIFIED] if limits is None else []
    pieces = [([Network((one,)) for one in found], bare)]
    if trim is not None:
        values = _resistors(series, resistor_range_ohm)
        networks, ohms, without = best_trimmed(
            setting, found, bare, trim, values, pct, allow_masked=allow_masked
        )
        pieces.append((networks, ohms))
        notes += [f"{_NO_RESISTORS}: {', '.join(without)}"] if without else []
    if pairs is not None:
        networks, ohms, hidden = paired(setting, found, bare, pairs, allow_masked=allow_masked)
        pieces.append((networks, ohms))
        left_out |= hidden
    networks = [network for piece, _ in pieces for network in piece]
    rows = compare(setting, networks, concatenated([ohms for _, ohms in pieces]))
    if useless := _useless(rows):
        notes.append(f"{_NO_HELP}: {', '.join(useless)}")
    own_worst, _ = largest(own.low, own.high)
    known = original.part.tolerance is not None or original.part.curve.covariance is not None
    return Substitutes(
        original.name or "the original",
        (float(t_c[0]), float(t_c[-1])),
        rows,
        float(own_worst[0]) if known else np.nan,
        float(np.sqrt(own.square.mean())) if known else np.nan,
        left_out,
        (*notes, *_common(rows, original, circuit)),
        setting,
    )


def temperatures(curve: Curve, t_range_c: Sequence[float], step_k: float) -> Array:
    """Equally spaced temperatures of a range, no farther apart than a step."""
    try:
        ends = [require_number(end, "an end of t_range_c", "°C") for end in t_range_c]
    except TypeError:
        ends = []
    if len(ends) != 2 or not ends[0] < ends[1]:
        raise InputError(f"t_range_c is a pair (low, high) in °C, not {t_range_c!r}")
    if not np.asarray(curve.in_range(ends)).all():
        raise ExtrapolationError(
            f"t_range_c of {ends[0]:g} to {ends[1]:g} °C is not within the valid range of the "
            f"original, {curve.t_min_c:g} to {curve.t_max_c:g} °C; narrow it"
        )
    step_k = require_number(step_k, "step_k", "K", above=0.0)
    steps = (ends[1] - ends[0]) / step_k
    if steps > _MOST_TEMPERATURES:
        raise InputError(
            f"a step_k of {step_k:g} K makes {steps:.3g} temperatures; {_MOST_TEMPERATURES} are "
            "the most"
        )
    # Rounding must not add a temperature to a range that the step divides.
    count = max(int(np.ceil(steps - 1e-9)) + 1, _LEAST_TEMPERATURES)
    t_c: Array = np.linspace(ends[0], ends[1], count)
    return t_c


def _set_points(curve: Curve, set_points_c: Any) -> Array:
    wanted = np.atleast_1d(as_float_array(set_points_c, "set_points_c")).ravel()
    if not np.isfinite(wanted).all():
        raise InputError("set_points_c must be finite")
    beyond = wanted[~np.asarray(curve.in_range(wanted))]
    if beyond.size:
        raise ExtrapolationError(
            f"the set-point of {beyond[0]:g} °C is not within the valid range of the original, "
            f"{curve.t_min_c:g} to {curve.t_max_c:g} °C; leave it out"
        )
    return wanted


def _resistors(series: Series, range_ohm: Sequence[float]) -> Array:
    try:
        low_ohm, high_ohm = range_ohm
    except (TypeError, ValueError):
        raise InputError(
            f"resistor_range_ohm is a pair (low, high) in Ω, not {range_ohm!r}"
        ) from None
    values = preferred_values(series, low_ohm, high_ohm)
    if not values.size:
        raise InputError(f"{series} has no value from {low_ohm:g} to {high_ohm:g} Ω")
    return values


def _useless(rows: Sequence[Substitute]) -> list[str]:
    """Names of the parts that are better without resistors."""
    bare_k = {row.name: row.worst_k for row in rows if not row.resistors}
    return [row.name for row in rows if row.resistors and not row.worst_k < bare_k[row.name]]


def _common(rows: Sequence[Substitute], original: Candidate, circuit: Circuit | None) -> list[str]:
    """What holds for all rows."""
    notes = [f"{note}; it is the original" for note in original.notes]
    missing = dict.fromkeys(name for row in rows for name in row.not_stated)
    if missing:
        notes.append(f"not stated on both sides, and so not compared: {', '.join(missing)}")
    if circuit is not None:
        notes.append("errors of the circuit itself come on top: Circuit.error_budget")
    return notes
