"""Characterising: generalised least squares in the plane with a prior."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.budget import Budget, Contribution
from thermofit.errors import FitError, InputError
from thermofit.estimate.prior import KILOKELVIN
from thermofit.estimate.sources import sources_of_points
from thermofit.estimate.update import Update, design_of, update
from thermofit.units import T0_K, ZERO_C_K

# Invented readings of a fan-aspirated air sensor from a glasshouse controller.
T_C = np.array([0.0, 68.4])
R_OHM = np.array([32600.0, 1870.0])
BENCH = tf.Points(T_C, R_OHM, u_t_k=[0.06, 0.3], u_r_ohm=[150.0, 9.0])
TRUE = tf.family("ntc-10k-3977").curve

temperatures = st.lists(st.floats(-30.0, 120.0), min_size=1, max_size=8)
places = st.floats(-40.0, 125.0)


def points_at(t_c: list[float], u_t_k: float = 0.1, u_r_pct: float = 0.3) -> tf.Points:
    r_ohm = TRUE.resistance(np.array(t_c))
    return tf.Points(t_c, r_ohm, u_t_k=np.full(len(t_c), u_t_k), u_r_ohm=u_r_pct / 100.0 * r_ohm)


def updated(points: tf.Points, effects: np.ndarray) -> Update:
    return update(tf.bend_prior(), 1.0 / (points.t_c + ZERO_C_K), np.log(points.r_ohm), effects)


def in_plane(points: tf.Points, **shared: float) -> np.ndarray:
    """Effects of the errors with the slope of the true curve, held fixed."""
    return sources_of_points(points, **shared).in_plane(-TRUE.alpha(points.t_c))


def band(found: Update, t_c: float) -> float:
    """Standard uncertainty of ln R."""
    row = design_of(np.array([1.0 / (t_c + ZERO_C_K)]), 6)
    return float(np.linalg.norm(row @ found.factor))


# -- against independent formulas ----------------------------------------------------------


@given(
    t_c=temperatures,
    noise=st.lists(st.floats(-2.0, 2.0), min_size=8, max_size=8),
    shared_u_t_k=st.floats(0.0, 0.09),
    shared_u_r_pct=st.floats(0.0, 0.29),
)
def test_the_update_is_the_conditional_gaussian(
    t_c: list[float], noise: list[float], shared_u_t_k: float, shared_u_r_pct: float
) -> None:
    """The textbook's covariance form, m + P·Aᵀ(A·P·Aᵀ + V)⁻¹(y − A·m), with a wide R25.

    Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, equations (2.11)
    and (2.12); from memory.
    """
    assume(len(set(t_c)) == len(t_c))
    points = points_at(t_c)
    n, prior = len(t_c), tf.bend_prior()
    slope = -TRUE.alpha(points.t_c)
    y = np.log(points.r_ohm) + 0.004 * np.array(noise[:n])
    u_t, u_r = 0.1, 0.003
    own = np.diag((u_t**2 - shared_u_t_k**2) * slope**2 + u_r**2 - (shared_u_r_pct / 100.0) ** 2)
    v = own + np.outer(slope, slope) * shared_u_t_k**2 + (shared_u_r_pct / 100.0) ** 2
    a = np.vander(1e3 / (points.t_c + ZERO_C_K) - 1e3 / T0_K, 6, increasing=True)
    # R25 free: first the best level without a prior on it, as in kriging with a drift.
    inside = a[:, 1:] @ prior.covariance @ a[:, 1:].T + v
    rest = y - a[:, 1:] @ prior.mean
    weight = np.linalg.solve(inside, np.ones(n))
    level = (weight @ rest) / weight.sum()
    gain = prior.covariance @ a[:, 1:].T @ np.linalg.inv(inside)
    bend = prior.mean + gain @ (rest - level)

    effects = in_plane(points, shared_u_t_k=shared_u_t_k, shared_u_r_pct=shared_u_r_pct)
    found = update(prior, 1.0 / (points.t_c + ZERO_C_K), y, effects)
    np.testing.assert_allclose(found.coefficients[0], level, atol=1e-7)
    np.testing.assert_allclose(found.coefficients[1:], bend, atol=1e-6)
    u_level = weight.sum() ** -0.5
    assert np.linalg.norm(found.factor[0]) == pytest.approx(u_level, rel=1e-6)
    chi2 = (rest - level) @ np.linalg.solve(inside, rest - level)
    assert found.chi2 == pytest.approx(chi2, rel=1e-6, abs=1e-9)


@given(t_c=temperatures)
def test_the_contributions_make_up_the_covariance(t_c: list[float]) -> None:
    assume(len(set(t_c)) == len(t_c))
    found = updated(points_at(t_c), in_plane(points_at(t_c)))
    whole = found.factor @ found.factor.T
    parts = found.by_sources @ found.by_sources.T + found.by_prior @ found.by_prior.T
    scale = np.sqrt(np.outer(np.diag(whole), np.diag(whole)))
    np.testing.assert_allclose(parts / scale, whole / scale, atol=1e-6)


def test_contributions_add_up_to_the_band() -> None:
    fit = tf.characterise(BENCH)
    t_c = np.array([-20.0, 0.0, 25.0, 68.4, 100.0])
    parts = fit.contributions(t_c)
    interval = fit.temperature(fit.curve.resistance(t_c))
    np.testing.assert_allclose(parts.standard_uncertainty_k, interval.standard_uncertainty)
    assert parts.names[0] == parts.dominating == "bend of the families"
    frame = parts.to_frame()
    np.testing.assert_array_equal(frame.to_numpy(), parts.u_k)
    assert list(frame.columns) == list(t_c)


def test_with_a_vague_prior_it_is_plain_least_squares() -> None:
    t_c = list(np.linspace(-30.0, 110.0, 12))
    points = points_at(t_c)
    vague = tf.characterise(points, prior=tf.bend_prior().widened(1e10))
    plain = tf.fit(points, equation="bent-beta-6")
    assert plain.covariance is not None
    assert vague.covariance is not None
    u = np.sqrt(np.diag(plain.covariance))
    misses = (np.asarray(vague.coefficients) - np.asarray(plain.coefficients)) / u
    np.testing.assert_allclose(misses, 0.0, atol=1e-3)
    np.testing.assert_allclose(
        vague.covariance / np.outer(u, u), plain.covariance / np.outer(u, u), atol=2e-3
    )


def test_fit_takes_a_prior_too() -> None:
    a, b = tf.fit(BENCH, prior=tf.bend_prior()), tf.characterise(BENCH)
    np.testing.assert_array_equal(np.asarray(a.coefficients), np.asarray(b.coefficients))
    assert tf.fit(BENCH, equation="bent-beta-6", prior=tf.bend_prior()).chi2 == b.chi2


@pytest.mark.parametrize(
    "beside",
    [
        {"equation": "steinhart-hart"},
        {"minimise": "resistance"},
        {"method": "orthogonal-distance"},
        {"start": {"b_k": 3900.0}},
    ],
)
def test_what_a_prior_would_ignore_is_refused(beside: dict[str, object]) -> None:
    with pytest.raises(InputError, match="leave"):
        tf.fit(BENCH, prior=tf.bend_prior(), **beside)  # type: ignore[arg-type]


# -- laws ----------------------------------------------------------------------------------


@given(t_c=temperatures, extra=st.floats(-30.0, 120.0), at=places)
def test_one_more_point_never_widens_the_band(t_c: list[float], extra: float, at: float) -> None:
    few, more = points_at(t_c), points_at([*t_c, extra])
    before = band(updated(few, in_plane(few)), at)
    after = band(updated(more, in_plane(more)), at)
    assert after <= before * (1.0 + 1e-6)


@given(t_c=temperatures, which=st.integers(0, 7), part=st.floats(0.05, 1.0), at=places)
def test_a_smaller_contribution_never_widens_the_band(
    t_c: list[float], which: int, part: float, at: float
) -> None:
    points = points_at(t_c)
    effects = in_plane(points)
    smaller = effects.copy()
    smaller[:, which % effects.shape[1]] *= part
    after = band(updated(points, smaller), at)
    assert after <= band(updated(points, effects), at) * (1.0 + 1e-6)


@given(order=st.permutations(range(4)))
def test_the_order_of_the_points_does_not_matter(order: list[int]) -> None:
    t_c = [0.0, 21.0, 50.0, 70.0]
    points = points_at(t_c)
    shuffled = tf.Points(
        points.t_c[order],
        points.r_ohm[order],
        np.asarray(points.u_t_k)[order],
        np.asarray(points.u_r_ohm)[order],
    )
    a, b = tf.characterise(points), tf.characterise(shuffled)
    np.testing.assert_array_equal(np.asarray(a.coefficients), np.asarray(b.coefficients))
    np.testing.assert_array_equal(a.residuals_k[order], b.residuals_k)
    np.testing.assert_array_equal(a.sigma[order], b.sigma)  # type: ignore[index]


@given(factor=st.floats(1e-3, 1e3))
def test_the_unit_of_resistance_does_not_matter(factor: float) -> None:
    scaled = tf.Points(T_C, factor * R_OHM, u_t_k=[0.06, 0.3], u_r_ohm=factor * BENCH.u_r_ohm)  # type: ignore[operator]
    a, b = tf.characterise(BENCH), tf.characterise(scaled)
    assert b.curve.r25_ohm == pytest.approx(factor * a.curve.r25_ohm, rel=1e-9)
    np.testing.assert_allclose(
        np.asarray(b.coefficients)[1:], np.asarray(a.coefficients)[1:], rtol=1e-6
    )


@pytest.mark.parametrize("id", ["ntc-10k-3434", "ntc-33k-4544", "ntc-47k-4108", "ntc-10k-3977"])
@pytest.mark.parametrize(
    "t_c", [[0.0, 30.0, 60.0, 100.0], [-20.0, 0.0, 25.0, 50.0, 75.0, 100.0]], ids=["four", "six"]
)
def test_with_points_enough_the_readings_outvote_the_prior(id: str, t_c: list[float]) -> None:
    """The prior moves the curve by less than the fit's own uncertainty, between the points."""
    true = tf.family(id).curve
    r_ohm = true.resistance(np.array(t_c))
    points = tf.Points(t_c, r_ohm, u_t_k=np.full(len(t_c), 0.05), u_r_ohm=1e-3 * r_ohm)
    fit, plain = tf.characterise(points), tf.fit(points, equation=f"bent-beta-{len(t_c)}")
    over = np.linspace(t_c[0], t_c[-1], 60)
    found = fit.temperature(plain.curve.resistance(over))
    assert (np.abs(found.value - over) < found.standard_uncertainty).all()


