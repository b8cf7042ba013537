"""The outcome of a fit."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from thermofit.arrays import as_float_array
from thermofit.coefficients import Coefficients
from thermofit.curve import Curve
from thermofit.equations.base import Array, Equation
from thermofit.errors import FitError, InputError
from thermofit.estimate.chi2 import upper_tail
from thermofit.estimate.choice import Candidate
from thermofit.estimate.plane import Minimise
from thermofit.estimate.prioruse import Contributions, PriorUse
from thermofit.interval import Interval, coverage_factor
from thermofit.notebook import ShownInNotebooks
from thermofit.points import Points
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Fit"]


@dataclass(frozen=True, eq=False)
class Fit(ShownInNotebooks):
    """A curve fitted to points, and how well it is known.

    Made by `thermofit.fit`.

    Parameters
    ----------
    points : Points
        What was fitted, in the caller's order.
    curve : Curve
        The fitted curve, with its covariance; valid over the range of the points, and with
        a prior over that of the prior as well.
    minimise : {"temperature", "resistance"}
        Which error was made small.
    method : str
        How, in words.
    sigma : array, shape (n,), or None
        Standard uncertainty of each residual, in kelvin or (``minimise=
        "resistance"``) ohms; None where no uncertainties were given.
    loo_k : array, shape (n,), or None
        What each reading would have been off by, in kelvin, had it not been
        fitted; None for an exact fit and for one with a prior.
    warnings : tuple of str
        What a careful metrologist would question.
    candidates : tuple of Candidate
        With ``equation="auto"``, what was compared and how it did.
    reason : str
        With ``equation="auto"``, why this one was taken.
    prior : PriorUse or None
        What a prior contributed, where there was one.
    """

    points: Points
    curve: Curve
    minimise: Minimise
    method: str
    sigma: Array | None
    loo_k: Array | None
    warnings: tuple[str, ...] = ()
    candidates: tuple[Candidate, ...] = ()
    reason: str = ""
    prior: PriorUse | None = None

    @property
    def equation(self) -> Equation:
        """The form of the curve."""
        return self.curve.equation

    @property
    def coefficients(self) -> Coefficients:
        """Coefficients by name, shape (k,)."""
        return self.curve.coefficients

    @property
    def covariance(self) -> Array | None:
        """Covariance of the coefficients, shape (k, k); None where nothing is known of it."""
        return self.curve.covariance

    @property
    def standard_uncertainties(self) -> Coefficients | None:
        """Standard uncertainties of the coefficients; None where nothing is known of them."""
        return self.curve.standard_uncertainties

    @cached_property
    def correlation(self) -> Array | None:
        """Correlation matrix of the coefficients, shape (k, k)."""
        if self.covariance is None:
            return None
        u = np.sqrt(np.diag(self.covariance))
        with np.errstate(invalid="ignore"):
            matrix: Array = self.covariance / np.outer(u, u)
        return _frozen(matrix)

    @cached_property
    def residuals_k(self) -> Array:
        """Measured minus fitted temperature at each resistance, in kelvin, shape (n,)."""
        with np.errstate(all="ignore"):
            fitted = 1.0 / self.curve._quiet_inv_t(np.log(self.points.r_ohm)) - ZERO_C_K
        return _frozen(self.points.t_c - fitted)

    @cached_property
    def residuals_ohm(self) -> Array:
        """Measured minus fitted resistance at each temperature, in ohms, shape (n,)."""
        return _frozen(self.points.r_ohm - self._fitted_ohm)

    @cached_property
    def residuals_pct(self) -> Array:
        """`residuals_ohm` in percent of the fitted resistance, shape (n,)."""
        return _frozen(100.0 * self.residuals_ohm / self._fitted_ohm)

    @property
    def dof(self) -> int:
        """Points less coefficients; with a prior, which stands for all but one, points less one."""
        return len(self.points) - (1 if self.prior else len(self.coefficients))

    @property
    def rss(self) -> float:
        """Sum of squares of the residuals that were minimised, in K² or Ω²."""
        return float(np.sum(self._minimised**2))

    @property
    def chi2(self) -> float | None:
        """Sum of squares of the residuals over their uncertainties; None without those.

        With a prior, the distance of the points from what it led to expect counts.
        """
        if self.sigma is None:
            return None
        if self.prior is not None:
            return self.prior.chi2
        return float(np.sum((self._minimised / self.sigma) ** 2))

    @property
    def p_value(self) -> float | None:
        """Probability of a larger `chi2` if the uncertainties and the equation are right."""
        if self.chi2 is None:
            return None
        return upper_tail(self.chi2, self.dof)

    @property
    def rms_k(self) -> float:
        """Root mean square of `residuals_k`."""
        return float(np.sqrt(np.mean(self.residuals_k**2)))

    @property
    def max_abs_k(self) -> float:
        """Largest of `residuals_k` without its sign."""
        return float(np.abs(self.residuals_k).max())

    def temperature(
        self, r_ohm: Any, u_r_ohm: Any = None, *, coverage: float = 0.95, strict: bool = False
    ) -> Interval:
        """Temperature at a resistance, with its uncertainty.

        Parameters
        ----------
        r_ohm : float or array_like, any shape
            Resistance in ohms.
        u_r_ohm : float or array_like, optional
            Standard uncertainty of the reading in ohms.  Without it the result
            speaks of the curve only, and says so.
        coverage : float
            Probability of the interval.  Student's t is used where the scatter
            was estimated from the residuals.
        strict : bool
            Raise, rather than warn, outside the range of the points.

        Returns
        -------
        Interval
            ``value``, ``low`` and ``high`` in °C, ``standard_uncertainty`` in kelvin.

        Examples
        --------
        >>> import thermofit as tf
        >>> p = tf.Points([0, 25, 70], [32600, 10010, 1756], u_t_k=0.1, u_r_ohm=[160, 50, 9])
        >>> print(tf.fit(p, equation="steinhart-hart").temperature(10010))
        25.00 °C, standard uncertainty 0.15, 95 % between 24.70 and 25.30
        (of the curve only, not of a new reading, whose uncertainty was not given)
        """
        return self.curve.temperature_interval(r_ohm, u_r_ohm, coverage=coverage, strict=strict)

    def resistance(
        self, t_c: Any, u_t_k: Any = None, *, coverage: float = 0.95, strict: bool = False
    ) -> Interval:
        """Resistance at a temperature, with its uncertainty.

        Parameters
        ----------
        t_c : float or array_like, any shape
            Temperature in °C.
        u_t_k : float or array_like, optional
            Standard uncertainty of the temperature in kelvin.  Without it the
            result speaks of the curve only, and says so.
        coverage, strict
            As for `temperature`.

        Returns
        -------
        Interval
            In ohms.
        """
        return self.curve.resistance_interval(t_c, u_t_k, coverage=coverage, strict=strict)

    def contributions(self, t_c: Any) -> Contributions:
        """Tell what makes up the uncertainty of the curve.

        Parameters
        ----------
        t_c : float or array_like, shape (n,)
            Temperatures in °C.

        Returns
        -------
        Contributions
            In kelvin: of the prior, and of each source of error of the readings.

        Raises
        ------
        FitError
            The fit had no prior: its uncertainty comes from the points alone.
        InputError
            Temperatures that are none, or of more than one dimension.

        Warns
        -----
        ExtrapolationWarning
            Outside the valid range.
        """
        if self.prior is None:
            raise FitError("only a fit with a prior keeps what its uncertainty is made of")
        t = np.array(as_float_array(t_c, "t_c"), ndmin=1)
        if t.ndim > 1:
            raise InputError(f"t_c must have one dimension, not the shape {t.shape}")
        ln_r = self.curve._ln_r_at(t, strict=False)
        inv_t = 1.0 / (t + ZERO_C_K)
        kelvin = 1.0 / (self.curve._local_b(inv_t, ln_r) * inv_t**2)
        use = self.prior
        return Contributions.of(t, kelvin, use.by_prior, use.by_sources, use.names)

    def coefficient_intervals(self, coverage: float = 0.95) -> dict[str, Interval]:
        """Coverage interval of each coefficient.

        A coefficient that is fitted as its logarithm has its interval on that
        scale, transformed back: its ends are unequally far from the value.

        Parameters
        ----------
        coverage : float
            Probability of each interval by itself.

        Returns
        -------
        dict of str to Interval

        Raises
        ------
        FitError
            Nothing is known of the uncertainties.
        """
        uncertainties = self.standard_uncertainties
        if uncertainties is None:
            raise FitError(
                "without uncertainties of the points and without points to spare there are no "
                "intervals; give u_t_k or u_r_ohm, or more points"
            )
        k = coverage_factor(coverage, self.curve.dof)
        intervals = {}
        for entry in self.equation.coefficients:
            value, u = self.coefficients[entry.name], uncertainties[entry.name]
            low, high = value - k * u, value + k * u
            if entry.logarithmic:
                low, high = value * np.exp(-k * u / value), value * np.exp(k * u / value)
            intervals[entry.name] = Interval(
                value, u, float(low), float(high), coverage, self.curve.dof, entry.unit,
                "of this coefficient by itself",
            )  # fmt: skip
        return intervals

    def to_frame(self) -> pd.DataFrame:
        """Give the points with their residuals as a pandas frame, a row for each point.

        Returns
        -------
        pandas.DataFrame
            ``t_c``, ``r_ohm``, uncertainties where given, ``residual_k``,
            ``residual_pct`` and, where there is one, ``loo_k``.
        """
        frame = self.points.to_frame()
        frame["residual_k"] = self.residuals_k
        frame["residual_pct"] = self.residuals_pct
        if self.loo_k is not None:
            frame["loo_k"] = self.loo_k
        return frame

    def lmfit_model(self) -> Any:
        """Give the fit as lmfit's own kind of result, for lmfit's own tools.

        Returns
        -------
        lmfit.model.ModelResult
            Fitted from here, with ``conf_interval`` and the rest.  A coefficient
            that is fitted as its logarithm is called ``ln_…``.

        Raises
        ------
        FitError
            The fit is exact: lmfit has nothing to work with; or it had a prior, of which
            lmfit knows nothing.

        Examples
        --------
        >>> import thermofit as tf
        >>> p = tf.Points([0, 20, 40, 60, 80], [32700, 12500, 5320, 2490, 1255], u_t_k=0.1)
        >>> sorted(tf.fit(p, equation="beta").lmfit_model().best_values)
        ['b_k', 'ln_r25_ohm']
        """
        from thermofit.estimate.lmfit_bridge import model_result

        return model_result(self)

    def replace(self, **changes: Any) -> Fit:
        """Give a copy with some fields changed."""
        return dataclasses.replace(self, **changes)

    def __str__(self) -> str:
        from thermofit.estimate.text import report

        return report(self)

    def __repr__(self) -> str:
        n = len(self.points)
        return (
            f"<Fit of {self.equation.name} to {n} point{'s' if n > 1 else ''}, "
            f"rms {self.rms_k:.3g} K, largest {self.max_abs_k:.3g} K>"
        )

    @cached_property
    def _fitted_ohm(self) -> Array:
        fitted: Array = np.exp(self.curve._ln_r(1.0 / (self.points.t_c + ZERO_C_K)))
        return fitted

    @property
    def _minimised(self) -> Array:
        return self.residuals_k if self.minimise == "temperature" else self.residuals_ohm


def _frozen(array: Array) -> Array:
    """Make an array read-only: it is kept, and other figures are computed from it."""
    array.flags.writeable = False
    return array
