"""One fit."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from scipy.optimize import OptimizeWarning, curve_fit

import thermofit as tf
from benchmarks.conftest import Compare
from benchmarks.invented import published

ROUNDS = 51


def test_four_terms(compare: Compare) -> None:
    t_c, r_ohm = published()
    points, design = tf.Points(t_c, r_ohm), np.vander(np.log(r_ohm), 4)
    compare("fit, four terms, 34 points", "numpy.linalg.lstsq",
            lambda: np.linalg.lstsq(design, t_c, rcond=None),
            lambda: tf.fit(points, equation="log-polynomial-4"), rounds=ROUNDS)  # fmt: skip


@pytest.mark.filterwarnings("ignore::scipy.optimize.OptimizeWarning")
def test_exact(compare: Compare) -> None:
    t_c, r_ohm = published()
    chosen = [8, 18, 28]
    points, log_r = tf.Points(t_c[chosen], r_ohm[chosen]), np.log(r_ohm[chosen])
    inv_t = 1.0 / (t_c[chosen] + 273.15)

    def general() -> object:
        def inverse(x: np.ndarray, a: float, b: float, c: float) -> np.ndarray:
            return a + b * x + c * x**3

        with warnings.catch_warnings():
            # Three points leave no scatter to take a covariance from.
            warnings.simplefilter("ignore", OptimizeWarning)
            return curve_fit(inverse, log_r, inv_t, p0=[1e-3, 2e-4, 1e-7])

    compare("exact Steinhart–Hart", "scipy.optimize.curve_fit", general,
            lambda: tf.fit(points, equation="steinhart-hart"), rounds=ROUNDS)  # fmt: skip
