"""What the printed sheets are set in: nothing longer than the line, and no number apart from its unit."""

import itertools

import pytest

from solidify.report.text import columns, entries, listed, page, tied, wrapped

VERDICTS = [
    ("finding", "A", "B"),
    ("reheating rate", "breached, 134 K/m, 34 K/m beyond", "kept, 81 K/m, 19 K/m room"),
    ("shell at mould exit", "kept, 10.2 mm, 2.2 mm room", "kept, 16.3 mm, 3.3 mm room"),
]


def test_columns_stand_under_one_another():
    """First to the left, the others to the right; the width of a column is that of its longest cell."""
    lines = columns([("", "lowest", "mm"), ("shell", "9.1", "mm"), ("surface, in and out", "1100", "")])
    assert lines == [
        "                     lowest  mm",
        "shell                   9.1  mm",
        "surface, in and out    1100",
    ]


@pytest.mark.parametrize("width", [44, 50, 60, 79])
def test_words_take_more_lines_where_the_row_is_too_long(width):
    lines = columns(VERDICTS, "lw", width)
    assert max(map(len, lines)) <= width
    assert len(lines) > 3
    assert sorted(" ".join(lines).split()) == sorted(" ".join(map(" ".join, VERDICTS)).split())


def test_a_row_that_fits_is_left_alone():
    assert len(columns(VERDICTS, "lw", 100)) == 3


def test_names_and_numbers_are_never_folded():
    """Only `w` gives way; a line that cannot be shorter is longer than asked."""
    lines = columns(VERDICTS, "l", 40)
    assert len(lines) == 3
    assert max(map(len, lines)) > 40


@pytest.mark.parametrize("width", range(12, 40))
def test_no_number_is_parted_from_its_unit(width):
    text = "a shell of 12.9 mm at 1.0 solid, 96 % of it below 1150 °C, limit ≥ 13 mm after 48 s"
    for line in itertools.chain(wrapped(text, width), columns([("x", text)], "lw", width + 3)):
        assert not line.rstrip().endswith(tuple("0123456789≥")), line
        assert "\xa0" not in line


def test_tied_binds_only_units_and_bounds():
    assert tied("12 mm of 3 mould faces, ≤ 90 %") == "12\xa0mm of 3 mould faces, ≤\xa090\xa0%"


def test_entries_hang_under_their_text():
    lines = entries([("steel", "low carbon"), ("casting speed", "one two three four")], 24, " ")
    assert lines == [
        " steel          low",
        "                carbon",
        " casting speed  one two",
        "                three",
        "                four",
    ]


def test_a_list_without_entries_has_no_title():
    assert listed("To know", []) == []
    assert listed("To know", ["x"]) == ["To know", "  x"]


def test_a_page_has_no_empty_blocks_and_no_trailing_blanks():
    assert page([["a  "], [], ["b", "c "]]) == "a\n\nb\nc"
