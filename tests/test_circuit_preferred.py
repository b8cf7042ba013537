"""Preferred numbers, and the fixed resistor that serves a range best."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.circuit import ConstantCurrent, Converter, Divider, best_pull, preferred_values
from thermofit.errors import InputError

BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
DIVIDER = Divider(pullup_ohm=1e3, pull_pct=1.0, supply_v=5.0, converter=Converter(bits=10))

# IEC 60063, from memory.
E12 = [10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82]
E24 = [10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30,
       33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91]  # fmt: skip
E48 = [100, 105, 110, 115, 121, 127, 133, 140, 147, 154, 162, 169, 178, 187, 196, 205,
       215, 226, 237, 249, 261, 274, 287, 301, 316, 332, 348, 365, 383, 402, 422, 442,
       464, 487, 511, 536, 562, 590, 619, 649, 681, 715, 750, 787, 825, 866, 909, 953]  # fmt: skip
E96_BETWEEN = [102, 107, 113, 118, 124, 130, 137, 143, 150, 158, 165, 174, 182, 191, 200, 210,
               221, 232, 243, 255, 267, 280, 294, 309, 324, 340, 357, 374, 392, 412, 432, 453,
               475, 499, 523, 549, 576, 604, 634, 665, 698, 732, 768, 806, 845, 887, 931,
               976]  # fmt: skip


# -- preferred numbers ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("series", "decade"),
    [
        ("E3", [100, 220, 470]), ("E6", [100, 150, 220, 330, 470, 680]),
        ("E12", [10 * v for v in E12]), ("E24", [10 * v for v in E24]), ("E48", E48),
        ("E96", sorted(E48 + E96_BETWEEN)),
    ],
)  # fmt: skip
def test_the_series_of_the_standard(series: Any, decade: list[int]) -> None:
    assert preferred_values(series, 100.0, 999.9).tolist() == decade


def test_nine_twenty_of_e192() -> None:
    """The one value of E192 that the formula does not give, 9.20; from memory."""
    values = preferred_values("E192", 100.0, 999.9)
    assert values.size == 192 and 920.0 in values and 919.0 not in values
    assert set(preferred_values("E96", 100.0, 999.9)) < set(values)


def test_e24_is_not_the_formula() -> None:
    by_formula = np.rint(10.0 * 10.0 ** (np.arange(24) / 24.0))
    assert np.count_nonzero(by_formula != np.array(E24)) == 8


@given(
    st.sampled_from(["E3", "E6", "E12", "E24", "E48", "E96", "E192"]),
    st.floats(1e-2, 1e6), st.floats(1.0, 1e4),
)  # fmt: skip
def test_values_lie_within_their_limits_and_all_decades_are_alike(
    series: Any, low: float, ratio: float
) -> None:
    values = preferred_values(series, low, low * ratio)
    assert ((values >= low) & (values <= low * ratio)).all()
    assert (np.diff(values) > 0.0).all()
    tenfold = preferred_values(series, 10.0 * low, 10.0 * low * ratio)
    assert abs(tenfold.size - values.size) <= 1  # a limit may round onto a value
    # Nothing is left out: neighbours are no further apart than the series allows.
    count = int(series[1:])
    assert (values[1:] / values[:-1] < 10.0 ** (1.0 / count) * 1.08).all()


def test_values_are_those_that_a_person_writes() -> None:
    assert preferred_values("E24", 4.7, 4.7).tolist() == [4.7]
    assert preferred_values("E96", 0.0475, 0.0475).tolist() == [0.0475]
    assert preferred_values("E96", 4.75e6, 4.75e6).tolist() == [4.75e6]
    assert preferred_values("E24", 4.8, 5.0).size == 0


@pytest.mark.parametrize(
    ("series", "low", "high", "words"),
    [
        ("E25", 1.0, 10.0, "E24"), ("E24", 0.0, 10.0, "at least 0.001"),
        ("E24", 10.0, 1.0, "at least 10"), ("E24", 1.0, np.inf, "finite"),
        ("E24", 1.0, 1e13, "at most"),
    ],
)  # fmt: skip
def test_series_that_do_not_exist(series: Any, low: float, high: float, words: str) -> None:
    with pytest.raises(InputError, match=words):
        preferred_values(series, low, high)


# -- the best fixed resistor ----------------------------------------------------------


def coarsest_k(pull_ohm: float, low_c: float, high_c: float) -> float:
    t_c = np.linspace(low_c, high_c, 500)
    return float(DIVIDER.with_pull(pull_ohm).kelvin_per_count(BETA, t_c).max())


def test_at_one_temperature_the_best_resistor_is_that_of_the_sensor() -> None:
    """dV/dT = V_s·P·R·α/(P + R)² is largest where P = R."""
    best = best_pull(DIVIDER, BETA, (19.99, 20.01), values=None, minimise="resolution")
    assert best.pull_ohm == pytest.approx(BETA.resistance(20.0), rel=2e-3)


@settings(max_examples=20)
@given(st.floats(-30.0, 30.0), st.floats(10.0, 60.0))
def test_no_other_preferred_value_resolves_better(low_c: float, span_k: float) -> None:
    high_c = low_c + span_k
    best = best_pull(DIVIDER, BETA, (low_c, high_c), values="E24", minimise="resolution")
    assert best.worst_k == pytest.approx(coarsest_k(best.pull_ohm, low_c, high_c), rel=1e-2)
    for other in preferred_values("E24", 0.5 * best.pull_ohm, 2.0 * best.pull_ohm):
        assert coarsest_k(other, low_c, high_c) >= best.worst_k * (1.0 - 1e-2)
    free = best_pull(DIVIDER, BETA, (low_c, high_c), values=None, minimise="resolution")
    assert free.worst_k <= best.worst_k * (1.0 + 1e-6)


@pytest.mark.parametrize("side", ["pullup_ohm", "pulldown_ohm"])
def test_no_other_preferred_value_errs_less(side: str) -> None:
    divider = Divider(
        **{side: 1e3}, pull_pct=1.0, supply_v=5.0, leakage_limit_a=0.5e-6,  # type: ignore[arg-type]
        converter=Converter(bits=10, offset_counts=1.0),
    )  # fmt: skip
    best = best_pull(divider, BETA, (-10.0, 50.0), values="E12", r25_pct=1.0, b_pct=0.75)
    t_c = np.linspace(-10.0, 50.0, 41)
    each = {}
    for pull in preferred_values("E12", 1e3, 1e5):
        table = divider.with_pull(pull).table(BETA, t_c, r25_pct=1.0, b_pct=0.75)
        each[pull] = max(np.abs(table.low_k).max(), np.abs(table.high_k).max())
    expected = min(each, key=lambda pull: each[pull])
    assert best.pull_ohm == expected
    assert best.worst_k == pytest.approx(each[expected])
    assert best.circuit == divider.with_pull(expected)
    assert len(best.to_frame()) == best.tried_ohm.size and "best:" in str(best)


def test_any_value_does_no_worse_than_a_preferred_one() -> None:
    kwargs: dict[str, Any] = {"r25_pct": 1.0, "b_pct": 0.75}
    free = best_pull(DIVIDER, BETA, (0.0, 50.0), values=None, **kwargs)
    series: tuple[Any, ...] = ("E24", "E96")
    for values in series:
        bound = best_pull(DIVIDER, BETA, (0.0, 50.0), values=values, **kwargs)
        assert free.worst_k <= bound.worst_k * (1.0 + 1e-6)


def test_self_heating_asks_for_a_larger_resistor() -> None:
    cool = best_pull(DIVIDER, BETA, (0.0, 50.0), values="E96")
    hot = best_pull(DIVIDER, BETA, (0.0, 50.0), values="E96", dissipation_mw_per_k=1.0)
    assert hot.pull_ohm > cool.pull_ohm and hot.worst_k > cool.worst_k


@pytest.mark.parametrize("minimise", ["error", "resolution"])
def test_resistors_with_which_the_range_cannot_be_read_are_out(minimise: Any) -> None:
    coarse = DIVIDER.replace(converter=Converter(bits=6))
    best = best_pull(coarse, BETA, (0.0, 50.0), values="E6", minimise=minimise)
    for pull, worst in zip(best.tried_ohm, best.tried_k, strict=True):
        codes = coarse.with_pull(pull).counts_at(BETA, [0.0, 50.0])
        if coarse.converter.saturated(codes).any():
            assert worst == np.inf
    assert np.isinf(best.tried_k).any() and np.isfinite(best.tried_k).any()


@pytest.mark.parametrize("minimise", ["error", "resolution"])
def test_resistors_that_the_leakage_overcomes_are_out(minimise: Any) -> None:
    leaky = DIVIDER.replace(leakage_limit_a=100e-6)
    best = best_pull(leaky, BETA, (0.0, 50.0), values="E6", minimise=minimise)
    assert np.isinf(best.tried_k[best.tried_ohm >= 50e3]).all()
    leaky.with_pull(best.pull_ohm)


def test_resistors_that_let_the_sensor_heat_itself_beyond_its_curve_are_out() -> None:
    settings: dict[str, Any] = {"dissipation_mw_per_k": 0.001}
    best = best_pull(DIVIDER, BETA, (0.0, 50.0), values="E6", **settings)
    for pull, worst in zip(best.tried_ohm[::4], best.tried_k[::4], strict=True):
        try:
            DIVIDER.with_pull(pull).error_budget(BETA, np.linspace(0.0, 50.0, 41), **settings)
        except InputError:
            assert worst == np.inf
    assert np.isinf(best.tried_k[0])
    with pytest.raises(InputError, match="without settling"):
        DIVIDER.with_pull(1e3).error_budget(BETA, 50.0, **settings)


@pytest.mark.parametrize(
    ("settings", "words"),
    [
        ({"t_range_c": (50.0, 0.0)}, "from low to high"), ({"t_range_c": (0.0,)}, "pair"),
        ({"t_range_c": 20.0}, "pair"), ({"t_range_c": (20.0, 20.0)}, "two temperatures"),
        ({"minimise": "cost"}, "error or resolution"), ({"values": "E25"}, "E24"),
        ({"circuit": ConstantCurrent(current_a=1e-4, supply_v=5.0, converter=Converter(bits=10))},
         "only a Divider"),
        ({"circuit": DIVIDER.replace(converter=Converter(bits=2))}, "no fixed resistor"),
    ],
)  # fmt: skip
def test_searches_that_cannot_be(settings: dict[str, Any], words: str) -> None:
    call: dict[str, Any] = {"circuit": DIVIDER, "part": BETA, "t_range_c": (-20.0, 80.0)} | settings
    with pytest.raises(InputError, match=words):
        best_pull(call.pop("circuit"), call.pop("part"), call.pop("t_range_c"), **call)


def test_a_resistor_that_cannot_serve_has_no_figure() -> None:
    coarse = DIVIDER.replace(converter=Converter(bits=4))
    best = best_pull(coarse, BETA, (0.0, 50.0), values="E3", minimise="resolution")
    assert "cannot be read" in str(best) and "inf" not in str(best)