def test_one_shared_error_is_not_averaged_away() -> None:
    """Four readings with one thermometer know the level no better than the thermometer."""
    t_c = [20.0, 22.0, 24.0, 26.0]
    points = points_at(t_c, u_t_k=0.2, u_r_pct=0.01)
    apart = tf.characterise(points).temperature(TRUE.resistance(23.0))
    together = tf.characterise(points, shared_u_t_k=0.2).temperature(TRUE.resistance(23.0))
    assert apart.standard_uncertainty == pytest.approx(0.1, rel=0.05)
    assert together.standard_uncertainty == pytest.approx(0.2, rel=0.01)


# -- readings with budgets -----------------------------------------------------------------


def reading(t_c: float, r_ohm: float, shared: str = "") -> tf.Reading:
    return tf.Reading(
        Budget(t_c, "°C", [Contribution("bath", 0.3), Contribution("pt", 0.4, shared=shared)]),
        Budget(r_ohm, "Ω", [Contribution("meter", 0.005 * r_ohm, unit="Ω")]),
    )


def test_readings_with_nothing_in_common_are_points() -> None:
    readings = [reading(0.0, 32600.0), reading(68.4, 1870.0)]
    u_t, u_r = 0.5 / 3**0.5, 0.005 * R_OHM / 3**0.5
    by_points = tf.characterise(tf.Points(T_C, R_OHM, u_t_k=[u_t, u_t], u_r_ohm=u_r))
    by_budget = tf.characterise(readings)
    assert by_budget.covariance is not None
    assert by_points.covariance is not None
    np.testing.assert_allclose(by_budget.covariance, by_points.covariance, rtol=1e-9)
    np.testing.assert_allclose(
        np.asarray(by_budget.coefficients), np.asarray(by_points.coefficients), rtol=1e-9
    )


