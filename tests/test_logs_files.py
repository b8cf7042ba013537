"""Logs on disk: whole or not at all, Parquet as it was, memory that stays flat."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

import thermofit as tf
from thermofit.errors import FileError, StorageError
from thermofit.logs import convert_log, csvlog, numbers, parquetlog

pa = pytest.importorskip("pyarrow")
pq = pytest.importorskip("pyarrow.parquet")

CURVE = tf.Curve.steinhart_hart(a=1.129148e-3, b=2.34125e-4, c=8.76741e-8, t_range_c=(-20, 80))
FORMS = [".csv", ".csv.gz", ".parquet"]


def names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def csv_log(folder: Path, rows: int = 2000, last: str = "10000") -> Path:
    path = folder / "july.csv"
    path.write_text("n,r_ohm\n" + "".join(f"{n},{9000 + n}\n" for n in range(rows)) + f"x,{last}\n")
    return path


def parquet_log(path: Path, r_ohm: Any, **settings: Any) -> Path:
    pq.write_table(pa.table({"n": np.arange(len(r_ohm)), "r_ohm": r_ohm}), path, **settings)
    return path


@pytest.fixture
def small(monkeypatch: pytest.MonkeyPatch) -> None:
    """Blocks so small that a few thousand rows are many of them."""
    monkeypatch.setattr(csvlog, "_BLOCK", 1024)
    monkeypatch.setattr(parquetlog, "_BATCH_ROWS", 100)
    monkeypatch.setattr(parquetlog, "_GROUP_ROWS", 400)


# -- whole or not at all ----------------------------------------------------------


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize("ending", FORMS)
@pytest.mark.parametrize("workers", [1, 2])
def test_a_bad_cell_in_the_last_row_leaves_nothing(
    tmp_path: Path, ending: str, workers: int
) -> None:
    source = csv_log(tmp_path, last="OL")
    with pytest.raises(FileError, match="row 2002, column 'r_ohm', value 'OL'"):
        convert_log(source, tmp_path / f"out{ending}", CURVE, workers=workers)
    assert names(tmp_path) == ["july.csv"]


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_shorted_sensor_in_the_last_row_of_a_parquet_log_leaves_nothing(
    tmp_path: Path, ending: str
) -> None:
    source = parquet_log(tmp_path / "july.parquet", np.append(np.full(1500, 9e3), [0.0]))
    with pytest.raises(FileError, match=r"row 1501, column 'r_ohm', value '0\.0'"):
        convert_log(source, tmp_path / f"out{ending}", CURVE)
    assert names(tmp_path) == ["july.parquet"]


@pytest.mark.parametrize("ending", FORMS)
def test_a_file_that_is_there_is_replaced_on_demand_only(tmp_path: Path, ending: str) -> None:
    source, target = csv_log(tmp_path), tmp_path / f"out{ending}"
    target.write_bytes(b"precious")
    with pytest.raises(StorageError, match="a file of this name is there"):
        convert_log(source, target, CURVE)
    assert target.read_bytes() == b"precious"
    # What fails later keeps it, too.
    with pytest.raises(tf.ExtrapolationError):
        convert_log(source, target, CURVE.replace(t_range_c=(-20, 20)), strict=True, overwrite=True)
    assert target.read_bytes() == b"precious"
    convert_log(source, target, CURVE, overwrite=True)
    assert target.read_bytes() != b"precious"
    assert names(tmp_path) == ["july.csv", target.name]


def test_a_file_that_comes_meanwhile_is_kept(tmp_path: Path) -> None:
    target = tmp_path / "out.csv"
    with pytest.raises(StorageError, match="a file of this name is there"):
        convert_log(
            csv_log(tmp_path), target, CURVE, progress=lambda *_: target.write_text("other")
        )
    assert target.read_text() == "other"
    assert names(tmp_path) == ["july.csv", "out.csv"]


def test_the_log_itself_is_never_the_target(tmp_path: Path) -> None:
    source = csv_log(tmp_path)
    before = source.read_bytes()
    (tmp_path / "link.csv").symlink_to(source)
    for target in (source, tmp_path / "." / "july.csv", tmp_path / "link.csv"):
        with pytest.raises(StorageError, match="it is the log itself"):
            convert_log(source, target, CURVE, overwrite=True)
    assert source.read_bytes() == before


def failing(error: BaseException) -> Callable[..., Any]:
    def fail(*_: Any) -> None:
        raise error

    return fail


@pytest.mark.parametrize("ending", FORMS)
def test_a_full_disk_leaves_nothing(
    tmp_path: Path, ending: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("os.fsync", failing(OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))))
    with pytest.raises(StorageError, match=r"out.* was not written: No space left") as caught:
        convert_log(csv_log(tmp_path), tmp_path / f"out{ending}", CURVE)
    assert caught.value.errno == errno.ENOSPC
    assert names(tmp_path) == ["july.csv"]


LIMITED = """
import resource, signal, sys
import thermofit as tf
from thermofit.logs import convert_log
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (20_000, 20_000))
curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
try:
    convert_log(sys.argv[1], sys.argv[2], curve)
