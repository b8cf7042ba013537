"""Which equation "auto" takes, and what it says about it."""

from __future__ import annotations

import numpy as np
import pytest

import thermofit as tf
from tests.reference import RT_TABLES, rt_table
from thermofit.estimate.choice import Candidate, aicc, choose

TRUTHS = {
    "beta": tf.Curve.beta(r25_ohm=10e3, b_k=3950),
    "bent": tf.Curve.log_polynomial(
        r_ref_ohm=10e3, coefficients=[3.354016e-3, 2.569850e-4, 2.620131e-6, 6.383091e-8]
    ),
}


@pytest.mark.parametrize("uncertain", [False, True], ids=["scatter", "stated"])
def test_a_straight_line_with_noise_is_taken_for_a_straight_line(uncertain: bool) -> None:
    """Within noise the simpler equation is preferred: most of the time, not by luck of one draw."""
    rng = np.random.default_rng(20)
    t_c = np.linspace(0.0, 100.0, 12)
    r_ohm = TRUTHS["beta"].resistance(t_c)
    terms = []
    for _ in range(200):
        noisy = t_c + 0.1 * rng.standard_normal(12)
        f = tf.fit(tf.Points(noisy, r_ohm, u_t_k=0.1 if uncertain else None))
        terms.append(len(f.coefficients))
    assert np.mean(np.array(terms) == 2) >= 0.75


def test_a_bent_material_is_not_taken_for_a_straight_line() -> None:
    rng = np.random.default_rng(21)
    t_c = np.linspace(0.0, 100.0, 12)
    r_ohm = TRUTHS["bent"].resistance(t_c)
    for _ in range(50):
        f = tf.fit(tf.Points(t_c + 0.05 * rng.standard_normal(12), r_ohm))
        assert len(f.coefficients) >= 3


@pytest.mark.parametrize("name", RT_TABLES)
def test_on_a_published_table_auto_follows_every_row(name: str) -> None:
    f = tf.fit(tf.Points(*rt_table(name)))
    assert f.max_abs_k <= 0.1
    assert f.equation.name in f.reason
    loo = {entry.name: entry.loo_rms_k for entry in f.candidates if entry.loo_rms_k is not None}
    assert loo[f.equation.name] == min(loo.values())
    assert loo["beta"] > 0.5


@pytest.mark.parametrize(("count", "taken"), [(2, "beta"), (3, "steinhart-hart")])
def test_with_too_few_points_to_compare_it_says_so(count: int, taken: str) -> None:
    t_c, r_ohm = rt_table("10k")
    some = np.linspace(8, 28, count).astype(int)
    f = tf.fit(tf.Points(t_c[some], r_ohm[some]))
    assert f.equation.name == taken
    assert "no comparison is possible" in f.reason
    assert "no comparison is possible" in str(f)
    assert not any(entry.ranked for entry in f.candidates)


def test_only_equations_with_two_points_to_spare_are_ranked() -> None:
    t_c, r_ohm = rt_table("10k")
    f = tf.fit(tf.Points(t_c[8:26:3], r_ohm[8:26:3]))
    assert len(f.points) == 6
    for entry in f.candidates:
        assert entry.ranked == (entry.terms + 2 <= 6)
        assert entry.ranked or "needs 7 points" in entry.note


def test_the_first_comparison_is_of_one() -> None:
    t_c, r_ohm = rt_table("10k")
    f = tf.fit(tf.Points(t_c[8:20:3], r_ohm[8:20:3]))
    assert len(f.points) == 4
    assert f.equation.name == "beta"
    assert "the only one" in f.reason


# K. P. Burnham, D. R. Anderson, Model Selection and Multimodel Inference, 2002,
# eq. 2.4: AICc = n·ln(σ̂²) + 2K + 2K(K + 1)/(n − K − 1), K counting the scatter.
def test_aicc_is_that_of_the_book() -> None:
    residuals = np.array([1.0, -1.0, 2.0, -2.0, 0.5, -0.5, 1.5, -1.5])
    sigma2 = np.mean(residuals**2)
    assert aicc(residuals, None, 2) == pytest.approx(8 * np.log(sigma2) + 6 + 24 / 4)
    assert aicc(residuals, np.full(8, 2.0), 2) == pytest.approx(8 * sigma2 / 4 + 4 + 12 / 5)
    assert aicc(residuals[:4], None, 2) == np.inf


