"""Cost grows with the number of items, and no faster."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

import thermofit as tf
from benchmarks.conftest import Call
from benchmarks.invented import families, four_terms, many_points, published

Grow = Callable[[str, int, Call], None]

COUNTS = [1_000, 10_000, 100_000, 1_000_000]
FEWER = COUNTS[:3]


@pytest.mark.parametrize("count", COUNTS)
def test_temperatures(grow: Grow, count: int) -> None:
    curve, (_, r_ohm) = four_terms(), published()
    readings = np.geomspace(r_ohm.min() * 1.01, r_ohm.max() / 1.01, count)
    grow("T(R), four terms", count, lambda: curve.temperature(readings))


@pytest.mark.parametrize("count", COUNTS)
def test_intervals(grow: Grow, count: int) -> None:
    t_c, r_ohm = published()
    fit = tf.fit(tf.Points(t_c, r_ohm, u_t_k=0.05), equation="log-polynomial-4")
    readings = np.geomspace(r_ohm.min() * 1.01, r_ohm.max() / 1.01, count)
    u_ohm = 2e-3 * readings
    grow("T(R) with standard uncertainty", count, lambda: fit.temperature(readings, u_ohm))


@pytest.mark.parametrize("count", COUNTS)
def test_three_points(grow: Grow, count: int) -> None:
    points = many_points(count, 3)
    grow("fit_many, 3 points, exact", count, lambda: tf.fit_many(points))


@pytest.mark.parametrize("count", COUNTS)
def test_eleven_points(grow: Grow, count: int) -> None:
    points = many_points(count, 11)
    grow("fit_many, 11 points, four terms", count,
         lambda: tf.fit_many(points, equation="log-polynomial-4"))  # fmt: skip


@pytest.mark.parametrize("count", COUNTS)
def test_two_baths(grow: Grow, count: int) -> None:
    points = many_points(count, 2)
    grow("characterise_many, 2 baths", count, lambda: tf.characterise_many(points))


@pytest.mark.parametrize("count", FEWER)
def test_verdicts(grow: Grow, count: int) -> None:
    import pandas as pd

    family = tf.family("ntc-10k-3977")
    t = np.tile([0.0, 70.0], (count, 1))
    off = np.random.default_rng(20240501).normal(0.0, 0.02, (count, 1))
    r = family.curve.resistance(t) * np.exp(off)
    frame = pd.DataFrame({
        "sensor": np.repeat(np.arange(count), 2), "t_c": t.ravel(), "r_ohm": r.ravel(),
        "u_t_k": 0.2, "u_r_ohm": 5e-3 * r.ravel(),
    })  # fmt: skip
    grow(
        "check, 2 readings of each sensor, most of them good",
        count,
        lambda: tf.check(frame, family),
    )


@pytest.mark.parametrize("count", FEWER[:2])
def test_bands(grow: Grow, count: int) -> None:
    parts, steps = families(count), np.linspace(-40.0, 125.0, 166)
    grow("band of families × 166", count, lambda: tf.tolerance_band(parts, steps))


@pytest.mark.parametrize("count", FEWER)
def test_sets(grow: Grow, count: int, tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [family.curve for family in families(count)])
    grow("read a curve set", count, lambda: tf.read_curve_set(path))
