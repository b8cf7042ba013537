"""Dask's arrays and frames: worked through block by block, later, with the usual numbers."""

from __future__ import annotations

import dataclasses
import importlib
import pickle
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given, settings
from hypothesis import strategies as st

import thermofit as tf
from tests.batches import SAME
from tests.samples import AIR as CURVE
from tests.samples import AIR_FAMILY as FAMILY
from thermofit.arrays import is_lazy
from thermofit.errors import ExtrapolationError, ExtrapolationWarning, FitError, InputError
from thermofit.scale import evaluated_fields, sensor_by_sensor

# They have no types, or some only.
dask: Any = importlib.import_module("dask")
da: Any = importlib.import_module("dask.array")
dd: Any = importlib.import_module("dask.dataframe")
cloudpickle: Any = importlib.import_module("cloudpickle")

FIELDS = ("value", "standard_uncertainty", "low", "high", "dof")


@pytest.fixture(autouse=True)
def one_thread() -> Iterator[None]:
    with dask.config.set(scheduler="synchronous"):
        yield


def readings(rows: int = 7, columns: int = 6) -> Any:
    """Invented resistances of air sensors, one of them missing."""
    r_ohm = np.geomspace(900.0, 150e3, rows * columns).reshape(rows, columns)
    r_ohm[2, 3] = np.nan
    return r_ohm


def assert_same(found: Any, expected: Any) -> None:
    """To some units in the last place: what stands beside a number may change its rounding."""
    np.testing.assert_allclose(found, expected, rtol=1e-12, atol=1e-11)


def nobody(*_: Any, **__: Any) -> Any:
    raise AssertionError("something was computed")


# -- arrays ---------------------------------------------------------------------------


def test_nothing_is_computed_before_it_is_asked_for() -> None:
    r_ohm = readings()
    lazy = da.from_array(r_ohm, chunks=(3, 4))
    series = dd.from_pandas(pd.Series(r_ohm[0]), npartitions=2)
    frame = dd.from_pandas(pd.DataFrame(r_ohm), npartitions=2)
    with dask.config.set(scheduler=nobody):
        for kind in (lazy, series, frame, xr.DataArray(lazy)):
            for result in (
                CURVE.temperature(kind),
                CURVE.temperature_interval(kind, 10.0).high,
                CURVE.alpha(25.0 + 0.0 * kind),
                tf.tolerance_band(FAMILY, 25.0 + 0.0 * kind).dt_low_k,
            ):
                assert is_lazy(result)
                assert type(result) is type(kind)
        # So that the test can fail.
        with pytest.raises(AssertionError, match="was computed"):
            CURVE.temperature(lazy).compute()


@settings(max_examples=25)
@given(st.integers(1, 7), st.integers(1, 6))
def test_any_division_into_blocks_gives_the_same_numbers(rows: int, columns: int) -> None:
    r_ohm = readings()
    lazy = da.from_array(r_ohm, chunks=(rows, columns))
    t_c = CURVE.temperature(lazy)
    assert (t_c.chunks, t_c.dtype) == (lazy.chunks, np.float64)
    assert_same(t_c.compute(), CURVE.temperature(r_ohm))
    np.testing.assert_allclose(CURVE.resistance(t_c).compute(), r_ohm, rtol=1e-12)
    assert_same(CURVE.alpha(t_c).compute(), CURVE.alpha(CURVE.temperature(r_ohm)))


def test_whole_numbers_and_a_single_one_are_numbers() -> None:
    whole = da.from_array(np.array([10_000, 20_000]), chunks=1)
    assert_same(CURVE.temperature(whole).compute(), CURVE.temperature([10e3, 20e3]))
    assert CURVE.temperature(whole.min()).compute() == 25.0


def test_blocks_of_unknown_size_pass() -> None:
    lazy = da.from_array(readings()[0], chunks=4)
    some = lazy[lazy > 1000.0]
    assert np.isnan(some.shape[0])
    expected = CURVE.temperature_interval(some.compute(), 1.0)
    interval = CURVE.temperature_interval(some, 0.0 * some + 1.0)
    assert_same(interval.high.compute(), expected.high)
    with pytest.raises(InputError, match="do not go together"):
        CURVE.temperature_interval(some, da.ones(3, chunks=1))


