"""The stories of the invented railways (docs/demo.md) come out as a reader should see them."""

import pytest

from tapertread.limits import Word

BEYOND = {Word.WATCH, Word.ACT, Word.OUT, Word.AGAIN}


def test_a_hollow_wheelset_steers_the_wrong_way_in_sharp_curves(main_demo):
    one = main_demo.the("BR02-1", "tread_steering_share")
    assert one.word is Word.ACT
    assert one.reason.code == "curve-steers-wrong-way"
    assert abs(one.reason.values["curve_radius_m"]) <= 300.0
    assert one.verdict.measured.value < 0.0
    conicity = main_demo.the("BR02-1", "equivalent_conicity")
    assert conicity.word is Word.NOT_ASSESSED
    assert conicity.reason.code in ("conicity-diverges", "conicity-undefined")


@pytest.mark.parametrize("name", ["BR02-1", "BR02-2", "BR06-3"])
def test_hollow_treads_are_beyond_their_level(main_demo, name):
    for side in ("left", "right"):
        assert main_demo.the(name, "tread_hollow_mm", side).word is Word.ACT


def test_the_thin_flange_is_out_of_limit_left_first(main_demo):
    assert main_demo.the("SQ05-2", "flange_thickness_mm", "left").word is Word.OUT
    assert main_demo.the("SQ05-2", "flange_thickness_mm", "right").word in BEYOND - {Word.OUT}
    assert main_demo.the("SQ05-2", "active_flange_spacing_mm").word is Word.OUT


def test_a_face_worn_steep_is_out_of_limit_though_the_flange_is_thick(main_demo):
    for side in ("left", "right"):
        assert main_demo.the("SQ04-2", "flange_slope_mm", side).word is Word.OUT
        assert main_demo.the("SQ04-2", "flange_thickness_mm", side).word is not Word.OUT


@pytest.mark.parametrize("name", ["SQ03-1", "SQ03-2"])
def test_one_flange_does_all_the_work(main_demo, name):
    slopes = {s: main_demo.the(name, "flange_slope_mm", s).word for s in ("left", "right")}
    assert set(slopes.values()) == {Word.OUT, Word.SOUND}
    worn = next(side for side, word in slopes.items() if word is Word.OUT)
    # SQ03-1 was brought in with its sides exchanged, and the assessment says so
    exchanged = bool(main_demo.findings(name, "sides_swapped"))
    assert worn == ("right" if exchanged else "left")
    assert exchanged is (name == "SQ03-1")


def test_unequal_diameters_run_off_centre_toward_the_smaller_wheel(main_demo):
    assert main_demo.the("SQ06-3", "diameter_difference_mm").word is Word.ACT
    line = main_demo.the("SQ06-3", "play_used_share")
    assert line.reason.values["flange_side"] == "left"
    assert line.reason.values["rolling_line_mm"] > 1.5
    steering = main_demo.the("SQ06-3", "tread_steering_share")
    assert steering.word in BEYOND
    assert steering.reason.values["curve_radius_m"] > 0.0  # outward is to the left there
    other = main_demo.the("BR06-4", "play_used_share")
    assert other.reason.values["flange_side"] == "right"
    assert other.word in (Word.ACT, Word.WATCH, Word.AGAIN)


@pytest.mark.parametrize("name", ["BR04-1", "BR04-2"])
def test_worn_flange_backs_are_taken_out_of_the_back_to_back(main_demo, name):
    wheelset = main_demo.wheelsets[name]
    true = main_demo.truth.wheelsets[name, main_demo.campaign]
    assert wheelset.record.back_to_back_mm - true.back_to_back_mm > 2.0
    assert wheelset.shape().back_to_back_mm == pytest.approx(true.back_to_back_mm, abs=0.4)
    for side in ("left", "right"):
        assert wheelset.measures[f"flange_thickness_mm.{side}"].value == pytest.approx(
            true.wheel(side).measures["flange_thickness_mm"], abs=0.15
        )


@pytest.mark.parametrize("name", ["Q130", "Q126"])
def test_tight_straights_are_the_common_cause_of_high_conicity(main_demo, name):
    one = main_demo.the(name, "high_conicity_share")
    assert one.word is Word.ACT
    assert one.reason.code == "section-conicity-share"
    assert name in main_demo.ground().common_cause
    blamed = [
        f
        for f in main_demo.assessment.findings
        if f.quantity == "equivalent_conicity" and f.word is Word.ACT
    ]
    assert not [f for f in blamed if f.against == name]


