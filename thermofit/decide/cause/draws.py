"""Draws from what the readings leave open under a cause: for estimates, and for what comes next."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.assumptions import Assumptions
from thermofit.decide.cause.integral import over_normal
from thermofit.decide.cause.loose import episode_ohm
from thermofit.decide.cause.visit import Visit
from thermofit.decide.cause.weighing import Block, Weighed
from thermofit.decide.identification.apart import spread_of

__all__ = ["Draws", "draw"]

Array = npt.NDArray[np.float64]
Generator = np.random.Generator

_TRIED, _KEPT = 8000, 2000
_SEED = 1
# Normal distribution to draw a region from: wider than the region, so that weights stay even.
_WIDER = 1.5


@dataclass(frozen=True, eq=False)
class Draws:
    """Equally probable states of sensor and wiring under one cause, s of them.

    Parameters
    ----------
    block : array of int, shape (s,)
        To which block of the cause, that is to which family, each belongs.
    place : array, shape (s, 2)
        (γ, β).
    kappa : array, shape (s,)
        Bend, in standard uncertainties.
    delta : array, shape (s, J)
        What the true temperatures of the visit add to ln R.
    contact_ohm, leak_s, gain : array, shape (s,)
        At the next reading.
    """

    block: npt.NDArray[np.intp]
    place: Array
    kappa: Array
    delta: Array
    contact_ohm: Array
    leak_s: Array
    gain: Array


def draw(weighed: Weighed, visit: Visit, assumed: Assumptions) -> Draws | None:
    """Draw from a cause; the same draws each time.

    Parameters
    ----------
    weighed : Weighed
    visit : Visit
    assumed : Assumptions

    Returns
    -------
    Draws or None
        None where the cause has no parameters, or none that go with the readings.
    """
    if not weighed.blocks or not np.isfinite(weighed.log_evidence):
        return None
    rng = np.random.default_rng(_SEED)
    flat = np.concatenate([_offered(weighed, block).ravel() for block in weighed.blocks])
    chosen = _systematic(np.exp(flat - flat.max()), _TRIED, rng)
    ends = np.cumsum([block.log_weight.size for block in weighed.blocks])
    number = np.searchsorted(ends, chosen, side="right")
    found, weights = [], []
    for b, block in enumerate(weighed.blocks):
        own = chosen[number == b] - (ends[b] - block.log_weight.size)
        if own.size:
            part, weight = _from_block(b, block, own, weighed, visit, assumed, rng)
            found.append(part)
            weights.append(weight)
    weight = np.concatenate(weights)
    if not weight.sum() > 0.0:
        return None
    kept = _systematic(weight, _KEPT, rng)
    columns = (np.concatenate(column)[kept] for column in zip(*found, strict=True))
    return Draws(*columns)


def _offered(weighed: Weighed, block: Block) -> Array:
    """Ln of the weights to draw cells by: those of the distribution that places are drawn from."""
    if weighed.kind.sensor in ("open", "shorted"):
        return block.log_weight
    if block.drift is not None:
        spread = block.drift.variance[:, :, np.newaxis] * np.eye(2)
        return over_normal(block.linear, np.zeros(2), spread) + block.log_share[:, np.newaxis]
    mean, spread = spread_of(block.hypothesis.region)
    offered = over_normal(block.linear, mean, _WIDER**2 * spread[np.newaxis])
    return offered[:, 0] + block.log_share


def _systematic(weight: Array, count: int, rng: Generator) -> npt.NDArray[np.intp]:
    """Draw indices by weight, as evenly as whole numbers allow."""
    steps = (np.arange(count) + rng.uniform()) / count * weight.sum()
    found: npt.NDArray[np.intp] = np.searchsorted(np.cumsum(weight), steps, side="right")
    return np.minimum(found, weight.size - 1)


def _from_block(
    b: int, block: Block, chosen: npt.NDArray[np.intp], weighed: Weighed, visit: Visit,
    assumed: Assumptions, rng: Generator,
) -> tuple[tuple[Array, ...], Array]:  # fmt: skip
    kind, linear, wiring = weighed.kind, block.linear, block.wiring
    region, count = block.hypothesis.region, chosen.size
    if block.drift is not None:
        cell, component = np.divmod(chosen, block.log_weight.shape[1])
        mean = np.zeros(2)
        root = np.sqrt(block.drift.variance[component])[:, :, np.newaxis] * np.eye(2)
    else:
        cell = chosen
        mean, spread = spread_of(region)
        root = np.broadcast_to(np.linalg.cholesky(_WIDER**2 * spread), (count, 2, 2))
    nuisances = linear.nuisance.shape[2]
    own = rng.standard_normal((count, 2 + nuisances))
    design = np.concatenate([linear.design[cell] @ root, linear.nuisance[cell]], axis=2)
    noise = linear.noise[cell]
    if noise.shape[1]:
        # Conditioned on the readings: a draw from the prior, moved by what it misses them by.
        made = np.einsum("nip,np->ni", design, own)
        made += np.sqrt(noise) * rng.standard_normal(noise.shape)
        missed = linear.residual[cell] - linear.design[cell] @ mean - made
        sigma = design @ np.swapaxes(design, 1, 2)
        sigma = sigma + noise[:, :, np.newaxis] * np.eye(noise.shape[1])
        step = np.linalg.solve(sigma, missed[..., np.newaxis])[..., 0]
        own = own + np.einsum("nip,ni->np", design, step)
    place = mean + np.einsum("nij,nj->ni", root, own[:, :2])
    inside = np.asarray(region.contains(place[:, 0], place[:, 1]))
    if kind.sensor in ("open", "shorted"):
        weight = np.ones(count)
    elif block.drift is not None:
        weight = (~inside).astype(np.float64)
    else:
        weight = inside * _evened(place - mean, root[0]) / region.area
    u_t = np.hypot(block.at.alpha * visit.u_t_k, block.at.shape)
    u_gain = np.hypot(0.01 * assumed.controller_pct, wiring.u_gain)
    contact = wiring.contact_ohm[cell] * np.exp(wiring.u_contact * own[:, 3])
    if kind.wiring == "loose":
        contact = _next_episode(count, assumed, rng)
    columns = (
        np.full(count, b), place, own[:, 2], own[:, 6:] * u_t, contact,
        wiring.leak_s[cell] * np.exp(-wiring.u_leak * own[:, 4]),
        wiring.gain[cell] + u_gain * own[:, 5],
    )  # fmt: skip
    return columns, weight


def _next_episode(count: int, assumed: Assumptions, rng: Generator) -> Array:
    """Contact resistances of an intermittent contact at the next reading."""
    ohm = rng.choice(episode_ohm(assumed)[0], count)
    chance = rng.uniform(size=count)
    is_open = chance > 1.0 - (1.0 - assumed.clean) * assumed.loose_open
    result: Array = np.where(chance < assumed.clean, 0.0, np.where(is_open, np.inf, ohm))
    return result


def _evened(away: Array, root: Array) -> Array:
    """One over the normal density that places were drawn from."""
    white = np.linalg.solve(root, away.T)
    result: Array = 2.0 * np.pi * np.linalg.det(root) * np.exp(0.5 * (white**2).sum(axis=0))
    return result
