"""Tables of a report: aligned, no wider than asked for, and with nothing lost."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from thermofit.texttable import aligned, fitted_to, legal, tables_apart

WORD = st.text("abcdeΩ°−0123456789.", min_size=1, max_size=12)
CELL = st.lists(WORD, min_size=1, max_size=4).map(" ".join)


@st.composite
def tables(draw: st.DrawFn) -> list[list[str]]:
    columns = draw(st.integers(1, 7))
    row = st.lists(CELL, min_size=columns, max_size=columns)
    return draw(st.lists(row, min_size=1, max_size=5))


def words(text: str) -> set[str]:
    return set(text.split())


@given(tables(), st.integers(0, 7), st.integers(10, 60))
def test_a_narrow_table_has_all_that_the_wide_one_has(
    rows: list[list[str]], left: int, width: int
) -> None:
    with fitted_to(width):
        narrow = aligned(rows, left=left)
    assert words(narrow) == words(aligned(rows, left=left))


@given(tables(), st.integers(0, 7), st.integers(10, 60))
def test_a_table_fits_where_pairs_of_its_columns_do(
    rows: list[list[str]], left: int, width: int
) -> None:
    # Numbers are never broken, and a block has the first column and one more at least.
    widest = [max(map(len, column)) for column in zip(*rows, strict=True)]
    with fitted_to(width):
        text = aligned(rows, left=left)
    if len(widest) == 1 or max(widest[1:]) + widest[0] + 2 <= width:
        assert max(map(len, text.split("\n"))) <= max(width, widest[0])


@given(tables(), st.integers(0, 7))
def test_room_enough_changes_nothing(rows: list[list[str]], left: int) -> None:
    text = aligned(rows, left=left)
    with fitted_to(max(map(len, text.split("\n"))) + 20):
        assert aligned(rows, left=left) == text


def test_units_stay_with_what_they_are_of() -> None:
    rows = [["t / °C", "standard uncertainty / K", "R"], ["25", "0.12", "10.000 kΩ"]]
    with fitted_to(34):
        text = aligned(rows, left=0)
    assert text.split("\n") == [
        "               standard",
        "t / °C  uncertainty / K          R",
        "    25             0.12  10.000 kΩ",
    ]


def test_numbers_are_not_broken_and_the_first_column_comes_again() -> None:
    rows = [["t / °C", "R low", "R high"], ["25", "9.9002 kΩ", "10.100 kΩ"]]
    with fitted_to(18):
        text = aligned(rows, left=0)
    assert text.split("\n\n") == [
        "t / °C      R low\n    25  9.9002 kΩ",
        "t / °C     R high\n    25  10.100 kΩ",
    ]


def test_words_go_on_below_in_their_column() -> None:
    rows = [["source", "a table of the workshop, written down in the spring of the year"]]
    with fitted_to(40):
        text = aligned(rows, left=2, header=False)
    first, *rest = text.split("\n")
    assert first.startswith("source  a table")
    assert all(line.startswith(" " * 8) and len(line) <= 40 for line in rest)
    assert rest


def test_what_was_asked_for_ends_with_the_block() -> None:
    rows = [["a b c d e f g h i"], ["1"]]
    wide = aligned(rows)
    with fitted_to(10), fitted_to(None):
        assert aligned(rows) == wide
    with tables_apart("@") as tables:
        assert re.fullmatch("@0@", aligned(rows))
    assert aligned(rows) == wide
    assert tables == [(rows, 1, True)]


@given(st.lists(st.text(st.sampled_from("ab \n\r\x0b\u2028\x85")), min_size=1, max_size=4))
def test_a_cell_begins_no_line_of_its_own(notes: list[str]) -> None:
    text = aligned([["note", note] for note in notes], header=False)
    assert len(text.splitlines()) == len(notes)
    assert all(line.startswith("note") for line in text.splitlines())


@given(st.text())
def test_what_is_not_seen_does_nothing(text: str) -> None:
    shown = legal(text)
    assert not set("\x1b\x07\x9b\r\b\u202e\u2066\u200f") & set(shown)
    assert legal(shown) == shown


def test_letters_spaces_and_line_ends_stay() -> None:
    told = "25 °C, 10\u202fkΩ − inlet, Größe 東\nrow 2"
    assert legal(told) == told
    assert legal("a\tb\r\nc") == "a b\nc"
    assert legal("\x1b]0;name\x07\x9b31m\u202e\ud800") == "�]0;name��31m��"
