"""Why a wheelset's running verdict is what it is, from made-up encounters of known numbers."""

import math
from dataclasses import replace

import pytest

from tapertread.contact import Steering
from tapertread.limits import Word, limit_set, together
from tapertread.railway import RoutePiece
from tapertread.study.encounters import Encounter
from tapertread.study.ground import (
    NOMINAL_GAUGE_BAND_MM,
    Ground,
    conicity_level,
    gauge_part_mm,
    high_conicity_share,
    with_common_causes,
)
from tapertread.study.line import flange_share, section_running
from tapertread.study.meetings import Crossing
from tapertread.study.running import wheelset_running
from tapertread.study.states import SectionOnHand, WheelsetOnHand

LIMITS = together([limit_set("eu-in-service"), limit_set("house-steering")])
NOTHING = {"left": None, "right": None}


def steering(given, *, needed=2.0, radius_m=350.0, reversal=None):
    return Steering(
        curve_radius_m=radius_m,
        needed_difference_mm=needed,
        available_tread_mm=given,
        available_with_root_mm=max(given, 0.0) + 3.0,
        tread_shift_mm=4.0,
        root_shift_mm=6.0,
        equilibrium_outward_shift_mm=None,
        flange_free_by_shape=given >= needed,
        share=min(1.0, max(given, 0.0) / needed),
        reversal=reversal,
    )


def curve(given, where="C1", wheelset="W1", turned=False, **more):
    shape = {key: more.pop(key) for key in ("needed", "radius_m", "reversal") if key in more}
    made = steering(given, **shape)
    return Encounter(
        wheelset=wheelset,
        section=where,
        turned=turned,
        curve_radius_m=made.curve_radius_m,
        steering=made,
        **more,
    )


def straight(conicity, where="S1", wheelset="W1", **more):
    return Encounter(
        wheelset=wheelset,
        section=where,
        turned=more.pop("turned", False),
        curve_radius_m=math.inf,
        conicity=conicity,
        conicity_reason="" if conicity is not None else "not assessed: diverges",
        line_mm=more.pop("line_mm", 0.1),
        play_used_share=more.pop("play_used_share", 0.02),
        **more,
    )


@pytest.fixture
def wheelset(vehicle, wheelset_record):
    return WheelsetOnHand(record=wheelset_record(), vehicle=vehicle(), sides=NOTHING)


@pytest.fixture
def ground(section_record):
    def make(met, *, new=(), nominal=(), nowhere=()):
        by_wheelset, by_section = {}, {}
        for one in met:
            by_wheelset.setdefault(one.wheelset, []).append(one)
            by_section.setdefault(one.section, []).append(one)
        sections = {}
        for name in [*by_section, *(one.section for one in new)]:
            piece = RoutePiece(
                line="L", track="1", from_km=0.0, to_km=5.0, kind="straight", speed_kmh=160.0
            )
            known = "nominal" if name in nominal else "measured"
            radius = next((one.curve_radius_m for one in by_section.get(name, ())), math.inf)
            sections[name] = SectionOnHand(
                record=section_record(section=name, gauge_known=known),
                piece=piece,
                sides=NOTHING,
                curve_radius_m=radius,
            )
        return Ground(
            crossing=Crossing(
                by_wheelset=by_wheelset,
                by_section=by_section,
                new_wheels={("S1002", one.section): one for one in new},
                all_new={("S1002", one.section): one for one in new},
                nowhere=frozenset(nowhere),
            ),
            sections=sections,
            limits=LIMITS,
            system="metric",
            gauge_rule="smallest-0-14-mm",
        )

    return make


def the(found, quantity):
    (one,) = [each for each in found if each.quantity == quantity]
    return one


@pytest.mark.parametrize(
    ("given", "needed", "new", "word", "code"),
    [
        (2.2, 2.0, 2.5, Word.SOUND, "flange-free"),
        (1.9, 2.0, 1.9, Word.SOUND, "curve-like-new"),  # the curve asks for more than new ones give
        (1.2, 2.0, 2.5, Word.WATCH, "curve-worn-treads"),  # 60 % of what is needed
        (0.5, 2.0, 2.5, Word.ACT, "curve-worn-treads"),  # 25 %
        (0.5, 2.0, 0.7, Word.SOUND, "curve-like-new"),  # 71 % of what new treads give
    ],
)
def test_treads_are_held_to_what_is_needed_or_new_ones_give(
    wheelset, ground, given, needed, new, word, code
):
    here = ground([curve(given, needed=needed)], new=[curve(new, needed=needed)])
    one = the(wheelset_running(wheelset, here), "tread_steering_share")
    assert one.word is word
    assert one.reason.code == code
    assert one.verdict.measured.value == pytest.approx(min(given / min(needed, new), 1.0))
    assert one.against == "C1"
    assert one.limit.source == "house-levels"


