"""Curve sets on disk: whole at every moment, one writer at a time."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NoReturn

import pytest

import thermofit as tf
from thermofit.curvesets import storage
from thermofit.errors import CurveSetError, StorageError

pytestmark = pytest.mark.skipif(os.name != "posix", reason="signals, locks and limits of POSIX")

BETA = tf.Curve.beta(r25_ohm=10e3, b_k=3977, id="inlet")
OLD = tf.Curve.from_table([0, 25, 50, 75, 100], [32554, 10000, 3602, 1481, 679], id="outlet")
NEW = tf.Curve.from_table([0, 25, 50, 75, 100], [32000, 9900, 3600, 1490, 690], id="outlet")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [BETA, OLD])
    return path


def contents(folder: Path) -> dict[str, bytes]:
    """Everything in a folder but the lock, which stays on purpose."""
    return {p.name: p.read_bytes() for p in folder.iterdir() if not p.name.endswith(".lock")}


def run(program: str, *arguments: object) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-c", program, *map(str, arguments)], capture_output=True, text=True
    )


# -- a process that dies ----------------------------------------------------------

KILLED = """
import os, signal, sys
import thermofit as tf
path, name, number, when = sys.argv[1], sys.argv[2], int(sys.argv[3]), sys.argv[4]
real, calls = getattr(os, name), 0
def dying(*arguments):
    global calls
    calls += 1
    if calls == number and when == "before":
        os.kill(os.getpid(), signal.SIGKILL)
    result = real(*arguments)
    if calls == number:
        os.kill(os.getpid(), signal.SIGKILL)
    return result
setattr(os, name, dying)
new = tf.Curve.from_table([0, 25, 50, 75, 100], [32000, 9900, 3600, 1490, 690], id="outlet")
tf.add_curve(path, new, replace=True)
"""

# The companion is synced, renamed, its folder synced; the set likewise; then
# the old companion is removed.
MOMENTS = [
    ("fsync", 1, "before", "old"),
    ("fsync", 1, "after", "old"),
    ("replace", 1, "before", "old"),
    ("replace", 1, "after", "old"),
    ("fsync", 2, "after", "old"),
    ("fsync", 3, "before", "old"),
    ("fsync", 3, "after", "old"),
    ("replace", 2, "before", "old"),
    ("replace", 2, "after", "new"),
    ("fsync", 4, "after", "new"),
    ("unlink", 1, "after", "new"),
]


@pytest.mark.parametrize(("name", "number", "when", "outcome"), MOMENTS)
def test_a_writer_that_is_killed_leaves_the_old_set_or_the_new_one(
    shop: Path, name: str, number: int, when: str, outcome: str
) -> None:
    before = contents(shop.parent)
    done = run(KILLED, shop, name, number, when)
    assert done.returncode == -signal.SIGKILL, done.stderr
    after = contents(shop.parent)
    if outcome == "old":
        assert {file: after[file] for file in before} == before
    assert list(tf.read_curve_set(shop)) == [BETA, OLD if outcome == "old" else NEW]
    # The next writer finds no lock in its way, and clears up.
    tf.add_curve(shop, NEW, replace=True)
    assert list(tf.read_curve_set(shop)) == [BETA, NEW]
    assert not list(shop.parent.glob(".*.tmp"))


# -- a write that fails -----------------------------------------------------------


def failing(error: BaseException, on_call: int = 1) -> Callable[..., Any]:
    calls = 0

    def fail(*arguments: Any, **options: Any) -> Any:
        nonlocal calls
        calls += 1
        if calls >= on_call:
            raise error

    return fail


NO_SPACE = OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))


@pytest.mark.parametrize("error", [NO_SPACE, OSError(errno.EIO, "I/O error"), KeyboardInterrupt()])
@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_write_that_fails_leaves_everything_as_it_was(
    shop: Path, monkeypatch: pytest.MonkeyPatch, call: str, error: BaseException
) -> None:
    before = contents(shop.parent)
    with monkeypatch.context() as patch:
        patch.setattr(os, call, failing(error))
        with pytest.raises(StorageError if isinstance(error, OSError) else KeyboardInterrupt) as e:
            tf.add_curve(shop, NEW, replace=True)
    if isinstance(error, OSError):
        assert str(shop.parent) in str(e.value)
        assert error.strerror
        assert error.strerror in str(e.value)
        assert getattr(e.value, "errno", None) == error.errno
    assert contents(shop.parent) == before


def test_the_new_companion_goes_when_the_set_itself_cannot_be_written(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = contents(shop.parent)
    real = os.replace

    def only_companions(source: Any, target: Any) -> None:
        if Path(target) == shop:
            raise NO_SPACE
        real(source, target)

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", only_companions)
        with pytest.raises(StorageError, match="No space left"):
            tf.add_curve(shop, NEW, replace=True)
    assert contents(shop.parent) == before


def test_an_interrupt_after_the_replacement_takes_no_companion_away(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.replace

    def interrupted(source: Any, target: Any) -> None:
        real(source, target)
        if Path(target) == shop:
            raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", interrupted)
        with pytest.raises(KeyboardInterrupt):
            tf.add_curve(shop, NEW, replace=True)
    assert list(tf.read_curve_set(shop)) == [BETA, NEW]


def test_a_folder_that_cannot_be_synced_is_no_failure(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.fsync

    def files_only(descriptor: int) -> None:
        if stat.S_ISDIR(os.fstat(descriptor).st_mode):
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        real(descriptor)

    monkeypatch.setattr(os, "fsync", files_only)
    tf.add_curve(shop, NEW, replace=True)
    assert list(tf.read_curve_set(shop)) == [BETA, NEW]


LIMITED = """
import resource, sys
import thermofit as tf
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
try:
    tf.add_curve(sys.argv[1], tf.Curve.beta(r25_ohm=5e3, b_k=3988, id="x", note="long " * 2000))
