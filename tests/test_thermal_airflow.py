"""Whether air moves over a sensor, from its time constant or its dissipation factor."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thermofit.errors import InputError
from thermofit.interval import Interval
from thermofit.thermal import (
    compare_air_flow,
    dissipation_factor,
    fit_step,
)

RUNNING, STOPPED = (12.0, 0.3), (40.0, 4.0)


@pytest.mark.parametrize(
    ("measured", "verdict"),
    [
        ((12.5, 0.3), "moving"),
        ((8.0, 0.3), "moving"),
        ((38.0, 1.0), "not moving"),
        ((90.0, 2.0), "not moving"),
        ((22.0, 0.3), "cannot tell"),
        ((22.0, 12.0), "cannot tell"),
    ],
)
def test_the_time_constant_tells_whether_air_moves(
    measured: tuple[float, float], verdict: str
) -> None:
    flow = compare_air_flow(measured, RUNNING, STOPPED, quantity="time constant")
    assert flow.verdict == verdict
    assert flow.ratio == pytest.approx(measured[0] / 12.0)
    assert str(flow).startswith(f"{verdict}: ")


def test_between_the_records_it_is_neither() -> None:
    flow = compare_air_flow((21.0, 0.2), RUNNING, STOPPED, quantity="time constant")
    # The stopped record is nearer, and by far the likelier of the two.
    assert flow.probability < 0.05
    assert flow.verdict == "cannot tell" and "clogged" in flow.reason


@given(st.floats(3.0, 200.0), st.floats(0.01, 0.5))
def test_both_records_weigh_as_the_normal_distribution_says(tau_s: float, relative: float) -> None:
    flow = compare_air_flow(
        (tau_s, relative * tau_s), RUNNING, STOPPED, quantity="time constant", repeatability_pct=5.0
    )
    from scipy.stats import norm

    u = np.sqrt(relative**2 + np.array([0.025, 0.1]) ** 2 + 0.05**2)
    x, gap = np.log(tau_s / 12.0), np.log(40.0 / 12.0)
    # Quicker than running is as good as running, slower than stopped as bad as stopped.
    densities = norm.pdf([max(x, 0.0), max(gap - x, 0.0)], scale=u)
    if densities.min() > 1e-290:
        assert flow.probability == pytest.approx(densities[0] / densities.sum(), rel=1e-9)


@given(st.floats(3.0, 200.0), st.floats(0.01, 0.5), st.floats(1e-3, 1e3))
def test_a_dissipation_factor_tells_as_its_reciprocal_does(
    tau_s: float, relative: float, scale: float
) -> None:
    def factor(pair: tuple[float, float]) -> tuple[float, float]:
        return scale / pair[0], scale / pair[0] * pair[1] / pair[0]

    measured = (tau_s, relative * tau_s)
    one = compare_air_flow(measured, RUNNING, STOPPED, quantity="time constant")
    other = compare_air_flow(
        factor(measured), factor(RUNNING), factor(STOPPED), quantity="dissipation factor"
    )
    assert other.probability == pytest.approx(one.probability, rel=1e-6, abs=1e-12)
    assert other.ratio == pytest.approx(one.ratio)


def test_without_a_stopped_record_what_is_assumed_is_told() -> None:
    flow = compare_air_flow((30.0, 1.0), RUNNING, quantity="time constant")
    assert flow.verdict == "not moving" and flow.stopped_ratio == pytest.approx(2.0)
    assert sum("common practice, no source" in note for note in flow.notes) == 2
    stated = compare_air_flow(
        (30.0, 1.0), RUNNING, quantity="time constant", repeatability_pct=10, least_ratio=2.0
    )
    assert stated.probability == flow.probability and not stated.notes


def test_fitted_responses_and_measured_factors_compare_as_they_are() -> None:
    t_s = np.arange(0.0, 300.0, 2.0)
    noise = 0.02 * np.random.default_rng(1).standard_normal(len(t_s))
    slow, quick = (
        fit_step(t_s, 22.0 - 9.0 * np.expm1(-np.maximum(t_s - 31.0, 0.0) / tau) + noise)
        for tau in (40.0, 12.0)
    )
    assert compare_air_flow(slow, quick).verdict == "not moving"
    assert compare_air_flow(quick, quick, slow).verdict == "moving"
    by_interval = compare_air_flow(slow.interval("tau_s"), quick)
    assert by_interval.probability == compare_air_flow(slow, quick).probability
    still, moving = (
        dissipation_factor([1e-4, 5e-3], [20.0, 20.0 + 5e-3 / d], u_t_k=0.02, medium="still air")
        for d in (1e-3, 3e-3)
    )
    assert compare_air_flow(still, moving).verdict == "not moving"
    with pytest.raises(InputError, match="cannot be compared"):
        compare_air_flow(slow, moving)


def test_a_verdict_has_no_truth_value() -> None:
    with pytest.raises(TypeError, match="compare"):
        bool(compare_air_flow(RUNNING, RUNNING, quantity="time constant"))


@pytest.mark.parametrize(
    ("arguments", "settings", "words"),
    [
        ((RUNNING, RUNNING), {}, "say what the values are"),
        ((RUNNING, STOPPED, RUNNING), {"quantity": "time constant"}, "exchanged"),
        (((-1.0, 0.1), RUNNING), {"quantity": "time constant"}, "above 0"),
        (((12.0, -0.1), RUNNING), {"quantity": "time constant"}, "at least 0"),
        ((12.0, RUNNING), {"quantity": "time constant"}, "pair of value"),
        ((RUNNING, RUNNING), {"quantity": "time constant", "least_ratio": 1.0}, "above 1"),
        ((RUNNING, RUNNING, STOPPED), {"quantity": "time constant", "least_ratio": 3}, "leave"),
        (((12.0, 0.0),) * 2, {"quantity": "time constant", "repeatability_pct": 0}, "uncertain"),
    ],
)
def test_comparisons_that_make_no_sense(
    arguments: tuple[Any, ...], settings: dict[str, Any], words: str
) -> None:
    with pytest.raises(InputError, match=words):
        compare_air_flow(*arguments, **settings)


def test_an_interval_of_a_time_is_a_time_constant() -> None:
    known = Interval(12.0, 0.3, 11.4, 12.6, 0.95, np.inf, "s", "record")
    assert compare_air_flow(known, known).quantity == "time constant"


def test_a_sensor_far_quicker_than_the_record_is_questioned() -> None:
    """A bare bead is quick in air that stands still too."""
    flow = compare_air_flow((1.0, 0.01), RUNNING, STOPPED, quantity="time constant")
    assert flow.verdict == "moving" and "same kind of sensor" in str(flow)
    near = compare_air_flow((10.0, 0.1), RUNNING, STOPPED, quantity="time constant")
    assert "same kind of sensor" not in str(near)


def test_a_fan_does_not_move_water() -> None:
    water = dissipation_factor([1e-4, 5e-3], [20.0, 21.0], u_t_k=0.02, medium="stirred water")
    with pytest.raises(InputError, match="measured was found in stirred water"):
        compare_air_flow(water, (5e-3, 1e-4))


def test_a_probability_is_never_rounded_to_a_certainty() -> None:
    sure = compare_air_flow((40.0, 0.1), RUNNING, STOPPED, quantity="time constant")
    assert "probability above 99.9 %" in sure.reason
    vague = compare_air_flow((22.0, 12.0), RUNNING, STOPPED, quantity="time constant")
    assert f"air moves {100.0 * vague.probability:.1f} %" in vague.reason


def test_who_looks_after_a_fan_that_stands_still_is_cautioned() -> None:
    for measured, cautioned in ((12.5, False), (38.0, True), (22.0, True)):
        flow = compare_air_flow((measured, 0.3), RUNNING, STOPPED, quantity="time constant")
        assert ("Isolate the power" in str(flow)) == cautioned
