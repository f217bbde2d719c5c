"""What shape can give in a curve, and where a hollow tread steers the wrong way."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tapertread.contact import (
    ContactTable,
    SteeringReach,
    contact_table,
    flange_contact,
    pair_up,
    run_tangent,
    steer_curve,
    steering_reach,
)
from tapertread.contact.flange import TWO_POINT_GAP_MM


@pytest.fixture(scope="module")
def s1002(shapes: Any) -> ContactTable:
    return contact_table(shapes.wheelset("S1002"), shapes.track("60E1"))


@pytest.fixture(scope="module")
def reach(s1002: ContactTable) -> SteeringReach:
    return steering_reach(s1002)


@pytest.fixture(scope="module")
def hollow(shapes: Any) -> ContactTable:
    return contact_table(shapes.wheelset("hollow-worn"), shapes.track("60E1"))


def test_an_even_pairing_gives_as_much_to_either_side(reach: SteeringReach) -> None:
    assert reach.start_mm == pytest.approx(0.0, abs=1e-6)
    assert reach.left.tread_mm == pytest.approx(reach.right.tread_mm, abs=1e-6)
    assert reach.left.root_mm == pytest.approx(reach.right.root_mm, abs=1e-5)
    for radius in (400.0, 900.0, 3000.0):
        to_left = steer_curve(reach, curve_radius_m=-radius)
        to_right = steer_curve(reach, curve_radius_m=radius)
        assert to_left.share == pytest.approx(to_right.share, abs=1e-6)


def test_equilibrium_is_where_the_difference_is_what_is_needed(
    s1002: ContactTable, reach: SteeringReach
) -> None:
    steering = steer_curve(reach, curve_radius_m=-800.0)
    assert steering.equilibrium_outward_shift_mm is not None
    outward = steering.equilibrium_outward_shift_mm  # a left curve: outward is to the right
    table = contact_table(s1002.wheelset, s1002.track, shifts_mm=[outward])
    assert table.rolling_radius_difference_mm[0] == pytest.approx(
        steering.needed_difference_mm, abs=2e-4
    )
    assert steering.needed_difference_mm == pytest.approx(1500.0 * 460.0 / 800e3)


def test_flange_free_by_the_tread_alone(reach: SteeringReach) -> None:
    """The sharpest curve that the tread serves: needed = available, and a hair beyond."""
    limit = reach.scale_mm2 / reach.right.tread_mm / 1000.0
    assert steer_curve(reach, curve_radius_m=-limit * (1 + 1e-9)).flange_free_by_shape
    sharper = steer_curve(reach, curve_radius_m=-limit * (1 - 1e-6))
    assert not sharper.flange_free_by_shape
    assert sharper.share == pytest.approx(1.0, abs=1e-5)


def test_share_falls_with_the_radius(reach: SteeringReach) -> None:
    shares = [steer_curve(reach, curve_radius_m=r).share for r in (150.0, 250.0, 350.0)]
    np.testing.assert_allclose(np.diff(np.array(shares) / [150.0, 250.0, 350.0]), 0.0, atol=1e-12)
    assert all(0.0 < share < 1.0 for share in shares)


def test_out_of_reach_there_is_no_equilibrium(reach: SteeringReach) -> None:
    assert reach.right.root_mm < 10.0
    assert steer_curve(reach, curve_radius_m=60.0).equilibrium_outward_shift_mm is None
    root = steer_curve(reach, curve_radius_m=150.0)
    assert root.equilibrium_outward_shift_mm is not None  # in the flange root
    assert root.equilibrium_outward_shift_mm > reach.left.tread_shift_mm


def test_straight_track_needs_nothing(reach: SteeringReach) -> None:
    straight = steer_curve(reach, curve_radius_m=math.inf)
    assert straight.needed_difference_mm == 0.0
    assert straight.share == 1.0
    assert straight.flange_free_by_shape
    assert straight.equilibrium_outward_shift_mm == pytest.approx(0.0, abs=1e-6)


def test_refined_reach_does_not_depend_on_the_tables_step(
    s1002: ContactTable, reach: SteeringReach
) -> None:
    coarse = contact_table(s1002.wheelset, s1002.track, shifts_mm=np.arange(-10.0, 10.1, 2.5))
    other = steering_reach(coarse)
    assert other.right.tread_mm == pytest.approx(reach.right.tread_mm, abs=1e-9)
    own = steering_reach(s1002, refine=False)
    assert own.right.tread_mm == pytest.approx(reach.right.tread_mm, abs=0.2)
    assert own.right.tread_shift_mm <= reach.right.tread_shift_mm + 1e-9


def test_tread_ends_before_the_flange_face_bears(s1002: ContactTable, reach: SteeringReach) -> None:
    face = flange_contact(s1002).right_mm
    assert face is not None
    assert reach.right.tread_shift_mm < reach.right.root_shift_mm < face


def test_a_hollow_tread_steers_the_wrong_way(hollow: ContactTable) -> None:
    """Outward to the right, in a left curve, the left (low) wheel bears at its field side."""
    reach = steering_reach(hollow)
    to_right = reach.right.reversal
    assert to_right is not None
    assert to_right.side == "left"
    assert to_right.difference_mm < -0.3
    assert to_right.wheel_y_mm > 15.0  # the false flange, on the field side of the tape line
    assert to_right.from_mm < to_right.to_mm
    assert 0.0 < to_right.from_mm < 1.0
    at = contact_table(hollow.wheelset, hollow.track, shifts_mm=[to_right.to_mm])
    assert at.rolling_radius_difference_mm[0] == pytest.approx(to_right.difference_mm, abs=1e-3)
    to_left = reach.left.reversal
    assert to_left is not None
    assert to_left.side == "right"
    assert to_left.from_mm > to_left.to_mm  # shifts to the left are negative


def test_a_hollow_tread_serves_no_curve(hollow: ContactTable) -> None:
    steering = steer_curve(steering_reach(hollow), curve_radius_m=600.0)
    assert steering.share == 0.0
    assert not steering.flange_free_by_shape
    assert steering.available_tread_mm < 0.0
    assert steering.reversal is not None


@pytest.mark.parametrize("name", ["hollow-worn", "S1002", "cylinder", "cone-1-40", "freight-1-20"])
def test_the_flange_root_is_looked_for_from_the_end_of_the_tread_on(shapes: Any, name: str) -> None:
    """Read back from the way's own curve; and no zero carries a minus, also toward the left."""
    reach = steering_reach(contact_table(shapes.wheelset(name), shapes.track("60E1")))
    for way in (reach.right, reach.left):
        beyond = way.outward_mm >= way.tread_shift_mm
        assert way.root_shift_mm >= way.tread_shift_mm
        assert way.root_mm == pytest.approx(way.difference_mm[beyond].max(initial=way.tread_mm))
        for value in (way.tread_mm, way.tread_shift_mm, way.root_mm, way.root_shift_mm):
            assert value != 0.0 or math.copysign(1.0, value) > 0.0
    assert reach.left.root_shift_mm == pytest.approx(reach.right.root_shift_mm, abs=0.02)


