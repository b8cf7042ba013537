"""Batches of fits: the numbers and the reasons of the one-by-one path, for all at once."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.batches import SAME, alone_or_why, spied
from thermofit.equations.bent_beta import BentBeta
from thermofit.equations.catalogue import equation as named
from thermofit.equations.log_polynomial import LogPolynomial
from thermofit.errors import FitError, InputError, UnknownNameError
from thermofit.estimate import Fit, ManyFits, ManyPoints, fit_many
from thermofit.units import T0_K, ZERO_C_K

EQUATIONS = [
    "beta", "bent-beta-4", "steinhart-hart", "log-polynomial-2", "log-polynomial-4",
    "log-polynomial-5", "inverse-polynomial-3", "inverse-polynomial-4",
]  # fmt: skip
UNCERTAINTIES = ["none", "thermometer", "meter", "both"]


def measured(rng: np.random.Generator, t_c: Any, noise: float = 3e-4) -> Any:
    """Resistances of invented sensors of glasshouse controllers, one in each row of t_c."""
    t_c = np.asarray(t_c)
    u = 1.0 / (t_c + ZERO_C_K) - 1.0 / T0_K
    r25_ohm = np.exp(rng.uniform(np.log(1e3), np.log(1e5), len(t_c)))[:, np.newaxis]
    b_k = rng.uniform(3300.0, 4300.0, len(t_c))[:, np.newaxis]
    return r25_ohm * np.exp(b_k * (u - 50.0 * u**2) + rng.normal(0.0, noise, u.shape))


def batch(seed: int, sensors: int, count: int, stated: str) -> ManyPoints:
    rng = np.random.default_rng(seed)
    t_c = np.linspace(-10.0, 95.0, count) + rng.uniform(-3.0, 3.0, (sensors, count))
    r_ohm = measured(rng, t_c)
    return ManyPoints(
        t_c,
        r_ohm,
        u_t_k=rng.uniform(0.02, 0.2, t_c.shape) if stated in ("thermometer", "both") else None,
        u_r_ohm=r_ohm * rng.uniform(5e-4, 3e-3, t_c.shape) if stated in ("meter", "both") else None,
    )


def assert_same(many: ManyFits, place: int, alone: Fit) -> None:
    """A row of a batch says what the fit by itself says."""
    assert place not in many.errors
    curve = many.curve(many.sensors.tolist()[place])
    t_c = np.linspace(curve.t_min_c, curve.t_max_c, 7)
    np.testing.assert_allclose(curve.resistance(t_c), alone.curve.resistance(t_c), rtol=SAME)
    c = np.asarray(alone.coefficients)
    assert curve.equation == alone.equation
    # A coefficient counts by what it is worth in the plane at the cold end.
    x = np.log(alone.points.r_ohm.max())
    if alone.equation.explicit == "resistance":
        x = 1.0 / (alone.points.t_c.min() + ZERO_C_K)
    worth = alone.equation.gradient(np.array([x]), c)[:, 0] / alone.equation.fitted_scale(c)
    assert np.abs((many.coefficients[place] - c) * worth).max() <= SAME * abs(
        alone.equation.value(np.array([x]), c)[0]
    )
    if alone.covariance is None:
        assert np.isnan(many.covariance[place]).all()
    else:
        u = np.sqrt(np.diag(alone.covariance))
        # Uncertainties that come from the scatter are known no better than it: a temperature
        # near 300 K has a last digit of 6e-14 K.
        same = SAME if alone.sigma is not None else SAME + 1e-12 / alone.rms_k
        np.testing.assert_allclose(
            many.covariance[place] / np.outer(u, u),
            alone.covariance / np.outer(u, u),
            atol=2.0 * same,
        )
        np.testing.assert_allclose(many.standard_uncertainties[place], u, rtol=same)
    rows = many.residuals_k[place] if many.residuals_k.ndim == 2 else None
    if rows is not None:
        np.testing.assert_allclose(rows, alone.residuals_k, atol=SAME)
    assert many.rms_k[place] == pytest.approx(alone.rms_k, abs=SAME)
    assert many.max_abs_k[place] == pytest.approx(alone.max_abs_k, abs=SAME)
    assert many.dof[place] == alone.dof
    assert many.curve_dof[place] == alone.curve.dof
    assert many.points[place] == len(alone.points)
    # °C went through kelvin and back.
    assert curve.t_min_c == pytest.approx(alone.curve.t_min_c, abs=1e-12)
    assert curve.t_max_c == pytest.approx(alone.curve.t_max_c, abs=1e-12)
    assert curve.range_basis == alone.curve.range_basis
    for mine, theirs in ((many.chi2, alone.chi2), (many.p_value, alone.p_value)):
        wanted = np.nan if theirs is None else theirs
        assert mine[place] == pytest.approx(wanted, rel=SAME, abs=SAME, nan_ok=True)


def points_of(columns: dict[str, list[float]]) -> tf.Points:
    return tf.Points(columns["t_c"], columns["r_ohm"], columns["u_t_k"])


@pytest.fixture
def by_itself(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Places of the sensors that went by themselves."""
    return spied(monkeypatch)


