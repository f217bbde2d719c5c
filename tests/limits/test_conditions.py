"""Conditions: ends included or not, words, and what is not known."""

import math

import pytest

from tapertread.limits.conditions import Span, answer


@pytest.mark.parametrize(
    ("span", "inside", "outside"),
    [
        (Span(at_least=330.0, upto=760.0), (330.0, 500.0, 760.0), (329.999, 760.001)),
        (Span(over=760.0, upto=840.0), (760.001, 840.0), (760.0, 840.001)),
        (Span(over=840.0), (840.001, 1250.0), (840.0, 330.0)),
        (Span(at_least=150.0, below=175.0), (150.0, 174.999), (175.0, 149.999)),
        (Span(below=math.inf), (300.0,), (math.inf,)),
        (Span(at_least=math.inf), (math.inf,), (1e9,)),
    ],
)
def test_ends_of_a_range_are_included_or_not_as_stated(span, inside, outside):
    assert all(span.holds(value) for value in inside)
    assert not any(span.holds(value) for value in outside)


def test_neighbouring_diameter_classes_leave_no_gap_and_no_overlap():
    classes = (
        Span(at_least=330.0, upto=760.0),
        Span(over=760.0, upto=840.0),
        Span(over=840.0),
    )
    for tenth in range(3300, 13000):
        assert sum(span.holds(tenth / 10.0) for span in classes) == 1


def test_words_that_apply_and_words_that_do_not():
    assert Span(one_of=("freight",)).holds("freight")
    assert not Span(one_of=("freight",)).holds("coach")
    assert Span(none_of=("metro", "tram")).holds("coach")
    assert not Span(none_of=("metro", "tram")).holds("tram")


def test_a_word_never_lies_in_a_range_and_a_number_in_no_list():
    assert not Span(over=0.0).holds("840")
    assert not Span(one_of=("1",)).holds(1.0)


def test_nan_lies_in_no_bounded_range():
    assert not Span(over=0.0).holds(math.nan)
    assert not Span(upto=1.0).holds(math.nan)


def test_what_is_not_known_is_named_not_guessed():
    when = {"diameter_mm": Span(over=840.0), "vehicle_kind": Span(none_of=("tram",))}
    assert answer(when, {"vehicle_kind": "coach"}) == ("unknown", ("diameter_mm",))
    assert answer(when, {}) == ("unknown", ("diameter_mm", "vehicle_kind"))
    assert answer(when, {"diameter_mm": 920.0, "vehicle_kind": "coach"}) == ("holds", ())


def test_one_failing_condition_decides_whatever_is_missing():
    when = {"diameter_mm": Span(over=840.0), "vehicle_kind": Span(none_of=("tram",))}
    assert answer(when, {"vehicle_kind": "tram"}) == ("fails", ())


def test_no_condition_always_holds():
    assert answer({}, {}) == ("holds", ())
