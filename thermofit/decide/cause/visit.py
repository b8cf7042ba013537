"""The readings of one visit as arrays, and where the sensor would be at each temperature."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.spot import SpotReading
from thermofit.decide.identification.hypothesis import Expected, Hypothesis
from thermofit.errors import InputError
from thermofit.units import format_ohm

__all__ = ["SHORT_OHM", "Visit", "visit_of"]

Array = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Indices = npt.NDArray[np.intp]

SHORT_OHM = 10.0
"""Below this, and below a hundredth of the sensor, a reading says "short" and not how much."""

_SHORT_SHARE = 0.01
# Of ln R: below any meter, and far above rounding.
_LEAST_U = 1e-5
# Largest uncertainties with which a reading can be judged: of itself, and of the sensor's
# resistance for one that says "short".
_MOST_OWN, _MOST_SHORT = 0.5, 0.1


@dataclass(frozen=True, eq=False)
class Visit:
    """Readings of one sensor.

    Parameters
    ----------
    readings : tuple of SpotReading, length n
    places : array of str, shape (n,)
    group : array of int, shape (n,)
        Which of the J temperatures: readings of one t_c share one true temperature.
    t_c, u_t_k : array, shape (J,)
        Their values, and the largest uncertainty stated for each.
    y, u : array, shape (n,)
        ln R and its standard uncertainty; NaN for a short and over range.
    high, low : array, shape (n,)
        ln of the limit that the reading exceeded, or fell below; NaN for a resistance.
    short_ohm : float
        Below this a reading is a short.
    """

    readings: tuple[SpotReading, ...]
    places: npt.NDArray[np.str_]
    group: Indices
    t_c: Array
    u_t_k: Array
    y: Array
    u: Array
    high: Array
    low: Array
    short_ohm: float

    @property
    def finite(self) -> Bools:
        """Which readings are a resistance."""
        return np.isfinite(self.y)

    def at(self, *places: str) -> Bools:
        """Which readings were taken at these places."""
        return np.isin(self.places, places)

    def expected(self, hypothesis: Hypothesis) -> Expected:
        """What a part is expected to be at the J temperatures."""
        return hypothesis.expected(self.t_c)


def visit_of(readings: Sequence[SpotReading], nominal: Hypothesis) -> Visit:
    """Arrange readings; `nominal` says what counts as a short.

    Raises
    ------
    InputError
        A reading so uncertain that ln R means nothing, or a short that may be none.
    """
    t_all = np.array([reading.t_c for reading in readings])
    t_c, group = np.unique(t_all, return_inverse=True)
    u_t_all = np.array([reading.u_t_k for reading in readings])
    u_t_k = np.array([u_t_all[group == j].max() for j in range(t_c.size)])
    least = float(np.exp(np.nanmin(nominal.expected(t_c).ln_r)))
    short_ohm = min(SHORT_OHM, _SHORT_SHARE * least)
    r = np.array([reading.r_ohm for reading in readings], dtype=np.float64)
    u_r = np.array([reading.u_r_ohm for reading in readings], dtype=np.float64)
    is_high, is_low = np.isinf(r), r < short_ohm
    usable = ~(is_high | is_low)
    _refuse_coarse(readings, u_r > np.where(is_low, _MOST_SHORT * least, _MOST_OWN * r))
    y, u = np.full((2, r.size), np.nan)
    y[usable] = np.log(r[usable])
    u[usable] = np.hypot(u_r[usable] / r[usable], _LEAST_U)
    limits = np.array([reading.limit_ohm or np.nan for reading in readings], dtype=np.float64)
    return Visit(
        tuple(readings), np.array([reading.place for reading in readings]), group, t_c, u_t_k,
        y, u, np.where(is_high, np.log(limits), np.nan),
        np.where(is_low, np.log(short_ohm), np.nan), short_ohm,
    )  # fmt: skip


def _refuse_coarse(readings: Sequence[SpotReading], coarse: Bools) -> None:
    for reading, refused in zip(readings, coarse, strict=True):
        if refused:
            raise InputError(
                f"the reading {reading} has a standard uncertainty of "
                f"{format_ohm(reading.u_r_ohm, 3)}, too much to judge by; measure on a finer range"
            )
