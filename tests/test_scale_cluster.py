"""Several processes share the work, and one of them may die: the answer is the same.

A real cluster of two processes, each with a keeper that starts it again.
"""

from __future__ import annotations

import importlib
import logging
import os
import signal
import time
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import thermofit as tf
from tests.batches import SAME
from tests.samples import AIR as CURVE
from tests.samples import AIR_FAMILY as FAMILY
from thermofit.errors import ExtrapolationError

da: Any = importlib.import_module("dask.array")
dd: Any = importlib.import_module("dask.dataframe")
distributed: Any = importlib.import_module("distributed")

PATIENCE_S = 60
"""When a cluster counts as hung; nothing waits for it otherwise."""


@pytest.fixture(scope="module")
def client() -> Iterator[Any]:
    cluster = distributed.LocalCluster(
        n_workers=2,
        processes=True,
        threads_per_worker=1,
        dashboard_address=None,
        silence_logs=logging.CRITICAL + 1,
    )
    with cluster, distributed.Client(cluster) as client:
        yield client


def processes(client: Any) -> set[int]:
    found: dict[str, int] = client.run(os.getpid)
    return set(found.values())


def traced(folder: Path) -> Callable[[Any], Any]:
    """Give what passes on a block after a while, and leaves the number of its process behind."""

    def trace(block: Any) -> Any:
        if len(block):
            time.sleep(0.08)
            (folder / f"{uuid.uuid4().hex}").write_text(str(os.getpid()))
        return block

    return trace


def kill_one(client: Any, folder: Path) -> int:
    """Kill a process that has finished two blocks, so that finished work is lost with it."""
    begin, alive = time.monotonic(), processes(client)
    while time.monotonic() - begin < PATIENCE_S:
        done = [int(text) for path in folder.iterdir() if (text := path.read_text())]
        for process in alive:
            if done.count(process) >= 2:
                os.kill(process, signal.SIGKILL)
                return process
        time.sleep(0.01)
    raise AssertionError("no process has begun to work")


def bench(sensors: int = 60) -> pd.DataFrame:
    """Invented readings of air sensors in baths, one of them a slip."""
    rng = np.random.default_rng(11)
    t_c = np.tile([0.0, 25.0, 60.0], sensors) + rng.uniform(-2.0, 2.0, 3 * sensors)
    r_ohm = CURVE.resistance(t_c) * np.exp(rng.normal(0.0, 2e-3, t_c.size))
    names = np.repeat([f"house {place:02}" for place in range(sensors)], 3)
    frame = pd.DataFrame({"sensor": names, "t_c": t_c, "r_ohm": r_ohm})
    frame["u_t_k"], frame["u_r_ohm"] = 0.05, 2e-3 * r_ohm
    frame.loc[30, "r_ohm"] = -1.0
    mixed: pd.DataFrame = frame.sample(frac=1.0, random_state=2).reset_index(drop=True)
    return mixed


BENCH = bench()


def assert_same(found: Any, expected: Any) -> None:
    """To some units in the last place: short blocks are evaluated another way than long arrays."""
    np.testing.assert_allclose(found, expected, rtol=0.0, atol=1e-11)


def assert_same_rows(found: pd.DataFrame, expected: pd.DataFrame) -> None:
    found, expected = (rows.sort_values("sensor") for rows in (found, expected))
    numbers = list(expected.select_dtypes("number"))
    assert found["sensor"].tolist() == expected["sensor"].tolist()
    np.testing.assert_allclose(found[numbers], expected[numbers], rtol=SAME, atol=1e-12)


def test_readings_are_converted_by_both_processes(client: Any, tmp_path: Path) -> None:
    r_ohm = np.geomspace(600.0, 300e3, 20_001)
    lazy = da.from_array(r_ohm, chunks=1000).map_blocks(traced(tmp_path), dtype=float)
    assert_same(CURVE.temperature(lazy).compute(), CURVE.temperature(r_ohm))
    assert {int(path.read_text()) for path in tmp_path.iterdir()} == processes(client)


def test_intervals_and_bands_travel_too(client: Any) -> None:
    r_ohm = np.geomspace(600.0, 300e3, 1001)
    lazy = da.from_array(r_ohm, chunks=100)
    interval = CURVE.temperature_interval(lazy, 0.01 * lazy)
    plain = CURVE.temperature_interval(r_ohm, 0.01 * r_ohm)
    band = tf.tolerance_band(FAMILY, CURVE.temperature(lazy))
    plain_band = tf.tolerance_band(FAMILY, CURVE.temperature(r_ohm))
    low, high, error_k = client.gather(
        client.compute([interval.low, interval.high, band.dt_low_k]), errors="raise"
    )
    assert_same(low, plain.low)
    assert_same(high, plain.high)
    assert_same(error_k, plain_band.dt_low_k)


def test_what_a_worker_refuses_is_refused_here(client: Any) -> None:
    lazy = da.from_array(np.array([10e3, 20e3, 1e7]), chunks=1)
    with pytest.raises(ExtrapolationError, match=r"10\.000 MΩ is outside"):
        CURVE.temperature(lazy, strict=True).compute()


def test_a_batch_is_shuffled_between_processes_and_fitted(client: Any) -> None:
    lazy = dd.from_pandas(BENCH, npartitions=6)
    assert_same_rows(tf.characterise_many(lazy).compute(), tf.characterise_many(BENCH))


def test_readings_are_converted_though_a_process_dies(client: Any, tmp_path: Path) -> None:
    blocks = 24
    r_ohm = np.geomspace(600.0, 300e3, 100 * blocks)
    lazy = da.from_array(r_ohm, chunks=100).map_blocks(traced(tmp_path), dtype=float)
    running = client.compute(CURVE.temperature(lazy))
    dead = kill_one(client, tmp_path)
    assert_same(running.result(timeout=PATIENCE_S), CURVE.temperature(r_ohm))
    assert dead not in processes(client)
    # What it had finished and not handed on was done again.
    assert len(list(tmp_path.iterdir())) > blocks


def test_a_batch_is_fitted_though_a_process_dies(client: Any, tmp_path: Path) -> None:
    by_sensor = BENCH.sort_values("sensor").set_index("sensor")
    lazy = dd.from_pandas(by_sensor, npartitions=20)
    traces = lazy.map_partitions(traced(tmp_path), meta=by_sensor.iloc[:0])
    running = client.compute(tf.fit_many(traces, "beta"))
    dead = kill_one(client, tmp_path)
    rows = running.result(timeout=PATIENCE_S)
    assert_same_rows(rows, tf.fit_many(BENCH, "beta"))
    assert (rows["error"] != "").sum() == 1
    assert dead not in processes(client)
    assert len(list(tmp_path.iterdir())) > lazy.npartitions
