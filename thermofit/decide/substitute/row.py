"""One thing that may stand in, and what the controller makes of it."""

from __future__ import annotations

from dataclasses import dataclass

from thermofit.decide.substitute.network import Network
from thermofit.decide.substitute.setpoints import SetPoint
from thermofit.decide.substitute.wording import Errs

__all__ = ["Substitute"]


@dataclass(frozen=True, eq=False)
class Substitute:
    """One substitute; errors are the reading less the true temperature, in kelvin.

    Parameters
    ----------
    name : str
        Of the part, or of two of them.
    resistors : str
        What trims it, in words; "" where nothing does.
    series_ohm, parallel_ohm : float
        The trimming resistors; 0 and infinite where there is none.
    worst_k, worst_at_c : float
        Largest error in the range, with the tolerances of the substitute and of the resistors,
        and where it occurs.  Infinite where the reading leaves the original's curve.
    coldest_k, warmest_k : float
        The two ends of that.
    typical_k : float
        Root mean square over the range and over parts that are spread evenly within their
        tolerance.
    curve_k, curve_at_c : float
        Largest error with nominal values: the mismatch of the curves alone, with its sign.
    change_k, change_at_c : float
        Largest change of the reading against the part that was in, which may have been anywhere in
        its own tolerance.
    coarsest_count_k : float
        Resolution at its worst in the range; NaN without a circuit.
    usable : bool
        The controller reads it over the whole range without taking it for broken, and its valid
        range, maximum power and voltage fit.
    catches_open, catches_short : bool or None
        Whether the fault limits catch an open and a shorted part; None where they are not known.
    open_reads_c, short_reads_c : float
        What the controller computes then, with a resistor across or in series; infinite where that
        is beyond its curve.
    masked : tuple of str
        Faults that a resistor, or the other one of two parts, makes the fault limits miss, in
        words.
    unverified : tuple of str
        Those that they may miss, where they are not known.
    errs : {"colder", "warmer", "both", "right", "unknown"}
        Which way the nominal reading errs.
    reads : str
        The same in words, with the places where it errs both ways.
    then_runs : str
        What a controller of heating and vents does of it.
    set_points : tuple of SetPoint
    flags : tuple of str
        Ratings that do not fit, why it is not usable, and set-points beyond its valid range.
    not_stated : tuple of str
        Ratings that were not compared, since one side leaves them open.
    notes : tuple of str
        What is taken for granted of the parts.
    network : Network
    """

    name: str
    resistors: str
    series_ohm: float
    parallel_ohm: float
    worst_k: float
    worst_at_c: float
    coldest_k: float
    warmest_k: float
    typical_k: float
    curve_k: float
    curve_at_c: float
    change_k: float
    change_at_c: float
    coarsest_count_k: float
    usable: bool
    catches_open: bool | None
    catches_short: bool | None
    open_reads_c: float
    short_reads_c: float
    masked: tuple[str, ...]
    unverified: tuple[str, ...]
    errs: Errs
    reads: str
    then_runs: str
    set_points: tuple[SetPoint, ...]
    flags: tuple[str, ...]
    not_stated: tuple[str, ...]
    notes: tuple[str, ...]
    network: Network
