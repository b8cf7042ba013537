"""Characterising at its edges: readings that disagree, tell little, or are no readings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.budget import Budget, Contribution
from thermofit.errors import FitError, InputError
from thermofit.families.bending import bends_known

TRUE = tf.family("ntc-10k-3977").curve


def points(t_c: list[float], r_ohm: list[float], u_t_k: float = 0.1) -> tf.Points:
    return tf.Points(t_c, r_ohm, u_t_k=np.full(len(t_c), u_t_k), u_r_ohm=0.005 * np.array(r_ohm))


def exact(t_c: list[float], u_t_k: float | list[float]) -> tf.Points:
    return tf.Points(t_c, TRUE.resistance(np.array(t_c)), u_t_k=np.broadcast_to(u_t_k, len(t_c)))


# -- readings that disagree ------------------------------------------------------------------


@pytest.mark.parametrize("again_c", [25.0, 25.1])
def test_two_readings_in_one_bath_that_disagree_are_not_blamed_on_the_bend(again_c: float) -> None:
    """No bend explains two resistances at one temperature, so that none is made up."""
    apart = tf.characterise(points([25.0, again_c], [11000.0, 10000.0]))
    alike = tf.characterise(points([25.0, again_c], [10500.0, 10500.0]))
    assert apart.prior is not None
    assert not apart.prior.conflict
    told = " ".join(apart.warnings)
    assert "disagree among themselves" in told
    assert "do not bend" not in told
    assert apart.p_value is not None
    assert apart.p_value < 1e-6
    r_ohm = apart.curve.resistance(np.array([-20.0, 70.0]))
    np.testing.assert_allclose(
        apart.temperature(r_ohm).standard_uncertainty,
        alike.temperature(r_ohm).standard_uncertainty,
        rtol=0.3,
    )


def test_readings_that_disagree_with_each_other_and_with_the_bend() -> None:
    """The prior is widened for what a bend explains, and for no more."""
    alone = tf.characterise(points([0.0, 25.0, 70.0], [32600.0, 10000.0, 4000.0], 0.02))
    also = tf.characterise(
        points([0.0, 25.0, 25.0, 70.0], [32600.0, 9850.0, 10150.0, 4000.0], 0.02)
    )
    assert alone.prior is not None
    assert also.prior is not None
    assert alone.prior.conflict
    assert 1.0 < also.prior.widened < 1.5 * alone.prior.widened
    told = " ".join(also.warnings)
    assert "do not bend" in told
    assert "Even so they disagree among themselves" in told


def test_an_odd_b_is_no_excuse_for_readings_that_disagree() -> None:
    """Readings that are 2.5 % apart, by which they are known less well, do not show an odd B."""
    odd = tf.Curve.beta(r25_ohm=10e3, b_k=1500.0).resistance(np.array([0.0, 70.0]))
    fit = tf.characterise(points([0.0, 0.0, 70.0], [0.9875 * odd[0], 1.0125 * odd[0], odd[1]]))
    assert fit.prior is not None
    assert not fit.prior.conflict
    assert any("disagree among themselves" in text for text in fit.warnings)


def test_many_readings_widen_the_prior_until_they_are_as_far_from_it_as_usual() -> None:
    """Invented: 10 kΩ in parallel, read without noise, so that only the bend is far off."""
    t_c = np.linspace(-20.0, 100.0, 9)
    r_ohm = 1.0 / (1.0 / TRUE.resistance(t_c) + 1e-4)
    fit = tf.characterise(points(list(t_c), list(r_ohm), 0.05))
    assert fit.prior is not None
    assert fit.prior.conflict
    again = tf.characterise(fit.points, prior=fit.prior.prior)
    assert again.chi2 == pytest.approx(8.0, rel=0.02)


def test_a_narrow_prior_of_another_material_is_widened_as_far_as_it_takes() -> None:
    """Two readings at two temperatures cannot disagree among themselves."""
    narrow = tf.Prior([3.0, -0.16], [[1e-4, 0.0], [0.0, 1e-6]], origin="two lots of our own")
    fit = tf.characterise(points([0.0, 68.4], [32600.0, 1870.0]), prior=narrow)
    assert fit.prior is not None
    assert fit.prior.widened > 1000.0
    assert tf.characterise(fit.points, prior=fit.prior.prior).chi2 == pytest.approx(1.0, rel=0.01)
    told = " ".join(fit.warnings)
    assert "do not bend as two lots of our own do" in told
    assert "among themselves" not in told


@given(
    t_c=st.lists(st.sampled_from([0.0, 25.0, 25.1, 70.0]), min_size=2, max_size=6),
    off_pct=st.lists(st.floats(-20.0, 20.0), min_size=6, max_size=6),
)
def test_whatever_disagrees_is_told_and_keeps_a_curve_or_is_refused(
    t_c: list[float], off_pct: list[float]
) -> None:
    r_ohm = TRUE.resistance(np.array(t_c)) * (1.0 + np.array(off_pct[: len(t_c)]) / 100.0)
    fit, refused = None, ""
    try:
        fit = tf.characterise(points(t_c, list(r_ohm)))
    except FitError as error:
        refused = str(error)
    if fit is None:
        assert "resistance rises" in refused or "no curve can be drawn" in refused
        return
    assert fit.p_value is not None
    told = " ".join(fit.warnings)
    assert (fit.p_value < 0.01) == ("do not bend" in told or "among themselves" in told)
    at = np.linspace(fit.curve.t_min_c, fit.curve.t_max_c, 9)
    assert np.isfinite(fit.temperature(fit.curve.resistance(at)).standard_uncertainty).all()


@pytest.mark.parametrize("r_ohm", [[10400.0, 10410.0], [10400.0, 10400.0]])
def test_two_readings_close_together_may_rise_by_their_noise(r_ohm: list[float]) -> None:
    fit = tf.characterise(points([24.0, 24.2], r_ohm, 0.2))
    assert fit.temperature(10400.0).value == pytest.approx(24.1, abs=0.05)
    assert fit.curve.alpha(24.0) == pytest.approx(-0.044, abs=0.01)


def test_one_bath_read_twice_alike_is_a_reading() -> None:
    fit = tf.characterise(points([0.0, 0.0], [32600.0, 32600.0]))
    assert fit.temperature(32600.0).value == pytest.approx(0.0, abs=1e-6)


# -- what is said ----------------------------------------------------------------------------


@given(t_c=st.lists(st.floats(126.0, 160.0), min_size=1, max_size=1), low=st.floats(0.0, 60.0))
def test_an_honest_oven_is_not_asked_about_fahrenheit(t_c: list[float], low: float) -> None:
    for places in (t_c, [low, *t_c]):
        r_ohm = np.exp(TRUE._quiet_ln_r(np.array(places)))
        fit = tf.characterise(points(places, list(r_ohm)))
        assert not any("°F" in text for text in fit.warnings)
        assert any("beyond -40 to 125 °C" in text for text in fit.warnings)
        assert not any("readings alone" in text for text in fit.warnings)


def test_fahrenheit_is_asked_about_once_and_only_where_it_leads_to_the_families() -> None:
    t_f = np.array([-4.0, 32.0, 77.0, 140.0])
    r_ohm = TRUE.resistance((t_f - 32.0) / 1.8)
    fit = tf.characterise(tf.Points(t_f, r_ohm, u_t_k=[0.02] * 4, u_r_ohm=1e-3 * r_ohm))
    assert fit.prior is not None
    assert fit.prior.conflict
    assert any("beyond -40 to 125 °C" in text for text in fit.warnings)
    assert sum("°F" in text for text in fit.warnings) == 1
    fit = tf.characterise(points([32.0, 155.12], [32600.0, 1870.0]))
    assert fit.prior is not None
    assert not fit.prior.conflict
    assert sum("°F" in text for text in fit.warnings) == 1
    # With a low B °F would be nearer, but as far outside as °C.
    low = tf.Curve.beta(r25_ohm=10e3, b_k=2300.0, t_range_c=(-60.0, 30.0))
    fit = tf.characterise(points([-60.0, 20.0], list(low.resistance(np.array([-60.0, 20.0])))))
    assert not any("°F" in text for text in fit.warnings)


def test_b_is_said_to_come_from_the_families_only_where_it_does() -> None:
    def told(t_c: list[float], u_t_k: float) -> bool:
        return any(
            "tell B less well" in text for text in tf.characterise(exact(t_c, u_t_k)).warnings
        )

    assert told([20.0, 22.0], 0.3)
    assert not told([20.0, 26.0], 0.01), "6 K apart, but to 0.01 K"
    assert not told([20.0, 26.0], 0.2), "B to 180 K, where the families know it to 640 K"
    assert told([0.0, 70.0], 20.0), "70 K apart, but to 20 K"


def test_a_prefix_that_was_left_out_is_asked_about() -> None:
    fit = tf.characterise(points([0.0, 68.4], [32600.0, 1.87]))
    asked = " ".join(fit.warnings)
    assert "Is the 32.600 kΩ at 0 °C a slip of a prefix, a thousandth of it?" in asked
    assert "Or is the 1.8700 Ω at 68.4 °C a slip of a prefix, a thousand times as much?" in asked
    # Three readings tell which one it is.
    with pytest.raises(
        FitError, match=r"Is the 10\.000 Ω at 25 °C .*, a thousand times as much\? As"
    ):
        tf.characterise(points([0.0, 25.0, 68.4], [32600.0, 10.0, 1870.0]))


def test_sensors_of_odd_b_are_not_asked_about_slips_without_a_conflict() -> None:
    for b_k in np.linspace(2600.0, 5300.0, 10):
        odd = tf.Curve.beta(r25_ohm=10e3, b_k=b_k)
        fit = tf.characterise(points([0.0, 70.0], list(odd.resistance(np.array([0.0, 70.0])))))
        assert not any("?" in text for text in fit.warnings), b_k


def test_a_report_of_many_points_stays_short() -> None:
    fit = tf.characterise(exact(list(np.linspace(-40.0, 125.0, 200)), 0.1))
    assert len(str(fit).splitlines()) < 70
    parts = fit.contributions([0.0, 50.0])
    assert len(parts.names) == 401
    shown = str(parts).splitlines()
    assert any("others together" in line for line in shown)
    squares = [[float(cell) ** 2 for cell in line.split()[-2:]] for line in shown[1:-1]]
    np.testing.assert_allclose(
        np.sqrt(np.sum(squares, axis=0)), parts.standard_uncertainty_k, atol=2e-3
    )


def test_a_curve_that_is_valid_over_warm_readings_only_prints_without_a_warning() -> None:
    """A sensor with 4 kΩ of moisture in parallel turns towards the cold."""
    t_c = np.array([45.0, 55.0, 65.0, 75.0, 85.0])
    r_ohm = 1.0 / (1.0 / TRUE.resistance(t_c) + 1.0 / 4000.0)
    fit = tf.characterise(tf.Points(t_c, r_ohm, u_t_k=[0.02] * 5, u_r_ohm=1e-3 * r_ohm))
    assert (fit.curve.t_min_c, fit.curve.t_max_c) == (45.0, 85.0)
    assert any("turns beyond the readings" in text for text in fit.warnings)
    # Warnings are errors here, those of extrapolation too.
    lines = str(fit).splitlines()
    assert not any("R25 =" in line for line in lines), "25 °C is outside"
    (header,) = [place for place, line in enumerate(lines) if "95 % / K" in line]
    assert [line.split()[0] for line in lines[header + 1 : header + 5]] == ["50", "60", "70", "80"]


def test_a_curve_that_is_valid_over_one_kelvin_shows_both_ends_and_no_b() -> None:
    """Invented: a prior that turns everywhere else."""
    odd = tf.Prior([3.9, 4.0], np.diag([1e-2, 1e-4]), origin="invented ones")
    t_c = np.array([41.0, 41.5, 42.0])
    fit = tf.characterise(tf.Points(t_c, TRUE.resistance(t_c), u_t_k=[1.0] * 3), prior=odd)
    assert (fit.curve.t_min_c, fit.curve.t_max_c) == (41.0, 42.0)
    text = str(fit)
    rows = [" ".join(line.split()) for line in text.splitlines()]
    assert any(row.startswith("41 5.08") for row in rows)
    assert any(row.startswith("42 4.95") for row in rows)
    assert "nan" not in text
    # Each of the three is a third.
    assert "the largest: temperature at 42 °C" in text


# -- numbers ---------------------------------------------------------------------------------


@pytest.mark.parametrize("u_t_k", [1e-3, 1e-6, 1e-7])
def test_small_uncertainties_keep_their_digits(u_t_k: float) -> None:
    fit = tf.characterise(exact([0.0, 70.0], u_t_k))
    found = fit.contributions([0.0, 70.0]).standard_uncertainty_k
    np.testing.assert_allclose(found, u_t_k, rtol=1e-3)
    at = fit.temperature(TRUE.resistance(np.array([0.0, 70.0])))
    np.testing.assert_allclose(at.standard_uncertainty, u_t_k, rtol=0.01)


def test_one_reading_is_not_blurred_by_another() -> None:
    fit = tf.characterise(exact([0.0, 70.0], [1e-6, 50.0]))
    assert fit.contributions([0.0]).standard_uncertainty_k[0] == pytest.approx(1e-6, rel=1e-3)


@pytest.mark.parametrize("u_t_k", [1e-9, 1e-11, 1e-13, 1e-200])
def test_uncertainties_too_small_for_the_digits_of_a_number_are_refused(u_t_k: float) -> None:
    with pytest.raises(FitError, match="so small"):
        tf.characterise(exact([0.0, 70.0], u_t_k))


@pytest.mark.parametrize("r_ohm", [1e-300, 1e300, 1e307])
@pytest.mark.parametrize("t_c", [25.0, 125.0])
def test_resistances_of_no_sensor_are_refused(t_c: float, r_ohm: float) -> None:
    with pytest.raises(FitError, match="at 25 °C"):
        tf.characterise(points([t_c], [r_ohm]))


def test_a_curve_that_leaves_the_numbers_is_refused_with_what_is_wrong() -> None:
    """An open contact and a short, a kelvin apart."""
    with pytest.raises(FitError, match=r"disagree.*\. As they stand.* at -40 °C, which no sensor"):
        tf.characterise(points([25.0, 26.0, 25.0, 26.0], [1e7, 10.0, 5e7, 2.0], 1e-3))


def test_errors_that_cancel_altogether_are_refused() -> None:
    """A twin of the same curve, with nothing but the meter's gain: a reading without error."""
    alpha = -tf.bend_prior().mean[0] * 1e3 / 298.15**2
    gain = Contribution("gain", 50.0, unit="Ω", shared="gain")
    seen = Contribution("gain", 50.0, unit="Ω", sensitivity=1e-4 / alpha, shared="gain")
    with pytest.raises(FitError, match="cancel"):
        tf.characterise([tf.Reading(Budget(25.0, "°C", [seen]), Budget(1e4, "Ω", [gain]))])