def test_what_readings_share_is_one_source() -> None:
    readings = [reading(t, r, "thermometer") for t, r in zip(T_C, R_OHM, strict=True)]
    fit = tf.characterise(readings)
    assert fit.prior is not None
    assert list(fit.prior.names).count("thermometer") == 1
    assert len(fit.prior.names) == 5
    apart = tf.characterise([reading(t, r) for t, r in zip(T_C, R_OHM, strict=True)])
    # A thermometer that is off in both baths moves B little.
    assert fit.standard_uncertainties is not None
    assert apart.standard_uncertainties is not None
    assert fit.standard_uncertainties["b_k"] < 0.9 * apart.standard_uncertainties["b_k"]


def test_a_twin_in_the_same_water_takes_the_meters_gain_out() -> None:
    """The gain of the meter cancels between twin and sensor; an independent bath's does not."""
    meter = tf.Meter.parse("1%", resolution_ohm=1)
    twin = tf.Curve.bent_beta(
        r25_ohm=10e3, b_k=3892.0, bend=[-1.53e5], covariance=np.diag([1e-2, 1e-4, 1.0])
    )
    r_ohm = float(twin.resistance(50.0))
    bath = tf.twin_bath(twin, meter.measure(r_ohm), uniformity_k=0.02)
    cancelled = tf.characterise([tf.Reading(bath, meter.measure(r_ohm))])
    loose = tf.characterise(
        [tf.Reading(Budget(50.0, "°C", [Contribution("bath", bath.u_t_k, k=1)]),
                    meter.measure(r_ohm))]
    )  # fmt: skip
    at = [fit.temperature(r_ohm).standard_uncertainty for fit in (cancelled, loose)]
    assert at[0] < 0.02
    assert at[1] > 0.2


