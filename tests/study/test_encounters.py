"""What one wheelset does on one section: mirror images, standing turned about, and refusals."""

import math
from dataclasses import replace

import pytest

from tapertread.contact import TrackShape, WheelsetShape
from tapertread.shapes import design
from tapertread.study.encounters import (
    Encounter,
    Meeting,
    encounter_table,
    meet,
    turned_about,
    worst_steering,
)

WHEEL, HOLLOW, RAIL = design("S1002"), design("hollow-worn"), design("60E1")


def wheels(*, left=WHEEL, right=WHEEL, left_mm=460.0, right_mm=460.0):
    return WheelsetShape(
        left=left,
        right=right,
        left_radius_mm=left_mm,
        right_radius_mm=right_mm,
        back_to_back_mm=1360.0,
    )


def meeting(shape, *, curve_radius_m=math.inf, gauge_mm=1435.0):
    return Meeting(
        wheelset="W",
        section="S",
        wheels=shape,
        track=TrackShape(left=RAIL, right=RAIL, gauge_mm=gauge_mm),
        curve_radius_m=curve_radius_m,
    )


UNEQUAL = wheels(left=HOLLOW, left_mm=460.4)


def test_turning_about_twice_changes_nothing():
    assert turned_about(turned_about(UNEQUAL)) == UNEQUAL


def test_turned_about_the_wheels_change_rails():
    turned = turned_about(UNEQUAL)
    assert turned.right is UNEQUAL.left
    assert turned.right_radius_mm == UNEQUAL.left_radius_mm


@pytest.mark.parametrize("radius_m", [300.0, 700.0])
def test_a_turned_wheelset_in_the_mirrored_curve_does_the_same(radius_m):
    """Mirror symmetry: on equal rails, left and right, curve and wheelset exchanged together."""
    one = meet(meeting(UNEQUAL, curve_radius_m=radius_m))
    other = meet(meeting(turned_about(UNEQUAL), curve_radius_m=-radius_m))
    assert other.steering.available_tread_mm == pytest.approx(
        one.steering.available_tread_mm, abs=2e-3
    )
    assert other.line_mm == pytest.approx(-one.line_mm, abs=2e-2)
    assert other.rail_place_mm["left"] == pytest.approx(one.rail_place_mm["right"], abs=0.3)


def test_a_larger_left_wheel_rolls_toward_the_right():
    """The smaller wheel is led outward until both roll on equal radii [klingel-1883]."""
    one = meet(meeting(wheels(left_mm=460.3)))
    assert one.line_mm > 0.3
    assert meet(meeting(turned_about(wheels(left_mm=460.3)))).line_mm == pytest.approx(
        -one.line_mm, abs=2e-2
    )


def test_equal_wheels_run_in_the_middle():
    one = meet(meeting(wheels()))
    assert abs(one.line_mm) < 0.05
    assert one.play_used_share < 0.02
    assert one.conicity == pytest.approx(0.177, abs=0.01)  # S1002, 60E1 1:40, 1435 mm, 3 mm
    assert one.steering is None


def test_a_curve_is_wider_than_straight_only_up_to_a_bound():
    assert meeting(wheels(), curve_radius_m=6000.0).straight
    assert not meeting(wheels(), curve_radius_m=-4000.0).straight


def test_needed_difference_is_distance_times_radius_over_curve_radius():
    one = meet(meeting(wheels(), curve_radius_m=500.0))
    assert one.steering.needed_difference_mm == pytest.approx(1500.0 * 460.0 / 500_000.0)


def test_the_difference_that_a_shift_gives_is_the_published_one():
    """S1002 on 60E1 1:40: 0.9588 mm at 3 mm and 1.1855 mm at 4 mm (computed independently)."""
    table = encounter_table(meeting(wheels()))
    for shift, difference in ((3.0, 0.9588), (4.0, 1.1855)):
        at = abs(table.shift_mm - shift).argmin()
        assert table.rolling_radius_difference_mm[at] == pytest.approx(difference, abs=0.005)
    tread = meet(meeting(wheels(), curve_radius_m=500.0)).steering
    assert 4.0 <= tread.tread_shift_mm < 5.0  # the leap to the root lies between 4.5 and 5 mm
    assert 1.1855 <= tread.available_tread_mm < 3.6888


def test_a_wheelset_that_does_not_fit_is_a_problem_and_no_stop():
    one = meet(meeting(wheels(), gauge_mm=1420.0))
    assert one.problem
    assert one.steering is None
    assert one.conicity is None


def test_what_the_tread_gives_is_read_on_the_tread():
    """A cone whose rolling line lies past the leap to its root gives what it gave before it."""
    cone = design("cone-1-40")
    leaning = wheels(left=cone, right=cone, right_mm=460.35)
    one = meet(meeting(leaning, curve_radius_m=300.0, gauge_mm=1437.0))
    table = encounter_table(meeting(leaning, curve_radius_m=300.0, gauge_mm=1437.0))
    at = abs(table.shift_mm + one.steering.tread_shift_mm).argmin()
    assert math.degrees(table.left.contact_angle_rad[at]) < 15.0
    assert one.steering.available_tread_mm < 0.5


def test_the_worst_curve_is_where_most_is_lacking():
    sharp = meet(meeting(wheels(), curve_radius_m=250.0))
    wide = meet(meeting(wheels(), curve_radius_m=900.0))
    straight = Encounter(wheelset="W", section="S", turned=False, curve_radius_m=math.inf)
    assert worst_steering([wide, sharp, straight]) is sharp
    assert worst_steering([straight]) is None


def test_the_end_of_the_tread_is_surer_where_the_difference_runs_flat():
    steep = meet(meeting(wheels(), curve_radius_m=400.0))
    cone = design("cone-1-40")
    flat = meet(meeting(wheels(left=cone, right=cone), curve_radius_m=400.0))
    assert flat.leap_mm < 0.05 < steep.leap_mm + 0.05
    assert flat.leap_mm == pytest.approx(
        0.5 * 0.5 * 2.0 * 0.0256, abs=0.01
    )  # 2 x slope x 0.5 mm / 2


def test_a_meeting_can_be_turned_without_touching_the_first():
    first = meeting(UNEQUAL)
    turned = replace(first, wheels=turned_about(first.wheels), turned=True)
    assert first.wheels.left is HOLLOW
    assert turned.wheels.right is HOLLOW
    assert meet(turned).turned
