"""How probable the readings are under each cause, cell by cell."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.assumptions import Assumptions, Drift, drift_of
from thermofit.decide.cause.cable import Wiring
from thermofit.decide.cause.integral import over_drift, over_region, without_place
from thermofit.decide.cause.kinds import ELSE, Kind, kind_of
from thermofit.decide.cause.linear import Linear, linearise
from thermofit.decide.cause.loose import loose_contact
from thermofit.decide.cause.states import wiring_of
from thermofit.decide.cause.visit import Visit
from thermofit.decide.identification.hypothesis import Expected, Hypothesis
from thermofit.errors import InputError

__all__ = ["Block", "Weighed", "weigh"]

Array = npt.NDArray[np.float64]

# Readings that follow no cause: ln R even over ten decades, over range and short one time in ten.
_ELSE_SPAN = float(np.log(1e9))
_ELSE_EVENT = 0.1


@dataclass(frozen=True, eq=False)
class Block:
    """Cells of one cause with one family.

    Parameters
    ----------
    hypothesis : Hypothesis
    at : Expected
        Of it, at the visit's temperatures.
    wiring : Wiring
    linear : Linear
    drift : Drift or None
        For sensors out of tolerance.
    log_share : array, shape (N,)
        Ln of the prior weight of each cell.
    log_weight : array, shape (N,) or (N, k)
        Ln of prior weight times probability of the readings, of cells and components.
    """

    hypothesis: Hypothesis
    at: Expected
    wiring: Wiring
    linear: Linear
    drift: Drift | None
    log_share: Array
    log_weight: Array


@dataclass(frozen=True, eq=False)
class Weighed:
    """A cause with its evidence.

    Parameters
    ----------
    kind : Kind
    log_evidence : float
        Ln p(readings | cause).
    blocks : tuple of Block
    """

    kind: Kind
    log_evidence: float
    blocks: tuple[Block, ...]


def weigh(
    visit: Visit, own: Hypothesis, others: Sequence[Hypothesis], assumed: Assumptions,
    prior: Mapping[str, float],
) -> tuple[tuple[Weighed, ...], Array]:  # fmt: skip
    """Find how probable the readings are under each cause, and each cause after the readings.

    Parameters
    ----------
    visit : Visit
    own : Hypothesis
        The family that should be fitted.
    others : sequence of Hypothesis
        What may be fitted instead.
    assumed : Assumptions
    prior : mapping of str to float
        Of the causes.

    Returns
    -------
    weighed : tuple of Weighed
        In the order of `prior`.
    probability : array
        Of each, by Bayes' theorem.

    Raises
    ------
    InputError
        None of the causes makes the readings possible.
    """
    weighed = tuple(_weigh_cause(id, visit, own, others, assumed) for id in prior)
    joint = np.array([cause.log_evidence for cause in weighed]) + np.log(list(prior.values()))
    if not np.isfinite(joint).any():
        raise InputError(
            "no cause that is left makes these readings possible; check them, or leave "
            "'something else' among the priors"
        )
    share = np.exp(joint - joint.max())
    return weighed, share / share.sum()


def _weigh_cause(
    id: str, visit: Visit, own: Hypothesis, others: Sequence[Hypothesis], assumed: Assumptions
) -> Weighed:
    kind = kind_of(id)
    if kind.id == ELSE:
        finite = int(visit.finite.sum())
        events = visit.finite.size - finite
        return Weighed(kind, finite * -np.log(_ELSE_SPAN) + events * np.log(_ELSE_EVENT), ())
    blocks = []
    parts = others if kind.sensor == "other" else [own]
    for part in parts:
        at = visit.expected(part)
        if kind.wiring == "loose":
            wiring, linear, share = loose_contact(visit, at, part, assumed)
        else:
            wiring = wiring_of(kind, assumed)
            linear = linearise(visit, at, wiring, kind.sensor, 0.01 * assumed.controller_pct)
            share = wiring.weight
        drift = drift_of(part.region) if kind.sensor == "off" else None
        with np.errstate(divide="ignore"):
            log_share = np.log(share) - np.log(len(parts))
        if drift is not None:
            found = over_drift(linear, drift, part.region)
            log_weight = found + log_share[:, np.newaxis] - np.log(found.shape[1])
        elif kind.sensor in ("open", "shorted"):
            log_weight = without_place(linear) + log_share
        else:
            log_weight = over_region(linear, part.region) + log_share
        blocks.append(Block(part, at, wiring, linear, drift, log_share, log_weight))
    total = np.concatenate([block.log_weight.ravel() for block in blocks])
    return Weighed(kind, float(np.logaddexp.reduce(total)), tuple(blocks))