except tf.ThermofitError as error:
    print(type(error).__name__, error)
"""


@pytest.mark.skipif(os.name != "posix", reason="limits of POSIX")
@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_a_write_that_fails_half_way_leaves_nothing(tmp_path: Path, ending: str) -> None:
    source = csv_log(tmp_path, 20_000)
    words = [sys.executable, "-c", LIMITED, str(source), str(tmp_path / f"out{ending}")]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert done.stdout.startswith("StorageError"), done.stderr
    assert "was not written: File too large" in done.stdout
    assert done.stderr == ""
    assert names(tmp_path) == ["july.csv"]


INTERRUPTED = """
import signal, sys, time
import thermofit as tf
from thermofit.logs import convert_log
# A suite that runs in the background of a shell hands on that interrupts are ignored.
signal.signal(signal.SIGINT, signal.default_int_handler)
curve = tf.Curve.beta(r25_ohm=10e3, b_k=3977)
def wait(done, total):
    print("running", flush=True)
    time.sleep(60)
convert_log(sys.argv[1], sys.argv[2], curve, progress=wait, workers=2)
"""


@pytest.mark.skipif(os.name != "posix", reason="signals of POSIX")
@pytest.mark.parametrize("ending", [".csv", ".parquet"])
def test_an_interrupt_leaves_nothing(tmp_path: Path, ending: str) -> None:
    source = csv_log(tmp_path)
    words = [sys.executable, "-c", INTERRUPTED, str(source), str(tmp_path / f"out{ending}")]
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as run:
        assert run.stdout is not None
        assert run.stdout.readline() == "running\n"
        # Half-written, and not under its own name.
        assert len(names(tmp_path)) == 2
        assert f"out{ending}" not in names(tmp_path)
        run.send_signal(signal.SIGINT)
        _, said = run.communicate(timeout=30)
    assert "KeyboardInterrupt" in said
    assert "ignored" not in said
    assert names(tmp_path) == ["july.csv"]


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"the folder .* cannot be used"):
        convert_log(csv_log(tmp_path), tmp_path / "no" / "out.csv", CURVE)


@pytest.mark.parametrize("form", ["csv", "parquet"])
@pytest.mark.usefixtures("small")
def test_progress_goes_from_something_to_everything(tmp_path: Path, form: str) -> None:
    source = csv_log(tmp_path)
    total = source.stat().st_size
    if form == "parquet":
        source = parquet_log(tmp_path / "july.parquet", np.full(2000, 9e3))
        total = 2000
    seen: list[tuple[int, int]] = []
    convert_log(source, tmp_path / f"o.{form}", CURVE, progress=lambda *told: seen.append((*told,)))
    done = [at for at, _ in seen]
    assert len(done) > 10
    assert done == sorted(done)
    assert 0 < done[0] < total
    assert {of for _, of in seen} == {total}
    assert done[-1] == total


# -- Parquet ----------------------------------------------------------------------


@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_without_pyarrow_parquet_says_what_to_install(
    tmp_path: Path, form: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    source = csv_log(tmp_path)
    monkeypatch.setattr(numbers, "has_arrow", lambda: False)
    if form == "parquet":
        source = parquet_log(tmp_path / "july.parquet", [9e3])
    with pytest.raises(tf.ThermofitError, match=r'pip install "thermofit\[scale\]"'):
        convert_log(source, tmp_path / "out.parquet", CURVE)
    assert names(tmp_path)[-1].startswith("july")


@pytest.mark.usefixtures("small")
@pytest.mark.parametrize("workers", [1, 2])
def test_a_parquet_log_keeps_its_columns_its_schema_and_its_metadata(
    tmp_path: Path, workers: int
) -> None:
    count = 1234
    rng = np.random.default_rng(3)
    r = rng.uniform(2e3, 9e4, count)
    r[7] = np.nan
    table = pa.table(
        {
            "when": pa.array(np.arange(count) * 10**9, pa.timestamp("ns", "UTC")),
            "house": pa.array(["north", None] * (count // 2)).dictionary_encode(),
            "r": pa.array(r, from_pandas=True),
            "tags": pa.array([["a", "b"], None] * (count // 2), pa.list_(pa.string())),
        },
        schema=None,
    )
    fields = [f.with_metadata({"unit": "Ω"}) if f.name == "r" else f for f in table.schema]
    table = table.cast(pa.schema(fields, metadata={"site": "glasshouse 3"}))
    source, target = tmp_path / "july.parquet", tmp_path / "out.parquet"
    pq.write_table(table, source, compression="zstd", row_group_size=500)
    done = convert_log(source, target, CURVE, column="r", unit="ohm", workers=workers)
    new = pq.read_table(target)
    old = pq.read_table(source)
    assert new.schema.names == ["when", "house", "r", "tags", "t_c"]
    assert new.drop_columns("t_c").equals(old, check_metadata=True)
    assert new.schema.field("r").metadata[b"unit"] == "Ω".encode()
    assert new.schema.metadata[b"site"] == b"glasshouse 3"
    got = new["t_c"].to_numpy()
    np.testing.assert_array_equal(got, CURVE.temperature(r))
    assert new["t_c"].null_count == 1
    assert (done.rows, done.blank, done.first_blank) == (count, 1, 8)
    meta = pq.ParquetFile(target).metadata
    assert meta.row_group(0).column(0).compression == "ZSTD"
    assert [meta.row_group(n).num_rows for n in range(meta.num_row_groups)] == [400, 400, 400, 34]


def test_the_index_of_a_frame_survives(tmp_path: Path) -> None:
    pd = pytest.importorskip("pandas")
    frame = pd.DataFrame({"r_ohm": [9e3, 12e3]}, index=pd.Index([5, 9], name="minute"))
    frame.to_parquet(tmp_path / "july.parquet")
    convert_log(tmp_path / "july.parquet", tmp_path / "out.parquet", CURVE)
    pd.testing.assert_frame_equal(
        pd.read_parquet(tmp_path / "out.parquet"), frame.assign(t_c=CURVE.temperature(frame.r_ohm))
    )


@pytest.mark.parametrize("kind", ["float32", "int32", "uint16", "decimal128(9, 2)"])
def test_numbers_of_any_kind_are_read(tmp_path: Path, kind: str) -> None:
    import decimal

    of = pa.decimal128(9, 2) if kind.startswith("decimal") else getattr(pa, kind)()
    values = [decimal.Decimal("9001"), None] if kind.startswith("decimal") else [9001, None]
    parquet_log(tmp_path / "july.parquet", pa.array(values, of))
    convert_log(tmp_path / "july.parquet", tmp_path / "out.parquet", CURVE)
    got = pq.read_table(tmp_path / "out.parquet")["t_c"].to_pylist()
    assert got == [CURVE.temperature(9001.0), None]


def test_a_column_of_text_in_parquet_is_refused(tmp_path: Path) -> None:
    parquet_log(tmp_path / "july.parquet", ["9000", "12k"])
    with pytest.raises(FileError, match="column 'r_ohm': it holds string, no numbers"):
        convert_log(tmp_path / "july.parquet", tmp_path / "out.parquet", CURVE)


def test_a_damaged_parquet_file_is_told(tmp_path: Path) -> None:
    source = parquet_log(tmp_path / "july.parquet", np.linspace(9e3, 9e4, 5000))
    content = bytearray(source.read_bytes())
    content[100:9000] = bytes(8900)
    source.write_bytes(content)
    with pytest.raises(FileError, match="the file is damaged"):
        convert_log(source, tmp_path / "out.parquet", CURVE)
    source.write_bytes(b"n,r_ohm\n")
    with pytest.raises(FileError, match="this is no Parquet file"):
        convert_log(source, tmp_path / "out.parquet", CURVE)
    assert names(tmp_path) == ["july.parquet"]


def test_csv_becomes_parquet_with_its_cells_as_text(tmp_path: Path) -> None:
    source = tmp_path / "july.csv"
    source.write_text('id,r_ohm,note\n007,1.20e4,"a ""b"",\nc"\n\n,"9000",x\n', encoding="utf-8")
    convert_log(source, tmp_path / "out.parquet", CURVE)
    assert pq.read_table(tmp_path / "out.parquet").to_pylist() == [
        {"id": "007", "r_ohm": "1.20e4", "note": 'a "b",\nc', "t_c": CURVE.temperature(12e3)},
        {"id": "", "r_ohm": "9000", "note": "x", "t_c": CURVE.temperature(9e3)},
    ]


@pytest.mark.usefixtures("small")
def test_groups_of_wide_rows_are_shorter(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(parquetlog, "_GROUP_BYTES", 4000)
    convert_log(csv_log(tmp_path), tmp_path / "out.parquet", CURVE)
    meta = pq.ParquetFile(tmp_path / "out.parquet").metadata
    assert meta.num_rows == 2001
    assert max(meta.row_group(n).num_rows for n in range(meta.num_row_groups)) < 300


def test_two_columns_of_one_name_have_no_place_in_parquet(tmp_path: Path) -> None:
    source = tmp_path / "july.csv"
    source.write_text("note,note,r_ohm\na,b,10000\n")
    with pytest.raises(FileError, match=r"several columns are called 'note'.* rename one"):
        convert_log(source, tmp_path / "out.parquet", CURVE)
    assert names(tmp_path) == ["july.csv"]
    assert convert_log(source, tmp_path / "out.csv", CURVE).rows == 1


def test_text_that_is_no_utf8_has_no_place_in_parquet(tmp_path: Path) -> None:
    (tmp_path / "july.csv").write_bytes(b"r_ohm,note\n9000,\n9000,caf\xe9\n")
    with pytest.raises(FileError, match=r"row 3, column 'note', value 'caf.': no UTF-8 text"):
        convert_log(tmp_path / "july.csv", tmp_path / "out.parquet", CURVE)


def test_parquet_becomes_csv(tmp_path: Path) -> None:
    source = parquet_log(tmp_path / "july.parquet", pa.array([9000.5, None]))
    convert_log(source, tmp_path / "out.csv", CURVE)
    t_c = CURVE.temperature(9000.5)
    assert (tmp_path / "out.csv").read_text() == f"n,r_ohm,t_c\n0,9000.5,{t_c!r}\n1,,\n"
    pq.write_table(pa.table({"r_ohm": [9e3], "x": [[1, 2]]}), source)
    with pytest.raises(FileError, match=r"column 'x': .* has no place in a CSV"):
        convert_log(source, tmp_path / "out2.csv", CURVE)


@pytest.mark.parametrize(
    "kind",
    [pa.binary(), pa.large_binary(), pa.binary(2), pa.binary_view(),
     pa.dictionary(pa.int32(), pa.binary())],
    ids=str,
)  # fmt: skip
def test_bytes_have_no_place_in_a_csv(tmp_path: Path, kind: Any) -> None:
    cells = pa.array([b"ab", b"cd"], kind if not pa.types.is_dictionary(kind) else pa.binary())
    cells = cells.dictionary_encode() if pa.types.is_dictionary(kind) else cells
    source = tmp_path / "july.parquet"
    pq.write_table(pa.table({"mark": cells, "r_ohm": [9e3, 11e3]}), source)
    with pytest.raises(FileError, match=r"column 'mark': .* has no place in a CSV; convert to"):
        convert_log(source, tmp_path / "out.csv", CURVE)
    assert names(tmp_path) == ["july.parquet"]


def test_an_extension_type_has_no_place_in_a_csv(tmp_path: Path) -> None:
    marks = pa.array([bytes(range(16))] * 2, pa.uuid())
    source = tmp_path / "july.parquet"
    pq.write_table(pa.table({"mark": marks, "r_ohm": [9e3, 11e3]}), source)
    with pytest.raises(FileError, match=r"column 'mark': .* has no place in a CSV"):
        convert_log(source, tmp_path / "out.csv", CURVE)
    assert convert_log(source, tmp_path / "out.parquet", CURVE).rows == 2


def test_views_of_text_become_text_in_a_csv(tmp_path: Path) -> None:
    source = tmp_path / "july.parquet"
    pq.write_table(
        pa.table({"note": pa.array(['a "b"', None], pa.string_view()), "r_ohm": [10e3, 10e3]}),
        source,
    )
    convert_log(source, tmp_path / "out.csv", CURVE)
    assert (tmp_path / "out.csv").read_text().splitlines()[1:] == [
        f'"a ""b""",10000,{CURVE.temperature(10e3)!r}', f",10000,{CURVE.temperature(10e3)!r}",
    ]  # fmt: skip


