"""From networks to rows: the errors of all at once, then what is said of each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.circuit import Circuit
from thermofit.decide.substitute.accepted import Accepted
from thermofit.decide.substitute.candidates import Candidate
from thermofit.decide.substitute.masking import catches, masked_faults
from thermofit.decide.substitute.network import Network
from thermofit.decide.substitute.ohms import Ohms
from thermofit.decide.substitute.ratings import misfits, not_stated
from thermofit.decide.substitute.reader import Errors, Reader, reading_errors
from thermofit.decide.substitute.row import Substitute
from thermofit.decide.substitute.setpoints import drifts, switches_beyond
from thermofit.decide.substitute.wording import reads_words, then_runs, way

__all__ = ["Setting", "compare", "largest"]

Array = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]

# Networks whose errors are found together: as many as a cache holds.
_BLOCK = 256


@dataclass(frozen=True, eq=False)
class Setting:
    """What all substitutes are held against.

    Parameters
    ----------
    original : Candidate
    reader : Reader
    t_c : array, shape (m,)
        Temperatures in °C.
    own : Errors, of shape (1, m)
        Of the original, by its own tolerance.
    circuit : Circuit or None
    accepted : Accepted
    set_points_c : array, shape (k,)
    """

    original: Candidate
    reader: Reader
    t_c: Array
    own: Errors
    circuit: Circuit | None
    accepted: Accepted
    set_points_c: Array


def largest(low: Array, high: Array) -> tuple[Array, Places]:
    """Largest size of an error along the last axis, and its place; infinite where unknown."""
    size = np.maximum(np.abs(low), np.abs(high))
    size = np.where(np.isnan(size), np.inf, size)
    place = size.argmax(axis=-1)
    return np.take_along_axis(size, place[..., np.newaxis], axis=-1)[..., 0], place


def compare(setting: Setting, networks: Sequence[Network], ohms: Ohms) -> tuple[Substitute, ...]:
    """Compare networks with the original, and rank them.

    Parameters
    ----------
    setting : Setting
    networks : sequence of Network, length n
    ohms : Ohms, of shape (n, m)

    Returns
    -------
    tuple of Substitute
        Usable ones first, then by their worst error.
    """
    rows: list[Substitute] = []
    for start in range(0, len(networks), _BLOCK):
        block = slice(start, start + _BLOCK)
        rows += _block(setting, networks[block], ohms.rows(block))
    return tuple(sorted(rows, key=lambda r: (not r.usable, r.worst_k, r.name, r.resistors)))


def _block(setting: Setting, networks: Sequence[Network], ohms: Ohms) -> list[Substitute]:
    t_c, own = setting.t_c, setting.own
    errors = reading_errors(setting.reader, ohms, t_c)
    worst, worst_at = largest(errors.low, errors.high)
    _, curve_at = largest(errors.nominal, errors.nominal)
    series = np.array([network.series_ohm for network in networks])
    parallel = np.array([network.parallel_ohm for network in networks])
    with np.errstate(invalid="ignore"):
        change, change_at = largest(errors.low - own.high, errors.high - own.low)
        columns = {
            "worst_k": worst,
            "worst_at_c": t_c[worst_at],
            "coldest_k": errors.low.min(axis=1),
            "warmest_k": errors.high.max(axis=1),
            "typical_k": np.sqrt(errors.square.mean(axis=1)),
            "curve_k": np.take_along_axis(errors.nominal, curve_at[:, np.newaxis], axis=1)[:, 0],
            "curve_at_c": t_c[curve_at],
            "change_k": change,
            "change_at_c": t_c[change_at],
            "coarsest_count_k": _coarsest(setting, ohms),
            "open_reads_c": setting.reader.reads_c(series + parallel),
            "short_reads_c": setting.reader.reads_c(series),
        }
    names, cells = list(columns), zip(*(each.tolist() for each in columns.values()), strict=True)
    broken = ~(setting.accepted.reads(ohms.low) & setting.accepted.reads(ohms.high))
    broken_at = np.where(broken.any(axis=1), t_c[broken.argmax(axis=1)], np.nan)
    reads = t_c + errors.nominal
    beyond = ~np.asarray(setting.reader.curve.in_range(reads)) & ~np.isnan(reads)
    beyond_at = np.where(beyond.any(axis=1), t_c[beyond.argmax(axis=1)], np.nan)
    ways = zip(
        errors.nominal.min(axis=1).tolist(), errors.nominal.max(axis=1).tolist(),
        t_c[errors.nominal.argmin(axis=1)].tolist(), t_c[errors.nominal.argmax(axis=1)].tolist(),
        strict=True,
    )  # fmt: skip
    return [
        _row(setting, network, terminal_ohm, dict(zip(names, numbers, strict=True)), *about)
        for network, terminal_ohm, numbers, *about in zip(
            networks, ohms.nominal, cells, broken_at.tolist(), beyond_at.tolist(), ways, strict=True
        )
    ]


def _row(
    setting: Setting,
    network: Network,
    terminal_ohm: Array,
    numbers: dict[str, float],
    broken_at_c: float,
    beyond_at_c: float,
    nominal: tuple[float, float, float, float],
) -> Substitute:
    readable = np.isfinite(numbers["worst_k"])
    found = misfits(network, setting.original, setting.t_c, setting.circuit, terminal_ohm)
    flags = [one.words for one in found]
    if not readable:
        flags.append(f"the reading leaves the curves at {numbers['worst_at_c']:g} °C")
    elif not np.isnan(broken_at_c):
        flags.append(
            f"at {broken_at_c:g} °C the controller may take it for broken, or find it at the end "
            "of its scale"
        )
    elif not np.isnan(beyond_at_c):
        flags.append(
            f"at {beyond_at_c:g} °C the reading is beyond the valid range of the original: what a "
            "controller makes of it there is its own affair"
        )
    errs = way(*nominal[:2])
    points = drifts(setting.reader, network, setting.set_points_c)
    flags += switches_beyond(network, points)
    catches_open, catches_short = catches(setting.accepted, network)
    hidden = masked_faults(setting.accepted, setting.reader, network, setting.t_c)
    known = setting.accepted.verified
    return Substitute(
        name=network.name,
        resistors=network.resistors,
        series_ohm=network.series_ohm,
        parallel_ohm=network.parallel_ohm,
        **numbers,
        usable=bool(readable and np.isnan(broken_at_c) and not any(o.unusable for o in found)),
        catches_open=catches_open,
        catches_short=catches_short,
        masked=hidden if known else (),
        unverified=() if known else hidden,
        errs=errs,
        reads=reads_words(errs, *nominal[2:]),
        then_runs=then_runs(errs),
        set_points=points,
        flags=tuple(flags),
        not_stated=not_stated(network.parts, setting.original),
        notes=_notes(network),
        network=network,
    )


def _coarsest(setting: Setting, ohms: Ohms) -> Array:
    """Kelvin that a count is worth, at its worst in the range."""
    circuit, t_c = setting.circuit, setting.t_c
    if circuit is None:
        return np.full(ohms.nominal.shape[0], np.nan)
    alpha = np.gradient(np.log(ohms.nominal), t_c, axis=1, edge_order=2)
    found = circuit._kelvin_per_count(ohms.nominal, alpha, circuit._nominal)
    result: Array = found.max(axis=1)
    return result


def _notes(network: Network) -> tuple[str, ...]:
    notes = (note for one in network.parts for note in one.notes)
    return tuple(dict.fromkeys(notes))