# -- the numbers are those of the one-by-one path -----------------------------------


@pytest.mark.parametrize("stated", UNCERTAINTIES)
@pytest.mark.parametrize("equation", EQUATIONS)
@pytest.mark.parametrize("spare", [0, 1, 5])
def test_a_batch_says_what_each_fit_says(equation: str, stated: str, spare: int) -> None:
    terms = len(named(equation).coefficients)
    points = batch(terms + spare, 4, terms + spare, stated)
    many = fit_many(points, equation)
    for place in range(len(points)):
        assert_same(many, place, tf.fit(points.points(place), equation))


@pytest.mark.parametrize("equation", EQUATIONS)
def test_usual_sensors_take_the_quick_path(equation: str, by_itself: list[int]) -> None:
    points = batch(1, 50, 8, "both")
    fit_many(points, equation)
    assert by_itself == []


def test_three_points_take_the_quick_path(by_itself: list[int]) -> None:
    fit_many(batch(2, 500, 3, "both"))
    assert by_itself == []


@settings(max_examples=25)
@given(
    seed=st.integers(0, 2**32 - 1),
    counts=st.lists(st.integers(1, 7), min_size=1, max_size=6),
    equation=st.sampled_from(["beta", "steinhart-hart", "log-polynomial-3"]),
    stated=st.sampled_from(UNCERTAINTIES),
    noise=st.sampled_from([0.0, 3e-4, 1e-2, 0.3]),
    minimise=st.sampled_from(["temperature", "resistance"]),
)
def test_ragged_shuffled_frames_say_what_each_fit_says(
    seed: int, counts: list[int], equation: str, stated: str, noise: float, minimise: Any
) -> None:
    rng = np.random.default_rng(seed)
    frames = []
    for place, count in enumerate(counts):
        t_c = rng.uniform(-20.0, 100.0, (1, count)).round(2)
        r_ohm = measured(rng, t_c, noise)[0]
        frame = pd.DataFrame({"sensor": f"s{place}", "t_c": t_c[0], "r_ohm": r_ohm})
        if stated in ("thermometer", "both"):
            frame["u_t_k"] = rng.uniform(0.02, 0.2, count)
        if stated in ("meter", "both"):
            frame["u_r_ohm"] = r_ohm * rng.uniform(5e-4, 3e-3, count)
        frames.append(frame)
    frame = pd.concat(frames).sample(frac=1.0, random_state=seed % 2**31)
    many = fit_many(ManyPoints.from_frame(frame), equation, minimise=minimise)
    rows = fit_many(frame, equation, minimise=minimise).set_index("sensor")
    assert list(rows.index) == list(dict.fromkeys(frame["sensor"]))
    for place, name in enumerate(many.sensors):
        own = tf.Points.from_frame(frame[frame["sensor"] == name].drop(columns="sensor"))
        alone = alone_or_why(lambda own=own: tf.fit(own, equation, minimise=minimise))  # type: ignore[misc]
        if isinstance(alone, str):
            assert many.errors[place] == alone == rows["error"][name]
            assert rows.loc[name, ["rms_k", "t_min_c"]].isna().all()
            continue
        assert_same(many, place, alone)
        np.testing.assert_allclose(
            many.residuals_k[(frame["sensor"] == name).to_numpy()], alone.residuals_k, atol=SAME
        )
        assert rows["rms_k"][name] == many.rms_k[place]


