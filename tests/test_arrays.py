"""What comes in as a Series, a PyArrow array or a labelled array goes out as one."""

from __future__ import annotations

import importlib
import subprocess
import sys
from typing import Any

import numpy as np
import pandas as pd
import pytest
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st

import thermofit as tf
from tests.samples import AIR as CURVE
from tests.samples import AIR_FAMILY as FAMILY
from thermofit.arrays import as_float_array, refuse_misaligned, unwrap
from thermofit.errors import InputError

pa: Any = importlib.import_module("pyarrow")  # it has no types
READINGS = np.array([32.6e3, 10e3, 1756.0])
PLAIN = CURVE.temperature(READINGS)
INSIDE_OHM = st.floats(600.0, 300e3)


def test_a_column_that_pyarrow_holds_stays_one() -> None:
    column = pd.Series(
        [32.6e3, None, 1756.0], index=["a", "b", "c"], name="inlet", dtype="double[pyarrow]"
    )
    t_c = CURVE.temperature(column)
    assert t_c.dtype == column.dtype
    assert list(t_c.index) == ["a", "b", "c"]
    assert t_c.name == "inlet"
    assert t_c.isna().tolist() == [False, True, False]
    assert t_c["c"] == PLAIN[2]


@pytest.mark.parametrize("held", ["int64[pyarrow]", "float[pyarrow]", "uint16[pyarrow]"])
def test_whole_and_short_numbers_of_pyarrow_become_double(held: str) -> None:
    t_c = CURVE.temperature(pd.Series([10000, None, 20000], dtype=held))
    assert str(t_c.dtype) == "double[pyarrow]"
    assert t_c.isna().tolist() == [False, True, False]
    assert t_c[2] == CURVE.temperature(20e3)


@pytest.mark.parametrize("held", ["Float64", "Int64", "float32", "int32"])
def test_other_columns_become_float64_with_nan_for_what_is_missing(held: str) -> None:
    missing = [None] if held[0].isupper() else []
    t_c = CURVE.temperature(pd.Series([10000, 20000, *missing], dtype=held))
    assert t_c.dtype == np.float64
    np.testing.assert_array_equal(t_c[:2], CURVE.temperature([10e3, 20e3]))
    assert np.isnan(t_c[2:]).all()


def test_a_frame_keeps_how_each_of_its_columns_is_held() -> None:
    frame = pd.DataFrame(
        {"in": pd.array([10e3, None], dtype="double[pyarrow]"), "out": [20e3, 30e3]}, index=[4, 7]
    )
    t_c = CURVE.temperature(frame)
    assert list(map(str, t_c.dtypes)) == ["double[pyarrow]", "float64"]
    assert t_c.index.tolist() == [4, 7]
    assert t_c["in"].isna().tolist() == [False, True]
    assert t_c["out"].tolist() == CURVE.temperature([20e3, 30e3]).tolist()
    twice = pd.concat([frame, frame], axis=1)
    assert list(CURVE.temperature(twice).columns) == ["in", "out", "in", "out"]


def test_an_arrow_array_gives_one_with_its_nulls() -> None:
    t_c: Any = CURVE.temperature(pa.array([32.6e3, None, float("nan"), 1756.0]))
    assert isinstance(t_c, pa.DoubleArray)
    assert t_c.is_null().to_pylist() == [False, True, False, False]
    # A missing reading and one that is not a number are two things to PyArrow.
    assert np.isnan(t_c[2].as_py())
    assert [t_c[0].as_py(), t_c[3].as_py()] == [PLAIN[0], PLAIN[2]]
    whole: Any = CURVE.temperature(pa.array([10000, None]))
    assert whole.to_pylist() == [25.0, None]


def test_a_chunked_arrow_array_keeps_its_chunks() -> None:
    chunks = [[32.6e3, None], [], [1756.0]]
    t_c: Any = CURVE.temperature(pa.chunked_array(chunks))
    assert [len(chunk) for chunk in t_c.chunks] == [2, 0, 1]
    assert t_c.to_pylist() == [PLAIN[0], None, PLAIN[2]]
    none: Any = CURVE.temperature(pa.chunked_array([], pa.float64()))
    assert (len(none), none.type) == (0, pa.float64())


@given(st.lists(st.none() | INSIDE_OHM, max_size=20))
def test_there_and_back_through_arrow_is_the_same(readings: list[float | None]) -> None:
    there: Any = CURVE.temperature(pa.array(readings, pa.float64()))
    back: Any = CURVE.resistance(there)
    assert back.null_count == readings.count(None)
    for given_ohm, found in zip(readings, back.to_pylist(), strict=True):
        assert found == (given_ohm if given_ohm is None else pytest.approx(given_ohm, rel=1e-12))


