"""False accepts and false rejects over a population (JCGM 106:2012, 9.5)."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.stats import multivariate_normal, norm

import thermofit as tf
from thermofit.decide import Population, check, false_accept_risk, false_reject_risk
from thermofit.decide.rule import RuleName
from thermofit.errors import ExtrapolationError, InputError
from thermofit.tolerance import Tolerance

Array = NDArray[np.float64]

# Invented: air sensors of glasshouse climate controllers, some of them out of tolerance.
CURVE = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
PARTS = Population([0.002, -0.001], [[1e-4, 2e-5], [2e-5, 3e-5]])
LIMITS: dict[str, Any] = {"r25_pct": 2.0, "b_pct": 1.0}
SEED = 20240317


@pytest.mark.parametrize("rule", ["guarded", "simple"])
@pytest.mark.parametrize(("t_c", "u_t_k"), [(25.0, 0.05), (0.0, 0.1), (70.0, 0.3)])
def test_risks_of_one_reading_agree_with_simulation(rule: str, t_c: float, u_t_k: float) -> None:
    """Written out anew: parts, readings, limits of constant B at their worst corners."""
    draws, rng = 1_000_000, np.random.default_rng(SEED)
    a = 3977.0 * (1.0 / (t_c + 273.15) - 1.0 / 298.15)
    low, high = np.log(0.98) - 0.01 * abs(a), np.log(1.02) + 0.01 * abs(a)
    u = np.hypot(3977.0 / (t_c + 273.15) ** 2 * u_t_k, 0.002)
    k = norm.isf(0.05) if rule == "guarded" else 0.0
    low_in, low_out = low + np.log1p(k * u), low + np.log1p(-k * u)
    high_in, high_out = high + np.log1p(-k * u), high + np.log1p(k * u)
    true = rng.multivariate_normal(PARTS.mean, PARTS.covariance, draws) @ [1.0, a]
    read = true + u * rng.normal(size=draws)
    conforms = (true >= low) & (true <= high)
    accepted = (read >= low_in) & (read <= high_in)
    rejected = (read < low_out) | (read > high_out)
    plan: dict[str, Any] = {"u_t_k": u_t_k, "u_r_pct": 0.2, "rule": rule, **LIMITS}
    for found, events in (
        (false_accept_risk(PARTS, CURVE, t_c, **plan), accepted & ~conforms),
        (false_reject_risk(PARTS, CURVE, t_c, **plan), rejected & conforms),
    ):
        p = found.probability
        assert found.standard_error == 0.0
        assert abs(events.mean() - p) < 5.0 * np.sqrt((p + 1.0 / draws) / draws)
        assert found.conforming == pytest.approx(conforms.mean(), abs=5.0 * np.sqrt(0.25 / draws))


@settings(max_examples=30)
@given(st.floats(0.002, 0.5), st.floats(0.0005, 0.03), st.floats(-0.02, 0.02))
def test_risks_of_one_reading_are_volumes_of_the_bivariate_normal(
    u_t_k: float, s: float, mean: float
) -> None:
    """Part and reading are bivariate normal (scipy.stats), at 25 °C and for simple acceptance."""
    parts = Population([mean, 0.0], [[s**2, 0.0], [0.0, 1e-6]])
    plan: dict[str, Any] = {"u_t_k": u_t_k, "rule": "simple", "r25_pct": 2.0, "b_pct": 1.0}
    u = 3977.0 / 298.15**2 * u_t_k
    joint = multivariate_normal([mean, mean], [[s**2, s**2], [s**2, s**2 + u**2]])
    low, high = np.log(0.98), np.log(1.02)

    both = (
        joint.cdf([high, high]) - joint.cdf([low, high]) - joint.cdf([high, low])
        + joint.cdf([low, low])
    )  # fmt: skip
    total = np.hypot(s, u)
    accepted = norm.cdf((high - mean) / total) - norm.cdf((low - mean) / total)
    conforms = norm.cdf((high - mean) / s) - norm.cdf((low - mean) / s)
    false_accept = false_accept_risk(parts, CURVE, 25.0, **plan).probability
    false_reject = false_reject_risk(parts, CURVE, 25.0, **plan).probability
    assert false_accept == pytest.approx(accepted - both, abs=3e-5)
    assert false_reject == pytest.approx(conforms - both, abs=3e-5)


def test_guard_bands_trade_false_accepts_for_undecided_parts() -> None:
    plan: dict[str, Any] = {"u_t_k": 0.1, **LIMITS}
    by_risk = [
        false_accept_risk(PARTS, CURVE, 25.0, risk=risk, **plan).probability
        for risk in (0.001, 0.01, 0.05, 0.2)
    ]
    simple = false_accept_risk(PARTS, CURVE, 25.0, rule="simple", **plan).probability
    assert (np.diff([*by_risk, simple]) > 0.0).all()


def test_small_risks_keep_their_digits() -> None:
    """One limit, guard band 1.645 u, and parts so near to it that their density is flat:
    ∫ Φ(−x/u − 1.645) dx = u·(φ(1.645) − 1.645·Φ(−1.645))."""
    k, u = norm.isf(0.05), 1e-4 * 3977.0 / 298.15**2
    found = false_accept_risk(PARTS, CURVE, 25.0, u_t_k=1e-4, **LIMITS).probability
    s, loss = 0.01, u * (norm.pdf(k) - k * norm.sf(k))
    density = sum(norm.pdf(np.log(limit), 0.002, s) for limit in (0.98, 1.02))
    assert found == pytest.approx(density * loss, rel=1e-2)


def test_instruments_too_coarse_accept_nothing() -> None:
    found = false_accept_risk(PARTS, CURVE, 25.0, u_t_k=5.0, **LIMITS)
    assert found.probability == 0.0


@pytest.mark.parametrize("rule", ["guarded", "simple"])
def test_risks_of_a_whole_sensor_agree_with_checking_simulated_sensors(rule: RuleName) -> None:
    """Readings drawn here, and judged by `check` itself."""
    draws, rng = 10_000, np.random.default_rng(SEED)
    t_c = np.array([0.0, 25.0, 60.0])
    true = rng.multivariate_normal(PARTS.mean, PARTS.covariance, draws)
    a = np.log(CURVE.resistance(t_c) / 10e3)
    r_true = CURVE.resistance(t_c) * np.exp(true[:, :1] + true[:, 1:] * a)
    slope = 3977.0 / (t_c + 273.15) ** 2
    r_ohm = r_true * np.exp(np.hypot(0.1 * slope, 0.001) * rng.normal(size=r_true.shape))
    frame = pd.DataFrame(
        {
            "sensor": np.repeat(np.arange(draws), 3), "t_c": np.tile(t_c, draws),
            "r_ohm": r_ohm.ravel(),
        }
    )  # fmt: skip
    verdict = check(frame, CURVE, u_t_k=0.1, u_r_pct=0.1, rule=rule, **LIMITS)["verdict"].to_numpy()
    conforms = (np.abs(true[:, 1]) <= 0.01) & (np.abs(np.expm1(true[:, 0])) <= 0.02)
    plan: dict[str, Any] = {"u_t_k": 0.1, "u_r_pct": 0.1, "rule": rule, "draws": 40_000, **LIMITS}
    for found, share in (
        (false_accept_risk(PARTS, CURVE, t_c, **plan), (verdict == "accept") & ~conforms),
        (false_reject_risk(PARTS, CURVE, t_c, **plan), (verdict == "reject") & conforms),
    ):
        p = share.mean()
        error = np.hypot(found.standard_error, np.sqrt((p + 1.0 / draws) / draws))
        assert abs(found.probability - p) < 5.0 * error
        assert found.conforming == pytest.approx(conforms.mean(), abs=0.025)
        assert 0.0 < found.standard_error < 0.003
        assert "simulated with seed 1" in str(found)


def test_sensors_with_readings_that_disagree_are_not_counted_as_accepted() -> None:
    """Parts just outside: the estimate lies inside with a known probability, and independently
    of that χ² turns away one in a hundred."""
    t_c, draws = np.array([0.0, 25.0, 60.0]), 400_000
    parts = Population([np.log(1.02) + 1e-5, 0.0], [[1e-14, 0.0], [0.0, 1e-14]])
    plan: dict[str, Any] = {"u_t_k": 0.1, "rule": "simple", "draws": draws, **LIMITS}
    found = false_accept_risk(parts, CURVE, t_c, **plan)
    design = np.stack([np.ones(3), np.log(CURVE.resistance(t_c) / 10e3)], axis=1)
    design /= 0.1 * 3977.0 / (t_c[:, np.newaxis] + 273.15) ** 2
    region = Tolerance.of(**LIMITS).region(CURVE)
    estimate_inside = region.normal_probability(parts.mean, np.linalg.inv(design.T @ design))
    expected = 0.99 * estimate_inside
    assert abs(found.probability - expected) < 4.0 * np.sqrt(expected * (1 - expected) / draws)


def test_a_simulation_is_repeatable_and_its_standard_error_is_that_of_its_seeds() -> None:
    plan: dict[str, Any] = {"u_t_k": 0.2, "rule": "simple", "draws": 2000, **LIMITS}
    found = [false_accept_risk(PARTS, CURVE, [0, 60], seed=seed, **plan) for seed in range(40)]
    assert found[3] == false_accept_risk(PARTS, CURVE, [0, 60], seed=3, **plan)
    spread = np.std([one.probability for one in found], ddof=1)
    assert spread / found[0].standard_error == pytest.approx(1.0, abs=0.45)  # 4 σ of an s from 40


def test_a_population_knows_its_deviation_along_the_curve() -> None:
    """JCGM 100, 5.2.2: propagation of (γ, β) to γ + β·a."""
    mean, s = PARTS.along([0.0, 2.0])
    gradient = np.array([1.0, 2.0])
    assert mean[1] == pytest.approx(gradient @ PARTS.mean)
    assert s[1] == pytest.approx(np.sqrt(gradient @ PARTS.covariance @ gradient))
    assert s[0] == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("mean", "covariance", "told"),
    [
        ([0.0], [[1.0]], "shape"),
        ([0.0, np.nan], np.eye(2), "finite"),
        ([0.0, 0.0], [[1.0, 2.0], [2.0, 1.0]], "positive definite"),
        ([0.0, 0.0], [[1.0, 0.5], [0.4, 1.0]], "symmetric"),
        ([0.0, 0.0], [[1.0, 0.0], [0.0, 0.0]], "small spread"),
    ],
)
def test_a_population_that_is_none_is_refused(mean: Any, covariance: Any, told: str) -> None:
    with pytest.raises(InputError, match=told):
        Population(mean, covariance)


@pytest.mark.parametrize(
    ("t_c", "arguments", "told"),
    [
        ([], {}, "one or more finite temperatures"),
        ([0.0, np.nan], {}, "one or more finite temperatures"),
        ([0.0, 60.0], {"draws": 10}, "draws must be 100"),
        ([0.0, 60.0], {"draws": float("nan")}, "draws must be 100 .* not nan"),
        ([0.0, 60.0], {"draws": True}, "draws must be 100"),
        ([0.0, 60.0], {"seed": -1}, "seed must be 0 .* not -1"),
        ([0.0, 60.0], {"seed": 1.5}, "seed must be 0"),
        ([0.0], {"u_t_k": float("inf")}, "u_t_k must be finite"),
        ([0.0], {"risk": "5%"}, "not '5%'"),
        ([0.0, 60.0], {"b_pct": None}, "takes R25 or B as exact"),
        ([0.0], {"rule": "none"}, "rule must be"),
        ([0.0], {"risk": 0.6}, "below 0.5"),
        ([0.0], {"u_t_k": -1.0}, "u_t_k must not be negative"),
    ],
)
def test_bad_plans_are_refused(t_c: Any, arguments: dict[str, Any], told: str) -> None:
    with pytest.raises(InputError, match=told):
        false_accept_risk(PARTS, CURVE, t_c, **({"u_t_k": 0.1, **LIMITS} | arguments))


def test_the_rest_of_a_plan_is_checked_too() -> None:
    with pytest.raises(ExtrapolationError, match="200 °C"):
        false_reject_risk(PARTS, CURVE, 200.0, u_t_k=0.1, **LIMITS)
    with pytest.raises(InputError, match="states no tolerance"):
        false_reject_risk(PARTS, CURVE, 25.0, u_t_k=0.1)
    with pytest.raises(InputError, match="Population"):
        false_reject_risk("parts", CURVE, 25.0, u_t_k=0.1, **LIMITS)  # type: ignore[arg-type]
