"""Errors on both axes: effective variance and orthogonal distance agree."""

from __future__ import annotations

import numpy as np
import pytest

import thermofit as tf
from thermofit.errors import FitError

TRUTH = tf.Curve.log_polynomial(
    r_ref_ohm=10e3, coefficients=[3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8]
)
T_C = np.linspace(0.0, 90.0, 10)


def noisy_points(seed: int, u_t_k: float, u_r_part: float) -> tf.Points:
    rng = np.random.default_rng(seed)
    r_ohm = TRUTH.resistance(T_C)
    return tf.Points(
        T_C + u_t_k * rng.standard_normal(10),
        r_ohm * (1.0 + u_r_part * rng.standard_normal(10)),
        u_t_k=u_t_k,
        u_r_ohm=u_r_part * r_ohm,
    )


@pytest.mark.parametrize(
    "name", ["beta", "steinhart-hart", "log-polynomial-3", "log-polynomial-4",
             "inverse-polynomial-4", "shifted-exponential"],
)  # fmt: skip
@pytest.mark.parametrize("seed", range(3))
def test_both_ways_agree_within_a_small_part_of_the_uncertainty(name: str, seed: int) -> None:
    p = noisy_points(seed, 0.1, 0.004)
    usual = tf.fit(p, equation=name)
    distance = tf.fit(p, equation=name, method="orthogonal-distance")
    assert distance.method == "orthogonal distance"
    u = usual.temperature(TRUTH.resistance(T_C[1:-1])).standard_uncertainty
    gap = distance.curve.resistance(T_C[1:-1]) / usual.curve.resistance(T_C[1:-1]) - 1.0
    gap_k = gap / np.abs(TRUTH.alpha(T_C[1:-1]))
    # A constant B cannot follow this material, so its residuals are many times
    # the uncertainties and the two ways weigh them differently.
    allowed = 0.3 if name == "beta" else 0.05
    assert np.abs(gap_k / u).max() < allowed
    assert distance.chi2 == pytest.approx(usual.chi2, rel=0.01)


def test_a_straight_line_agrees_with_york_on_pearsons_data() -> None:
    """Pearson's data with York's weights: slope −0.480533, intercept 5.47991.

    D. York, Can. J. Phys. 44 (1966) 1079–1086; the numbers are those usually
    quoted for the exact solution and are from memory.  The line is drawn as
    ln R over 1/T so that the constant-B equation fits it.
    """
    x = np.array([0.0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4])
    y = np.array([5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5])
    weight_x = np.array([1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1.0])
    weight_y = np.array([1.0, 1.8, 4.0, 8.0, 20.0, 20.0, 70.0, 70.0, 100.0, 500.0])
    # ln R = 10 + s·(5 − y), 1/T = 1/298.15 + h·x: rising, with slope 0.480533·s/h.
    h, s = 1e-5, 0.05
    inv_t, ln_r = 1.0 / 298.15 + h * x, 10.0 + s * (5.0 - y)
    p = tf.Points(
        1.0 / inv_t - 273.15,
        np.exp(ln_r),
        u_t_k=h / np.sqrt(weight_x) / inv_t**2,
        u_r_ohm=s / np.sqrt(weight_y) * np.exp(ln_r),
    )
    f = tf.fit(p, equation="beta", method="orthogonal-distance")
    assert f.coefficients["b_k"] * h / s == pytest.approx(0.480533, abs=2e-6)
    intercept = 5.0 - (np.log(f.coefficients["r25_ohm"]) - 10.0) / s
    assert intercept == pytest.approx(5.479911, abs=2e-5)


def test_orthogonal_distance_needs_uncertainties_on_both_axes() -> None:
    r_ohm = TRUTH.resistance(T_C)
    for p in (tf.Points(T_C, r_ohm), tf.Points(T_C, r_ohm, u_t_k=0.1)):
        with pytest.raises(FitError, match="both axes"):
            tf.fit(p, equation="beta", method="orthogonal-distance")


def test_effective_variance_puts_the_weight_where_the_errors_are_small() -> None:
    """With errors of R only, the fit equals one of T with the errors carried over."""
    r_ohm = TRUTH.resistance(T_C) * (1.0 + 0.002 * np.sin(7.0 * T_C))
    by_ohms = tf.fit(tf.Points(T_C, r_ohm, u_r_ohm=0.004 * r_ohm), equation="log-polynomial-3")
    kelvin = 0.004 / np.abs(by_ohms.curve.alpha(by_ohms.curve.temperature(r_ohm)))
    by_kelvin = tf.fit(tf.Points(T_C, r_ohm, u_t_k=kelvin), equation="log-polynomial-3")
    assert np.asarray(by_kelvin.coefficients) == pytest.approx(
        np.asarray(by_ohms.coefficients), rel=1e-5
    )
