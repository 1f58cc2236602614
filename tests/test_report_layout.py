"""Paragraphs, tables and commands within the width of the terminal."""

from __future__ import annotations

import shlex

import pytest
from hypothesis import given
from hypothesis import strategies as st
from width_cases import WIDTHS, assert_fits

from optimizer.report.layout import (
    NARROWEST,
    USUAL,
    WIDEST,
    bullets,
    column_lines,
    columns,
    command_line,
    page_width,
    pages_of,
    section,
    wrapped,
)

CELL = st.text("abc0123456789.:-", min_size=1, max_size=12)
TABLES = st.integers(2, 9).flatmap(
    lambda wide: st.lists(st.lists(CELL, min_size=wide, max_size=wide), min_size=1, max_size=5)
)


@given(TABLES, st.sampled_from(WIDTHS), st.integers(1, 2))
def test_a_table_of_any_width_fits_and_keeps_every_cell(rows: list[list[str]], width: int, keys: int) -> None:
    with pages_of(width):
        lines = columns(rows, left=keys, keys=keys).splitlines()
    assert max(map(len, lines)) <= width
    blocks = "\n".join(lines).split("\n\n")
    assert all(len(block.splitlines()) == len(rows) for block in blocks)
    for number, row in enumerate(rows):
        parts = [block.splitlines()[number].split() for block in blocks]
        assert all(part[:keys] == row[:keys] for part in parts), "each table says which row it is"
        assert [cell for part in parts for cell in part[keys:]] == row[keys:]


@given(TABLES, st.sampled_from(WIDTHS))
def test_lines_of_a_table_with_words_between_keep_every_cell(rows: list[list[str]], width: int) -> None:
    with pages_of(width):
        lines = column_lines(rows, indent="    ")
    assert [line.split() for line in lines] == rows
    assert max(len(part) for line in lines for part in line.splitlines()) <= width


def test_a_table_that_fits_is_one_table() -> None:
    assert (
        columns([["round", "water"], ["", "l"], ["1 wash", "9.7"]])
        == "round   water\n            l\n1 wash    9.7"
    )


def test_columns_move_together_before_a_table_is_split() -> None:
    rows = [["a" * 20, "b" * 19]]
    with pages_of(41):
        assert columns(rows) == f"{'a' * 20}  {'b' * 19}"
    with pages_of(40):
        assert columns(rows) == f"{'a' * 20} {'b' * 19}"


def test_a_cell_wider_than_the_page_is_broken_at_its_blanks() -> None:
    rows = [["1", "one wash, " * 8 + "one rinse"], ["2", "one wash"]]
    assert_fits(lambda: columns(rows))


def test_letters_of_east_asia_take_two_columns() -> None:
    """Unicode Standard Annex 11: wide and fullwidth letters."""
    assert columns([["皿洗い", "1"], ["plates", "2"]]) == "皿洗い  1\nplates  2"


def test_a_label_that_leaves_no_room_stands_on_its_own_line() -> None:
    assert_fits(lambda: wrapped("so many words " * 9, "       at most 0.001   0.0004906 0.00051  "))


@given(st.sampled_from(WIDTHS), st.integers(1, 40))
def test_a_number_keeps_its_unit_unless_both_are_wider_than_the_line(width: int, words: int) -> None:
    with pages_of(width):
        lines = wrapped("so " * words + "it takes 25.9 l and 0.21 GBP, " * 5).splitlines()
    assert max(map(len, lines)) <= min(width, USUAL)
    assert not any(line.endswith(("25.9", "0.21")) for line in lines)
    with pages_of(40):
        times = wrapped("from 2025-03-03T00:00 to 2025-03-10T00:00 (Europe/London)", "    rule   ")
    assert max(map(len, times.splitlines())) <= 40


def test_a_word_is_never_cut() -> None:
    path = "/".join(["folder"] * 12)
    with pages_of(40):
        assert path in wrapped(f"Written to {path} as asked.").splitlines()


@given(st.lists(st.text("ab c'-", min_size=1, max_size=12), min_size=1, max_size=12), st.sampled_from(WIDTHS))
def test_a_command_can_be_copied_at_any_width(words: list[str], width: int) -> None:
    """A shell joins a line that ends in a backslash with the next (POSIX 1003.1, 2.2.1)."""
    with pages_of(width):
        text = command_line(words, "   ")
    assert shlex.split(text.replace("\\\n", "")) == words


def test_a_command_is_broken_before_an_option() -> None:
    words = ["scullion", "constants", "plan.json", "--format", "c", "--out", "wash_timing.h"]
    with pages_of(40):
        text = command_line(words, "   ")
    assert text == "   scullion constants plan.json \\\n     --format c --out wash_timing.h"
    assert command_line(words) == "scullion constants plan.json --format c --out wash_timing.h"


@pytest.mark.parametrize(
    ("asked", "given"), [(1, NARROWEST), (40, 40), (133, 133), (200, 200), (999, WIDEST)]
)
def test_width_is_kept_between_the_narrowest_and_the_widest(asked: int, given: int) -> None:
    assert page_width() == USUAL
    with pages_of(asked):
        assert page_width() == given
    assert page_width() == USUAL


def test_sections_and_bullets() -> None:
    texts = ["one thing " * 9, "another"]
    assert_fits(lambda: section("A TITLE THAT SAYS MORE THAN A NARROW PAGE TAKES", bullets(texts)))
