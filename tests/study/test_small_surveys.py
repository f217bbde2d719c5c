"""Surveys of one wheelset and two sections: what lacks is said, and nothing stops the rest."""

import json

import numpy as np
import pytest

from tapertread.limits import Word
from tapertread.shapes import design


def the(assessed, asset, quantity, side="both"):
    (one,) = [
        f
        for f in assessed.findings
        if f.subject.asset == asset and f.quantity == quantity and f.subject.side == side
    ]
    return one


def swapped(table, old, new):
    assert old in table
    return table.replace(old, new)


def test_a_new_wheelset_on_new_rails_is_sound(small):
    assessed = small()
    assert [w.word for w in assessed.wheelsets] == [Word.SOUND]
    assert {s.word for s in assessed.sections} == {Word.SOUND}
    steering = the(assessed, "W1", "tread_steering_share")
    assert steering.reason.code == "flange-free"
    assert steering.verdict.measured.value > 0.9
    # needed difference = tape-circle distance x radius / curve radius = 1500 x 460 / 500 000 mm
    assert steering.reason.values["needed_difference_mm"] == pytest.approx(1.38, abs=0.001)
    # S1002 on 60E1 1:40 at 1435 mm and 3 mm: 0.177 (equivalent conicity, EN 15302 definition)
    conicity = the(assessed, "W1", "equivalent_conicity")
    assert conicity.verdict.measured.value == pytest.approx(0.177, abs=0.05)


def test_without_diameters_running_is_not_assessed_and_wear_still_is(small):
    wheelsets = (
        "wheelset,vehicle,axle,campaign,back_to_back_mm,back_to_back_uncertainty_mm\n"
        "W1,V1,1,now,1360.0,0.1\n"
    )
    assessed = small(tables={"wheelsets": wheelsets})
    steering = the(assessed, "W1", "tread_steering_share")
    assert steering.word is Word.NOT_ASSESSED
    assert "diameters were not measured" in steering.why
    assert assessed.wheelsets[0].measures["flange_height_mm.left"].value == pytest.approx(
        28.0, abs=0.15
    )


def test_without_an_outline_its_side_is_named(small):
    wheel = design("S1002")
    assessed = small(wheels={("W1", "left", "now"): wheel.resampled(0.5)})
    steering = the(assessed, "W1", "tread_steering_share")
    assert steering.word is Word.NOT_ASSESSED
    assert "no right outline was measured" in steering.why
    assert the(assessed, "W1", "active_flange_spacing_mm").word is Word.NOT_ASSESSED


OWN_LEVEL = """
[[override]]
id = "eu-conicity-in-service-60-200"
value = 0.15
edition = "invented for this test"
why = "new wheels at 1435 mm lie beyond it and at 1440 mm within it"
"""


def nominal(tables):
    return tables["sections"].replace("measured,0.2,1:40", "nominal,,1:40")


def test_a_nominal_gauge_gives_a_band_and_no_accusation(small, tables):
    """S1002 on 60E1 1:40 at 3 mm: about 0.18 at 1435 mm, under 0.1 at 1440 mm."""
    assessed = small(tables={"sections": nominal(tables)}, config=OWN_LEVEL)
    one = the(assessed, "W1", "equivalent_conicity")
    assert one.word is Word.AGAIN
    assert one.reason.code == "nominal-conicity-band"
    assert one.reason.values["low_conicity"] < 0.12
    assert one.reason.values["high_conicity"] > 0.16
    assert the(assessed, "S1", "gauge_mm").word is Word.NOT_ASSESSED
    (section,) = [s for s in assessed.sections if s.section == "S1"]
    assert any("only nominal" in note for note in section.notes)


def test_the_same_gauge_measured_is_judged(small):
    one = the(small(config=OWN_LEVEL), "W1", "equivalent_conicity")
    assert one.word is Word.ACT
    assert one.limit.status == "user override"
    assert one.limit.edition == "invented for this test"


def test_a_nominal_gauge_far_from_every_level_leaves_the_word(small, tables):
    assessed = small(tables={"sections": nominal(tables)})
    one = the(assessed, "W1", "equivalent_conicity")
    assert one.word is Word.SOUND
    assert one.reason.values["low_conicity"] < one.reason.values["high_conicity"]


@pytest.mark.parametrize("orientation", ["reversible", "unknown"])
def test_vehicles_that_may_stand_either_way_get_the_worse_way(small, tables, orientation):
    """The left wheel is larger, so that a right curve is helped; turned about it is hindered."""
    wheelsets = swapped(tables["wheelsets"], "920.0,920.0", "922.0,920.0")
    vehicles = swapped(tables["vehicles"], "known", orientation)
    both = small(tables={"wheelsets": wheelsets, "vehicles": vehicles})
    one = the(both, "W1", "tread_steering_share")
    assert one.verdict.measured.value < 0.9
    assert any("either way round" in note for note in both.notes)


def test_a_known_way_round_is_taken_as_it_is(small, tables):
    wheelsets = swapped(tables["wheelsets"], "920.0,920.0", "922.0,920.0")
    helped = small(tables={"wheelsets": wheelsets})
    one = the(helped, "W1", "tread_steering_share")
    assert one.verdict.measured.value == pytest.approx(1.0)
    assert not any("either way round" in note for note in helped.notes)


