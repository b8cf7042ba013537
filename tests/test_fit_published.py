"""Fits against published results, each with its source."""

from __future__ import annotations

import numpy as np
import pytest

import thermofit as tf
from tests.reference import RT_TABLES, columns, rt_table
from thermofit.estimate import least_squares

# NIST Statistical Reference Datasets, nonlinear regression, MGH10 (R. R. Meyer):
# y = b1·exp(b2/(x + b3)), x in °C, so c = b3 − 273.15.
MGH10_VALUES = np.array([5.6096364710e-03, 6.1813463463e03, 3.4522363462e02 - 273.15])
MGH10_B3 = 3.4522363462e02
MGH10_DEVIATIONS = np.array([1.5687892471e-04, 2.3309021107e01, 7.8486103508e-01])
MGH10_RSS = 8.7945855171e01
MGH10_RESIDUAL_DEVIATION = 2.6009740065e00
MGH10_DOF = 13


@pytest.mark.parametrize(
    "start",
    [
        {"a_ohm": 2.0, "b_k": 400_000.0, "c_k": 25_000.0 - 273.15},
        {"a_ohm": 0.02, "b_k": 4_000.0, "c_k": 250.0 - 273.15},
        None,
    ],
    ids=["start-1", "start-2", "own-start"],
)
def test_nist_mgh10_to_nine_digits(start: dict[str, float] | None) -> None:
    p = tf.Points(*columns("nist_strd_mgh10.csv"))
    f = tf.fit(p, equation="shifted-exponential", minimise="resistance", start=start)
    found = np.asarray(f.coefficients)
    assert found[:2] == pytest.approx(MGH10_VALUES[:2], rel=5e-10)
    assert found[2] + 273.15 == pytest.approx(MGH10_B3, rel=5e-10)
    assert f.rss == pytest.approx(MGH10_RSS, rel=5e-10)
    assert f.dof == MGH10_DOF
    assert np.sqrt(f.rss / f.dof) == pytest.approx(MGH10_RESIDUAL_DEVIATION, rel=5e-10)
    assert f.standard_uncertainties is not None
    assert np.asarray(f.standard_uncertainties) == pytest.approx(MGH10_DEVIATIONS, rel=5e-8)


def test_jcgm_100_h3_to_all_published_digits() -> None:
    """Calibration of a thermometer, JCGM 100:2008 (GUM), Annex H.3."""
    t_c, correction_c = columns("jcgm100_h3.csv")
    design = np.stack([np.ones_like(t_c), t_c - 20.0], axis=1)
    solution = least_squares(design, correction_c, np.ones_like(t_c))
    residuals = correction_c - design @ solution.coefficients
    s2 = float(residuals @ residuals) / (len(t_c) - 2)
    covariance = s2 * solution.factor @ solution.factor.T
    u = np.sqrt(np.diag(covariance))
    y1, y2 = solution.coefficients
    assert round(y1, 4) == -0.1712
    assert round(u[0], 4) == 0.0029
    assert round(y2, 5) == 0.00218
    assert round(u[1], 5) == 0.00067
    assert round(covariance[0, 1] / (u[0] * u[1]), 3) == -0.930
    assert round(np.sqrt(s2), 4) == 0.0035
    at_30 = np.array([1.0, 10.0])
    assert round(float(at_30 @ solution.coefficients), 4) == -0.1494
    assert round(float(np.sqrt(at_30 @ covariance @ at_30)), 4) == 0.0041


# Linux kernel 6.1, hwmon NTC driver, R–T arrays of four materials, rounded to 1 Ω there.
@pytest.mark.parametrize(
    ("name", "largest_k"), [("47k", 0.03), ("100k", 0.03), ("10k", 0.10), ("33k", 0.15)]
)
def test_four_terms_hold_every_row_of_a_published_table(name: str, largest_k: float) -> None:
    p = tf.Points(*rt_table(name))
    four = tf.fit(p, equation="log-polynomial-4")
    five = tf.fit(p, equation="log-polynomial-5")
    t_c, r_ohm = rt_table(name)
    assert np.abs(four.curve.temperature(r_ohm) - t_c).max() <= largest_k
    assert five.rms_k <= four.rms_k
    assert five.max_abs_k <= four.max_abs_k


