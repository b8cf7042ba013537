"""Tolerance bands: published examples, laws, and agreement with brute force."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.errors import ExtrapolationError, InputError
from thermofit.tolerance import (
    Region,
    ResistanceLimits,
    Strip,
    as_r_and_b,
    as_resistance_table,
    as_temperature,
)

PUBLISHED = tf.Curve.inverse_polynomial(
    r_ref_ohm=10e3, coefficients=[-14.6337, 4791.842, -115334.0, -3.730535e6]
)
BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0, t_range_c=(-40.0, 125.0))
temperatures = st.floats(-40.0, 125.0)
percents = st.floats(0.01, 20.0)
small = st.floats(0.01, 5.0)


# -- published -----------------------------------------------------------------------


def test_the_published_example_to_its_digits() -> None:
    """Vishay BCcomponents, document 29049, 10-Oct-03: at 0 °C with R25 ± 5 % and B ± 0.75 %,
    Y = 0.89 % (0.889 % by its rule), Z = 5.93 %, TC = 5.08 %/K, Z/TC = 1.17 °C, 32.56 kΩ."""
    by_b = tf.tolerance_band(PUBLISHED, 0.0, b_pct=0.75)
    assert round(float(by_b.dr_pct), 3) == 0.889
    band = tf.tolerance_band(PUBLISHED, 0.0, r25_pct=5, b_pct=0.75)
    assert round(float(band.dr_pct), 2) == 5.93
    # The printed coefficients do not give the printed 32.56 kΩ and 5.08 %/K to the last
    # digit: they give 32.555 kΩ and 5.09 %/K.  The source states that its own two forms
    # agree within 0.015 °C from −40 to 25 °C, and that is how well it can be met: the
    # printed resistance must be that of 0 °C within it, and so must the reading error.
    assert PUBLISHED.temperature(32560.0) == pytest.approx(0.0, abs=0.015)
    assert 5.93 / (-100.0 * float(band.alpha_per_k)) == pytest.approx(5.93 / 5.08, abs=0.015)
    assert round(abs(float(band.dt_high_first_order_k)), 2) == 1.17


def test_ratio_characteristics_of_a_standard() -> None:
    """MIL-PRF-23648, Table I: R25/R125 = 19.8 (A), 29.4 (B), 48.7 (C), each ± 10 %."""
    for id_, ratio in (
        ("ntc-ratio-3544", 19.8),
        ("ntc-ratio-4014", 29.4),
        ("ntc-ratio-4613", 48.7),
    ):
        curve = tf.family(id_).curve
        band = tf.tolerance_band(curve, [25.0, 125.0], ratio_pct=10)
        assert band.r_nominal_ohm[0] / band.r_nominal_ohm[1] == pytest.approx(ratio, rel=1e-9)
        assert band.dr_pct[0] == pytest.approx(0.0, abs=1e-9)
        ratios = band.r_nominal_ohm[0] / np.array([band.r_low_ohm[1], band.r_high_ohm[1]])
        assert ratios == pytest.approx([1.1 * ratio, 0.9 * ratio], rel=1e-9)


def test_a_tolerance_at_zero_with_one_of_b_spans_more_at_25() -> None:
    """Computed by hand for B = 3977 K: γ = ln 1.01 + 0.01·3977·(1/273.15 − 1/298.15) K."""
    low, high = tf.Tolerance.of(r_pct=1, r_at_c=0, b_pct=1).region(BETA).support(0.0)
    by_hand = np.log(1.01) + 0.01 * 3977.0 * (1.0 / 273.15 - 1.0 / 298.15)
    assert high == pytest.approx(by_hand, rel=1e-12)
    assert -low == pytest.approx(0.022, abs=5e-4)


# IEC 60751, tolerance classes; the numbers are from memory.
@pytest.mark.parametrize(("name", "half_k"), [("AA", 0.27), ("A", 0.35), ("B", 0.8), ("C", 1.6)])
def test_platinum_classes_are_bands_in_temperature(name: str, half_k: float) -> None:
    band = tf.tolerance_band(tf.family("pt-100-iec60751"), 100.0, platinum_class=name)
    assert float(band.dt_high_k) == pytest.approx(half_k, abs=1e-9)
    assert float(band.dt_low_k) == pytest.approx(-half_k, abs=1e-9)


# -- laws ----------------------------------------------------------------------------


@given(temperatures, percents, small)
def test_constant_b_is_the_textbook_formula(t_c: float, r25_pct: float, b_pct: float) -> None:
    band = tf.tolerance_band(BETA, t_c, r25_pct=r25_pct, b_pct=b_pct)
    axis = 1.0 / (t_c + 273.15) - 1.0 / 298.15
    x, y = r25_pct / 100.0, b_pct / 100.0
    corners = [
        10e3 * (1.0 + sx * x) * np.exp(3977.0 * (1.0 + sy * y) * axis)
        for sx in (-1.0, 1.0)
        for sy in (-1.0, 1.0)
    ]
    assert float(band.r_low_ohm) == pytest.approx(min(corners), rel=1e-12)
    assert float(band.r_high_ohm) == pytest.approx(max(corners), rel=1e-12)


# fmt: off
FORMS = st.one_of(
    st.fixed_dictionaries({"r25_pct": percents, "b_pct": small}),
    st.fixed_dictionaries({"r_pct": percents, "r_at_c": st.sampled_from([0.0, 50.0, 100.0]),
                           "b_pct": small}),
    st.fixed_dictionaries({"r25_pct": percents, "b_k": st.floats(1.0, 100.0),
                           "b_pair_c": st.sampled_from([(25.0, 50.0), (0.0, 50.0)])}),
    st.fixed_dictionaries({"dt_k": st.floats(0.05, 2.0), "dt_range_c": st.just((0.0, 70.0))}),
    st.fixed_dictionaries({"r25_pct": percents, "ratio_pct": percents}),
    st.fixed_dictionaries({"table": st.just([(0.0, 2.0), (25.0, 1.0), (100.0, 3.0)])}),
    st.fixed_dictionaries({
        "r25_pct": st.tuples(st.floats(-9, 0), st.floats(0.1, 9)),
        "b_pct": st.tuples(st.floats(-3, -0.1), st.floats(0, 3)),
    }),
)
# fmt: on


@given(FORMS, temperatures)
def test_the_band_contains_its_nominal(stated: dict[str, Any], t_c: float) -> None:
    band = tf.tolerance_band(PUBLISHED, t_c, **stated)
    assert band.r_low_ohm <= band.r_nominal_ohm * (1 + 1e-12)
    assert band.r_nominal_ohm <= band.r_high_ohm * (1 + 1e-12)
    if np.isfinite(band.dt_low_k) and np.isfinite(band.dt_high_k):
        assert band.dt_high_k <= 1e-9 <= band.dt_low_k + 2e-9


@given(FORMS, temperatures, st.sampled_from([0.5, 0.9, 0.99]))
def test_the_worst_case_contains_every_spread_within_the_limits(
    stated: dict[str, Any], t_c: float, coverage: float
) -> None:
    worst = tf.tolerance_band(PUBLISHED, t_c, **stated)
    parts = tf.tolerance_band(PUBLISHED, t_c, distribution="uniform", coverage=coverage, **stated)
    assert worst.r_low_ohm <= parts.r_low_ohm * (1 + 1e-12)
    assert parts.r_high_ohm <= worst.r_high_ohm * (1 + 1e-12)


def test_truncated_spreads_stay_within_the_worst_case_and_a_plain_normal_does_not() -> None:
    at = np.array([-20.0, 25.0, 90.0])
    stated: dict[str, Any] = {"r25_pct": 2, "b_pct": 1}
    worst = tf.tolerance_band(PUBLISHED, at, **stated)
    cut = tf.tolerance_band(
        PUBLISHED, at, distribution="truncated-normal", coverage=0.999,
        numerical_tolerance_pct=0.1, k=1.0, **stated,
    )  # fmt: skip
    assert (cut.dr_pct <= worst.dr_pct).all()
    plain = tf.tolerance_band(PUBLISHED, at, distribution="normal", coverage=0.999, k=1, **stated)
    assert (plain.dr_pct > worst.dr_pct).any()
    assert "k = 1" in plain.meaning


@given(temperatures, percents, small, st.floats(1.0, 3.0))
def test_wider_tolerances_make_wider_bands(
    t_c: float, r25_pct: float, b_pct: float, factor: float
) -> None:
    narrow = tf.tolerance_band(PUBLISHED, t_c, r25_pct=r25_pct, b_pct=b_pct)
    wider_ones: list[dict[str, Any]] = [
        {"r25_pct": r25_pct * factor, "b_pct": b_pct},
        {"r25_pct": r25_pct, "b_pct": b_pct * factor},
    ]
    for wider in wider_ones:
        band = tf.tolerance_band(PUBLISHED, t_c, **wider)
        assert band.r_high_ohm >= narrow.r_high_ohm * (1 - 1e-13)
        assert band.r_low_ohm <= narrow.r_low_ohm * (1 + 1e-13)


@given(percents, small, small)
def test_at_25_degrees_the_tolerance_of_b_does_not_count(
    r25_pct: float, one: float, other: float
) -> None:
    bands = [tf.tolerance_band(BETA, 25.0, r25_pct=r25_pct, b_pct=b) for b in (one, other)]
    assert bands[0].dr_pct == pytest.approx(bands[1].dr_pct, rel=1e-12)
    assert float(bands[0].dr_pct) == pytest.approx(r25_pct, rel=1e-12)


@given(st.floats(0.001, 0.5), temperatures)
def test_first_order_agrees_to_second_order(pct: float, t_c: float) -> None:
    band = tf.tolerance_band(PUBLISHED, t_c, r25_pct=pct)
    for exact, first in ((band.dt_low_k, band.dt_low_first_order_k),
                         (band.dt_high_k, band.dt_high_first_order_k)):  # fmt: skip
        assert abs(exact - first) <= 20.0 * first**2 / 300.0 + 1e-9


@given(temperatures, percents, small)
def test_one_curve_in_two_equations_has_one_band(t_c: float, r25_pct: float, b_pct: float) -> None:
    as_polynomial = tf.Curve.log_polynomial(
        r_ref_ohm=10e3, coefficients=[1.0 / 298.15, 1.0 / 3977.0], t_range_c=(-40.0, 125.0)
    )
    one = tf.tolerance_band(BETA, t_c, r25_pct=r25_pct, b_pct=b_pct)
    other = tf.tolerance_band(as_polynomial, t_c, r25_pct=r25_pct, b_pct=b_pct)
    for name in ("r_low_ohm", "r_high_ohm", "dr_pct", "dr_low_pct"):
        assert getattr(one, name) == pytest.approx(getattr(other, name), rel=1e-9)


@given(st.floats(0.05, 2.0), st.floats(0.0, 70.0))
def test_parts_matched_in_temperature_read_within_their_limits(dt_k: float, t_c: float) -> None:
    band = tf.tolerance_band(PUBLISHED, t_c, dt_k=dt_k, dt_range_c=(0.0, 70.0))
    # The limits are laid at 65 temperatures; in between the region bulges a little.
    assert abs(band.dt_high_k) <= dt_k * (1.0 + 1e-3)
    assert abs(band.dt_low_k) <= dt_k * (1.0 + 1e-3)


@given(st.sampled_from([(25.0, 50.0), (25.0, 85.0), (0.0, 50.0), (25.0, 100.0)]), small)
def test_percent_of_b_means_the_same_for_every_pair(pair: tuple[float, float], pct: float) -> None:
    b_k = PUBLISHED.b_value(*pair) * pct / 100.0
    in_kelvin = tf.tolerance_band(PUBLISHED, 80.0, r25_pct=1, b_k=b_k, b_pair_c=pair)
    in_percent = tf.tolerance_band(PUBLISHED, 80.0, r25_pct=1, b_pct=pct)
    assert in_kelvin.dr_pct == pytest.approx(in_percent.dr_pct, rel=1e-9)


# -- many at once --------------------------------------------------------------------


def test_tolerances_and_temperatures_broadcast() -> None:
    tolerances = np.array([0.5, 1.0, 5.0])[:, np.newaxis]
    t_c = np.array([0.0, 25.0, 50.0, 85.0])
    many = tf.tolerance_band(PUBLISHED, t_c, r25_pct=tolerances, b_pct=np.array([0.5, 1, 2, 3.0]))
    assert many.dr_pct.shape == many.dt_low_k.shape == many.t_c.shape == (3, 4)
    one = tf.tolerance_band(PUBLISHED, 50.0, r25_pct=5.0, b_pct=2.0)
    assert many.r_high_ohm[2, 2] == pytest.approx(float(one.r_high_ohm), rel=1e-14)
    assert many.dt_low_k[2, 2] == pytest.approx(float(one.dt_low_k), rel=1e-12)
    assert len(many.to_frame()) == 12


def test_many_curves_bring_their_own_tolerances() -> None:
    members = [tf.family("ntc-10k-3977"), tf.family("ntc-5k-3988")]
    band = tf.tolerance_band(members, [0.0, 25.0])
    assert band.dr_pct.shape == (2, 2)
    assert band.dr_pct[:, 1] == pytest.approx([5.0, 1.0])
    own = tf.tolerance_band(members, [0.0, 25.0], r25_pct=np.array([2.0, 3.0]), b_pct=1)
    assert own.dr_pct[:, 1] == pytest.approx([2.0, 3.0])


def test_a_band_prints_as_a_table_and_gives_a_frame() -> None:
    band = tf.tolerance_band(tf.family("ntc-10k-3977"), [0.0, 25.0])
    text = str(band)
    assert "R(25 °C) ± 5 %, B ± 0.75 %; worst case" in text
    assert "32.555 kΩ" in text
    frame = band.to_frame()
    assert list(frame.columns[:4]) == ["t_c", "r_low_ohm", "r_nominal_ohm", "r_high_ohm"]


# -- statistics ----------------------------------------------------------------------


DRAWS = 1_000_000


@pytest.mark.parametrize("distribution", ["uniform", "normal", "truncated-normal"])
@pytest.mark.parametrize("t_c", [-20.0, 25.0, 90.0])
def test_a_million_parts_lie_inside_as_often_as_stated(distribution: Any, t_c: float) -> None:
    """Against parts drawn here, independently of the library's own simulation."""
    rng = np.random.default_rng(5)
    if distribution == "uniform":
        parts = rng.uniform(-1.0, 1.0, (2, DRAWS))
    elif distribution == "normal":
        parts = rng.normal(0.0, 0.5, (2, DRAWS))
    else:
        parts = rng.normal(0.0, 0.5, (2, 2 * DRAWS))
        parts = np.stack([row[np.abs(row) <= 1.0][:DRAWS] for row in parts])
    low, high = np.log(0.98), np.log(1.02)
    gamma = 0.5 * (low + high) + 0.5 * (high - low) * parts[0]
    beta = 0.015 * parts[1]
    ln_rho = np.log(PUBLISHED.resistance(t_c) / PUBLISHED.resistance(25.0))
    r_ohm = PUBLISHED.resistance(t_c) * np.exp(gamma + beta * ln_rho)
    band = tf.tolerance_band(
        PUBLISHED, t_c, r25_pct=2, b_pct=1.5, distribution=distribution,
        numerical_tolerance_pct=0.003,
    )  # fmt: skip
    inside = np.mean((r_ohm >= band.r_low_ohm) & (r_ohm <= band.r_high_ohm))
    # Five standard deviations of the count, and what two simulated ends may be off: 0.003 %
    # of R each, where the density is at most that of the narrowest case (25 °C, σ = 1 %,
    # φ(1.88)/0.954 = 0.07 per percent of R).
    simulated = 2.0 * 0.003 * 0.07 if distribution == "truncated-normal" else 0.0
    assert inside == pytest.approx(0.95, abs=5.0 * np.sqrt(0.95 * 0.05 / DRAWS) + simulated)


