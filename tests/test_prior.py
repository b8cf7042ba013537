"""The prior: what the registered families teach of how NTC ceramics bend."""

from __future__ import annotations

import pickle

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from thermofit.errors import InputError
from thermofit.estimate.prior import KILOKELVIN
from thermofit.families.bending import bends_known, learned
from thermofit.units import T0_K, ZERO_C_K

TEACHERS = [member for member in tf.families().values() if bends_known(member)]
CURVES = [member.curve for member in TEACHERS]


def test_measured_families_teach_and_nominal_ones_do_not() -> None:
    assert {member.id for member in TEACHERS} == {
        "ntc-100k-4311", "ntc-10k-3434", "ntc-10k-3977", "ntc-33k-4544", "ntc-47k-4108",
    }  # fmt: skip
    assert not bends_known(tf.family("ntc-10k-3435")), "a constant B says nothing of the bend"
    own = tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="own"), source_kind="measured")
    assert not bends_known(own), "whoever measured it"
    assert not bends_known(tf.family("ntc-ratio-4014")), "nor does a ratio"
    assert not bends_known(tf.family("pt-100-iec60751")), "and platinum is no NTC"


def test_it_is_what_the_registered_families_say() -> None:
    everything = tf.bend_prior(tf.families().values())
    np.testing.assert_array_equal(everything.mean, tf.bend_prior().mean)
    np.testing.assert_array_equal(everything.covariance, tf.bend_prior().covariance)


@given(order=st.permutations(range(5)))
def test_the_order_of_the_families_does_not_matter(order: list[int]) -> None:
    prior = learned([CURVES[place] for place in order], "shuffled")
    np.testing.assert_allclose(prior.mean, tf.bend_prior().mean, rtol=1e-12)
    np.testing.assert_allclose(prior.covariance, tf.bend_prior().covariance, rtol=1e-9, atol=1e-15)


def test_b_and_its_spread_are_those_of_the_families() -> None:
    """Widened by √(1 + 1/5)·2.776/1.960, Student's t with four degrees of freedom (from memory)."""
    local_b = []
    for curve in CURVES:
        t_c = np.array([24.0, 26.0])
        inv_t = 1.0 / (t_c + ZERO_C_K)
        local_b.append(np.diff(np.log(curve.resistance(t_c)))[0] / np.diff(inv_t)[0] / KILOKELVIN)
    prior = tf.bend_prior()
    assert prior.mean[0] == pytest.approx(np.mean(local_b), rel=2e-3)
    expected = np.std(local_b, ddof=1) * np.sqrt(1.2) * 2.776 / 1.960
    assert prior.standard_uncertainties[0] == pytest.approx(expected, rel=0.02)


def test_the_bend_goes_with_b() -> None:
    """A material of twice the B bends twice as much, as a tolerance on B scales it."""
    prior = tf.bend_prior()
    slope = prior.covariance[0, 1:] / prior.covariance[0, 0]
    np.testing.assert_allclose(slope, prior.mean[1:] / prior.mean[0], rtol=1e-12)


def test_copies_of_one_shape_teach_that_shape() -> None:
    """The prior of scaled copies has their bend, to the little that is never taken for known."""
    bend = np.array([-0.17, 0.01, 0.003, 0.0])
    curves = []
    for b in (3.4, 3.9, 4.3):
        plain = b * np.concatenate([[1.0], bend / 3.9]) * KILOKELVIN ** np.arange(1, 6)
        curves.append(
            tf.Curve.bent_beta(
                r25_ohm=10e3, b_k=plain[0], bend=list(plain[1:]), t_range_c=(-40.0, 125.0)
            )
        )
    prior = learned(curves, "copies")
    np.testing.assert_allclose(prior.mean[1:] / prior.mean[0], bend / 3.9, atol=1e-9)
    left = prior.covariance - np.outer(prior.mean, prior.mean) * (
        prior.covariance[0, 0] / prior.mean[0] ** 2
    )
    assert np.abs(left).max() < 1e-5