@pytest.mark.parametrize("u", [None, 25.0, "array", "row", "rechunked", "list"])
def test_an_interval_has_fields_of_the_same_kind(u: Any) -> None:
    r_ohm = readings()
    lazy = da.from_array(r_ohm, chunks=(3, 4))
    given_u, plain_u = {
        "array": (0.01 * r_ohm[:1], 0.01 * r_ohm[:1]),
        "row": (da.from_array(0.01 * r_ohm[0], chunks=2), 0.01 * r_ohm[0]),
        "rechunked": (da.from_array(0.01 * np.nan_to_num(r_ohm), chunks=(2, 5)),
                      0.01 * np.nan_to_num(r_ohm)),
        "list": ([1.0, 2.0, 3.0, 4.0, 5.0, 6.0], np.arange(1.0, 7.0)),
    }.get(u, (u, u))  # fmt: skip
    interval = CURVE.temperature_interval(lazy, given_u, coverage=0.9)
    plain = CURVE.temperature_interval(r_ohm, plain_u, coverage=0.9)
    for name in FIELDS:
        field = getattr(interval, name)
        assert field.chunks == lazy.chunks
        assert_same(field.compute(), getattr(plain, name))
    assert (interval.coverage, interval.unit, interval.note) == (0.9, "°C", plain.note)


def test_an_interval_of_resistance_too() -> None:
    t_c = da.from_array(np.linspace(-20.0, 100.0, 9), chunks=4)
    interval = CURVE.resistance_interval(t_c, 0.1 + 0.0 * t_c)
    plain = CURVE.resistance_interval(t_c.compute(), 0.1)
    assert_same(interval.low.compute(), plain.low)
    assert (interval.unit, interval.note) == ("Ω", plain.note)


def test_all_fields_of_a_block_come_from_one_call() -> None:
    calls: list[int] = []

    @dataclasses.dataclass
    class Pair:
        half: Any
        twice: Any

    def both(values: Any) -> Pair:
        calls.append(len(values))
        return Pair(0.5 * values, 2.0 * values)

    lazy = da.from_array(np.arange(6.0), chunks=3)
    units = ["", ""]
    found = evaluated_fields(both, ["half", "twice"], lazy, None, ("r_ohm", ""), units)
    half, twice = dask.compute(found["half"], found["twice"])
    assert calls == [3, 3]
    assert_same(4.0 * half, twice)


def test_a_fit_is_as_lazy_as_its_curve() -> None:
    fit = tf.fit(tf.Points([0, 25, 50, 80], [32.6e3, 10010, 3588, 1254], u_t_k=0.1))
    lazy = da.from_array(np.geomspace(2e3, 30e3, 10), chunks=4)
    assert_same(
        fit.temperature(lazy, 5.0).high.compute(), fit.temperature(lazy.compute(), 5.0).high
    )


@pytest.mark.parametrize(
    "limits",
    [{}, {"r25_pct": (-1, 2), "b_pct": 1}, {"distribution": "uniform"}, {"coverage": 0.5}],
)
def test_a_band_is_that_of_its_temperatures(limits: dict[str, Any]) -> None:
    t_c = np.linspace(-20.0, 100.0, 9)
    band = tf.tolerance_band(FAMILY, da.from_array(t_c, chunks=4), **limits)
    plain = tf.tolerance_band(FAMILY, t_c, **limits)
    for field in dataclasses.fields(plain):
        if field.name != "meaning":
            lazy: Any = getattr(band, field.name)
            np.testing.assert_allclose(lazy.compute(), getattr(plain, field.name), rtol=1e-12)
    assert band.meaning == plain.meaning


