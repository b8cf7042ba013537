"""The minimum of a nonlinear fit: found to the last digits, and the same by either road."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.equations.base import Array
from thermofit.equations.catalogue import equation as named
from thermofit.errors import FitError
from thermofit.estimate import nonlinear
from thermofit.estimate.linear import factorise
from thermofit.estimate.plane import Minimise, Plane, plane_of

TRUE = tf.Curve.shifted_exponential(a_ohm=0.056, b_k=3500.0, c_k=20.0)
FORMS: list[tuple[str, Minimise]] = [
    ("shifted-exponential", "temperature"),
    ("shifted-exponential", "resistance"),
    ("beta", "resistance"),
    ("steinhart-hart", "resistance"),
]
LAST_DIGITS = 1e-14
NOISE_K = st.floats(-4.0, -0.5).map(lambda power: 10.0**power)


def measured(seed: int, noise_k: float, stated: bool) -> tf.Points:
    """Invented readings of an air sensor from a glasshouse, over 0 to 90 °C."""
    rng = np.random.default_rng(seed)
    t_c = np.linspace(0.0, 90.0, 8)
    r_ohm = TRUE.resistance(t_c)
    return tf.Points(
        t_c + noise_k * rng.standard_normal(8),
        r_ohm,
        u_t_k=noise_k if stated else None,
        u_r_ohm=1e-3 * r_ohm if stated else None,
    )


def weighted(form: str, plane: Plane, c: Array) -> tuple[Array, Array, Array]:
    """Misses over their uncertainties, what these are multiples of, and their slopes, at c."""
    equation = named(form)
    predicted, slope = plane.predict(equation, c)
    sigma = plane.effective(equation, c)
    return (plane.observed - predicted) / sigma, plane.observed / sigma, slope / sigma[:, None]


@pytest.mark.parametrize(("form", "minimise"), FORMS)
@settings(max_examples=20)
@given(seed=st.integers(0, 2**32 - 1), noise_k=NOISE_K, stated=st.booleans())
def test_no_step_leads_further_down(
    form: str, minimise: Minimise, seed: int, noise_k: float, stated: bool
) -> None:
    """Projected on what the coefficients can change, the misses are nothing but rounding."""
    points = measured(seed, noise_k, stated)
    fit = tf.fit(points, equation=form, minimise=minimise)
    c = np.asarray(fit.coefficients)
    misses, size, slope = weighted(form, plane_of(points, minimise), c)
    q, _ = factorise(slope)
    assert np.linalg.norm(q.T @ misses) <= LAST_DIGITS * np.linalg.norm(size)


@pytest.mark.parametrize(("form", "minimise"), FORMS)
def test_the_quick_road_and_the_careful_one_lead_to_one_minimum(
    form: str, minimise: Minimise, monkeypatch: pytest.MonkeyPatch
) -> None:
    points = measured(3, 0.1, stated=True)
    quick = tf.fit(points, equation=form, minimise=minimise)
    monkeypatch.setattr(nonlinear, "_settle", lambda *at: None)
    careful = tf.fit(points, equation=form, minimise=minimise)
    # lmfit stops where rounding hides whether the sum of squares still falls, which leaves about
    # the root of it in the coefficients: whatever rounds in another way ends up elsewhere.
    apart_k = 1e-7
    np.testing.assert_allclose(quick.residuals_k, careful.residuals_k, rtol=0.0, atol=apart_k)
    # What such misses can make of χ², whose terms are their squares over those of u = 0.1 K.
    one, other = quick.chi2, careful.chi2
    assert one is not None
    assert other is not None
    assert abs(one - other) <= 2.0 * np.sqrt(len(points.t_c) * one) * apart_k / 0.1


@pytest.mark.parametrize(("form", "minimise"), FORMS)
def test_good_readings_take_the_quick_road(
    form: str, minimise: Minimise, monkeypatch: pytest.MonkeyPatch
) -> None:
    def careful(*at: object) -> Array:
        raise AssertionError("the quick road was left")

    monkeypatch.setattr(nonlinear, "_reweight", careful)
    for seed, stated in ((1, False), (2, True), (3, True)):
        tf.fit(measured(seed, 0.1, stated), equation=form, minimise=minimise)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_readings_good_to_several_kelvin_need_the_careful_road(
    seed: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    roads: list[str] = []
    careful = nonlinear._reweight

    def noted(*at: Any) -> Array:
        roads.append("careful")
        return careful(*at)

    monkeypatch.setattr(nonlinear, "_reweight", noted)
    noise_k = 8.0 if seed == 1 else 3.0
    points = measured(seed, noise_k, stated=True)
    fit = tf.fit(points, equation="shifted-exponential", minimise="resistance")
    assert roads == ["careful"]
    # There too the misses are smallest with the weights that belong to the curve.
    plane = plane_of(points, "resistance")
    misses, size, slope = weighted("shifted-exponential", plane, np.asarray(fit.coefficients))
    q, _ = factorise(slope)
    assert np.linalg.norm(q.T @ misses) <= 1e-6 * np.linalg.norm(size)


def test_where_no_road_leads_to_a_minimum_the_start_is_named() -> None:
    jump = tf.Points([0.0, 20.0, 40.0, 60.0, 80.0], [32700.0, 12500.0, 5320.0, 900.0, 1255.0])
    with pytest.raises(FitError, match=r"was found from the starting values \[.*start="):
        tf.fit(jump, equation="shifted-exponential")
