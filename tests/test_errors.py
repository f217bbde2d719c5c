"""The error tree: one base, refusals that say four things, places that only grow more exact."""

import inspect

import pytest

from tapertread import errors
from tapertread.errors import OutlineRefused, RefusedInput, TapertreadError, Where

CLASSES = [
    item
    for _, item in inspect.getmembers(errors, inspect.isclass)
    if issubclass(item, TapertreadError)
]
REFUSALS = [item for item in CLASSES if issubclass(item, RefusedInput)]


def refusal(**parts: object) -> OutlineRefused:
    return OutlineRefused(
        "mirrored-outline",
        "y falls from flange to field side",
        allowed="y that rises outward",
        todo="flip y in the recipe",
        where=Where(**parts),
    )


@pytest.mark.parametrize("item", CLASSES)
def test_every_error_stands_in_the_drawn_tree(item):
    assert item.__name__ in (errors.__doc__ or "")
    assert item.__doc__


@pytest.mark.parametrize("item", REFUSALS)
def test_every_refusal_can_be_made_alike(item):
    made = item("code", "found", allowed="allowed", todo="do")
    assert isinstance(made, TapertreadError)
    assert type(made.at(file="a.csv")) is item


def test_a_refusal_says_what_where_what_is_allowed_and_what_next():
    text = str(refusal(file="wheels.csv", line=12, column="y_mm", record="W07"))
    assert text == (
        "wheels.csv, line 12, column y_mm, record W07: y falls from flange to field side "
        "[mirrored-outline]. Allowed: y that rises outward. Next: flip y in the recipe."
    )


def test_an_unknown_place_is_left_out():
    assert str(refusal()).startswith("y falls")
    assert str(Where(file="a.csv", column="z_mm")) == "a.csv, column z_mm"
    assert str(Where(line=3)) == "line 3"


def test_the_place_nearest_to_the_fault_knows_best():
    completed = refusal(line=12).at(file="wheels.csv", line=1, record="W07")
    assert completed.where == Where(file="wheels.csv", line=12, record="W07")
    assert completed.found == refusal().found


def test_line_zero_is_a_line():
    assert refusal(line=0).at(line=5).where.line == 0


def test_a_place_of_unknown_kind_is_no_place():
    with pytest.raises(TypeError):
        refusal().at(planet="Mars")


def test_a_refusal_is_written_as_plain_values():
    assert refusal(file="wheels.csv", line=12).to_dict() == {
        "code": "mirrored-outline",
        "found": "y falls from flange to field side",
        "allowed": "y that rises outward",
        "todo": "flip y in the recipe",
        "file": "wheels.csv",
        "line": 12,
        "column": None,
        "record": None,
    }