def test_temperatures_of_contributions() -> None:
    fit = tf.characterise(exact([0.0, 70.0], 0.1))
    with pytest.raises(InputError, match="one dimension"):
        fit.contributions([[0.0, 25.0], [50.0, 70.0]])
    with pytest.raises(InputError, match="absolute zero"):
        fit.contributions(-300.0)
    with pytest.warns(tf.ExtrapolationWarning, match="150 °C is outside"):
        fit.contributions(150.0)


# -- what a fit with a prior is --------------------------------------------------------------


@pytest.mark.parametrize("n", [2, 9])
def test_lmfit_knows_no_prior(n: int) -> None:
    with pytest.raises(FitError, match="prior"):
        tf.characterise(exact(list(np.linspace(0.0, 70.0, n)), 0.1)).lmfit_model()


def test_one_reading_needs_no_list() -> None:
    one = tf.Reading(tf.ice_point(), tf.Meter.parse("1%", resolution_ohm=1).measure(32600.0))
    assert tf.characterise(one).coefficients == tf.characterise([one]).coefficients
    with pytest.raises(InputError, match="got NoneType"):
        tf.characterise(None)  # type: ignore[arg-type]


def test_a_covariance_may_be_off_symmetry_by_its_rounding() -> None:
    rounded = [[1.0, 0.0, 1e-20], [0.0, 1.0, 0.0], [-1e-20, 0.0, 1.0]]
    assert (
        tf.Prior([3.9, -0.2, 0.01], rounded).covariance[0, 2]
        == tf.Prior([3.9, -0.2, 0.01], rounded).covariance[2, 0]
    )


def test_the_share_that_is_too_large_is_told_in_percent() -> None:
    with pytest.raises(InputError, match=r"point 1 has only 0\.5 %"):
        tf.characterise(points([0.0, 70.0], [32600.0, 1750.0]), shared_u_r_pct=0.6)


def test_what_was_characterised_with_a_prior_does_not_teach_it() -> None:
    """Its bend is that of the families; as one more of them it would narrow their spread."""
    of_two = tf.characterise(exact([0.0, 70.0], 0.1)).curve.replace(id="inlet")
    assert not bends_known(tf.Family(of_two, source_kind="measured"))
    many = exact(list(np.linspace(-40.0, 125.0, 34)), 0.01)
    good = tf.fit(many, equation="bent-beta-5").curve.replace(id="inlet")
    assert bends_known(tf.Family(good, source_kind="measured"))
