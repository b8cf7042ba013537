"""Characterising what was never seen: each family from two baths, with the others' bend.

Outside truth: the four R–T tables of the Linux kernel 6.1 (hwmon NTC driver, rounded to 1 Ω there)
and the coefficients of the data sheet 29049 behind ntc-10k-3977; see tests/reference/README.md.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import pytest

import thermofit as tf
from thermofit.curve import Curve
from thermofit.estimate import ManyPoints
from thermofit.estimate.prior import Prior
from thermofit.families.bending import bends_known, learned
from thermofit.interval import Interval

# A band that reaches beyond −40 °C is what is looked at, not an oversight.
pytestmark = pytest.mark.filterwarnings("ignore::thermofit.ExtrapolationWarning")

MEASURED = {id: member.curve for id, member in tf.families().items() if bends_known(member)}
OVER_C = np.arange(0.0, 100.5, 1.0)
WIDE_C = np.arange(-40.0, 125.5, 2.5)


def others(id: str) -> Prior:
    """Everything that is learned, learned without this family."""
    return learned([curve for name, curve in MEASURED.items() if name != id], "the others")


def worst_k(curve: Curve, true: Curve) -> float:
    found = 1.0 / curve._quiet_inv_t(np.log(true.resistance(OVER_C))) - 273.15
    return float(np.abs(found - OVER_C).max())


def without_noise(
    t_c: list[float], u_t_k: list[float], u_r_pct: float
) -> Iterator[tuple[str, Curve, tf.Points, tf.Fit]]:
    for id, true in MEASURED.items():
        r_ohm = true.resistance(np.array(t_c))
        points = tf.Points(t_c, r_ohm, u_t_k=u_t_k, u_r_ohm=u_r_pct / 100.0 * r_ohm)
        yield id, true, points, tf.characterise(points, prior=others(id))


def test_ice_and_70_degrees() -> None:
    errors = {}
    print("\nice (0.05 K) and 70 °C (0.3 K), meter 0.5 %: largest error over 0 to 100 °C in K")
    for id, true, points, fit in without_noise([0.0, 70.0], [0.05, 0.3], 0.5):
        line = worst_k(tf.fit(points, equation="beta").curve, true)
        errors[id] = worst_k(fit.curve, true)
        print(f"  {id:15} {errors[id]:.3f}   constant B {line:.2f}")
        assert 1.2 < line < 1.85
    assert max(errors.values()) <= 0.45
    assert np.median(list(errors.values())) <= 0.25


def test_ice_25_and_70_degrees() -> None:
    errors = [
        worst_k(fit.curve, true)
        for _, true, _, fit in without_noise([0.0, 25.0, 70.0], [0.05, 0.1, 0.3], 0.5)
    ]
    print(f"\nwith 25 °C (0.1 K) as well: {np.round(errors, 3)} K")
    assert max(errors) <= 0.40
    assert np.median(errors) <= 0.22


def test_three_good_points_and_a_band_that_covers() -> None:
    print("\n0, 50 and 100 °C to 0.01 K")
    for id, true, _, fit in without_noise([0.0, 50.0, 100.0], [0.01] * 3, 1e-3):
        band = fit.temperature(true.resistance(OVER_C))
        outside = np.maximum(band.low - OVER_C, OVER_C - band.high).max()
        print(f"  {id:15} {worst_k(fit.curve, true):.3f} K, band ± "
              f"{0.5 * np.mean(band.high - band.low):.3f} K on average")  # fmt: skip
        assert worst_k(fit.curve, true) <= 0.15
        assert outside <= 0.0


def test_the_band_covers_with_noise() -> None:
    """1,000 draws for each family left out, about the share of temperatures that are covered.

    They are characterised all at once, and every tenth by itself, which must say the same.
    """
    rng, draws = np.random.default_rng(20261125), 1000
    t_c, u_t = np.array([0.0, 70.0]), np.array([0.05, 0.3])
    levels = np.array([0.5, 0.68, 0.8, 0.9, 0.95, 0.99])
    near, wide, half, hits = {}, {}, [], np.zeros(len(levels))
    for id, true in MEASURED.items():
        prior, r_ohm = others(id), true.resistance(t_c)
        at_near, at_wide = true.resistance(OVER_C), true.resistance(WIDE_C)
        in_near, in_wide = [], []
        noise = rng.standard_normal((draws, 2, 2))
        seen_ohm = r_ohm * (1.0 + 0.005 * noise[:, 1])
        points = ManyPoints(t_c + u_t * noise[:, 0], seen_ohm, u_t, 0.005 * seen_ohm)
        many = tf.characterise_many(points, prior=prior)
        for draw in range(draws):
            curve = many.curve(draw)
            band = curve.temperature_interval(at_near)
            if draw % 10 == 0:
                same_band(band, tf.characterise(points.points(draw), prior=prior), at_near)
            in_near.append(np.mean((band.low <= OVER_C) & (band.high >= OVER_C)))
            half.append(np.mean(0.5 * (band.high - band.low)))
            beyond = curve.temperature_interval(at_wide)
            in_wide.append(np.mean((beyond.low <= WIDE_C) & (beyond.high >= WIDE_C)))
            z = np.abs(band.value - OVER_C) / band.standard_uncertainty
            hits += [np.mean(z <= k) for k in coverage_factors(levels)]
        near[id], wide[id] = np.mean(in_near), np.mean(in_wide)
    print("\ncoverage of the 95 % band, 1,000 draws each: 0 to 100 °C, −40 to 125 °C")
    for id in MEASURED:
        print(f"  {id:15} {near[id]:.3f}  {wide[id]:.3f}")
    print(
        f"  pooled          {np.mean(list(near.values())):.3f}  {np.mean(list(wide.values())):.3f}"
    )
    print(f"  mean half-width over 0 to 100 °C {np.mean(half):.3f} K")
    print("  reliability: stated → found, " + ", ".join(
        f"{level:.0%} → {share:.1%}" for level, share in zip(levels, hits / draws / 5, strict=True)
    ))  # fmt: skip
    assert 0.93 <= np.mean(list(near.values())) <= 0.99
    assert min(near.values()) >= 0.75
    assert np.mean(half) <= 0.7
    assert np.mean(list(wide.values())) >= 0.90


def same_band(band: Interval, alone: tf.Fit, r_ohm: np.ndarray) -> None:
    """The band of one of many is that of the sensor by itself."""
    theirs = alone.temperature(r_ohm)
    for name in ("value", "low", "high"):
        np.testing.assert_allclose(getattr(band, name), getattr(theirs, name), rtol=0.0, atol=1e-9)


def coverage_factors(levels: np.ndarray) -> np.ndarray:
    from scipy.special import ndtri

    result: np.ndarray = ndtri(0.5 + levels / 2.0)
    return result


def simulated(prior: Prior, rng: np.random.Generator) -> tuple[Curve, tf.Fit]:
    """A material drawn from a prior, two noisy baths, and the fit with the families' prior."""
    while True:
        try:
            true = prior.draw(rng)
            break
        except tf.NotMonotoneError:
            continue
    u_t = np.array([0.05, 0.3])
    seen_c = [0.0, 70.0] + u_t * rng.standard_normal(2)
    seen_ohm = true.resistance(np.array([0.0, 70.0])) * (1.0 + 0.005 * rng.standard_normal(2))
    points = tf.Points(seen_c, seen_ohm, u_t_k=u_t, u_r_ohm=0.005 * seen_ohm)
    return true, tf.characterise(points)


