"""The outcome of a batch of fits."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.curve import Curve
from thermofit.equations.base import Array, Equation
from thermofit.errors import FitError, UnknownNameError
from thermofit.estimate.many.covariance import places, square
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["ManyFits"]


@dataclass(frozen=True, eq=False, repr=False)
class ManyFits:
    """Curves fitted to the points of n sensors, and how well they are known.

    Made by `thermofit.fit_many` and `thermofit.characterise_many`.  A sensor that could not be
    fitted has NaN for its numbers, and its reason in `errors`.

    Parameters
    ----------
    sensors : array, shape (n,)
        Their names.
    equation : Equation
        The form; a setting that each sensor has for itself is in `settings`.
    settings : mapping of str to array, shape (n,)
        Fixed numbers of the equation, by name.
    coefficients : array, shape (n, k)
    triangle : array, shape (k·(k + 1)/2, n)
        Lower triangle of the covariance of the coefficients, row by row; NaN where it is unknown.
    points, dof : array of int, shape (n,)
        Numbers of points and degrees of freedom, as for `Fit`.
    curve_dof : array, shape (n,)
        Degrees of freedom behind the covariance.
    residuals_k : array
        Measured minus fitted temperatures in kelvin, in the shape of the points.
    rms_k, max_abs_k, chi2 : array, shape (n,)
        As for `Fit`; `chi2` is NaN without uncertainties.
    t_min_c, t_max_c : array, shape (n,)
        Valid range in °C.
    stated_range : array of bool, shape (n,)
        Whether that is the range of a prior, and not that of the points.
    errors : mapping of int to str
        Why the sensors at these places could not be fitted.
    widened : array, shape (n,), or None
        With a prior, the factor on its variances: 1 where the readings agree with it.
    notes : mapping of int to str
        What was said of readings that disagree with a prior, or with each other.
    """

    sensors: npt.NDArray[Any]
    equation: Equation
    settings: Mapping[str, Array]
    coefficients: Array
    triangle: Array
    points: npt.NDArray[np.intp]
    dof: npt.NDArray[np.intp]
    curve_dof: Array
    residuals_k: Array
    rms_k: Array
    max_abs_k: Array
    chi2: Array
    t_min_c: Array
    t_max_c: Array
    stated_range: npt.NDArray[np.bool_]
    errors: Mapping[int, str]
    widened: Array | None = None
    notes: Mapping[int, str] | None = None

    def __len__(self) -> int:
        return len(self.sensors)

    @cached_property
    def covariance(self) -> Array:
        """Covariance of the coefficients, shape (n, k, k); NaN where nothing is known of it."""
        full = square(self.triangle)
        full.flags.writeable = False
        return full

    @cached_property
    def standard_uncertainties(self) -> Array:
        """Standard uncertainties of the coefficients, shape (n, k)."""
        diagonal = [row for row, (i, j) in enumerate(places(self.coefficients.shape[1])) if i == j]
        u: Array = np.sqrt(self.triangle[diagonal]).T
        u.flags.writeable = False
        return u

    @cached_property
    def p_value(self) -> Array:
        """Probability of a larger `chi2`, shape (n,); NaN where there is none."""
        from scipy.special import gammaincc

        p = np.full(len(self), np.nan)
        some = self.dof > 0
        p[some] = gammaincc(0.5 * self.dof[some], 0.5 * self.chi2[some])
        p.flags.writeable = False
        return p

    @property
    def conflict(self) -> npt.NDArray[np.bool_]:
        """Whether readings disagree with the prior, shape (n,); never without one."""
        if self.widened is None:
            return np.zeros(len(self), dtype=bool)
        conflict: npt.NDArray[np.bool_] = self.widened > 1.0
        return conflict

    def curve(self, sensor: Hashable) -> Curve:
        """Give the curve of one sensor, by its name.

        Parameters
        ----------
        sensor : hashable
            As in `sensors`.

        Returns
        -------
        Curve
            Its id is the sensor's name, if that is a text.

        Raises
        ------
        UnknownNameError
            No sensor has this name.
        FitError
            The sensor could not be fitted; the message says why.
        """
        place = self._places.get(sensor)
        if place is None:
            raise UnknownNameError(f"no sensor of this batch is called {sensor!r}")
        if place in self.errors:
            raise FitError(f"sensor {sensor!r} has no curve: {self.errors[place]}")
        settings = {name: float(values[place]) for name, values in self.settings.items()}
        form = type(self.equation).from_name(self.equation.name, settings)
        known = bool(np.isfinite(self.triangle[:, place]).all())
        return Curve(
            form or self.equation,
            self.coefficients[place],
            float(self.t_min_c[place]),
            float(self.t_max_c[place]),
            covariance=square(self.triangle[:, [place]])[0] if known else None,
            dof=float(self.curve_dof[place]),
            range_basis="stated" if self.stated_range[place] else "data",
            id=sensor if isinstance(sensor, str) else "",
        )

    def to_frame(self, sensor: str = "sensor") -> pd.DataFrame:
        """Give a pandas frame with a row for each sensor.

        Parameters
        ----------
        sensor : str
            Name of the column of the sensors.

        Returns
        -------
        pandas.DataFrame
            The sensor; ``n``, its number of points; ``equation`` and its settings; the
            coefficients by name, their standard uncertainties as ``u_…``, and the lower triangle
            of their covariance as ``cov_00``, ``cov_10`` …, as in curve sets; ``rms_k``,
            ``max_abs_k``, ``chi2``, ``dof``, ``p_value``, ``t_min_c``, ``t_max_c``; with a prior,
            ``b_25_85_k``, ``conflict``, ``widened`` and ``note``; and ``error``, the
            reason where there is no curve, else "".
        """
        import pandas as pd

        names = [entry.name for entry in self.equation.coefficients]
        columns: dict[str, Any] = {sensor: self.sensors, "n": self.points}
        columns["equation"] = self.equation.name
        columns |= self.settings
        columns |= dict(zip(names, self.coefficients.T, strict=True))
        u = self.standard_uncertainties.T
        columns |= {f"u_{name}": row for name, row in zip(names, u, strict=True)}
        columns |= {
            f"cov_{i}{j}": row
            for (i, j), row in zip(places(len(names)), self.triangle, strict=True)
        }
        for name in ("rms_k", "max_abs_k", "chi2", "dof", "p_value", "t_min_c", "t_max_c"):
            columns[name] = getattr(self, name)
        if self.widened is not None:
            columns["b_25_85_k"] = self.b_25_85_k
            columns["conflict"] = self.conflict
            columns["widened"] = self.widened
            columns["note"] = self._texts(self.notes or {})
        columns["error"] = self._texts(self.errors)
        return pd.DataFrame(columns)

    @property
    def b_25_85_k(self) -> Array:
        """B between 25 and 85 °C in kelvin, shape (n,), of an equation that gives ln R.

        NaN where the valid range does not hold both, and where the equation gives 1/T.
        """
        if self.equation.explicit == "temperature":
            return np.full(len(self), np.nan)
        inv_t = 1.0 / (np.array([25.0, 85.0]) + ZERO_C_K)
        c = self.coefficients.T
        cold, hot = (self.equation.value(place, c) for place in inv_t)
        b = (cold - hot) / (inv_t[0] - inv_t[1])
        return np.where((self.t_min_c <= 25.0) & (self.t_max_c >= 85.0), b, np.nan)

    @cached_property
    def _places(self) -> dict[Any, int]:
        return {name: place for place, name in enumerate(self.sensors.tolist())}

    def _texts(self, told: Mapping[int, str]) -> list[str]:
        return [told.get(place, "") for place in range(len(self))]

    def __repr__(self) -> str:
        failed = f", {len(self.errors)} without a curve" if self.errors else ""
        return f"<ManyFits of {self.equation.name} to {len(self)} sensors{failed}>"