def test_what_a_band_refuses_it_refuses_at_once_if_it_can() -> None:
    t_c = da.from_array([25.0, 150.0], chunks=1)
    with pytest.raises(InputError, match="no tolerance is known"):
        tf.tolerance_band(CURVE, t_c)
    with pytest.raises(InputError, match="one Curve or Family"):
        tf.tolerance_band([FAMILY, FAMILY], t_c)
    with pytest.raises(InputError, match="r25_pct must be a number"):
        tf.tolerance_band(FAMILY, t_c, r25_pct=np.array([1.0, 2.0]))
    with pytest.raises(InputError, match="r25_pct must be a number"):
        tf.tolerance_band(FAMILY, t_c, r25_pct=(-1.0, np.array([1.0, 2.0])))
    band: Any = tf.tolerance_band(FAMILY, t_c)
    with pytest.raises(ExtrapolationError, match="150 °C"):
        band.r_low_ohm.compute()


def test_extrapolation_shows_when_a_block_is_computed() -> None:
    lazy = da.from_array(np.array([10e3, 20e3, 1e7]), chunks=1)
    outside = r"10\.000 MΩ is outside"
    with pytest.raises(ExtrapolationError, match=outside):
        CURVE.temperature(lazy, strict=True).compute()
    with pytest.raises(ExtrapolationError, match=outside):
        CURVE.temperature_interval(lazy, strict=True).low.compute()
    with pytest.warns(ExtrapolationWarning, match=outside):
        CURVE.temperature(lazy).compute()
    with pytest.raises(InputError, match="positive and finite"):
        CURVE.temperature(lazy[:2] - 10e3).compute()


@pytest.mark.parametrize(
    ("values", "message"),
    [
        (da.ones(3, dtype=bool), "must be numbers, not bool"),
        (da.from_array(np.array(["10000"])), "must be numbers"),
        (dd.from_pandas(pd.Series(["10000"]), npartitions=1), "must be numbers"),
        (xr.DataArray(da.ones(3, dtype=bool)), "must be numbers, not bool"),
        (xr.Dataset({"r_ohm": da.ones(3)}), "is a Dataset"),
        (dask.delayed(10e3), "is a Delayed"),
    ],
)
def test_what_is_no_number_is_refused_at_once(values: Any, message: str) -> None:
    with pytest.raises(InputError, match=message):
        CURVE.temperature(values)
    with pytest.raises(InputError, match=message):
        CURVE.temperature_interval(values)


def test_what_cannot_be_divided_alike_is_refused_at_once() -> None:
    lazy = da.from_array(readings(), chunks=3)
    series = dd.from_pandas(pd.Series([10e3, 20e3]), npartitions=2)
    for r_ohm, u_r_ohm in ((lazy, series), (series, np.ones(2)), (series, lazy), (lazy, "1")):
        with pytest.raises(InputError, match="u_r_ohm"):
            CURVE.temperature_interval(r_ohm, u_r_ohm)
    with pytest.raises(InputError, match="do not go together"):
        CURVE.temperature_interval(lazy, np.ones(5))
    with pytest.raises(InputError, match="divided as r_ohm is"):
        CURVE.temperature_interval([10e3], lazy)
    with pytest.raises(InputError, match="out is for NumPy"):
        CURVE.resistance(lazy, out=np.empty(lazy.shape))
    with pytest.raises(InputError, match="workers"):
        CURVE.temperature(lazy, workers=0)
    with pytest.raises(InputError, match=r"0\.95"):
        CURVE.temperature_interval(lazy, coverage=95)
    with pytest.raises(InputError, match="negative"):
        CURVE.temperature_interval(lazy, -1.0)


# -- frames and labelled arrays -------------------------------------------------------


@pytest.mark.parametrize("held", ["float64", "double[pyarrow]"])
def test_a_lazy_series_keeps_index_name_and_divisions(held: str) -> None:
    plain = pd.Series([32.6e3, 10e3, 4e3, 2e3], index=[3, 5, 8, 9], name="inlet", dtype=held)
    lazy = dd.from_pandas(plain, npartitions=3)
    t_c = CURVE.temperature(lazy)
    assert (t_c.dtype, t_c.divisions) == (held, lazy.divisions)
    pd.testing.assert_series_equal(t_c.compute(), CURVE.temperature(plain), rtol=1e-12)
    interval = CURVE.temperature_interval(lazy, 0.01 * lazy)
    expected = CURVE.temperature_interval(plain, 0.01 * plain)
    for name in FIELDS:
        pd.testing.assert_series_equal(
            getattr(interval, name).compute(), getattr(expected, name), rtol=1e-12
        )