def test_materials_drawn_from_the_prior_are_covered() -> None:
    rng, prior = np.random.default_rng(4), tf.bend_prior()
    covered = []
    for _ in range(500):
        true, fit = simulated(prior, rng)
        band = fit.temperature(true.resistance(WIDE_C), strict=False)
        covered.append(np.mean((band.low <= WIDE_C) & (band.high >= WIDE_C)))
    print(f"\n500 drawn materials: the 95 % band covers {np.mean(covered):.3f}")
    assert 0.94 <= np.mean(covered) <= 0.96


def test_the_conflict_warning_speaks_for_materials_apart() -> None:
    """Two readings conflict with the families by their B value alone."""
    rng = np.random.default_rng(5)
    spoken = {1.0: 0, 2.0: 0}
    for spread in spoken:
        prior = tf.bend_prior().widened(spread**2)
        for _ in range(100):
            _, fit = simulated(prior, rng)
            spoken[spread] += fit.prior is not None and fit.prior.conflict
    print(f"\nconflict warnings in 100 materials, by spread: {spoken}")
    assert spoken[1.0] <= 5
    assert spoken[2.0] > spoken[1.0]


@pytest.mark.parametrize("id", list(MEASURED))
def test_a_curve_is_the_same_whatever_its_level(id: str) -> None:
    """R25 is free: the same material in another R25 gives the same temperatures."""
    true, t_c = MEASURED[id], np.array([0.0, 70.0])
    prior = others(id)
    fits = []
    for factor in (1.0, 37.0):
        r_ohm = factor * true.resistance(t_c)
        points = tf.Points(t_c, r_ohm, u_t_k=[0.05, 0.3], u_r_ohm=0.005 * r_ohm)
        fits.append(tf.characterise(points, prior=prior))
    a = fits[0].temperature(true.resistance(OVER_C))
    b = fits[1].temperature(37.0 * true.resistance(OVER_C))
    np.testing.assert_allclose(a.value, b.value, atol=1e-9)
    np.testing.assert_allclose(a.standard_uncertainty, b.standard_uncertainty, rtol=1e-9)
