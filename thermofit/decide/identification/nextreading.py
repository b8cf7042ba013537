"""Which reading to take next: the one that is expected to tell the most."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from thermofit.decide.identification.comparison import Readings, compare, weigh
from thermofit.decide.identification.hypothesis import Hypothesis

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["NextReading", "next_reading"]

Array = npt.NDArray[np.float64]

_STEPS = 15
_REACH = 6.0  # standard uncertainties
_FEWEST, _MOST = 60, 500
_SHOWN = 4


@dataclass(frozen=True, eq=False)
class NextReading:
    """What one more reading would tell.

    Parameters
    ----------
    t_c : float
        Where it is expected to tell the most, in °C.
    u_t_k, u_r_pct : float
        Standard uncertainties that it is taken to have, in K and in percent.
    leading : str
        The leading family, with those that no reading tells apart from it.
    others : tuple of str, length k
        The other families in question, likewise.
    separation : array, shape (k,)
        Distance of what these are expected to read from what the leading one is, in
        standard uncertainties (that of the reading and those of both expectations
        together).
    decided : float
        In what part of the cases it leaves one answer with `coverage`.
    coverage : float
    doubt_bits, doubt_left_bits : float
        Entropy of the probabilities now, and expected after it.
    tried_c, tried_separation, tried_decided, tried_left_bits : array, (n,), (n, k), (n,), (n,)
        The same for all temperatures tried.
    """

    t_c: float
    u_t_k: float
    u_r_pct: float
    leading: str
    others: tuple[str, ...]
    separation: Array
    decided: float
    coverage: float
    doubt_bits: float
    doubt_left_bits: float
    tried_c: Array
    tried_separation: Array
    tried_decided: Array
    tried_left_bits: Array

    def to_frame(self) -> pd.DataFrame:
        """Give what was tried as a pandas frame, a row for each temperature."""
        import pandas as pd

        columns = {
            "t_c": self.tried_c, "decided": self.tried_decided,
            "doubt_left_bits": self.tried_left_bits,
        }  # fmt: skip
        apart = {
            f"from {other}": column
            for other, column in zip(self.others, self.tried_separation.T, strict=True)
        }
        return pd.DataFrame(columns | apart)

    def __str__(self) -> str:
        text = (
            f"a reading at {self.t_c:.3g} °C (standard uncertainties {self.u_t_k:.2g} K and "
            f"{self.u_r_pct:.2g} % of R) "
        )
        if self.doubt_left_bits > 0.95 * self.doubt_bits:
            return f"{text}would tell the most, and that is next to nothing"
        text += (
            f"would leave {100 * self.coverage:g} % on one answer in {100 * self.decided:.0f} % of "
            f"cases; answers in doubt after it {2**self.doubt_left_bits:.2g} on average, now "
            f"{2**self.doubt_bits:.2g}"
        )
        if not self.others:
            return text
        apart = [
            f"{other} {value:.1f}"
            for other, value in zip(self.others, self.separation, strict=True)
        ]
        more = f" and {len(apart) - _SHOWN} more" if len(apart) > _SHOWN else ""
        return (
            f"{text}; away from {self.leading}, in standard uncertainties: "
            f"{', '.join(apart[:_SHOWN])}{more}"
        )


def next_reading(
    readings: Readings,
    hypotheses: Sequence[Hypothesis],
    prior: Array,
    merged: Sequence[Sequence[int]],
    names: Sequence[str],
    *,
    t_range_c: tuple[float, float],
    u_t_k: float,
    u_r_pct: float,
    coverage: float,
) -> NextReading | None:
    """Find the temperature at which one more reading is expected to tell the most.

    For each temperature, what each answer expects to read, given the readings so
    far, is p(y | all readings)/p(readings), on a grid of ln R; the expected
    entropy of the probabilities after it follows by summation.

    Parameters
    ----------
    readings : Readings
        Of one sensor.
    hypotheses : sequence of Hypothesis, length h
        The last is another NTC.
    prior : array, shape (h + 1,)
    merged : sequence of sequences of int
        Columns, 0 to h, that count as one answer: families, the more probable
        first, and "none of these" at the end.
    names : sequence of str
        Of these answers.
    t_range_c : (float, float)
        Temperatures to choose from, in °C.
    u_t_k, u_r_pct : float
        Standard uncertainty of the next reading.
    coverage : float
        Probability with which an answer counts as decided.

    Returns
    -------
    NextReading or None
        None where fewer than two answers are left, or no temperature of the range
        is valid for all hypotheses.

    References
    ----------
    D. V. Lindley, On a measure of the information provided by an experiment,
    Ann. Math. Stat. 27 (1956) 986–1005.
    """
    hypotheses = tuple(hypotheses)
    tried = np.linspace(*t_range_c, _STEPS)
    tried = tried[np.all([np.asarray(h.curve.in_range(tried)) for h in hypotheses], axis=0)]
    if len(merged) < 2 or not tried.size:
        return None
    now = compare(readings, hypotheses)
    before = weigh(now.log_density, prior)[0]
    u_r = u_r_pct / 100.0
    low, high, u_least = _where_to_look(hypotheses, now.place[0], now.covariance[0], tried,
                                        u_t_k, u_r)  # fmt: skip
    steps = int(np.clip(np.ceil((high - low).max() / (0.8 * u_least)), _FEWEST, _MOST))
    ln_r = low[:, np.newaxis] + (high - low)[:, np.newaxis] * (np.arange(steps) + 0.5) / steps
    cell = np.repeat((high - low) / steps, steps).reshape(ln_r.shape)
    t_all = np.repeat(tried, steps)[:, np.newaxis]
    # Where the grid is too coarse for the reading, the reading is taken to be as coarse.
    coarse = np.where(cell > u_least, 0.7 * cell, 0.0).reshape(-1, 1)
    more = Readings(t_all, ln_r.reshape(-1, 1), np.hypot(u_r, coarse), np.full(t_all.shape, u_t_k))
    after = compare(readings.with_one_more(more), hypotheses)
    density = np.exp(after.log_density - now.log_density).reshape(*ln_r.shape, -1)
    mass = density * cell[..., np.newaxis]  # (temperatures, steps, columns)
    total = mass.sum(axis=1)
    # A family reads within the grid; its mass is one but for the width of the cells.
    mass[..., :-2] /= np.where(total[:, np.newaxis, :-2] > 0.0, total[:, np.newaxis, :-2], 1.0)
    beyond = np.clip(1.0 - total[:, -2:], 0.0, 1.0) @ before[-2:]
    joint = np.stack([(mass * before)[..., list(own)].sum(axis=-1) for own in merged], axis=-1)
    chance = joint.sum(axis=-1)
    posterior = joint / np.where(chance > 0.0, chance, 1.0)[..., np.newaxis]
    start = np.array([before[list(own)].sum() for own in merged])
    left = (chance * _entropy(posterior)).sum(axis=-1)
    decided = np.minimum((chance * (posterior.max(axis=-1) >= coverage)).sum(axis=-1) + beyond, 1.0)
    # What is of no family, the last, expects nothing in particular.
    shares = joint[..., :-1] / joint[..., :-1].sum(axis=1, keepdims=True)
    mean = (shares * ln_r[..., np.newaxis]).sum(axis=1)
    variance = (shares * (ln_r[..., np.newaxis] - mean[:, np.newaxis, :]) ** 2).sum(axis=1)
    separation = np.abs(mean[:, 1:] - mean[:, :1]) / np.sqrt(variance[:, 1:] + variance[:, :1])
    best = int(np.argmin(left))
    return NextReading(
        float(tried[best]), u_t_k, u_r_pct, names[0], tuple(names[1:-1]), separation[best],
        float(decided[best]), coverage, float(_entropy(start)), float(left[best]), tried,
        separation, decided, left,
    )  # fmt: skip


def _where_to_look(
    hypotheses: tuple[Hypothesis, ...], place: Array, covariance: Array, t_c: Array,
    u_t_k: float, u_r: float,
) -> tuple[Array, Array, float]:  # fmt: skip
    """Span of ln R at each temperature in which families may read, and the least uncertainty."""
    spans = []
    least = np.inf
    for hypothesis, own, spread in zip(hypotheses[:-1], place, covariance, strict=False):
        at = hypothesis.expected(t_c)
        u = np.sqrt(u_r**2 + (at.alpha * u_t_k) ** 2 + at.shape**2)
        least = min(least, float(u.min()))
        design = np.stack([np.ones_like(at.a), at.a], axis=-1)
        known = np.sqrt(np.einsum("ti,ij,tj->t", design, spread, design))
        middle = design @ own
        low, high = hypothesis.region.support(at.a)
        beta = hypothesis.region.vertices[:, 1]
        slopes = np.clip([beta.min(), beta.max()], *_around(own[1], np.sqrt(spread[1, 1])))
        slopes = np.clip(slopes, beta.min(), beta.max())
        # Given β, what is left of γ: readings at one temperature tie the two together.
        tie = spread[0, 1] / spread[1, 1]
        rest = np.sqrt(max(spread[0, 0] - tie * spread[0, 1], 0.0))
        ends = middle + np.multiply.outer(slopes - own[1], at.a + tie)
        near = np.maximum(middle - _REACH * known, ends.min(axis=0) - _REACH * rest)
        far = np.minimum(middle + _REACH * known, ends.max(axis=0) + _REACH * rest)
        reach = _REACH * (u + np.abs(at.bend))
        # Within the tolerance, and near what the readings so far say.
        first = np.clip(near, low, high) - reach
        last = np.clip(far, low, high) + reach
        spans.append((at.ln_r + first, at.ln_r + last))
    lows, highs = zip(*spans, strict=True)
    return np.min(lows, axis=0), np.max(highs, axis=0), least


def _around(middle: float, u: float) -> tuple[float, float]:
    return middle - _REACH * u, middle + _REACH * u


def _entropy(p: Array) -> Array:
    with np.errstate(divide="ignore", invalid="ignore"):
        result: Array = -np.where(p > 0.0, p * np.log2(p), 0.0).sum(axis=-1)
    return result
