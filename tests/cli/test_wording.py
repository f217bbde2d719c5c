"""Text for people: aligned, honest about what is missing, in their units."""

import math

import pytest

from tapertread.cli.wording import notes_text, pairs_text, paragraphs, table_text, value_text


@pytest.mark.parametrize("value", [None, math.nan, math.inf])
def test_what_is_missing_is_a_dash(value) -> None:
    assert value_text(value, "mm") == "–"


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (28.0, "mm", "28.00 mm"),
        (-0.001, "mm", "0.00 mm"),
        (-0.01, "mm", "-0.01 mm"),
        (0.5, "", "0.500"),
    ],
)
def test_a_value_is_rounded_without_a_minus_before_nothing(value, unit, text) -> None:
    assert value_text(value, unit) == text


def test_inches_are_shown_where_asked() -> None:
    assert value_text(25.4, "mm", system="us") == "1.000 in"


def test_columns_line_up() -> None:
    lines = table_text(("shift", "mm"), [("1", "10.25"), ("-10", "–")]).splitlines()
    assert lines == ["shift     mm", "    1  10.25", "  -10      –"]
    assert pairs_text([("a", "1"), ("long", "2")]) == "a     1\nlong  2"


def test_a_row_of_another_length_is_an_error() -> None:
    with pytest.raises(ValueError, match="argument"):
        table_text(("one", "two"), [("1", "2", "3")])


def test_empty_parts_leave_no_gap() -> None:
    assert paragraphs("a", notes_text([]), "b") == "a\n\nb"
    assert notes_text(["why"]) == "Notes:\n  - why"
