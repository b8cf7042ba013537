"""Measured points in the plane of 1/T and ln R, with what is known of their errors."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Literal

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.equations.branch import find_branch
from thermofit.errors import NotMonotoneError
from thermofit.units import ZERO_C_K

if TYPE_CHECKING:
    from thermofit.points import Points

__all__ = ["Minimise", "Plane", "plane_of"]

Minimise = Literal["temperature", "resistance"]


@dataclass(frozen=True)
class Plane:
    """Points, sorted by temperature, as the estimators use them.

    Parameters
    ----------
    t_k, r_ohm : array, shape (n,)
        Temperatures in kelvin and resistances in ohms.
    u_t_k, u_r_ohm : array, shape (n,)
        Standard uncertainties.  Where none were stated, 1 on the axis whose
        error is minimised and 0 on the other: the scale is then found from the
        scatter.
    stated : bool
        Whether the uncertainties were stated.
    minimise : {"temperature", "resistance"}
        Which error the fit makes small.
    order : array of int, shape (n,)
        Places of the sorted points among those of the caller.
    """

    t_k: Array
    r_ohm: Array
    u_t_k: Array
    u_r_ohm: Array
    stated: bool
    minimise: Minimise
    order: np.typing.NDArray[np.intp]

    @cached_property
    def inv_t(self) -> Array:
        """1/T in 1/K."""
        return 1.0 / self.t_k

    @cached_property
    def ln_r(self) -> Array:
        """ln R, R in ohms."""
        return np.log(self.r_ohm)

    def axes(self, equation: Equation) -> tuple[Array, Array, Array, Array]:
        """Argument and value of the explicit direction, and their standard uncertainties."""
        u_inv_t, u_ln_r = self.u_t_k * self.inv_t**2, self.u_r_ohm / self.r_ohm
        if equation.explicit == "temperature":
            return self.ln_r, self.inv_t, u_ln_r, u_inv_t
        return self.inv_t, self.ln_r, u_inv_t, u_ln_r

    def sigma(self, equation: Equation, slope: Array) -> Array:
        """Effective standard uncertainty of the explicit value.

        The error of the argument is carried over to the value by the slope of
        the curve ("effective variance": J. Orear, Am. J. Phys. 50 (1982) 912–916).
        """
        _, _, u_x, u_y = self.axes(equation)
        return np.hypot(u_y, slope * u_x)

    def predict(self, equation: Equation, c: Array) -> tuple[Array, Array]:
        """What is minimised, at the points: predicted values and their derivatives.

        Parameters
        ----------
        equation : Equation
        c : array, shape (k,)
            Coefficients.

        Returns
        -------
        predicted : array, shape (n,)
            Temperatures in kelvin at the measured resistances, or resistances in
            ohms at the measured temperatures.
        derivative : array, shape (n, k)
            With respect to each coefficient on its fitted scale.
        """
        direct = equation.explicit == self.minimise
        given = self.ln_r if self.minimise == "temperature" else self.inv_t
        if direct:
            wanted = equation.value(given, c)
            derivative = equation.gradient(given, c)
        else:
            wanted = self._solve(equation, c, given)
            derivative = -equation.gradient(wanted, c) / equation.slope(wanted, c)
        if self.minimise == "temperature":
            return 1.0 / wanted, (-derivative / wanted**2).T
        r_ohm = np.exp(wanted)
        return r_ohm, (r_ohm * derivative).T

    @property
    def observed(self) -> Array:
        """What `predict` predicts, as measured."""
        return self.t_k if self.minimise == "temperature" else self.r_ohm

    def effective(self, equation: Equation, c: Array) -> Array:
        """Effective standard uncertainty of what is minimised, in kelvin or ohms."""
        x, _, _, _ = self.axes(equation)
        slope = equation.slope(x, c)
        sigma = self.sigma(equation, slope)
        if equation.explicit == self.minimise:
            per_value = self.t_k**2 if self.minimise == "temperature" else self.r_ohm
            return sigma * per_value
        other = self.t_k**2 if self.minimise == "temperature" else self.r_ohm
        return sigma * other / np.abs(slope)

    def _solve(self, equation: Equation, c: Array, given: Array) -> Array:
        """Evaluate the direction that is not explicit; NaN where there is no value."""
        closed = equation.inverse(given, c)
        if closed is not None:
            return closed
        low, high = float(self.t_k[0]) - ZERO_C_K, float(self.t_k[-1]) - ZERO_C_K
        try:
            branch = find_branch(equation, c, low, high)
        except NotMonotoneError:
            return np.full(given.shape, np.nan)
        return branch.solve(equation, c, given)


def plane_of(points: Points, minimise: Minimise) -> Plane:
    """Put points into the plane, sorted so that their order cannot matter."""
    order = np.lexsort((points.r_ohm, points.t_c))
    stated = points.u_t_k is not None or points.u_r_ohm is not None
    zeros, ones = np.zeros(len(order)), np.ones(len(order))
    if stated:
        u_t = zeros if points.u_t_k is None else points.u_t_k
        u_r = zeros if points.u_r_ohm is None else points.u_r_ohm
    else:
        u_t, u_r = (ones, zeros) if minimise == "temperature" else (zeros, ones)
    return Plane(
        t_k=points.t_c[order] + ZERO_C_K,
        r_ohm=points.r_ohm[order],
        u_t_k=u_t[order],
        u_r_ohm=u_r[order],
        stated=stated,
        minimise=minimise,
        order=order,
    )