def test_a_clear_winner_wins_and_a_tie_goes_to_the_simpler() -> None:
    simple = Candidate("simple", 2, loo_rms_k=1.0, aicc=0.0)
    rich = Candidate("rich", 4, loo_rms_k=0.1, aicc=-50.0)
    noisy = np.array([1.0, -1.0, 1.1, -0.9, 1.0, -1.0])
    assert choose([simple, rich], [noisy, 0.1 * noisy])[0] == 1
    alike = Candidate("rich", 4, loo_rms_k=0.99, aicc=1.0)
    pick, reason = choose([simple, alike], [noisy, 0.99 * noisy[::-1]])
    assert pick == 0
    assert "within noise" in reason


def test_aicc_puts_aside_what_it_speaks_against_strongly() -> None:
    noisy = np.array([1.0, -1.0, 1.1, -0.9, 1.0, -1.0])
    lucky = Candidate("lucky", 2, loo_rms_k=0.5, aicc=900.0)
    sound = Candidate("sound", 3, loo_rms_k=1.0, aicc=20.0)
    assert choose([lucky, sound], [0.5 * noisy, noisy])[0] == 1
    barely = Candidate("lucky", 2, loo_rms_k=1.01, aicc=25.0)
    assert choose([barely, sound], [1.01 * noisy[::-1], noisy])[0] == 1


def test_a_simpler_one_that_is_clearly_worse_is_not_within_noise() -> None:
    rng = np.random.default_rng(1)
    errors = rng.standard_normal(30)
    simple = Candidate("simple", 2, loo_rms_k=2.0, aicc=0.0)
    rich = Candidate("rich", 3, loo_rms_k=1.0, aicc=0.5)
    assert choose([simple, rich], [2.0 * errors, errors])[0] == 1


def test_readings_known_badly_do_not_outvote_those_known_well() -> None:
    """Every fifth reading known to 5 K, the others to 0.02 K, on a bent material."""
    rng = np.random.default_rng(8)
    t_c = np.linspace(0.0, 100.0, 14)
    r_ohm = TRUTHS["bent"].resistance(t_c)
    u_t_k = np.where(np.arange(14) % 5 == 0, 5.0, 0.02)
    for _ in range(40):
        f = tf.fit(tf.Points(t_c + u_t_k * rng.standard_normal(14), r_ohm, u_t_k=u_t_k))
        assert len(f.coefficients) >= 3
        assert f.p_value is not None
        assert f.p_value > 1e-4


def test_making_ohms_small_chooses_by_kelvin_all_the_same() -> None:
    rng = np.random.default_rng(9)
    t_c = np.linspace(0.0, 100.0, 15)
    r_ohm = TRUTHS["beta"].resistance(t_c)
    terms = []
    for _ in range(40):
        noisy = tf.Points(
            t_c + 0.1 * rng.standard_normal(15), r_ohm * (1.0 + 0.003 * rng.standard_normal(15))
        )
        f = tf.fit(noisy, minimise="resistance")
        assert f.minimise == "resistance"
        terms.append(len(f.coefficients))
    assert np.mean(np.array(terms) == 2) >= 0.7


def test_with_one_point_too_few_it_says_what_that_point_would_decide() -> None:
    t_c, r_ohm = rt_table("47k")
    four = np.isin(t_c, [0.0, 25.0, 50.0, 100.0])
    f = tf.fit(tf.Points(t_c[four], r_ohm[four]))
    assert f.equation.name == "beta"
    assert any("one more point would settle it" in doubt for doubt in f.warnings)


def test_what_has_the_smaller_error_and_was_put_aside_is_named() -> None:
    # Invented readings of a sensor that bends, in five baths.
    points = tf.read_points("docs/demo/five-baths.csv")
    known = tf.Points(points.t_c, points.r_ohm, u_t_k=0.1, u_r_ohm=0.003 * points.r_ohm)
    f = tf.fit(known)
    errors = {c.name: c.loo_rms_k for c in f.candidates if c.loo_rms_k is not None}
    assert f.equation.name == "beta"
    assert errors["steinhart-hart"] < errors["beta"]
    assert "smallest" not in f.reason
    assert "steinhart-hart has" in f.reason and "AICc" in f.reason


def test_constant_b_for_want_of_points_is_told_to_know_no_bend() -> None:
    points = tf.read_points("docs/demo/five-baths.csv")
    few = tf.fit(tf.Points(points.t_c, points.r_ohm, u_t_k=0.1, u_r_ohm=0.003 * points.r_ohm))
    assert any("characterise" in text for text in few.warnings)
    narrow = points.t_c < 45.0
    near = tf.fit(tf.Points(points.t_c[narrow], points.r_ohm[narrow], u_t_k=0.1), equation="auto")
    assert not any("characterise" in text for text in near.warnings)
    asked_for = tf.fit(tf.Points(points.t_c, points.r_ohm, u_t_k=0.1), equation="beta")
    assert not any("characterise" in text for text in asked_for.warnings)
