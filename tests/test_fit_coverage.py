"""Statistical honesty: intervals cover the truth as often as they say.

For each case 2,000 data sets are simulated from a curve of the fitted form with
noise of bench grade, fitted, and the 95 % intervals of T(R) and of each
coefficient (on its fitted scale) are compared with the truth.  Between 93.5 and
96.5 % must cover: three standard deviations of a count of 2,000.
"""

from __future__ import annotations

import numpy as np
import pytest

import thermofit as tf

SIMULATIONS = 2000
LOWEST, HIGHEST = 0.935, 0.965

TRUTHS = {
    "beta": tf.Curve.beta(r25_ohm=10e3, b_k=3950.0),
    "steinhart-hart": tf.Curve.steinhart_hart(a=1.132063e-3, b=2.3340207e-4, c=9.21e-8),
    "log-polynomial-3": tf.Curve.log_polynomial(
        r_ref_ohm=8e3, coefficients=[3.30e-3, 2.57e-4, 2.2e-6]
    ),
    "inverse-polynomial-3": tf.Curve.inverse_polynomial(
        r_ref_ohm=10e3, coefficients=[-15.21, 5129.0, -180000.0]
    ),
    "shifted-exponential": tf.Curve.shifted_exponential(a_ohm=0.056, b_k=3500.0, c_k=20.0),
}
CASES = [
    (name, points, stated)
    for name, truth in TRUTHS.items()
    for points in (len(truth.coefficients), 5, 15)
    for stated in (True, False)
    if stated or points > len(truth.coefficients)
]


@pytest.mark.parametrize(("name", "count", "stated"), CASES)
def test_intervals_cover_the_truth_as_often_as_they_say(
    name: str, count: int, stated: bool
) -> None:
    truth = TRUTHS[name]
    rng = np.random.default_rng([len(name), count, stated])
    t_c = np.linspace(0.0, 90.0, count)
    r_ohm = truth.resistance(t_c)
    # A thermometer good to 0.1 K and a meter good to 0.3 % (k = 1); where the
    # scatter has to tell, the thermometer alone.
    u_t_k = np.full(count, 0.1)
    u_r_ohm = 0.003 * r_ohm if stated else np.zeros(count)
    probe_t_c = np.linspace(5.0, 85.0, 5)
    probe_r_ohm = truth.resistance(probe_t_c)
    true_coefficients = np.asarray(truth.coefficients)
    covered_t = np.zeros(len(probe_t_c))
    covered_c = np.zeros(len(true_coefficients))
    for _ in range(SIMULATIONS):
        points = tf.Points(
            t_c + u_t_k * rng.standard_normal(count),
            r_ohm + u_r_ohm * rng.standard_normal(count),
            u_t_k=u_t_k if stated else None,
            u_r_ohm=u_r_ohm if stated else None,
        )
        f = tf.fit(points, equation=truth.equation)
        interval = f.temperature(probe_r_ohm)
        covered_t += (interval.low <= probe_t_c) & (probe_t_c <= interval.high)
        intervals = f.coefficient_intervals().values()
        low, high = np.array([[i.low, i.high] for i in intervals]).T
        covered_c += (low <= true_coefficients) & (true_coefficients <= high)
    for covered in (covered_t / SIMULATIONS, covered_c / SIMULATIONS):
        assert covered.min() >= LOWEST, covered
        assert covered.max() <= HIGHEST, covered
