"""Statistical honesty: intervals cover the truth as often as they say.

For each case 2,000 data sets are simulated from a curve of the fitted form with
noise of bench grade, fitted, and the 95 % intervals of T(R) and of each
coefficient (on its fitted scale) are compared with the truth.  Between 93.5 and
96.5 % must cover: three standard deviations of a count of 2,000.

Forms that are linear in their coefficients are fitted all at once by `fit_many`, and every
tenth data set also by `fit`, which must say the same.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

import thermofit as tf
from tests.batches import SAME
from thermofit.estimate import Fit, ManyPoints, fit_many

SIMULATIONS = 2000
LOWEST, HIGHEST = 0.935, 0.965
BY_ITSELF = 10
"""Of so many data sets one is fitted by itself, where the others are fitted at once."""

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
    noise = rng.standard_normal((SIMULATIONS, 2, count))
    measured = ManyPoints(
        t_c + u_t_k * noise[:, 0],
        r_ohm + u_r_ohm * noise[:, 1],
        u_t_k=u_t_k if stated else None,
        u_r_ohm=u_r_ohm if stated else None,
    )
    fits = 0
    for f in fitted(measured, truth):
        interval = f.temperature(probe_r_ohm)
        covered_t += (interval.low <= probe_t_c) & (probe_t_c <= interval.high)
        low, high = ends(f)
        covered_c += (low <= true_coefficients) & (true_coefficients <= high)
        fits += 1
    assert fits == SIMULATIONS
    for covered in (covered_t / SIMULATIONS, covered_c / SIMULATIONS):
        assert covered.min() >= LOWEST, covered
        assert covered.max() <= HIGHEST, covered


def fitted(measured: ManyPoints, truth: tf.Curve) -> Iterator[Fit]:
    """Fits of the truth's form to each data set."""
    form = truth.equation
    if not form.linear:
        yield from (tf.fit(measured.points(i), equation=form) for i in range(len(measured)))
        return
    many = fit_many(measured, form)
    r_ohm = truth.resistance([5.0, 45.0, 85.0])
    for place in range(len(many)):
        points = measured.points(place)
        one = Fit(points, many.curve(place), "temperature", "one of many", None, None)
        if place % BY_ITSELF == 0:
            alone = tf.fit(points, equation=form)
            assert_same(one, alone, r_ohm)
        yield one


def ends(f: Fit) -> Any:
    """Lower and upper ends of the intervals of the coefficients, each of shape (k,)."""
    return np.array([[i.low, i.high] for i in f.coefficient_intervals().values()]).T


def assert_same(one: Fit, alone: Fit, r_ohm: Any) -> None:
    """One of many fits and the fit by itself give the same intervals."""
    assert one.curve.dof == alone.curve.dof
    mine, theirs = one.temperature(r_ohm), alone.temperature(r_ohm)
    # An uncertainty that comes from the scatter is known no better than that, and a
    # temperature near 300 K has a last digit of 6e-14 K.
    same = SAME if alone.sigma is not None else SAME + 1e-12 / alone.rms_k
    np.testing.assert_allclose(mine.value, theirs.value, rtol=0.0, atol=SAME)
    np.testing.assert_allclose(mine.standard_uncertainty, theirs.standard_uncertainty, rtol=same)
    for name in ("low", "high"):
        np.testing.assert_allclose(
            getattr(mine, name), getattr(theirs, name), rtol=0.0, atol=10 * same
        )
    u = np.asarray(alone.standard_uncertainties)
    np.testing.assert_allclose((ends(one) - ends(alone)) / u, 0.0, atol=1e-7)
