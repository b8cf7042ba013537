"""Sensors in the plane of (γ, β): what is drawn there is what `check` decides by."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.pictures import AIR, SLANTED, readings, sensors
from thermofit.decide import Population
from thermofit.decide.requirement import requirement_of
from thermofit.errors import InputError
from thermofit.report import plane_picture
from thermofit.report.outlines import decision_outline, ellipse, polygon

pytest.importorskip("matplotlib")

if TYPE_CHECKING:
    from matplotlib.axes import Axes

# χ² with two degrees of freedom, and one, at 95 % (any table).
CHI2_95 = (5.991, 3.841)


def outline(ax: Axes, label: str) -> Any:
    return next(np.asarray(one.get_xydata()) for one in ax.lines if label in str(one.get_label()))


def patch(ax: Axes, label: str) -> Any:
    found = next(one for one in ax.patches if label in str(one.get_label()))
    return found.get_path().vertices


def place_of(percent: Any) -> Any:
    """(γ, β) of what the axes show."""
    return np.stack([np.log1p(percent[:, 0] / 100.0), percent[:, 1] / 100.0], axis=-1)


def covariance(verdict: Any) -> Any:
    across = verdict.correlation * verdict.u_gamma * verdict.u_beta
    return np.array([[verdict.u_gamma**2, across], [across, verdict.u_beta**2]])


def test_the_tolerance_is_drawn_as_data_sheets_state_it() -> None:
    ax = plane_picture(tf.check(readings(0.0, 0.0), AIR))
    edge = patch(ax, "conforms")
    # ± 2 % of R25 and ± 1 % of B.
    assert edge.min(axis=0) == pytest.approx([-2.0, -1.0])
    assert edge.max(axis=0) == pytest.approx([2.0, 1.0])


@pytest.mark.parametrize("coverage", [0.5, 0.95, 0.99])
def test_the_ellipse_holds_the_place_with_its_coverage(coverage: float) -> None:
    verdict = tf.check(readings(0.012, 0.006), AIR)
    rng = np.random.default_rng(5)
    around = ellipse(np.array([verdict.gamma, verdict.beta]), covariance(verdict), coverage)
    cloud = rng.multivariate_normal([verdict.gamma, verdict.beta], covariance(verdict), 40_000)
    from matplotlib.path import Path

    # Four standard deviations of a share of 40,000.
    slack = 4.0 * np.sqrt(coverage * (1.0 - coverage) / 40_000)
    assert Path(around).contains_points(cloud).mean() == pytest.approx(coverage, abs=slack)


def test_the_picture_has_that_ellipse_about_the_place() -> None:
    verdict = tf.check(readings(0.012, 0.006), AIR)
    ax = plane_picture(verdict)
    (around,) = [one.get_path().vertices for one in ax.patches if one.get_zorder() == 3]
    away = place_of(around) - [verdict.gamma, verdict.beta]
    distance = np.einsum("ni,ij,nj->n", away, np.linalg.inv(covariance(verdict)), away)
    assert distance == pytest.approx(CHI2_95[0], rel=1e-3)
    centre = place_of(outline(ax, "this sensor"))
    assert centre[0] == pytest.approx([verdict.gamma, verdict.beta])
    assert verdict.gamma == pytest.approx(0.012, abs=1e-4)


@cache
def line_of(slanted: bool, wanted: Any) -> Any:
    tolerance = SLANTED if slanted else AIR.tolerance
    verdict = tf.check(readings(0.0, 0.0), AIR, tolerance=tolerance)
    return decision_outline(
        requirement_of(AIR, tolerance=tolerance),
        verdict.rule,
        "uniform",
        covariance(verdict),
        wanted,
    )


@settings(max_examples=50)
@given(
    share=st.floats(0.0, 0.999),
    inwards=st.booleans(),
    wanted=st.sampled_from(["accept", "reject"]),
    slanted=st.booleans(),
)
@example(share=0.0, inwards=True, wanted="accept", slanted=False)
def test_beyond_the_lines_check_decides_otherwise(
    share: float, inwards: bool, wanted: Any, slanted: bool
) -> None:
    line = line_of(slanted, wanted)
    middle = line[:-1].mean(axis=0)
    # Uncertainties differ a little from place to place, so that not every nearness can be told.
    scale = 0.97 if inwards else 1.03
    place = middle + scale * (line[int(share * (len(line) - 1))] - middle)
    tolerance = SLANTED if slanted else None
    told = tf.check(readings(*place.tolist()), AIR, tolerance=tolerance).verdict
    assert (told == wanted) == (inwards == (wanted == "accept"))


def test_along_r25_alone_the_lines_lie_where_a_table_of_the_normal_distribution_says() -> None:
    requirement = requirement_of(AIR.curve, r25_pct=2.0, b_pct=40.0)
    u = 0.002
    apart = np.diag([u**2, 0.001**2])
    rule = tf.check(readings(0.0, 0.0), AIR).rule
    accept = decision_outline(requirement, rule, "uniform", apart, "accept")
    reject = decision_outline(requirement, rule, "uniform", apart, "reject")
    assert accept is not None and reject is not None
    # One-sided 5 %: 1.645 standard uncertainties; an ellipse of two: √5.991.
    assert accept[:, 0].max() == pytest.approx(np.log(1.02) - 1.645 * u, abs=1e-5)
    assert reject[:, 0].max() == pytest.approx(np.log(1.02) + np.sqrt(CHI2_95[0]) * u, abs=1e-5)
    assert reject[:, 0].min() == pytest.approx(np.log(0.98) - np.sqrt(CHI2_95[0]) * u, abs=1e-5)


def test_a_population_moves_the_line_of_acceptance() -> None:
    own = tf.check(readings(0.0, 0.0), AIR)
    known = tf.check(
        readings(0.0, 0.0), AIR, prior=Population([0.0, 0.0], np.diag([0.005**2, 0.003**2]))
    )
    by_itself, with_prior = (
        outline(plane_picture(verdict), "accepted")[:, 0].max() for verdict in (own, known)
    )
    assert with_prior > by_itself + 0.1


@pytest.mark.parametrize(
    ("gamma", "u_t_k", "verdict"), [(0.0, 0.05, "accept"), (0.05, 0.05, "reject")]
)
def test_the_title_says_the_verdict(gamma: float, u_t_k: float, verdict: str) -> None:
    ax = plane_picture(tf.check(readings(gamma, 0.0, u_t_k=u_t_k), AIR))
    assert ax.get_title().startswith(f"Against air: {verdict}; it conforms with probability")


def test_instruments_too_coarse_to_accept_anything_are_told_of() -> None:
    ax = plane_picture(tf.check(readings(0.0, 0.0, u_t_k=1.0), AIR))
    labels = " ".join(str(one.get_label()).replace("\n", " ") for one in ax.lines)
    assert "no sensor would be accepted" in labels
    assert "accepted with its centre within" not in labels


def test_simple_acceptance_has_no_lines_but_the_tolerance() -> None:
    ax = plane_picture(tf.check(readings(0.0, 0.0), AIR, rule="simple"))
    assert not [one for one in ax.lines if "centre" in str(one.get_label())]


def test_readings_that_disagree_are_told_of_in_place_of_lines() -> None:
    p = readings(0.0, 0.0, u_t_k=0.05)
    r_ohm = p.r_ohm * [1.0, 1.03, 1.0]
    verdict = tf.check(tf.Points(p.t_c, r_ohm, p.u_t_k, p.u_r_ohm), AIR)
    assert verdict.p_value < 0.01
    labels = [str(one.get_label()) for one in plane_picture(verdict).lines]
    assert any("disagree" in label for label in labels)
    assert not any("centre" in label for label in labels)


def test_readings_at_one_temperature_leave_a_strip() -> None:
    verdict = tf.check(readings(0.012, 0.0, [18.0]), AIR)
    corners = place_of(patch(plane_picture(verdict, AIR), "where this sensor may lie"))
    a = np.log(AIR.curve.resistance(18.0) / 10e3)
    shift = corners[:, 0] + corners[:, 1] * a
    half = 0.5 * np.ptp(shift)
    assert shift.min() + half == pytest.approx(0.012, abs=1e-6)
    # What the reading is uncertain by: 0.3 % of R and 0.1 K times α.
    u = np.hypot(0.003, 0.1 * AIR.curve.alpha(18.0))
    assert half == pytest.approx(1.96 * u, rel=0.02)
    with pytest.raises(InputError, match="depends on the nominal curve"):
        plane_picture(verdict)


def test_a_tolerance_of_r25_alone_is_a_stretch_of_a_line() -> None:
    verdict = tf.check(readings(0.012, 0.0), AIR.curve, r25_pct=1)
    ax = plane_picture(verdict)
    assert np.ptp(outline(ax, "conforms"), axis=0) == pytest.approx([2.0, 0.0])
    (around,) = [place_of(one.get_path().vertices) for one in ax.patches]
    reach = np.sqrt(CHI2_95[1]) * verdict.u_gamma
    assert around[:, 0].max() == pytest.approx(verdict.gamma + reach, abs=1e-6)
    assert ax.get_ylim() == (-1.0, 1.0)


def test_a_slanted_tolerance_needs_the_curve() -> None:
    verdict = tf.check(readings(0.012, 0.006), AIR, tolerance=SLANTED)
    with pytest.raises(InputError, match="give the family"):
        plane_picture(verdict)
    corners = place_of(patch(plane_picture(verdict, AIR), "conforms"))
    band = tf.tolerance_band(AIR, [0.0, 30.0, 60.0], tolerance=SLANTED)
    a = np.log(band.r_nominal_ohm / 10e3)
    off = corners[:, :1] + corners[:, 1:] * a
    assert 100.0 * np.expm1(off.max(axis=0)) == pytest.approx(band.dr_pct, rel=1e-3)


def test_a_fit_is_placed_by_its_readings() -> None:
    fit = tf.characterise(readings(0.012, 0.006))
    verdict = tf.check(fit.points, AIR)
    centre = place_of(outline(plane_picture(fit, AIR), "this sensor"))[0]
    assert centre == pytest.approx([verdict.gamma, verdict.beta])
    with pytest.raises(InputError, match="give the family"):
        plane_picture(fit)


def test_many_sensors_are_marked_by_their_verdicts() -> None:
    frame = tf.check(sensors(), AIR)
    ax = plane_picture(frame, AIR)
    for verdict, count in frame["verdict"].value_counts().items():
        marks = place_of(outline(ax, f"{verdict}: {count}"))
        rows = frame[frame["verdict"] == verdict]
        assert marks == pytest.approx(rows[["gamma", "beta"]].to_numpy())
    collections: Any = ax.collections
    assert sum(len(one.get_segments()) for one in collections) == 20
    assert "20 sensors against air, 95 % ellipses" in ax.get_title().replace("\u00a0", " ")


def test_ellipses_of_very_many_are_left_out() -> None:
    assert not plane_picture(tf.check(sensors(101), AIR), AIR).collections


def test_a_batch_shows_its_classes_and_its_interval() -> None:
    batch = tf.batch_tolerance(sensors(), AIR)
    ax = plane_picture(batch)
    assert batch.r25_pct is not None and batch.b_pct is not None
    assert patch(ax, "smallest classes").max(axis=0) == pytest.approx([batch.r25_pct, batch.b_pct])
    interval = place_of(outline(ax, "confidence"))
    corners = {(gamma, beta) for gamma in batch.gamma_interval for beta in batch.beta_interval}
    assert {tuple(corner) for corner in interval.round(9)} == {
        tuple(np.round(corner, 9)) for corner in corners
    }


def test_what_was_checked_against_something_else_is_refused() -> None:
    other = tf.Family(tf.Curve.beta(r25_ohm=10e3, b_k=3435, id="other"), 2.0, 1.0)
    with pytest.raises(InputError, match="checked against air, not other"):
        plane_picture(tf.check(readings(0.0, 0.0), AIR), other)
    frame = tf.check(sensors(4), AIR)
    with pytest.raises(InputError, match="against the family air, not other"):
        plane_picture(frame, other)
    with pytest.raises(InputError, match="against the tolerance"):
        plane_picture(frame, AIR, tolerance=SLANTED)
    with pytest.raises(InputError, match="needs the family"):
        plane_picture(frame)
    with pytest.raises(InputError, match="its own tolerance"):
        plane_picture(tf.check(readings(0.0, 0.0), AIR), tolerance=SLANTED)


def test_sensors_without_a_place_are_refused_or_counted() -> None:
    far = tf.check(readings(0.0, 0.0, [0.0, 25.0, 180.0]), AIR)
    with pytest.raises(InputError, match="no place in the plane"):
        plane_picture(far, AIR)
    frame = sensors(4)
    once = frame[(frame["sensor"] != "S00") | (frame["t_c"] == 25.0)]
    title = plane_picture(tf.check(once, AIR), AIR).get_title()
    assert title.startswith("4 sensors against air; 1 without a place")
    with pytest.raises(InputError, match="none of these sensors has a place"):
        plane_picture(tf.check(frame[frame["t_c"] == 25.0], AIR), AIR)


def test_platinum_is_not_in_this_plane() -> None:
    pt = tf.Curve.callendar_van_dusen(r0_ohm=100)
    fit = tf.characterise(readings(0.0, 0.0))
    with pytest.raises(InputError, match="no NTC"):
        plane_picture(fit, pt)


def test_edges_of_a_few_corners_are_drawn_in_steps() -> None:
    square = np.array([(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)])
    closed = polygon(square)
    assert (closed[0] == closed[-1]).all() and len(closed) == 4 * 12 + 1
    assert np.abs(closed).max(axis=1) == pytest.approx(1.0)
    circle = np.stack([np.cos(np.arange(40)), np.sin(np.arange(40))], axis=-1)
    assert len(polygon(circle)) == 41