def test_a_lazy_frame_keeps_its_columns() -> None:
    plain = pd.DataFrame({"inlet": [32.6e3, 10e3, 4e3], "outlet": [2e3, 3e3, 4e3]})
    lazy = dd.from_pandas(plain, npartitions=2)
    pd.testing.assert_frame_equal(
        CURVE.temperature(lazy).compute(), CURVE.temperature(plain), rtol=1e-12
    )
    interval = CURVE.temperature_interval(lazy, 5.0)
    expected = CURVE.temperature_interval(plain, 5.0)
    for name in FIELDS:
        pd.testing.assert_frame_equal(
            getattr(interval, name).compute(), getattr(expected, name), rtol=1e-12
        )
    band: Any = tf.tolerance_band(FAMILY, CURVE.temperature(lazy))
    plain_band: Any = tf.tolerance_band(FAMILY, CURVE.temperature(plain))
    pd.testing.assert_frame_equal(band.r_low_ohm.compute(), plain_band.r_low_ohm, rtol=1e-12)


def test_a_lazy_labelled_array_keeps_coordinates_and_chunks() -> None:
    lazy = da.from_array(readings(), chunks=(3, 4))
    labelled = xr.DataArray(
        lazy, dims=("house", "hour"), coords={"hour": range(6)}, attrs={"units": "Ω"}
    )
    t_c = CURVE.temperature(labelled)
    assert (t_c.dims, t_c.chunks, t_c.attrs) == (labelled.dims, lazy.chunks, {"units": "degC"})
    assert_same(t_c, CURVE.temperature(readings()))
    u_r_ohm = xr.DataArray(np.arange(1.0, 7.0), dims="hour", coords={"hour": range(6)})
    high = CURVE.temperature_interval(labelled, u_r_ohm).high
    assert (high.dims, high.chunks) == (labelled.dims, lazy.chunks)
    assert_same(high, CURVE.temperature_interval(readings(), np.arange(1.0, 7.0)).high)


# -- batches --------------------------------------------------------------------------


def bench(sensors: int = 12) -> pd.DataFrame:
    """Invented readings of air sensors, ragged, mixed; one sensor has nothing but a slip."""
    rng = np.random.default_rng(5)
    parts = []
    for place in range(sensors):
        t_c = np.linspace(-5.0, 80.0, 2 + place % 5) + rng.uniform(-3.0, 3.0, 2 + place % 5)
        r_ohm = CURVE.resistance(t_c) * np.exp(rng.normal(0.0, 2e-3, t_c.size))
        parts.append(pd.DataFrame({"sensor": f"house {place}", "t_c": t_c, "r_ohm": r_ohm}))
    frame = pd.concat(parts).sample(frac=1.0, random_state=3).reset_index(drop=True)
    frame["u_t_k"], frame["u_r_ohm"] = 0.05, 2e-3 * frame["r_ohm"]
    frame.loc[frame["sensor"] == "house 3", "r_ohm"] = -1756.0
    return frame[(frame["sensor"] != "house 3") | ~frame.duplicated("sensor")]


BENCH = bench()
CALLS: dict[str, Callable[[Any], Any]] = {
    "beta": lambda frame: tf.fit_many(frame, "beta"),
    "steinhart-hart": tf.fit_many,
    "log-polynomial": lambda frame: tf.fit_many(frame, "log-polynomial-3", minimise="resistance"),
    "characterise": lambda frame: tf.characterise_many(frame, shared_u_t_k=0.03),
    "check": lambda frame: tf.check(frame, FAMILY),
    "check-with-risk": lambda frame: tf.check(frame, FAMILY, risk=0.2, b_pct=2.0),
}


def in_order(frame: Any) -> pd.DataFrame:
    rows: pd.DataFrame = frame.sort_values("sensor").reset_index(drop=True)
    return rows


