"""The band: limits of the resistance, and what a reader makes of them."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import is_lazy
from thermofit.notebook import ShownInNotebooks
from thermofit.texttable import aligned
from thermofit.units import format_ohm

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Band", "arrays_of_a_band"]

Array = npt.NDArray[np.float64]

_MOST_ROWS = 200


@dataclass(frozen=True, eq=False)
class Band(ShownInNotebooks):
    """Limits of the resistance over temperature.

    All arrays have one shape: that of the temperatures, of the tolerances and of
    the curves, broadcast together.

    Parameters
    ----------
    t_c : array
        Temperature in °C.
    r_low_ohm, r_nominal_ohm, r_high_ohm : array
        Limits and nominal resistance in ohms.
    dr_low_pct, dr_pct : array
        Lower and upper limit in percent of the nominal resistance.
    dt_low_k, dt_high_k : array
        Error in kelvin, by exact inversion, of a reader that assumes the nominal
        curve and meets `r_low_ohm`, or `r_high_ohm`.  NaN where the nominal curve
        never has that resistance.
    dt_low_first_order_k, dt_high_first_order_k : array
        The same to first order, ΔR/(R·α), as data sheets print it.
    alpha_per_k : array
        Temperature coefficient of resistance of the nominal curve, per kelvin.
    meaning : str
        What the limits are limits of.
    """

    t_c: Array
    r_low_ohm: Array
    r_nominal_ohm: Array
    r_high_ohm: Array
    dr_low_pct: Array
    dr_pct: Array
    dt_low_k: Array
    dt_high_k: Array
    dt_low_first_order_k: Array
    dt_high_first_order_k: Array
    alpha_per_k: Array
    meaning: str

    def to_frame(self) -> pd.DataFrame:
        """Give the band as a pandas frame, a row for each element.

        Returns
        -------
        pandas.DataFrame
            With an index of the places where the band has more than one
            dimension.
        """
        import pandas as pd

        series = hasattr(self.t_c, "iloc") and self.t_c.ndim == 1
        index: Any = getattr(self.t_c, "index", None) if series else None
        if self.t_c.ndim > 1:
            index = pd.MultiIndex.from_product([range(size) for size in self.t_c.shape])
        columns = {name: np.ravel(getattr(self, name)) for name in arrays_of_a_band()}
        return pd.DataFrame(columns, index=index)

    def __str__(self) -> str:
        if is_lazy(self.t_c):
            return f"not computed yet; dask.compute(…) gives the numbers\n({self.meaning})"
        header = ["t / °C", "R low", "R nominal", "R high", "ΔR / %", "α / (%/K)", "reads / K"]
        rows = [header]
        flat = [np.ravel(value) for value in (
            self.t_c, self.r_low_ohm, self.r_nominal_ohm, self.r_high_ohm,
            self.dr_low_pct, self.dr_pct, self.alpha_per_k, self.dt_high_k, self.dt_low_k,
        )]  # fmt: skip
        for t, low, r, high, below, above, alpha, cold, hot in list(zip(*flat, strict=True))[
            :_MOST_ROWS
        ]:
            first, second = sorted((cold, hot))
            rows.append([
                f"{t:g}", format_ohm(low), format_ohm(r), format_ohm(high),
                f"{below:+.2f} to {above:+.2f}", f"{100.0 * alpha:.2f}",
                f"{first:+.2f} to {second:+.2f}",
            ])  # fmt: skip
        more = self.t_c.size - _MOST_ROWS
        ending = f"\n… and {more} more" if more > 0 else ""
        return f"{aligned(rows, left=0)}{ending}\n({self.meaning})"


def arrays_of_a_band() -> list[str]:
    """Names of the fields of a band that are arrays."""
    return [field.name for field in dataclasses.fields(Band) if field.name != "meaning"]
