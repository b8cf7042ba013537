"""Which fixed resistor serves a range of temperature best."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np
import numpy.typing as npt

from thermofit.circuit.divider import Divider
from thermofit.circuit.extremes import worst_errors
from thermofit.circuit.network import quiet_alpha
from thermofit.circuit.node import Quantities, checked_pair
from thermofit.circuit.part import Part, part_of
from thermofit.circuit.preferred import Series, preferred_values
from thermofit.curve import Curve
from thermofit.errors import InputError
from thermofit.family import Family
from thermofit.texttable import aligned
from thermofit.units import format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["BestPull", "best_pull"]

Array = npt.NDArray[np.float64]
Wanted = Literal["error", "resolution"]

# How far beyond the sensor's own resistances a fixed resistor is looked for.
_REACH = 10.0
_STEPS = 41
_CONTINUOUS = 121


@dataclass(frozen=True, eq=False)
class BestPull:
    """The fixed resistor that serves best, and those beside it.

    Parameters
    ----------
    pull_ohm : float
        The best one, in ohms.
    circuit : Divider
        With it.
    minimised : {"error", "resolution"}
    worst_k : float
        What was minimised, in kelvin: the largest error or the coarsest count in the range.
    tried_ohm, tried_k : array, shape (m,)
        All that were tried; infinite where the circuit cannot read the whole range.
    """

    pull_ohm: float
    circuit: Divider
    minimised: Wanted
    worst_k: float
    tried_ohm: Array
    tried_k: Array

    def to_frame(self) -> pd.DataFrame:
        """Give what was tried as a pandas frame."""
        import pandas as pd

        return pd.DataFrame({"pull_ohm": self.tried_ohm, "worst_k": self.tried_k})

    def __str__(self) -> str:
        what = "largest error / K" if self.minimised == "error" else "coarsest count / K"
        best = int(np.argmin(self.tried_k))
        rows = [["resistor", what]]
        rows += [
            [format_ohm(self.tried_ohm[at], 4), _shown(self.tried_k[at])]
            for at in range(max(best - 2, 0), min(best + 3, self.tried_ohm.size))
        ]
        return f"{aligned(rows, left=0)}\nbest: {format_ohm(self.pull_ohm, 4)}"


def best_pull(
    circuit: Divider,
    part: Family | Curve,
    t_range_c: Sequence[float],
    *,
    values: Series | None = "E24",
    minimise: Wanted = "error",
    **settings: Any,
) -> BestPull:
    """Choose the fixed resistor of a divider.

    Parameters
    ----------
    circuit : Divider
        Its own fixed resistor is left aside; all its limits stay.
    part : Family or Curve
        What it reads.
    t_range_c : (float, float)
        Range in °C that it is to read.
    values : {"E3" … "E192"}, optional
        Series of preferred numbers; None for any value.
    minimise : {"error", "resolution"}
        The largest worst-case error in the range, or the coarsest count.
    **settings
        As for `error_budget`.

    Returns
    -------
    BestPull

    Raises
    ------
    InputError
        A range that is none, or one that no resistor lets the circuit read.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.circuit import Converter, Divider, best_pull
    >>> divider = Divider(pullup_ohm=10e3, pull_pct=1, supply_v=5, converter=Converter(bits=10))
    >>> print(best_pull(divider, tf.family("ntc-10k-3977"), (0, 60), minimise="resolution"))
    resistor  coarsest count / K
    5.600 kΩ               0.153
    6.200 kΩ               0.143
    6.800 kΩ               0.138
    7.500 kΩ               0.145
    8.200 kΩ               0.152
    best: 6.800 kΩ
    """
    if not isinstance(circuit, Divider):
        raise InputError(f"only a Divider has a fixed resistor, not {type(circuit).__name__}")
    if minimise not in get_args(Wanted):
        raise InputError(f"minimise must be error or resolution, not {minimise!r}")
    ends = checked_pair(t_range_c, "t_range_c")
    if ends[0] == ends[1]:
        raise InputError(f"t_range_c is a pair of two temperatures, not twice {ends[0]:g} °C")
    known = part_of(part, **settings)
    t_c = np.linspace(ends[0], ends[1], _STEPS)
    r_ohm = np.asarray(known.curve.resistance(t_c))

    def worst(pull_ohm: Array) -> Array:
        return _worst(circuit, known, t_c, r_ohm, pull_ohm, minimise)

    low, high = float(r_ohm.min()) / _REACH, float(r_ohm.max()) * _REACH
    if values is None:
        tried = np.geomspace(low, high, _CONTINUOUS)
    else:
        tried = preferred_values(values, low, high)
    tried_k = worst(tried)
    best = int(np.argmin(tried_k))
    if not np.isfinite(tried_k[best]):
        raise InputError(
            f"with no fixed resistor from {format_ohm(low)} to {format_ohm(high)} does the circuit "
            f"read all of {ends[0]:g} to {ends[1]:g} °C; take a narrower range or more bits"
        )
    if values is None:
        from scipy.optimize import minimize_scalar

        around = tried[[max(best - 1, 0), min(best + 1, tried.size - 1)]]
        inner = float(np.log(around[0])), float(np.log(around[1]))
        found = minimize_scalar(
            lambda ln: float(worst(np.exp([ln]))[0]), bounds=inner, method="bounded",
            options={"xatol": 1e-6},
        )  # fmt: skip
        if found.fun < tried_k[best]:
            tried = np.insert(tried, best, np.exp(found.x))
            tried_k = np.insert(tried_k, best, found.fun)
            order = np.argsort(tried)
            tried, tried_k = tried[order], tried_k[order]
            best = int(np.argmin(tried_k))
    pull_ohm = float(tried[best])
    return BestPull(
        pull_ohm, circuit.with_pull(pull_ohm), minimise, float(tried_k[best]), tried, tried_k
    )


def _worst(
    circuit: Divider, part: Part, t_c: Array, r_ohm: Array, pull_ohm: Array, minimise: Wanted
) -> Array:
    """What is minimised, for each fixed resistor; infinite where the range cannot be read."""
    q: Quantities = circuit._nominal | {"pull_ohm": pull_ohm[:, np.newaxis]}
    largest_a = abs(circuit.leakage_a) + circuit.leakage_limit_a
    usable = largest_a * pull_ohm < circuit.supply_v
    if minimise == "resolution":
        each = circuit._kelvin_per_count(r_ohm, quiet_alpha(part.curve, t_c), q)
    else:
        low, high = worst_errors(circuit, part, t_c, q, part.rise_k(circuit, t_c, q))
        each = np.maximum(np.abs(low), np.abs(high))
    largest = each.max(axis=1)
    return np.where(usable & np.isfinite(largest), largest, np.inf)


def _shown(worst_k: float) -> str:
    return f"{worst_k:.3f}" if np.isfinite(worst_k) else "cannot be read"