def assert_same_rows(found: pd.DataFrame, expected: pd.DataFrame) -> None:
    """The same numbers, and the same words but for the rows that were counted."""
    expected = in_order(expected)
    if "reason" in expected:
        expected["reason"] = expected["reason"].str.replace(r"row \d+: ", "", regex=True)
    # What is rounding of residuals (in kelvin) or of probabilities has no digits to compare.
    pd.testing.assert_frame_equal(in_order(found), expected, rtol=SAME, atol=1e-12)


@pytest.mark.parametrize("call", CALLS.values(), ids=CALLS)
@pytest.mark.parametrize("way", ["one", "shuffled", "indexed", "category"])
def test_a_frame_in_partitions_gives_the_rows_of_one(call: Callable[[Any], Any], way: str) -> None:
    frame = BENCH
    if way == "category":
        frame = frame.astype({"sensor": "category"})
    lazy = dd.from_pandas(frame, npartitions=1 if way == "one" else 4)
    if way == "indexed":
        lazy = lazy.set_index("sensor")
        assert lazy.known_divisions  # Dask looks for them when it is asked
    expected = call(BENCH)
    with dask.config.set(scheduler=nobody):
        rows = call(lazy)
    assert rows.npartitions == lazy.npartitions
    # The divisions of the points are not those of the sensors.
    assert not rows.known_divisions
    pd.testing.assert_series_equal(rows.dtypes, expected.dtypes)
    assert_same_rows(rows.compute(), expected)


@settings(max_examples=8)
@given(st.integers(2, 30), st.integers(0, 2**31))
def test_no_division_into_partitions_makes_two_halves_of_a_sensor(parts: int, seed: int) -> None:
    frame = BENCH.sample(frac=1.0, random_state=seed).reset_index(drop=True)
    with dask.config.set(scheduler="synchronous"):
        rows = tf.fit_many(dd.from_pandas(frame, npartitions=parts), "beta").compute()
    assert_same_rows(rows, tf.fit_many(BENCH, "beta"))


def test_a_sensor_that_fails_says_why_and_stops_nobody() -> None:
    rows = tf.fit_many(dd.from_pandas(BENCH, npartitions=3), "beta").compute()
    failed = rows[rows["error"] != ""]
    assert failed["sensor"].tolist() == ["house 3"]
    assert failed["error"].item() == "point 1: r_ohm = -1756.0 is not above zero"
    verdicts = tf.check(dd.from_pandas(BENCH, npartitions=3), FAMILY).compute()
    told = verdicts.set_index("sensor").loc["house 3"]
    assert told["verdict"] == "cannot tell"
    assert told["reason"] == "r_ohm -1756.0 is no resistance in Ω above zero"


def test_sensors_named_by_numbers_and_in_another_column() -> None:
    frame = BENCH.assign(serial=BENCH["sensor"].str[6:].astype(int)).drop(columns="sensor")
    lazy = dd.from_pandas(frame, npartitions=3)
    rows = tf.fit_many(lazy, "beta", sensor="serial").compute()
    expected = tf.fit_many(frame, "beta", sensor="serial")
    assert_same_rows(
        rows.rename(columns={"serial": "sensor"}), expected.rename(columns={"serial": "sensor"})
    )


def test_an_uncertainty_may_be_one_number_for_all() -> None:
    frame = BENCH[["sensor", "t_c", "r_ohm"]]
    rows = tf.fit_many(dd.from_pandas(frame, npartitions=3), "beta", u_t_k=0.1).compute()
    assert_same_rows(rows, tf.fit_many(frame, "beta", u_t_k=0.1))
    with pytest.raises(InputError, match="u_t_k must be one number"):
        tf.fit_many(dd.from_pandas(frame, npartitions=3), u_t_k=np.full(len(frame), 0.1))


def test_divisions_that_are_not_true_are_found_out() -> None:
    """As those that Dask reads from the least and greatest sensors of files can be."""
    frame = BENCH.sort_values("sensor").set_index("sensor")
    middle = next(k for k in range(8, 40) if frame.index[k] == frame.index[k - 1])
    halves = [frame.iloc[:middle], frame.iloc[middle:]]
    names = (frame.index[0], frame.index[middle], frame.index[-1])
    lazy = dd.from_map(lambda half: half, halves, meta=frame.iloc[:0], divisions=names)
    with pytest.raises(InputError, match=f"{names[1]!r} stands where the divisions"):
        tf.fit_many(lazy, "beta").compute()
    rows = tf.fit_many(lazy.reset_index(), "beta").compute()
    assert_same_rows(rows, tf.fit_many(BENCH, "beta"))