@settings(max_examples=40)
@given(
    ends=st.tuples(st.floats(-40.0, 60.0), st.floats(1.0, 80.0)),
    middle=st.floats(0.05, 0.95),
    error=st.floats(-0.3, 0.3),
    r25_ohm=st.sampled_from([0.5, 3.0, 1e3, 1e6]),
)
def test_three_points_of_any_bend_say_what_the_fit_says(
    ends: tuple[float, float], middle: float, error: float, r25_ohm: float
) -> None:
    # Around 1 Ω the points lie on both sides of ln R = 0, where the cubic has its saddle.
    t_c = np.array([ends[0], ends[0] + middle * ends[1], ends[0] + ends[1]])
    r_ohm = r25_ohm * np.exp(3900.0 * (1.0 / (t_c + ZERO_C_K) - 1.0 / T0_K))
    r_ohm[1] *= 1.0 + error
    points = ManyPoints(t_c, r_ohm[np.newaxis], u_t_k=0.05, u_r_ohm=2e-3 * r_ohm)
    many = fit_many(points)
    alone = alone_or_why(lambda: tf.fit(points.points(0), "steinhart-hart"))
    if isinstance(alone, str):
        assert many.errors == {0: alone}
    else:
        assert_same(many, 0, alone)


def test_settings_that_are_given_hold_for_all() -> None:
    points = batch(3, 4, 6, "thermometer")
    form = LogPolynomial(3, 10e3)
    many = fit_many(points, form)
    assert (many.settings["r_ref_ohm"] == 10e3).all()
    for place in range(4):
        assert_same(many, place, tf.fit(points.points(place), form))


@pytest.mark.parametrize("middle_ohm", [1000.0, 1234.5, 99950.0, 0.9996, 1e3 * (1 - 1e-16), 123.5])
def test_each_sensor_has_its_own_reference_resistance_to_three_digits(middle_ohm: float) -> None:
    t_c = [0.0, 20.0, 40.0, 60.0]
    u = 1.0 / (np.array(t_c) + ZERO_C_K) - 1.0 / T0_K
    r_ohm = np.exp(4000.0 * u)
    r_ohm *= middle_ohm / np.sqrt(r_ohm[0] * r_ohm[-1])
    points = ManyPoints(t_c, [r_ohm, 7.0 * r_ohm])
    many = fit_many(points, "log-polynomial-3")
    alone = [tf.fit(points.points(place), "log-polynomial-3").equation for place in range(2)]
    assert many.settings["r_ref_ohm"].tolist() == [form.settings["r_ref_ohm"] for form in alone]


def test_reference_resistances_round_as_texts_do() -> None:
    # Half a digit in binary is a little more or less: 0.1235 is 0.12349999….
    u = 1.0 / (np.array([0.0, 20.0, 60.0, 80.0]) + ZERO_C_K) - 1.0 / T0_K
    r_ohm = np.exp(4000.0 * u)
    r_ohm *= 0.1235 / np.sqrt(r_ohm[0] * r_ohm[-1])
    rows = r_ohm * (1.0 + 1e-16 * np.arange(-20, 20))[:, np.newaxis]
    found = fit_many(ManyPoints([0.0, 20.0, 60.0, 80.0], rows), "log-polynomial-3")
    wanted = [LogPolynomial(3).for_points(np.log(row)).r_ref_ohm for row in rows]
    assert set(wanted) == {0.123, 0.124}
    assert found.settings["r_ref_ohm"].tolist() == wanted


