"""An intermittent contact: good at one reading and bad at the next.

Each reading through the cable is clean or falls into an episode.  A clean one is a reading of the
sensor; one in an episode says of the sensor next to nothing, and is as probable as some contact
resistance, log-even over its span, or an open contact would make it.
"""

from __future__ import annotations

import dataclasses
from itertools import product

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.assumptions import Assumptions
from thermofit.decide.cause.cable import Wiring, steps
from thermofit.decide.cause.linear import Linear, linearise
from thermofit.decide.cause.visit import Visit
from thermofit.decide.identification.apart import spread_of
from thermofit.decide.identification.hypothesis import Expected, Hypothesis
from thermofit.errors import InputError

__all__ = ["MOST_LINE", "episode_ohm", "loose_contact"]

Array = npt.NDArray[np.float64]

MOST_LINE = 10
"""Most readings through the cable: each is clean or not, which makes 2ⁿ ways."""

_NODES = 2000
_LEFT_OUT = 1e8  # variance of a reading that says nothing of the sensor


def loose_contact(
    visit: Visit, at: Expected, part: Hypothesis, assumed: Assumptions
) -> tuple[Wiring, Linear, Array]:
    """Give the ways in which readings may be clean or not.

    Parameters
    ----------
    visit : Visit
    at : Expected
    part : Hypothesis
    assumed : Assumptions

    Returns
    -------
    wiring : Wiring
        As many cells as ways, none with a contact of its own.
    linear : Linear
        Readings in an episode have no weight.
    share : array
        Prior weight of each way, times the density of the readings in episodes.

    Raises
    ------
    InputError
        More readings through the cable than `MOST_LINE`.
    """
    line = visit.at("connector", "display", "cable bridged")
    count = int(line.sum())
    if count > MOST_LINE:
        raise InputError(
            f"{count} readings through the cable are more than can be weighed, {MOST_LINE}; "
            "average those that agree, and keep those that do not"
        )
    one = Wiring(np.zeros(1), np.zeros(1), np.zeros(1), np.ones(1))
    u_controller = 0.01 * assumed.controller_pct
    ways = np.array(list(product([True, False], repeat=count)), dtype=bool).reshape(2**count, count)
    log_bad = _log_episode(visit, at, part, assumed, u_controller)
    # Over range and with the cable bridged, a clean contact has a probability and no density.
    exact = linearise(visit, at, one, "good", u_controller)
    bridged = visit.places == "cable bridged"
    settled = (~visit.finite | bridged)[line]
    log_clean = np.where(settled, _log_clean_event(visit)[line], 0.0)
    with np.errstate(invalid="ignore"):
        log_share = np.where(
            ways, np.log(assumed.clean) + log_clean, np.log(1.0 - assumed.clean) + log_bad[line]
        ).sum(axis=1)
    keep = np.isfinite(log_share)
    if keep.any():
        ways, log_share = ways[keep], log_share[keep]
    m = visit.finite
    clean = np.ones((len(ways), visit.places.size), dtype=bool)
    clean[:, line] = ways
    clean &= ~bridged
    clean = clean[:, m]
    size = (len(ways), *exact.residual.shape[1:])
    noise = np.where(clean, np.broadcast_to(exact.noise, size), _LEFT_OUT)
    own = clean[..., np.newaxis]
    # What was put in as variance of a reading that is left out is taken out of its density.
    back = 0.5 * np.log(2.0 * np.pi * _LEFT_OUT) * (~clean).sum(axis=1)
    rest = dataclasses.replace(visit, high=np.where(line, np.nan, visit.high),
                               low=np.where(line, np.nan, visit.low))  # fmt: skip
    events = linearise(
        dataclasses.replace(
            rest, y=np.where(line, np.nan, rest.y), u=np.where(line, np.nan, rest.u)
        ),
        at, one, "good", u_controller,
    )  # fmt: skip
    linear = Linear(
        np.where(clean, exact.residual, 0.0),
        np.where(own, exact.design, 0.0),
        np.where(own, exact.nuisance, 0.0),
        noise,
        events.log_event + back,
    )
    n = len(ways)
    wiring = Wiring(np.zeros(n), np.zeros(n), np.zeros(n), np.full(n, 1.0 / n))
    return wiring, linear, np.exp(log_share)


def episode_ohm(assumed: Assumptions) -> tuple[Array, float]:
    """Contact resistances of an episode, even in ln R, and the width of their cells."""
    return steps(*assumed.contact_ohm, _NODES)


def _log_episode(
    visit: Visit, at: Expected, part: Hypothesis, assumed: Assumptions, u_controller: float
) -> Array:
    """Ln of the density, or the probability, of each reading in an episode, shape (n,)."""
    from scipy.special import log_ndtr

    mean, spread = spread_of(part.region)
    contact, cell = episode_ohm(assumed)
    result = np.full(visit.places.size, -np.inf)
    for i in np.flatnonzero(visit.at("connector", "display", "cable bridged")):
        j = visit.group[i]
        direction = np.array([1.0, at.a[j]])
        x = at.ln_r[j] + direction @ mean
        variance = direction @ spread @ direction + (at.alpha[j] * visit.u_t_k[j]) ** 2
        variance += at.bend[j] ** 2 + at.shape[j] ** 2
        own = visit.finite & visit.at("sensor") & (visit.group == j)
        if own.any():
            weights = visit.u[own] ** -2.0
            variance = 1.0 / (1.0 / variance + weights.sum())
            x = x + variance * (weights * (visit.y[own] - x)).sum()
        r = 0.0 if visit.places[i] == "cable bridged" else np.exp(x)
        ln_r, share = np.log(r + contact), r / (r + contact)
        u_own = u_controller if visit.places[i] == "display" else 0.0
        u = np.sqrt(share**2 * variance + ((1.0 - share) * cell) ** 2 + u_own**2)
        if np.isfinite(visit.y[i]):
            u = np.hypot(u, visit.u[i])
            terms = -0.5 * ((visit.y[i] - ln_r) / u) ** 2 - np.log(u * np.sqrt(2.0 * np.pi))
            open_log = -np.inf
        elif np.isfinite(visit.high[i]):
            terms, open_log = log_ndtr((ln_r - visit.high[i]) / u), 0.0
        else:
            terms, open_log = log_ndtr((visit.low[i] - ln_r) / u), -np.inf
        result[i] = np.logaddexp(
            np.log(1.0 - assumed.loose_open) + np.logaddexp.reduce(terms) - np.log(contact.size),
            np.log(assumed.loose_open) + open_log,
        )
    return result


def _log_clean_event(visit: Visit) -> Array:
    """Of readings that have no density if the contact is clean: possible or not, shape (n,)."""
    bridged = visit.places == "cable bridged"
    short = np.isfinite(visit.low)
    return np.where(bridged & short, 0.0, -np.inf)