def test_few_repeated_readings_widen_the_interval() -> None:
    """Student's t with the effective degrees of freedom (JCGM 100, G.4)."""
    scatter = Contribution.from_readings("scatter", [32500.0, 32600.0, 32700.0], unit="Ω")
    ice = Budget(0.0, "°C", [Contribution("ice", 1e-4)])
    fit = tf.characterise([tf.Reading(ice, Budget(32600.0, "Ω", [scatter]))])
    assert fit.curve.dof == pytest.approx(2.0, rel=1e-3)
    found = fit.temperature(32600.0)
    assert (found.high - found.low) / found.standard_uncertainty / 2.0 == pytest.approx(
        4.303, rel=1e-3
    )  # t of 2 degrees of freedom, from memory


def test_correlations_without_a_label_are_refused() -> None:
    pair = [Contribution("a", 0.1), Contribution("b", 0.1)]
    correlated = Budget(0.0, "°C", pair, [("a", "b", 0.5)])
    with pytest.raises(InputError, match="one label"):
        tf.characterise([tf.Reading(correlated, Budget(1e4, "Ω", []))])


def test_a_reading_has_a_temperature_and_a_resistance() -> None:
    ohm = Budget(1e4, "Ω", [])
    with pytest.raises(InputError, match="the temperature of a reading has a budget in °C, not Ω"):
        tf.Reading(ohm, ohm)
    with pytest.raises(InputError, match="a short or an open"):
        tf.Reading(tf.ice_point(), Budget(0.0, "Ω", []))
    with pytest.raises(InputError, match=r"Reading\(bath, resistance\); got none"):
        tf.characterise([])
    with pytest.raises(InputError, match="leave out shared_u_t_k"):
        tf.characterise([reading(0.0, 32600.0)], shared_u_t_k=0.1)


# -- one reading, conflicts, slips ----------------------------------------------------------


