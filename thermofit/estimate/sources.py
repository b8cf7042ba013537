"""Where the errors of readings come from, each source with what it does to every reading."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from thermofit.budget import Budget
from thermofit.equations.base import Array
from thermofit.errors import InputError
from thermofit.points import Points

__all__ = ["ErrorSources", "sources_of_budgets", "sources_of_points"]


@dataclass(frozen=True, eq=False)
class ErrorSources:
    """Independent sources of error, with their effect on each of n readings.

    Parameters
    ----------
    names : tuple of str, length m
    t_k : array, shape (n, m)
        What one standard uncertainty of a source does to each temperature, in kelvin.
    ln_r : array, shape (n, m)
        … and to the logarithm of each resistance.
    dof : array, shape (m,)
        Degrees of freedom of each source.
    """

    names: tuple[str, ...]
    t_k: Array
    ln_r: Array
    dof: Array

    def in_plane(self, slope_per_k: Array) -> Array:
        """Effect of each source on ln R at the temperature that was read, shape (n, m).

        Parameters
        ----------
        slope_per_k : array, shape (n,)
            −d ln R/dT of the curve at the readings, in 1/K: where the thermometer reads
            too high, the resistance seems too high for its temperature.
        """
        result: Array = self.ln_r + slope_per_k[:, np.newaxis] * self.t_k
        return result

    def take(self, order: np.typing.NDArray[np.intp]) -> ErrorSources:
        """Give the same with the readings in another order."""
        return ErrorSources(self.names, self.t_k[order], self.ln_r[order], self.dof)


def sources_of_points(
    points: Points, shared_u_t_k: float = 0.0, shared_u_r_pct: float = 0.0
) -> ErrorSources:
    """Errors of points: each axis of each point by itself, and what all of them share.

    Parameters
    ----------
    points : Points
        With uncertainties on both axes or on one.
    shared_u_t_k : float
        Part of every temperature's standard uncertainty, in kelvin, that is the same error
        for all (one thermometer).
    shared_u_r_pct : float
        Part of every resistance's standard uncertainty, in percent of it, that is the same
        error for all (the gain of one range of one meter).

    Raises
    ------
    InputError
        A shared part that is larger than the uncertainty of a point.
    """
    n = len(points)
    u_t = np.zeros(n) if points.u_t_k is None else points.u_t_k
    u_ln_r = np.zeros(n) if points.u_r_ohm is None else points.u_r_ohm / points.r_ohm
    own_t = _without(u_t, shared_u_t_k, "shared_u_t_k", "K")
    own_r = _without(100.0 * u_ln_r, shared_u_r_pct, "shared_u_r_pct", "%") / 100.0
    at = [f"{round(t, 3):g} °C" for t in points.t_c]
    names = [f"temperature at {place}" for place in at] + [f"resistance at {place}" for place in at]
    nothing = np.zeros((n, n))
    t_k = [np.diag(own_t), nothing]
    ln_r = [nothing, np.diag(own_r)]
    if shared_u_t_k:
        names.append("temperature, shared")
        t_k.append(np.full((n, 1), shared_u_t_k))
        ln_r.append(np.zeros((n, 1)))
    if shared_u_r_pct:
        names.append("resistance, shared")
        t_k.append(np.zeros((n, 1)))
        ln_r.append(np.full((n, 1), shared_u_r_pct / 100.0))
    effects_t, effects_r = np.hstack(t_k), np.hstack(ln_r)
    return ErrorSources(tuple(names), effects_t, effects_r, np.full(len(names), np.inf))


def sources_of_budgets(
    temperatures: Sequence[Budget], resistances: Sequence[Budget]
) -> ErrorSources:
    """Errors of readings that have budgets: contributions of one label are one source.

    Parameters
    ----------
    temperatures : sequence of Budget, length n
        In °C.
    resistances : sequence of Budget, length n
        In ohms.

    Raises
    ------
    InputError
        A budget that states correlations between contributions without a common label: which
        reading shares them cannot be told.
    """
    n = len(temperatures)
    effects: dict[str, tuple[Array, Array]] = {}
    dof: dict[str, float] = {}
    for axis, budgets in enumerate((temperatures, resistances)):
        for place, budget in enumerate(budgets):
            if budget.correlations:
                raise InputError(
                    f"the budget of {budget.value:g} {budget.unit} states correlations; give the "
                    "contributions that belong together one label (shared=…) instead"
                )
            scale = 1.0 if axis == 0 else 1.0 / budget.value
            for item in budget.contributions:
                own = f"{item.name}, at {round(temperatures[place].value, 3):g} °C"
                name = item.shared or _unused(own, effects, axis, place)
                pair = effects.setdefault(name, (np.zeros(n), np.zeros(n)))
                pair[axis][place] += item.effect * scale
                dof[name] = min(dof.get(name, np.inf), item.dof)
    columns = list(effects.values())
    return ErrorSources(
        tuple(effects),
        np.stack([pair[0] for pair in columns], axis=1) if columns else np.zeros((n, 0)),
        np.stack([pair[1] for pair in columns], axis=1) if columns else np.zeros((n, 0)),
        np.array(list(dof.values())),
    )


def _unused(name: str, taken: dict[str, tuple[Array, Array]], axis: int, place: int) -> str:
    """A name of its own for a contribution that only this reading has."""
    return name if name not in taken else f"{name} ({'TR'[axis]}{place + 1})"


def _without(total: Array, shared: float, name: str, unit: str) -> Array:
    """What is left of uncertainties when a shared part is taken out."""
    if not (np.isfinite(shared) and shared >= 0.0):
        raise InputError(f"{name} must not be negative, not {shared!r}")
    if (shared > total * (1.0 + 1e-12)).any():
        place = int(np.argmin(total))
        raise InputError(
            f"{name} is a part of the uncertainty of every point, and point {place + 1} has only "
            f"{total[place]:.3g} {unit}: state the whole uncertainty of each point, the shared "
            "part within it"
        )
    return np.sqrt(np.maximum(total**2 - shared**2, 0.0))