except tf.ThermofitError as error:
    print(type(error).__name__, error)
"""


def test_a_write_beyond_a_quota_leaves_everything_as_it_was(shop: Path) -> None:
    before = contents(shop.parent)
    done = run(LIMITED, shop)
    assert done.stdout.startswith("StorageError")
    assert "File too large; what was there before is kept" in done.stdout
    assert contents(shop.parent) == before


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(folder)]
    try:
        mounted = subprocess.run(mount, capture_output=True)
    except OSError:
        pytest.skip("there is no program to mount a small disk with")
    if mounted.returncode:
        pytest.skip("a small disk cannot be mounted here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def test_a_full_disk_leaves_everything_as_it_was(small_disk: Path) -> None:
    path = small_disk / "shop.csv"
    tf.write_curve_set(path, [BETA, OLD])
    before = contents(small_disk)
    with pytest.raises(StorageError, match="No space left on device"):
        tf.write_curve_set(path, [BETA.replace(note="long " * 50_000)])
    assert contents(small_disk) == before


# -- where nothing may be written -------------------------------------------------


def test_a_read_only_file_is_respected(shop: Path) -> None:
    shop.chmod(0o444)
    before = contents(shop.parent)
    for write in (tf.write_curve_set, lambda path, curves: tf.add_curve(path, curves[0])):
        with pytest.raises(StorageError, match="it is read-only; make it writable"):
            write(shop, [NEW.replace(id="other")])
    assert contents(shop.parent) == before


def test_a_read_only_folder_is_respected(shop: Path) -> None:
    before = contents(shop.parent)
    shop.parent.chmod(0o555)
    try:
        with pytest.raises(StorageError, match=r"folder .* is read-only"):
            tf.write_curve_set(shop, [NEW])
    finally:
        shop.parent.chmod(0o755)
    assert contents(shop.parent) == before


def test_a_folder_that_is_not_there_is_not_made(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match=r"No such file or directory.*create it first"):
        tf.write_curve_set(tmp_path / "gone" / "shop.csv", [BETA])
    with pytest.raises(StorageError, match="create it first"):
        tf.add_curve(tmp_path / "gone" / "shop.csv", BETA)
    assert not list(tmp_path.iterdir())


def test_a_folder_that_vanishes_in_the_middle_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "stick"
    folder.mkdir()
    real = os.fsync

    def pulled_out(descriptor: int) -> None:
        real(descriptor)
        for path in folder.iterdir():
            path.unlink()
        folder.rmdir()

    monkeypatch.setattr(os, "fsync", pulled_out)
    with pytest.raises(StorageError, match="No such file or directory"):
        tf.write_curve_set(folder / "shop.csv", [BETA])


def test_a_folder_or_a_device_is_no_target(tmp_path: Path) -> None:
    with pytest.raises(StorageError, match="a folder or a device"):
        tf.write_curve_set(tmp_path, [BETA])
    with pytest.raises(StorageError, match="a folder or a device"):
        tf.write_curve_set("/dev/null", [BETA])


def test_the_rights_of_the_file_stay(shop: Path) -> None:
    shop.chmod(0o640)
    tf.add_curve(shop, NEW, replace=True)
    assert stat.S_IMODE(shop.stat().st_mode) == 0o640


# -- several at once --------------------------------------------------------------

ADDING = """
import sys
import thermofit as tf
for number in range(6):
    r_ohm, id = [30000 + number, 10000, 3700], f"{sys.argv[2]}{number}"
    curve = tf.Curve.from_table([0, 25, 50], r_ohm, id=id)
    tf.add_curve(sys.argv[1], curve)