@pytest.mark.parametrize(
    "wrong",
    [
        pa.array(["10000"]), pa.array([True]), pa.array([True, None]), pa.chunked_array([["x"]]),
        pd.Series([True], dtype="bool[pyarrow]"), pd.Series(["1"], dtype="string[pyarrow]"),
        xr.DataArray(["10000"]), xr.DataArray([True]),
    ],
)  # fmt: skip
def test_what_is_no_number_is_none_in_any_dress(wrong: Any) -> None:
    with pytest.raises(InputError, match="must be numbers"):
        CURVE.temperature(wrong)
    with pytest.raises(InputError, match="must be numbers"):
        unwrap(wrong, "r_ohm")


def test_of_a_table_a_column_is_meant() -> None:
    with pytest.raises(InputError, match="give one of its columns"):
        CURVE.temperature(pa.table({"r_ohm": READINGS}))


@pytest.fixture
def labelled() -> xr.DataArray:
    """Invented readings of two air sensors of a glasshouse at three hours."""
    return xr.DataArray(
        np.stack([READINGS, 2.0 * READINGS]),
        dims=("sensor", "hour"),
        coords={"sensor": ["inlet", "outlet"], "hour": ("hour", [1, 2, 3], {"units": "h"})},
        name="reading",
        attrs={"units": "ohm", "long_name": "resistance", "valid_min": 1.0, "house": "north"},
    )


def test_a_labelled_array_keeps_dimensions_and_coordinates(labelled: xr.DataArray) -> None:
    t_c = CURVE.temperature(labelled)
    assert t_c.dims == ("sensor", "hour")
    assert t_c.name == "reading"
    xr.testing.assert_identical(t_c.coords.to_dataset(), labelled.coords.to_dataset())
    np.testing.assert_array_equal(t_c.sel(sensor="inlet"), PLAIN)
    assert labelled.attrs["units"] == "ohm"
    alone = CURVE.temperature(xr.DataArray(10e3))
    assert (alone.ndim, alone.item()) == (0, 25.0)


def test_a_labelled_array_tells_the_unit_of_the_result(labelled: xr.DataArray) -> None:
    """What was said of the resistance is not true of the temperature; the place still is."""
    t_c = CURVE.temperature(labelled)
    assert t_c.attrs == {"units": "degC", "house": "north"}
    assert CURVE.resistance(t_c).attrs == {"units": "ohm", "house": "north"}
    assert CURVE.alpha(t_c).attrs["units"] == "1/K"
    interval = CURVE.temperature_interval(labelled)
    assert interval.value.attrs["units"] == interval.low.attrs["units"] == "degC"
    assert interval.standard_uncertainty.attrs["units"] == "K"
    assert CURVE.resistance_interval(t_c).standard_uncertainty.attrs["units"] == "ohm"


@pytest.mark.parametrize("stated", ["kohm", "V", "1", "degC"])
def test_a_labelled_array_in_another_unit_is_not_taken_for_ohms(
    labelled: xr.DataArray, stated: str
) -> None:
    with pytest.raises(InputError, match="'ohm' is needed"):
        CURVE.temperature(labelled.assign_attrs(units=stated))
    with pytest.raises(InputError, match="'ohm' is needed"):
        CURVE.temperature_interval(labelled.assign_attrs(units=stated))


@pytest.mark.parametrize("stated", ["K", "degF", "ohm"])
def test_nor_one_in_kelvin_for_degrees(stated: str) -> None:
    with pytest.raises(InputError, match="'degC' is needed"):
        CURVE.resistance(xr.DataArray([25.0], attrs={"units": stated}))


# Ways to write the units in files, as UDUNITS 2 reads them (from memory).
@pytest.mark.parametrize("stated", ["degC", "degree_Celsius", "degrees_C", "celsius", "°C"])
def test_the_usual_names_of_degrees_are_known(stated: str) -> None:
    r_ohm = CURVE.resistance(xr.DataArray([25.0], attrs={"units": stated}))
    assert r_ohm.item() == pytest.approx(10e3)


def test_of_a_data_set_a_variable_is_meant(labelled: xr.DataArray) -> None:
    with pytest.raises(InputError, match=r"such as dataset\['r_ohm'\]"):
        CURVE.temperature(labelled.to_dataset())


def test_intervals_of_a_labelled_array_are_those_of_its_numbers(labelled: xr.DataArray) -> None:
    u_r_ohm = xr.DataArray(
        [10.0, 20.0], dims="sensor", coords={"sensor": ["inlet", "outlet"]}, name="meter"
    )
    interval = CURVE.temperature_interval(labelled, u_r_ohm, coverage=0.9)
    plain = CURVE.temperature_interval(labelled.values, [[10.0], [20.0]], coverage=0.9)
    for name in ("value", "standard_uncertainty", "low", "high", "dof"):
        field = getattr(interval, name)
        assert (field.dims, field.name) == (labelled.dims, labelled.name)
        np.testing.assert_array_equal(field, getattr(plain, name))
    assert (interval.coverage, interval.unit, interval.note) == (0.9, plain.unit, plain.note)


