"""From value and uncertainty to the word: examples, ends, and laws that hold for any numbers."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tapertread.limits import Limit, Word, gravest, judge, judge_between, limit_set
from tapertread.limits.sets import Choice
from tapertread.shapes.measured import Measured

ALONG = (Word.SOUND, Word.WATCH, Word.ACT, Word.AGAIN, Word.OUT)
"""Words in the order in which a worsening value passes through them."""


def limit(value, sense="min", level="limit", unit="mm"):
    return Limit(
        id=f"{level}-{sense}-{value}",
        quantity="flange_thickness_mm",
        sense=sense,
        value=value,
        unit=unit,
        level=level,
        edition="invented for this test",
        clause="1",
        source="derived",
        status="DERIVED",
    )


def reading(value, expanded=0.2, unit="mm"):
    uncertainty = None if expanded is None else expanded / 2.0
    return Measured(value=value, unit=unit, uncertainty=uncertainty)


THREE = (limit(22.0), limit(23.05, "above", "act"), limit(25.15, "above", "watch"))


@pytest.mark.parametrize(
    ("value", "word", "decides"),
    [
        (32.0, Word.SOUND, "limit-min-22.0"),
        (25.0, Word.WATCH, "watch-above-25.15"),
        (23.0, Word.ACT, "act-above-23.05"),
        (22.1, Word.AGAIN, "limit-min-22.0"),
        (21.9, Word.AGAIN, "limit-min-22.0"),
        (21.7, Word.OUT, "limit-min-22.0"),
    ],
)
def test_a_worsening_flange_passes_through_the_words(value, word, decides):
    verdict = judge(reading(value), THREE)
    assert verdict.word is word
    assert verdict.limit is not None
    assert verdict.limit.id == decides


@pytest.mark.parametrize(
    ("sense", "at_limit", "just_inside", "just_outside"),
    [
        ("min", Word.SOUND, 22.0 + 1e-6, 22.0 - 1e-6),
        ("above", Word.OUT, 22.0 + 1e-6, 22.0 - 1e-6),
        ("max", Word.SOUND, 22.0 - 1e-6, 22.0 + 1e-6),
        ("below", Word.OUT, 22.0 - 1e-6, 22.0 + 1e-6),
    ],
)
def test_equality_counts_as_the_wording_says(sense, at_limit, just_inside, just_outside):
    exact = (limit(22.0, sense),)
    assert judge(reading(22.0, 0.0), exact).word is at_limit
    assert judge(reading(just_inside, 0.0), exact).word is Word.SOUND
    assert judge(reading(just_outside, 0.0), exact).word is Word.OUT


@pytest.mark.parametrize(
    ("sense", "value", "word"),
    [
        ("min", 22.5, Word.SOUND),  # the band ends on the limit, which is allowed
        ("above", 22.5, Word.AGAIN),  # the band ends on the limit, which is a defect
        ("min", 21.5, Word.AGAIN),
        ("above", 21.5, Word.OUT),
    ],
)
def test_equality_counts_at_the_end_of_the_band_too(sense, value, word):
    assert judge(reading(value, 0.5), (limit(22.0, sense),)).word is word


def test_an_eighth_of_an_inch_converted_equals_its_limit():
    thin = limit_set("us-federal").for_quantity("flange_thickness_us_mm", vehicle_kind="freight")
    assert judge(reading(7 / 8 * 25.4, 0.0), thin).word is Word.OUT
    assert judge(reading(7 * 25.4 / 8 + 1e-6, 0.0), thin).word is Word.ACT


def test_a_two_sided_limit_finds_the_broken_side():
    both = (limit(1357.0, "min"), limit(1363.0, "max"))
    assert judge(reading(1360.0), both).word is Word.SOUND
    for value, broken in ((1356.0, both[0]), (1364.0, both[1])):
        verdict = judge(reading(value), both)
        assert (verdict.word, verdict.limit) == (Word.OUT, broken)


def test_a_band_wider_than_the_allowed_range_is_never_sound():
    both = (limit(1357.0, "min"), limit(1363.0, "max"))
    assert judge(reading(1360.0, 4.0), both).word is Word.AGAIN


def test_the_nearest_limit_is_shown_for_a_sound_value():
    both = (limit(22.0, "min"), limit(33.0, "max"))
    assert judge(reading(32.0), both).limit == both[1]
    assert judge(reading(23.0), both).limit == both[0]
    assert judge(reading(23.0), both).margin == pytest.approx(1.0)


def test_levels_without_a_limit_can_still_be_reached():
    hollow = limit_set("eu-in-service").for_quantity("tread_hollow_mm")
    words = [judge(reading(value, 0.1), hollow).word for value in (1.0, 2.0, 2.01, 3.01)]
    assert words == [Word.SOUND, Word.SOUND, Word.WATCH, Word.ACT]


def test_a_missing_value_keeps_its_reason():
    verdict = judge(Measured.missing("mm", "the outline ends before the flange"), THREE)
    assert verdict.word is Word.NOT_ASSESSED
    assert verdict.why_not == "the outline ends before the flange"
    assert verdict.margin is None


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_number_no_verdict(value):
    verdict = judge(reading(value), THREE)
    assert verdict.word is Word.NOT_ASSESSED
    assert "not a finite number" in verdict.why_not


@pytest.mark.parametrize("uncertainty", [math.nan, math.inf, -0.1])
def test_no_sensible_uncertainty_no_verdict(uncertainty):
    verdict = judge(Measured(value=30.0, unit="mm", uncertainty=uncertainty), THREE)
    assert verdict.word is Word.NOT_ASSESSED
    assert "uncertainty" in verdict.why_not


def test_a_reading_without_uncertainty_is_never_sound():
    verdict = judge(reading(30.0, None), THREE)
    assert verdict.word is Word.NOT_ASSESSED
    assert "no uncertainty" in verdict.why_not


@pytest.mark.parametrize("value", [24.0, 22.5, 21.0])
def test_a_reading_without_uncertainty_beyond_anything_is_measured_again(value):
    verdict = judge(reading(value, None), THREE)
    assert verdict.word is Word.AGAIN
    assert "treat it as out of limit" in verdict.why_not


def test_no_limit_no_verdict():
    verdict = judge(reading(30.0), ())
    assert verdict.word is Word.NOT_ASSESSED
    assert verdict.limit is None
    assert verdict.why_not == "no limit applies"


def test_limits_that_hang_on_the_unknown_leave_only_the_grave_words():
    half = Choice(
        quantity="flange_thickness_mm",
        limits=THREE,
        needs=("diameter_mm",),
        open_levels=("watch", "limit"),
    )
    expected = {
        32.0: Word.NOT_ASSESSED,
        24.0: Word.NOT_ASSESSED,
        22.1: Word.AGAIN,
        21.0: Word.OUT,
    }
    for value, word in expected.items():
        verdict = judge(reading(value), half)
        assert verdict.word is word
        if word is Word.NOT_ASSESSED:
            assert verdict.why_not == "needs the wheel diameter"


def test_a_word_stands_when_only_calmer_levels_are_open():
    open_watch = limit_set("eu-in-service").for_quantity("diameter_difference_mm")
    assert open_watch.open_levels == ("watch",)
    words = [judge(reading(value, 0.1), open_watch).word for value in (1.2, 0.4)]
    assert words == [Word.ACT, Word.NOT_ASSESSED]


def test_a_word_falls_when_nobody_knows_what_is_open():
    unclear = Choice(quantity="flange_thickness_mm", limits=THREE, needs=("diameter_mm",))
    assert judge(reading(23.0), unclear).word is Word.NOT_ASSESSED


def test_a_band_of_gauges_with_one_word_keeps_it():
    both = (limit(1426.0, "min"), limit(1470.0, "max"))
    verdict = judge_between((reading(1432.0), reading(1440.0)), both)
    assert verdict.word is Word.SOUND
    assert verdict.measured.value == 1432.0


def test_a_band_of_gauges_with_two_words_is_measured():
    both = (limit(1426.0, "min"), limit(1470.0, "max"))
    verdict = judge_between((reading(1440.0), reading(1472.0)), both)
    assert verdict.word is Word.AGAIN
    assert "nominal" in verdict.why_not


def test_a_band_that_passes_right_through_the_allowed_range_is_not_out():
    both = (limit(1434.0, "min"), limit(1436.0, "max"))
    assert judge_between((reading(1430.0), reading(1440.0)), both).word is Word.AGAIN


def test_a_band_with_a_missing_end_is_not_assessed():
    ends = (reading(1435.0), Measured.missing("mm", "no contact at this gauge"))
    verdict = judge_between(ends, (limit(1426.0),))
    assert verdict.word is Word.NOT_ASSESSED
    assert verdict.why_not == "no contact at this gauge"


def test_the_gravest_of_several_comes_first():
    verdicts = [judge(reading(value), THREE) for value in (32.0, 21.0, 20.0, 24.0)]
    assert gravest(verdicts).measured.value == 20.0
    with pytest.raises(ValueError, match="empty"):
        gravest([])


# Laws. Numbers on a 0.001 mm grid, as instruments give them.
values = st.integers(min_value=15_000, max_value=40_000).map(lambda n: n / 1000.0)
bands = st.integers(min_value=0, max_value=3_000).map(lambda n: n / 1000.0)
senses = st.sampled_from(["min", "max", "above", "below"])


@given(values, values, bands)
def test_a_thinner_flange_never_gets_a_calmer_word(one, other, band):
    thin, thick = sorted((one, other))
    words = [judge(reading(value, band), THREE).word for value in (thick, thin)]
    assert ALONG.index(words[0]) <= ALONG.index(words[1])


@given(values, values, bands, senses)
def test_beyond_the_limit_by_more_than_the_band_is_out_and_nothing_else(value, at, band, sense):
    one = limit(at, sense)
    word = judge(reading(value, band), (one,)).word
    if one.margin(value) < -band - 1e-6:
        assert word is Word.OUT
    elif one.margin(value) > band + 1e-6:
        assert word is Word.SOUND
    elif band > 1e-6 and abs(one.margin(value)) < band - 1e-6:
        assert word is Word.AGAIN


@given(values, values, bands, bands, senses)
def test_more_uncertainty_never_proves_more(value, at, band, more, sense):
    one = (limit(at, sense),)
    narrow = judge(reading(value, band), one).word
    wide = judge(reading(value, band + more), one).word
    assert wide in (narrow, Word.AGAIN)


@given(values, values, bands, senses)
def test_mirroring_value_and_limit_changes_nothing(value, at, band, sense):
    mirrored = {"min": "max", "max": "min", "above": "below", "below": "above"}[sense]
    here = judge(reading(value, band), (limit(at, sense),)).word
    there = judge(reading(-value, band), (limit(-at, mirrored),)).word
    assert here is there


@given(st.floats(), st.one_of(st.none(), st.floats()), senses)
def test_no_float_whatever_makes_a_verdict_out_of_nan(value, uncertainty, sense):
    measured = Measured(value=value, unit="mm", uncertainty=uncertainty)
    verdict = judge(measured, (limit(22.0, sense),))
    hopeless = not math.isfinite(value) or (
        uncertainty is not None and not (math.isfinite(uncertainty) and uncertainty >= 0.0)
    )
    assert (verdict.word is Word.NOT_ASSESSED and bool(verdict.why_not)) or not hopeless
    if uncertainty is None:
        assert verdict.word in (Word.NOT_ASSESSED, Word.AGAIN)


@given(values, bands, st.permutations(THREE))
def test_the_order_of_the_limits_does_not_matter(value, band, shuffled):
    assert judge(reading(value, band), shuffled) == judge(reading(value, band), THREE)


@pytest.mark.parametrize(
    ("value", "expanded", "sense", "level", "word"),
    [
        (14.66, 8.2, "max", 14.0, Word.AGAIN),  # 8.2 is more than half of 14, and 14 lies within
        (14.66, 7.0, "max", 14.0, Word.ACT),  # half of the level is not yet too wide
        (14.66, 0.07, "max", 14.0, Word.ACT),
        (30.0, 8.2, "max", 14.0, Word.ACT),  # wide, yet surely beyond
        (9.0, 8.2, "max", 14.0, Word.SOUND),  # on the allowed side nothing is claimed to be wrong
        (0.08, 0.55, "min", 0.4, Word.AGAIN),
        (0.08, 0.19, "min", 0.4, Word.ACT),
    ],
)
def test_a_level_is_not_passed_by_a_value_as_uncertain_as_the_level(
    value, expanded, sense, level, word
):
    verdict = judge(reading(value, expanded), (limit(level, sense, "act"),))
    assert verdict.word is word
    assert bool(verdict.why_not) is (word is Word.AGAIN)


@given(
    value=st.floats(0.0, 50.0),
    expanded=st.floats(0.0, 30.0),
    narrower=st.floats(0.0, 1.0),
)
def test_a_surer_reading_beyond_a_level_never_falls_back(value, expanded, narrower):
    act = (limit(14.0, "max", "act"),)
    if judge(reading(value, expanded), act).word is Word.ACT:
        assert judge(reading(value, narrower * expanded), act).word is Word.ACT