@pytest.mark.parametrize("name", RT_TABLES)
def test_steinhart_hart_through_three_points_of_a_published_table(name: str) -> None:
    t_c, r_ohm = rt_table(name)
    three = np.isin(t_c, [0.0, 50.0, 100.0])
    f = tf.fit(tf.Points(t_c[three], r_ohm[three]), equation="steinhart-hart")
    between = (t_c >= 0.0) & (t_c <= 100.0)
    assert np.abs(f.curve.temperature(r_ohm[between]) - t_c[between]).max() <= 0.13


@pytest.mark.parametrize("name", RT_TABLES)
def test_a_constant_b_line_through_two_baths_is_wrong_by_more_than_a_kelvin(name: str) -> None:
    """Computed from the same tables: 1.2 to 1.8 K somewhere in 0 to 100 °C."""
    t_c, r_ohm = rt_table(name)
    two = np.isin(t_c, [0.0, 70.0])
    f = tf.fit(tf.Points(t_c[two], r_ohm[two]), equation="beta")
    between = (t_c >= 0.0) & (t_c <= 100.0)
    with pytest.warns(UserWarning, match="outside"):
        errors = np.abs(f.curve.temperature(r_ohm[between]) - t_c[between])
    assert 1.15 <= errors.max() <= 1.85


# Vishay BCcomponents, document 29049, 10-Oct-03, material with B25/85 = 3977 K:
# both forms are printed, with the statement of how well they agree.
@pytest.mark.parametrize(
    ("low_c", "high_c", "agree_k"), [(25.0, 125.0, 0.005), (-40.0, 25.0, 0.015)]
)
def test_two_published_forms_of_one_material_agree_as_stated(
    low_c: float, high_c: float, agree_k: float
) -> None:
    to_resistance = tf.Curve.inverse_polynomial(
        r_ref_ohm=10e3, coefficients=[-14.6337, 4791.842, -115334.0, -3.730535e6]
    )
    to_temperature = tf.Curve.log_polynomial(
        r_ref_ohm=10e3, coefficients=[3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8]
    )
    t_c = np.linspace(low_c, high_c, 401)[1:-1]
    assert np.abs(to_temperature.temperature(to_resistance.resistance(t_c)) - t_c).max() <= agree_k
    assert to_resistance.b_value(25, 85) == pytest.approx(3977.0, abs=1.0)


# IEC 60751, table for R0 = 100 Ω; the values are from memory.
@pytest.mark.parametrize(
    ("t_c", "r_ohm"), [(-100.0, 60.26), (0.0, 100.00), (100.0, 138.51), (200.0, 175.86)]
)
def test_platinum_has_the_resistances_of_its_standard(t_c: float, r_ohm: float) -> None:
    curve = tf.Curve.callendar_van_dusen(r0_ohm=100.0)
    assert curve.resistance(t_c) == pytest.approx(r_ohm, abs=0.0051)
    assert curve.temperature(curve.resistance(t_c)) == pytest.approx(t_c, abs=1e-9)


def test_platinum_is_recovered_from_its_own_table() -> None:
    t_c = np.array([-150.0, -100.0, -50.0, 0.0, 50.0, 100.0, 200.0])
    r_ohm = tf.Curve.callendar_van_dusen(r0_ohm=100.0).resistance(t_c)
    f = tf.fit(tf.Points(t_c, r_ohm))
    assert f.equation.name == "callendar-van-dusen"
    assert np.asarray(f.coefficients) == pytest.approx([100.0, 3.9083e-3, -5.775e-7], rel=1e-9)
