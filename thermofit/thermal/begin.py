"""Where a fit of a step response begins: the best of a grid, on readings without spikes."""

from __future__ import annotations

from itertools import product
from typing import Final

import numpy as np
import numpy.typing as npt

from thermofit.thermal.model import Shape
from thermofit.thermal.robust import RobustFit

__all__ = ["begin_larger", "begin_one", "smoothed"]

Array = npt.NDArray[np.float64]

_MOST_READINGS: Final = 240
_MOST_ONSETS: Final = 40
_CONSTANTS: Final = 14


def smoothed(t: Array, y: Array) -> tuple[Array, Array]:
    """Thin out a log for the grid, and take out spikes with a running median of three."""
    from scipy.ndimage import median_filter

    if len(t) <= 8:
        return t, y
    every = max(len(t) // _MOST_READINGS, 1)
    if every > 2:
        # Medians of blocks, at the middle of each.
        whole = len(t) // every * every
        blocks = y[:whole].reshape(-1, every)
        return t[every // 2 : whole : every], np.median(blocks, axis=1)
    quiet: Array = median_filter(y, size=3, mode="nearest")
    return t[::every], quiet[::every]


def begin_one(shape: Shape, t: Array, y: Array) -> Array:
    """Find onset, start, step and time constant roughly, all at once.

    For each onset and time constant on a grid, start and step are linear.
    """
    span = t[-1] - t[0]
    finest = max(float(np.median(np.diff(t))) / 2.0, span / 1e4)
    tau = np.geomspace(min(finest, span / 4.0), 3.0 * span, _CONSTANTS)
    onset = t[:1]
    if shape.onset_free:
        most = max(len(t) - 3, 1)
        onset = t[np.unique(np.linspace(0, most - 1, min(most, _MOST_ONSETS)).astype(int))]
    since = np.maximum(t - onset[:, None], 0.0)
    h = -np.expm1(-since[:, None, :] / tau[:, None])
    h_mean = h.mean(axis=-1, keepdims=True)
    centred, y_centred = h - h_mean, y - y.mean()
    cross = centred @ y_centred
    with np.errstate(divide="ignore", invalid="ignore"):
        explained = np.nan_to_num(cross**2 / np.sum(centred**2, axis=-1))
    i, j = np.unravel_index(int(np.argmax(explained)), explained.shape)
    step = cross[i, j] / max(float(np.sum(centred[i, j] ** 2)), 1e-300)
    p = [y.mean() - step * float(h_mean[i, j, 0]), step, np.log(tau[j])]
    return np.array([onset[i], *p] if shape.onset_free else p)


def begin_larger(shape: Shape, t: Array, y: Array, one: RobustFit) -> Array:
    """Begin a form with two constants from the fit with one; step and shares are linear."""
    if shape.form == "lag":
        return _begin_lag(shape, t, y, one)
    tau = float(np.exp(one.parameters[-1]))
    onsets = np.array([one.onset])
    if shape.onset_free:
        # One constant puts the onset of two too early or too late: look everywhere near.
        near = np.flatnonzero((t > one.onset_s - tau) & (t < one.onset_s + tau))[:-1]
        near = near[near < len(t) - 4]
        some = near[np.linspace(0, len(near) - 1, min(len(near), _MOST_ONSETS)).astype(int)]
        onsets = np.concatenate([[one.onset_s], t[some]])
    grid = np.array(list(product(onsets, (0.7, 1.0, 1.5, 2.5), (3.0, 8.0, 20.0))))
    since = np.maximum(t - grid[:, :1], 0.0)
    slow = -np.expm1(-since / (tau * grid[:, 1:2]))
    quick = -np.expm1(-since * grid[:, 2:] / (tau * grid[:, 1:2]))
    means = slow.mean(axis=1), quick.mean(axis=1)
    slow -= means[0][:, None]
    quick -= means[1][:, None]
    aim = y - y.mean()
    aa, bb, ab = (
        np.einsum("ij,ij->i", p, q) for p, q in ((slow, slow), (quick, quick), (slow, quick))
    )
    ya, yb = slow @ aim, quick @ aim
    with np.errstate(all="ignore"):
        determinant = aa * bb - ab**2
        a, b = (bb * ya - ab * yb) / determinant, (aa * yb - ab * ya) / determinant
        share = b / (a + b)
        explained = np.where((share > 0.02) & (share < 0.98), a * ya + b * yb, -np.inf)
    best = int(np.argmax(np.nan_to_num(explained, nan=-np.inf)))
    if not np.isfinite(explained[best]):
        return np.append(one.parameters, [np.log(6.0), 0.3])
    p = [
        y.mean() - a[best] * means[0][best] - b[best] * means[1][best],
        a[best] + b[best],
        np.log(tau * grid[best, 1]),
        np.log(grid[best, 2] - 1.1),
        share[best],
    ]
    return np.array([grid[best, 0], *p] if shape.onset_free else p)


def _begin_lag(shape: Shape, t: Array, y: Array, one: RobustFit) -> Array:
    # With one constant, the lag looks like a later onset, by about its quick constant.
    log_tau, onset = float(one.parameters[-1]), one.onset_s
    best, least = np.append(one.parameters, np.log(6.0)), np.inf
    for back, factor, ratio in product((0.0, 0.5, 1.0), (0.7, 0.85, 1.0), (1.3, 2.5, 6.0, 15.0)):
        earlier = back * np.exp(log_tau) * factor / ratio
        p = np.array([onset - earlier, 0.0, 1.0, log_tau + np.log(factor), np.log(ratio - 1.1)])
        h = shape.evaluate(p, t, onset)[0]
        centred = h - h.mean()
        step = float(centred @ (y - y.mean())) / max(float(centred @ centred), 1e-300)
        p[1], p[2] = y.mean() - step * h.mean(), step
        miss = float(np.sum((y - p[1] - step * h) ** 2))
        if miss < least:
            best, least = p, miss
    return best