def test_sensors_as_index_without_known_divisions_are_refused() -> None:
    lazy = dd.from_pandas(BENCH, npartitions=3).set_index("sensor").clear_divisions()
    with pytest.raises(InputError, match=r"set_index\('sensor'\)"):
        tf.fit_many(lazy)


def test_what_the_columns_show_is_refused_at_once() -> None:
    lazy = dd.from_pandas(BENCH, npartitions=3)
    with dask.config.set(scheduler=nobody):
        with pytest.raises(InputError, match="no column 'r_ohm'"):
            tf.fit_many(lazy.drop(columns="r_ohm"))
        with pytest.raises(FitError, match="none were given"):
            tf.characterise_many(lazy.drop(columns=["u_t_k", "u_r_ohm"]))
        with pytest.raises(InputError, match="state no uncertainty"):
            tf.check(lazy.drop(columns=["u_t_k", "u_r_ohm"]), FAMILY)
        for call in CALLS.values():
            with pytest.raises(InputError, match="a row for each point, not as Series"):
                call(lazy["r_ohm"])
            with pytest.raises(InputError, match="a row for each point, not as Array"):
                call(da.ones(3))


def test_a_row_without_a_sensor_is_refused_when_it_is_met() -> None:
    nameless = BENCH.copy()
    nameless.loc[5, "sensor"] = None
    rows = tf.fit_many(dd.from_pandas(nameless, npartitions=3), "beta")
    with pytest.raises(InputError, match="does not name its sensor"):
        rows.compute()


def test_a_partition_without_rows_gives_none() -> None:
    lazy = dd.from_pandas(BENCH, npartitions=2)
    none = lazy[lazy["t_c"] > 1e3]
    for call in CALLS.values():
        rows = call(none).compute()
        assert (len(rows), list(rows.columns)) == (0, list(call(BENCH).columns))


def test_any_function_of_whole_sensors_can_be_taken_there() -> None:
    def count(frame: pd.DataFrame) -> pd.DataFrame:
        return frame.groupby("sensor", as_index=False).size()

    rows = sensor_by_sensor(count, dd.from_pandas(BENCH, npartitions=5), "sensor").compute()
    assert in_order(rows)["size"].tolist() == in_order(count(BENCH))["size"].tolist()


def test_all_partitions_hold_their_numbers_alike() -> None:
    def whole_or_half(frame: pd.DataFrame) -> pd.DataFrame:
        found = frame.groupby("sensor", as_index=False).size()
        return found.assign(size=0.5 * found["size"]) if len(frame) == 1 else found

    rows = sensor_by_sensor(whole_or_half, dd.from_pandas(BENCH, npartitions=5), "sensor")
    assert [part["size"].dtype for part in dask.compute(*rows.to_delayed())] == [np.float64] * 5


# -- what travels ---------------------------------------------------------------------


@pytest.mark.parametrize("pickler", [pickle, cloudpickle])
def test_what_travels_to_other_machines_arrives_and_is_small(pickler: Any, tmp_path: Path) -> None:
    def there(value: Any, most_bytes: int) -> Any:
        sent = pickler.dumps(value)
        assert len(sent) < most_bytes
        return pickle.loads(sent)

    assert there(CURVE, 1000) == CURVE
    assert there(FAMILY, 1500) == FAMILY
    prior = there(tf.bend_prior(), 2000)
    assert_same(prior.covariance, tf.bend_prior().covariance)
    points = tf.Points([0, 25, 50, 80], [32.6e3, 10010, 3588, 1254], u_t_k=0.1)
    for fit in (tf.fit(points), tf.characterise(points)):
        same = there(fit, 5000)
        assert same.curve == fit.curve
        assert_same(same.covariance, fit.covariance)
        assert str(same) == str(fit)
    tf.write_curve_set(tmp_path / "shop.csv", [CURVE])
    curve_set = tf.read_curve_set(tmp_path / "shop.csv")
    assert list(there(curve_set, 5000)) == [CURVE]