def test_the_wrong_way_is_said_with_its_numbers(wheelset, ground):
    reversal = object()
    here = ground([curve(-0.8, reversal=reversal)], new=[curve(2.5)])
    one = the(wheelset_running(wheelset, here), "tread_steering_share")
    assert one.word is Word.ACT
    assert one.reason.code == "curve-steers-wrong-way"
    assert "-0.8 mm" in one.why
    assert "wrong way" in one.why


@pytest.mark.parametrize(("given", "share"), [(-9.0, -1.0), (9.0, 1.0)])
def test_a_share_ends_at_all_and_at_as_much_the_wrong_way(wheelset, ground, given, share):
    here = ground([curve(given)], new=[curve(2.5)])
    one = the(wheelset_running(wheelset, here), "tread_steering_share")
    assert one.verdict.measured.value == share


def test_a_curve_in_which_new_treads_fail_too_tells_nothing(wheelset, ground):
    telling, hopeless = curve(2.0, where="C1"), curve(0.0, where="C2", radius_m=120.0, needed=6.0)
    new = [curve(2.5, where="C1"), curve(0.9, where="C2", needed=6.0)]
    one = the(
        wheelset_running(wheelset, ground([telling, hopeless], new=new)), "tread_steering_share"
    )
    assert one.word is Word.SOUND


def test_the_curve_that_says_it_surest_is_the_one_given(wheelset, ground):
    """Less is given in C2, but the leap to the root right before its end leaves it open."""
    sure, unsure = curve(0.5, where="C1"), curve(0.2, where="C2", leap_mm=1.0)
    new = [curve(2.5, where="C1"), curve(2.5, where="C2")]
    one = the(wheelset_running(wheelset, ground([sure, unsure], new=new)), "tread_steering_share")
    assert one.against == "C1"
    assert one.word is Word.ACT


def test_what_cannot_be_told_is_measured_again(wheelset, ground):
    here = ground([curve(0.2, leap_mm=1.0)], new=[curve(2.5)])
    one = the(wheelset_running(wheelset, here), "tread_steering_share")
    assert one.word is Word.AGAIN
    assert one.reason.code == "curve-unsure"
    assert "measure" in one.why


def test_a_nominal_gauge_widens_what_is_said(wheelset, ground):
    made = [
        the(
            wheelset_running(
                wheelset, ground([curve(1.2, slope=0.3)], new=[curve(2.5)], nominal=nominal)
            ),
            "tread_steering_share",
        )
        for nominal in ((), ("C1",))
    ]
    known, nominal = (one.verdict.measured for one in made)
    assert nominal.value == known.value
    assert nominal.uncertainty > 1.5 * known.uncertainty
    part = dict(nominal.parts)["play"]
    assert part == pytest.approx(0.3 * 0.5 * 0.5 * NOMINAL_GAUGE_BAND_MM / 2.0)


def test_without_curves_nothing_is_said_of_steering(wheelset, ground):
    found = wheelset_running(wheelset, ground([straight(0.2)]))
    assert {one.quantity for one in found} == {"equivalent_conicity", "play_used_share"}


@pytest.mark.parametrize(
    ("values", "word", "code"),
    [
        ((0.1, 0.2, 0.3), Word.SOUND, "conicity-sound"),
        ((0.2, 0.5, 0.6), Word.ACT, "conicity-too-high"),
        ((0.2, 0.2, 0.9), Word.SOUND, "conicity-sound"),  # one high value belongs to its section
        ((None, None, 0.2), Word.NOT_ASSESSED, "conicity-diverges"),
    ],
)
def test_a_wheelset_is_judged_by_its_usual_conicity(wheelset, ground, values, word, code):
    """0.4 up to 200 km/h [tsi-inf-2014; recalled]."""
    met = [straight(value, where=f"S{at}") for at, value in enumerate(values)]
    new = [straight(0.18, where=f"S{at}") for at in range(len(values))]
    one = the(wheelset_running(wheelset, ground(met, new=new)), "equivalent_conicity")
    assert one.word is word
    assert one.reason.code == code


def test_sections_that_ask_too_much_of_new_wheels_are_the_cause(wheelset, ground):
    met = [straight(0.6, where="S1"), straight(0.2, where="S2")]
    new = [straight(0.45, where="S1"), straight(0.18, where="S2")]
    here = with_common_causes(ground(met, new=new))
    assert here.common_cause == {"S1"}
    one = the(wheelset_running(wheelset, here), "equivalent_conicity")
    assert one.word is Word.SOUND
    assert one.against == "S2"


def test_sections_on_which_most_exceed_are_the_cause(ground):
    fleet = [straight(value, wheelset=f"W{at}") for at, value in enumerate((0.5, 0.6, 0.3))]
    here = with_common_causes(ground(fleet, new=[straight(0.3)]))
    assert here.common_cause == {"S1"}
    section = here.sections["S1"]
    assert conicity_level(section, here) == pytest.approx(0.4)
    assert high_conicity_share(fleet, section, here) == pytest.approx(2.0 / 3.0)
    one = the(section_running(section, here, bands=[]), "high_conicity_share")
    assert one.word is Word.ACT
    assert one.reason.code == "section-conicity-share"
    assert one.against == "W1"


