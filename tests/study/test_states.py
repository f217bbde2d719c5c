"""Wheelsets and sections as they can meet: what is used, what is taken out, what is missing."""

from dataclasses import replace

import numpy as np
import pytest

from tapertread.shapes import design
from tapertread.shapes.alignment import Held
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.inspect import measure_outline
from tapertread.shapes.traps import Trap
from tapertread.study.states import (
    NO_BACK_TO_BACK,
    NO_DIAMETER,
    SectionOnHand,
    WheelsetOnHand,
    as_laid,
    lean_of,
    section_measures,
    wheelset_measures,
    worn_back_mm,
)

LEAN_RAD = 0.025


@pytest.fixture(scope="module")
def wheel():
    return measure_outline(
        design("S1002").resampled(0.5), kind="wheel", design=design_drawing("S1002")
    )


@pytest.fixture(scope="module")
def rail():
    return measure_outline(
        design("60E1").resampled(0.5), kind="rail", design=design_drawing("60E1"), datum="given"
    )


@pytest.fixture(scope="module")
def leaning_rail():
    """Return a rail as a train gives it: in the track plane, leaning 25 mrad."""
    upright = design("60E1").resampled(0.5)
    given = replace(upright.moved(turn_rad=LEAN_RAD), frame="track-plane")
    return measure_outline(given, kind="rail", design=design_drawing("60E1"))


def test_a_whole_wheelset_can_meet(vehicle, wheelset_record, wheel):
    one = WheelsetOnHand(
        record=wheelset_record(), vehicle=vehicle(), sides={"left": wheel, "right": wheel}
    )
    shape = one.shape()
    assert shape.left_radius_mm == 460.0
    assert shape.tape_circle_distance_mm == pytest.approx(1500.0)
    assert one.why_no_shape() == ""
    assert one.mean_diameter_mm == 920.0


@pytest.mark.parametrize(
    ("lacks", "why"),
    [
        ({"left_diameter_mm": None}, NO_DIAMETER),
        ({"left_diameter_mm": None, "right_diameter_mm": None}, NO_DIAMETER),
        ({"back_to_back_mm": None}, NO_BACK_TO_BACK),
    ],
)
def test_what_a_wheelset_lacks_is_said_and_never_filled_in(
    vehicle, wheelset_record, wheel, lacks, why
):
    one = WheelsetOnHand(
        record=wheelset_record(**lacks), vehicle=vehicle(), sides={"left": wheel, "right": wheel}
    )
    assert one.shape() is None
    assert one.why_no_shape() == why
    one_known = "left_diameter_mm" in lacks and "right_diameter_mm" not in lacks
    known = 920.0 if one_known or "back_to_back_mm" in lacks else None
    assert one.mean_diameter_mm == known


def test_a_refused_outline_cannot_meet_and_says_by_what(vehicle, wheelset_record, wheel):
    spoiled = replace(wheel, trust="refused", why="stitch-step: the curve jumps")
    one = WheelsetOnHand(
        record=wheelset_record(), vehicle=vehicle(), sides={"left": wheel, "right": spoiled}
    )
    assert one.shape() is None
    assert (
        one.why_no_shape() == "the right outline cannot be trusted (stitch-step: the curve jumps)"
    )


def test_an_outline_that_was_refused_before_measuring_keeps_its_reason(vehicle, wheelset_record):
    one = WheelsetOnHand(
        record=wheelset_record(),
        vehicle=vehicle(),
        sides={"left": None, "right": None},
        refused={"left": "a mirrored outline (mirrored-outline)"},
    )
    assert "mirrored-outline" in one.why_no_shape()


def test_worn_flange_backs_are_taken_out_of_the_reading(vehicle, wheelset_record, wheel):
    trap = Trap(name="flange-back-worn", severity="mark", found="worn", size_mm=1.2)
    worn = replace(wheel, traps=(trap,))
    one = WheelsetOnHand(
        record=wheelset_record(back_to_back_mm=1361.2),
        vehicle=vehicle(),
        sides={"left": worn, "right": wheel},
    )
    assert worn_back_mm(worn) == 1.2
    assert worn_back_mm(wheel) == worn_back_mm(None) == 0.0
    assert one.shape().back_to_back_mm == pytest.approx(1360.0)


def test_a_rail_in_the_track_plane_lies_as_it_was_measured(leaning_rail):
    laid = as_laid(leaning_rail)
    assert laid.frame == "track-plane"
    given = leaning_rail.raw
    assert np.ptp(laid.z_mm) == pytest.approx(np.ptp(given.z_mm), abs=0.02)
    assert lean_of(leaning_rail).value == pytest.approx(-1000.0 * -LEAN_RAD, abs=1.0)


def test_an_upright_rail_is_left_to_the_inclination(rail):
    assert as_laid(rail).frame == "rail-axis"
    assert as_laid(rail) is rail.outline
    assert lean_of(rail).value is None


def test_a_lean_that_nothing_holds_is_missing_with_the_reason(leaning_rail):
    loose = replace(
        leaning_rail,
        aligned=replace(
            leaning_rail.aligned, turn=Held(by="", uncertainty=float("inf"), reason="no flank")
        ),
    )
    assert lean_of(loose).value is None
    assert lean_of(loose).reason == "no flank"


def test_a_track_keeps_gauge_and_lean_of_its_section(section_record, rail):
    one = SectionOnHand(
        record=section_record(inclination="1:20", gauge_mm=1436.5),
        piece=None,
        sides={"left": rail, "right": rail},
    )
    track = one.track(gauge_rule="at-five-eighths-inch")
    assert (track.gauge_mm, track.inclination) == (1436.5, 0.05)
    assert track.gauge_rule == "at-five-eighths-inch"


def test_without_any_gauge_there_is_no_track(section_record, rail):
    one = SectionOnHand(
        record=section_record(gauge_mm=None), piece=None, sides={"left": rail, "right": rail}
    )
    assert one.track(gauge_rule="smallest-0-14-mm") is None
    assert "gauge" in one.why_no_shape()


def test_spacing_is_back_to_back_and_both_flanges(wheelset_record, wheel):
    """Active flange spacing of new S1002 at 1360 mm: 1360 + 2 x 32.5 = 1425 mm."""
    measures = wheelset_measures(wheelset_record(), {"left": wheel, "right": wheel})
    assert measures["active_flange_spacing_mm"].value == pytest.approx(1425.0, abs=0.1)
    assert measures["diameter_difference_mm"].value == 0.0
    lacking = wheelset_measures(wheelset_record(), {"left": wheel, "right": None})
    assert lacking["active_flange_spacing_mm"].value is None
    assert "outline" in lacking["active_flange_spacing_mm"].reason


def test_a_nominal_gauge_is_no_measured_one(section_record, rail):
    sides = {"left": rail, "right": rail}
    nominal = section_measures(section_record(gauge_known="nominal"), sides)["gauge_mm"]
    assert nominal.value is None
    assert "nominal" in nominal.reason
    bare = section_measures(section_record(gauge_uncertainty_mm=None), sides)["gauge_mm"]
    assert (bare.value, bare.uncertainty) == (1435.0, None)
