"""Many sensors at once against loops over some of them, scaled."""

from __future__ import annotations

import warnings

import numpy as np
from scipy.optimize import OptimizeWarning, curve_fit

import thermofit as tf
from benchmarks.conftest import Compare
from benchmarks.invented import many_points, sensors


def test_three_points(compare: Compare) -> None:
    count, some = 1_000_000, 1000
    three = many_points(count, 3)
    t, r = sensors(count, np.array([0.0, 25.0, 70.0]), 2e-3)
    starts = 1.01 * tf.fit_many(three).coefficients[:some]
    inv_t, ln_r = 1.0 / (t[:some] + 273.15), np.log(r[:some])

    def steinhart_hart(x: np.ndarray, a: float, b: float, c: float) -> np.ndarray:
        return a + b * x + c * x**3

    def loop() -> None:
        with warnings.catch_warnings():
            # Three points leave no scatter to take a covariance from.
            warnings.simplefilter("ignore", OptimizeWarning)
            for x, y, start in zip(ln_r, inv_t, starts, strict=True):
                curve_fit(steinhart_hart, x, y, p0=start)

    compare("10⁶ sensors × 3 points, exact Steinhart–Hart with covariance",
            "a loop of scipy.optimize.curve_fit, 1,000, scaled", loop, lambda: tf.fit_many(three),
            reach=1000.0, kind="at least", times=count / some, rounds=3)  # fmt: skip


def test_eleven_points(compare: Compare) -> None:
    count, some = 100_000, 2000
    eleven = many_points(count, 11)
    t, r = sensors(count, np.linspace(0.0, 100.0, 11), 2e-4)
    weights = (t[:some] + 273.15) ** 2 / 0.05
    targets = weights / (t[:some] + 273.15)
    designs = [
        np.vander(np.log(one), 4) * w[:, None] for one, w in zip(r[:some], weights, strict=True)
    ]

    def loop() -> None:
        for design, target in zip(designs, targets, strict=True):
            np.linalg.lstsq(design, target, rcond=None)

    compare("10⁵ sensors × 11 points, weighted, four terms, with covariance",
            "a loop of numpy.linalg.lstsq, 2,000, scaled", loop,
            lambda: tf.fit_many(eleven, equation="log-polynomial-4"),
            reach=20.0, kind="at least", times=count / some, rounds=5)  # fmt: skip


def test_two_baths(compare: Compare) -> None:
    count, some = 100_000, 100
    two = many_points(count, 2)
    t, r = sensors(count, np.array([0.0, 70.0]), 2e-3)
    singles = [tf.Points(t[n], r[n], u_t_k=0.2, u_r_ohm=5e-3 * r[n]) for n in range(some)]
    compare("10⁵ sensors × 2 baths, characterised", "tf.characterise, 100 one by one, scaled",
            lambda: [tf.characterise(points) for points in singles],
            lambda: tf.characterise_many(two),
            reach=100.0, kind="at least", times=count / some, rounds=3)  # fmt: skip