def test_a_few_high_wheelsets_are_no_common_cause(ground):
    fleet = [
        straight(0.6, wheelset="W0"),
        *(straight(0.2, wheelset=f"W{at}") for at in range(1, 6)),
    ]
    here = with_common_causes(ground(fleet, new=[straight(0.18)]))
    one = the(section_running(here.sections["S1"], here, bands=[]), "high_conicity_share")
    assert one.word is Word.WATCH
    assert one.reason.code == "section-conicity-some"


def test_a_wheelset_either_way_round_counts_once_by_its_worse_way(ground):
    fleet = [straight(0.6), straight(0.2, turned=True), straight(0.2, wheelset="W2")]
    here = ground(fleet)
    assert high_conicity_share(fleet, here.sections["S1"], here) == pytest.approx(0.5)
    curves = [curve(2.2), curve(1.0, turned=True), curve(2.2, wheelset="W2")]
    assert flange_share(curves) == pytest.approx(0.5)


def test_the_share_that_needs_its_flange():
    assert flange_share([curve(2.2), curve(1.0, wheelset="W2")]) == pytest.approx(0.5)
    assert flange_share([curve(2.2)]) == 0.0
    assert flange_share([straight(0.2)]) is None
    assert flange_share([]) is None


@pytest.mark.parametrize(
    ("line_mm", "turned", "toward"),
    [(3.0, False, "right"), (-3.0, False, "left"), (3.0, True, "left"), (-3.0, True, "right")],
)
def test_off_centre_names_the_wheelsets_own_side(wheelset, ground, line_mm, turned, toward):
    met = [straight(0.2, line_mm=line_mm, play_used_share=1.2, turned=turned, clearance_mm=10.0)]
    one = the(wheelset_running(wheelset, ground(met)), "play_used_share")
    assert one.word is Word.ACT
    assert one.reason.values["flange_side"] == toward
    assert one.reason.code == "off-centre-by-shape"


@pytest.mark.parametrize(
    ("left_mm", "right_mm", "line_mm", "code"),
    [
        (920.0, 922.0, -3.0, "off-centre-by-diameter"),  # the smaller, left wheel is led outward
        (922.0, 920.0, 3.0, "off-centre-by-diameter"),
        (922.0, 920.0, -3.0, "off-centre-by-shape"),  # diameters ask for the other side
        (920.0, 920.0, 3.0, "off-centre-by-shape"),
    ],
)
def test_off_centre_is_blamed_on_diameters_only_where_they_ask_for_that_side(
    vehicle, wheelset_record, ground, left_mm, right_mm, line_mm, code
):
    one = WheelsetOnHand(
        record=wheelset_record(left_diameter_mm=left_mm, right_diameter_mm=right_mm),
        vehicle=vehicle(),
        sides=NOTHING,
    )
    met = [straight(0.2, line_mm=line_mm, play_used_share=1.2, clearance_mm=10.0)]
    assert the(wheelset_running(one, ground(met)), "play_used_share").reason.code == code


def test_off_centre_within_the_play_says_how_much_is_left(wheelset, ground):
    met = [straight(0.2, line_mm=1.0, play_used_share=0.2, clearance_mm=10.0)]
    one = the(wheelset_running(wheelset, ground(met)), "play_used_share")
    assert one.word is Word.SOUND
    assert one.reason.values["clearance_mm"] == pytest.approx(4.0)


@pytest.mark.parametrize(
    ("changed", "nowhere", "code", "says"),
    [
        ({"left_diameter_mm": None}, (), "no-side-outline", "no left outline"),
        ({}, ("W1",), "no-side-outline", "no left outline"),
    ],
)
def test_why_a_wheelset_meets_nobody(
    vehicle, wheelset_record, ground, changed, nowhere, code, says
):
    one = WheelsetOnHand(record=wheelset_record(**changed), vehicle=vehicle(), sides=NOTHING)
    (found,) = wheelset_running(one, ground([], nowhere=nowhere))
    assert found.word is Word.NOT_ASSESSED
    assert found.reason.code == code
    assert says in found.why


def test_a_contact_that_is_refused_is_no_encounter(wheelset, ground):
    met = [replace(straight(None), problem="the flanges do not fit")]
    (found,) = wheelset_running(wheelset, ground(met))
    assert found.word is Word.NOT_ASSESSED


def test_the_gauge_part_of_a_section(section_record):
    def section(**changed):
        return SectionOnHand(record=section_record(**changed), piece=None, sides=NOTHING)

    assert gauge_part_mm(section(gauge_uncertainty_mm=0.3)) == 0.3
    assert gauge_part_mm(section(gauge_known="nominal")) == 0.5 * NOMINAL_GAUGE_BAND_MM
