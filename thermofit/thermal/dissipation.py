"""The dissipation factor of a sensor, from readings at two or more powers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_args

import numpy as np
import numpy.typing as npt

from thermofit.arrays import as_float_array
from thermofit.budget import Budget
from thermofit.curve import Curve
from thermofit.errors import FitError, InputError
from thermofit.family import Family, nominal_curve
from thermofit.instruments import Medium, self_heating
from thermofit.interval import Interval, coverage_factor, format_pair
from thermofit.units import format_ohm
from thermofit.validation import checked_uncertainty

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["DissipationFactor", "dissipation_factor"]

Array = npt.NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class DissipationFactor:
    """Power per kelvin that a sensor gives off in one medium.

    Made by `dissipation_factor`.

    Parameters
    ----------
    power_w, t_c : array, shape (n,)
        What it was found from.
    rise_k_per_w : float
        Slope of temperature against power, 1/δ.
    zero_power_c : float
        Temperature extrapolated to no power, in °C.
    covariance : array, shape (2, 2)
        Of `zero_power_c` and `rise_k_per_w`.
    dof : float
        Degrees of freedom behind it.
    medium : str
        What the sensor was in; the factor holds there only.
    zero_power_ohm : float or None
        Zero-power resistance, where a curve was given.
    u_zero_power_ohm : float or None
        Its standard uncertainty.
    notes : tuple of str
        What was taken for granted.
    """

    power_w: Array
    t_c: Array
    rise_k_per_w: float
    zero_power_c: float
    covariance: Array
    dof: float
    medium: Medium
    zero_power_ohm: float | None = None
    u_zero_power_ohm: float | None = None
    notes: tuple[str, ...] = ()

    @property
    def w_per_k(self) -> float:
        """Dissipation factor δ in W/K."""
        return 1.0 / self.rise_k_per_w

    @property
    def mw_per_k(self) -> float:
        """Dissipation factor δ in mW/K, as data sheets state it."""
        return 1e3 * self.w_per_k

    @property
    def u_w_per_k(self) -> float:
        """Standard uncertainty of δ in W/K, to first order."""
        return float(np.sqrt(self.covariance[1, 1])) / self.rise_k_per_w**2

    @property
    def u_zero_power_k(self) -> float:
        """Standard uncertainty of `zero_power_c` in K."""
        return float(np.sqrt(self.covariance[0, 0]))

    @property
    def residuals_k(self) -> Array:
        """Measured less fitted temperature in K, shape (n,)."""
        return self.t_c - self.zero_power_c - self.rise_k_per_w * self.power_w

    def interval(self, coverage: float = 0.95) -> Interval:
        """Give δ with its coverage interval, in W/K.

        The ends are those of the slope 1/δ, so they lie unequally far from the value;
        the upper one is infinite where the slope may be zero.
        """
        half = coverage_factor(coverage, self.dof) * float(np.sqrt(self.covariance[1, 1]))
        least, most = self.rise_k_per_w - half, self.rise_k_per_w + half
        high = 1.0 / least if least > 0.0 else np.inf
        return Interval(
            self.w_per_k, self.u_w_per_k, 1.0 / most, high, coverage, self.dof, "W/K",
            f"dissipation factor in {self.medium}",
        )  # fmt: skip

    def zero_power(self, coverage: float = 0.95) -> Interval:
        """Give the zero-power temperature with its coverage interval, in °C."""
        half = coverage_factor(coverage, self.dof) * self.u_zero_power_k
        return Interval(
            self.zero_power_c, self.u_zero_power_k, self.zero_power_c - half,
            self.zero_power_c + half, coverage, self.dof, "°C", "extrapolated to no power",
        )  # fmt: skip

    def heating(self, power_w: float, *, power_limit_pct: float = 0.0) -> Budget:
        """Temperature rise at a power, with its budget.

        Parameters
        ----------
        power_w : float
            Power in the sensor in watts.
        power_limit_pct : float
            Limits ± of the power in percent.

        Returns
        -------
        Budget
            Rise in kelvin (`thermofit.instruments.self_heating`); subtract it from a reading.

        Raises
        ------
        InputError
            The factor is known to no better than ± 100 %.
        """
        # Rectangular limits of √3·u have the standard uncertainty u.
        limit_pct = 100.0 * 3.0**0.5 * self.u_w_per_k / self.w_per_k
        return self_heating(
            power_w,
            dissipation_w_per_k=self.w_per_k,
            medium=self.medium,
            dissipation_limit_pct=limit_pct,
            power_limit_pct=power_limit_pct,
        )

    def to_frame(self) -> pd.DataFrame:
        """Give the readings with their residuals as a pandas frame, a row for each."""
        import pandas as pd

        return pd.DataFrame(
            {"power_w": self.power_w, "t_c": self.t_c, "residual_k": self.residuals_k}
        )

    def __str__(self) -> str:
        factor = self.interval()
        value, u, low, high = format_pair(
            1e3 * factor.value, 1e3 * factor.standard_uncertainty, 1e3 * factor.low,
            1e3 * factor.high,
        )  # fmt: skip
        zero, u_zero = format_pair(self.zero_power_c, self.u_zero_power_k)
        lines = [
            f"dissipation factor in {self.medium} {value} mW/K, standard uncertainty {u}",
            f"95 % between {low} and {high} mW/K",
            f"at no power {zero} °C, standard uncertainty {u_zero} K",
        ]
        if self.zero_power_ohm is not None and self.u_zero_power_ohm is not None:
            lines.append(
                f"zero-power resistance {format_ohm(self.zero_power_ohm)}, standard uncertainty "
                f"{format_ohm(self.u_zero_power_ohm, 2)}"
            )
        return "\n".join([*lines, *(f"({note})" for note in self.notes)])


def dissipation_factor(
    power_w: npt.ArrayLike,
    t_c: npt.ArrayLike | None = None,
    *,
    medium: Medium,
    r_ohm: npt.ArrayLike | None = None,
    curve: Curve | Family | None = None,
    u_t_k: npt.ArrayLike | None = None,
    u_r_ohm: npt.ArrayLike | None = None,
    u_power_w: npt.ArrayLike | None = None,
) -> DissipationFactor:
    """Find the dissipation factor from what the sensor reads at two or more powers.

    Parameters
    ----------
    power_w : array_like, shape (n,)
        Power in the sensor in watts: I²R, or U·I; at least two that differ.
    t_c : array_like, shape (n,), optional
        What the sensor then reads, in °C, in surroundings that stay as they are.
    medium : {"still air", "moving air", "stirred water"}
        What the sensor is in.
    r_ohm : array_like, shape (n,), optional
        Resistances in ohms, in place of temperatures; needs `curve`.
    curve : Curve or Family, optional
        Takes resistances to temperatures.
    u_t_k, u_r_ohm : float or array_like, shape (n,), optional
        Standard uncertainty of each reading by itself: noise and resolution.  What all
        readings share, such as the calibration, shifts the zero-power temperature and leaves
        the factor as it is; it is not to be included.  Without it the scatter about the
        line tells, for which three readings are needed.
    u_power_w : float or array_like, shape (n,), optional
        Standard uncertainty of each power by itself.

    Returns
    -------
    DissipationFactor

    Raises
    ------
    InputError
        Powers that are negative or all alike, NaN, resistances without a curve …
    FitError
        The sensor does not get warmer with more power, or nothing tells the uncertainty.

    Notes
    -----
    Steady state, t = t₀ + P/δ (IEC 60539-1, dissipation factor, from memory); straight line by
    weighted least squares, errors in the power carried over by its slope.  δ is that
    near the temperature of the readings and in the medium; moving air takes away more.

    Examples
    --------
    Invented readings of a glasshouse sensor, the fan stopped:

    >>> found = dissipation_factor(
    ...     [0.1e-3, 2.0e-3], [21.06, 22.11], u_t_k=0.02, medium="still air"
    ... )
    >>> print(found)
    dissipation factor in still air 1.810 mW/K, standard uncertainty 0.049
    95 % between 1.719 and 1.910 mW/K
    at no power 21.005 °C, standard uncertainty 0.021 K
    """
    if medium not in get_args(Medium):
        raise InputError(f"the medium is {medium!r}; known are {', '.join(get_args(Medium))}")
    power = _powers(power_w)
    u_power = _each(u_power_w, "u_power_w", power)
    t, u_t, named = _temperatures(power, t_c, r_ohm, curve, u_t_k, u_r_ohm)
    if u_t is None and (u_power > 0.0).any():
        raise InputError(
            "u_power_w without u_t_k or u_r_ohm: the scatter about the line has both in it "
            "already; state both, or neither"
        )
    weights = np.ones_like(t)
    line, covariance = _line(power, t, weights)
    dof = np.inf
    if u_t is None:
        dof = float(len(t) - 2)
        if dof == 0.0:
            raise FitError(
                "two readings fit any line: state their standard uncertainty (u_t_k or u_r_ohm), "
                "or measure at a third power"
            )
        residuals = t - line[0] - line[1] * power
        covariance = covariance * float(residuals @ residuals) / dof
    else:
        # The slope weighs the error of the power; two rounds settle it.
        for _ in range(3):
            u = np.hypot(u_t, line[1] * u_power)
            if not (u > 0.0).all():
                raise InputError("a reading without any uncertainty; state u_t_k above zero")
            line, covariance = _line(power, t, 1.0 / u)
    if not line[1] > 0.0:
        raise FitError(
            f"the sensor does not read warmer with more power ({1e-3 * line[1]:.3g} K per mW): "
            "did the surroundings change, or was it not left to settle?"
        )
    ohms = u_ohms = None
    if named is not None:
        ohms = float(named.resistance(float(line[0])))
        u_ohms = abs(float(named.alpha(float(line[0])))) * ohms * float(np.sqrt(covariance[0, 0]))
    return DissipationFactor(
        power, t, float(line[1]), float(line[0]), covariance, dof, medium, ohms, u_ohms,
        () if named is None else ("the curve is taken as exact",),
    )  # fmt: skip


def _powers(power_w: Any) -> Array:
    power = np.array(as_float_array(power_w, "power_w"))
    if power.ndim != 1 or len(power) < 2:
        raise InputError("power_w must have two readings or more, shape (n,)")
    if not (np.isfinite(power) & (power >= 0.0)).all():
        raise InputError(f"power_w must be finite and not negative, not {power.tolist()}")
    if np.ptp(power) <= 1e-9 * power.max():
        raise InputError(
            f"all readings are at {power[0]:g} W; the dissipation factor needs two powers"
        )
    return power


def _each(u: Any, name: str, like: Array) -> Array:
    each = checked_uncertainty(0.0 if u is None else u, name, like.shape)
    if not np.isfinite(each).all():
        raise InputError(f"{name} must be finite; leave out a reading of which nothing is known")
    return each


def _temperatures(
    power: Array, t_c: Any, r_ohm: Any, curve: Curve | Family | None, u_t_k: Any, u_r_ohm: Any
) -> tuple[Array, Array | None, Curve | None]:
    if (t_c is None) == (r_ohm is None):
        raise InputError("give temperatures (t_c), or resistances (r_ohm) with a curve")
    named = None if curve is None else nominal_curve(curve, "curve")
    if r_ohm is not None:
        if named is None:
            raise InputError(
                "resistances say how warm a sensor is by its curve only: give it (curve=)"
            )
        if u_t_k is not None:
            raise InputError("the readings are resistances; state u_r_ohm, not u_t_k")
        r = np.array(as_float_array(r_ohm, "r_ohm"))
        t = as_float_array(named.temperature(r), "t_c")
    else:
        if u_r_ohm is not None:
            raise InputError("the readings are temperatures; state u_t_k, not u_r_ohm")
        t = np.array(as_float_array(t_c, "t_c"))
    if t.shape != power.shape or not np.isfinite(t).all():
        raise InputError(f"there are {len(power)} powers; give one finite reading for each")
    if r_ohm is None or named is None:
        return t, None if u_t_k is None else _each(u_t_k, "u_t_k", t), named
    if u_r_ohm is None:
        return t, None, named
    per_kelvin = np.abs(as_float_array(named.alpha(t), "alpha")) * r
    return t, _each(u_r_ohm, "u_r_ohm", t) / per_kelvin, named


def _line(power: Array, t: Array, weights: Array) -> tuple[Array, Array]:
    """Straight line by weighted least squares: (t0, slope) and its covariance."""
    scale = power.max()
    design = weights[:, None] * np.column_stack([np.ones_like(power), power / scale])
    q, r = np.linalg.qr(design)
    back = np.array([1.0, 1.0 / scale])
    inverse = np.linalg.inv(r)
    line: Array = inverse @ (q.T @ (weights * t)) * back
    return line, inverse @ inverse.T * np.outer(back, back)
