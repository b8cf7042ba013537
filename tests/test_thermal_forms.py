"""One time constant, a lag or two: what the readings carry is what is taken."""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.thermal_logs import Array, log_of, quietly, sleeve, times, two_parts
from thermofit.errors import FitError


def test_one_exponential_is_seldom_split_and_two_are_found() -> None:
    split = sum(quietly(*log_of(seed, count=80)).form != "one constant" for seed in range(30))
    assert split <= 1
    from scipy.optimize import brentq

    def gap(s: float) -> float:
        return float(sleeve(np.array([60.0 + s]), 20.0, 6.0, 60.0)[0]) - (32.0 - 10.0 / math.e)

    truth_s = brentq(gap, 1.0, 100.0)
    found, sides = 0, []
    for seed in range(20):
        rng = np.random.default_rng(seed)
        t_s = times(rng, 100, 2.5)
        t_c = sleeve(t_s, 20.0, 6.0, 60.0) + 0.05 * rng.standard_normal(100)
        r = quietly(t_s, t_c)
        found += r.form == "lag"
        sides.append((r.tau_s - truth_s) / r.u_tau_s)
    assert found >= 19
    assert abs(np.mean(sides)) < 0.5 and 0.7 < np.std(sides) < 1.4


def test_a_quick_and_a_slow_part_are_found_in_noise() -> None:
    found = 0
    for seed in range(10):
        rng = np.random.default_rng(seed)
        t_s = times(rng, 120, 2.0)
        t_c = two_parts(t_s, 40.0, 5.0, 0.4) + 0.03 * rng.standard_normal(120)
        found += quietly(t_s, t_c).form == "two constants"
    assert found >= 9


@pytest.mark.parametrize("seed", range(4))
def test_a_plateau_is_not_thrown_out_for_a_slow_part(seed: int) -> None:
    """Half of the sensor quick: a slow exponential alone follows most of the readings."""
    rng, t_s = np.random.default_rng(seed), np.arange(0.0, 400.0, 2.0)
    r = quietly(t_s, two_parts(t_s, 60.0, 8.0, 0.5) + 0.02 * rng.standard_normal(200))
    assert r.form == "two constants"
    assert r.time_constants_s == pytest.approx((60.0, 8.0), rel=0.03)
    assert r.onset_s == pytest.approx(40.0, abs=0.3)


def test_the_caller_may_say_how_many_constants() -> None:
    rng = np.random.default_rng(3)
    t_s = times(rng, 100, 2.5)
    t_c = sleeve(t_s, 20.0, 6.0, 60.0) + 0.05 * rng.standard_normal(100)
    forced = quietly(t_s, t_c, constants=1)
    assert forced.form == "one constant" and len(forced.tried) == 1
    assert len(quietly(t_s, t_c, constants=2).time_constants_s) == 2
    with pytest.raises(FitError, match="do not determine two time constants"):
        quietly(*log_of(4, noise_k=0.5), constants=2)


def test_uncertainties_of_two_constants_are_those_of_ordinary_least_squares() -> None:
    from scipy.optimize import curve_fit

    rng = np.random.default_rng(6)
    t_s = times(rng, 200, 1.5)

    def shown(
        t: Array, slow_s: float, quick_s: float, onset_s: float, start_c: float, step_k: float
    ) -> Array:
        return start_c + 0.1 * step_k * (sleeve(t, slow_s, quick_s, onset_s) - 22.0)

    t_c = shown(t_s, 25.0, 8.0, 60.0, 22.0, 9.0) + 0.02 * rng.standard_normal(200)
    r = quietly(t_s, t_c)
    p, covariance = curve_fit(shown, t_s, t_c, p0=[22.0, 9.0, 59.0, 22.0, 9.0])
    for name, value, u in zip(
        ("tau_1_s", "tau_2_s"), p, np.sqrt(np.diag(covariance)), strict=False
    ):
        interval = r.interval(name)
        assert abs(interval.value - value) < 0.5 * u
        assert interval.standard_uncertainty == pytest.approx(u, rel=0.15)
