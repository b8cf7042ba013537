"""Many sensors with the families' prior: the numbers and the reasons of `characterise`."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.batches import SAME, alone_or_why, spied
from thermofit.errors import FitError, InputError
from thermofit.estimate import Fit, ManyFits, ManyPoints, Prior
from thermofit.families import bend_prior
from thermofit.families.characterising_many import characterise_many

SHARED: list[dict[str, Any]] = [
    {},
    {"shared_u_t_k": 0.05},
    {"shared_u_r_pct": 0.1},
    {"shared_u_t_k": 0.05, "shared_u_r_pct": 0.1},
]


def readings(seed: int, sensors: int, count: int) -> ManyPoints:
    """Invented readings of materials drawn from the prior, in baths from 0 to 75 °C."""
    rng = np.random.default_rng(seed)
    t_c = np.linspace(0.0, 75.0, count) + rng.uniform(-2.0, 2.0, (sensors, count))
    rows = []
    for row in t_c:
        curve = bend_prior().draw(rng, r25_ohm=float(np.exp(rng.uniform(7.0, 11.0))))
        rows.append(curve.resistance(row + rng.normal(0.0, 0.03, count)))
    r_ohm = np.array(rows)
    u_t_k = rng.uniform(0.06, 0.2, t_c.shape)
    return ManyPoints(t_c, r_ohm, u_t_k, r_ohm * rng.uniform(1.2e-3, 4e-3, t_c.shape))


def assert_same(many: ManyFits, place: int, alone: Fit) -> None:
    """A row of a batch says what characterising by itself says."""
    assert place not in many.errors
    curve, prior = many.curve(many.sensors.tolist()[place]), alone.prior
    assert prior is not None and alone.covariance is not None
    assert curve.equation == alone.equation
    assert (curve.t_min_c, curve.t_max_c) == pytest.approx(
        (alone.curve.t_min_c, alone.curve.t_max_c), abs=1e-12
    )
    assert curve.range_basis == alone.curve.range_basis
    t_c = np.linspace(curve.t_min_c, curve.t_max_c, 9)
    np.testing.assert_allclose(curve.resistance(t_c), alone.curve.resistance(t_c), rtol=SAME)
    u = np.sqrt(np.diag(alone.covariance))
    np.testing.assert_allclose(
        (many.coefficients[place] - np.asarray(alone.coefficients)) / u, 0.0, atol=SAME
    )
    np.testing.assert_allclose(
        many.covariance[place] / np.outer(u, u), alone.covariance / np.outer(u, u), atol=SAME
    )
    holds = alone.curve.t_min_c <= 25.0 and alone.curve.t_max_c >= 85.0
    b_25_85_k = alone.curve.b_25_85_k if holds else np.nan
    assert many.b_25_85_k[place] == pytest.approx(b_25_85_k, rel=SAME, nan_ok=True)
    assert many.chi2[place] == pytest.approx(alone.chi2, rel=SAME, abs=SAME)
    wanted = np.nan if alone.p_value is None else alone.p_value
    assert many.p_value[place] == pytest.approx(wanted, rel=1e-9, abs=SAME, nan_ok=True)
    assert many.rms_k[place] == pytest.approx(alone.rms_k, abs=SAME, nan_ok=True)
    assert many.max_abs_k[place] == pytest.approx(alone.max_abs_k, abs=SAME, nan_ok=True)
    assert many.dof[place] == alone.dof
    assert many.widened is not None
    assert many.widened[place] == pytest.approx(prior.widened, rel=SAME)
    assert many.conflict[place] == prior.conflict


@pytest.fixture
def by_itself(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Places of the sensors that went by themselves."""
    return spied(monkeypatch)


# -- the numbers are those of the one-by-one path ------------------------------------


@pytest.mark.parametrize("shared", SHARED)
@pytest.mark.parametrize("count", [1, 2, 3, 6])
def test_a_batch_says_what_characterising_each_says(count: int, shared: dict[str, Any]) -> None:
    points = readings(count, 8, count)
    many = characterise_many(points, **shared)
    for place in range(len(points)):
        assert_same(many, place, tf.characterise(points.points(place), **shared))


