"""The errors of a reading over temperature, contribution by contribution."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.budget import Budget, Contribution
from thermofit.circuit.base import Circuit
from thermofit.circuit.extremes import worst_errors
from thermofit.circuit.influence import Influence
from thermofit.circuit.part import Part, part_of
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.texttable import aligned

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["UNKNOWN_NOTE", "Effect", "ErrorBudget", "error_budget", "error_span", "shown"]

Array = npt.NDArray[np.float64]

UNKNOWN_NOTE = "(?: an end of the converter's scale or of the curve is reached)"


@dataclass(frozen=True, eq=False)
class Effect:
    """What one contribution does to the reading, by itself.

    Parameters
    ----------
    name : str
    low_k, high_k : array, shape (n,)
        Lowest and highest error, in kelvin, exactly; the noise is taken to k = 3.
    mean_k : array, shape (n,)
        Expected error; nought where the limits are ±.
    u_k : array, shape (n,)
        Standard uncertainty in kelvin.
    contributions : tuple of Contribution, length n
        The same for a budget at each temperature (JCGM 100); empty where it has none.
    """

    name: str
    low_k: Array
    high_k: Array
    mean_k: Array
    u_k: Array
    contributions: tuple[Contribution | None, ...]


@dataclass(frozen=True, eq=False)
class ErrorBudget:
    """Errors of the reading over temperature.

    An error is the reading less the temperature of what is measured.

    Parameters
    ----------
    t_c : array, shape (n,)
        Temperature of what is measured, in °C.
    effects : tuple of Effect
        The contributions, each by itself; NaN where the nominal code is the first or the last.
    worst_low_k, worst_high_k : array, shape (n,)
        Lowest and highest error in kelvin if everything conspires: exact, at the corners of all
        limits.  NaN where the limits reach the first or the last code, or where the curve ends.
    notes : tuple of str
        What was taken for granted.
    """

    t_c: Array
    effects: tuple[Effect, ...]
    worst_low_k: Array
    worst_high_k: Array
    notes: tuple[str, ...]

    @property
    def mean_k(self) -> Array:
        """Expected error in kelvin: half the self-heating, and the middle of one-sided limits."""
        total: Array = np.sum([effect.mean_k for effect in self.effects], axis=0)
        return total

    @property
    def standard_uncertainty_k(self) -> Array:
        """Combined standard uncertainty, the root of the sum of squares (JCGM 100, 5.1.2)."""
        total: Array = np.sum([effect.u_k**2 for effect in self.effects], axis=0)
        return np.sqrt(total)

    def at(self, t_c: float) -> Budget:
        """Give the budget at one of the temperatures, in the form of JCGM 100.

        Parameters
        ----------
        t_c : float
            In °C.

        Returns
        -------
        Budget
            Of the reading there, in °C.

        Raises
        ------
        InputError
            Not one of the temperatures, or one that the circuit cannot read.
        """
        found = np.flatnonzero(self.t_c == t_c)
        if not found.size:
            raise InputError(f"the budget has no row at {t_c!r} °C; it has {self.t_c.tolist()}")
        place = int(found[0])
        parts = [effect.contributions[place] for effect in self.effects]
        known = [part for part in parts if part is not None]
        if len(known) < len(parts):
            raise InputError(f"the circuit cannot read {t_c:g} °C")
        return Budget(float(t_c + self.mean_k[place]), "°C", known)

    def to_frame(self) -> pd.DataFrame:
        """Give the contributions as a pandas frame, a row for each at each temperature."""
        import pandas as pd

        return pd.concat(
            [
                pd.DataFrame({
                    "t_c": self.t_c, "contribution": effect.name, "low_k": effect.low_k,
                    "high_k": effect.high_k, "mean_k": effect.mean_k, "u_k": effect.u_k,
                })
                for effect in self.effects
            ],
            ignore_index=True,
        )  # fmt: skip

    def __str__(self) -> str:
        header = ["error / K at", *(f"{t:g} °C" for t in self.t_c)]
        limits = [(effect.name, effect.low_k, effect.high_k) for effect in self.effects]
        limits.append(("worst case", self.worst_low_k, self.worst_high_k))
        rows = [
            [name, *(error_span(*ends, 3) for ends in zip(low, high, strict=True))]
            for name, low, high in limits
        ]
        u = ["standard uncertainty", *(shown(v, ".3f") for v in self.standard_uncertainty_k)]
        table = aligned([header, *rows, u])
        notes = [f"({note})" for note in self.notes]
        return "\n".join([table, *notes, *([UNKNOWN_NOTE] if "?" in table else [])])


def error_span(low: float, high: float, places: int) -> str:
    """Write limits of an error in kelvin; "?" for one that is not known."""
    if np.isnan(low) and np.isnan(high):
        return "?"
    return f"{shown(low, f'+z.{places}f')} to {shown(high, f'+z.{places}f')}"


def shown(value: float, form: str) -> str:
    """Write a number, or "?" for one that is not known."""
    return "?" if np.isnan(value) else f"{value:{form}}"


def error_budget(circuit: Circuit, part: Family | Curve, t_c: Any, **settings: Any) -> ErrorBudget:
    """Errors of what a controller reads with a circuit, over temperature.

    The controller has the nominal circuit and the nominal curve; the real ones deviate.

    Parameters
    ----------
    circuit : Circuit
    part : Family or Curve
        A family brings its tolerance and its dissipation factor.
    t_c : float or array_like, shape (n,)
        Temperature of what is measured, in °C.
    **settings
        ``tolerance``, or ``r25_pct`` and ``b_pct``: of the sensor, in place of the family's.
        ``dissipation_mw_per_k``: adds self-heating, from none (moving air) to P/δ.

    Returns
    -------
    ErrorBudget

    Raises
    ------
    InputError
        See `Family`, `Tolerance`; more than one dimension of temperatures.

    Warns
    -----
    ExtrapolationWarning
        Outside the curve's valid range.

    Notes
    -----
    Limits have the rectangular distribution, noise the normal one (JCGM 100, 4.3.7); sensors are
    spread evenly over the (γ, β) that their tolerance allows.  A contribution's standard
    uncertainty is carried to kelvin along the line between its two limits.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.circuit import Converter, Divider
    >>> divider = Divider(pullup_ohm=10e3, pull_pct=1, supply_v=5, converter=Converter(bits=10))
    >>> print(divider.error_budget(tf.family("ntc-10k-3977"), [0, 25, 50], r25_pct=1))
    error / K at                      0 °C             25 °C             50 °C
    sensor tolerance      -0.369 to +0.372  -0.227 to +0.230  -0.462 to +0.466
    pull resistor         -0.197 to +0.196  -0.229 to +0.227  -0.264 to +0.262
    quantisation          -0.053 to +0.053  -0.045 to +0.045  -0.066 to +0.066
    worst case            -0.620 to +0.621  -0.501 to +0.502  -0.791 to +0.796
    standard uncertainty             0.192             0.188             0.247
    (ntc-10k-3977: R(25 °C) ± 1 %, B ± 0.75 %)
    """
    known = part_of(part, **settings)
    t = np.atleast_1d(as_float_array(t_c, "t_c"))
    if t.ndim > 1 or not t.size:
        raise InputError(f"t_c must be one temperature or a list of them, not of shape {t.shape}")
    known.curve.resistance(t)  # speaks up outside the valid range
    q = circuit._nominal
    r_ohm = known.resistance(t)
    rise = known.rise_k(circuit, t, q)
    if np.isnan(rise[~np.isnan(t)]).any():
        raise InputError(
            "the sensor would heat itself without settling, or beyond its curve; is the "
            f"dissipation factor of {known.dissipation_mw_per_k:g} mW/K right? A larger fixed "
            "resistor, or a smaller current, leaves less power in it"
        )
    # Beyond an end of the scale a reading says nothing, and nor does an error of it.
    r_ohm = np.where(circuit._beyond(circuit._position(r_ohm, q)), np.nan, r_ohm)
    effects = [_of_part(circuit, influence, known, t, r_ohm) for influence in circuit._influences]
    notes = known.notes
    if known.tolerance is not None or known.curve.covariance is not None:
        effects.insert(0, _of_sensor(circuit, known, t, r_ohm))
    if known.dissipation_mw_per_k is not None:
        effects.append(_of_heating(circuit, known, t, r_ohm, rise))
        notes += (f"self-heating from none to that of δ = {known.dissipation_mw_per_k:g} mW/K",)
    low_k, high_k = worst_errors(circuit, known, t, q, rise)
    return ErrorBudget(t, tuple(effects), low_k, high_k, notes)


def _of_part(
    circuit: Circuit, influence: Influence, part: Part, t_c: Array, r_ohm: Array
) -> Effect:
    """Effect of one quantity, all others being nominal."""
    q = circuit._nominal

    def error(off: float) -> Array:
        deviated = circuit._deviated(q, {influence.quantity: off})
        return part.reads(circuit, circuit._position(r_ohm, deviated), q) - t_c

    ends = [error(end) for end in influence.ends]
    slope = (ends[1] - ends[0]) / (influence.high - influence.low)
    u_k = np.abs(slope) * influence.standard_uncertainty
    contributions = tuple(
        influence.contribution(float(k)) if np.isfinite(k) else None for k in slope
    )
    return Effect(
        influence.name,
        np.minimum(*ends),
        np.maximum(*ends),
        np.zeros(t_c.shape),
        u_k,
        contributions,
    )


def _of_sensor(circuit: Circuit, part: Part, t_c: Array, r_ohm: Array) -> Effect:
    low, high, mean, u = part.deviation(t_c)

    def error(off: Array) -> Array:
        q = circuit._nominal
        return part.reads(circuit, circuit._position(r_ohm * np.exp(off), q), q) - t_c

    ends = [error(low), error(high)]
    width = np.where(high > low, high - low, 1.0)
    slope = (ends[1] - ends[0]) / width
    name, dof = "sensor tolerance", np.inf
    note = f"ln R of parts spread evenly within {part.tolerance}"
    if part.tolerance is None:
        name, dof, note = "curve", part.curve.dof, "ln R, from the covariance of the curve"
    contributions = tuple(
        Contribution(name, float(u_ln), "normal", 1.0, "1", float(k), dof, note=note)
        if np.isfinite(k)
        else None
        for u_ln, k in zip(u, slope, strict=True)
    )  # fmt: skip
    return Effect(
        name, np.minimum(*ends), np.maximum(*ends), slope * mean, np.abs(slope) * u,
        contributions,
    )  # fmt: skip


def _of_heating(circuit: Circuit, part: Part, t_c: Array, r_ohm: Array, rise: Array) -> Effect:
    """Self-heating, anything from none to its value in air that does not move."""
    q = circuit._nominal
    warm_ohm = np.where(np.isnan(r_ohm), np.nan, part.resistance(t_c + rise))
    most = part.reads(circuit, circuit._position(warm_ohm, q), q) - t_c
    half = 0.5 * most
    contributions = tuple(
        Contribution("self-heating", abs(float(h)), "rectangular", note="from none to P/δ")
        if np.isfinite(h)
        else None
        for h in half
    )
    return Effect("self-heating", 0.0 * most, most, half, half / 3.0**0.5, contributions)