def test_the_root_of_a_hollow_wheel_is_not_its_start(hollow: ContactTable) -> None:
    """Every shift short of the root steers the wrong way, so that 0.0 at the centre is the most."""
    for way in (steering_reach(hollow).left, steering_reach(hollow).right):
        assert way.tread_mm < -0.5
        assert way.root_shift_mm > 6.5


def test_two_points_come_near_before_the_leap_into_the_root(shapes: Any) -> None:
    """S1002 leaps at 4.98 mm (computed apart); rigid bodies show the second place before that.

    The two places of the centred wheel, both on the flat tread, are no such pair.
    """
    table = contact_table(shapes.wheelset("S1002"), shapes.track("60E1"))
    assert table.right.second_gap_mm[table.shift_mm == 0.0] < TWO_POINT_GAP_MM
    for way in (steering_reach(table).right, steering_reach(table).left):
        assert way.two_point_from_mm is not None
        assert 4.3 < way.two_point_from_mm < way.tread_shift_mm
    near = pair_up(table.wheelset, table.track).reach.right.two_point_from_mm
    assert near == pytest.approx(way.two_point_from_mm)
    at = contact_table(table.wheelset, table.track, shifts_mm=[near - 1 / 32, near])
    assert at.right.second_gap_mm[0] > TWO_POINT_GAP_MM >= at.right.second_gap_mm[1]


def test_free_of_the_flange_only_in_two_points_is_marked(shapes: Any) -> None:
    """At 1:20 the tread alone gives little, and enough only where the root is near as well."""
    steep = steering_reach(
        contact_table(shapes.wheelset("S1002"), shapes.track("60E1", inclination=0.05))
    )
    marked = steer_curve(steep, curve_radius_m=600.0)
    assert marked.flange_free_by_shape
    assert marked.flange_free_in_two_points
    assert not steer_curve(steep, curve_radius_m=20_000.0).flange_free_in_two_points
    assert not steer_curve(steep, curve_radius_m=150.0).flange_free_in_two_points