@pytest.mark.parametrize("shared", SHARED)
@pytest.mark.parametrize("count", [1, 2, 5])
def test_usual_sensors_take_the_quick_path(
    count: int, shared: dict[str, Any], by_itself: list[int]
) -> None:
    points = readings(20, 60, count)
    many = characterise_many(points, **shared)
    agreeing = [place for place in range(len(points)) if not many.p_value[place] < 0.01]
    assert len(agreeing) > 50
    assert not set(agreeing) & set(by_itself)


@pytest.mark.parametrize("axis", ["u_t_k", "u_r_ohm"])
def test_one_axis_may_be_exact(axis: str) -> None:
    points = readings(3, 5, 2)
    u = {"u_t_k": 0.1} if axis == "u_t_k" else {"u_r_ohm": 3e-3 * points.r_ohm}
    given_points = ManyPoints(points.t_c, points.r_ohm, **u)
    many = characterise_many(given_points)
    for place in range(5):
        assert_same(many, place, tf.characterise(given_points.points(place)))


def test_a_prior_of_ones_own_is_used() -> None:
    prior = Prior([3.9, -0.16], [[0.16, 0.002], [0.002, 0.001]], (-20.0, 100.0), "two lots")
    points = readings(4, 5, 2)
    many = characterise_many(points, prior=prior)
    for place in range(5):
        assert_same(many, place, tf.characterise(points.points(place), prior=prior))
    assert many.equation.name == "bent-beta-3"


@settings(max_examples=20)
@given(
    seed=st.integers(0, 2**32 - 1),
    counts=st.lists(st.integers(1, 4), min_size=1, max_size=5),
    noise=st.sampled_from([0.0, 0.1, 3.0, 40.0]),
    shared=st.sampled_from(SHARED),
)
def test_ragged_shuffled_frames_say_what_characterising_each_says(
    seed: int, counts: list[int], noise: float, shared: dict[str, Any]
) -> None:
    rng = np.random.default_rng(seed)
    curve = tf.family("ntc-10k-3977").curve
    frames = []
    for place, count in enumerate(counts):
        t_c = rng.uniform(-10.0, 100.0, count).round(1)
        r_ohm = curve.resistance(np.clip(t_c + rng.normal(0.0, noise, count), -40.0, 125.0))
        columns = {"sensor": place, "t_c": t_c, "r_ohm": r_ohm, "u_t_k": 0.1}
        frames.append(pd.DataFrame(columns).assign(u_r_ohm=3e-3 * r_ohm))
    frame = pd.concat(frames).sample(frac=1.0, random_state=seed % 2**31)
    many = characterise_many(ManyPoints.from_frame(frame), **shared)
    rows = characterise_many(frame, **shared).set_index("sensor")
    for place, name in enumerate(many.sensors):
        own = tf.Points.from_frame(frame[frame["sensor"] == name].drop(columns="sensor"))
        alone = alone_or_why(lambda own=own: tf.characterise(own, **shared))  # type: ignore[misc]
        if isinstance(alone, str):
            assert many.errors[place] == alone == rows["error"][name]
            continue
        assert_same(many, place, alone)
        assert rows["r25_ohm"][name] == many.coefficients[place, 0]
        assert alone.prior is not None
        p = alone.prior.p_value
        assert rows["note"][name] == (alone.warnings[0] if p is not None and p < 0.01 else "")


def test_order_of_rows_and_of_sensors_does_not_matter() -> None:
    points = readings(5, 6, 3)
    frame = pd.DataFrame({
        "sensor": np.repeat([f"s{place}" for place in range(6)], 3), "t_c": points.t_c.ravel(),
        "r_ohm": points.r_ohm.ravel(),
    }).assign(u_t_k=0.1)  # fmt: skip
    rows = characterise_many(frame).set_index("sensor")
    turned = characterise_many(frame.iloc[::-1]).set_index("sensor")
    assert list(turned.index) == [f"s{place}" for place in reversed(range(6))]
    pd.testing.assert_frame_equal(rows, turned.loc[rows.index])


