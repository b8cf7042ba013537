"""Laws that every equation keeps, and what a set of numbers must satisfy."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

import thermofit as tf
from thermofit.equations import (
    BentBeta,
    Beta,
    CallendarVanDusen,
    Equation,
    InversePolynomial,
    LogPolynomial,
    ShiftedExponential,
    SteinhartHart,
    Tabulated,
    equation,
)
from thermofit.equations.branch import find_branch
from thermofit.equations.catalogue import SHIPPED_NAMES
from thermofit.errors import InputError, NotMonotoneError, UnknownNameError

# Coefficients near those of real materials, each varied by the strategies below.
EXAMPLES: list[tuple[Equation, list[float], tuple[float, float]]] = [
    (Beta(), [10e3, 3977.0], (-40.0, 125.0)),
    (BentBeta(3), [10e3, 3892.0, -1.53e5], (-40.0, 125.0)),
    (BentBeta(4), [10e3, 3892.0, -1.53e5, -3.7e6], (-40.0, 125.0)),
    (BentBeta(5), [10e3, 3892.0, -1.5e5, -3.7e6, 1e10], (-40.0, 125.0)),
    (BentBeta(6), [10e3, 3892.0, -1.5e5, -3.7e6, 1e10, -1e13], (-40.0, 125.0)),
    (BentBeta(7), [10e3, 3892.0, -1.5e5, -3.7e6, 1e10, -1e13, 1e16], (-40.0, 125.0)),
    (SteinhartHart(), [1.132e-3, 2.334e-4, 9.21e-8], (-40.0, 125.0)),
    (LogPolynomial(2, 10e3), [3.354e-3, 2.57e-4], (-40.0, 125.0)),
    (LogPolynomial(3, 10e3), [3.354e-3, 2.57e-4, 2.6e-6], (-40.0, 125.0)),
    (LogPolynomial(4, 10e3), [3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8], (-40.0, 125.0)),
    (LogPolynomial(5, 10e3), [3.354e-3, 2.57e-4, 2.6e-6, 6e-8, -2e-9], (-40.0, 125.0)),
    (InversePolynomial(2, 10e3), [-13.2, 3940.0], (-40.0, 125.0)),
    (InversePolynomial(3, 10e3), [-14.6, 4790.0, -128000.0], (-40.0, 125.0)),
    (InversePolynomial(4, 10e3), [-14.6337, 4791.842, -115334.0, -3.730535e6], (-40.0, 125.0)),
    (InversePolynomial(5, 10e3), [-14.63, 4791.8, -115334.0, -3.73e6, 1e7], (-40.0, 125.0)),
    (ShiftedExponential(), [5.6096e-3, 6181.35, 72.07], (50.0, 125.0)),
    (CallendarVanDusen(), [100.0, 3.9083e-3, -5.775e-7], (-200.0, 850.0)),
    (
        Tabulated((-40.0, 0.0, 25.0, 60.0, 125.0), (195652.0, 27219.0, 10000.0, 3014.0, 531.0)),
        [],
        (-40.0, 125.0),
    ),
]
named = pytest.mark.parametrize(
    ("form", "numbers", "t_range_c"), EXAMPLES, ids=[case[0].name for case in EXAMPLES]
)
close_to_example = st.lists(st.floats(-0.02, 0.02), min_size=7, max_size=7)


def varied(form: Equation, numbers: list[float], parts: list[float]) -> np.ndarray:
    return np.array([c * (1.0 + part) for c, part in zip(numbers, parts, strict=False)])


@named
@given(parts=close_to_example, places=st.lists(st.floats(0.0, 1.0), min_size=1, max_size=20))
def test_temperature_to_resistance_and_back(
    form: Equation,
    numbers: list[float],
    t_range_c: tuple[float, float],
    parts: list[float],
    places: list[float],
) -> None:
    curve = tf.Curve(form, varied(form, numbers, parts), *t_range_c)
    t_c = t_range_c[0] + np.array(places) * (t_range_c[1] - t_range_c[0])
    r_ohm = curve.resistance(t_c)
    np.testing.assert_allclose(curve.temperature(r_ohm), t_c, rtol=0.0, atol=1e-9)
    np.testing.assert_allclose(
        curve.resistance(np.clip(curve.temperature(r_ohm), *t_range_c)), r_ohm, rtol=1e-11
    )


@named
@given(parts=close_to_example)
def test_resistance_is_monotone_over_the_range(
    form: Equation, numbers: list[float], t_range_c: tuple[float, float], parts: list[float]
) -> None:
    curve = tf.Curve(form, varied(form, numbers, parts), *t_range_c)
    steps = np.diff(curve.resistance(np.linspace(*t_range_c, 400)))
    assert (steps < 0.0).all() or (steps > 0.0).all()
    if form.ntc:
        assert (steps < 0.0).all()


@named
@given(parts=close_to_example, place=st.floats(0.01, 0.99))
def test_slope_and_gradient_are_the_numerical_derivatives(
    form: Equation,
    numbers: list[float],
    t_range_c: tuple[float, float],
    parts: list[float],
    place: float,
) -> None:
    c = varied(form, numbers, parts)
    branch = find_branch(form, c, *t_range_c)
    t_k = t_range_c[0] + place * (t_range_c[1] - t_range_c[0]) + 273.15
    x = np.array(1.0 / t_k)
    if form.explicit == "temperature":
        x = branch.solve(form, c, x)
    h = 1e-5 * abs(float(x))
    numerical = (form.value(x + h, c) - form.value(x - h, c)) / (2.0 * h)
    # A node of a table, where the second derivative jumps, may lie within ±h.
    assert form.slope(x, c) == pytest.approx(numerical, rel=1e-4 if not len(c) else 1e-6)
    gradient = form.gradient(x, c)
    fitted = form.to_fitted(c)
    for k in range(len(c)):
        step = np.zeros(len(c))
        step[k] = 1e-5 * max(abs(fitted[k]), 1e-12)
        up, down = form.from_fitted(fitted + step), form.from_fitted(fitted - step)
        numerical = (form.value(x, up) - form.value(x, down)) / (2.0 * step[k])
        rounding = 4e-16 * abs(float(form.value(x, c))) / step[k]
        assert gradient[k] == pytest.approx(numerical, rel=1e-8, abs=rounding)


@named
def test_scalars_and_arrays_of_any_shape_agree(
    form: Equation, numbers: list[float], t_range_c: tuple[float, float]
) -> None:
    curve = tf.Curve(form, numbers, *t_range_c)
    t_c = np.linspace(*t_range_c, 24).reshape(2, 3, 4)
    r_ohm = curve.resistance(t_c)
    assert r_ohm.shape == curve.temperature(r_ohm).shape == curve.alpha(t_c).shape == t_c.shape
    single = curve.resistance(float(t_c[1, 2, 0]))
    assert isinstance(single, float)
    assert single == pytest.approx(r_ohm[1, 2, 0], rel=1e-13)
    assert isinstance(curve.temperature(single), float)
    assert curve.resistance(np.empty((0, 2))).shape == (0, 2)


@named
def test_every_equation_is_found_by_its_name_and_settings(
    form: Equation, numbers: list[float], t_range_c: tuple[float, float]
) -> None:
    if form.name != "tabulated":
        assert equation(form.name, form.settings) == form
        assert form.name in SHIPPED_NAMES


def test_unknown_equation_names_its_neighbours() -> None:
    with pytest.raises(UnknownNameError, match="steinhart-hart"):
        equation("steinhard-hart")
    with pytest.raises(UnknownNameError, match="from_table"):
        equation("tabulated")


def test_a_cubic_that_turns_within_the_range_is_refused_with_the_temperature() -> None:
    # 1/T = a + bL + cL³ turns at L² = −b/(3c); with c = −b/(3 L0²) that is L0.
    a, b, turn_l = 1.13e-3, 2.4e-4, 8.0
    c = -b / (3.0 * turn_l**2)
    turn_c = 1.0 / (a + b * turn_l + c * turn_l**3) - 273.15
    assert -40.0 < turn_c < 160.0
    with pytest.raises(NotMonotoneError, match="turns at") as caught:
        tf.Curve.steinhart_hart(a=a, b=b, c=c, t_range_c=(turn_c - 30.0, turn_c + 30.0))
    assert caught.value.turning_t_c == pytest.approx(turn_c, abs=1e-6)


def test_a_narrow_bump_between_samples_is_still_found() -> None:
    # Slope in 1/T with a double-root pair 0.02 K apart, far below any sampling step.
    low, high = 1.0 / (273.15 + 40.01), 1.0 / (273.15 + 39.99)
    scale = 1e12
    slope = scale * np.array([low * high, -(low + high), 1.0])
    numbers = [0.0, slope[0], slope[1] / 2.0, slope[2] / 3.0]
    with pytest.raises(NotMonotoneError) as caught:
        tf.Curve.inverse_polynomial(r_ref_ohm=1.0, coefficients=numbers, t_range_c=(0, 100))
    assert caught.value.turning_t_c == pytest.approx(40.0, abs=0.02)


def test_outside_its_branch_a_curve_has_no_value_rather_than_a_wrong_one() -> None:
    # The parabola in ln R turns at about 94 °C; beyond, it would come back into the range.
    curve = tf.Curve.log_polynomial(
        r_ref_ohm=10e3, coefficients=[3.354016e-3, 2.569850e-4, 2.620131e-5], t_range_c=(-40, 80)
    )
    with pytest.warns(UserWarning, match="outside"):
        beyond = curve.temperature([1.0, 10.0])
    assert np.isnan(beyond).all()
    with pytest.warns(UserWarning, match="outside"):
        assert np.isnan(curve.resistance(120.0))


@pytest.mark.parametrize(
    ("t_c", "r_ohm", "complaint"),
    [
        ([0.0], [1.0], "two nodes"),
        ([0.0, 1.0], [1.0], "as many"),
        ([0.0, 0.0], [1.0, 2.0], "not above"),
        ([0.0, float("nan")], [1.0, 2.0], "node 2"),
        ([0.0, 1.0], [1.0, -2.0], "node 2"),
        ([0.0, 1.0, 2.0], [3.0, 1.0, 2.0], "turn"),
        ([0.0, 1.0, 2.0], [3.0, 3.0, 2.0], "stand still"),
    ],
)
def test_unusable_tables_are_refused(t_c: list[float], r_ohm: list[float], complaint: str) -> None:
    with pytest.raises(InputError, match=complaint):
        Tabulated(tuple(t_c), tuple(r_ohm))


def test_table_goes_through_its_nodes_and_stays_between_neighbours() -> None:
    form = EXAMPLES[-1][0]
    assert isinstance(form, Tabulated)
    curve = tf.Curve(form, [], -40.0, 125.0)
    np.testing.assert_allclose(curve.resistance(np.array(form.t_c)), form.r_ohm, rtol=1e-14)
    for (t1, r1), (t2, r2) in zip(
        zip(form.t_c, form.r_ohm, strict=True),
        list(zip(form.t_c, form.r_ohm, strict=True))[1:],
        strict=False,
    ):
        between = curve.resistance(np.linspace(t1, t2, 50)[1:-1])
        assert ((between < r1) & (between > r2)).all()


@settings(max_examples=50)
@given(
    r_ohm=st.lists(st.floats(1.0, 1e6), min_size=2, max_size=12, unique=True),
    rising=st.booleans(),
)
def test_any_monotone_table_makes_a_monotone_curve(r_ohm: list[float], rising: bool) -> None:
    ordered = sorted(r_ohm, reverse=not rising)
    ratios = np.diff(np.log(ordered))
    assume(np.abs(ratios).min() > 1e-3)
    t_c = np.arange(len(ordered)) * 7.0
    curve = tf.Curve.from_table(t_c, ordered)
    steps = np.diff(curve.resistance(np.linspace(t_c[0], t_c[-1], 300)))
    assert (steps > 0.0).all() if rising else (steps < 0.0).all()
    # However steep beside flat the pieces are, the way back ends where it began.
    places = np.linspace(t_c[0], t_c[-1], 101)
    back = curve.temperature(curve.resistance(places), strict=True)
    np.testing.assert_allclose(back, places, rtol=0.0, atol=1e-9)


def test_slopes_that_make_a_table_turn_are_refused() -> None:
    with pytest.raises(NotMonotoneError, match="node slopes"):
        Tabulated((0.0, 10.0), (200.0, 100.0), (90000.0, 90000.0))


@pytest.mark.parametrize("terms", [0, 1, 6])
def test_polynomials_have_two_to_five_terms(terms: int) -> None:
    with pytest.raises(InputError, match="2 to 5 terms"):
        LogPolynomial(terms)


@given(
    a=st.floats(-4e-3, 4e-3), b=st.floats(-1e-5, 1e-5), low=st.floats(-150.0, 300.0),
    width=st.floats(20.0, 300.0),
)  # fmt: skip
def test_a_parabola_that_rises_inverts_on_its_rising_side(
    a: float, b: float, low: float, width: float
) -> None:
    try:
        curve = tf.Curve.callendar_van_dusen(
            r0_ohm=100.0, a=a, b=b, c=0.0, t_range_c=(low, low + width)
        )
    except NotMonotoneError:
        return
    t_c = np.linspace(low, low + width, 50)
    assert (np.diff(curve.resistance(t_c)) > 0.0).all()
    np.testing.assert_allclose(curve.temperature(curve.resistance(t_c)), t_c, rtol=0.0, atol=1e-7)


def test_platinum_does_not_fall() -> None:
    with pytest.raises(NotMonotoneError, match="does not rise"):
        tf.Curve.callendar_van_dusen(r0_ohm=100.0, a=-1e-3, b=-1e-6, t_range_c=(0, 100))


def test_a_range_that_ends_at_a_turn_is_too_flat_to_use() -> None:
    turn = 1.0 / 373.15
    with pytest.raises(NotMonotoneError, match=r"flat near 99\.9999"):
        tf.Curve.inverse_polynomial(
            r_ref_ohm=1e4, coefficients=[1e6 * turn**2, -2e6 * turn, 1e6], t_range_c=(0, 99.9999)
        )


def test_beyond_a_turn_there_is_nothing_even_within_the_slack_of_fitted_ranges() -> None:
    turn = 1.0 / 373.15
    form = InversePolynomial(3, 1e4)
    curve = tf.Curve(form, [1e6 * turn**2, -2e6 * turn, 1e6], 0.0, 99.9, range_basis="data")
    with pytest.warns(UserWarning, match=r"100\.3 °C is outside"):
        assert np.isnan(curve.resistance([99.9, 100.3])[1])
    with pytest.raises(tf.ExtrapolationError):
        curve.resistance(100.3, strict=True)


def test_a_value_at_25_degrees_beyond_the_branch_is_none() -> None:
    curve = tf.Curve.inverse_polynomial(
        r_ref_ohm=1e4, coefficients=[0.0, 2.0 / 308.15 * 1e6, -1e6], t_range_c=(40, 120)
    )
    assert np.isnan(curve.r25_ohm)
    assert np.isnan(curve.b_25_85_k)


def test_a_table_says_nothing_beyond_its_nodes() -> None:
    with pytest.raises(InputError, match="goes beyond the table"):
        tf.Curve.from_table([0, 50], [27219, 4161], t_range_c=(-100, 300))
    curve = tf.Curve(Tabulated((0.0, 50.0), (27219.0, 4161.0)), [])
    assert (curve.t_min_c, curve.t_max_c) == (0.0, 50.0)


@pytest.mark.parametrize("factor", [1e-10, 1e10])
def test_very_small_and_very_large_resistances_are_curves_too(factor: float) -> None:
    curve = tf.Curve.log_polynomial(
        r_ref_ohm=10e3 * factor, coefficients=[3.354e-3, 2.57e-4, 2.6e-6]
    )
    assert curve.temperature(curve.resistance(60.0)) == pytest.approx(60.0, abs=1e-9)


def test_the_solver_closes_its_bracket_where_newton_alone_would_leave_it() -> None:
    """Steep beside flat: a Newton step from the flat side lands beyond the steep one."""
    curve = tf.Curve.from_table([0, 10, 20, 30], [10000, 9900, 200, 198])
    t_c = np.linspace(0.0, 30.0, 3001)
    np.testing.assert_allclose(curve.temperature(curve.resistance(t_c)), t_c, rtol=0.0, atol=1e-8)


# Where Newton's method has most to do: beside a turn or a pole, and over wide ranges.
HARD: list[tuple[Equation, list[float], tuple[float, float]]] = [
    (Beta(), [10e3, 3977.0], (-250.0, 1700.0)),
    (BentBeta(7), [10e3, 3892.0, -1.5e5, 3.7e7, -5e9, 3e11, -5e12], (-200.0, 850.0)),
    (BentBeta(3), [10e3, 4000.0, -2000.0 / (1.0 / 243.15 - 1.0 / 298.15)], (-29.99, 60.0)),
    (SteinhartHart(), [1.132e-3, 2.334e-4, 9.21e-8], (-200.0, 850.0)),
    (SteinhartHart(), [2.1926e-3, 2.4e-4, -2.4e-4 / 432.0], (-29.98, 60.0)),
    (ShiftedExponential(), [5.6e-3, 1181.0, -233.1], (-40.0, 125.0)),
    (ShiftedExponential(), [1e-2, 3000.0, -30.0], (-200.0, 850.0)),
    (CallendarVanDusen(), [100.0, 3.9083e-3, -5.775e-7], (-200.0, 850.0)),
]


@pytest.mark.parametrize(("form", "numbers", "t_range_c"), HARD)
def test_the_few_samples_of_a_branch_are_enough(
    form: Equation,
    numbers: list[float],
    t_range_c: tuple[float, float],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """As exact as from all samples of the grid, and with a few Newton steps."""
    c = np.array(numbers)
    t_c = np.linspace(*t_range_c, 2001)
    by_resistance = form.explicit == "temperature"
    y = 1.0 / (t_c + 273.15)
    y = y if by_resistance else form.value(y, c)
    few = find_branch(form, c, *t_range_c)
    plain_value, steps = type(form).value, []

    def counted(*given: Any) -> Any:
        steps.append(given)
        return plain_value(*given)

    with monkeypatch.context() as patch:
        patch.setattr(type(form), "value", counted)
        x = few.solve(form, c, y)
    found_c = 1.0 / (form.value(x, c) if by_resistance else x) - 273.15
    np.testing.assert_allclose(found_c, t_c, rtol=0.0, atol=1e-9)
    assert len(steps) <= 10
    monkeypatch.setattr("thermofit.equations.branch._KEPT", 10_000)
    all_of_it = find_branch(form, c, *t_range_c)
    assert few.x.size <= min(2 * 256, all_of_it.x.size)
    assert few.ends == all_of_it.ends
    np.testing.assert_allclose(x, all_of_it.solve(form, c, y), rtol=1e-11)