@pytest.mark.parametrize("distribution", ["uniform", "normal"])
@pytest.mark.parametrize("correlation", [0.0, 0.6])
def test_simulation_agrees_with_the_closed_form(distribution: str, correlation: float) -> None:
    request: dict[str, Any] = {
        "r25_pct": (-1.0, 2.0), "b_pct": 1.5, "distribution": distribution,
        "correlation": correlation if distribution == "normal" else 0.0,
    }  # fmt: skip
    at = np.array([-20.0, 30.0, 90.0])
    exact = tf.tolerance_band(PUBLISHED, at, method="analytic", **request)
    drawn = tf.tolerance_band(
        PUBLISHED, at, method="monte-carlo", numerical_tolerance_pct=0.01, **request,
    )  # fmt: skip
    assert drawn.dr_pct == pytest.approx(exact.dr_pct, abs=0.03)
    assert drawn.dr_low_pct == pytest.approx(exact.dr_low_pct, abs=0.03)
    again = tf.tolerance_band(
        PUBLISHED, at, method="monte-carlo", numerical_tolerance_pct=0.01, **request,
    )  # fmt: skip
    assert again.dr_pct.tolist() == drawn.dr_pct.tolist()


def test_even_spread_over_a_box_is_the_same_by_trapezoid_and_by_polygon() -> None:
    """The closed form of JCGM 101, 6.4.4 against the projection of the polygon."""
    tolerance = tf.Tolerance.of(r25_pct=2, b_pct=1.5)
    region = tolerance.region(PUBLISHED)
    for t_c in (-30.0, 24.0, 60.0, 120.0):
        band = tf.tolerance_band(PUBLISHED, t_c, tolerance=tolerance, distribution="uniform")
        ln_rho = np.log(PUBLISHED.resistance(t_c) / PUBLISHED.resistance(25.0))
        assert np.log1p(float(band.dr_pct) / 100.0) == pytest.approx(
            float(region.uniform_quantile(ln_rho, 0.975)), rel=1e-9
        )