def test_blocks_do_not_disturb_each_other() -> None:
    few = readings(6, 100, 2)
    assert few.u_t_k is not None and few.u_r_ohm is not None
    many_points = ManyPoints(
        np.tile(few.t_c, (100, 1)), np.tile(few.r_ohm, (100, 1)), np.tile(few.u_t_k, (100, 1)),
        np.tile(few.u_r_ohm, (100, 1)),
    )  # fmt: skip
    one, all_of_them = characterise_many(few), characterise_many(many_points)
    np.testing.assert_array_equal(all_of_them.coefficients, np.tile(one.coefficients, (100, 1)))
    np.testing.assert_array_equal(all_of_them.triangle, np.tile(one.triangle, 100))


# -- a sensor that fails, or disagrees, stops nobody else ------------------------------

GOOD = {"t_c": [0.0, 60.0], "r_ohm": [32600.0, 2480.0], "u_t_k": [0.1, 0.1]}
BAD: dict[str, dict[str, list[float]]] = {
    "a missing resistance": {"r_ohm": [np.nan, 2480.0]},
    "a missing uncertainty": {"u_t_k": [0.1, np.nan]},
    "a negative uncertainty": {"u_t_k": [-0.1, 0.1]},
    "no uncertainty": {"u_t_k": [0.1, 0.0]},
    "one resistance": {"r_ohm": [32600.0, 32600.0]},
    "a resistance that rises": {"r_ohm": [2480.0, 32600.0]},
    "a temperature that no sensor stands": {"t_c": [0.0, 2480.0]},
    "below absolute zero": {"t_c": [-280.0, 60.0]},
    "uncertainties too small for a number": {"u_t_k": [1e-170, 1e-170]},
    "tiny uncertainties": {"u_t_k": [1e-9, 1e-9]},
    "both readings at one temperature": {"t_c": [25.0, 25.0], "r_ohm": [10020.0, 10000.0]},
    "two that disagree at one temperature": {"t_c": [25.0, 25.0], "r_ohm": [12000.0, 10000.0]},
    "°F that were read as °C": {"t_c": [32.0, 140.0]},
    "a slip of the decimal point": {"r_ohm": [326000.0, 2480.0]},
    "readings beyond the prior": {"t_c": [0.0, 180.0], "r_ohm": [32600.0, 130.0]},
    "a flat material": {"r_ohm": [1000.0, 990.0]},
}


@pytest.mark.parametrize("bad", BAD)
def test_a_sensor_that_fails_says_why_and_stops_nobody_else(bad: str) -> None:
    sensors = {"first": GOOD, "bad": GOOD | BAD[bad], "last": GOOD}
    frame = pd.concat(
        pd.DataFrame({"sensor": name, **columns}) for name, columns in sensors.items()
    )
    many = characterise_many(ManyPoints.from_frame(frame))
    rows = many.to_frame().set_index("sensor")
    assert rows["error"]["first"] == rows["error"]["last"] == ""
    first, last = (rows.iloc[[place]].reset_index(drop=True) for place in (0, 2))
    pd.testing.assert_frame_equal(first, last)
    columns = GOOD | BAD[bad]
    alone = alone_or_why(
        lambda: tf.characterise(tf.Points(columns["t_c"], columns["r_ohm"], columns["u_t_k"]))
    )
    if isinstance(alone, str):
        assert rows["error"]["bad"] == alone
        kept = ["n", "equation", "dof", "conflict", "note", "error"]
        assert rows.loc["bad"].drop(kept).isna().all()
    else:
        assert_same(many, 1, alone)


def test_readings_that_do_not_bend_like_an_ntc_are_marked() -> None:
    # 47 kΩ by a slip of the prefix at the second point.
    frame = pd.DataFrame({
        "sensor": ["right", "right", "wrong", "wrong"], "t_c": [0.0, 60.0] * 2,
        "r_ohm": [32600.0, 2480.0, 32600.0, 248.0],
    })  # fmt: skip
    rows = characterise_many(frame, u_t_k=0.1)
    assert rows["conflict"].tolist() == [False, True]
    assert rows["widened"][0] == 1.0 and rows["widened"][1] > 1.0
    assert rows["p_value"][1] < 0.01 < rows["p_value"][0]
    assert "do not bend as" in rows["note"][1] and rows["note"][0] == ""


