"""A circuit over temperature, in a table."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.circuit.base import Circuit
from thermofit.circuit.errorbudget import (
    UNKNOWN_NOTE,
    ErrorBudget,
    error_budget,
    error_span,
    shown,
)
from thermofit.circuit.network import quiet_alpha
from thermofit.curve import Curve
from thermofit.family import Family, nominal_curve
from thermofit.interval import coverage_factor
from thermofit.texttable import aligned
from thermofit.units import format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["CircuitTable", "circuit_table"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class CircuitTable:
    """What a circuit makes of a sensor, over temperature.

    Parameters
    ----------
    t_c, r_ohm, voltage_v : array, shape (n,)
        Temperature in °C, resistance in ohms and voltage of the node.
    counts : array, shape (n,)
        Code of the converter.
    kelvin_per_count : array, shape (n,)
        Resolution; infinite where the code is the first or the last.
    low_k, high_k : array, shape (n,)
        Limits of the error in kelvin, worst case; NaN where they reach an end of the scale.
    expected_low_k, expected_high_k : array, shape (n,)
        Coverage interval of the error in kelvin, of the normal distribution (JCGM 100, G.1.3) but
        no further than the worst case; NaN where the code is the first or the last.
    coverage : float
        Probability of that interval.
    budget : ErrorBudget
        What the errors are made of.
    """

    t_c: Array
    r_ohm: Array
    voltage_v: Array
    counts: Array
    kelvin_per_count: Array
    low_k: Array
    high_k: Array
    expected_low_k: Array
    expected_high_k: Array
    coverage: float
    budget: ErrorBudget

    def to_frame(self) -> pd.DataFrame:
        """Give the table as a pandas frame, a row for each temperature."""
        import pandas as pd

        names = [field.name for field in dataclasses.fields(self)]
        return pd.DataFrame({
            name: getattr(self, name) for name in names if name not in {"coverage", "budget"}
        })  # fmt: skip

    def __str__(self) -> str:
        percent = f"{100.0 * self.coverage:g} %"
        rows = [
            [
                "t / °C",
                "R",
                "V / V",
                "counts",
                "K/count",
                "worst error / K",
                f"{percent} of errors / K",
            ]
        ]
        for t, r, v, code, step, low, high, first, last in zip(
            self.t_c, self.r_ohm, self.voltage_v, self.counts, self.kelvin_per_count,
            self.low_k, self.high_k, self.expected_low_k, self.expected_high_k, strict=True,
        ):  # fmt: skip
            rows.append([
                f"{t:g}", format_ohm(r), f"{v:.4f}", f"{code:.0f}",
                shown(step, ".3f") if np.isfinite(step) else "∞",
                error_span(low, high, 2), error_span(first, last, 2),
            ])  # fmt: skip
        notes = [f"({note})" for note in self.budget.notes]
        table = aligned(rows, left=0)
        return "\n".join([table, *notes, *([UNKNOWN_NOTE] if "?" in table else [])])


def circuit_table(
    circuit: Circuit, part: Family | Curve, t_c: Any, *, coverage: float = 0.95, **settings: Any
) -> CircuitTable:
    """Tabulate a circuit over temperature.

    Parameters
    ----------
    circuit : Circuit
    part : Family or Curve
    t_c : float or array_like, shape (n,)
        In °C.
    coverage : float
        Probability of the statistical interval.
    **settings
        As for `error_budget`.

    Returns
    -------
    CircuitTable

    Raises
    ------
    InputError
        As for `error_budget`, or a coverage that is no probability.

    Examples
    --------
    >>> import thermofit as tf
    >>> from thermofit.circuit import Converter, Divider
    >>> divider = Divider(pullup_ohm=10e3, pull_pct=1, supply_v=5, converter=Converter(bits=10))
    >>> print(divider.table(tf.family("ntc-10k-3977"), [0, 25, 50], r25_pct=1))
    t / °C          R   V / V  counts  K/count  worst error / K  95 % of errors / K
         0  32.555 kΩ  3.8250     783    0.107  -0.62 to +0.62    -0.37 to +0.38
        25  10.000 kΩ  2.5000     512    0.089  -0.50 to +0.50    -0.37 to +0.37
        50  3.6053 kΩ  1.3250     271    0.132  -0.79 to +0.80    -0.48 to +0.49
    (ntc-10k-3977: R(25 °C) ± 1 %, B ± 0.75 %)
    """
    factor = coverage_factor(coverage)
    budget = error_budget(circuit, part, t_c, **settings)
    curve = nominal_curve(part)
    r_ohm = np.exp(curve._quiet_ln_r(budget.t_c))
    half = factor * budget.standard_uncertainty_k
    q = circuit._nominal
    return CircuitTable(
        t_c=budget.t_c,
        r_ohm=r_ohm,
        voltage_v=circuit.voltage(r_ohm),
        counts=circuit.counts(r_ohm),
        kelvin_per_count=circuit._kelvin_per_count(r_ohm, quiet_alpha(curve, budget.t_c), q),
        low_k=budget.worst_low_k,
        high_k=budget.worst_high_k,
        # One rectangular contribution alone lies within 1.73 u, short of the 1.96 u of 95 %.
        expected_low_k=np.maximum(budget.mean_k - half, _or(budget.worst_low_k, -np.inf)),
        expected_high_k=np.minimum(budget.mean_k + half, _or(budget.worst_high_k, np.inf)),
        coverage=coverage,
        budget=budget,
    )


def _or(limits_k: Array, unknown: float) -> Array:
    return np.where(np.isnan(limits_k), unknown, limits_k)