@pytest.mark.parametrize(
    "stated",
    [{"r25_pct": 1, "b_pct": 1}, {"r_pct": 1, "r_at_c": 0.0, "b_pct": 1},
     {"dt_k": 0.2, "dt_range_c": (0.0, 70.0)}],
)  # fmt: skip
@pytest.mark.parametrize("correlation", [-0.95, 0.0, 0.7])
def test_normal_probability_of_a_region_is_its_integral(
    stated: dict[str, Any], correlation: float
) -> None:
    """Against SciPy's double quadrature of the normal density over the polygon."""
    from scipy.integrate import dblquad
    from scipy.stats import multivariate_normal

    region = tf.Tolerance.of(**stated).region(PUBLISHED)
    reach = np.abs(region.vertices).max(axis=0)
    u = 0.4 * reach
    joint = correlation * u[0] * u[1]
    covariance = np.array([[u[0] ** 2, joint], [joint, u[1] ** 2]])
    mean = np.array([0.5, -0.3]) * reach
    density = multivariate_normal(mean, covariance).pdf
    corners = region.vertices[np.argsort(region.vertices[:, 1])]

    def ends(beta: float) -> tuple[float, float]:
        gamma = []
        for one, two in zip(region.vertices, np.roll(region.vertices, -1, axis=0), strict=True):
            if min(one[1], two[1]) <= beta <= max(one[1], two[1]) and one[1] != two[1]:
                part = (beta - one[1]) / (two[1] - one[1])
                gamma.append(one[0] + part * (two[0] - one[0]))
        return min(gamma, default=0.0), max(gamma, default=0.0)

    expected, _ = dblquad(
        lambda gamma, beta: float(density([gamma, beta])), corners[0, 1], corners[-1, 1],
        lambda beta: ends(beta)[0], lambda beta: ends(beta)[1], epsabs=1e-6,
    )  # fmt: skip
    assert region.normal_probability(mean, covariance) == pytest.approx(expected, abs=2e-5)


