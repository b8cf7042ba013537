"""A plan foretells the band of the fit, and ranks baths as a trial of all of them would."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.budget import Budget, Contribution
from thermofit.decide import plan
from thermofit.decide.planning import Choice, Plan
from thermofit.families import bend_prior

Array = npt.NDArray[np.float64]

R25 = 10e3
METER = tf.Meter.parse("0.8%+3 @4k/1; 0.8%+3 @40k/10; 0.8%+3 @400k/100")
THERMOMETER = tf.Thermometer.parse("0.5C/0.1C")
ICE = tf.ice_point()
KETTLE = tf.boiling_water(pressure_hpa=1005.0, probe="steam")
BENCH = [ICE, *(tf.stirred_bath(t, THERMOMETER, uniformity_k=0.2) for t in (25, 50, 75)), KETTLE]

temperatures = st.floats(-30.0, 115.0)
uncertainties = st.floats(0.01, 2.0)
pairs = st.tuples(temperatures, uncertainties)


def some_pairs(least: int, most: int) -> st.SearchStrategy[list[tuple[float, float]]]:
    return st.lists(pairs, min_size=least, max_size=most, unique_by=lambda pair: round(pair[0], 2))


def fitted(choice: Choice) -> tf.Fit:
    """Fit of the readings of a choice as they are expected."""
    return tf.characterise(list(choice.readings))


def simulated(choice: Choice, rng: np.random.Generator) -> tf.Fit:
    """Fit of readings at the planned temperatures, with errors drawn from their budgets."""
    drawn: dict[str, float] = {}

    def error(budget: Budget) -> float:
        total = 0.0
        for part in budget.contributions:
            e = float(rng.standard_normal())
            total += part.effect * (drawn.setdefault(part.shared, e) if part.shared else e)
        return total

    readings = []
    for one in choice.readings:
        # The bath is not where it is said to be, and the meter shows not what is there.
        r_ohm = bend_prior().curve(R25).resistance(one.temperature.value - error(one.temperature))
        r_ohm *= 1.0 + error(one.resistance) / one.resistance.value
        readings.append(tf.Reading(one.bath, METER.measure(r_ohm)))
    return tf.characterise(readings)


def u_of(fit: tf.Fit, t_c: Array) -> Array:
    """Standard uncertainty of a fitted curve in kelvin."""
    u: Array = fit.temperature(fit.curve.resistance(t_c)).standard_uncertainty
    return u


# What is foretold, and what then comes


@pytest.mark.parametrize("points", [1, 2, 3, 4, 5])
def test_the_band_is_that_of_the_fit_on_exact_readings(points: int) -> None:
    p = plan(BENCH, METER, r25_ohm=R25, counts=points)
    for choice in p.choices:
        fit = fitted(choice)
        interval = fit.temperature(fit.curve.resistance(choice.t_c))
        np.testing.assert_allclose(choice.u_k, interval.standard_uncertainty, rtol=1e-6)
        half = 0.5 * (interval.high - interval.low)
        np.testing.assert_allclose(choice.half_width_k, half, rtol=1e-6)


@pytest.mark.parametrize("seed", range(8))
def test_the_best_bands_are_those_of_fits_on_noisy_readings_within_2_percent(seed: int) -> None:
    rng = np.random.default_rng(seed)
    p = plan(BENCH, METER, r25_ohm=R25)
    for choice in map(p.best, p.counts):
        fit = simulated(choice, rng)
        assert fit.prior is not None and not fit.prior.conflict
        u_k = u_of(fit, choice.t_c)
        assert u_k.max() == pytest.approx(choice.u_k.max(), rel=0.02)
        assert u_k.mean() == pytest.approx(choice.u_k.mean(), rel=0.02)


def test_everywhere_the_band_is_that_of_noisy_fits_on_average_within_2_percent() -> None:
    # A single fit has the slope that its noise gives it, which is off by up to 3 % at the ends.
    rng = np.random.default_rng(2)
    for choice in plan(BENCH, METER, r25_ohm=R25).choices:
        fits = [simulated(choice, rng) for _ in range(12)]
        agreeing = [fit for fit in fits if fit.prior is not None and not fit.prior.conflict]
        assert len(agreeing) >= 10
        average = np.mean([u_of(fit, choice.t_c) for fit in agreeing], axis=0)
        np.testing.assert_allclose(choice.u_k, average, rtol=0.02)


@given(some_pairs(1, 4), st.floats(0.02, 2.0), st.integers(0, 2**32 - 1))
@settings(max_examples=30)
def test_a_sensor_of_another_material_is_foretold_by_its_curve(
    baths: list[tuple[float, float]], u_r_pct: float, seed: int
) -> None:
    # Drawn from the prior, so that its B may be a thousand kelvin from the mean.
    try:
        curve = bend_prior().draw(np.random.default_rng(seed), r25_ohm=R25)
    except tf.NotMonotoneError:
        assume(False)
    (choice,) = plan(baths, u_r_pct=u_r_pct, sensor=curve, counts=len(baths)).choices
    fit = fitted(choice)
    assume(fit.prior is not None and not fit.prior.conflict)
    assume(fit.curve.t_min_c <= 0.0 and fit.curve.t_max_c >= 100.0)
    np.testing.assert_allclose(choice.u_k, u_of(fit, choice.t_c), rtol=1e-5)


def test_a_family_is_foretold_by_its_curve_and_the_rough_r25_by_its_ratios() -> None:
    family = tf.family("ntc-10k-3977")
    whole = plan(BENCH, METER, sensor=family)
    np.testing.assert_allclose(whole.best(2).u_k, u_of(fitted(whole.best(2)), whole.best(2).t_c))
    read = [one.resistance.value for one in whole.readings]
    np.testing.assert_allclose(read, family.curve.resistance([b.t_c for b in BENCH]), rtol=1e-12)
    half = plan(BENCH, METER, sensor=family, r25_ohm=5e3)
    ratios = family.curve.resistance([b.t_c for b in BENCH]) / family.curve.resistance(25.0)
    np.testing.assert_allclose(
        [one.resistance.value for one in half.readings], 5e3 * ratios, rtol=1e-12
    )


def test_a_mean_of_few_readings_has_the_wider_band_of_its_degrees_of_freedom() -> None:
    bath = tf.stirred_bath([69.0, 70.0, 71.5], THERMOMETER, uniformity_k=0.2)
    choice = plan([ICE, bath], METER, r25_ohm=R25, counts=2).choices[0]
    fit = fitted(choice)
    assert choice.prediction.dof == pytest.approx(fit.curve.dof, rel=1e-6) and fit.curve.dof < 10.0
    interval = fit.temperature(fit.curve.resistance(choice.t_c))
    np.testing.assert_allclose(choice.half_width_k, 0.5 * (interval.high - interval.low), rtol=1e-6)


def test_a_meter_that_was_checked_is_foretold_with_its_check() -> None:
    checked = METER.checked_on(10e3, 10050.0, tolerance_pct=0.1)
    choice = plan(BENCH, checked, r25_ohm=R25).best(3)
    assert choice.largest_k < plan(BENCH, METER, r25_ohm=R25).best(3).largest_k
    ohms = [one.resistance.value for one in choice.readings]
    np.testing.assert_allclose(ohms, bend_prior().curve(R25).resistance(choice.baths_c), rtol=1e-12)
    np.testing.assert_allclose(choice.u_k, u_of(fitted(choice), choice.t_c), rtol=1e-6)


def test_the_contributions_are_those_of_the_fit() -> None:
    choice = plan(BENCH, METER, r25_ohm=R25).best(3)
    parts = choice.contributions
    assert parts.t_c.tolist() == [0.0, 25.0, 50.0, 75.0, 100.0]
    theirs = fitted(choice).contributions(parts.t_c)
    assert dict(zip(parts.names, parts.u_k.tolist(), strict=True)) == {
        name: pytest.approx(row, rel=1e-6, abs=1e-9)
        for name, row in zip(theirs.names, theirs.u_k.tolist(), strict=True)
    }
    assert parts.u_k.max(axis=1).tolist() == sorted(parts.u_k.max(axis=1), reverse=True)
    # The prediction's own root and the sum of what it is made of are two ways to one number.
    whole = choice.contributions_at(choice.t_c)
    np.testing.assert_allclose(whole.standard_uncertainty_k, choice.u_k, rtol=1e-6)


def test_one_thermometer_is_one_error_for_all_baths() -> None:
    apart = [
        tf.stirred_bath(
            t, tf.Thermometer.parse("0.5C/0.1C", name=f"thermometer {t}"), uniformity_k=0.2
        )
        for t in (25, 50, 75)
    ]
    one, three = (plan(baths, u_r_pct=0.1, counts=3).choices[0] for baths in (BENCH[1:4], apart))
    assert one.half_width_at(50.0) > 1.3 * three.half_width_at(50.0)
    assert one.dominating == "thermometer accuracy"


# The ranking


@pytest.mark.parametrize("by", ["largest", "mean"])
@pytest.mark.parametrize("t_range_c", [(0.0, 100.0), (-20.0, 40.0)])
def test_the_best_choice_is_the_best_of_all_that_are_tried(
    by: str, t_range_c: tuple[float, float]
) -> None:
    p = plan(BENCH, METER, r25_ohm=R25, by=by, t_range_c=t_range_c)  # type: ignore[arg-type]
    curve = bend_prior().curve(R25)
    t_c = np.linspace(*t_range_c, 101)
    for points in (1, 2, 3, 4):
        tried = {}
        for baths in combinations(BENCH, points):
            readings = [tf.Reading(b, METER.measure(curve.resistance(b.t_c))) for b in baths]
            u = u_of(tf.characterise(readings), t_c)
            tried[tuple(b.t_c for b in baths)] = 1.959964 * float(
                u.max() if by == "largest" else u.mean()
            )
        best = min(tried, key=lambda key: tried[key])
        assert p.best(points).baths_c == best
        ranked = [c for c in p.choices if len(c.readings) == points]
        value = [c.largest_k if by == "largest" else c.mean_k for c in ranked]
        assert value == sorted(value) and len(value) == len(tried)
        assert value[0] == pytest.approx(tried[best], rel=1e-5)


def test_two_baths_of_equal_uncertainty_belong_far_apart() -> None:
    p = plan([(t, 0.1) for t in (0, 20, 40, 60, 80, 99)], u_r_pct=0.2)
    low, high = p.best(2).baths_c
    assert high - low >= 60.0
    # Ice and boiling water, the range being that from the one to the other.
    exact = plan([(t, 0.02) for t in (0, 25, 50, 75, 100)], u_r_pct=0.02, by="largest")
    assert exact.best(3).baths_c == (0.0, 50.0, 100.0)
    assert plan(BENCH, METER, r25_ohm=R25).best(2).baths_c == (ICE.t_c, KETTLE.t_c)


def test_baths_belong_where_the_range_is() -> None:
    baths = [(t, 0.1) for t in (-20, 0, 20, 40, 60, 80, 100)]
    cold = plan(baths, u_r_pct=0.2, t_range_c=(-30, 10)).best(1).baths_c[0]
    hot = plan(baths, u_r_pct=0.2, t_range_c=(60, 120)).best(1).baths_c[0]
    assert cold <= 0.0 and hot >= 80.0


# Laws


@given(some_pairs(1, 4), pairs, st.floats(0.01, 2.0))
@settings(max_examples=60)
def test_one_more_reading_widens_the_band_nowhere(
    baths: list[tuple[float, float]], more: tuple[float, float], u_r_pct: float
) -> None:
    assume(more not in baths)
    p = plan(baths, u_r_pct=u_r_pct, counts=len(baths))
    extra = p.extra(more, choice=len(baths))
    assert (extra.after.u_k <= extra.before.u_k * (1.0 + 1e-6)).all()
    assert extra.after.baths_c == tuple(sorted([*extra.before.baths_c, more[0]]))


@given(some_pairs(1, 4), st.data(), st.floats(0.0, 1.0))
@settings(max_examples=60)
def test_less_of_one_contribution_widens_the_band_nowhere(
    baths: list[tuple[float, float]], data: st.DataObject, factor: float
) -> None:
    def bench(scale: float, which: int) -> list[Budget]:
        return [
            Budget(t, "°C", [
                Contribution("own", u * (scale if place == which else 1.0), k=1.0),
                Contribution("thermometer", 0.3 * (scale if which < 0 else 1.0), shared="one"),
            ])
            for place, (t, u) in enumerate(baths)
        ]  # fmt: skip

    which = data.draw(st.integers(-1, len(baths) - 1))  # −1: the thermometer of all of them
    n = len(baths)
    more = plan(bench(1.0, which), u_r_pct=0.1, counts=n).best(n)
    less = plan(bench(factor, which), u_r_pct=0.1, counts=n).best(n)
    assert (less.u_k <= more.u_k * (1.0 + 1e-6)).all()


@given(st.permutations(BENCH), some_pairs(2, 5), st.randoms())
@settings(max_examples=20)
def test_the_order_of_the_baths_is_no_matter(
    shuffled: list[tf.Bath], baths: list[tuple[float, float]], random: object
) -> None:
    def table(p: Plan) -> list[object]:
        return [(c.baths_c, c.u_k.tolist()) for c in p.choices]

    assert table(plan(shuffled, METER, r25_ohm=R25)) == table(plan(BENCH, METER, r25_ohm=R25))
    assert table(plan(baths[::-1], u_r_pct=0.3)) == table(plan(baths, u_r_pct=0.3))


@given(temperatures, uncertainties, st.floats(1.01, 5.0), st.floats(0.01, 2.0))
@settings(max_examples=40)
def test_two_baths_at_one_temperature_are_no_better_than_one_without_error(
    t_c: float, u_t_k: float, worse: float, u_r_pct: float
) -> None:
    both = plan([(t_c, u_t_k), (t_c, worse * u_t_k)], u_r_pct=u_r_pct).best(2)
    exact = plan([(t_c, 1e-6)], u_r_pct=1e-6).best(1)
    assert (both.u_k >= exact.u_k * (1.0 - 1e-6)).all()
    # They weigh as one reading of their weighted mean.
    slope = -bend_prior().curve(R25).alpha(t_c)
    weights = [1.0 / ((u * slope) ** 2 + (u_r_pct / 100) ** 2) for u in (u_t_k, worse * u_t_k)]
    mean = plan([(t_c, sum(weights) ** -0.5 / slope)], u_r_pct=0.0).best(1)
    np.testing.assert_allclose(both.u_k, mean.u_k, rtol=1e-5)


@given(some_pairs(2, 4), st.floats(0.01, 2.0), st.floats(1e2, 1e6))
@settings(max_examples=20)
def test_without_a_meter_r25_is_no_matter(
    baths: list[tuple[float, float]], u_r_pct: float, r25_ohm: float
) -> None:
    one = plan(baths, u_r_pct=u_r_pct, counts=2)
    other = plan(baths, u_r_pct=u_r_pct, counts=2, r25_ohm=r25_ohm)
    np.testing.assert_allclose(one.best(2).u_k, other.best(2).u_k, rtol=1e-6)


# One more bath, and what is handed out


def test_an_extra_point_brings_what_a_plan_with_it_has() -> None:
    p = plan([ICE, KETTLE], METER, r25_ohm=R25)
    middle = tf.stirred_bath(50.0, THERMOMETER, uniformity_k=0.2)
    extra = p.extra(middle)
    assert extra.before is p.best(2)
    with_it = plan([ICE, middle, KETTLE], METER, r25_ohm=R25).best(3)
    np.testing.assert_allclose(extra.after.u_k, with_it.u_k, rtol=1e-12)
    assert extra.after.largest_k < 0.8 * extra.before.largest_k
    assert (extra.t_c, extra.u_t_k) == (50.0, middle.u_t_k)
    to_one = p.extra(middle, choice=1)
    assert to_one.before is p.best(1) and to_one.after.baths_c == (50.0, KETTLE.t_c)
    assert p.extra(middle, choice=p.choices[1]).after.baths_c == (0.0, 50.0)
    # Where two were not compared, the fewest that were are taken.
    assert plan([ICE, KETTLE], METER, r25_ohm=R25, counts=1).extra(middle).before.baths_c == (
        KETTLE.t_c,
    )


def test_an_extra_point_is_as_uncertain_as_the_nearest_bath_and_shares_its_thermometer() -> None:
    p = plan(BENCH[:3], u_r_pct=0.05)
    extra = p.extra(70.0)
    assert extra.u_t_k == pytest.approx(BENCH[2].u_t_k, rel=1e-12)
    with_it = plan([*BENCH[:3], tf.stirred_bath(70, THERMOMETER, uniformity_k=0.2)], u_r_pct=0.05)
    three = p.extra(70.0, choice=3).after
    np.testing.assert_allclose(three.u_k, with_it.best(4).u_k, rtol=1e-9)
    assert p.extra(2.0).u_t_k == pytest.approx(ICE.u_t_k, rel=1e-12)
    assert p.extra(70.0, 0.01).u_t_k == pytest.approx(0.01, rel=1e-12)
    # Halfway between two, the less certain one counts.
    assert plan([(40, 0.1), (60, 0.3)], u_r_pct=0.1).extra().u_t_k == pytest.approx(0.3)


def test_a_choice_says_where_its_band_is_widest_and_how_wide_anywhere() -> None:
    choice = plan(BENCH, METER, r25_ohm=R25, t_range_c=(-20, 60)).best(2)
    assert choice.t_c[0] == -20.0 and choice.t_c[-1] == 60.0
    assert choice.half_width_at(choice.largest_at_c) == pytest.approx(choice.largest_k)
    np.testing.assert_allclose(choice.half_width_at(choice.t_c), choice.half_width_k)
    assert choice.half_width_at([[0.0, 20.0]]).shape == (1, 2)
    assert choice.largest_k == choice.half_width_k.max() >= choice.mean_k
    assert choice.mean_k == pytest.approx(choice.half_width_k.mean())
    np.testing.assert_allclose(choice.half_width_k / choice.u_k, 1.959964, rtol=1e-6)
    wider = plan(BENCH, METER, r25_ohm=R25, t_range_c=(-20, 60), coverage=0.99).best(2)
    np.testing.assert_allclose(wider.half_width_k / wider.u_k, 2.575829, rtol=1e-6)
    with pytest.raises(ValueError, match="read-only"):
        choice.half_width_k[0] = 0.0


def test_the_frame_has_a_row_for_each_choice() -> None:
    p = plan(BENCH, METER, r25_ohm=R25)
    frame = p.to_frame()
    assert frame["points"].value_counts().to_dict() == {1: 5, 2: 10, 3: 10, 4: 5}
    first = frame[frame["points"] == 3].iloc[0]
    best = p.best(3)
    assert first["baths_c"] == best.baths_c and first["largest_k"] == best.largest_k
    assert first["largest_at_c"] == best.largest_at_c and first["mean_k"] == best.mean_k
    assert first["dominating"] == best.dominating
    assert first["at_50_c_k"] == pytest.approx(best.half_width_at(50.0))


def test_twelve_baths_are_compared_up_to_four_at_a_time() -> None:
    p = plan([(t, 0.2) for t in range(0, 96, 8)], u_r_pct=0.3)
    assert p.counts == (1, 2, 3, 4) and len(p.choices) == 12 + 66 + 220 + 495
    largest = [p.best(n).largest_k for n in p.counts]
    assert largest == sorted(largest, reverse=True)