def test_without_flange_or_second_places_no_two_points_are_claimed(shapes: Any) -> None:
    bare = contact_table(shapes.wheelset("cylinder-no-flange"), shapes.track("60E1"))
    assert steering_reach(bare).right.two_point_from_mm is None
    without = contact_table(shapes.wheelset("S1002"), shapes.track("60E1"), second_contacts=False)
    assert steering_reach(without, refine=False).right.two_point_from_mm is None


def test_the_spacing_of_the_contact_places_is_that_of_the_table(
    s1002: ContactTable, reach: SteeringReach
) -> None:
    steering = steer_curve(reach, curve_radius_m=-800.0)
    at = contact_table(
        s1002.wheelset, s1002.track, shifts_mm=[steering.equilibrium_outward_shift_mm]
    )
    spacing = 1500.0 + at.right.wheel_y_mm[0] + at.left.wheel_y_mm[0]
    mean = 0.5 * (at.right.rolling_radius_mm[0] + at.left.rolling_radius_mm[0])
    assert steering.contact_spacing_mm == pytest.approx(spacing, abs=0.01)
    assert steering.contact_radius_mm == pytest.approx(mean, abs=0.001)


def test_on_round_rails_the_contact_places_stand_where_the_rails_do(shapes: Any) -> None:
    """Cones of 1:20 rad on circles of 300 mm touch 1400 mm apart, by the making of the track."""
    table = contact_table(
        shapes.wheelset(shapes.cone(0.05)),
        shapes.round_track(300.0, 0.05, half_spacing_mm=700.0),
        shifts_mm=np.linspace(-4.0, 4.0, 33),
    )
    steering = steer_curve(steering_reach(table), curve_radius_m=math.inf)
    assert steering.contact_spacing_mm == pytest.approx(1400.0, abs=0.01)
    assert steering.needed_difference_mm == 0.0


def test_a_good_tread_has_no_reversal(reach: SteeringReach) -> None:
    assert reach.left.reversal is None
    assert reach.right.reversal is None


def test_a_reversed_cone_leaves_the_centre_at_the_rate_of_its_conicity(shapes: Any) -> None:
    """A reversed cone diverges at sqrt(|conicity| / (l r0)) per metre [derived]."""
    angle = 0.05
    table = contact_table(
        shapes.wheelset(shapes.cone(-angle)),
        shapes.round_track(300.0, -angle, half_spacing_mm=750.0),
    )
    sin, cos = math.sin(-angle), math.cos(angle)
    exact = sin * (750.0 + 300.0 * sin) / (750.0 * cos - 460.0 * sin)  # [wickens-2003]
    tangent = run_tangent(table, conicity_value=None, speed_kmh=100.0)
    assert tangent.growth_per_m == pytest.approx(
        1000.0 * math.sqrt(-exact / (750.0 * 460.0)), rel=1e-5
    )
    assert tangent.wavelength_m is None
    assert tangent.frequency_hz is None
    assert tangent.line_mm is None


def test_a_stable_wheelset_has_a_wave_and_no_growth(s1002: ContactTable) -> None:
    tangent = run_tangent(s1002, conicity_value=0.177, speed_kmh=100.0)
    assert tangent.growth_per_m is None
    assert tangent.wavelength_m == pytest.approx(8.772, abs=1e-3)
    assert tangent.frequency_hz == pytest.approx(100.0 / 3.6 / 8.772, rel=1e-3)
    assert tangent.leans_on is None
    assert run_tangent(s1002, conicity_value=None).wavelength_m is None
    assert run_tangent(s1002, conicity_value=-0.1).wavelength_m is None


@pytest.mark.parametrize(
    ("left_mm", "right_mm", "leans"),
    [(460.0, 460.6, "left"), (460.6, 460.0, "right"), (460.0, 460.05, None)],
)
def test_the_smaller_wheel_leans_on_its_flange(
    shapes: Any, left_mm: float, right_mm: float, leans: str | None
) -> None:
    """A larger right wheel runs ahead and turns the axle to the left, until that flange bears."""
    wheelset = replace(
        shapes.wheelset("cone-1-40"), left_radius_mm=left_mm, right_radius_mm=right_mm
    )
    table = contact_table(wheelset, shapes.track("60E1"))
    assert run_tangent(table, conicity_value=None).leans_on == leans


def test_a_cylinder_neither_weaves_nor_leans(shapes: Any) -> None:
    table = contact_table(shapes.wheelset("cylinder"), shapes.track("60E1"))
    tangent = run_tangent(table, conicity_value=None)
    assert tangent.growth_per_m is None
    assert tangent.leans_on is None
    reach = steering_reach(table)
    assert reach.right.tread_mm == pytest.approx(0.0, abs=1e-9)
    assert steer_curve(reach, curve_radius_m=500.0).share == pytest.approx(0.0, abs=1e-9)
