"""Sensors and circuits that several tests of the circuit room are about; all invented."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

import thermofit as tf
from thermofit.circuit import Converter, Divider

__all__ = ["ADC", "BETA", "B_K", "DIVIDER", "FAMILY", "R25_OHM", "Array", "beta_ohm"]

Array = npt.NDArray[np.float64]

B_K, R25_OHM = 3977.0, 10e3
BETA = tf.Curve.beta(r25_ohm=R25_OHM, b_k=B_K, id="inlet", t_range_c=(-40.0, 125.0))
FAMILY = tf.Family(BETA, r25_tol_pct=1.0, b_tol_pct=0.75)

ADC = Converter(
    bits=10, reference_v=2.5, reference_pct=0.4, gain_pct=0.3, offset_counts=1.5, noise_counts=0.6,
    samples=4,
)  # fmt: skip
DIVIDER = Divider(
    pullup_ohm=10e3, pull_pct=1.0, pull_ppm_per_k=100.0, ambient_c=(0.0, 60.0), supply_v=2.6,
    supply_pct=0.5, series_ohm=470.0, series_pct=5.0, parallel_ohm=220e3, parallel_pct=5.0,
    leakage_a=0.2e-6, leakage_limit_a=0.3e-6, converter=ADC,
)  # fmt: skip


def beta_ohm(t_c: Array | float, gamma: Array | float = 0.0, beta: Array | float = 0.0) -> Any:
    """Resistance of a sensor that is off by γ and β, from the formula."""
    axis = 1.0 / (np.asarray(t_c) + 273.15) - 1.0 / 298.15
    return R25_OHM * np.exp(gamma + (1.0 + beta) * B_K * axis)