@given(st.floats(-3, 3), st.floats(-3, 3), st.floats(-0.99, 0.99))
def test_probability_over_a_rectangle_is_that_of_the_distribution_function(
    x: float, y: float, correlation: float
) -> None:
    from scipy.stats import multivariate_normal

    box = Region((Strip(1.0, 0.0, -1.0, 2.0), Strip(0.0, 1.0, -0.5, 0.5)))
    covariance = np.array([[1.0, 0.3 * correlation], [0.3 * correlation, 0.09]])
    joint = multivariate_normal([x, y], covariance)
    expected = joint.cdf([2.0, 0.5], lower_limit=[-1.0, -0.5])
    assert box.normal_probability([x, y], covariance) == pytest.approx(expected, abs=1e-7)


def test_a_far_or_sharp_distribution_is_nought_or_one() -> None:
    box = Region((Strip(1.0, 0.0, -0.01, 0.01), Strip(0.0, 1.0, -0.01, 0.01)))
    assert box.normal_probability([0.0, 0.0], np.eye(2) * 1e-12) == pytest.approx(1.0, abs=1e-12)
    assert box.normal_probability([1.0, 1.0], np.eye(2) * 1e-6) == pytest.approx(0.0, abs=1e-12)
    on_edge = box.normal_probability([0.01, 0.0], np.eye(2) * 1e-10)
    assert on_edge == pytest.approx(0.5, abs=1e-9)


# -- from one form to another --------------------------------------------------------


@given(FORMS, st.data())
def test_a_restated_tolerance_refuses_no_part_that_the_old_one_accepts(
    stated: dict[str, Any], data: st.DataObject
) -> None:
    old = tf.Tolerance.of(**stated)
    region = old.region(BETA)
    weights = np.array(data.draw(st.lists(
        st.floats(0.01, 1.0), min_size=len(region.vertices), max_size=len(region.vertices)
    )))  # fmt: skip
    gamma, beta = weights @ region.vertices / weights.sum()
    new = as_r_and_b(old, BETA, t_c=data.draw(st.sampled_from([0.0, 25.0, 80.0])))
    assert new.tolerance.region(BETA).contains(gamma, beta)
    assert 0.0 <= new.widened_by < 1.0


def test_rounding_does_not_leave_the_nominal_part_out() -> None:
    one_sided = tf.Tolerance.of(r25_pct=(0.0, 2.4453125), b_pct=(-1.0, 0.0))
    new = as_r_and_b(one_sided, BETA, t_c=25.0)
    low, high = new.tolerance.limits
    assert (low.low_pct, high.high_pct) == (0.0, 0.0)  # type: ignore[attr-defined]


def test_what_a_restatement_loses_is_said() -> None:
    slanted = tf.Tolerance.of(r_pct=1, r_at_c=0, b_pct=1)
    boxed = as_r_and_b(slanted, BETA)
    assert boxed.widened_by > 0.1
    assert "refuses" in boxed.lost
    same = as_r_and_b(tf.Tolerance.of(r25_pct=1, b_pct=1), BETA)
    assert same.lost == "nothing is lost"
    matched = as_temperature(tf.Tolerance.of(r25_pct=1, b_pct=1), BETA, (0.0, 70.0))
    band = tf.tolerance_band(BETA, np.linspace(0.0, 70.0, 50), r25_pct=1, b_pct=1)
    limit = matched.tolerance.limits[0]
    assert limit.high_k == pytest.approx(band.dt_low_k.max(), rel=1e-3)  # type: ignore[attr-defined]
    table = as_resistance_table(tf.Tolerance.of(r25_pct=1, b_pct=1), BETA, [0.0, 25.0, 70.0])
    assert "at 25 °C" in str(table.tolerance)


