"""The dissipation factor, from readings at two or more powers; all data invented."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.errors import FitError, InputError
from thermofit.thermal import (
    dissipation_factor,
)

CURVE = tf.Curve.beta(r25_ohm=10e3, b_k=3977)

factors = st.floats(1e-4, 1e-1)


@given(factors, st.floats(-20.0, 80.0))
def test_two_powers_give_the_factor_and_the_zero_power_temperature(
    w_per_k: float, air_c: float
) -> None:
    power = np.array([0.1, 2.0]) * w_per_k
    d = dissipation_factor(power, air_c + power / w_per_k, u_t_k=0.02, medium="still air")
    assert d.w_per_k == pytest.approx(w_per_k, rel=1e-9)
    assert d.mw_per_k == pytest.approx(1e3 * w_per_k, rel=1e-9)
    assert d.zero_power_c == pytest.approx(air_c, abs=1e-9)
    # By hand: u(slope) = u·√2/ΔP and δ = 1/slope.
    slope_u = 0.02 * np.sqrt(2.0) / (1.9 * w_per_k)
    assert d.u_w_per_k == pytest.approx(slope_u * w_per_k**2, rel=1e-9)
    assert d.u_zero_power_k == pytest.approx(0.02 * np.hypot(2.0, 0.1) / 1.9, rel=1e-9)


def test_resistances_at_two_powers_give_the_zero_power_resistance() -> None:
    power = np.array([0.1e-3, 3e-3])
    r_ohm = CURVE.resistance(24.0 + power / 2e-3)
    d = dissipation_factor(
        power, r_ohm=r_ohm, curve=CURVE, u_r_ohm=1e-4 * r_ohm, medium="stirred water"
    )
    assert d.w_per_k == pytest.approx(2e-3, rel=1e-6)
    assert d.zero_power_ohm == pytest.approx(CURVE.resistance(24.0), rel=1e-9)
    assert d.u_zero_power_ohm is not None and d.zero_power_ohm is not None
    # 1e-4 of R is 2.2 mK at −4.5 %/K, and the extrapolation is short.
    assert d.u_zero_power_ohm / d.zero_power_ohm == pytest.approx(1.03e-4, rel=0.02)
    family = tf.family("ntc-10k-3977")
    by_family = dissipation_factor(
        power, r_ohm=r_ohm, curve=family, u_r_ohm=1.0, medium="stirred water"
    )
    # Its curve bends, and is less steep than that of one B value by 2 % here.
    assert by_family.w_per_k == pytest.approx(2e-3, rel=0.03)


def test_scatter_about_the_line_tells_the_uncertainty() -> None:
    rng = np.random.default_rng(1)
    power = np.tile([0.2e-3, 1e-3, 3e-3], 2)
    covered = 0
    for _ in range(600):
        t_c = 21.0 + power / 2e-3 + 0.03 * rng.standard_normal(6)
        interval = dissipation_factor(power, t_c, medium="still air").interval()
        covered += interval.low <= 2e-3 <= interval.high
    assert dissipation_factor(power, t_c, medium="still air").dof == 4.0
    # A count of 600 at 95 % has a standard deviation of 0.9 %.
    assert 0.923 <= covered / 600 <= 0.977


def test_errors_of_the_power_count_by_the_slope() -> None:
    power = np.array([0.1e-3, 2.1e-3])
    t_c = 20.0 + power / 1e-3
    by_power = dissipation_factor(power, t_c, u_t_k=1e-9, u_power_w=2e-5, medium="still air")
    by_reading = dissipation_factor(power, t_c, u_t_k=0.02, medium="still air")
    assert by_power.u_w_per_k == pytest.approx(by_reading.u_w_per_k, rel=1e-6)


def test_a_factor_that_may_be_anything_has_no_upper_end() -> None:
    d = dissipation_factor([1e-4, 1e-3], [20.0, 20.02], u_t_k=0.02, medium="moving air")
    interval = d.interval()
    assert interval.high == np.inf and 0.0 < interval.low < d.w_per_k
    assert "inf" in str(d)
    assert len(d.to_frame()) == 2


@pytest.mark.parametrize(
    ("arguments", "settings", "error", "words"),
    [
        (([1e-3], [20.0]), {}, InputError, "two readings"),
        (([1e-3, 1e-3], [20.0, 21.0]), {"u_t_k": 0.1}, InputError, "two powers"),
        (([-1e-3, 1e-3], [20.0, 21.0]), {"u_t_k": 0.1}, InputError, "not negative"),
        (([1e-3, 2e-3], [20.0, 21.0]), {}, FitError, "fit any line"),
        (([1e-3, 2e-3], [21.0, 20.0]), {"u_t_k": 0.1}, FitError, "does not read warmer"),
        (([1e-3, 2e-3], [20.0, np.nan]), {"u_t_k": 0.1}, InputError, "one finite reading"),
        (([1e-3, 2e-3], [20.0]), {"u_t_k": 0.1}, InputError, "one finite reading"),
        (([1e-3, 2e-3],), {"r_ohm": [1e4, 9e3]}, InputError, "curve="),
        (([1e-3, 2e-3],), {}, InputError, "give temperatures"),
        (([1e-3, 2e-3], [20.0, 21.0]), {"u_r_ohm": 1.0}, InputError, "state u_t_k"),
        (
            ([1e-3, 2e-3],),
            {"r_ohm": [1e4, 9e3], "curve": CURVE, "u_t_k": 1.0},
            InputError,
            "u_r_ohm",
        ),
        (([1e-3, 2e-3], [20.0, 21.0]), {"u_power_w": 1e-5}, InputError, "state both"),
        (([1e-3, 2e-3], [20.0, 21.0]), {"u_t_k": -0.1}, InputError, "negative"),
        (([1e-3, 2e-3], [20.0, 21.0]), {"u_t_k": 0.0}, InputError, "without any uncertainty"),
        (([1e-3, 2e-3], [20.0, 21.0]), {"medium": "oil"}, InputError, "known are still air"),
        (([1e-3, 2e-3], [20.0, 21.0]), {"u_t_k": np.inf}, InputError, "must be finite"),
        (([1e-3, 2e-3],), {"r_ohm": [1e4, 9e3], "curve": "inlet"}, InputError, "not str"),
        (
            ([1e-3, 2e-3],),
            {"r_ohm": [1e4, 9e3], "curve": tf.family("ntc-ratio-3544")},
            InputError,
            "leaves R25 open",
        ),
    ],
)
def test_readings_that_give_no_factor(
    arguments: tuple[Any, ...], settings: dict[str, Any], error: type[Exception], words: str
) -> None:
    with pytest.raises(error, match=words):
        dissipation_factor(*arguments, **({"medium": "still air"} | settings))
