"""Readings as a linear function of the sensor's place, in each small cell of the wiring.

Within a cell, with x = ln R of the sensor,

    y_i = f_i + ∂f/∂x·(γ + β·a + κ·q + δ_j − d_j) + ∂f/∂c·c + ∂f/∂l·l + g + e_i,

δ_j the error of the temperature of group j (times α), κ the bend of a curve that is a B value
only, c, l and g the deviations from the middle of the cell, all of them normal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from thermofit.decide.cause.cable import Wiring, see
from thermofit.decide.cause.kinds import SensorState
from thermofit.decide.cause.visit import Visit
from thermofit.decide.identification.hypothesis import Expected

__all__ = ["Linear", "linearise"]

Array = npt.NDArray[np.float64]

_U_EVENT = 0.02  # of ln R: how sharply a meter's limit is known
_FARTHEST = 3.0


@dataclass(frozen=True, eq=False)
class Linear:
    """The readings' linear model in N cells, for the m readings that are a resistance.

    Parameters
    ----------
    residual : array, shape (N, m)
        Of the readings, from what the nominal part would read.
    design : array, shape (N, m, 2)
        By which (γ, β) are multiplied.
    nuisance : array, shape (N, m, p)
        By which bend, contact, leakage, gain and the J errors of temperature are multiplied,
        each of these scaled to a standard deviation of 1.
    noise : array, shape (N, m)
        Variance of each reading by itself.
    log_event : array, shape (N,)
        Ln of the probability of the readings that are over range or short.
    """

    residual: Array
    design: Array
    nuisance: Array
    noise: Array
    log_event: Array

    @property
    def covariance(self) -> Array:
        """Of the residuals, given (γ, β); shape (N, m, m)."""
        across = np.einsum("nip,njp->nij", self.nuisance, self.nuisance)
        result: Array = across + self.noise[:, :, np.newaxis] * np.eye(self.noise.shape[1])
        return result


def linearise(
    visit: Visit, at: Expected, wiring: Wiring, sensor: SensorState, u_controller: float
) -> Linear:
    """Make the linear model of a visit.

    Parameters
    ----------
    visit : Visit
    at : Expected
        Of the part that is fitted, at the visit's temperatures.
    wiring : Wiring
        Cells.
    sensor : str
        Its state.
    u_controller : float
        Standard uncertainty of the controller's input, of ln R.

    Returns
    -------
    Linear
    """
    cells, groups = wiring.weight.size, visit.t_c.size
    start = _start(visit, at, wiring, broad=sensor == "off")
    ends = {"open": np.inf, "shorted": -np.inf}
    ln_r = np.broadcast_to((at.ln_r + start)[:, visit.group], (cells, visit.group.size))
    if sensor in ends:
        ln_r = np.full_like(ln_r, ends[sensor])
    found = see(visit.places, ln_r, wiring)
    m = visit.finite
    group = visit.group[m]
    kx = found.by_sensor[:, m]
    shown = (visit.places[m] == "display").astype(np.float64)
    u_gain = np.hypot(u_controller, wiring.u_gain)
    by_t = kx[:, :, np.newaxis] * (group[:, np.newaxis] == np.arange(groups))
    by_t = by_t * np.hypot(at.alpha * visit.u_t_k, at.shape)
    nuisance = np.concatenate(
        [
            (kx * at.bend[group])[..., np.newaxis],
            (found.by_contact[:, m] * wiring.u_contact)[..., np.newaxis],
            (found.by_leak[:, m] * wiring.u_leak)[..., np.newaxis],
            np.broadcast_to((shown * u_gain)[:, np.newaxis], (*kx.shape, 1)),
            by_t,
        ],
        axis=-1,
    )
    predicted = found.ln_r[:, m]
    possible = np.isfinite(predicted).all(axis=-1)
    residual = visit.y[m] - np.where(np.isfinite(predicted), predicted, 0.0)
    residual = residual + kx * start[:, group]
    design = np.stack([kx, kx * at.a[group]], axis=-1)
    noise = np.broadcast_to(visit.u[m] ** 2, kx.shape)
    log_event = np.where(possible, _log_events(visit, found.ln_r), -np.inf)
    return Linear(residual, design, nuisance, noise, log_event)


def _start(visit: Visit, at: Expected, wiring: Wiring, *, broad: bool) -> Array:
    """Deviation of ln R about which to linearise, shape (N, J): what the readings say it is."""
    cells, groups = wiring.weight.size, visit.t_c.size
    start = np.zeros((cells, groups))
    for j in range(groups):
        own = visit.finite & (visit.group == j)
        sensor = own & visit.at("sensor")
        line = own & visit.at("connector", "display")
        if sensor.any():
            start[:, j] = visit.y[sensor].mean() - at.ln_r[j]
        elif broad and line.any():
            with np.errstate(divide="ignore", invalid="ignore"):
                siemens = np.exp(-visit.y[line].mean()) - wiring.leak_s
                found = np.log(1.0 / siemens - wiring.contact_ohm) - at.ln_r[j]
            start[:, j] = np.where(np.abs(found) < _FARTHEST, found, 0.0)
    result: Array = np.clip(np.nan_to_num(start), -_FARTHEST, _FARTHEST)
    return result


def _log_events(visit: Visit, ln_r: Array) -> Array:
    """Ln of the probability that readings are over range, or short, where they are."""
    from scipy.special import log_ndtr

    high, low = np.isfinite(visit.high), np.isfinite(visit.low)
    total = log_ndtr((ln_r[:, high] - visit.high[high]) / _U_EVENT).sum(axis=-1)
    result: Array = total + log_ndtr((visit.low[low] - ln_r[:, low]) / _U_EVENT).sum(axis=-1)
    return result