# -- what is refused -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("stated", "complaint"),
    [
        ({}, "no tolerance is known"),
        ({"r25_pct": -1}, "not negative"),
        ({"r25_pct": float("nan")}, "not negative|finite"),
        ({"r25_pct": 100}, "below 100 %"),
        ({"r25_pct": (1, 2)}, "leaves the nominal part out"),
        ({"r25_pct": (1, 2, 3)}, "pair"),
        ({"b_pct": 1, "b_k": 30}, "same thing"),
        ({"r25_pct": 1, "r_pct": 1, "r_at_c": 25.0}, "contradict"),
        ({"r_pct": 1}, "r_at_c"),
        ({"r_at_c": 1.0, "b_pct": 1}, "goes with r_pct"),
        ({"dt_k": 0.2}, "dt_range_c"),
        ({"dt_k": 0.2, "dt_range_c": (70, 0)}, "over a range"),
        ({"b_k": 5000}, "as large as B"),
        ({"table": [(0, 1)]}, "two temperatures"),
        ({"table": [(0, 1), (0, 2)]}, "rise"),
        ({"table": [(0, 1, 2, 3)]}, "rows"),
        ({"r25_pct": np.array([1.0, -2.0])}, "element 2 of r25_pct is negative"),
        ({"r25_pct": np.array([1.0, np.nan])}, "element 2 of r25_pct is not a finite"),
        ({"r25_pct": np.array([1.0, 2.0]), "b_k": 3}, "arrays of tolerances"),
        ({"r25_pct": np.array(["1", "2"])}, "r25_pct must be numbers"),
        ({"r25_pct": np.array([True, False])}, "r25_pct must be numbers"),
        ({"r25_pct": np.array([1j, 2.0])}, "r25_pct must be numbers"),
        ({"r25_pct": pd.Series(["1", "2"])}, "r25_pct must be numbers"),
        ({"r25_pct": (-np.ones(2), "2")}, "r25_pct must be numbers, not '2'"),
        ({"r25_pct": (-np.ones(2), np.ones(3))}, r"r25_pct has limits of shapes \(2,\) and \(3,\)"),
        ({"r_pct": 1, "r_at_c": "0"}, "r_at_c is a temperature in °C, not '0'"),
        ({"r_pct": 1, "r_at_c": [0.0, 1.0]}, "r_at_c is a temperature in °C"),
        ({"r_pct": 1, "r_at_c": float("nan")}, "r_at_c is a temperature in °C, not nan"),
        ({"r_pct": np.ones(2), "r_at_c": "0"}, "r_at_c is a temperature in °C, not '0'"),
        ({"r_pct": np.ones(2), "r_at_c": np.zeros(2)}, "r_at_c is a temperature in °C"),
        ({"b_k": 30, "b_pair_c": 85.0}, "b_pair_c is a pair of temperatures, not 85.0"),
        ({"b_k": 30, "b_pair_c": ("25", "85")}, "b_pair_c is a temperature in °C, not '25'"),
        ({"dt_k": 0.2, "dt_range_c": 70}, "dt_range_c is a pair of temperatures, not 70"),
        ({"dt_k": 0.2, "dt_range_c": (0, float("nan"))}, "dt_range_c is a temperature .* not nan"),
        ({"table": [(0, "1"), (50, 2)]}, "list of rows of numbers"),
        ({"table": np.ones(3)}, "list of rows of numbers"),
        ({"tolerance": "1%"}, "must be a Tolerance, not '1%'; Tolerance.of makes one"),
        ({"tolerance": {"r25_pct": 1}}, "must be a Tolerance, not {'r25_pct': 1}"),
        ({"r25_pct": 1, "platinum_class": "B"}, "once"),
        ({"platinum_class": "B"}, "goes with platinum"),
        ({"r25_pct": "1%"}, "is a number"),
        ({"r25_pct": 1, "b_k": 5, "b_pair_c": (25.0, 25.0)}, "two different temperatures"),
        ({"r25_pct": 1, "b_k": 5, "b_pair_c": (85.0,)}, "pair of temperatures"),
        ({"dt_k": 1, "dt_range_c": (0.0,)}, "pair of temperatures"),
        ({"r25_pct": 1, "ratio_pct": 5, "ratio_pair_c": (25.0, 25.0)}, "two different"),
        ({"table": 5}, "list of rows"),
        ({"r25_pct": 1, "distribution": "even"}, "distribution must be one of"),
        ({"r25_pct": 1, "distribution": "uniform", "coverage": 95}, "coverage"),
        ({"r25_pct": 1, "distribution": "uniform", "coverage": "95"}, "coverage must be a number"),
        ({"r25_pct": 1, "distribution": "normal", "k": "2"}, "k must be a number, not '2'"),
        ({"r25_pct": 1, "distribution": "normal", "k": True}, "k must be a number, not True"),
        ({"r25_pct": 1, "distribution": "uniform", "seed": "x"}, "seed must be a whole number"),
        ({"r25_pct": 1, "distribution": "uniform", "seed": -1}, "seed must be a whole number"),
        ({"dt_k": 1, "dt_range_c": (0, 70), "distribution": "normal"}, "separate|spread evenly"),
    ],
)  # fmt: skip
def test_unusable_tolerances_are_refused(stated: dict[str, Any], complaint: str) -> None:
    with pytest.raises(InputError, match=complaint):
        tf.tolerance_band(PUBLISHED, 50.0, **stated)


@pytest.mark.parametrize("t_c", [-40.5, 126.0, [0.0, 200.0], float("nan")])
def test_a_band_is_not_asked_outside_the_valid_range(t_c: Any) -> None:
    with pytest.raises(ExtrapolationError, match="outside the valid range"):
        tf.tolerance_band(PUBLISHED, t_c, r25_pct=1, b_pct=1)


@pytest.mark.parametrize(
    "stated",
    [
        {"r_pct": 1, "r_at_c": 150.0, "b_pct": 1},
        {"r25_pct": 1, "b_k": 30, "b_pair_c": (25.0, 150.0)},
        {"r25_pct": 1, "ratio_pct": 10, "ratio_pair_c": (25.0, 150.0)},
        {"dt_k": 0.2, "dt_range_c": (0.0, 150.0)},
        {"table": [(0.0, 1.0), (150.0, 2.0)]},
        {"r_pct": np.array([1.0, 2.0]), "r_at_c": 150.0, "b_pct": 1},
    ],
)
def test_a_tolerance_is_not_stated_outside_the_table(stated: dict[str, Any]) -> None:
    table = tf.family("ntc-10k-3434").curve
    with pytest.raises(ExtrapolationError, match="stated at 150 °C, outside the valid range"):
        tf.tolerance_band(table, 50.0, **stated)


