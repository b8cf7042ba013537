"""Results of a batch while they are collected, block by block and one by one."""

from __future__ import annotations

from collections.abc import Callable, Iterable

import numpy as np

from thermofit.equations.base import Array, Equation
from thermofit.errors import ThermofitError
from thermofit.estimate.conflict import CONFLICT_P
from thermofit.estimate.many.block import Block
from thermofit.estimate.many.covariance import places
from thermofit.estimate.many.outcome import Outcome
from thermofit.estimate.many.points import ManyPoints
from thermofit.estimate.many.result import ManyFits
from thermofit.estimate.result import Fit
from thermofit.points import Points
from thermofit.units import ZERO_C_K

__all__ = ["Collected"]


class Collected:
    """Arrays that blocks fill.

    Parameters
    ----------
    points : ManyPoints
    equation : Equation
    spent : int
        What the degrees of freedom lose of the points.
    t_range_c : (float, float), optional
        Range of a prior.
    """

    def __init__(
        self,
        points: ManyPoints,
        equation: Equation,
        spent: int,
        t_range_c: tuple[float, float] | None = None,
    ) -> None:
        n, k = len(points), len(equation.coefficients)
        self.points, self.equation = points, equation
        self.stated = points.u_t_k is not None or points.u_r_ohm is not None
        self.settings = {name: np.full(n, value) for name, value in equation.settings.items()}
        self.c = np.empty((k, n))
        self.triangle = np.empty((k * (k + 1) // 2, n))
        self.ends = np.empty((2, n))
        # Zeros that nobody writes to cost nothing: an exact fit has no residuals.
        self.rms_k, self.max_abs_k, self.chi2 = np.zeros(n), np.zeros(n), np.zeros(n)
        self.residuals_k = np.zeros(points.r_ohm.shape[::-1]).T
        self.counts = points.counts
        self.dof = np.maximum(self.counts - spent, 0)
        self.curve_dof = np.full(n, np.inf)
        if not self.stated:
            self.curve_dof[self.dof > 0] = self.dof[self.dof > 0]
            self.chi2[...] = np.nan
        self.t_range_c = t_range_c
        self.stated_range = np.full(n, t_range_c is not None)
        self.widened = None if t_range_c is None else np.ones(n)
        self.errors: dict[int, str] = {}
        self.notes: dict[int, str] = {}

    def put(self, block: Block, found: Outcome) -> Iterable[int]:
        """Take what was found for a block; give the places of sensors that are left."""
        where = block.where
        self.c[:, where] = found.coefficients
        self.triangle[:, where] = found.covariance
        low, high = self.ends[:, where] if isinstance(where, slice) else np.empty((2, block.size))
        np.subtract(block.t_k[0], ZERO_C_K, out=low)
        np.subtract(block.t_k[-1], ZERO_C_K, out=high)
        if self.t_range_c is not None:
            np.minimum(low, self.t_range_c[0], out=low)
            np.maximum(high, self.t_range_c[1], out=high)
        if not isinstance(where, slice):
            self.ends[:, where] = low, high
        if found.residuals_k is not None:
            self._put_residuals(block, found.residuals_k)
        if found.chi2 is not None:
            self.chi2[where] = found.chi2
        left = np.flatnonzero(~found.sound)
        if not left.size:
            return ()
        places = left + where.start if isinstance(where, slice) else where[left]
        return [int(place) for place in places]

    def _put_residuals(self, block: Block, residuals_k: Array) -> None:
        where = block.where
        mean = np.einsum("mb,mb->b", residuals_k, residuals_k) / block.count
        self.rms_k[where] = np.sqrt(mean)
        self.max_abs_k[where] = np.maximum(residuals_k.max(axis=0), -residuals_k.min(axis=0))
        if block.rows is not None:
            self.residuals_k[block.rows] = residuals_k
            return
        if block.order is not None:
            back = np.argsort(block.order, axis=0)
            residuals_k = np.take_along_axis(residuals_k, back, axis=0)
        self.residuals_k.T[:, where] = residuals_k

    def one_by_one(self, left: Iterable[int], alone: Callable[[Points], Fit]) -> None:
        """Fit sensors by themselves, and note why those fail that do.

        Parameters
        ----------
        left : iterable of int
            Their places.
        alone : callable
            Fits the points of one sensor.
        """
        for place in left:
            try:
                fit = alone(self.points.points(place))
            except ThermofitError as error:
                self._fail(place, str(error))
            else:
                self._take(place, fit)

    def _take(self, place: int, fit: Fit) -> None:
        curve, k = fit.curve, len(self.c)
        for name, value in fit.equation.settings.items():
            self.settings[name][place] = value
        self.c[:, place] = np.asarray(fit.coefficients)
        rows, columns = zip(*places(k), strict=True) if k else ((), ())
        self.triangle[:, place] = (
            np.nan if fit.covariance is None else fit.covariance[list(rows), list(columns)]
        )
        self.ends[:, place] = curve.t_min_c, curve.t_max_c
        self.rms_k[place], self.max_abs_k[place] = fit.rms_k, fit.max_abs_k
        self.chi2[place] = np.nan if fit.chi2 is None else fit.chi2
        self.dof[place], self.curve_dof[place] = fit.dof, curve.dof
        self.stated_range[place] = curve.range_basis == "stated"
        self.residuals_k[self.points.rows_of(place)] = fit.residuals_k
        if fit.prior is not None and self.widened is not None:
            self.widened[place] = fit.prior.widened
            if fit.prior.p_value is not None and fit.prior.p_value < CONFLICT_P:
                self.notes[place] = fit.warnings[0]

    def _fail(self, place: int, reason: str) -> None:
        self.errors[place] = reason
        for array in (self.c, self.triangle, self.ends):
            array[:, place] = np.nan
        for values in (self.rms_k, self.max_abs_k, self.chi2, self.curve_dof):
            values[place] = np.nan
        for values in self.settings.values():
            values[place] = np.nan
        if self.widened is not None:
            self.widened[place] = np.nan
        self.residuals_k[self.points.rows_of(place)] = np.nan

    def result(self) -> ManyFits:
        """Give the results, read-only."""
        arrays = [self.c, self.triangle, self.ends, self.rms_k, self.max_abs_k, self.chi2, self.dof]
        arrays += [self.curve_dof, self.residuals_k, self.stated_range, *self.settings.values()]
        if self.widened is not None:
            arrays.append(self.widened)
        for array in arrays:
            array.flags.writeable = False
        low, high = self.ends
        return ManyFits(
            self.points.sensors, self.equation, self.settings, self.c.T, self.triangle,
            self.counts, self.dof, self.curve_dof, self.residuals_k, self.rms_k, self.max_abs_k,
            self.chi2, low, high, self.stated_range, self.errors, self.widened, self.notes,
        )  # fmt: skip
