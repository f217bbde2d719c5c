"""Flange contact, the end of the tread, and how far the contact wanders."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from tapertread.contact import ContactTable, contact_bandwidth, contact_table, flange_contact
from tapertread.contact.flange import TREAD_ANGLE_RAD, fine_table, rides_rim, tread_end


@pytest.fixture(scope="module")
def s1002(shapes: Any) -> ContactTable:
    return contact_table(shapes.wheelset("S1002"), shapes.track("60E1"))


def test_s1002_flange_bears_near_6_to_6_5_mm(s1002: ContactTable) -> None:
    """Computed apart from this project: flange contact near 6 to 6.5 mm at 1435 mm."""
    flange = flange_contact(s1002)
    assert flange.right_mm is not None
    assert 6.0 < flange.right_mm < 6.5
    assert flange.left_mm == pytest.approx(-flange.right_mm, abs=1e-6)
    assert flange.nearest_mm == pytest.approx(flange.right_mm, abs=1e-6)
    assert flange.angle_rad == pytest.approx(math.radians(45.0))


def test_flange_contact_follows_the_gauge(shapes: Any, s1002: ContactTable) -> None:
    """Each millimetre of gauge gives either side half a millimetre more."""
    wide = contact_table(s1002.wheelset, shapes.track("60E1", gauge_mm=1439.0))
    one, other = flange_contact(s1002).right_mm, flange_contact(wide).right_mm
    assert one is not None
    assert other is not None
    assert other - one == pytest.approx(2.0, abs=0.1)


def test_the_answer_does_not_depend_on_the_tables_step(s1002: ContactTable) -> None:
    coarse = contact_table(s1002.wheelset, s1002.track, shifts_mm=np.arange(-10.0, 10.1, 2.5))
    assert flange_contact(coarse).right_mm == pytest.approx(
        flange_contact(s1002).right_mm, abs=1e-9
    )
    unrefined = flange_contact(s1002, refine=False).right_mm
    assert unrefined == pytest.approx(flange_contact(s1002).right_mm, abs=0.25)


def test_a_70_degree_flange_climbs_on_without_an_end(s1002: ContactTable) -> None:
    """460 mm x tan 70° = 1264 mm < 1500 mm: the axle can shift on while the wheel climbs."""
    assert 460.0 * math.tan(math.radians(70.0)) < s1002.wheelset.tape_circle_distance_mm
    assert s1002.left_end == s1002.right_end == ""
    assert s1002.notes == ()
    assert np.isfinite(s1002.roll_rad).all()
    steepest = np.nanmax(s1002.right.contact_angle_rad)
    assert math.degrees(steepest) == pytest.approx(70.0, abs=3.0)


def test_a_75_degree_flange_ends_stable_contact_by_a_fold(shapes: Any) -> None:
    """460 mm x tan 75° = 1717 mm > 1500 mm: raising the wheel takes the rail away faster.

    Both wheels then touch at no larger shift; the roll would have to leap up the flange.
    """
    wheelset = shapes.wheelset("freight-1-20")
    assert 460.0 * math.tan(math.radians(75.0)) > wheelset.tape_circle_distance_mm
    table = contact_table(wheelset, shapes.track("60E1"))
    assert table.left_end == table.right_end == "climbs"
    stands = np.isfinite(table.roll_rad)
    assert 5.0 < table.shift_mm[stands][-1] < 7.0
    assert np.isnan(table.right.rolling_radius_mm[~stands]).all()
    assert len(table.notes) == 2
    for note in table.notes:
        assert "no stable contact" in note
        assert "the axle" in note
    flange = flange_contact(table)
    assert flange.right_mm is not None
    assert flange.right_mm == pytest.approx(table.shift_mm[stands][-1], abs=0.25)


def test_a_fold_below_the_asked_angle_stops_the_axle_all_the_same(shapes: Any) -> None:
    """Flange contact is reported at the last shift that stands, though 74° is never reached."""
    table = contact_table(shapes.wheelset("freight-1-20"), shapes.track("60E1"))
    steep = flange_contact(table, angle_rad=math.radians(74.0))
    fine = fine_table(table)
    last = fine.shift_mm[np.isfinite(fine.roll_rad)][-1]
    assert steep.right_mm == pytest.approx(last, abs=1e-9)


def test_wheels_without_a_flange_have_no_flange_contact(shapes: Any) -> None:
    table = contact_table(shapes.wheelset("cylinder-no-flange"), shapes.track("60E1"))
    flange = flange_contact(table)
    assert flange.right_mm is None
    assert flange.left_mm is None
    assert flange.nearest_mm is None


def test_off_the_rail_is_no_flange_contact(shapes: Any) -> None:
    table = contact_table(
        shapes.wheelset(shapes.cone(0.05, half_width_mm=25.0)),
        shapes.track("60E1"),
        shifts_mm=np.arange(-60.0, 60.5, 0.5),
    )
    assert table.right_end == "off the rail"
    assert flange_contact(table).right_mm is None


def test_a_rim_chamfer_is_no_flange(shapes: Any) -> None:
    """Gauge 1600 mm: the wheels hang between the rails by their rims, 70 mm from any flange."""
    table = contact_table(shapes.wheelset("S1002"), shapes.track("60E1", gauge_mm=1600.0))
    assert np.nanmax(table.right.contact_angle_rad) > math.radians(44.0)
    assert np.nanmin(table.right.wheel_y_mm) > 55.0
    flange = flange_contact(table)
    assert flange.right_mm is None
    assert flange.left_mm is None
    right, left = (rides_rim(table, side=side) for side in ("right", "left"))
    assert right[table.shift_mm == -5.0].all()
    assert not right[table.shift_mm == 7.0].any()
    np.testing.assert_array_equal(right, left[::-1])


def test_no_wheel_rides_its_rim_on_its_own_gauge(s1002: ContactTable) -> None:
    assert not rides_rim(s1002, side="right").any()
    assert not rides_rim(s1002, side="left").any()


def test_a_wheel_at_the_end_of_its_outline_rides_the_edge(shapes: Any) -> None:
    wheel = shapes.cone(0.02, half_width_mm=25.0)
    table = contact_table(
        shapes.wheelset(wheel), shapes.track("60E1"), shifts_mm=np.arange(-60.0, 60.5, 0.5)
    )
    rides = rides_rim(table, side="right")
    assert rides.any()
    assert (table.right.wheel_y_mm[rides] > 23.0).all()


def test_tread_ends_with_the_last_flat_contact(s1002: ContactTable) -> None:
    fine = fine_table(s1002)
    for way, side in ((1, fine.right), (-1, fine.left)):
        end = tread_end(fine, way=way, from_mm=0.0)
        assert side.contact_angle_rad[end] < TREAD_ANGLE_RAD
        assert side.contact_angle_rad[end + way] >= TREAD_ANGLE_RAD
        assert 4.5 < way * fine.shift_mm[end] < 5.0


def test_fine_table_keeps_what_was_put_together(s1002: ContactTable) -> None:
    fine = fine_table(s1002)
    assert fine.shift_mm[0] == s1002.shift_mm[0]
    assert fine.shift_mm[-1] == s1002.shift_mm[-1]
    assert np.diff(fine.shift_mm).max() == pytest.approx(1.0 / 64.0)
    assert fine.grid_mm == s1002.grid_mm


def test_bandwidth_of_a_cone_is_that_of_its_rails_circle(shapes: Any) -> None:
    """On a cone the contact stays on one line of the rail and wanders over the wheel."""
    table = contact_table(
        shapes.wheelset(shapes.cone(0.05)),
        shapes.round_track(300.0, 0.05, half_spacing_mm=750.0),
        shifts_mm=np.linspace(-4.0, 4.0, 33),
    )
    band = contact_bandwidth(table, amplitude_mm=3.0, line_mm=0.0)
    # the axle's 6 mm, and the roll of 6.88e-5 rad/mm times both levers, 460 mm and 300 mm
    assert band.wheel_mm == pytest.approx(6.0 * (1.0 + 760.0 * 6.8835e-5), rel=2e-3)
    assert band.rail_mm == pytest.approx(300.0 * 6.0 * 6.8835e-5, rel=1e-2)


def test_bandwidth_grows_with_the_leap(s1002: ContactTable) -> None:
    calm = contact_bandwidth(s1002, amplitude_mm=4.0, line_mm=0.0)
    leaping = contact_bandwidth(s1002, amplitude_mm=5.5, line_mm=0.0)
    assert leaping.wheel_mm > calm.wheel_mm + 10.0


def test_bandwidth_without_contact_is_no_number(s1002: ContactTable) -> None:
    nowhere = contact_bandwidth(s1002, amplitude_mm=0.01, line_mm=50.0)
    assert math.isnan(nowhere.wheel_mm)
    assert math.isnan(nowhere.rail_mm)
