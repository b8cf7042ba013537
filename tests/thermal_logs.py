"""Invented logs of step responses: an air sensor of a glasshouse controller carried from one room
to another."""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
import numpy.typing as npt

from thermofit.errors import ThermofitWarning
from thermofit.thermal import StepResponse, fit_step

Array = npt.NDArray[np.float64]


def times(rng: np.random.Generator, count: int, interval_s: float) -> Array:
    """Uneven times, each interval within ± 40 %."""
    steps: Array = interval_s * rng.uniform(0.6, 1.4, count)
    return np.cumsum(steps)


def sensor(t_s: Array, tau_s: float, onset_s: float, start_c: float, step_k: float) -> Array:
    since = np.maximum(t_s - onset_s, 0.0)
    return start_c - step_k * np.expm1(-since / tau_s)


def sleeve(t_s: Array, slow_s: float, quick_s: float, onset_s: float) -> Array:
    """A body in a sleeve, 22 °C to 32 °C: two bodies one after the other."""
    s = np.maximum(t_s - onset_s, 0.0)
    left = slow_s * np.exp(-s / slow_s) - quick_s * np.exp(-s / quick_s)
    return 32.0 - 10.0 * left / (slow_s - quick_s)


def two_parts(t_s: Array, slow_s: float, quick_s: float, quick_part: float) -> Array:
    """Part of the sensor quick, the rest slow; 22 °C to 32 °C, from 40 s on."""
    s = np.maximum(t_s - 40.0, 0.0)
    left = (1.0 - quick_part) * np.exp(-s / slow_s) + quick_part * np.exp(-s / quick_s)
    return 32.0 - 10.0 * left


def log_of(
    seed: int, count: int = 60, noise_k: float = 0.05, tau_s: float = 20.0
) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    t_s = times(rng, count, 3.0)
    return t_s, sensor(t_s, tau_s, 41.0, 22.0, 9.0) + noise_k * rng.standard_normal(count)


def quietly(*arguments: Any, **settings: Any) -> StepResponse:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ThermofitWarning)
        return fit_step(*arguments, **settings)


T_S = np.arange(0.0, 120.0, 3.0)
T_C = sensor(T_S, 15.0, 30.0, 22.0, 9.0)
