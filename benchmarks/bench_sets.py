"""Curve sets of many curves against pandas on the same table."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import thermofit as tf
from benchmarks.conftest import Compare
from benchmarks.invented import many_points

COUNT = 100_000


@pytest.fixture(scope="module")
def stored(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Fitted Steinhart–Hart curves with their covariances."""
    folder = tmp_path_factory.mktemp("sets")
    fits = tf.fit_many(many_points(COUNT, 3))
    frame = fits.to_frame()
    chosen = frame[["a", "b", "c", "t_min_c", "t_max_c"]].copy()
    chosen.insert(0, "id", [f"sensor-{n:06}" for n in range(COUNT)])
    chosen.insert(1, "equation", "steinhart-hart")
    for name in [column for column in frame if str(column).startswith("cov_")]:
        chosen[name] = frame[name]
    chosen["source"] = "invented readings of a bench"
    path = folder / "plain.csv"
    chosen.to_csv(path, index=False)
    target = folder / "shop.csv"
    tf.write_curve_set(target, tf.read_curve_set(path))
    return target


def test_reading(compare: Compare, stored: Path) -> None:
    compare("read a curve set of 10⁵ curves", "pandas.read_csv", lambda: pd.read_csv(stored),
            lambda: tf.read_curve_set(stored), reach=3.0, kind="at most", rounds=5)  # fmt: skip


def test_writing(compare: Compare, stored: Path) -> None:
    frame, curves = pd.read_csv(stored), tf.read_curve_set(stored)
    plain, target = stored.with_name("a.csv"), stored.with_name("b.csv")
    compare("write a curve set of 10⁵ curves", "DataFrame.to_csv",
            lambda: frame.to_csv(plain, index=False), lambda: tf.write_curve_set(target, curves),
            reach=3.0, kind="at most", rounds=5)  # fmt: skip
