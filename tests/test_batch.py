"""The tolerance that a batch shows: spread without noise, classes with confidence."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from scipy.stats import binom, multivariate_normal, norm

import thermofit as tf
from thermofit.decide import batch_tolerance, check
from thermofit.decide.batch import B_CLASSES_PCT, R25_CLASSES_PCT
from thermofit.decide.howe import half_width
from thermofit.errors import InputError

Array = NDArray[np.float64]

# Invented: air sensors of glasshouse climate controllers, by the boxful.
CURVE = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
T_C = np.array([0.0, 25.0, 60.0])
A = np.log(CURVE.resistance(T_C) / 10e3)
SLOPE = 3977.0 / (T_C + 273.15) ** 2
MEAN = np.array([0.003, -0.002])
SPREAD = np.array([[4e-5, 1e-5], [1e-5, 1e-5]])
SEED = 20240317


def batch(
    n: int, rng: np.random.Generator, u_t_k: float, spread: Array = SPREAD
) -> tuple[Array, pd.DataFrame]:
    places = rng.multivariate_normal(MEAN, spread, n)
    noise = u_t_k * SLOPE * rng.normal(size=(n, T_C.size))
    r_ohm = CURVE.resistance(T_C) * np.exp(places[:, :1] + places[:, 1:] * A + noise)
    frame = pd.DataFrame(
        {
            "sensor": np.repeat(np.arange(n), T_C.size),
            "t_c": np.tile(T_C, n),
            "r_ohm": r_ohm.ravel(),
        }
    )
    return places, frame


def test_the_spread_of_a_large_batch_is_recovered_with_its_noise_taken_out() -> None:
    n, u_t_k = 20_000, 0.2
    _, frame = batch(n, np.random.default_rng(SEED), u_t_k)
    b = batch_tolerance(frame, CURVE, u_t_k=u_t_k)
    kept = len(b.sensors)
    assert kept == pytest.approx(0.99 * n, rel=0.005)  # 1 % disagree by chance
    # Sampling error of a mean, s/√n, and of a covariance, √((v_ii·v_jj + v_ij²)/n).
    v = b.scatter
    assert (np.abs(b.mean - MEAN) < 5.0 * np.sqrt(np.diag(v) / n)).all()
    error = np.sqrt((np.outer(np.diag(v), np.diag(v)) + v**2) / n)
    assert (np.abs(b.spread - SPREAD) < 5.0 * error).all()
    assert (np.diag(b.noise) > np.diag(SPREAD)).any()  # so that it mattered
    np.testing.assert_array_equal(b.population.mean, b.mean)


def test_the_noise_is_the_covariance_of_least_squares() -> None:
    _, frame = batch(10, np.random.default_rng(SEED), 0.05)
    b = batch_tolerance(frame, CURVE, u_t_k=0.05)
    design = np.stack([np.ones(3), A], axis=1) / (0.05 * SLOPE)[:, np.newaxis]
    np.testing.assert_allclose(b.noise, np.linalg.inv(design.T @ design), rtol=1e-9)


@pytest.mark.parametrize(
    ("n", "coverage", "confidence", "factor", "within"),
    [
        # NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.6.3, by Howe's formula; from memory.
        (43, 0.90, 0.99, 2.217, 0.0005),
        # Exact factors of the usual tables (ISO 16269-6), from memory; Howe's approximates them.
        (10, 0.95, 0.95, 3.379, 0.005),
        (30, 0.95, 0.95, 2.549, 0.003),
    ],
)
def test_without_noise_the_factors_are_the_published_ones(
    n: int, coverage: float, confidence: float, factor: float, within: float
) -> None:
    found = half_width(np.array(1.0), np.array(0.0), n, coverage, confidence)
    assert float(found) == pytest.approx(factor, abs=within)


def test_of_a_large_batch_the_noise_is_taken_out_whole() -> None:
    """Where nothing is left to estimate, the interval is that of the parts: z·s, s² = 3 − 2."""
    found = half_width(np.array(3.0), np.array(2.0), 10**8, 0.95, 0.95)
    assert float(found) == pytest.approx(norm.isf(0.025), rel=1e-3)


@pytest.mark.parametrize("u_t_k", [0.005, 0.1, 0.3])
def test_classes_and_intervals_hold_their_confidence(u_t_k: float) -> None:
    """Over 400 batches of 12, with noise that is small against the spread and as large."""
    batches, n, coverage, confidence = 400, 12, 0.9, 0.9
    rng = np.random.default_rng(SEED)
    parts = multivariate_normal(MEAN, SPREAD)

    def content(low: Array, high: Array) -> float:
        cdf = parts.cdf
        return float(cdf(high) - cdf([low[0], high[1]]) - cdf([high[0], low[1]]) + cdf(low))

    def inside(axis: int, low: float, high: float) -> float:
        s = np.sqrt(SPREAD[axis, axis])
        return float(norm.cdf((high - MEAN[axis]) / s) - norm.cdf((low - MEAN[axis]) / s))

    by_class = by_interval = 0
    by_axis = np.zeros(2, dtype=int)
    for _ in range(batches):
        _, frame = batch(n, rng, u_t_k)
        b = batch_tolerance(frame, CURVE, coverage=coverage, confidence=confidence, u_t_k=u_t_k)
        gamma, beta = b.gamma_interval, b.beta_interval
        low, high = np.array([gamma[0], beta[0]]), np.array([gamma[1], beta[1]])
        by_interval += content(low, high) >= coverage
        for axis in (0, 1):
            by_axis[axis] += inside(axis, low[axis], high[axis]) >= 0.95
        assert b.r25_pct is not None and b.b_pct is not None
        box = np.array([0.01 * b.r25_pct, 0.01 * b.b_pct])
        ends = [np.array([np.log1p(sign * box[0]), sign * box[1]]) for sign in (-1.0, 1.0)]
        by_class += content(*ends) >= coverage
    assert by_class >= binom.ppf(1e-4, batches, confidence)
    assert by_interval >= binom.ppf(1e-4, batches, confidence)
    # Each axis by itself: half of what is left over of coverage and of confidence.
    assert (by_axis >= binom.ppf(1e-4, batches, 0.95)).all()


def test_the_classes_are_the_smallest_that_hold_the_intervals() -> None:
    for seed in range(20):
        rng = np.random.default_rng(seed)
        _, frame = batch(15, rng, 0.01, SPREAD * 10.0 ** rng.uniform(-3.0, 1.0))
        b = batch_tolerance(frame, CURVE, u_t_k=0.01)
        for classes, pct, ends in (
            (R25_CLASSES_PCT, b.r25_pct, 100.0 * np.expm1(b.gamma_interval)),
            (B_CLASSES_PCT, b.b_pct, 100.0 * np.array(b.beta_interval)),
        ):
            holds = [c for c in classes if ends[0] >= -c and ends[1] <= c]
            assert pct == (min(holds) if holds else None)


def test_a_batch_too_wide_for_any_class_says_so() -> None:
    _, frame = batch(10, np.random.default_rng(SEED), 0.01, np.diag([0.04, 0.01]))
    b = batch_tolerance(frame, CURVE, u_t_k=0.01)
    assert b.r25_pct is None and b.b_pct is None and b.tolerance is None
    assert "none" in str(b)


def test_noise_that_swamps_the_spread_is_said_and_leaves_no_negative_variance() -> None:
    """Parts that are alike, measured coarsely: over many batches the excess is noise only."""
    swamped = 0
    for seed in range(30):
        _, frame = batch(12, np.random.default_rng(seed), 0.3, SPREAD * 1e-6)
        b = batch_tolerance(frame, CURVE, u_t_k=0.3)
        assert (np.linalg.eigvalsh(b.spread) >= -1e-18).all()
        swamped += any("swamps" in note for note in b.notes)
        if any("swamps" in note for note in b.notes):
            with pytest.raises(InputError, match="shows no population"):
                _ = b.population
    assert swamped >= 15
    _, frame = batch(200, np.random.default_rng(SEED), 0.001)
    assert not batch_tolerance(frame, CURVE, u_t_k=0.001, u_r_pct=0.001).notes


def test_a_class_of_the_batch_can_be_used_to_check_it() -> None:
    _, frame = batch(50, np.random.default_rng(SEED), 0.01)
    b = batch_tolerance(frame, CURVE, u_t_k=0.01)
    verdicts = check(frame, CURVE, tolerance=b.tolerance, u_t_k=0.01)
    assert (verdicts["verdict"] == "accept").sum() >= 40


def test_points_fits_and_frames_say_the_same() -> None:
    _, frame = batch(6, np.random.default_rng(SEED), 0.02)
    every = {
        name: tf.Points(own["t_c"].to_numpy(), own["r_ohm"].to_numpy(), u_t_k=0.02)
        for name, own in frame.groupby("sensor")
    }
    whole = batch_tolerance(frame, CURVE, u_t_k=0.02)
    forms: list[Any] = [every, list(every.values())]
    forms.append([tf.fit(p, equation="beta") for p in every.values()])
    family = tf.Family(CURVE.replace(id="air"))
    for form in forms:
        b = batch_tolerance(form, family)
        np.testing.assert_allclose(b.gamma, whole.gamma, atol=1e-12)
        np.testing.assert_allclose(b.spread, whole.spread, atol=1e-15)
        assert (b.r25_pct, b.b_pct) == (whole.r25_pct, whole.b_pct)
    assert whole.to_frame()["gamma"].tolist() == whole.gamma.tolist()


def test_sensors_that_cannot_be_located_are_named_and_not_counted() -> None:
    _, frame = batch(6, np.random.default_rng(SEED), 0.02)
    odd = pd.DataFrame(
        {
            "sensor": ["once", "hot", "hot", "blank", *["wrong"] * 3],
            "t_c": [25.0, 25.0, 150.0, np.nan, *T_C],
            "r_ohm": [1e4, 1e4, 300.0, 1e4, *(CURVE.resistance(T_C) * [1.0, 1.3, 1.0])],
        }
    )
    b = batch_tolerance(pd.concat([frame, odd]), CURVE, u_t_k=0.02)
    assert list(b.excluded) == ["once", "hot", "blank", "wrong"]
    alone = batch_tolerance(frame, CURVE, u_t_k=0.02)
    np.testing.assert_array_equal(b.gamma, alone.gamma)
    for name in b.excluded:
        assert f"! {name} left out" in str(b)


@pytest.mark.parametrize("name", ["coverage", "confidence"])
@pytest.mark.parametrize("value", [0.0, 1.0, 95.0, float("nan"), "0.95", None, np.array([0.9])])
def test_a_coverage_that_is_none_is_refused(name: str, value: Any) -> None:
    _, frame = batch(5, np.random.default_rng(SEED), 0.02)
    with pytest.raises(InputError, match=f"{name} must lie between 0 and 1"):
        batch_tolerance(frame, CURVE, u_t_k=0.02, **{name: value})


def test_other_bad_input_is_refused() -> None:
    _, frame = batch(2, np.random.default_rng(SEED), 0.02)
    with pytest.raises(InputError, match="only 2 of 2 sensors"):
        batch_tolerance(frame, CURVE, u_t_k=0.02)
    with pytest.raises(InputError, match="state no uncertainty"):
        batch_tolerance(frame, CURVE)
    with pytest.raises(InputError, match="Curve or a Family"):
        batch_tolerance(frame, "air", u_t_k=0.02)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="no sensors"):
        batch_tolerance([], CURVE, u_t_k=0.02)
    with pytest.raises(InputError, match="has a str and no Points"):
        batch_tolerance(["inlet.csv"], CURVE, u_t_k=0.02)
    with pytest.raises(InputError, match="Points, as a Fit"):
        batch_tolerance(7, CURVE, u_t_k=0.02)
    bare, stated = tf.Points([0, 60], [3e4, 2e3]), tf.Points([0, 60], [3e4, 2e3], u_t_k=0.1)
    with pytest.raises(InputError, match="some of the sensors state u_t_k"):
        batch_tolerance([bare, stated], CURVE)