def test_one_reading_gives_a_wide_band_and_says_so() -> None:
    fit = tf.characterise(tf.Points([25.0], [10e3], u_t_k=0.2, u_r_ohm=50.0))
    near, far = fit.temperature(10e3), fit.temperature(fit.curve.resistance(70.0))
    assert near.standard_uncertainty < 0.3
    assert far.standard_uncertainty > 5.0
    assert any("one reading tells the level alone" in text for text in fit.warnings)
    assert fit.dof == 0
    assert fit.p_value is None
    assert "one reading cannot agree or disagree" in str(fit)


def test_readings_that_no_family_gives_are_believed() -> None:
    """Half as much again at the hot end: the data win, and the band says so."""
    r_ohm = TRUE.resistance(np.array([0.0, 25.0, 70.0]))
    r_ohm[2] *= 1.5
    points = tf.Points([0.0, 25.0, 70.0], r_ohm, u_t_k=[0.05] * 3, u_r_ohm=1e-3 * r_ohm)
    fit = tf.characterise(points)
    assert fit.prior is not None
    assert fit.prior.conflict
    assert any("do not bend as 5 registered families do" in text for text in fit.warnings)
    assert fit.max_abs_k < 0.1
    # Widened until the readings are as far from it as readings usually are: χ² = n − 1.
    assert fit.prior.chi2 > 100.0
    usual_chi2 = tf.characterise(points, prior=fit.prior.prior).chi2
    assert usual_chi2 == pytest.approx(2.0, rel=0.01)
    agreeing = tf.characterise(points_at([0.0, 25.0, 70.0], u_t_k=0.05, u_r_pct=0.1))
    assert agreeing.prior is not None
    assert not agreeing.prior.conflict
    at = 50.0
    wide = fit.temperature(fit.curve.resistance(at)).standard_uncertainty
    usual = agreeing.temperature(agreeing.curve.resistance(at)).standard_uncertainty
    assert wide > 3.0 * usual


@pytest.mark.parametrize(
    ("t_c", "r_ohm", "told"),
    [
        ([32.0, 68.4], [32600.0, 1870.0], "Is the 32 in °F, that is 0 °C?"),
        ([0.0, 155.12], [32600.0, 1870.0], "Are they in °F|Is the 155.12 in °F"),
        ([0.0, 68.4], [32600.0, 187.0], "slip of the decimal point"),
        ([0.0, 68.4], [3260.0, 1870.0], "slip of the decimal point"),
    ],
)
def test_a_likely_slip_is_asked_about(t_c: list[float], r_ohm: list[float], told: str) -> None:
    u_r = 0.005 * np.array(r_ohm)
    fit = tf.characterise(tf.Points(t_c, r_ohm, u_t_k=[0.1, 0.3], u_r_ohm=u_r))
    assert any(_found(told, text) for text in fit.warnings), fit.warnings


def _found(pattern: str, text: str) -> bool:
    import re

    return re.search(pattern, text) is not None


def test_a_curve_that_cannot_be_drawn_names_the_slip() -> None:
    points = tf.Points([0, 20, 68.4], [32600, 1253, 1870], u_t_k=0.2, u_r_ohm=5.0)
    with pytest.raises(FitError, match=r"ten times as much\? As they stand no curve can be drawn"):
        tf.characterise(points)


@pytest.mark.parametrize(
    ("t_c", "r_ohm", "told"),
    [
        ([0.0, 68.4], [1870.0, 32600.0], "are two readings swapped, or is it a PTC"),
        ([0.0, 68.4], [1870.0, 1870.0], "all 2 points have the resistance 1870"),
        ([1000.0, 32600.0], [0.5, 68.4], "columns of temperature and resistance swapped"),
    ],
)
def test_readings_of_no_ntc(t_c: list[float], r_ohm: list[float], told: str) -> None:
    with pytest.raises(FitError, match=told):
        tf.characterise(tf.Points(t_c, r_ohm, u_t_k=0.2, u_r_ohm=5.0))


def test_a_prior_needs_uncertainties_to_weigh_against() -> None:
    with pytest.raises(FitError, match="none were given"):
        tf.characterise(tf.Points(T_C, R_OHM))
    with pytest.raises(FitError, match="no uncertainty on either axis"):
        tf.characterise(tf.Points(T_C, R_OHM, u_t_k=[0.0, 0.3]))


