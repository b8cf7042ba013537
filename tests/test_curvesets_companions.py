"""Companion files: the nodes of tables, and whose they are."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

import pytest

import thermofit as tf
from tests.samples import BETA, TABLE, Write
from thermofit.curvesets.nodes import table_from_bytes
from thermofit.errors import CurveSetError, StorageError

# -- companions -------------------------------------------------------------------


def companions(folder: Path) -> set[str]:
    return {path.name for path in folder.glob("*.csv")} - {"shop.csv", "copy.csv"}


def test_a_companion_is_named_after_its_content(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [TABLE])
    (first,) = companions(tmp_path)
    assert first.startswith("shop-outlet-")
    assert table_from_bytes((tmp_path / first).read_bytes()) == TABLE.equation
    changed = tf.Curve.from_table([0, 25, 50], [32000, 10000, 3700], id="outlet")
    tf.add_curve(path, changed, replace=True)
    (second,) = companions(tmp_path)
    assert second != first
    tf.write_curve_set(path, [BETA])
    assert companions(tmp_path) == set()


def test_a_companion_that_a_copy_of_the_set_names_stays(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [TABLE])
    (tmp_path / "copy.csv").write_bytes(path.read_bytes())
    tf.write_curve_set(path, [BETA])
    assert tf.read_curve_set(tmp_path / "copy.csv")["outlet"] == TABLE


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="pipes of POSIX")
def test_a_pipe_in_the_folder_is_not_waited_for(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [TABLE])
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    opened: list[Path] = []
    real = Path.open

    def watched(path: Path, *arguments: Any, **options: Any) -> Any:
        opened.append(path)
        assert path != pipe  # to open it would be to wait
        return real(path, *arguments, **options)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Path, "open", watched)
        tf.add_curve(path, TABLE.replace(note="again"), replace=True)
        tf.write_curve_set(path, [BETA])
    assert opened
    assert companions(tmp_path) == {"pipe.csv"}


def test_a_companion_that_somebody_named_stays_as_it_is(write: Write, tmp_path: Path) -> None:
    nodes = write("t_c,r_ohm\n0,32554\n25,10000\n60,2489\n", "mine.csv")
    path = write("id,equation,table_file\na,tabulated,mine.csv\n")
    tf.add_curve(path, BETA)
    assert companions(tmp_path) == {"mine.csv"}
    curve = tf.read_curve_set(path)["a"]
    tf.write_curve_set(path, [curve])
    assert len(companions(tmp_path)) == 2
    tf.write_curve_set(path, [BETA])
    assert companions(tmp_path) == {"mine.csv"}
    assert nodes.read_text() == "t_c,r_ohm\n0,32554\n25,10000\n60,2489\n"


def test_a_set_takes_its_companions_along(write: Write, tmp_path: Path) -> None:
    write("t_c,r_ohm\n0,32554\n25,10000\n60,2489\n", "mine.csv")
    read = tf.read_curve_set(write("id,equation,table_file\na,tabulated,mine.csv\n"))
    (tmp_path / "mine.csv").unlink()  # what has been read needs the files no more
    (tmp_path / "new").mkdir()
    tf.write_curve_set(tmp_path / "new" / "shop.csv", read)
    moved = tf.read_curve_set(tmp_path / "new" / "shop.csv")
    assert moved["a"] == read["a"]
    (name,) = companions(tmp_path / "new")
    assert name.startswith("shop-a-")
    assert (tmp_path / "new" / name).read_text().startswith("t_c,r_ohm,node_b_k\n")


def test_a_companion_that_was_changed_after_reading_is_not_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "shop.csv"
    tf.write_curve_set(path, [TABLE])
    read = tf.read_curve_set(path)
    (name,) = companions(tmp_path)
    (tmp_path / name).write_text("edited")
    tf.write_curve_set(path, read)
    assert (tmp_path / name).read_text() == "edited"
    assert tf.read_curve_set(path)["outlet"] == TABLE


def test_a_set_behind_a_symbolic_link_is_read_and_written_where_it_lies(tmp_path: Path) -> None:
    (tmp_path / "data").mkdir()
    path = tmp_path / "data" / "shop.csv"
    tf.write_curve_set(path, [TABLE])
    link = tmp_path / "link.csv"
    link.symlink_to(path)
    tf.add_curve(link, BETA)
    assert link.is_symlink()
    assert list(tf.read_curve_set(link)) == list(tf.read_curve_set(path)) == [TABLE, BETA]


def test_a_symbolic_link_that_leads_to_itself_is_told(tmp_path: Path) -> None:
    loop = tmp_path / "loop.csv"
    loop.symlink_to(loop)
    for write in (tf.add_curve, lambda path, curve: tf.write_curve_set(path, [curve])):
        with pytest.raises(StorageError, match=r"loop\.csv was not written: .* leads to itself"):
            write(loop, BETA)
    with pytest.raises(CurveSetError, match="symbolic links"):
        tf.read_curve_set(loop)
    inside = tmp_path / "folder"
    inside.symlink_to(inside)
    with pytest.raises(StorageError, match=r"the folder .* cannot be used"):
        tf.add_curve(inside / "shop.csv", BETA)
    assert {path.name for path in tmp_path.iterdir()} == {"loop.csv", "folder"}