"""


def test_processes_that_add_at_the_same_time_lose_nothing(shop: Path) -> None:
    names = "abc"
    children = [subprocess.Popen([sys.executable, "-c", ADDING, str(shop), name]) for name in names]
    assert [child.wait() for child in children] == [0, 0, 0]
    read = tf.read_curve_set(shop)
    assert set(read.ids) == {"inlet", "outlet"} | {f"{n}{i}" for n in names for i in range(6)}
    assert read["b3"].resistance(0.0) == pytest.approx(30003)


def test_threads_that_add_at_the_same_time_lose_nothing(shop: Path) -> None:
    def add(number: int) -> None:
        tf.add_curve(shop, BETA.replace(id=f"t{number}"))

    threads = [threading.Thread(target=add, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(tf.read_curve_set(shop).ids) == {"inlet", "outlet", *(f"t{n}" for n in range(8))}


def test_a_reader_meets_a_whole_set_while_it_is_being_replaced(shop: Path) -> None:
    done = threading.Event()

    def rewrite() -> None:
        for number in range(40):
            tf.write_curve_set(shop, [BETA, OLD if number % 2 else NEW])
        done.set()

    writer = threading.Thread(target=rewrite)
    writer.start()
    seen = 0
    while not done.is_set():
        assert list(tf.read_curve_set(shop)) in ([BETA, OLD], [BETA, NEW])
        seen += 1
    writer.join()
    assert seen > 5


def test_a_lock_that_another_keeps_is_waited_for_and_then_named(shop: Path) -> None:
    import fcntl

    before = contents(shop.parent)
    with (shop.parent / ".shop.csv.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        with pytest.raises(StorageError, match=r"for 0.1 s another program .*\.shop\.csv\.lock"):
            tf.add_curve(shop, NEW, replace=True, lock_timeout_s=0.1)
        with pytest.raises(StorageError, match="another program"):
            tf.write_curve_set(shop, [], lock_timeout_s=0.0)
    assert contents(shop.parent) == before
    tf.add_curve(shop, NEW, replace=True, lock_timeout_s=0.1)


def test_a_file_system_without_locks_is_told(shop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import filelock

    def no_locks(*arguments: Any, **options: Any) -> NoReturn:
        raise NotImplementedError("no locks on this file system")

    monkeypatch.setattr(filelock.FileLock, "acquire", no_locks)
    with pytest.raises(StorageError, match="no locks on this file system"):
        tf.add_curve(shop, NEW)


def test_a_lock_that_the_folder_denies_is_laid_to_the_folder(
    shop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import filelock

    denied = PermissionError(errno.EACCES, os.strerror(errno.EACCES))
    monkeypatch.setattr(filelock.FileLock, "acquire", failing(denied))
    with pytest.raises(StorageError, match="Permission denied") as caught:
        tf.add_curve(shop, NEW, replace=True)
    assert f"in the folder {shop.parent}" in str(caught.value)
    assert ".shop.csv.lock" in str(caught.value)
    assert caught.value.errno == errno.EACCES


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04\xff", b"sep=,\n", b"id,equation\na,betta\n"])
def test_what_is_refused_leaves_no_lock_behind(tmp_path: Path, data: bytes) -> None:
    path = tmp_path / "notes.csv"
    path.write_bytes(data)
    with pytest.raises(CurveSetError):
        tf.add_curve(path, BETA)
    assert [entry.name for entry in tmp_path.iterdir()] == ["notes.csv"]
    for refused in (BETA.replace(id="a b"), BETA.replace(note="=x"), OLD.replace(id="aux")):
        with pytest.raises(CurveSetError):
            tf.add_curve(tmp_path / "new.csv", refused)
        with pytest.raises(CurveSetError):
            tf.write_curve_set(tmp_path / "new.csv", [BETA, refused])
    assert [entry.name for entry in tmp_path.iterdir()] == ["notes.csv"]


def test_a_pipe_is_no_target_and_not_waited_for(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    with pytest.raises(StorageError, match="a folder or a device"):
        tf.add_curve(pipe, BETA)


def test_curves_that_come_from_the_set_itself_do_not_lock_out_their_reader(shop: Path) -> None:
    def and_one_more() -> Iterator[tf.Curve]:
        tf.add_curve(shop, BETA.replace(id="late"))
        yield from tf.read_curve_set(shop)

    tf.write_curve_set(shop, and_one_more())
    assert tf.read_curve_set(shop).ids == ("inlet", "outlet", "late")


def test_a_pipe_is_read_no_further_than_the_limit(tmp_path: Path) -> None:
    with pytest.raises(storage.TooLargeError):
        storage.read_bounded(Path("/dev/zero"), 1000)
    with pytest.raises(CurveSetError, match="more than 1000 bytes"):
        tf.read_curve_set("/dev/zero", max_bytes=1000)
