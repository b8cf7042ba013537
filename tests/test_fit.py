"""Fitting: exact, linear, nonlinear; what is stated about it and what is refused."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import thermofit as tf
from tests.reference import RT_TABLES, rt_table
from thermofit.equations import Equation, InversePolynomial, LogPolynomial
from thermofit.equations.catalogue import SHIPPED_NAMES, equation
from thermofit.errors import FitError, InputError, NotMonotoneError, UnknownNameError

# The longest forms need more points than BENCH has; test_characterise is about those.
NTC_NAMES = [
    name
    for name in SHIPPED_NAMES
    if name not in ("callendar-van-dusen", "bent-beta-6", "bent-beta-7")
]
LINEAR_NAMES = [name for name in NTC_NAMES if equation(name).linear]

# Invented readings of a fan-aspirated air sensor from a glasshouse controller.
T_C = np.array([0.0, 12.0, 25.0, 38.0, 52.0, 70.0])
R_OHM = np.array([32640.0, 17930.0, 10010.0, 5790.0, 3345.0, 1757.0])
U_T_K = 0.1
U_R_OHM = 0.004 * R_OHM
BENCH = tf.Points(T_C, R_OHM, u_t_k=U_T_K, u_r_ohm=U_R_OHM)


def terms(name: str) -> int:
    return len(equation(name).coefficients)


@pytest.mark.parametrize("name", NTC_NAMES)
def test_as_many_points_as_coefficients_are_met_exactly(name: str) -> None:
    t_c, r_ohm = T_C[-terms(name) :], R_OHM[-terms(name) :]
    f = tf.fit(tf.Points(t_c, r_ohm), equation=name)
    assert f.method == "exact"
    assert f.max_abs_k < 1e-9
    assert (f.covariance, f.chi2, f.p_value, f.dof) == (None, None, None, 0)
    assert any("no uncertainties were given" in doubt for doubt in f.warnings)
    assert np.isnan(f.temperature(float(r_ohm[-2])).standard_uncertainty)
    assert "unknown" in str(f)


@pytest.mark.parametrize("name", NTC_NAMES)
def test_exact_fit_takes_its_covariance_from_the_stated_uncertainties(name: str) -> None:
    """Against the definition: each reading moved by its uncertainty in turn (JCGM 100, 5.1.3)."""
    k = terms(name)
    t_c, r_ohm = T_C[-k:], R_OHM[-k:]
    u_t, u_r = np.full(k, U_T_K), 0.004 * r_ohm
    form = equation(name).for_points(np.log(r_ohm))
    f = tf.fit(tf.Points(t_c, r_ohm, u_t_k=u_t, u_r_ohm=u_r), equation=form)
    moved = []
    for i in range(k):
        for axis, u in ((0, u_t[i]), (1, u_r[i])):
            pair = []
            for sign in (1.0, -1.0):
                both = [t_c.copy(), r_ohm.copy()]
                both[axis][i] += sign * 1e-3 * u
                pair.append(np.asarray(tf.fit(tf.Points(*both), equation=form).coefficients))
            moved.append((pair[0] - pair[1]) / 2e-3)
    expected = np.einsum("ij,ik->jk", moved, moved)
    scale = np.sqrt(np.outer(np.diag(expected), np.diag(expected)))
    assert f.covariance is not None
    np.testing.assert_allclose(f.covariance / scale, expected / scale, atol=3e-4)


def textbook_design(name: str, ln_r: np.ndarray) -> np.ndarray:
    """Columns of 1/T = …, as they stand in the books."""
    if name == "steinhart-hart":
        return np.stack([np.ones_like(ln_r), ln_r, ln_r**3], axis=1)
    return np.vander(ln_r - np.log(10e3), int(name[-1]), increasing=True)


@pytest.mark.parametrize(
    "name", ["steinhart-hart", *(f"log-polynomial-{terms}" for terms in range(2, 6))]
)
@given(
    noise=st.lists(st.floats(-0.3, 0.3), min_size=12, max_size=12),
    u_t_k=st.lists(st.floats(0.02, 2.0), min_size=12, max_size=12),
    stated=st.booleans(),
)
def test_linear_fit_agrees_with_the_general_purpose_solver(
    name: str, noise: list[float], u_t_k: list[float], stated: bool
) -> None:
    """numpy.linalg.lstsq of the textbook problem, written down here: 1/T on the powers of
    ln R, with weights T²/u(T) that make its residuals those of temperature."""
    t_c = np.linspace(-20.0, 110.0, 12)
    r_ohm = tf.Curve.beta(r25_ohm=10e3, b_k=3950).resistance(t_c)
    t_c = t_c + np.array(noise)
    u = np.array(u_t_k)
    form = LogPolynomial(int(name[-1]), 10e3) if name.startswith("log") else equation(name)
    f = tf.fit(tf.Points(t_c, r_ohm, u_t_k=u if stated else None), equation=form)
    t_k = t_c + 273.15
    weights = t_k**2 / (u if stated else 1.0)
    design = textbook_design(name, np.log(r_ohm)) * weights[:, np.newaxis]
    expected = np.linalg.lstsq(design, weights / t_k, rcond=None)[0]
    found = np.asarray(f.coefficients)
    # In scaled variables: by what a coefficient contributes to 1/T at most.  One that is
    # nought but for the noise has fewer digits of its own, in either solver.
    size = np.abs(design / weights[:, np.newaxis]).max(axis=0)
    assert (np.abs(found - expected) * size <= 1e-10 / t_k.min()).all()
    fitted = design @ found
    assert fitted == pytest.approx(design @ expected, rel=1e-10)


@pytest.mark.parametrize("name", NTC_NAMES)
@pytest.mark.parametrize("minimise", ["temperature", "resistance"])
def test_no_neighbouring_coefficients_fit_better(name: str, minimise: str) -> None:
    """The sum of squares that is minimised rises in every direction."""
    points = tf.Points(T_C, R_OHM)
    f = tf.fit(points, equation=name, minimise=minimise)  # type: ignore[arg-type]
    assert f.covariance is not None
    values, vectors = np.linalg.eigh(f.correlation)  # type: ignore[arg-type]
    u = np.sqrt(np.diag(f.covariance))

    def total(c: np.ndarray) -> float:
        curve = tf.Curve(f.equation, c, f.curve.t_min_c, f.curve.t_max_c)
        with np.errstate(all="ignore"):
            t_c = 1.0 / curve._inv_t(np.log(R_OHM)) - 273.15
        misses = T_C - t_c if minimise == "temperature" else R_OHM - curve.resistance(T_C)
        return float(misses @ misses)

    least = total(np.asarray(f.coefficients))
    assert least == pytest.approx(f.rss, rel=1e-9)
    # A linear fit weights with T at the points, which is the temperature error
    # to first order in it; hence the small allowance.
    allowance = 1e-3 * least if f.equation.linear and minimise == "temperature" else 1e-9 * least
    for value, vector in zip(values, vectors.T, strict=True):
        for sign in (0.3, -0.3):
            moved = np.asarray(f.coefficients) + sign * np.sqrt(max(value, 0.0)) * vector * u
            assert total(moved) >= least - allowance


@pytest.mark.parametrize("name", [*NTC_NAMES, "auto"])
@given(order=st.permutations(range(6)))
def test_the_order_of_points_does_not_matter(name: str, order: list[int]) -> None:
    straight = tf.fit(BENCH, equation=name)
    index = np.array(order)
    shuffled = tf.fit(
        tf.Points(T_C[index], R_OHM[index], u_t_k=U_T_K, u_r_ohm=U_R_OHM[index]), equation=name
    )
    assert shuffled.curve == straight.curve
    assert shuffled.residuals_k == pytest.approx(straight.residuals_k[index], abs=0.0)


@pytest.mark.parametrize("form", [LogPolynomial, InversePolynomial])
@given(exponent=st.floats(-1.0, 7.0), terms=st.integers(2, 5))
def test_a_fitted_polynomial_does_not_depend_on_its_reference_resistance(
    form: type[LogPolynomial | InversePolynomial], exponent: float, terms: int
) -> None:
    usual = tf.fit(BENCH, equation=form(terms, 10e3))
    other = tf.fit(BENCH, equation=form(terms, 10.0**exponent))
    t_c = np.linspace(0.0, 70.0, 36)
    r_ohm = usual.curve.resistance(t_c)
    tolerance = 1e-9 if form is LogPolynomial else 1e-8
    assert other.curve.resistance(t_c) == pytest.approx(r_ohm, rel=tolerance)
    assert other.chi2 == pytest.approx(usual.chi2, rel=1e-6)


@given(
    noise=st.lists(st.floats(-0.2, 0.2), min_size=6, max_size=6),
    name=st.sampled_from(NTC_NAMES),
)
def test_scaling_all_uncertainties_scales_the_result_only(noise: list[float], name: str) -> None:
    t_c, inside = T_C + np.array(noise), np.linspace(1.0, 69.0, 18)
    once = tf.fit(tf.Points(t_c, R_OHM, u_t_k=0.1, u_r_ohm=U_R_OHM), equation=name)
    twice = tf.fit(tf.Points(t_c, R_OHM, u_t_k=0.2, u_r_ohm=2.0 * U_R_OHM), equation=name)
    assert twice.curve.resistance(inside) == pytest.approx(once.curve.resistance(inside), rel=1e-9)
    assert once.chi2 is not None
    assert twice.chi2 == pytest.approx(once.chi2 / 4.0, rel=1e-6, abs=1e-12)
    u_once, u_twice = once.temperature(R_OHM[2]), twice.temperature(R_OHM[2])
    assert u_twice.standard_uncertainty == pytest.approx(
        2.0 * u_once.standard_uncertainty, rel=1e-6
    )


def test_one_more_point_never_widens_the_curve_when_uncertainties_are_stated() -> None:
    fewer = tf.fit(tf.Points(T_C[:5], R_OHM[:5], u_t_k=0.1), equation="steinhart-hart")
    more = tf.fit(tf.Points(T_C, R_OHM, u_t_k=0.1), equation="steinhart-hart")
    at = R_OHM[1:4]
    # The slope of the fitted curve enters, hence the hundredth.
    wider = fewer.temperature(at).standard_uncertainty * 1.01
    assert (more.temperature(at).standard_uncertainty <= wider).all()


def test_reading_uncertainty_widens_an_interval_and_the_note_tells() -> None:
    f = tf.fit(BENCH, equation="steinhart-hart")
    curve, reading = f.temperature(10e3), f.temperature(10e3, 50.0)
    assert reading.standard_uncertainty > curve.standard_uncertainty
    assert "curve only" in str(curve)
    assert curve.value == reading.value == f.curve.temperature(10e3)


def test_scatter_from_few_residuals_gives_student_t() -> None:
    f = tf.fit(tf.Points(T_C[:4], R_OHM[:4]), equation="steinhart-hart")
    interval = f.temperature(R_OHM[1])
    # JCGM 100, Table G.2: t = 12.71 for 1 degree of freedom.
    half = (interval.high - interval.low) / 2.0
    assert half / interval.standard_uncertainty == pytest.approx(12.706, abs=1e-3)
    assert any("only 1 point" in doubt for doubt in f.warnings)


def test_intervals_of_coefficients_are_symmetric_on_their_fitted_scale() -> None:
    intervals = tf.fit(BENCH, equation="beta").coefficient_intervals()
    r25, b = intervals["r25_ohm"], intervals["b_k"]
    assert b.high - b.value == pytest.approx(b.value - b.low, rel=1e-9)
    assert r25.high / r25.value == pytest.approx(r25.value / r25.low, rel=1e-12)
    assert r25.high - r25.value > r25.value - r25.low


def test_points_that_disagree_are_reported_with_the_worst() -> None:
    wrong = R_OHM.copy()
    wrong[3] *= 1.1
    f = tf.fit(tf.Points(T_C, wrong, u_t_k=0.1, u_r_ohm=0.004 * wrong), equation="steinhart-hart")
    assert f.p_value is not None
    assert f.p_value < 1e-6
    assert any("38 °C" in doubt and "disagree" in doubt for doubt in f.warnings)


def test_fahrenheit_read_as_celsius_shows_in_chi_square() -> None:
    t_c, r_ohm = rt_table("10k")
    some = np.isin(t_c, [0.0, 20.0, 40.0, 60.0, 80.0, 100.0])
    right = tf.Points(t_c[some], r_ohm[some], u_t_k=0.1, u_r_ohm=0.003 * r_ohm[some])
    mixed_up = tf.Points(
        t_c[some] * 1.8 + 32.0, r_ohm[some], u_t_k=0.1, u_r_ohm=0.003 * r_ohm[some]
    )
    good, bad = tf.fit(right, "steinhart-hart"), tf.fit(mixed_up, "beta")
    assert good.warnings == ()
    assert bad.p_value is not None
    assert bad.p_value < 1e-6
    assert any("unit mixed up" in doubt for doubt in bad.warnings)


@pytest.mark.parametrize("name", RT_TABLES)
@pytest.mark.parametrize(("low_c", "high_c"), [(-40, 125), (0, 100), (0, 60)])
def test_temperatures_in_the_wrong_unit_show_in_the_bend(
    name: str, low_c: float, high_c: float
) -> None:
    """Without any uncertainties: NTC ceramics bend alike, and a wrong unit bends them more."""
    t_c, r_ohm = rt_table(name)
    some = np.flatnonzero((t_c >= low_c) & (t_c <= high_c))[::3]
    t_c, r_ohm = t_c[some], r_ohm[some]

    def suspected(shown: np.ndarray, word: str) -> bool:
        f = tf.fit(tf.Points(shown, r_ohm), equation="steinhart-hart")
        return any("bend" in doubt and word in doubt for doubt in f.warnings)

    assert not suspected(t_c, "read as")
    assert suspected(t_c * 1.8 + 32.0, "°F that were read as °C")
    # Fewer than 50 K are too few to tell.
    assert suspected((t_c - 32.0) / 1.8, "°C that were read as °F") == (high_c > 60)
    assert suspected(t_c + 273.15, "as kelvin")


def test_points_that_agree_too_well_are_reported() -> None:
    t_c = np.linspace(0.0, 90.0, 12)
    r_ohm = tf.Curve.beta(r25_ohm=10e3, b_k=3950).resistance(t_c)
    f = tf.fit(tf.Points(t_c, r_ohm, u_t_k=0.5), equation="beta")
    assert any("better than" in doubt for doubt in f.warnings)


def test_valid_range_is_that_of_the_points() -> None:
    f = tf.fit(BENCH)
    assert (f.curve.t_min_c, f.curve.t_max_c, f.curve.range_basis) == (0.0, 70.0, "data")


def test_report_carries_what_a_person_needs() -> None:
    text = str(tf.fit(BENCH))
    for part in ("χ²", "degrees of freedom", "correlation", "valid 0 to 70 °C", "chosen:", "AICc"):
        assert part in text
    assert max(len(line) for line in text.splitlines() if not line.startswith("!")) <= 140


def test_frame_holds_a_row_for_each_point() -> None:
    frame = tf.fit(BENCH, equation="beta").to_frame()
    assert list(frame.columns) == [
        "t_c", "r_ohm", "u_t_k", "u_r_ohm", "residual_k", "residual_pct", "loo_k",
    ]  # fmt: skip
    assert len(frame) == 6


@pytest.mark.parametrize("name", ["beta", "steinhart-hart", "shifted-exponential"])
def test_leave_one_out_error_is_what_leaving_out_gives(name: str) -> None:
    """The leverage formula against fits that do leave each point out."""
    f = tf.fit(tf.Points(T_C, R_OHM), equation=name)
    assert f.loo_k is not None
    for i in range(1, 5):
        rest = np.arange(6) != i
        without = tf.fit(tf.Points(T_C[rest], R_OHM[rest]), equation=name)
        direct = T_C[i] - without.curve.temperature(float(R_OHM[i]))
        assert f.loo_k[i] == pytest.approx(direct, rel=0.02, abs=2e-4)


def test_lmfit_agrees_and_gives_its_confidence_intervals() -> None:
    f = tf.fit(tf.Points(T_C, R_OHM), equation="beta")
    result = f.lmfit_model()
    assert result.best_values["b_k"] == pytest.approx(f.coefficients["b_k"], rel=1e-4)
    intervals = f.coefficient_intervals(0.9545)
    found = result.conf_interval(sigmas=[0.9545])["b_k"]
    low, high = found[0][1], found[-1][1]
    assert low == pytest.approx(intervals["b_k"].low, rel=2e-3)
    assert high == pytest.approx(intervals["b_k"].high, rel=2e-3)


@pytest.mark.parametrize("name", ["steinhart-hart", "shifted-exponential", "inverse-polynomial-4"])
def test_lmfit_finds_no_better_fit(name: str) -> None:
    f = tf.fit(BENCH, equation=name, minimise="resistance")
    result = f.lmfit_model()
    assert result.chisqr == pytest.approx(f.chi2, rel=1e-6)


def test_a_fit_is_a_value() -> None:
    f = tf.fit(BENCH, equation="beta")
    again = pickle.loads(pickle.dumps(f))
    assert again.curve == f.curve
    assert str(again) == str(f)


# -- what cannot be fitted ---------------------------------------------------------


def test_two_points_cannot_carry_three_coefficients() -> None:
    with pytest.raises(FitError, match=r"3 coefficients; 2 points.*beta"):
        tf.fit(tf.Points([0, 25], [32640, 10010]), equation="steinhart-hart")
    with pytest.raises(FitError, match="1 point"):
        tf.fit(tf.Points([25], [10010]))


def test_points_at_one_temperature_are_one_point() -> None:
    with pytest.raises(FitError, match="2 points at 1 temperature"):
        tf.fit(tf.Points([25, 25], [10010, 10030]), equation="beta")
    with pytest.raises(FitError, match="resistance 10010 Ω"):
        tf.fit(tf.Points([25, 25, 25], [10010, 10010, 10010]))


def test_a_resistance_that_does_not_move_is_refused() -> None:
    with pytest.raises(FitError, match="does not follow the temperature"):
        tf.fit(tf.Points([0, 25, 70], [10010, 10010, 10010]))


@pytest.mark.parametrize("name", NTC_NAMES)
def test_a_ptc_is_not_fitted_with_an_ntc_equation(name: str) -> None:
    t_c = np.linspace(0.0, 100.0, 7)
    r_ohm = tf.Curve.callendar_van_dusen(r0_ohm=1000.0).resistance(t_c)
    with pytest.raises(FitError, match="rises with temperature"):
        tf.fit(tf.Points(t_c, r_ohm), equation=name)


def test_columns_that_were_swapped_are_suspected() -> None:
    with pytest.raises(FitError, match="swapped"):
        tf.fit(tf.Points([10.0, 20.0, 30.0], [5.0, 25.0, 60.0]), equation="steinhart-hart")


def test_a_best_curve_that_turns_is_refused() -> None:
    points = tf.Points([0, 20, 20.5, 60], [30e3, 12e3, 6e3, 2e3])
    with pytest.raises(NotMonotoneError, match="turns at"):
        tf.fit(points, equation="log-polynomial-4")


def test_a_point_without_any_uncertainty_among_others_is_refused() -> None:
    with pytest.raises(FitError, match="point 2 has no uncertainty"):
        tf.fit(tf.Points([70, 0, 25], [1757, 32640, 10010], u_t_k=[0.1, 0.0, 0.1]), "beta")


@pytest.mark.parametrize(
    ("changes", "complaint"),
    [
        ({"minimise": "ohms"}, "minimise must be one of temperature, resistance"),
        ({"method": "magic"}, "method must be one of"),
        ({"start": {"b_k": 1.0}}, "closed form"),
        ({"equation": "shifted-exponential", "start": {"b_k": 1.0}}, "a_ohm, b_k, c_k"),
        (
            {"equation": "shifted-exponential", "start": {"a_ohm": -1.0, "b_k": 1.0, "c_k": 1.0}},
            "start value of a_ohm",
        ),
        ({"equation": "auto", "start": {"b_k": 1.0}}, "named equation"),
    ],
)
def test_unusable_requests_are_refused(changes: dict[str, object], complaint: str) -> None:
    request: dict[str, object] = {"equation": "beta", **changes}
    with pytest.raises(InputError, match=complaint):
        tf.fit(BENCH, **request)  # type: ignore[arg-type]


def test_unknown_equation_is_refused() -> None:
    with pytest.raises(UnknownNameError, match="steinhart-hart"):
        tf.fit(BENCH, equation="steinhart")


@given(
    t_c=st.lists(st.floats(-60.0, 200.0), min_size=1, max_size=9),
    r_ohm=st.lists(st.floats(1e-2, 1e8), min_size=9, max_size=9),
    name=st.sampled_from([*NTC_NAMES, "callendar-van-dusen", "auto"]),
    minimise=st.sampled_from(["temperature", "resistance"]),
)
def test_arbitrary_points_give_a_fit_or_a_clear_error(
    t_c: list[float], r_ohm: list[float], name: str, minimise: str
) -> None:
    points = tf.Points(t_c, r_ohm[: len(t_c)])
    try:
        f = tf.fit(points, equation=name, minimise=minimise)  # type: ignore[arg-type]
    except (FitError, NotMonotoneError):
        return
    assert np.isfinite(np.asarray(f.coefficients)).all()
    assert f.dof == len(t_c) - len(f.coefficients)
    if f.dof == 0:
        assert f.max_abs_k <= 1e-6
    # Whatever came out is a usable curve over the range that it claims.
    places = np.linspace(f.curve.t_min_c, f.curve.t_max_c, 21)
    with np.errstate(over="ignore", under="ignore"):
        r_back = f.curve.resistance(places, strict=True)
    usable = (r_back > 1e-200) & (r_back < 1e200)
    back = f.curve.temperature(r_back[usable], strict=True)
    np.testing.assert_allclose(back, places[usable], rtol=0.0, atol=1e-6)


def test_every_shipped_equation_was_tried() -> None:
    assert [equation(name).name for name in SHIPPED_NAMES] == list(SHIPPED_NAMES)
    assert all(isinstance(equation(name), Equation) for name in SHIPPED_NAMES)


def test_an_equation_that_does_not_follow_is_seen_in_the_runs_of_its_residuals() -> None:
    t_c, r_ohm = rt_table("33k")
    f = tf.fit(tf.Points(t_c, r_ohm), equation="steinhart-hart")
    assert any("change their sign only" in doubt for doubt in f.warnings)


def test_noise_is_seldom_taken_for_runs() -> None:
    rng = np.random.default_rng(3)
    truth = tf.Curve.beta(r25_ohm=10e3, b_k=3950)
    t_c = np.linspace(0.0, 100.0, 20)
    alarms = 0
    for _ in range(1000):
        f = tf.fit(tf.Points(t_c + 0.1 * rng.standard_normal(20), truth.resistance(t_c)), "beta")
        alarms += any("change their sign" in doubt for doubt in f.warnings)
    # One in two hundred is meant; the residuals of a fit alternate a little more.
    assert alarms <= 10


@pytest.mark.parametrize("name", ["auto", "beta", "log-polynomial-3"])
def test_a_reading_off_by_ten_is_named(name: str) -> None:
    t_c, r_ohm = rt_table("47k")
    wrong = np.where(t_c == 50.0, 10.0 * r_ohm, r_ohm)
    f = tf.fit(tf.Points(t_c, wrong), equation=name)
    assert any("reading at 50 °C" in doubt for doubt in f.warnings)
    assert any("does not fall from 45 °C" in doubt for doubt in f.warnings)


def test_readings_of_one_bath_may_change_places_by_their_noise() -> None:
    p = tf.Points([0.0, 0.1, 25.0, 50.0], [32640.0, 32660.0, 10010.0, 3600.0])
    assert not any("does not fall" in doubt for doubt in tf.fit(p, "beta").warnings)


def test_noise_is_seldom_taken_for_a_wrong_reading() -> None:
    rng = np.random.default_rng(4)
    t_c = np.linspace(0.0, 100.0, 12)
    r_ohm = tf.Curve.beta(r25_ohm=10e3, b_k=3950).resistance(t_c)
    alarms = 0
    for _ in range(1000):
        f = tf.fit(tf.Points(t_c + 0.1 * rng.standard_normal(12), r_ohm), equation="beta")
        alarms += any("far more than they scatter" in doubt for doubt in f.warnings)
    # One in a hundred is meant; three standard deviations of that count are nine.
    assert 1 <= alarms <= 19


def test_temperatures_of_no_thermometer_are_refused() -> None:
    with pytest.raises(FitError, match=r"25400 °C.*swapped"):
        tf.fit(tf.Points([25400, 10010, 1757], [5, 25, 70]))


@pytest.mark.parametrize("name", ["auto", "beta", "steinhart-hart"])
def test_the_bend_is_that_of_the_points_whatever_is_fitted(name: str) -> None:
    t_c, r_ohm = rt_table("10k")
    some = np.isin(t_c, [0.0, 20.0, 40.0, 55.0, 70.0])
    f = tf.fit(tf.Points(t_c[some] * 1.8 + 32.0, r_ohm[some]), equation=name)
    assert any("°F that were read as °C" in doubt for doubt in f.warnings)


@pytest.mark.parametrize("count", [3, 4, 5])
def test_platinum_points_have_one_equation_to_go_to(count: int) -> None:
    t_c = np.linspace(0.0, 100.0, count)
    r_ohm = tf.Curve.callendar_van_dusen(r0_ohm=100.0).resistance(t_c)
    assert tf.fit(tf.Points(t_c, r_ohm)).coefficients["r0_ohm"] == pytest.approx(100.0)


def test_an_exact_fit_claims_no_degrees_of_freedom() -> None:
    f = tf.fit(tf.Points(T_C[:3], R_OHM[:3]), equation="steinhart-hart")
    assert (f.dof, f.covariance, f.curve.dof) == (0, None, np.inf)


def test_points_that_are_too_close_for_the_terms_are_refused_not_given_odd_uncertainties() -> None:
    t_c = np.linspace(30.0, 40.0, 15)
    r_ohm = tf.Curve.beta(r25_ohm=10e3, b_k=3950).resistance(t_c)
    with pytest.raises(FitError, match="too close together"):
        tf.fit(tf.Points(t_c, r_ohm, u_t_k=0.05), equation="inverse-polynomial-5")


@given(
    low=st.floats(-20.0, 60.0), span=st.floats(2.0, 120.0), count=st.integers(5, 20),
    name=st.sampled_from(NTC_NAMES),
)  # fmt: skip
def test_a_fit_knows_its_own_points_as_well_as_theory_says(
    low: float, span: float, count: int, name: str
) -> None:
    """The squared uncertainties of the curve at the points, in units of those of the points,
    add up to the number of coefficients: the trace of the hat matrix."""
    t_c = np.linspace(low, low + span, count)
    r_ohm = tf.Curve.beta(r25_ohm=10e3, b_k=3950, t_range_c=(-40, 200)).resistance(t_c)
    try:
        f = tf.fit(tf.Points(t_c, r_ohm, u_t_k=0.05), equation=name)
    except FitError:
        # Refused for points that lie too close together: better than odd uncertainties.
        assume(False)
    u = f.temperature(r_ohm).standard_uncertainty
    assert np.sum((u / 0.05) ** 2) == pytest.approx(len(f.coefficients), rel=0.05)


def test_a_falling_sensor_has_no_platinum_curve() -> None:
    with pytest.raises(InputError):
        tf.fit(tf.Points([0, 50, 100], [1000, 800, 500]), equation="callendar-van-dusen")


def test_a_start_that_leads_astray_is_not_followed() -> None:
    from tests.reference import columns

    p = tf.Points(*columns("nist_strd_mgh10.csv"))
    own = tf.fit(p, equation="shifted-exponential", minimise="resistance")
    astray = tf.fit(
        p, equation="shifted-exponential", minimise="resistance",
        start={"a_ohm": 0.004, "b_k": 42454.0, "c_k": -203.6},
    )  # fmt: skip
    assert astray.rss == pytest.approx(own.rss, rel=1e-9)
    assert "worse minimum" in astray.method


def test_an_axis_whose_uncertainty_is_left_out_is_said_to_be_exact() -> None:
    assert "resistances are taken as exact" in tf.fit(tf.Points(T_C, R_OHM, u_t_k=0.1)).method
    assert "temperatures are taken as exact" in str(tf.fit(tf.Points(T_C, R_OHM, u_r_ohm=9.0)))
    assert "exact" not in tf.fit(BENCH).method


def test_kept_arrays_cannot_be_changed_and_fits_are_told_apart_by_identity() -> None:
    f = tf.fit(BENCH, equation="beta")
    for array in (f.residuals_k, f.residuals_pct, f.loo_k, f.correlation):
        assert array is not None
        with pytest.raises(ValueError, match="read-only"):
            array[0] = 0.0
    assert f == f
    assert len({f, f.replace(reason="x")}) == 2


def test_effective_variance_of_a_nonlinear_fit_has_settled() -> None:
    """Errors of R alone, and the same errors carried over to T, give one curve."""
    by_ohms = tf.fit(tf.Points(T_C, R_OHM, u_r_ohm=U_R_OHM), equation="shifted-exponential")
    kelvin = U_R_OHM / R_OHM / np.abs(by_ohms.curve.alpha(T_C))
    by_kelvin = tf.fit(tf.Points(T_C, R_OHM, u_t_k=kelvin), equation="shifted-exponential")
    assert by_kelvin.curve.resistance(T_C) == pytest.approx(by_ohms.curve.resistance(T_C), rel=1e-8)
    assert by_kelvin.chi2 == pytest.approx(by_ohms.chi2, rel=1e-6)


def test_a_narrow_span_and_a_wide_one_are_told_apart() -> None:
    curve = tf.Curve.beta(r25_ohm=10e3, b_k=3950)
    for high, told in ((29.9, True), (30.1, False)):
        t_c = np.linspace(20.0, high, 6)
        f = tf.fit(tf.Points(t_c, curve.resistance(t_c)), equation="beta")
        assert any("span only" in doubt for doubt in f.warnings) == told


def test_a_cubic_that_turns_between_its_points_is_refused() -> None:
    """It meets all three, the last one beyond its turn: T(R) is right there, R(T) is not."""
    ln_r = np.array([1.0, -1.0, -3.0])
    t_c = 1.0 / (3.4e-3 + 3e-4 * ln_r - 2e-5 * ln_r**3) - 273.15
    points = tf.Points(t_c, np.exp(ln_r), u_t_k=0.01)
    with pytest.raises(FitError, match="does not reach point 3"):
        tf.fit(points, equation="steinhart-hart")