def test_temperatures_in_kelvin_are_told_and_missing_ones_found() -> None:
    with pytest.raises(ExtrapolationError, match=r"298.15 °C is outside .*298.15 K are 25 °C"):
        tf.tolerance_band(BETA, [273.15, 298.15, 500.0][1:], r25_pct=1)
    with pytest.raises(ExtrapolationError, match=r"stated at 273.15 °C.*273.15 K are 0 °C"):
        tf.tolerance_band(BETA, 25.0, r_pct=1, r_at_c=273.15)
    with pytest.raises(ExtrapolationError, match=r"does not go beyond it$"):
        tf.tolerance_band(BETA, 200.0, r25_pct=1)
    missing = np.ma.masked_array([[0.0, 1.0], [2.0, 3.0]], [[False, False], [True, False]])
    with pytest.raises(ExtrapolationError, match=r"nan \(element 3, a missing temperature\)"):
        tf.tolerance_band(BETA, missing, r25_pct=1)


def test_a_table_of_tolerances_may_be_an_array_or_a_frame() -> None:
    rows = [(0.0, 2.0), (25.0, 1.0), (100.0, 3.0)]
    same = tf.tolerance_band(BETA, [10.0, 60.0], table=rows)
    for table in (np.array(rows), pd.DataFrame(rows), [list(row) for row in rows]):
        assert tf.Tolerance.of(table=table) == tf.Tolerance.of(table=rows)
        assert tf.tolerance_band(BETA, [10.0, 60.0], table=table).dr_pct.tolist() == (
            same.dr_pct.tolist()
        )
        many = tf.tolerance_band([BETA] * 3, [10.0, 60.0], table=table)
        assert many.dr_pct[2].tolist() == same.dr_pct.tolist()


def test_a_name_that_is_no_tolerance_is_told_with_those_that_are() -> None:
    for many in (BETA, [BETA], [BETA] * 9):
        with pytest.raises(TypeError, match=r"tolerance_band\(\) .*'r25'; a tolerance .* r25_pct"):
            tf.tolerance_band(many, 25.0, r25=1)  # type: ignore[call-arg]


@pytest.mark.parametrize("limits", ["1%", 5, [1], [tf.Tolerance.of(r25_pct=1)], None])
def test_a_tolerance_is_made_of_limits(limits: Any) -> None:
    with pytest.raises(InputError, match=r"Tolerance\.of"):
        tf.Tolerance(limits)


def test_limits_in_a_list_are_kept_as_a_tuple() -> None:
    both = tf.Tolerance.of(r25_pct=1, b_pct=2)
    as_list = tf.Tolerance(list(both.limits))  # type: ignore[arg-type]
    assert as_list == both
    assert hash(as_list) == hash(both)


@pytest.mark.parametrize("low", ["-1", None, True, np.ones(2)])
def test_ends_of_limits_are_numbers(low: Any) -> None:
    with pytest.raises(InputError, match="must be a finite number"):
        ResistanceLimits(low, 1.0)


def test_limits_that_leave_the_region_open_are_refused() -> None:
    with pytest.raises(InputError, match="open on one side"):
        Region((Strip(1.0, 0.5, -0.01, 0.01),))


def test_platinum_has_four_classes() -> None:
    with pytest.raises(InputError, match="AA, A, B, C"):
        tf.tolerance_band(tf.family("pt-100-iec60751"), 0.0, platinum_class="D")


@pytest.mark.parametrize("wrong", ["ntc-10k-3977", None, 5, {}])
def test_a_band_is_that_of_a_curve_or_a_family(wrong: Any) -> None:
    with pytest.raises(InputError, match="Curve, a Family or a sequence"):
        tf.tolerance_band(wrong, 25.0, r25_pct=1)


def test_a_scalar_temperature_gives_a_whole_band() -> None:
    band = tf.tolerance_band(PUBLISHED, 0.0, r25_pct=1, b_pct=1)
    frame = band.to_frame()
    assert frame.shape == (1, 11)
    assert frame["dr_pct"][0] == float(band.dr_pct)
    many = tf.tolerance_band([PUBLISHED, BETA], 0.0, r25_pct=1, b_pct=1)
    assert many.dt_low_k.shape == (2,)
    square = tf.tolerance_band([PUBLISHED, BETA], [0.0, 25.0], r25_pct=1, b_pct=1).to_frame()
    assert square.index.tolist() == [(0, 0), (0, 1), (1, 0), (1, 1)]


def test_a_band_keeps_its_temperatures_whatever_happens_to_the_callers() -> None:
    t_c = np.array([0.0, 25.0])
    band = tf.tolerance_band(PUBLISHED, t_c, r25_pct=1)
    t_c[0] = 99.0
    assert band.t_c.tolist() == [0.0, 25.0]


def test_stating_one_half_leaves_the_other_to_the_family() -> None:
    member = tf.family("ntc-10k-3977")
    at = [0.0, 50.0]
    both = tf.tolerance_band(member, at, r25_pct=1, b_pct=0.75)
    assert tf.tolerance_band(member, at, r25_pct=1).dr_pct == pytest.approx(both.dr_pct)
    wide = tf.tolerance_band(member, at, r25_pct=5, b_pct=2)
    assert tf.tolerance_band(member, at, b_pct=2).dr_pct == pytest.approx(wide.dr_pct)
    as_array = tf.tolerance_band(member, at, r25_pct=np.array([1.0, 1.0]))
    assert as_array.dr_pct == pytest.approx(both.dr_pct)


@dataclass(frozen=True)
class Lot:
    """What a workshop may make for itself: a curve and a tolerance, invented."""

    curve: tf.Curve
    tolerance: tf.Tolerance | None


