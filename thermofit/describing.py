"""What a curve is, in words and a short table of it."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.coefficients import Coefficients
from thermofit.equations.base import Equation
from thermofit.interval import format_pair
from thermofit.notebook import as_html
from thermofit.texttable import aligned
from thermofit.units import format_ohm

__all__ = ["Describing", "facts_text", "short_table"]

_STEPS = 12

Fact = tuple[str, str]


class Describing:
    """The part of `thermofit.Curve` that tells people what it is."""

    equation: Equation
    coefficients: Coefficients
    t_min_c: float
    t_max_c: float
    range_basis: Any
    id: str
    source: str
    licence: str
    note: str

    def describe(self) -> str:
        """Tell what the curve is: equation, coefficients, range, source and a short table.

        Returns
        -------
        str

        Examples
        --------
        >>> import thermofit as tf
        >>> text = tf.Curve.beta(r25_ohm=10e3, b_k=3977, t_range_c=(0, 50)).describe()
        >>> print("\\n".join(text.split("\\n")[-4:]))
              35  6.4864 kΩ     -4.188
              40  5.2785 kΩ     -4.056
              45  4.3235 kΩ     -3.929
              50  3.5631 kΩ     -3.808
        """
        facts = [*self._form(), ("source", self.source), ("licence", self.licence),
                 ("note", self.note)]  # fmt: skip
        title = self.id or "a curve without an id"
        return f"{title}\n{facts_text(facts)}\n\n{short_table(self)}"

    def _form(self) -> list[Fact]:
        """Equation, coefficients with what is known of them, and range."""
        known: Coefficients | None = getattr(self, "standard_uncertainties", None)
        coefficients = []
        for entry in self.equation.coefficients:
            value = self.coefficients[entry.name]
            text = f"{value!r} {entry.unit}"
            if known is not None:
                rounded, u = format_pair(value, known[entry.name])
                text += f"  ({rounded}, standard uncertainty {u})"
            coefficients.append((entry.name, text))
        return [
            ("equation", f"{self.equation.label}: {self.equation.formula}"),
            *((name, f"{value:g}") for name, value in self.equation.settings.items()),
            *coefficients,
            ("valid", f"{self.t_min_c:g} to {self.t_max_c:g} °C ({self.range_basis})"),
        ]

    def _repr_html_(self) -> str:
        return as_html(self.describe)


def facts_text(facts: list[Fact]) -> str:
    """Write names and what they are, a line each; what is empty is left out."""
    return aligned(
        [[name, text] for name, text in facts if text], left=2, indent="  ", header=False
    )


def short_table(curve: Any, *, ratio_only: bool = False) -> str:
    """Write a short table of resistance and temperature coefficient.

    Parameters
    ----------
    curve : Curve
    ratio_only : bool
        Whether there is no resistance to show, but R(T)/R25.

    Returns
    -------
    str
    """
    t_c = _round_temperatures(curve.t_min_c, curve.t_max_c)
    r_ohm, alpha = curve.resistance(t_c), curve.alpha(t_c)
    rows = [["t / °C", "R/R25" if ratio_only else "R", "α / (%/K)"]]
    rows += [
        [f"{t:g}", f"{r:.5g}" if ratio_only else format_ohm(float(r)), f"{100.0 * a:.3f}"]
        for t, r, a in zip(t_c, r_ohm, alpha, strict=True)
    ]
    return aligned(rows, left=0, indent="  ")


def _round_temperatures(low_c: float, high_c: float) -> npt.NDArray[np.float64]:
    """About a dozen round temperatures within a range, with 25 °C where it is inside."""
    steps = [1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0]
    step = next((s for s in steps if (high_c - low_c) / s <= _STEPS), steps[-1])
    round_ones = np.arange(np.ceil(low_c / step), np.floor(high_c / step) + 1) * step
    extra = [25.0] if low_c <= 25.0 <= high_c else []
    return np.unique([low_c, high_c, *round_ones, *extra])
