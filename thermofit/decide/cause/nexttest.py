"""Which measurement to make next: the one that is expected to tell the causes apart best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.cable import Wiring, see
from thermofit.decide.cause.draws import Draws
from thermofit.decide.cause.spot import Place
from thermofit.decide.cause.visit import Visit
from thermofit.decide.cause.weighing import Weighed

__all__ = ["NextTest", "next_tests"]

Array = npt.NDArray[np.float64]

_DECIDED = 0.9
_BINS = 40
_NEW_TEMPERATURE = 0.1  # bits that a bath must be worth
_PLACES: tuple[Place, ...] = ("sensor", "connector", "cable bridged", "cable open", "display")
_STEPS = {
    "sensor": "measure at the sensor's own leads, both disconnected",
    "connector": "measure at the cable's end, unplugged from the controller",
    "display": "read the display again, all connected",
    "cable bridged": "take the sensor off, bridge the cable's far end, and measure at its other "
    "end, unplugged from the controller: what is left is the contact",
    "cable open": "take the sensor off, leave the cable's far end open, and measure at its other "
    "end, unplugged from the controller: what is left is the leakage",
}
_NO_TEMPERATURE = ("cable bridged", "cable open")


@dataclass(frozen=True)
class NextTest:
    """A measurement, and what it is expected to tell.

    Parameters
    ----------
    place : str
        As for `SpotReading`.
    t_c : float
        Temperature of the sensor in °C.
    step : str
        What to do.
    bits : float
        By how much it is expected to lower the entropy of the causes.
    decided : float
        In what part of the cases it leaves one cause with 90 %.
    """

    place: Place
    t_c: float
    step: str
    bits: float
    decided: float

    def __str__(self) -> str:
        at = "" if self.place in _NO_TEMPERATURE else f", the sensor at {round(self.t_c, 1):zg} °C"
        return (
            f"{self.step}{at} (leaves one cause with 90 % in {100 * self.decided:.0f} % of cases, "
            f"{self.bits:.2f} bits)"
        )


def next_tests(
    visit: Visit, causes: Sequence[tuple[Weighed, Draws | None]], probability: Array,
    next_t_c: Sequence[float], u_t_k: float, u_r: float,
) -> tuple[NextTest, ...]:  # fmt: skip
    """Rank measurements by what they are expected to tell.

    Parameters
    ----------
    visit : Visit
    causes : sequence of (Weighed, Draws or None)
        Those with draws count.
    probability : array
        Of each.
    next_t_c : sequence of float
        Temperatures in °C that can be had, beside those of the readings.
    u_t_k, u_r : float
        Standard uncertainty of the next reading: kelvin, and part of the resistance.

    Returns
    -------
    tuple of NextTest
        The most telling first, where a temperature that is not there yet must tell a tenth of a
        bit more; empty where fewer than two causes are left.
    """
    left = [(w, d, p) for (w, d), p in zip(causes, probability, strict=True) if d is not None]
    if len(left) < 2:
        return ()
    share = np.array([p for _, _, p in left])
    share = share / share.sum()
    limits = [reading.limit_ohm for reading in visit.readings if reading.limit_ohm]
    ends = float(np.log(visit.short_ohm)), float(np.log(min(limits, default=20e6)))
    places = _PLACES if visit.at("display").any() else _PLACES[:-1]
    extra = [t for t in next_t_c if not (np.abs(visit.t_c - t) < 1.0).any()]
    temperatures: list[float] = [*visit.t_c.tolist(), *extra]
    valid = [
        t for t in temperatures
        if all(b.hypothesis.curve.in_range(t) for w, _, _ in left for b in w.blocks)
    ]  # fmt: skip
    found = []
    for place in places:
        for t in valid[:1] if place in _NO_TEMPERATURE else valid:
            where = np.flatnonzero(visit.t_c == t)
            rows = [_predict(w, d, place, t, where, u_t_k) for w, d, _ in left]
            edges = _edges(rows, share, u_r, ends)
            chance = np.array([_chances(row, u_r, edges, ends) for row in rows])
            joint = chance * share[:, np.newaxis]
            total = joint.sum(axis=0)
            after = joint / np.where(total > 0.0, total, 1.0)
            bits = float(_entropy(share)) - float((total * _entropy(after)).sum())
            decided = float(total[after.max(axis=0) >= _DECIDED].sum())
            found.append(NextTest(place, float(t), _STEPS[place], max(bits, 0.0), decided))
    here = set(visit.t_c.tolist())

    def worth(test: NextTest) -> float:
        return test.bits - (0.0 if test.t_c in here else _NEW_TEMPERATURE)

    return tuple(sorted(found, key=worth, reverse=True))


def _predict(
    weighed: Weighed, draws: Draws, place: Place, t_c: float, where: npt.NDArray[np.intp],
    u_t_k: float,
) -> Array:  # fmt: skip
    """Ln R that draws would give at a place and a temperature."""
    x = np.empty(draws.kappa.size)
    rng = np.random.default_rng(2)
    for b in np.unique(draws.block):
        at = weighed.blocks[b].hypothesis.expected(np.array([t_c]))
        own = draws.block == b
        gamma, beta = draws.place[own].T
        x[own] = at.ln_r[0] + gamma + beta * at.a[0] + draws.kappa[own] * at.bend[0]
        if where.size:
            x[own] += draws.delta[own, where[0]]
        else:
            u = np.hypot(at.alpha[0] * u_t_k, at.shape[0])
            x[own] += u * rng.standard_normal(int(own.sum()))
    ends = {"open": np.inf, "shorted": -np.inf}
    if weighed.kind.sensor in ends:
        x = np.full_like(x, ends[weighed.kind.sensor])
    wiring = Wiring(draws.contact_ohm, draws.leak_s, draws.gain, np.ones(x.size))
    return see(np.array([place]), x[:, np.newaxis], wiring).ln_r[:, 0]


def _edges(rows: Sequence[Array], share: Array, u_r: float, ends: tuple[float, float]) -> Array:
    """Edges of bins that are about equally probable, none narrower than the meter resolves."""
    every = np.concatenate(rows)
    weight = np.concatenate([np.full(r.size, p / r.size) for r, p in zip(rows, share, strict=True)])
    inside = (every > ends[0]) & (every < ends[1])
    if not inside.any():
        return np.array(ends)
    order = np.argsort(every[inside])
    values, summed = every[inside][order], np.cumsum(weight[inside][order])
    places = np.searchsorted(summed, np.linspace(0.0, summed[-1], _BINS + 1)[1:-1])
    middle = values[np.minimum(places, values.size - 1)]
    kept = [ends[0]]
    for edge in middle:
        if edge - kept[-1] > u_r and ends[1] - edge > u_r:
            kept.append(float(edge))
    return np.array([*kept, ends[1]])


def _chances(ln_r: Array, u_r: float, edges: Array, ends: tuple[float, float]) -> Array:
    """Probability of each bin, the first a short and the last over range."""
    from scipy.special import ndtr

    reads = np.isfinite(ln_r) & (ln_r > ends[0]) & (ln_r < ends[1])
    below = ndtr((edges - ln_r[reads, np.newaxis]) / u_r)
    below[:, 0], below[:, -1] = 0.0, 1.0
    inner = np.diff(below, axis=1).sum(axis=0)
    outer = (ln_r <= ends[0]).sum(), (ln_r >= ends[1]).sum()
    return np.array([outer[0], *inner, outer[1]]) / ln_r.size


def _entropy(p: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        result: Array = -np.where(p > 0.0, p * np.log2(p), 0.0).sum(axis=0)
    return result
