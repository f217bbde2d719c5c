"""Measures against limits, and the order in which findings ask for attention."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapertread.limits import Limit, Verdict, Word, limit_set
from tapertread.shapes.measured import Measured
from tapertread.study.held import against_limits, finding, gravest_word, measures_held, ranked
from tapertread.study.records import Reason, Subject

EU = limit_set("eu-in-service")
WHEEL = Subject(kind="wheel", asset="W1", side="left", group="F")
WHEELSET = Subject(kind="wheelset", asset="W1", group="F")
KNOWN = {"diameter_mm": 920.0, "speed_kmh": 120.0, "vehicle_kind": "coach"}


def a_limit(value=22.0, sense="min"):
    return Limit(
        id="a",
        quantity="flange_thickness_mm",
        sense=sense,
        value=value,
        unit="mm",
        level="limit",
        edition="invented for this test",
        clause="1",
        source="derived",
        status="DERIVED",
    )


def a_finding(word, *, value=None, limit=None, asset="W1"):
    measured = Measured.missing("mm", "none") if value is None else Measured.of(value, "mm", a=0.1)
    return finding(
        Subject(kind="wheelset", asset=asset),
        "flange_thickness_mm",
        verdict=Verdict(word=word, measured=measured, limit=limit),
        reason=Reason(code="no-curve"),
        system="metric",
    )


WORDS = (Word.OUT, Word.ACT, Word.AGAIN, Word.WATCH, Word.NOT_ASSESSED, Word.SOUND)
"""As a reader should meet them: what is proven wrong, what to do, what to find out, the rest."""


@given(st.permutations(WORDS))
def test_gravity_comes_first_whatever_the_order(words):
    found = ranked([a_finding(word) for word in words])
    assert [one.word for one in found] == list(WORDS)
    assert [one.rank for one in found] == [1, 2, 3, 4, 5, 6]


@pytest.mark.parametrize(("sense", "worst", "better"), [("min", 20.0, 21.5), ("max", 30.0, 23.0)])
def test_of_equal_words_the_one_farther_beyond_comes_first(sense, worst, better):
    limit = a_limit(22.0, sense)
    near = a_finding(Word.OUT, value=better, limit=limit, asset="A")
    far = a_finding(Word.OUT, value=worst, limit=limit, asset="B")
    assert [one.subject.asset for one in ranked([near, far])] == ["B", "A"]


def test_of_equal_excess_the_name_decides():
    first, second = a_finding(Word.ACT, asset="A"), a_finding(Word.ACT, asset="B")
    assert [one.subject.asset for one in ranked([second, first])] == ["A", "B"]


def test_distance_counts_relative_to_the_limit():
    thin = a_finding(Word.OUT, value=20.0, limit=a_limit(22.0), asset="A")  # 9 % beyond
    spacing = a_finding(Word.OUT, value=1400.0, limit=a_limit(1410.0), asset="B")  # 0.7 %
    assert [one.subject.asset for one in ranked([spacing, thin])] == ["A", "B"]


@given(st.lists(st.sampled_from(WORDS), min_size=1))
def test_the_gravest_word_is_the_first_of_the_ranked(words):
    assert (
        gravest_word([a_finding(word) for word in words])
        is ranked([a_finding(word) for word in words])[0].word
    )


def test_no_finding_at_all_is_not_assessed():
    assert gravest_word([]) is Word.NOT_ASSESSED


def test_a_thin_flange_is_out_of_limit_with_edition_and_place():
    """22 mm for wheels over 840 mm [tsi-locpas-2014; recalled]."""
    one = against_limits(
        WHEEL,
        "flange_thickness_mm",
        measured=Measured.of(21.0, "mm", noise=0.05),
        limits=EU,
        conditions=KNOWN,
        system="metric",
    )
    assert one.word is Word.OUT
    assert one.limit.value == 22.0
    assert one.id == "wheel-w1-left-flange-thickness-mm"
    assert "22.00 mm" in one.why


def test_a_quantity_without_limits_is_no_finding():
    assert (
        against_limits(
            WHEEL,
            "flange_angle_deg",
            measured=Measured.of(70.0, "deg", noise=0.5),
            limits=limit_set("us-federal"),
            conditions=KNOWN,
            system="metric",
        )
        is None
    )


def test_an_unknown_diameter_leaves_the_flange_not_assessed():
    one = against_limits(
        WHEEL,
        "flange_thickness_mm",
        measured=Measured.of(30.0, "mm", noise=0.05),
        limits=EU,
        conditions={**KNOWN, "diameter_mm": None},
        system="metric",
    )
    assert one.word is Word.NOT_ASSESSED
    assert "diameter" in one.why


def test_sides_become_wheels_and_whole_measures_stay_with_the_wheelset():
    measures = {
        "flange_thickness_mm.left": Measured.of(30.0, "mm", a=0.1),
        "flange_thickness_mm.right": Measured.of(21.0, "mm", a=0.1),
        "back_to_back_mm": Measured.of(1360.0, "mm", a=0.1),
    }
    found = measures_held(WHEELSET, measures, limits=EU, conditions=KNOWN, system="metric")
    assert [(str(one.subject), one.word) for one in found] == [
        ("wheel W1 left", Word.SOUND),
        ("wheel W1 right", Word.OUT),
        ("wheelset W1", Word.SOUND),
    ]


@pytest.mark.parametrize("value", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_never_becomes_a_verdict(value):
    one = against_limits(
        WHEEL,
        "flange_thickness_mm",
        measured=Measured(value=value, unit="mm", uncertainty=0.1),
        limits=EU,
        conditions=KNOWN,
        system="metric",
    )
    assert one.word is Word.NOT_ASSESSED
