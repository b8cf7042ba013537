"""A log of a million readings, file to file, against reading and writing it unchanged."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

import thermofit as tf
from benchmarks.conftest import Compare
from benchmarks.invented import four_terms, published

COUNT = 1_000_000


@pytest.fixture(scope="module")
def csv_log(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Seconds, resistance and the state of a fan."""
    import pyarrow as pa
    import pyarrow.csv as pc

    _, r_ohm = published()
    rng = np.random.default_rng(20260701)
    readings = np.exp(rng.uniform(np.log(r_ohm.min()) + 0.1, np.log(r_ohm.max()) - 0.1, COUNT))
    table = pa.table({
        "time_s": np.arange(COUNT), "ntc_ohm": readings.round(2),
        "fan": np.where(rng.random(COUNT) > 0.1, "on", "off"),
    })  # fmt: skip
    path = tmp_path_factory.mktemp("logs") / "july.csv"
    pc.write_csv(table, path)
    return path


def test_csv(compare: Compare, csv_log: Path) -> None:
    import pyarrow.csv as pc

    curve, plain, target = four_terms(), csv_log.with_name("a.csv"), csv_log.with_name("b.csv")
    compare("a CSV log of 10⁶ readings, file to file", "pyarrow: read it and write it",
            lambda: pc.write_csv(pc.read_csv(csv_log), plain),
            lambda: tf.convert_log(csv_log, target, curve, column="ntc_ohm", overwrite=True),
            rounds=5)  # fmt: skip


def test_parquet(compare: Compare, csv_log: Path) -> None:
    import pyarrow.csv as pc
    import pyarrow.parquet as pq

    source = csv_log.with_suffix(".parquet")
    pq.write_table(pc.read_csv(csv_log), source)
    curve, plain, target = (
        four_terms(),
        source.with_name("a.parquet"),
        source.with_name("b.parquet"),
    )
    compare("a Parquet log of 10⁶ readings, file to file", "pyarrow: read it and write it",
            lambda: pq.write_table(pq.read_table(source), plain),
            lambda: tf.convert_log(source, target, curve, column="ntc_ohm", overwrite=True),
            rounds=5)  # fmt: skip
