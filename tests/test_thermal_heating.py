"""How much too warm a sensor reads by its test current."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from thermofit.errors import InputError
from thermofit.instruments import self_heating
from thermofit.thermal import (
    COMMON_PRACTICE,
    dissipation_factor,
    heating_errors,
)


def test_the_measured_factor_gives_the_budget_of_the_rise() -> None:
    d = dissipation_factor([0.1e-3, 2e-3], [20.05, 21.0], u_t_k=0.02, medium="still air")
    rise = d.heating(1e-3)
    assert rise.value == pytest.approx(1e-3 / d.w_per_k)
    assert rise.standard_uncertainty == pytest.approx(1e-3 * d.u_w_per_k / d.w_per_k**2)


def test_media_that_are_not_given_are_not_assumed() -> None:
    errors = heating_errors(1e-3, {"still air": 2e-3}, dissipation_limit_pct=20)
    assert list(errors.rises) == ["still air"]
    same = self_heating(
        1e-3, dissipation_w_per_k=2e-3, medium="still air", dissipation_limit_pct=20
    )
    assert errors.rises["still air"] == same
    with pytest.raises(InputError, match="not known, only that in still air"):
        errors.corrected(25.0, "moving air")


def test_common_practice_is_marked_and_covers_its_own_range() -> None:
    errors = heating_errors(
        1e-3, {"still air": 2e-3}, dissipation_limit_pct=0, common_practice=True
    )
    assert str(errors).count("common practice, no source") == 2
    for medium, (low, high) in COMMON_PRACTICE.items():
        rise = errors.rises[medium]
        # 0.5 K in still air is 0.5 K/high to 0.5 K/low there: the rise itself has these limits.
        factor = rise.contributions[0]
        half_k = abs(factor.half_width * factor.sensitivity)
        assert rise.value - half_k == pytest.approx(0.5 / high)
        assert rise.value + half_k == pytest.approx(0.5 / low)
        assert factor.distribution == "rectangular"
        assert "common practice, no source" in str(rise)
    wider = heating_errors(
        1e-3, {"still air": 2e-3}, dissipation_limit_pct=20, power_limit_pct=10,
        common_practice=True,
    )  # fmt: skip
    # 1/4.5 to 1/1.5 is 0.444 ± 50 %; the factor of still air, ± 20 %, and the power, ± 10 %, add.
    rise = wider.rises["moving air"]
    relative = np.sqrt((0.5**2 + 0.2**2 + 0.1**2) / 3.0)
    assert rise.standard_uncertainty == pytest.approx(rise.value * relative)


def test_the_limits_of_common_practice_hold_for_whatever_lies_within_them() -> None:
    """Factors of 3 to 10 times that of still air: their rises are not even about that of 6.5."""
    rise = heating_errors(
        1e-3, {"still air": 2e-3}, dissipation_limit_pct=0, common_practice=True
    ).rises["stirred water"]
    each = 0.5 / np.random.default_rng(1).uniform(3.0, 10.0, 10_000)
    half = rise.expanded_uncertainty(0.95)
    assert np.mean(np.abs(each - rise.value) <= half) >= 0.95


def test_a_vague_factor_may_still_be_estimated_from() -> None:
    errors = heating_errors(
        1e-3, {"still air": 2e-3}, dissipation_limit_pct=95, common_practice=True
    )
    assert set(errors.rises) == {"still air", "moving air", "stirred water"}


def test_the_correction_takes_the_rise_off() -> None:
    d = dissipation_factor([0.1e-3, 2e-3], [20.05, 21.0], u_t_k=0.02, medium="moving air")
    errors = heating_errors(1e-3, {"moving air": d, "still air": 1e-3}, dissipation_limit_pct=10)
    corrected = errors.corrected(25.0, "moving air")
    assert corrected.value == pytest.approx(25.0 - 1e-3 / d.w_per_k)
    assert corrected.standard_uncertainty == errors.rises["moving air"].standard_uncertainty
    assert corrected.contributions[0].effect == -errors.rises["moving air"].contributions[0].effect
    assert "measured" in str(errors) and "stated" in str(errors)


@pytest.mark.parametrize(
    ("given_factors", "settings", "words"),
    [
        ({}, {}, "one medium at least"),
        (2e-3, {}, "mapping of medium"),
        ({"still air": 2e-3}, {}, "dissipation_limit_pct"),
        ({"oil": 2e-3}, {"dissipation_limit_pct": 10}, "known are"),
        ({"moving air": 2e-3}, {"dissipation_limit_pct": 10, "common_practice": True}, "still air"),
        ({"still air": -2e-3}, {"dissipation_limit_pct": 10}, "above 0"),
    ],
)
def test_errors_that_cannot_be_told(
    given_factors: Any, settings: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        heating_errors(1e-3, given_factors, **settings)


def test_a_factor_holds_in_its_own_medium_only() -> None:
    d = dissipation_factor([0.1e-3, 2e-3], [20.05, 21.0], u_t_k=0.02, medium="still air")
    with pytest.raises(InputError, match="measured in still air"):
        heating_errors(1e-3, {"moving air": d})