def test_low_conicity_where_rails_lean_one_in_twenty(main_demo):
    met = [
        one.conicity for one in main_demo.crossing.by_section["Q127"] if one.conicity is not None
    ]
    assert sorted(met)[len(met) // 2] < 0.06
    assert main_demo.the("Q127", "high_conicity_share").word is Word.SOUND


def test_rails_that_lean_otherwise_than_their_register_are_told_and_no_others(main_demo):
    told = {
        one.section
        for one in main_demo.assessment.sections
        if any("lean" in note and "register" in note for note in one.notes)
    }
    assert told == {"Q132"}


def test_the_sharpest_curve_has_its_outer_rail_side_worn(main_demo):
    one = main_demo.the("Q114", "side_wear_mm", "left")
    assert one.word is Word.ACT
    assert one.limit.status == "user override"
    assert main_demo.the("Q114", "side_wear_mm", "right").word is Word.SOUND


def test_an_empty_lubricator_is_remarked_where_its_curve_is(main_demo):
    told = {
        one.section
        for one in main_demo.assessment.sections
        if any("lubricator" in note for note in one.notes)
    }
    assert told == {"Q113", "Q114"}
    greased = {"Q108", "Q111", "Q116", "Q207"}
    dry = {
        one.section
        for one in main_demo.assessment.sections
        if any("tribometer" in note for note in one.notes)
    }
    assert dry
    assert not dry & greased


def test_what_was_turned_or_ground_since_the_campaign_before_is_remarked(main_demo):
    now = main_demo.campaign
    turned = {n for (n, c), t in main_demo.truth.wheelsets.items() if c == now and t.event}
    told = {w.wheelset for w in main_demo.assessment.wheelsets if w.notes}
    assert told == turned == {f"{v}-{axle}" for v in ("SQ02", "BR03") for axle in range(1, 5)}
    ground = {
        n
        for (n, c), t in main_demo.truth.sections.items()
        if c == now and "ground" in (t.left.event, t.right.event)
    }
    cut = {s.section for s in main_demo.assessment.sections if any("cut" in n for n in s.notes)}
    assert cut == ground == {"Q109", "Q117", "Q119", "Q121"}


def test_about_half_of_everything_is_sound(main_demo):
    wheelsets = [one.word for one in main_demo.assessment.wheelsets]
    sections = [one.word for one in main_demo.assessment.sections]
    assert 0.4 <= wheelsets.count(Word.SOUND) / len(wheelsets) <= 0.75
    assert 0.4 <= sections.count(Word.SOUND) / len(sections) <= 0.75


def test_wheelsets_without_a_story_are_not_out_of_limit(main_demo):
    out = {f.subject.asset for f in main_demo.assessment.findings if f.word is Word.OUT}
    assert out == {"SQ05-2", "SQ04-2", "SQ03-1", "SQ03-2"}


def test_the_small_railway_in_us_units(us_demo):
    assessed = us_demo.assessment
    assert assessed.units == "us"
    assert us_demo.ground().gauge_rule == "at-five-eighths-inch"
    thin = us_demo.the("UL02-3", "flange_thickness_us_mm", "left")
    assert thin.word in (Word.OUT, Word.AGAIN)
    assert " in " in thin.why
    assert thin.limit.source == "cfr-215"
    hollow = us_demo.the("UL02-1", "tread_steering_share")
    assert hollow.word is Word.ACT
    assert "°" in hollow.why
    leaning = us_demo.the("UL04-2", "play_used_share")
    assert leaning.word in (Word.WATCH, Word.ACT)
    gauges = [f for f in assessed.findings if f.quantity == "gauge_mm" and f.limit is not None]
    assert {f.limit.source for f in gauges} == {"cfr-213"}
    assert not [f for f in assessed.findings if f.quantity == "flange_thickness_mm"]
    assert any("no conicity limit" in note for note in assessed.notes)
    assert sum(w.word is Word.NOT_ASSESSED for w in assessed.wheelsets) <= 3