def test_the_last_digit_of_a_table_is_allowed_for() -> None:
    """Rounded to 10 Ω at the hot end, a table teaches nearly what it taught unrounded."""
    t_c = np.arange(-40.0, 126.0, 5.0)
    true = tf.family("ntc-10k-3977").curve
    rounded = tf.Curve.from_table(t_c, np.round(true.resistance(t_c), -1))
    others = [curve for curve in CURVES if curve.equation != true.equation]
    a = learned([*others, true], "true").mean
    b = learned([*others, rounded], "rounded").mean
    # Weighted by kelvin alone b2 would move by 0.006, and b3 by 0.02.
    assert np.abs(a - b)[:2].max() < 0.002
    assert abs(a[2] - b[2]) < 0.012


def test_one_family_teaches_nothing() -> None:
    with pytest.raises(InputError, match="1 family with a measured curve cannot teach"):
        tf.bend_prior([tf.family("ntc-10k-3977"), tf.family("ntc-10k-3435")])


def test_drawn_materials_are_like_the_prior() -> None:
    prior, rng = tf.bend_prior(), np.random.default_rng(7)
    drawn = np.array([prior.draw(rng).coefficients for _ in range(2000)])[:, 1:]
    scaled = drawn / KILOKELVIN ** np.arange(1, 6)
    u = prior.standard_uncertainties
    np.testing.assert_allclose((scaled.mean(axis=0) - prior.mean) / u, 0.0, atol=0.08)
    np.testing.assert_allclose(np.cov(scaled.T) / np.outer(u, u),
                               prior.covariance / np.outer(u, u), atol=0.1)  # fmt: skip


def test_its_mean_is_a_curve_like_those_of_the_families() -> None:
    mean = tf.bend_prior().curve(r25_ohm=10e3)
    assert (mean.t_min_c, mean.t_max_c) == (-40.0, 125.0)
    assert mean.resistance(25.0) == pytest.approx(10e3)
    ratios = [curve.b_value(0, 50) / curve.b_value(50, 100) for curve in CURVES]
    assert min(ratios) < mean.b_value(0, 50) / mean.b_value(50, 100) < max(ratios)


@pytest.mark.parametrize(
    ("mean", "covariance", "told"),
    [
        ([3.9], [[0.1]], "two to six finite numbers"),
        ([3.9, np.nan], np.eye(2), "two to six finite numbers"),
        ([3.9, -0.2], np.eye(3), r"shape \(2, 2\)"),
        ([3.9, -0.2], [[1.0, 0.5], [0.0, 1.0]], "symmetric"),
        ([3.9, -0.2], [[1.0, 1.0], [1.0, 1.0]], "positive definite"),
        ([3.9, -0.2], [[1.0, 0.0], [0.0, 0.0]], "positive definite"),
    ],
)
def test_numbers_that_are_no_prior(mean: object, covariance: object, told: str) -> None:
    with pytest.raises(InputError, match=told):
        tf.Prior(mean, covariance)  # type: ignore[arg-type]


def test_a_copy_of_a_prior_cannot_be_written_to_either() -> None:
    prior = tf.bend_prior()
    again = pickle.loads(pickle.dumps(prior))
    np.testing.assert_array_equal(again.mean, prior.mean)
    np.testing.assert_array_equal(again.covariance, prior.covariance)
    assert (again.t_range_c, again.origin) == (prior.t_range_c, prior.origin)
    for one in (prior, again):
        for array in (one.mean, one.covariance):
            with pytest.raises(ValueError, match="read-only"):
                array[0] = 1.0


@pytest.mark.parametrize("factor", [0.0, -1.0, np.inf])
def test_a_prior_is_widened_by_what_is_positive(factor: float) -> None:
    with pytest.raises(InputError, match="positive factor"):
        tf.bend_prior().widened(factor)


def test_u_is_counted_from_25_degrees() -> None:
    assert T0_K == 25.0 + ZERO_C_K