def test_equations_that_are_not_polynomials_go_one_by_one() -> None:
    points = batch(4, 3, 6, "thermometer")
    many = fit_many(points, "shifted-exponential")
    for place in range(3):
        assert_same(many, place, tf.fit(points.points(place), "shifted-exponential"))
    platinum = tf.Curve.callendar_van_dusen(r0_ohm=100.0)
    t_c = np.array([0.0, 50.0, 100.0])
    rising = fit_many(ManyPoints(t_c, [platinum.resistance(t_c)]), "callendar-van-dusen")
    assert rising.curve(0).resistance(25.0) == pytest.approx(platinum.resistance(25.0), rel=1e-9)


def test_error_in_resistance_is_made_small_where_that_is_asked() -> None:
    points = batch(5, 3, 7, "none")
    many = fit_many(points, "beta", minimise="resistance")
    for place in range(3):
        assert_same(many, place, tf.fit(points.points(place), "beta", minimise="resistance"))
    exact = batch(5, 3, 2, "meter")
    same = fit_many(exact, "beta", minimise="resistance")
    for place in range(3):
        assert_same(same, place, tf.fit(exact.points(place), "beta", minimise="resistance"))


# -- a sensor that fails stops nobody else -------------------------------------------

GOOD = {"t_c": [0.0, 25.0, 60.0], "r_ohm": [32650.0, 10000.0, 2488.0], "u_t_k": [0.1, 0.1, 0.1]}
BAD: dict[str, dict[str, list[Any]]] = {
    "a missing resistance": {"r_ohm": [32650.0, np.nan, 2488.0]},
    "a missing temperature": {"t_c": [np.nan, 25.0, 60.0]},
    "a missing uncertainty": {"u_t_k": [0.1, np.nan, 0.1]},
    "an infinite uncertainty": {"u_t_k": [np.inf, np.inf, np.inf]},
    "a negative uncertainty": {"u_t_k": [0.1, 0.1, -0.1]},
    "no uncertainty at one point": {"u_t_k": [0.1, 0.0, 0.1]},
    "a negative resistance": {"r_ohm": [32650.0, 10000.0, -2488.0]},
    "no resistance": {"r_ohm": [32650.0, 10000.0, 0.0]},
    "an infinite resistance": {"r_ohm": [np.inf, 10000.0, 2488.0]},
    "an infinite temperature": {"t_c": [0.0, 25.0, np.inf]},
    "below absolute zero": {"t_c": [-300.0, 25.0, 60.0]},
    "columns that are swapped": {"t_c": [32650.0, 10000.0, 2488.0], "r_ohm": [1.0, 25.0, 60.0]},
    "one resistance": {"r_ohm": [10000.0, 10000.0, 10000.0]},
    "a resistance that rises": {"r_ohm": [2488.0, 10000.0, 32650.0]},
    "a reversal in the middle": {"r_ohm": [32650.0, 40000.0, 2488.0]},
    "a curve that turns": {"r_ohm": [32650.0, 2700.0, 2488.0]},
    "one temperature twice": {"t_c": [0.0, 25.0, 25.0]},
    "temperatures close together": {"t_c": [25.0, 25.00001, 25.00002],
                                    "r_ohm": [10000.0, 9999.9, 9999.6]},
    "all below absolute zero": {"t_c": [-1273.0, -1173.0, -1073.0]},
    "hotter than any sensor": {"t_c": [0.0, 25.0, 1600.0], "r_ohm": [32650.0, 10000.0, 100.0]},
    "a curve that turns at the cold end": {"r_ohm": [32650.0, 3640.0, 2488.0]},
    "next to no change": {"r_ohm": [10000.0, 9999.9, 9999.76]},
    "hardly any change": {"r_ohm": [10000.0, 9999.999999, 9999.999998]},
}  # fmt: skip


