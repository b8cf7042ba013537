"""What a step response shows of a sensor."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from thermofit.arrays import unwrap
from thermofit.budget import require_number
from thermofit.errors import InputError
from thermofit.interval import Interval, coverage_factor
from thermofit.thermal.choice import Tried, neighbour_correlation, swelling
from thermofit.thermal.estimates import Estimate, estimates, time_to
from thermofit.thermal.model import SHARE_63, Form
from thermofit.thermal.robust import RobustFit

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["StepResponse"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class StepResponse:
    """A step response fitted to a log, and how well it is known.

    Made by `fit_step`.  Times are those of the log, in seconds.

    Parameters
    ----------
    t_s, t_c : array, shape (n,)
        What was fitted.
    fit : RobustFit
        The parameters.
    tried : tuple of Tried
        Forms that were compared.
    step_s : float or None
        When the surroundings changed, where the caller knows.
    coverage : float
        Of the intervals that are shown.
    source : str
        Where the readings come from.
    notes : tuple of str
        What was taken for granted.
    warnings : tuple of str
        What a careful metrologist would question.
    """

    t_s: Array
    t_c: Array
    fit: RobustFit
    tried: tuple[Tried, ...]
    step_s: float | None = None
    coverage: float = 0.95
    source: str = ""
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()

    # -- the numbers --------------------------------------------------------------

    @property
    def form(self) -> Form:
        """Which form the readings carry."""
        return self.fit.shape.form

    @property
    def start_seen(self) -> bool:
        """Whether the log shows the temperature before the step."""
        return self.fit.shape.onset_free

    @property
    def tau_s(self) -> float:
        """Thermal time constant: time from the onset until 63.2 % of the step is done, in s.

        With one time constant it is that one.  Where the start was not seen it counts from
        the first reading, which for one time constant comes to the same.
        """
        return float(np.exp(self._estimates["tau_s"].value))

    @property
    def u_tau_s(self) -> float:
        """Standard uncertainty of `tau_s`, in s."""
        return float(self.interval("tau_s").standard_uncertainty)

    @property
    def time_constants_s(self) -> tuple[float, ...]:
        """One time constant, or two, the slower first, in s."""
        return tuple(np.exp(self.fit.shape.constants(self.fit.parameters)[0]).tolist())

    @property
    def start_c(self) -> float:
        """Temperature before the step; of the first reading where the start was not seen."""
        return self.fit.start

    @property
    def step_k(self) -> float:
        """Final less start temperature, in K."""
        return self.fit.step

    @property
    def final_c(self) -> float:
        """Temperature that the sensor settles at, or would settle at."""
        return self.fit.start + self.fit.step

    @property
    def onset_s(self) -> float:
        """When the temperature begins to move, in s; NaN where the start was not seen."""
        return self.fit.onset_s if self.start_seen else np.nan

    @property
    def dead_time_s(self) -> float:
        """Onset less the time at which the surroundings changed; NaN where one is unknown."""
        return np.nan if self.step_s is None else self.onset_s - self.step_s

    @property
    def done(self) -> float:
        """Share of the step that is done when the log ends."""
        since = np.maximum(self.t_s[-1:] - self.fit.onset_s, 0.0)
        return float(self.fit.shape.unit(self.fit.parameters, since)[0][0])

    @property
    def noise_k(self) -> float:
        """Standard deviation of the noise of one reading, in K."""
        return self.fit.scale

    @cached_property
    def neighbour_correlation(self) -> float:
        """Correlation of each residual with the one before it."""
        return neighbour_correlation(self.fit)

    @property
    def outliers(self) -> npt.NDArray[np.bool_]:
        """Readings that the fit left out as wild, shape (n,)."""
        wild: npt.NDArray[np.bool_] = self.fit.weights == 0.0
        return wild

    @property
    def residuals_k(self) -> Array:
        """Measured less fitted temperature, in K, shape (n,)."""
        return self.fit.residuals

    @property
    def dof(self) -> float:
        """Degrees of freedom; fewer than the readings where the noise is correlated."""
        size = self.fit.shape.size
        return max((self.fit.dof + size) / self._swelling - size, 1.0)

    @cached_property
    def _swelling(self) -> float:
        return swelling(self.fit)

    # -- their uncertainties --------------------------------------------------------

    @cached_property
    def _estimates(self) -> dict[str, Estimate]:
        return estimates(self.fit, self.step_s)

    def interval(self, name: str, coverage: float | None = None) -> Interval:
        """Give a quantity with its uncertainty.

        Parameters
        ----------
        name : str
            "tau_s", "tau_1_s", "tau_2_s", "start_c", "final_c", "step_k", "onset_s" or
            "dead_time_s", as far as the log shows them.
        coverage : float, optional
            Probability of the interval; that of the fit unless stated.

        Returns
        -------
        Interval
            Of Student's t; for times τ on a logarithmic scale, unequally far from the value.

        Raises
        ------
        InputError
            No such quantity here, or the coverage is no probability.
        """
        if name not in self._estimates:
            raise InputError(
                f"this step response has no {name!r}; it has {', '.join(self._estimates)}"
            )
        return self._interval(self._estimates[name], coverage)

    def intervals(self, coverage: float | None = None) -> dict[str, Interval]:
        """Give all quantities with their uncertainties, by name."""
        return {name: self.interval(name, coverage) for name in self._estimates}

    def response_time(self, share: float = SHARE_63, coverage: float | None = None) -> Interval:
        """Time from the onset until a share of the step is done, from the fitted curve.

        Parameters
        ----------
        share : float
            Above 0 and below 1: 0.9 for 90 %.
        coverage : float, optional
            Probability of the interval; that of the fit unless stated.

        Returns
        -------
        Interval
            In seconds.

        Raises
        ------
        InputError
            The share is not between 0 and 1.
        """
        require_number(share, "the share of the step", "", above=0.0)
        if share >= 1.0:
            raise InputError(f"the share of the step must be below 1, not {share:g}")
        return self._interval(time_to(self.fit, float(share)), coverage)

    def _interval(self, found: Estimate, coverage: float | None) -> Interval:
        coverage = self.coverage if coverage is None else coverage
        k = float(coverage_factor(coverage, self.dof))
        with np.errstate(invalid="ignore", over="ignore"):
            variance = float(found.gradient @ self.fit.covariance @ found.gradient)
            # An undetermined parameter has an infinite variance, and products of it are NaN.
            u = np.sqrt(variance * self._swelling) if np.isfinite(variance) else np.inf
            value, low, high = found.value, found.value - k * u, found.value + k * u
            if found.logarithmic:
                value, low, high = np.exp([value, low, high]).tolist()
                u *= value
        return Interval(
            float(value), float(u), float(low), float(high), coverage, self.dof, found.unit,
            found.note,
        )  # fmt: skip

    # -- as something else ----------------------------------------------------------

    def temperature(self, t_s: Any) -> Any:
        """Give the fitted temperature at times of the log.

        Parameters
        ----------
        t_s : float or array_like, any shape
            In seconds.

        Returns
        -------
        float or array
            In °C, of the kind of `t_s`.

        Raises
        ------
        InputError
            Something that is no number.
        """
        times, dress = unwrap(t_s, "t_s")
        fitted, _ = self.fit.shape.evaluate(self.fit.parameters, times.ravel(), self.fit.onset)
        return dress(fitted.reshape(times.shape))

    def to_frame(self) -> pd.DataFrame:
        """Give the readings with their residuals as a pandas frame, a row for each.

        Returns
        -------
        pandas.DataFrame
            ``t_s``, ``t_c``, ``fitted_c``, ``residual_k``, ``weight`` and ``outlier``.
        """
        import pandas as pd

        return pd.DataFrame(
            {
                "t_s": self.t_s,
                "t_c": self.t_c,
                "fitted_c": self.t_c - self.residuals_k,
                "residual_k": self.residuals_k,
                "weight": self.fit.weights,
                "outlier": self.outliers,
            }
        )

    def to_dict(self) -> dict[str, Any]:
        """Give the summary as plain values, for JSON.

        Returns
        -------
        dict
            Each quantity by name with ``value``, ``standard_uncertainty``, ``low`` and
            ``high``; what is not finite is None.
        """
        quantities = {
            name: {
                key: _plain(getattr(interval, key))
                for key in ("value", "standard_uncertainty", "low", "high")
            }
            for name, interval in self.intervals().items()
        }
        return {
            "form": self.form,
            "coverage": self.coverage,
            "dof": self.dof,
            **quantities,
            "start_seen": self.start_seen,
            "done": self.done,
            "noise_k": self.noise_k,
            "neighbour_correlation": self.neighbour_correlation,
            "readings": len(self.t_s),
            "outliers": int(self.outliers.sum()),
            "source": self.source,
            "notes": list(self.notes),
            "warnings": list(self.warnings),
        }

    def __str__(self) -> str:
        from thermofit.thermal.steptext import report

        return report(self)

    def __repr__(self) -> str:
        return (
            f"<StepResponse, {self.form}, τ {self.tau_s:.4g} s, {len(self.t_s)} readings, "
            f"noise {self.noise_k:.2g} K>"
        )


def _plain(number: float) -> float | None:
    return float(number) if np.isfinite(number) else None