def test_a_shared_part_is_a_part() -> None:
    with pytest.raises(InputError, match=r"point 1 has only 0\.06 K"):
        tf.characterise(BENCH, shared_u_t_k=0.2)
    with pytest.raises(InputError, match="must not be negative"):
        tf.characterise(BENCH, shared_u_r_pct=-1.0)


def test_a_plain_fit_keeps_no_contributions() -> None:
    with pytest.raises(FitError, match="only a fit with a prior"):
        tf.fit(BENCH, equation="beta").contributions(25.0)


# -- what it gives -------------------------------------------------------------------------


def test_the_band_after_save_and_load_equals_the_band_before(tmp_path: Path) -> None:
    fit = tf.characterise(BENCH)
    tf.write_curve_set(tmp_path / "shop.csv", [fit.curve.replace(id="inlet")])
    loaded = tf.read_curve_set(tmp_path / "shop.csv")["inlet"]
    r_ohm = fit.curve.resistance(np.linspace(-40.0, 125.0, 34))
    a, b = fit.temperature(r_ohm[1:-1]), loaded.temperature_interval(r_ohm[1:-1])
    for name in ("value", "standard_uncertainty", "low", "high"):
        np.testing.assert_array_equal(getattr(a, name), getattr(b, name))


def test_the_report_says_what_a_person_asks() -> None:
    fit = tf.characterise(BENCH)
    text = str(fit)
    r25 = fit.resistance(25.0)
    half_pct = 100.0 * (r25.high - r25.value) / r25.value
    assert f"R25 = {r25.value / 1e3:.3f} kΩ ± {half_pct:.1f} % (95 %)" in text
    ice = fit.temperature(fit.curve.resistance(0.0))
    assert f"32.600 kΩ    ± {ice.high - ice.value:.2g}" in text
    for wanted in (
        "2 readings, and how NTC ceramics bend",
        "valid -40 to 125 °C",
        "bend of 5 registered families as prior",
        "95 % / K",
        "most of it: bend of the families",
        "readings against the families: χ²",
    ):
        assert wanted in text


def test_readings_beyond_what_is_known_are_named() -> None:
    curve = tf.Curve.bent_beta(r25_ohm=10e3, b_k=3892.0, bend=[-1.53e5], t_range_c=(-40.0, 150.0))
    r_ohm = curve.resistance(np.array([0.0, 140.0]))
    fit = tf.characterise(tf.Points([0.0, 140.0], r_ohm, u_t_k=0.2, u_r_ohm=1e-3 * r_ohm))
    assert fit.curve.t_max_c == 140.0
    assert any("beyond -40 to 125 °C" in text for text in fit.warnings)


def test_b_of_the_mean_material_is_found_from_two_baths() -> None:
    prior = tf.bend_prior()
    mean = prior.curve(r25_ohm=10e3)
    r_ohm = mean.resistance(np.array([0.0, 70.0]))
    fit = tf.characterise(tf.Points([0.0, 70.0], r_ohm, u_t_k=0.1, u_r_ohm=1e-3 * r_ohm))
    np.testing.assert_allclose(
        np.asarray(fit.coefficients)[1:], prior.mean * KILOKELVIN ** np.arange(1, 6), rtol=1e-6
    )


def test_the_report_knows_how_well_b_is_known() -> None:
    """B25/85 by moving each coefficient along the covariance, JCGM 100, 5.1.3."""
    fit = tf.characterise(BENCH)
    assert fit.covariance is not None
    moved = []
    for column in np.linalg.cholesky(fit.covariance).T:
        ends = [
            tf.Curve(fit.equation, np.asarray(fit.coefficients) + sign * 0.01 * column).b_25_85_k
            for sign in (1.0, -1.0)
        ]
        moved.append((ends[0] - ends[1]) / 0.02)
    half_k = 1.96 * float(np.linalg.norm(moved))
    assert f"B25/85 = {fit.curve.b_25_85_k:.0f} ± {half_k:.2g} K (95 %)" in str(fit)
