"""Tables of a report: aligned, no wider than asked for, and with nothing lost."""

from __future__ import annotations

import re
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from thermofit.texttable import (
    aligned,
    fitted_to,
    indented,
    legal,
    paragraph,
    tables_apart,
    with_minus,
)

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


def test_a_column_of_words_may_stand_at_the_end() -> None:
    """Notes behind numbers are broken, and do not send the first column to a second table."""
    rows = [
        ["equation", "leave-one-out / K", ""],
        ["beta", "0.3665", ""],
        ["log-polynomial-5", "", "needs 7 points to be compared"],
    ]
    with fitted_to(50):
        text = aligned(rows, left=[0, 2])
    assert text.split("\n") == [
        "                  leave-one-out",
        "equation                    / K",
        "beta                     0.3665",
        "log-polynomial-5                 needs 7 points to",
        "                                 be compared",
    ]
    with fitted_to(50):
        assert aligned(rows, left=1).count("equation") == 2


def test_a_header_above_short_words_is_broken_after_long_words() -> None:
    rows = [["if the display says", "the likely cause"], ["18 °C", "moisture across the leads"]]
    with fitted_to(42):
        head, first, second = aligned(rows, left=2).split("\n")
    assert head == "if the display says  the likely cause"
    assert (first, second.strip()) == ("18 °C                moisture across the", "leads")
    # Where there is still less room, it is broken as well.
    with fitted_to(28):
        narrow = aligned(rows, left=2).split("\n")
    assert max(map(len, narrow)) <= 28 and narrow[0] == "if the"


def test_texts_of_one_cell_stand_below_each_other() -> None:
    rows: list[list[str | list[str]]] = [
        ["", "part", "worst / K"],
        ["1", ["bag 12k", "  91.0 kΩ across it"], "3.52"],
    ]
    assert aligned(rows, left=2).split("\n") == [
        "   part                 worst / K",
        "1  bag 12k                   3.52",
        "     91.0 kΩ across it",
    ]
    # Where one goes on it is told from the next one.
    told: list[list[str | list[str]]] = [
        ["cause"],
        [["the plug and its cable are corroded", "moisture"]],
    ]
    with fitted_to(24):
        assert aligned(told).split("\n")[1:] == [
            "the plug and its cable", "  are corroded", "moisture",
        ]  # fmt: skip
    # Only we put texts below each other.
    assert aligned([["cause"], [["a\nb", "c"]]]).split("\n") == ["cause", "a b", "c"]


@given(
    st.lists(st.lists(CELL, min_size=1, max_size=3), min_size=2, max_size=5), st.integers(20, 60)
)
def test_cells_of_several_texts_keep_all_words_and_fit(cells: list[list[str]], width: int) -> None:
    rows = [[cell, "1.25"] for cell in cells]
    with fitted_to(width):
        text = aligned(rows, header=False)
    told = " ".join(" ".join(cell) for cell in cells)
    assert sorted(text.split()) == sorted([*told.split(), *["1.25"] * len(cells)])
    if max(map(len, told.split())) + 2 <= width - 6:
        assert max(map(len, text.split("\n"))) <= max(width, 16 + 2 + 2 + 4)


def test_a_table_has_a_usual_width_where_nobody_says_one() -> None:
    rows = [["cause", "the plug is corroded, or there is moisture in it"]]
    assert "\n" not in aligned(rows, left=2)
    assert max(map(len, aligned(rows, left=2, usual=30).split("\n"))) <= 30
    with fitted_to(100):
        assert "\n" not in aligned(rows, left=2, usual=30)


@given(st.lists(WORD, min_size=1, max_size=40), st.integers(40, 120), st.integers(0, 6))
def test_a_paragraph_is_broken_once_and_as_late_as_it_can_be(
    words: list[str], width: int, hang: int
) -> None:
    with fitted_to(width):
        lines = paragraph(" ".join(words), then=" " * hang).split("\n")
    assert " ".join(lines).split() == words
    assert max(map(len, lines)) <= width
    assert all(line.startswith(" " * hang) for line in lines[1:])
    with fitted_to(width):
        # What was broken is not broken again.
        assert [paragraph(line.strip(), first=" " * hang) for line in lines[1:]] == lines[1:]
    assert all(len(line) + 1 + len(after.strip()) > width for line, after in pairwise(lines))


def test_a_number_stays_with_its_unit() -> None:
    told = "it reads −0.88 K off at 18 °C with 91.0 kΩ across, 5 % of R, ± 0.2 K, p = 0.71, 8.3 Ω"
    for width in range(12, 60):
        with fitted_to(width):
            lines = paragraph(told).split("\n")
        assert not any(re.match(r"K|°C|kΩ|%|Ω|=|[\d.]+ K,|0\.71|0\.2", line) for line in lines), (
            lines
        )
        assert not any(line.endswith(("±", "=", " p")) for line in lines), lines
        assert " ".join(lines) == told


def test_a_notebook_gets_sentences_in_one_piece() -> None:
    with tables_apart("@"):
        assert "\n" not in paragraph("a sentence that goes on " * 20)


@given(tables(), st.integers(20, 60))
def test_what_is_moved_to_the_right_has_less_room(rows: list[list[str]], width: int) -> None:
    class Shown:
        def __str__(self) -> str:
            return aligned(rows)

    with fitted_to(width - 4):
        narrow = str(Shown())
    with fitted_to(width):
        moved = indented(Shown(), "    ")
    assert moved == "\n".join(f"    {line}" if line else "" for line in narrow.split("\n"))
    assert indented(Shown()) == "\n".join(f"  {line}" for line in str(Shown()).split("\n"))


def test_a_minus_sign_stands_before_numbers_only() -> None:
    assert with_minus("-2 to +2 %, (-.5), B -1e-9") == "−2 to +2 %, (−.5), B −1e-9"
    for name in ("ntc-10k-3977", "2026-03-21", "--step 5K", "log-polynomial-4", "a - b", "0-5"):
        assert with_minus(name) == name


def test_what_was_asked_for_ends_with_the_block() -> None:
    rows = [["a b c d e f g h i"], ["1"]]
    wide = aligned(rows)
    with fitted_to(10), fitted_to(None):
        assert aligned(rows) == wide
    with tables_apart("@") as tables:
        assert re.fullmatch("@0@", aligned(rows))
    assert aligned(rows) == wide
    assert tables == [(rows, (0,), True)]


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
