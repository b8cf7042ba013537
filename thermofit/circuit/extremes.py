"""The worst case, found exactly: every corner of all limits at once."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from thermofit.circuit.base import Circuit
from thermofit.circuit.influence import ABSOLUTE, Influence
from thermofit.circuit.node import Quantities
from thermofit.circuit.part import Part

__all__ = ["worst_errors"]

Array = npt.NDArray[np.float64]


def worst_errors(
    circuit: Circuit, part: Part, t_c: Array, q: Quantities, rise_k: Array
) -> tuple[Array, Array]:
    """Lowest and highest error of the reading, in kelvin.

    The count position is monotone in each quantity while the others are held, so that its
    extremes over all limits lie at corners of the box that they span; and the reading is monotone
    in the count position.

    Parameters
    ----------
    circuit : Circuit
    part : Part
    t_c : array
        Temperature of what is measured, in °C.
    q : dict
        Nominal quantities, numbers or arrays that broadcast with `t_c`.
    rise_k : array
        Self-heating; the sensor is between 0 and this much warmer.

    Returns
    -------
    low_k, high_k : array
        NaN where the limits reach the first or the last code, or beyond the curve, or where the
        sensor heats itself without settling.
    """
    endless = np.isnan(rise_k)
    candidates = []
    for warm in (t_c, t_c + np.where(endless, 0.0, rise_k)):
        low, high, *_ = part.deviation(warm)
        r_ohm = part.resistance(warm)
        candidates += [r_ohm * np.exp(low), r_ohm * np.exp(high)]
    joint = joint_ends(circuit._influences)
    bottom, top = np.asarray(np.inf), np.asarray(-np.inf)
    for r_ohm in (
        functools.reduce(np.minimum, candidates),
        functools.reduce(np.maximum, candidates),
    ):
        for corner in itertools.product(*joint.values()):
            off = circuit._deviated(q, dict(zip(joint, corner, strict=True)))
            position = circuit._position(r_ohm, off)
            bottom, top = np.minimum(bottom, position), np.maximum(top, position)
    converter = circuit.converter
    # A whole count more, and the first or the last code would be met.
    first, last = converter.middle(0.0), converter.middle(converter.top_code)
    ends = [np.where((at < first) | (at > last), np.nan, at) for at in (bottom, top)]
    errors = [part.reads(circuit, position, q) - t_c for position in ends]
    cold_on_top = part.falls(t_c) == circuit.rises
    low_k, high_k = np.where(endless, np.nan, np.where(cold_on_top, errors[::-1], errors))
    return low_k, high_k


def joint_ends(influences: Sequence[Influence]) -> dict[str, tuple[float, float]]:
    """Limits by quantity, of all influences that it has together."""
    joint: dict[str, tuple[float, float]] = {}
    for influence in influences:
        name, (low, high) = influence.quantity, influence.ends
        before = joint.get(name, (0.0, 0.0))
        if name in ABSOLUTE:
            joint[name] = before[0] + low, before[1] + high
        else:
            joint[name] = (
                (1.0 + before[0]) * (1.0 + low) - 1.0,
                (1.0 + before[1]) * (1.0 + high) - 1.0,
            )
    return joint
