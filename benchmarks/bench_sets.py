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
    path = tmp_path_factory.mktemp("sets") / "shop.csv"
    tf.write_curve_set(path, tf.fit_many(many_points(COUNT, 3)))
    return path


def of_one_thread(path: Path) -> pd.DataFrame:
    """From version 3.1 on pandas reads a large file with a thread for each core, unless told."""
    try:
        with pd.option_context("mode.max_threads", 1):
            return pd.read_csv(path)
    except pd.errors.OptionError:
        return pd.read_csv(path)


def test_reading(compare: Compare, stored: Path) -> None:
    compare("read a curve set of 10⁵ curves", "pandas.read_csv, one thread",
            lambda: of_one_thread(stored), lambda: tf.read_curve_set(stored),
            reach=3.0, kind="at most", rounds=9)  # fmt: skip


def test_reading_against_threads(compare: Compare, stored: Path) -> None:
    compare("the same", "pandas.read_csv, a thread for each core", lambda: pd.read_csv(stored),
            lambda: tf.read_curve_set(stored), rounds=9)  # fmt: skip


def test_writing(compare: Compare, stored: Path) -> None:
    frame, curves = pd.read_csv(stored), tf.read_curve_set(stored)
    plain, target = stored.with_name("a.csv"), stored.with_name("b.csv")
    compare("write a curve set of 10⁵ curves", "DataFrame.to_csv",
            lambda: frame.to_csv(plain, index=False), lambda: tf.write_curve_set(target, curves),
            reach=3.0, kind="at most", rounds=5)  # fmt: skip


def test_writing_fits(compare: Compare, stored: Path) -> None:
    frame, fits = pd.read_csv(stored), tf.fit_many(many_points(COUNT, 3))
    plain, target = stored.with_name("a.csv"), stored.with_name("c.csv")
    compare("write the 10⁵ fits of tf.fit_many as a curve set", "DataFrame.to_csv",
            lambda: frame.to_csv(plain, index=False), lambda: tf.write_curve_set(target, fits),
            rounds=3)  # fmt: skip
