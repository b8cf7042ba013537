"""The best pair of resistors: all of a plane of preferred values, searched exactly.

With the resistor P across the part and S in series, the network has N = (R ∥ P) + S.  For one P,
N rises with S at every temperature.  Hence the largest error of all that read too high a
resistance, u(S) = max over T, can only grow with S, and the largest of all that read too low
a one, d(S), can only fall.  The worst case max(u, d) has its least value where the two cross: at
the first S with u ≥ d, or at the one before.  Bisection finds it among the values of a series,
and nothing is left out.  What keeps fault detection alive (an open network, P + S, beyond the
accepted resistances; a shorted part, S, below them; the healthy range within) is an interval of S
for each P, and bounds the bisection.

A handful of the temperatures gives a lower bound of the worst case, so that a P whose bound
exceeds what another P has reached need not be looked at closer.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.circuit.network import to_network
from thermofit.decide.substitute.accepted import Accepted
from thermofit.decide.substitute.reader import Reader

__all__ = ["BestTrim", "search_plane"]

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

_BOUND_TEMPERATURES = 5
_FIRST = 8
# More than rounding may be worth between one evaluation and another.
_SLACK = 1e-9


@dataclass(frozen=True)
class BestTrim:
    """The best resistors of a plane.

    Parameters
    ----------
    series_ohm, parallel_ohm : float
        0 and infinite where there is none.
    worst_k : float
        Largest error in kelvin; infinite where the reading leaves the curve.
    """

    series_ohm: float
    parallel_ohm: float
    worst_k: float


@dataclass(frozen=True, eq=False)
class _Plane:
    reader: Reader
    low_ohm: Array
    high_ohm: Array
    t_c: Array
    series: Array
    parallel: Array
    off: float

    def at(self, temperatures: Places) -> _Plane:
        return _Plane(
            self.reader, self.low_ohm[temperatures], self.high_ohm[temperatures],
            self.t_c[temperatures], self.series, self.parallel, self.off,
        )  # fmt: skip

    def up_and_down(self, p: Places, s: Places) -> tuple[Array, Array]:
        """Largest error of too high a resistance, and of too low a one, for pairs of places."""
        series, parallel = self.series[s][:, np.newaxis], self.parallel[p][:, np.newaxis]
        least, most = 1.0 - self.off, 1.0 + self.off
        low = to_network(self.low_ohm, series * least, parallel * least)
        high = to_network(self.high_ohm, series * most, parallel * most)
        sign = -1.0 if self.reader.falls else 1.0
        up = (sign * (self.reader.reads_c(high) - self.t_c)).max(axis=1)
        down = (sign * (self.t_c - self.reader.reads_c(low))).max(axis=1)
        return up, down

    def best_series(self, p: Places, first: Places, stop: Places) -> tuple[Places, Array]:
        """Best S for each P, among the places from `first` up to before `stop`."""
        low, high = first.copy(), stop.copy()
        while (going := low < high).any():
            middle = (low + high) // 2
            up, down = self.up_and_down(p[going], middle[going])
            crossed = up >= down
            high[going] = np.where(crossed, middle[going], high[going])
            low[going] = np.where(crossed, low[going], middle[going] + 1)
        tried = np.stack([np.maximum(low - 1, first), np.minimum(low, stop - 1)])
        worst = np.stack([np.maximum(*self.up_and_down(p, s)) for s in tried])
        which = (worst[1] < worst[0]).astype(np.intp)
        columns = np.arange(p.size)
        return tried[which, columns], worst[which, columns]


def search_plane(
    reader: Reader,
    low_ohm: Array,
    high_ohm: Array,
    t_c: Array,
    series_ohm: Array,
    parallel_ohm: Array,
    pct: float,
    accepted: Accepted,
    *,
    allow_masked: bool = False,
) -> BestTrim | None:
    """Find the resistors with the least worst-case error of the reading.

    Parameters
    ----------
    reader : Reader
    low_ohm, high_ohm : array, shape (m,)
        Limits of the part's resistance, in ohms.
    t_c : array, shape (m,)
        True temperatures in °C.
    series_ohm, parallel_ohm : array
        Values to choose from, rising; 0 in the one and infinity in the other stand for none.  The
        pair without any resistor is left out.
    pct : float
        Limits ± of the resistors, in percent.
    accepted : Accepted
        What the controller takes for a reading.
    allow_masked : bool
        Take networks that hide an open or a shorted sensor as well.

    Returns
    -------
    BestTrim or None
        None where no pair is allowed.
    """
    plane = _Plane(reader, low_ohm, high_ohm, t_c, series_ohm, parallel_ohm, 0.01 * pct)
    first, stop = _allowed(plane, accepted, allow_masked)
    p = np.flatnonzero(first < stop)
    if not p.size:
        return None
    coarse = plane.at(
        np.unique(np.linspace(0, t_c.size - 1, _BOUND_TEMPERATURES).round().astype(np.intp))
    )
    _, bound = coarse.best_series(p, first[p], stop[p])
    p, bound = p[np.argsort(bound, kind="stable")], np.sort(bound, kind="stable")
    best: tuple[float, int, int] | None = None
    for part in (slice(0, _FIRST), slice(_FIRST, None)):
        chosen = p[part]
        if best is not None:
            chosen = chosen[bound[part] <= best[0] + _SLACK]
        if not chosen.size:
            continue
        s, worst = plane.best_series(chosen, first[chosen], stop[chosen])
        at = int(np.argmin(worst))
        if best is None or worst[at] < best[0]:
            best = float(worst[at]), int(s[at]), int(chosen[at])
    assert best is not None
    return BestTrim(float(series_ohm[best[1]]), float(parallel_ohm[best[2]]), best[0])


def _allowed(plane: _Plane, accepted: Accepted, allow_masked: bool) -> tuple[Places, Places]:
    """First place, and the one after the last, of the series resistors allowed for each P."""
    least, most = 1.0 - plane.off, 1.0 + plane.off
    parallel = plane.parallel[:, np.newaxis]
    low = to_network(plane.low_ohm, 0.0, parallel * least).min(axis=1)
    high = to_network(plane.high_ohm, 0.0, parallel * most).max(axis=1)
    series_low, series_high = plane.series * least, plane.series * most
    # The healthy part reads: low + S ≥ lowest accepted, high + S ≤ highest accepted.
    first = np.searchsorted(series_low, accepted.low_ohm - low, side="left")
    stop = np.searchsorted(series_high, accepted.high_ohm - high, side="right")
    without = np.isposinf(plane.parallel)
    if accepted.verified and not allow_masked:
        # With a resistor across, an open part must be caught: P + S above the limit.
        beyond = accepted.limit_high_ohm - np.where(without, 0.0, plane.parallel * least)
        first = np.maximum(first, np.searchsorted(series_low, beyond, side="right") * ~without)
        # With one in series, a shorted one must be: S below the limit.
        below = np.searchsorted(series_high, accepted.limit_low_ohm, side="left")
        stop = np.minimum(stop, np.maximum(below, np.count_nonzero(plane.series == 0.0)))
    bare = without & (plane.series[0] == 0.0)
    return np.maximum(first, bare.astype(np.intp)), stop
