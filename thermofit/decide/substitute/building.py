"""Networks of the candidates: the best trimmed one of each, and all pairs of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
import numpy.typing as npt

from thermofit.decide.substitute.candidates import Candidate
from thermofit.decide.substitute.compare import Setting
from thermofit.decide.substitute.masking import masked_faults
from thermofit.decide.substitute.network import Network
from thermofit.decide.substitute.ohms import Joined, Ohms, concatenated, join
from thermofit.decide.substitute.ohms import trim as trimmed
from thermofit.decide.substitute.trimsearch import search_plane
from thermofit.errors import InputError

__all__ = ["Trim", "best_trimmed", "paired"]

Array = npt.NDArray[np.float64]
Trim = Literal["series", "parallel", "both"]

_MOST_PAIRED = 200


def best_trimmed(
    setting: Setting,
    found: Sequence[Candidate],
    bare: Ohms,
    trim: Trim,
    values: Array,
    pct: float,
    *,
    allow_masked: bool,
) -> tuple[list[Network], Ohms, list[str]]:
    """Give the best trimmed network of each candidate, and the names of those without one.

    Parameters
    ----------
    setting : Setting
    found : sequence of Candidate, length n
    bare : Ohms, of shape (n, m)
    trim : {"series", "parallel", "both"}
    values : array
        Resistors to choose from, in ohms, rising.
    pct : float
        Their limits ±, in percent.
    allow_masked : bool
        Whether networks that hide a fault will do.
    """
    series, parallel = _plane(trim, values)
    networks, pieces, without = [], [bare.rows(slice(0, 0))], []
    for at, one in enumerate(found):
        if np.isnan(bare.low[at]).any():  # no value somewhere, which no resistor mends
            continue
        best = search_plane(
            setting.reader, bare.low[at], bare.high[at], setting.t_c, series, parallel, pct,
            setting.accepted, allow_masked=allow_masked,
        )  # fmt: skip
        if best is None:
            without.append(one.name)
            continue
        networks.append(Network((one,), None, best.series_ohm, best.parallel_ohm, pct))
        part = bare.rows(slice(at, at + 1))
        pieces.append(trimmed(part, best.series_ohm, best.parallel_ohm, pct))
    return networks, concatenated(pieces), without


def paired(
    setting: Setting,
    found: Sequence[Candidate],
    bare: Ohms,
    pairs: Trim,
    *,
    allow_masked: bool,
) -> tuple[list[Network], Ohms, dict[str, str]]:
    """Give all pairs of candidates, equal ones too; those that hide a fault by name and why.

    Parameters
    ----------
    setting : Setting
    found : sequence of Candidate, length n
    bare : Ohms, of shape (n, m)
    pairs : {"series", "parallel", "both"}
    allow_masked : bool
        Whether pairs that hide a fault will do.

    Raises
    ------
    InputError
        Too many candidates.
    """
    if len(found) > _MOST_PAIRED:
        raise InputError(
            f"{len(found)} candidates make {len(found) * (len(found) + 1) // 2} pairs; "
            f"{_MOST_PAIRED} candidates are the most: choose among them by a call without pairs"
        )
    ways: tuple[Joined, ...] = ("series", "parallel") if pairs == "both" else (pairs,)
    networks, pieces, hidden = [], [bare.rows(slice(0, 0))], {}
    for how in ways:
        for one in range(len(found)):
            for other in range(one, len(found)):
                network = Network((found[one], found[other]), how)
                faults = masked_faults(setting.accepted, setting.reader, network, setting.t_c)
                if faults and setting.accepted.verified and not allow_masked:
                    hidden[network.name] = "; ".join(faults)
                    continue
                first, second = (bare.rows(slice(at, at + 1)) for at in (one, other))
                networks.append(network)
                pieces.append(join(first, second, how))
    return networks, concatenated(pieces), hidden


def _plane(trim: Trim, values: Array) -> tuple[Array, Array]:
    """Resistors in series and across to choose from, with none where it may be left out."""
    if trim == "series":
        return values, np.full(1, np.inf)
    if trim == "parallel":
        return np.zeros(1), values
    return np.append(0.0, values), np.append(values, np.inf)