def test_uncertainties_with_other_coordinates_are_refused(labelled: xr.DataArray) -> None:
    other = xr.DataArray([1.0, 2.0], dims="sensor", coords={"sensor": ["inlet", "spare"]})
    with pytest.raises(InputError, match="do not go together"):
        CURVE.temperature_interval(labelled, other)
    with pytest.raises(InputError, match="no dimension 'day'"):
        CURVE.temperature_interval(labelled, xr.DataArray([1.0, 2.0], dims="day"))
    with pytest.raises(InputError, match="divided as r_ohm is"):
        CURVE.temperature_interval(labelled, np.ones(3))
    with pytest.raises(InputError, match="divided as r_ohm is"):
        CURVE.temperature_interval(READINGS, other)


def test_intervals_of_arrow_and_of_pandas_are_dressed_alike() -> None:
    column = pd.Series(READINGS, index=["a", "b", "c"], dtype="double[pyarrow]")
    interval = CURVE.temperature_interval(column, 0.01 * column)
    assert str(interval.high.dtype) == "double[pyarrow]"
    assert interval.low.index.tolist() == ["a", "b", "c"]
    arrow = CURVE.temperature_interval(pa.array(READINGS), pa.array(0.01 * READINGS))
    assert arrow.high.to_pylist() == interval.high.tolist()


def test_a_band_at_labelled_temperatures_has_their_labels(labelled: xr.DataArray) -> None:
    t_c = CURVE.temperature(labelled)
    band: Any = tf.tolerance_band(FAMILY, t_c)
    plain = tf.tolerance_band(FAMILY, t_c.values)
    assert band.dt_high_k.dims == ("sensor", "hour")
    np.testing.assert_array_equal(band.dt_high_k, plain.dt_high_k)
    assert [getattr(band, n).attrs["units"] for n in ("r_low_ohm", "dr_pct", "dt_low_k", "t_c")] \
        == ["ohm", "percent", "K", "degC"]  # fmt: skip
    assert band.alpha_per_k.attrs["units"] == "1/K"
    assert band.meaning == plain.meaning


def test_a_band_at_the_temperatures_of_a_series_has_its_index() -> None:
    t_c = pd.Series([0.0, 25.0], index=["ice", "room"])
    band: Any = tf.tolerance_band(FAMILY, t_c)
    assert band.r_low_ohm.index.tolist() == ["ice", "room"]
    assert band.r_low_ohm["room"] == tf.tolerance_band(FAMILY, 25.0).r_low_ohm
    # With a dimension for the curves, or for tolerances, there is no such Series.
    both = tf.tolerance_band([FAMILY, FAMILY], t_c)
    assert both.r_low_ohm.shape == (2, 2)
    classes = tf.tolerance_band(FAMILY, t_c, r25_pct=np.array([[1.0], [2.0], [5.0]]))
    assert classes.r_low_ohm.shape == (3, 2)


def test_out_is_for_numpy(labelled: xr.DataArray) -> None:
    with pytest.raises(InputError, match="out is for NumPy arrays"):
        CURVE.temperature(labelled, out=np.empty(labelled.shape))


def test_where_labels_do_not_matter_they_are_left_behind(labelled: xr.DataArray) -> None:
    """A circuit knows nothing of Dask or of xarray's units; shapes and coordinates stay."""
    array, dress = unwrap(labelled, "r_ohm")
    assert type(array) is np.ndarray
    out = dress(array + 1.0)
    assert out.dims == labelled.dims
    assert out.attrs == {}
    assert (out == labelled + 1.0).all()
    assert as_float_array(pa.array([1, None]), "t_c")[0] == 1.0


def test_arrow_arrays_have_no_index_that_could_differ() -> None:
    refuse_misaligned(pa.array([1.0]), pa.array([2.0]), "r_ohm and u_r_ohm")
    refuse_misaligned(pd.Series([1.0], index=[5]), pa.array([2.0]), "r_ohm and u_r_ohm")


def test_masked_arrays_and_lists_give_plain_arrays() -> None:
    masked = np.ma.masked_array(READINGS, mask=[False, True, False])
    for given_values in (masked, [32.6e3, float("nan"), 1756.0], (32.6e3, np.nan, 1756)):
        t_c = CURVE.temperature(given_values)
        assert type(t_c) is np.ndarray
        np.testing.assert_array_equal(t_c, [PLAIN[0], np.nan, PLAIN[2]])


def test_none_of_these_packages_is_imported_to_recognise_them() -> None:
    code = (
        "import sys, thermofit as tf\n"
        "c = tf.Curve.beta(r25_ohm=10e3, b_k=3977.0)\n"
        "c.temperature([10e3, 2e3]); c.resistance(25); c.temperature_interval([10e3])\n"
        "loaded = {'dask', 'xarray', 'pyarrow', 'pandas', 'thermofit.scale'} & set(sys.modules)\n"
        "sys.exit(', '.join(loaded) or None)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")