@pytest.mark.parametrize("bad", BAD)
@pytest.mark.parametrize(
    "equation", ["steinhart-hart", "log-polynomial-3", "inverse-polynomial-3", "beta"]
)
def test_a_sensor_that_fails_says_why_and_stops_nobody_else(bad: str, equation: str) -> None:
    sensors = {"first": GOOD, "bad": GOOD | BAD[bad], "last": GOOD}
    frame = pd.concat(
        pd.DataFrame({"sensor": name, **columns}) for name, columns in sensors.items()
    )
    rows = fit_many(frame, equation).set_index("sensor")
    assert rows["error"]["first"] == rows["error"]["last"] == ""
    # Of two equal sensors neither takes notice of the one between them.
    first, last = (rows.iloc[[place]].reset_index(drop=True) for place in (0, 2))
    pd.testing.assert_frame_equal(first, last)
    alone = alone_or_why(lambda: tf.fit(points_of(GOOD | BAD[bad]), equation))
    if isinstance(alone, str):
        assert rows["error"]["bad"] == alone
        assert rows.loc["bad"].drop(["n", "equation", "dof", "error"]).isna().all()
    else:
        assert rows["error"]["bad"] == ""
        assert rows["rms_k"]["bad"] == pytest.approx(alone.rms_k, abs=SAME)


@pytest.mark.parametrize(
    ("b", "c", "ln_r"),
    [
        pytest.param(-5e-5, 2e-4, [1.0, 0.2, -1.0], id="between the points, at 1 Ω"),
        pytest.param(3e-4, -2e-5, [1.0, -1.0, -3.0], id="at the hot end, below 1 Ω"),
        pytest.param(3e-4, -2e-5, [3.0, 1.0, -1.0], id="at the cold end"),
    ],
)
def test_a_cubic_that_turns_among_its_points_is_left_to_the_fit(
    b: float, c: float, ln_r: list[float], by_itself: list[int]
) -> None:
    x = np.array(ln_r)
    t_c = 1.0 / (3.4e-3 + b * x + c * x**3) - ZERO_C_K
    assert (np.diff(t_c) > 0.0).all()
    points = ManyPoints(t_c, [np.exp(x), np.exp(x) * 1.0001], u_t_k=0.01)
    many = fit_many(points)
    assert by_itself == [0, 1]
    alone = alone_or_why(lambda: tf.fit(points.points(0), "steinhart-hart"))
    assert many.errors.get(0, "") == (alone if isinstance(alone, str) else "")


def test_a_trend_counts_by_the_points_and_not_by_their_weights() -> None:
    # The two that are well known fall; all together they rise, as with swapped readings.
    t_c = [0.0, 2.0, 3.0, 4.0, 56.0, 57.0, 58.0, 60.0]
    r_ohm = [30e3, 2600.0, 2610.0, 2620.0, 29e3, 29.1e3, 29.2e3, 2500.0]
    u_t_k = [0.5, *[100.0] * 6, 0.5]
    points = ManyPoints(t_c, [r_ohm], u_t_k=u_t_k)
    many = fit_many(points, "beta")
    assert "the resistance rises" in many.errors[0]
    assert many.errors[0] == alone_or_why(lambda: tf.fit(points.points(0), "beta"))


def test_unequal_weights_cost_no_digits() -> None:
    points = batch(14, 5, 6, "none")
    uneven = ManyPoints(points.t_c, points.r_ohm, u_t_k=[1e-4, 1.0, 1e-4, 1.0, 1e-4, 1.0])
    many = fit_many(uneven, "log-polynomial-4")
    for place in range(5):
        assert_same(many, place, tf.fit(uneven.points(place), "log-polynomial-4"))


def test_too_few_points_fail_in_their_own_row() -> None:
    frame = pd.DataFrame({"sensor": [1, 1, 2, 2, 2], "t_c": [0.0, 50, 0, 25, 60],
                          "r_ohm": [32650.0, 3600, 32650, 10000, 2488]})  # fmt: skip
    rows = fit_many(frame)
    assert rows["n"].tolist() == [2, 3]
    assert "2 points cannot determine" in rows["error"][0] and rows["error"][1] == ""