def test_a_design_that_nobody_knows_refuses_its_outlines_by_name(small, tables):
    sections = tables["sections"].replace("60E1", "rail of my own")
    assessed = small(tables={"sections": sections})
    assert all(
        "unknown-design" in one.reason or "rail of my own" in one.reason for one in assessed.refused
    )
    assert len(assessed.refused) == 4
    for name in ("S1", "S2"):
        for side in ("left", "right"):
            assert the(assessed, name, "outline_trust", side).word is Word.AGAIN
    assert the(assessed, "W1", "tread_steering_share").word is Word.NOT_ASSESSED
    assert assessed.wheelsets[0].measures["flange_height_mm.left"].value is not None


def test_without_services_nobody_knows_who_runs_where(small):
    assessed = small(tables={"services": ""})
    one = the(assessed, "W1", "tread_steering_share")
    assert one.word is Word.NOT_ASSESSED
    assert "fleet F" in one.why
    assert all(section.measures.get("flange_share") is None for section in assessed.sections)


def test_without_a_route_sections_are_straight_and_their_speed_is_unknown(small):
    assessed = small(tables={"route": ""})
    assert {section.section for section in assessed.sections} == {"S1", "S2"}
    assert all(np.isinf(section.curve_radius_m) for section in assessed.sections)
    steering = [f for f in assessed.findings if f.quantity == "tread_steering_share"]
    assert not steering
    for section in assessed.sections:
        assert any("no route" in note for note in section.notes)


def test_all_outlines_refused_still_ends_in_an_assessment(small):
    wheel, rail = design("S1002").resampled(0.5), design("60E1").resampled(0.5)
    small_wheel = wheel.with_points(0.2 * wheel.y_mm, 0.2 * wheel.z_mm)
    small_rail = rail.with_points(0.3 * rail.y_mm, 0.3 * rail.z_mm)
    sides = ("left", "right")
    assessed = small(
        wheels={("W1", side, "now"): small_wheel for side in sides},
        rails={(name, side, "now"): small_rail for name in ("S1", "S2") for side in sides},
    )
    assert len(assessed.refused) == 6
    assert {w.word for w in assessed.wheelsets} == {Word.AGAIN}
    assert not [f for f in assessed.findings if f.word in (Word.OUT, Word.ACT, Word.WATCH)]
    assert assessed.pictures == ()
    json.dumps(assessed.to_dict(), allow_nan=False)


def test_nothing_measured_at_all_is_no_fault(small):
    assessed = small(wheels={}, rails={})
    assert [w.word for w in assessed.wheelsets] == [Word.NOT_ASSESSED]
    assert {s.word for s in assessed.sections} <= {Word.NOT_ASSESSED, Word.SOUND}
    assert assessed.pictures == ()
    json.dumps(assessed.to_dict(), allow_nan=False)


def test_two_campaigns_give_what_changed(small, tables):
    wheel = design("S1002")
    campaigns = "campaign,date,repeatability_mm\nbefore,2030-04-01,0.02\nnow,2031-04-01,0.02\n"
    row = "W1,V1,1,now,920.0,920.0,0.05,1360.0,0.1\n"
    wheelsets = tables["wheelsets"] + row.replace("now", "before")
    assessed = small(
        tables={"campaigns": campaigns, "wheelsets": wheelsets},
        wheels={
            ("W1", side, campaign): wheel.resampled(0.5)
            for side in ("left", "right")
            for campaign in ("before", "now")
        },
    )
    changes = assessed.wheelsets[0].changes
    assert changes["flange_thickness_mm.left"].value == pytest.approx(0.0, abs=1e-9)
    assert changes["flange_thickness_mm.left"].uncertainty > 0.0
    assert not assessed.sections[0].changes


def test_an_outline_of_an_earlier_campaign_does_not_stand_in_for_a_missing_one(small, tables):
    """Diameters of now and outlines of before would be a wheelset that never was."""
    wheel = design("S1002")
    campaigns = "campaign,date,repeatability_mm\nbefore,2030-04-01,0.02\nnow,2031-04-01,0.02\n"
    row = "W1,V1,1,now,920.0,920.0,0.05,1360.0,0.1\n"
    assessed = small(
        tables={
            "campaigns": campaigns,
            "wheelsets": tables["wheelsets"] + row.replace("now", "before"),
        },
        wheels={("W1", side, "before"): wheel.resampled(0.5) for side in ("left", "right")},
    )
    for side in ("left", "right"):
        missing = the(assessed, "W1", "outline_trust", side)
        assert missing.word is Word.NOT_ASSESSED
        assert "campaign now" in missing.why
    assert the(assessed, "W1", "tread_steering_share").word is Word.NOT_ASSESSED


def test_sources_are_those_of_limits_shapes_and_methods_used(small):
    whole = small()
    assert {"tsi-locpas-2014", "en13674-1", "klingel-1883", "gum-2008"} <= set(whole.sources)
    keys = {one["key"] for one in whole.to_dict()["sources"]}
    assert keys == set(whole.sources)
