"""Resistances between two terminals over temperature, with their limits: bare, joined, trimmed."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from thermofit.circuit.network import to_network
from thermofit.circuit.part import Part
from thermofit.curve import Curve
from thermofit.equations.beta import Beta
from thermofit.tolerance import Tolerance
from thermofit.tolerance.box import Box, box_of
from thermofit.tolerance.limits import BLimits, ResistanceLimits
from thermofit.units import ZERO_C_K

__all__ = ["Joined", "Ohms", "concatenated", "join", "ohms_of", "trim"]

Array = npt.NDArray[np.float64]
Joined = Literal["series", "parallel"]

_RECTANGULAR = 3.0**0.5
_T25_C = 25.0


@dataclass(frozen=True, eq=False)
class Ohms:
    """Resistance over temperature; arrays of shape (n, m), n networks and m temperatures.

    Parameters
    ----------
    nominal : array
        In ohms; NaN where a curve has no value.
    low, high : array
        Limits in ohms, everything at the end of its tolerance.
    mean_ln, u_ln : array
        Mean and standard uncertainty of ln(R/R_nominal) of parts that are spread evenly within
        their tolerance, to first order.
    """

    nominal: Array
    low: Array
    high: Array
    mean_ln: Array
    u_ln: Array

    def rows(self, which: Any) -> Ohms:
        """Pick networks by place."""
        return Ohms(
            self.nominal[which], self.low[which], self.high[which], self.mean_ln[which],
            self.u_ln[which],
        )  # fmt: skip


def ohms_of(parts: Sequence[Part], t_c: Array) -> Ohms:
    """Resistances of parts by themselves.

    Parameters
    ----------
    parts : sequence of Part, length n
    t_c : array, shape (m,)
        In °C.

    Returns
    -------
    Ohms
    """
    ln_r = _stacked_ln_r([part.curve for part in parts], t_c)
    shape = ln_r.shape
    low, high, mean, u = np.zeros(shape), np.zeros(shape), np.zeros(shape), np.zeros(shape)
    boxes: dict[int, Box] = {}
    known: dict[Tolerance, Box] = {}
    for row, part in enumerate(parts):
        box = _box(part, known)
        if box is not None:
            boxes[row] = box
        elif part.tolerance is not None or part.curve.covariance is not None:
            valued = ~np.isnan(ln_r[row])
            found = part.deviation(t_c[valued])
            for column, values in zip((low, high, mean, u), found, strict=True):
                column[row] = np.nan
                column[row, valued] = values
    if boxes:
        rows = list(boxes)
        ends = [
            np.array([float(getattr(box, name)) for box in boxes.values()])[:, np.newaxis]
            for name in ("x_low", "x_high", "beta_low", "beta_high")
        ]
        together = Box(_T25_C, *ends)
        refs = np.array([box.t_ref_c for box in boxes.values()])
        lever = ln_r[rows] - _reference_ln_r([parts[row].curve for row in rows], refs)
        low[rows], high[rows] = together.worst_case(lever)
        # Of a rectangle: the two deviations are independent, each spread evenly.
        mean[rows], half_x, half_b = together._parts(lever)
        u[rows] = np.hypot(half_x, half_b) / _RECTANGULAR
    r_ohm = np.exp(ln_r)
    return Ohms(r_ohm, r_ohm * np.exp(low), r_ohm * np.exp(high), mean, u)


def concatenated(pieces: Sequence[Ohms]) -> Ohms:
    """Networks of all pieces, one after the other."""
    return Ohms(*(
        np.concatenate([getattr(piece, field.name) for piece in pieces])
        for field in dataclasses.fields(Ohms)
    ))  # fmt: skip


def join(one: Ohms, other: Ohms, how: Joined) -> Ohms:
    """Two parts in series or in parallel, each with a tolerance of its own."""
    if how == "series":
        nominal = one.nominal + other.nominal
        weights = one.nominal / nominal, other.nominal / nominal
        low, high = one.low + other.low, one.high + other.high
    else:
        nominal = to_network(one.nominal, 0.0, other.nominal)
        weights = nominal / one.nominal, nominal / other.nominal
        low = to_network(one.low, 0.0, other.low)
        high = to_network(one.high, 0.0, other.high)
    return Ohms(
        nominal, low, high,
        weights[0] * one.mean_ln + weights[1] * other.mean_ln,
        np.hypot(weights[0] * one.u_ln, weights[1] * other.u_ln),
    )  # fmt: skip


def trim(part: Ohms, series_ohm: Any, parallel_ohm: Any, pct: float) -> Ohms:
    """Parts with a resistor across them and another in series: (part ∥ parallel) + series.

    Parameters
    ----------
    part : Ohms
    series_ohm, parallel_ohm : float or array
        0 and infinite where there is none; arrays broadcast with `part`.
    pct : float
        Limits ± of the resistors, in percent.

    Returns
    -------
    Ohms
    """
    off = 0.01 * pct
    nominal = to_network(part.nominal, series_ohm, parallel_ohm)
    inner = nominal - series_ohm
    of_part, of_parallel = inner**2 / (part.nominal * nominal), inner**2 / (parallel_ohm * nominal)
    u_resistor = off / _RECTANGULAR
    variance = (of_part * part.u_ln) ** 2 + (of_parallel * u_resistor) ** 2
    variance = variance + (series_ohm / nominal * u_resistor) ** 2
    return Ohms(
        nominal,
        to_network(part.low, series_ohm * (1.0 - off), parallel_ohm * (1.0 - off)),
        to_network(part.high, series_ohm * (1.0 + off), parallel_ohm * (1.0 + off)),
        of_part * part.mean_ln,
        np.sqrt(variance),
    )


def _stacked_ln_r(curves: Sequence[Curve], t_c: Array) -> Array:
    """Ln R of many curves; those of a typed-in R25 and B at once."""
    if not all(type(curve.equation) is Beta for curve in curves):
        return np.stack([curve._quiet_ln_r(t_c) for curve in curves])
    c = np.array([curve._c for curve in curves]).T[..., np.newaxis]
    reach = np.array([curve._reach("resistance") for curve in curves])
    inv_t = 1.0 / (t_c + ZERO_C_K)
    inside = (inv_t >= reach[:, :1]) & (inv_t <= reach[:, 1:])
    return np.where(inside, curves[0].equation.value(inv_t, c), np.nan)


def _reference_ln_r(curves: Sequence[Curve], t_ref_c: Array) -> Array:
    """Ln R of each curve at a reference temperature of its own, shape (n, 1)."""
    if (t_ref_c == t_ref_c[0]).all():
        return _stacked_ln_r(curves, t_ref_c[:1])
    each = [float(curve._quiet_ln_r(t)) for curve, t in zip(curves, t_ref_c, strict=True)]
    return np.array(each)[:, np.newaxis]


def _box(part: Part, known: dict[Tolerance, Box]) -> Box | None:
    """Tolerance of R at one temperature and of B; None for one of another kind.

    Limits of R25 and of B in percent mean the same box for every curve that is valid at 25 °C.
    """
    tolerance = part.tolerance
    if tolerance is None:
        return None
    same = part.curve.t_min_c <= _T25_C <= part.curve.t_max_c and all(
        isinstance(entry, BLimits) or (isinstance(entry, ResistanceLimits) and entry.t_c == _T25_C)
        for entry in tolerance.limits
    )
    if not same:
        return box_of(tolerance, part.curve)
    if tolerance not in known:
        box = box_of(tolerance, part.curve)
        if box is None:
            return None
        known[tolerance] = box
    return known[tolerance]