AT_ZERO = Lot(BETA, tf.Tolerance.of(r_pct=(-1, 2), r_at_c=0.0, b_pct=1))


def test_the_half_of_a_family_stays_at_its_temperature() -> None:
    at = [0.0, 25.0, 60.0]
    own = tf.tolerance_band(AT_ZERO, at, b_pct=0.5)
    same = tf.tolerance_band(BETA, at, r_pct=(-1, 2), r_at_c=0.0, b_pct=0.5)
    assert own.dr_pct == pytest.approx(same.dr_pct)
    assert own.dr_pct[0] == pytest.approx(2.0)
    assert own.meaning == "R(0 °C) -1 to +2 %, B ± 0.5 %; worst case"
    by_array = tf.tolerance_band(AT_ZERO, at, b_pct=np.full(3, 0.5))
    assert by_array.dr_low_pct == pytest.approx(same.dr_low_pct)
    # R25 takes the place of R at 0 °C, and B stays.
    at_25 = tf.tolerance_band(AT_ZERO, at, r25_pct=1)
    assert at_25.meaning == "R(25 °C) ± 1 %, B ± 1 %; worst case"


@given(st.floats(-40.0, 125.0), percents, small, temperatures)
def test_at_its_own_temperature_a_resistance_is_limited_as_the_family_says(
    at_c: float, r_pct: float, b_pct: float, t_c: float
) -> None:
    lot = Lot(BETA, tf.Tolerance.of(r_pct=r_pct, r_at_c=at_c, b_pct=1))
    band = tf.tolerance_band(lot, [at_c, t_c], b_pct=b_pct)
    assert band.dr_pct[0] == pytest.approx(r_pct, rel=1e-9)
    away = abs(1.0 / (t_c + 273.15) - 1.0 / (at_c + 273.15))
    by_hand = (1.0 + r_pct / 100.0) * np.exp(b_pct / 100.0 * 3977.0 * away)
    assert band.r_high_ohm[1] / band.r_nominal_ohm[1] == pytest.approx(by_hand, rel=1e-9)


@pytest.mark.parametrize("own", [{"b_k": 40.0}, {"ratio_pct": 5.0, "ratio_pair_c": (25.0, 85.0)}])
def test_the_half_of_b_stays_in_whatever_form_it_is_stated(own: dict[str, Any]) -> None:
    lot = Lot(BETA, tf.Tolerance.of(r25_pct=3, **own))
    same = tf.tolerance_band(BETA, [0.0, 60.0], r25_pct=1, **own)
    alone = tf.tolerance_band(lot, [0.0, 60.0], r25_pct=1)
    assert alone.dr_pct == pytest.approx(same.dr_pct)
    assert alone.meaning == same.meaning
    by_array = tf.tolerance_band(lot, [0.0, 60.0], r25_pct=np.ones(2))
    assert by_array.dr_pct == pytest.approx(same.dr_pct)


def test_two_limits_of_the_resistance_both_stay() -> None:
    own = tf.Tolerance((ResistanceLimits(-1, 1, 0.0), ResistanceLimits(-1, 1, 80.0)))
    band = tf.tolerance_band(Lot(BETA, own), [0.0, 80.0], b_pct=5)
    assert band.dr_pct == pytest.approx([1.0, 1.0])
    with pytest.raises(InputError, match=r"R\(0 °C\).*R\(80 °C\).*no array"):
        tf.tolerance_band(Lot(BETA, own), [0.0, 80.0], b_pct=np.full(2, 5.0))


@pytest.mark.parametrize("stated", [{"r25_pct": 1}, {"b_pct": 1}, {"b_pct": np.ones(1)}])
def test_a_tolerance_of_both_together_has_no_half_to_stay(stated: dict[str, Any]) -> None:
    lot = Lot(BETA, tf.Tolerance.of(dt_k=0.2, dt_range_c=(0, 70)))
    with pytest.raises(InputError, match=r"± 0.2 K from 0 to 70 °C, .* R and B together"):
        tf.tolerance_band(lot, 30.0, **stated)
    both = tf.tolerance_band(lot, 30.0, r25_pct=1, b_pct=1)
    assert both.meaning == "R(25 °C) ± 1 %, B ± 1 %; worst case"


def test_asymmetric_limits_may_be_arrays_and_go_with_curves() -> None:
    low, high = np.array([-1.0, -2.0]), np.array([3.0, 4.0])
    along = tf.tolerance_band(BETA, [25.0, 25.0], r25_pct=(low, high))
    assert along.dr_low_pct == pytest.approx(low)
    assert along.dr_pct == pytest.approx(high)
    curves = tf.tolerance_band([BETA, PUBLISHED], 25.0, r25_pct=(low, high))
    assert curves.dr_pct == pytest.approx(high)
    as_list = tf.tolerance_band(BETA, [25.0, 25.0], r25_pct=[low, high])
    assert as_list.dr_pct == pytest.approx(high)


def test_columns_of_a_frame_are_temperatures_and_tolerances() -> None:
    frame = pd.DataFrame({"t_c": [0.0, 60.0], "pct": [1.0, 2.0]}, index=["inlet", "roof"])
    band = tf.tolerance_band(BETA, frame["t_c"], r25_pct=frame["pct"], b_pct=(-frame["pct"], 0))
    same = tf.tolerance_band(BETA, [0.0, 60.0], r25_pct=np.array([1.0, 2.0]),
                             b_pct=(np.array([-1.0, -2.0]), 0.0))  # fmt: skip
    assert band.to_frame().loc["roof", "dr_pct"] == pytest.approx(same.dr_pct[1])
    assert tf.tolerance_band(BETA, [0.0, 60.0], r25_pct=frame["pct"]).dr_pct.shape == (2,)
    of_curves = tf.tolerance_band([BETA, PUBLISHED], frame["t_c"], r25_pct=pd.Series([1.0, 2.0]))
    assert of_curves.dr_pct[:, 0] == pytest.approx([1.0, 2.0])
    with pytest.raises(InputError, match="t_c and r25_pct have different indexes; align"):
        tf.tolerance_band(BETA, frame["t_c"], r25_pct=frame["pct"].iloc[::-1])