def test_what_a_curve_has_worked_out_for_itself_stays_at_home() -> None:
    used = tf.Curve(CURVE.equation, CURVE.coefficients, -40.0, 125.0)
    before = pickle.dumps(used)
    used.temperature(np.full(1000, 10e3))
    used.resistance(np.full(1000, 25.0))
    assert pickle.dumps(used) == before


def test_dask_knows_equal_curves_for_equal() -> None:
    """So that the same work has the same name, and is done once."""
    twin = pickle.loads(pickle.dumps(CURVE))
    assert dask.base.tokenize(twin) == dask.base.tokenize(CURVE)
    other = CURVE.replace(t_range_c=(-40.0, 100.0))
    assert dask.base.tokenize(other) != dask.base.tokenize(CURVE)
    lazy = da.from_array(readings(), chunks=3)
    assert CURVE.temperature(lazy).name == twin.temperature(lazy).name


def test_uncertainties_in_other_partitions_are_refused() -> None:
    series = pd.Series(np.geomspace(2e3, 30e3, 12), index=np.arange(12))
    r_ohm = dd.from_pandas(series, npartitions=4)
    for u_r_ohm in (
        dd.from_pandas(0.01 * series, npartitions=3),
        dd.from_pandas(0.01 * series, npartitions=4).repartition(divisions=[0, 2, 6, 9, 11]),
    ):
        with pytest.raises(InputError, match="their partitions differ; repartition"):
            CURVE.temperature_interval(r_ohm, u_r_ohm)
        alike = u_r_ohm.repartition(divisions=list(r_ohm.divisions), force=True)
        high = CURVE.temperature_interval(r_ohm, alike).high.compute()
        pd.testing.assert_series_equal(high, CURVE.temperature_interval(series, 0.01 * series).high)


def test_uncertainties_say_their_units_too() -> None:
    r_ohm = xr.DataArray([9e3, 11e3], dims="hour", attrs={"units": "ohm"})
    u_r_ohm = xr.DataArray([0.09, 0.11], dims="hour", attrs={"units": "kohm"})
    with pytest.raises(InputError, match="u_r_ohm has the units 'kohm' in its attrs, and 'ohm'"):
        CURVE.temperature_interval(r_ohm, u_r_ohm)
    in_ohm = (1e3 * u_r_ohm).assign_attrs(units="ohm")
    high = CURVE.temperature_interval(r_ohm, in_ohm).high
    assert_same(high, CURVE.temperature_interval([9e3, 11e3], [90.0, 110.0]).high)
    t_c = xr.DataArray([20.0, 25.0], dims="hour", attrs={"units": "degC"})
    for unit in ("K", "degC", "kelvin"):
        u_t_k = xr.DataArray([0.1, 0.2], dims="hour", attrs={"units": unit})
        low = CURVE.resistance_interval(t_c, u_t_k).low
        assert_same(low, CURVE.resistance_interval([20.0, 25.0], [0.1, 0.2]).low)
    with pytest.raises(InputError, match="u_t_k has the units 'degF' in its attrs, and 'K'"):
        CURVE.resistance_interval(t_c, u_t_k.assign_attrs(units="degF"))


def test_an_index_of_categories_is_refused_with_a_way_out() -> None:
    frame = pd.DataFrame({"sensor": list("aabb"), "t_c": [0.0, 50.0] * 2, "r_ohm": [3e4, 4e3] * 2})
    indexed = frame.astype({"sensor": "category"}).set_index("sensor")
    lazy = dd.from_pandas(indexed, npartitions=2)
    with pytest.raises(InputError, match=r"'sensor' as an index of categories.*reset_index\(\)"):
        tf.fit_many(lazy, "beta")
    rows = tf.fit_many(lazy.reset_index(), "beta").compute()
    assert sorted(rows["sensor"]) == ["a", "b"]
    assert np.isfinite(rows["b_k"]).all()