@pytest.mark.skipif(os.name != "posix", reason="pipes of POSIX")
def test_a_pipe_is_read_as_a_file_is(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    writer = threading.Thread(target=pipe.write_bytes, args=(b"r_ohm\n10000\n9000\n",))
    writer.start()
    steps: list[tuple[int, int]] = []
    done = convert_log(pipe, tmp_path / "out.csv", CURVE, progress=lambda *at: steps.append(at))
    writer.join()
    assert (done.rows, steps) == (2, [(0, 0)])


def test_a_name_that_no_folder_takes_is_told(tmp_path: Path) -> None:
    source = csv_log(tmp_path)
    with pytest.raises(StorageError, match="was not written: File name too long"):
        convert_log(source, tmp_path / f"{'x' * 300}.csv", CURVE)


def test_an_empty_parquet_log_stays_one(tmp_path: Path) -> None:
    source = parquet_log(tmp_path / "july.parquet", pa.array([], pa.float64()))
    done = convert_log(source, tmp_path / "out.parquet", CURVE)
    assert done.rows == 0
    assert np.isnan(done.lowest)
    assert pq.read_table(tmp_path / "out.parquet").schema.names == ["n", "r_ohm", "t_c"]


# -- memory -----------------------------------------------------------------------

PEAK = """
import re, sys
import thermofit as tf
from thermofit.logs import convert_log
curve = tf.Curve.steinhart_hart(a=1.129148e-3, b=2.34125e-4, c=8.76741e-8)
done = convert_log(sys.argv[1], sys.argv[2], curve)
peak = re.search(r"VmHWM:\\s+(\\d+) kB", open("/proc/self/status").read())
print(done.rows, int(peak.group(1)) / 1024)
"""


def peak_mib(source: Path, rows: int) -> float:
    target = source.with_name(f"out{source.suffix}")
    words = [sys.executable, "-c", PEAK, str(source), str(target)]
    # With several threads it is a matter of chance how many of them ask for buffers at a time.
    alone = os.environ | {"OMP_NUM_THREADS": "1", "ARROW_IO_THREADS": "1"}
    done = subprocess.run(words, capture_output=True, text=True, check=True, env=alone)
    target.unlink()
    count, peak = done.stdout.split()
    assert int(count) == rows
    return float(peak)


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="peak memory as Linux tells it")
@pytest.mark.parametrize("form", ["csv", "parquet"])
def test_twice_the_log_takes_no_more_memory(tmp_path: Path, form: str) -> None:
    source = tmp_path / f"july.{form}"
    # Kept in memory, the second half would be 36 MB and more.  Of Parquet, fewer rows would end
    # before all of the buffers are as large as they become.
    rows, peaks = (150_000 if form == "csv" else 3_200_000), []
    for times in (1, 2):
        if form == "csv":
            row = b"%d,%d," + b"note" * 25 + b"\n"
            block = b"".join(row % (n, 9000 + n) for n in range(1000, 2000))
            source.write_bytes(b"n,r_ohm,note\n" + block * (rows * times // 1000))
        else:
            parquet_log(source, np.tile(np.linspace(5e3, 5e4, 1000), rows * times // 1000))
        peaks.append(peak_mib(source, rows * times))
    assert peaks[1] < peaks[0] + 10.0
    assert max(peaks) < 500.0