@pytest.mark.parametrize(
    "limit", [[np.ones(2), np.ones(2)], (np.ones(2), 1.0), ("a", 1.0), (-1.0, None), True, "1",
              np.ones(2), np.ones(1), (-1.0, np.ones(1)), pd.Series([1.0]), 1j, (-1.0, "2")]
)  # fmt: skip
@pytest.mark.parametrize("name", ["r25_pct", "b_pct", "b_k", "ratio_pct", "dt_k"])
def test_a_limit_is_one_number_or_two(name: str, limit: Any) -> None:
    more: dict[str, Any] = {"dt_range_c": (0.0, 70.0)} if name == "dt_k" else {}
    with pytest.raises(InputError, match=f"{name} is a number, or a pair"):
        tf.Tolerance.of(**{name: limit}, **more)


def test_b_in_kelvin_is_b_in_percent_for_platinum_too() -> None:
    platinum = tf.family("pt-100-iec60751").curve
    b_k = abs(platinum.b_value(25.0, 85.0))
    at = [0.0, 50.0, 100.0]
    in_kelvin = tf.tolerance_band(platinum, at, r25_pct=1, b_k=0.02 * b_k, distribution="uniform")
    in_percent = tf.tolerance_band(platinum, at, r25_pct=1, b_pct=2, distribution="uniform")
    assert in_kelvin.dr_pct == pytest.approx(in_percent.dr_pct, rel=1e-9)


def test_platinum_below_zero_has_the_limits_of_its_distance_from_zero() -> None:
    """IEC 60751, class B: ± (0.30 + 0.005·|t|) K; the numbers are from memory."""
    band = tf.tolerance_band(tf.family("pt-100-iec60751"), -100.0, platinum_class="B")
    assert float(band.dt_high_k) == pytest.approx(0.8, abs=1e-9)


def test_lopsided_limits_in_temperature_and_by_table_stay_lopsided() -> None:
    in_kelvin = tf.tolerance_band(PUBLISHED, 30.0, dt_k=(-0.1, 0.4), dt_range_c=(0.0, 70.0))
    assert float(in_kelvin.dt_low_k) == pytest.approx(0.4, rel=0.01)
    assert float(in_kelvin.dt_high_k) == pytest.approx(-0.1, rel=0.01)
    table = [(0.0, -1.0, 4.0), (25.0, -0.5, 2.0), (100.0, -1.0, 4.0)]
    by_table = tf.tolerance_band(PUBLISHED, 25.0, table=table)
    assert float(by_table.dr_low_pct) == pytest.approx(-0.5, rel=1e-6)
    assert float(by_table.dr_pct) == pytest.approx(2.0, rel=1e-6)


def test_limits_of_k_standard_deviations_give_bands_in_that_proportion() -> None:
    two = tf.tolerance_band(BETA, 25.0, r25_pct=1, distribution="normal", k=2)
    three = tf.tolerance_band(BETA, 25.0, r25_pct=1, distribution="normal", k=3)
    widths = [float(np.log(b.r_high_ohm / b.r_low_ohm)) for b in (two, three)]
    assert widths[0] / widths[1] == pytest.approx(1.5, rel=1e-9)


@pytest.mark.parametrize("coverage", [0.99, 0.999])
@pytest.mark.parametrize("k", [0.01, 1.0, 2.0])
def test_truncated_normal_is_that_of_scipy(coverage: float, k: float) -> None:
    from scipy.stats import truncnorm

    band = tf.tolerance_band(
        BETA, 25.0, r25_pct=5, distribution="truncated-normal", coverage=coverage, k=k,
        numerical_tolerance_pct=0.02,
    )  # fmt: skip
    low, high = np.log(0.95), np.log(1.05)
    quantile = truncnorm(-k, k).ppf(0.5 + 0.5 * coverage) / k
    exact = 100.0 * np.expm1(0.5 * (low + high) + 0.5 * (high - low) * quantile)
    assert float(band.dr_pct) == pytest.approx(exact, abs=0.03)


@given(
    r25_pct=percents, b_pct=small,
    nodes=st.lists(st.floats(-40.0, 125.0), min_size=2, max_size=5, unique=True),
    at=st.floats(0.0, 1.0),
)  # fmt: skip
def test_a_table_of_a_tolerance_refuses_no_part_that_it_accepts(
    r25_pct: float, b_pct: float, nodes: list[float], at: float
) -> None:
    # Over fewer degrees a table hardly limits the B value.
    assume(max(nodes) - min(nodes) > 40.0)
    old = tf.Tolerance.of(r25_pct=r25_pct, b_pct=b_pct)
    new = as_resistance_table(old, BETA, nodes).tolerance
    t_c = min(nodes) + at * (max(nodes) - min(nodes))
    before = tf.tolerance_band(BETA, t_c, tolerance=old)
    # The limits that the table states there, by its own straight lines.
    table: Any = new.limits[0]
    low, high = (np.interp(t_c, table.t_c, ends) for ends in (table.low_pct, table.high_pct))
    assert low <= float(before.dr_low_pct) + 1e-3 * b_pct
    assert high >= float(before.dr_pct) - 1e-3 * b_pct


def test_what_is_lost_is_the_share_of_the_new_region_that_the_old_one_refuses() -> None:
    """Against parts drawn evenly from the new region."""
    old = tf.Tolerance.of(r_pct=1, r_at_c=0, b_pct=1)
    stated = as_r_and_b(old, BETA)
    new, region = stated.tolerance.region(BETA), old.region(BETA)
    rng = np.random.default_rng(6)
    gamma, beta = rng.uniform(new.vertices.min(axis=0), new.vertices.max(axis=0), (100_000, 2)).T
    refused = 1.0 - region.contains(gamma, beta).mean()
    assert stated.widened_by == pytest.approx(refused, abs=0.01)