def test_a_cell_that_is_no_number_fails_in_its_own_row() -> None:
    frame = pd.concat([pd.DataFrame({"sensor": name, **GOOD}) for name in "ab"], ignore_index=True)
    frame["r_ohm"] = frame["r_ohm"].astype(object)
    frame.loc[1, "r_ohm"] = "10k"
    rows = fit_many(frame)
    assert rows["error"].tolist() == ["point 2: r_ohm = '10k' is not a number", ""]


def test_a_sensor_that_failed_has_no_curve() -> None:
    many = fit_many(ManyPoints([0.0, 25.0, 60.0], [[1.0, 2.0, 3.0], [32650.0, 10000.0, 2488.0]]))
    assert list(many.errors) == [0]
    with pytest.raises(FitError, match="sensor 0 has no curve: the resistance rises"):
        many.curve(0)
    with pytest.raises(UnknownNameError, match="called 'inlet'"):
        many.curve("inlet")
    assert "1 without a curve" in repr(many)


# -- order does not matter -------------------------------------------------------------


@settings(max_examples=20)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(3, 6))
def test_the_order_of_rows_and_of_sensors_does_not_matter(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    t_c = rng.uniform(0.0, 90.0, (4, count)).round(0)
    t_c[0, 1] = t_c[0, 0]
    frame = pd.DataFrame({
        "sensor": np.repeat(np.arange(4), count),
        "t_c": t_c.ravel(),
        "r_ohm": measured(rng, t_c).ravel(),
    })  # fmt: skip
    order = rng.permutation(len(frame))
    rows = fit_many(frame, "log-polynomial-3", u_t_k=0.1).set_index("sensor")
    shuffled = fit_many(frame.iloc[order], "log-polynomial-3", u_t_k=0.1).set_index("sensor")
    # The same to the last bit: points are sorted before anything is computed.
    told = ["n", "a0", "cov_22", "rms_k", "chi2", "t_min_c"]
    good = rows["error"] == ""
    assert (good == (shuffled.loc[rows.index, "error"] == "")).all()
    pd.testing.assert_frame_equal(rows.loc[good, told], shuffled.loc[rows.index[good], told])


def test_arrays_may_have_their_points_in_any_order() -> None:
    points = batch(6, 5, 7, "both")
    turned = ManyPoints(
        points.t_c[:, ::-1], points.r_ohm[:, ::-1], points.u_t_k[:, ::-1],  # type: ignore[index]
        points.u_r_ohm[:, ::-1],  # type: ignore[index]
    )  # fmt: skip
    one, other = (fit_many(p, "log-polynomial-4") for p in (points, turned))
    np.testing.assert_array_equal(one.coefficients, other.coefficients)
    np.testing.assert_array_equal(one.residuals_k, other.residuals_k[:, ::-1])


# -- how points come in ----------------------------------------------------------------


def test_baths_that_all_sensors_shared_need_to_be_given_once() -> None:
    rng = np.random.default_rng(7)
    t_c = [0.0, 30.0, 70.0]
    r_ohm = measured(rng, np.broadcast_to(t_c, (4, 3)))
    short = fit_many(ManyPoints(t_c, r_ohm, u_t_k=[0.05, 0.1, 0.2], u_r_ohm=3.0))
    u_t_k = np.tile([0.05, 0.1, 0.2], (4, 1))
    full = fit_many(ManyPoints(np.tile(t_c, (4, 1)), r_ohm, u_t_k, np.full((4, 3), 3.0)))
    np.testing.assert_array_equal(short.coefficients, full.coefficients)
    np.testing.assert_array_equal(short.covariance, full.covariance)


def test_what_is_given_is_kept_though_the_callers_arrays_change() -> None:
    r_ohm = np.array([[32650.0, 10000.0, 2488.0]])
    points = ManyPoints([0.0, 25.0, 60.0], r_ohm)
    r_ohm[0, 0] = 1.0
    assert points.r_ohm[0, 0] == 32650.0
    with pytest.raises(ValueError, match="read-only"):
        points.r_ohm[0, 0] = 1.0


@pytest.mark.parametrize(
    ("given_t_c", "given_r_ohm", "told"),
    [
        ([0.0, 25.0], [1.0, 2.0], "two dimensions"),
        ([0.0, 25.0, 60.0], [[2.0, 1.0]], r"t_c of shape \(3,\) does not go with .* \(1, 2\)"),
        ([0.0, 25.0], [["3k", "1k"]], "r_ohm must be an array of numbers"),
        ([0.0, 25.0], [[2.0, 1.0], [1.0]], "r_ohm must be an array of numbers"),
        ([True, False], [[2.0, 1.0]], "t_c must be an array of numbers"),
    ],
)
def test_arrays_that_do_not_go_together_are_refused(
    given_t_c: Any, given_r_ohm: Any, told: str
) -> None:
    with pytest.raises(InputError, match=told):
        ManyPoints(given_t_c, given_r_ohm)


def test_missing_columns_are_named() -> None:
    frame = pd.DataFrame({"sensor": ["a"], "T": [0.0], "R": [32650.0]})
    with pytest.raises(InputError, match="no column 't_c' and no 'r_ohm', only 'sensor', 'T', 'R'"):
        fit_many(frame)
    frame = pd.DataFrame({"part": ["a"], "t_c": [0.0], "r_ohm": [32650.0]})
    with pytest.raises(InputError, match=r"no column 'sensor'.*sensor=…"):
        fit_many(frame)


def test_columns_that_cannot_be_meant_are_refused() -> None:
    frame = pd.DataFrame({"sensor": ["a"], "t_c": [0.0], "r_ohm": [32650.0], "u_t_k": [0.1]})
    twice = pd.concat([frame, frame[["t_c"]]], axis=1)
    with pytest.raises(InputError, match="2 columns 't_c'"):
        fit_many(twice)
    with pytest.raises(InputError, match="'t_c' of the frame has dates or times"):
        fit_many(frame.assign(t_c=pd.to_datetime(["2024-05-01"])))
    with pytest.raises(InputError, match="'r_ohm' of the frame has truth values"):
        fit_many(frame.assign(r_ohm=[True]))
    with pytest.raises(InputError, match="row 1 of the frame does not name its sensor"):
        fit_many(frame.assign(sensor=[np.nan]))
    with pytest.raises(InputError, match="states its own u_t_k"):
        fit_many(frame, u_t_k=0.1)
    with pytest.raises(InputError, match=r"u_r_ohm of shape \(3,\) does not go with 1 rows"):
        fit_many(frame, u_r_ohm=[1.0, 2.0, 3.0])


def test_nullable_columns_and_other_names_are_read() -> None:
    rows = [pd.DataFrame({"part": name, **GOOD}) for name in ("inlet", "outlet")]
    frame = pd.concat(rows, ignore_index=True)
    wanted = fit_many(frame, sensor="part")
    nullable = frame.convert_dtypes(dtype_backend="numpy_nullable")
    found = fit_many(nullable, sensor="part")
    assert found.columns[0] == "part"
    pd.testing.assert_frame_equal(found, wanted, check_dtype=False)
    nullable.loc[4, "r_ohm"] = pd.NA
    assert fit_many(nullable, sensor="part")["error"].tolist() == ["", "point 2: r_ohm = nan is not finite"]  # noqa: E501  # fmt: skip


@pytest.mark.parametrize("columns", [{}, {"u_t_k": []}])
def test_a_frame_without_rows_gives_one_without_rows(columns: dict[str, Any]) -> None:
    full = fit_many(pd.DataFrame({"sensor": "a", **GOOD}))
    empty = pd.DataFrame({"sensor": [], "t_c": [], "r_ohm": [], **columns})
    for frame in (empty, empty.astype(object)):
        rows = fit_many(frame)
        assert len(rows) == 0
        assert list(rows.columns) == list(full.columns)
    none = fit_many(ManyPoints(np.empty((0, 3)), np.empty((0, 3))))
    assert none.coefficients.shape == (0, 3)
    assert none.covariance.shape == (0, 3, 3)


def test_other_calls_are_refused() -> None:
    points = batch(8, 2, 3, "none")
    with pytest.raises(InputError, match="name it"):
        fit_many(points, "auto")
    with pytest.raises(InputError, match="minimise must be one of"):
        fit_many(points, minimise="kelvin")  # type: ignore[call-overload]
    with pytest.raises(UnknownNameError, match="steinhart-hart"):
        fit_many(points, "steinhart-heart")
    with pytest.raises(InputError, match="not as Points"):
        fit_many(points.points(0))  # type: ignore[call-overload]
    with pytest.raises(InputError, match="state their uncertainties themselves"):
        fit_many(points, u_t_k=0.1)  # type: ignore[call-overload]


# -- what comes out ---------------------------------------------------------------------


def test_a_row_has_everything_that_makes_a_curve() -> None:
    points = batch(9, 3, 6, "both")
    frame = fit_many(points, "log-polynomial-3").to_frame()
    assert list(frame.columns) == [
        "sensor", "n", "equation", "r_ref_ohm", "a0", "a1", "a2", "u_a0", "u_a1", "u_a2",
        "cov_00", "cov_10", "cov_11", "cov_20", "cov_21", "cov_22", "rms_k", "max_abs_k", "chi2",
        "dof", "p_value", "t_min_c", "t_max_c", "error",
    ]  # fmt: skip
    alone = tf.fit(points.points(1), "log-polynomial-3")
    row, covariance = frame.loc[1], alone.covariance
    assert covariance is not None
    assert row["a1"] == pytest.approx(alone.coefficients["a1"], rel=SAME)
    assert row["u_a2"] == pytest.approx(np.sqrt(covariance[2, 2]), rel=SAME)
    assert row["cov_21"] == pytest.approx(covariance[2, 1], rel=1e-8)
    assert row["equation"] == "log-polynomial-3" and row["n"] == 6


def test_curves_of_a_batch_go_into_a_curve_set(tmp_path: Path) -> None:
    names = ["inlet", "outlet"]
    frame = pd.concat([pd.DataFrame({"sensor": name, **GOOD}) for name in names])
    many = fit_many(ManyPoints.from_frame(frame))
    tf.write_curve_set(tmp_path / "shop.csv", [many.curve(name) for name in names])
    read = tf.read_curve_set(tmp_path / "shop.csv")
    assert read.ids == ("inlet", "outlet")
    assert read["outlet"] == many.curve("outlet")


def test_one_sensor_is_a_batch() -> None:
    many = fit_many(ManyPoints.from_frame(pd.DataFrame({"sensor": "a", **GOOD})))
    assert len(many) == 1
    assert_same(many, 0, tf.fit(points_of(GOOD), "steinhart-hart"))


def test_blocks_do_not_disturb_each_other() -> None:
    # More sensors than a block holds: each is the same as in a batch of its own.
    points = batch(10, 10_000, 3, "both")
    many = fit_many(points)
    assert not many.errors
    for place in (0, 4095, 4096, 8191, 8192, 9999):
        assert_same(many, place, tf.fit(points.points(place), "steinhart-hart"))
    more = batch(11, 9000, 9, "thermometer")
    ones = fit_many(more, "log-polynomial-4")
    for place in (0, 4095, 4096, 8999):
        assert_same(ones, place, tf.fit(more.points(place), "log-polynomial-4"))


def test_results_are_read_only() -> None:
    many = fit_many(batch(12, 2, 3, "both"))
    for array in (many.coefficients, many.covariance, many.rms_k, many.residuals_k, many.t_min_c):
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0


def test_a_bent_beta_is_known_by_its_terms() -> None:
    points = batch(13, 2, 8, "both")
    assert fit_many(points, "bent-beta-5").curve(0).equation == BentBeta(5)