def test_a_shared_part_larger_than_the_whole_fails_where_it_is() -> None:
    frame = pd.DataFrame({
        "sensor": ["a", "a", "b", "b"], "t_c": [0.0, 60.0] * 2, "r_ohm": [32600.0, 2480.0] * 2,
        "u_t_k": [0.2, 0.2, 0.2, 0.05], "u_r_ohm": [100.0, 10.0, 100.0, 10.0],
    })  # fmt: skip
    rows = characterise_many(frame, shared_u_t_k=0.1)
    assert rows["error"][0] == ""
    assert "shared_u_t_k is a part of the uncertainty of every point" in rows["error"][1]


def test_a_curve_that_turns_beyond_the_readings_is_valid_among_them_only() -> None:
    # A prior that leaves the bend open, and invented readings that bend far upwards.
    prior = Prior([3.9, 0.0], [[0.16, 0.0], [0.0, 9.0]], origin="a prior of any bend")
    t_c = np.array([-20.0, 10.0, 40.0])
    u = 1e3 * (1.0 / (t_c + 273.15) - 1.0 / 298.15)
    points = ManyPoints(t_c, [1e4 * np.exp(3.9 * u + 3.0 * u**2)], u_t_k=0.05)
    many = characterise_many(points, prior=prior)
    assert_same(many, 0, tf.characterise(points.points(0), prior=prior))
    assert (many.t_min_c[0], many.t_max_c[0]) == (-20.0, 40.0)
    assert not many.stated_range[0] and np.isnan(many.b_25_85_k[0])


def test_an_error_that_all_readings_share_is_felt_in_full() -> None:
    # All of 0.1 K shared: the mean of four readings at 25 °C is no better known than one.
    t_c = [24.0, 25.0, 26.0, 25.5]
    curve = tf.family("ntc-10k-3977").curve
    points = ManyPoints(t_c, [curve.resistance(np.array(t_c))], u_t_k=0.1)
    u = [characterise_many(points, shared_u_t_k=shared) for shared in (0.0, 0.1)]
    assert u[1].standard_uncertainties[0, 0] > 1.9 * u[0].standard_uncertainties[0, 0]
    assert_same(u[1], 0, tf.characterise(points.points(0), shared_u_t_k=0.1))


# -- calls ------------------------------------------------------------------------------


def test_readings_without_uncertainties_are_refused_as_a_whole() -> None:
    frame = pd.DataFrame({"sensor": ["a"], "t_c": [0.0], "r_ohm": [32600.0]})
    with pytest.raises(FitError, match="none were given: state u_t_k, or u_r_ohm"):
        characterise_many(frame)


def test_shared_parts_that_are_none_are_refused() -> None:
    points = readings(7, 1, 2)
    wrong: list[dict[str, Any]] = [{"shared_u_t_k": -0.1}, {"shared_u_r_pct": np.nan}]
    for shared in wrong:
        with pytest.raises(InputError, match="must not be negative"):
            characterise_many(points, **shared)


def test_missing_columns_are_named_and_no_rows_are_no_rows() -> None:
    with pytest.raises(InputError, match="no column 'r_ohm'"):
        characterise_many(pd.DataFrame({"sensor": ["a"], "t_c": [0.0]}), u_t_k=0.1)
    full = characterise_many(pd.DataFrame({"sensor": "a", **GOOD}))
    empty = characterise_many(pd.DataFrame({"sensor": [], "t_c": [], "r_ohm": [], "u_t_k": []}))
    assert len(empty) == 0 and list(empty.columns) == list(full.columns)


def test_other_columns_may_name_the_sensor() -> None:
    frame = pd.DataFrame({"part": ["a", "a"], "t_c": GOOD["t_c"], "r_ohm": GOOD["r_ohm"]})
    rows = characterise_many(frame, sensor="part", u_t_k=[0.05, 0.2], u_r_ohm=3.0)
    alone = tf.characterise(tf.Points(GOOD["t_c"], GOOD["r_ohm"], [0.05, 0.2], 3.0))
    assert rows["part"].tolist() == ["a"]
    assert rows["b_k"][0] == pytest.approx(alone.coefficients["b_k"], rel=SAME)
