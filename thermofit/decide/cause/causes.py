"""From readings to the cause: is it the sensor, the wiring, or the controller?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.budget import require_number
from thermofit.decide.cause.assumptions import Assumptions
from thermofit.decide.cause.draws import Draws, draw
from thermofit.decide.cause.estimates import estimate, likeliest
from thermofit.decide.cause.kinds import priors_of
from thermofit.decide.cause.nexttest import NextTest, next_tests
from thermofit.decide.cause.parts import other_parts, own_part
from thermofit.decide.cause.result import CauseRow, Causes, verdict_of
from thermofit.decide.cause.spot import SpotReading, spot_readings
from thermofit.decide.cause.unknowns import disagreements, rule_steps, unidentified
from thermofit.decide.cause.visit import Visit, visit_of
from thermofit.decide.cause.weighing import Weighed, weigh
from thermofit.decide.identification.hypothesis import Hypothesis
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.tolerance import Tolerance
from thermofit.units import ZERO_C_K, format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["causes"]

Array = npt.NDArray[np.float64]
Pair = tuple[float, float]

_FEW_OHM = 1000.0  # of a sensor whose readings the wires of a long cable move
_WORTH = 0.005  # probability from which a cause gets sizes and takes part in plans


def causes(
    readings: Iterable[SpotReading] | pd.DataFrame,
    family: Family | str,
    *,
    tolerance: Tolerance | None = None,
    priors: Mapping[str, float] | None = None,
    families: Iterable[Family | str] | None = None,
    contact_ohm: Pair | None = None,
    leakage_ohm: Pair = (1e3, 10e6),
    u_controller_pct: float = 1.0,
    next_t_c: float | Sequence[float] = (0.0, 50.0),
) -> Causes:
    """Say what readings between a sensor and its controller point to.

    Parameters
    ----------
    readings : sequence of SpotReading, or pandas.DataFrame
        Taken at one visit, at one temperature or more, in any order.  Readings of one `t_c` share
        one true temperature.  A frame has the columns ``place``, ``t_c``, ``r_ohm``, ``u_t_k``,
        ``u_r_ohm`` and, for what is over range, ``limit_ohm``.
    family : Family or str
        What should be fitted: the prior of (γ, β) is even over its tolerance.
    tolerance : Tolerance, optional
        Instead of what the family states; what neither states is assumed, and noted.
    priors : mapping of str to float, optional
        Weights of causes instead of `thermofit.decide.cause.PRIORS`; 0 leaves one out.
    families : iterable of Family or str, optional
        What may have been fitted instead, all with one probability; all registered ones with a
        stated R25 if not given, none where it is empty.
    contact_ohm : (float, float), optional
        Span of a bad contact, in series; ln of it is even.  10 Ω to 100 kΩ if not given, or from
        a hundredth of the sensor's resistance where that is less.
    leakage_ohm : (float, float)
        Span of leakage, in parallel; ln of it is even.
    u_controller_pct : float
        Standard uncertainty of a healthy controller's input, in percent of the resistance.
    next_t_c : float or sequence of float
        Temperatures in °C that can be had for the next measurement.

    Returns
    -------
    Causes

    Raises
    ------
    InputError
        Readings that are none, a temperature outside the family's range, priors or spans that are
        none.
    UnknownNameError
        A cause or a family that does not exist.

    Notes
    -----
    With the sensor ln R_s = ln R_nominal + γ + β·ln ρ(T), the connector has (R_s + R_contact) ∥
    R_leak: the contact in series with the sensor, the leakage across the cable at the controller's
    end.  Each cause is a state of sensor, wiring and controller; its evidence is the integral of
    the readings' density over the sizes that it leaves open.  Sizes are cut into small normal
    cells of ln R, in each of which the readings are linear; the integral over (γ, β) is closed.
    The ends of the spans are as soft as a cell is wide, 2 % (12 % where two sizes are open).
    Intervals are those of 2000 draws, always the same.

    Sensors out of tolerance are normally distributed with standard deviations from the tolerance
    to 0.5 of γ and 0.08 of β, in equal ratios, cut off at the tolerance.  A wrong input of the
    controller reads 0.1 to 10 times the resistance (ln of it even), open or short.  An
    intermittent contact is good at half of the readings.  These and the priors are judgements.

    The verdict is "cannot tell" where no cause has one half.

    References
    ----------
    E. T. Jaynes, Probability Theory: The Logic of Science (2003), chapters 4 and 20.  D. V.
    Lindley, Ann. Math. Stat. 27 (1956) 986–1005, for the next measurement.

    Examples
    --------
    Invented readings of an aspirated air sensor of a glasshouse: the display is too cold, the
    cable's end reads 14.6 kΩ, the sensor itself 12.5 kΩ.

    >>> from thermofit.decide.cause import SpotReading
    >>> found = causes(
    ...     [
    ...         SpotReading("connector", 20.0, 14.6e3, u_t_k=0.2, u_r_ohm=40),
    ...         SpotReading("sensor", 20.0, 12.5e3, u_t_k=0.2, u_r_ohm=35),
    ...     ],
    ...     "ntc-10k-3977",
    ... )
    >>> found.verdict, round(found.where["wiring"], 2)
    ('bad contact', 0.99)
    >>> round(found["bad contact"].contact_ohm.value, -2)
    2100.0

    The connector alone tells less:

    >>> causes([SpotReading("connector", 20.0, 14.6e3, 0.2, 40)], "ntc-10k-3977").verdict
    'cannot tell'
    """
    found = spot_readings(readings)
    temperatures = _temperatures(next_t_c)
    own, notes = own_part(family, tolerance)
    _refuse_out_of_range(found, own)
    others, told = other_parts(families, own, np.array([reading.t_c for reading in found]))
    visit = visit_of(found, own)
    least_ohm = float(np.exp(visit.expected(own).ln_r.min()))
    assumed = Assumptions.checked(contact_ohm, leakage_ohm, u_controller_pct, least_ohm)
    prior = priors_of(priors, display=bool(visit.at("display").any()), others=bool(others))
    weighed, probability = weigh(visit, own, others, assumed, prior)
    draws = [
        draw(cause, visit, assumed) if p >= _WORTH else None
        for cause, p in zip(weighed, probability, strict=True)
    ]
    rows = [
        _row(cause, sample, float(p), before, assumed)
        for cause, sample, p, before in zip(
            weighed, draws, probability, prior.values(), strict=True
        )
    ]
    where: dict[str, float] = {}
    for row in rows:
        where[row.part] = where.get(row.part, 0.0) + row.probability
    ranked = tuple(sorted(rows, key=lambda row: -row.probability))
    tests = _plan(visit, list(zip(weighed, draws, strict=True)), probability, temperatures)
    return Causes(
        ranked, verdict_of(ranked), MappingProxyType(where), tests,
        rule_steps({row.cause: row.probability for row in rows}), unidentified(visit),
        disagreements(visit), own.id, found,
        (*notes, *told, *_wires(least_ohm, visit), *_notes(assumed, given=priors is not None)),
    )  # fmt: skip


def _row(
    weighed: Weighed, draws: Draws | None, probability: float, prior: float, assumed: Assumptions
) -> CauseRow:
    kind, sizes = weighed.kind, estimate(weighed, draws, assumed)
    if sizes is None or draws is None:
        return CauseRow(kind.id, kind.part, probability, prior)
    other, share = "", np.nan
    if kind.sensor == "other":
        block, share = likeliest(draws)
        other = weighed.blocks[block].hypothesis.id
    return CauseRow(
        kind.id, kind.part, probability, prior, sizes.gamma, sizes.beta, sizes.contact_ohm,
        sizes.leak_ohm, sizes.undetermined, other, share,
    )  # fmt: skip


def _plan(
    visit: Visit, pairs: Sequence[tuple[Weighed, Draws | None]], probability: Array,
    temperatures: tuple[float, ...],
) -> tuple[NextTest, ...]:  # fmt: skip
    known = visit.u[visit.finite]
    u_r = float(np.median(known)) if known.size else 0.01
    u_t_k = float(np.median(visit.u_t_k))
    return next_tests(visit, pairs, probability, temperatures, u_t_k, u_r)


def _temperatures(next_t_c: Any) -> tuple[float, ...]:
    values = np.atleast_1d(as_float_array(next_t_c, "next_t_c"))
    if values.ndim > 1:
        raise InputError(f"next_t_c is one temperature or a list, not of shape {values.shape}")
    return tuple(require_number(float(t), "next_t_c", "°C", above=-ZERO_C_K) for t in values)


def _refuse_out_of_range(readings: Sequence[SpotReading], own: Hypothesis) -> None:
    for reading in readings:
        if not own.curve.in_range(reading.t_c):
            raise InputError(
                f"the reading at {reading.place!r} was taken at {reading.t_c:g} °C, outside the "
                f"valid range of {own.id}, {own.curve.t_min_c:g} to {own.curve.t_max_c:g} °C; "
                "leave it out, or name the family that is fitted"
            )


def _wires(least_ohm: float, visit: Visit) -> tuple[str, ...]:
    """Some ohms of copper are nothing beside 10 kΩ, and degrees of a platinum sensor."""
    if least_ohm >= _FEW_OHM or not (visit.places != "sensor").any():
        return ()
    return (
        "the resistance of the cable's own wires counts as a bad contact here; take it off the "
        "readings through the cable first",
    )


def _notes(assumed: Assumptions, *, given: bool) -> tuple[str, ...]:
    contact, leakage = (
        f"{format_ohm(low, 3)} to {format_ohm(high, 3)}"
        for low, high in (assumed.contact_ohm, assumed.leakage_ohm)
    )
    return (
        f"a bad contact has {contact} in series, leakage {leakage} across the cable at the "
        "controller's end; ln of each is even",
        "prior probabilities as given" if given else "prior probabilities: judgement, no source",
        "readings of one temperature share its error; those of different ones do not",
    )
