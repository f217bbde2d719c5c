"""Rolling contact: symmetry, invariance, and what a table says of itself."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tapertread.contact import (
    ContactTable,
    SideContacts,
    TrackShape,
    WheelsetShape,
    contact_table,
    contact_tables,
)
from tapertread.shapes.designs import design


@pytest.fixture(scope="module")
def table(shapes: Any) -> ContactTable:
    return contact_table(shapes.wheelset("S1002"), shapes.track("60E1"))


@pytest.fixture(scope="module")
def uneven(shapes: Any) -> tuple[WheelsetShape, TrackShape]:
    worn = [
        shapes.worn(design(name), seed=seed, wear_mm=0.2)
        for seed, name in enumerate(("S1002", "hollow-worn", "60E1", "54E1"))
    ]
    return (
        shapes.wheelset(worn[0], worn[1], right_larger_mm=0.3),
        TrackShape(left=worn[2], right=worn[3], gauge_mm=1438.0),
    )


def _assert_same_side(found: SideContacts, expected: SideContacts, *, atol: float) -> None:
    for field in fields(SideContacts):
        np.testing.assert_allclose(
            getattr(found, field.name),
            getattr(expected, field.name),
            rtol=0.0,
            atol=atol,
            err_msg=field.name,
        )


def _mirrored(wheelset: WheelsetShape, track: TrackShape) -> tuple[WheelsetShape, TrackShape]:
    return (
        replace(
            wheelset,
            left=wheelset.right,
            right=wheelset.left,
            left_radius_mm=wheelset.right_radius_mm,
            right_radius_mm=wheelset.left_radius_mm,
        ),
        replace(track, left=track.right, right=track.left),
    )


def test_shifts_default_to_10_mm_by_a_quarter(table: ContactTable) -> None:
    assert table.shift_mm.size == 81
    assert table.shift_mm[0] == -10.0
    assert 0.0 in table.shift_mm
    assert table.notes == ()
    assert table.grid_mm == 0.2


def test_an_even_pairing_is_its_own_mirror_image(table: ContactTable) -> None:
    np.testing.assert_allclose(table.roll_rad, -table.roll_rad[::-1], atol=1e-10)
    np.testing.assert_allclose(table.axle_height_mm, table.axle_height_mm[::-1], atol=1e-7)
    reversed_left = SideContacts(
        **{f.name: getattr(table.left, f.name)[::-1] for f in fields(SideContacts)}
    )
    _assert_same_side(table.right, reversed_left, atol=1e-5)


def test_an_uneven_pairing_mirrored_gives_mirrored_results(
    uneven: tuple[WheelsetShape, TrackShape],
) -> None:
    shifts = np.linspace(-5.3, 4.9, 52)
    one = contact_table(*uneven, shifts_mm=shifts)
    other = contact_table(*_mirrored(*uneven), shifts_mm=-shifts[::-1])
    np.testing.assert_allclose(one.roll_rad, -other.roll_rad[::-1], atol=2e-10)
    np.testing.assert_allclose(
        one.rolling_radius_difference_mm,
        -other.rolling_radius_difference_mm[::-1],
        atol=1e-6,
    )
    np.testing.assert_allclose(one.left.wheel_y_mm, other.right.wheel_y_mm[::-1], atol=1e-4)
    np.testing.assert_allclose(
        one.right.contact_angle_rad, other.left.contact_angle_rad[::-1], atol=1e-5
    )


def test_a_rail_moved_in_its_own_axes_changes_nothing(shapes: Any, table: ContactTable) -> None:
    """Gauge and running plane are taken from the heads, so a rail's origin carries no meaning."""
    moved = shapes.track("60E1").right.moved(dy_mm=11.7, dz_mm=-3.3)
    # the frame is that of the track: what leans must lean about its own origin beforehand
    track = TrackShape(left=moved, right=moved)
    found = contact_table(table.wheelset, track)
    np.testing.assert_allclose(
        found.rolling_radius_difference_mm,
        table.rolling_radius_difference_mm,
        atol=1e-3,  # the grid lies elsewhere on the rail
    )
    good = np.abs(found.shift_mm) < 4.6  # no leap near, where a hair decides
    np.testing.assert_allclose(
        found.right.rail_y_mm[good] - 11.7, table.right.rail_y_mm[good], atol=2e-3
    )


@settings(max_examples=10, deadline=None)
@given(step=st.floats(0.03, 0.12))
def test_resampled_outlines_give_the_same_difference(step: float, shapes: Any) -> None:
    wheel, rail = design("S1002", step_mm=0.02), design("60E1", step_mm=0.02)
    shifts = np.array([-5.5, -4.0, -2.0, 0.0, 1.5, 3.0, 4.25, 6.0])
    given_points = contact_table(shapes.wheelset(wheel), shapes.track(rail), shifts_mm=shifts)
    resampled = contact_table(
        shapes.wheelset(wheel.resampled(step)),
        shapes.track(rail.resampled(step)),
        shifts_mm=shifts,
    )
    np.testing.assert_allclose(
        resampled.rolling_radius_difference_mm,
        given_points.rolling_radius_difference_mm,
        atol=0.004,  # heights move by step^2 / (8 x 13 mm) = 0.14 micrometre, places by more
    )


def test_wheels_further_apart_on_rails_further_apart_by_as_much(
    shapes: Any, table: ContactTable
) -> None:
    """Only roll knows of the distance: differences change in its measure, not more."""
    wheelset = replace(table.wheelset, back_to_back_mm=1593.0)  # broad gauge
    broad = contact_table(wheelset, shapes.track("60E1", gauge_mm=1668.0))
    middle = np.abs(broad.shift_mm) <= 4.5
    np.testing.assert_allclose(
        broad.rolling_radius_difference_mm[middle],
        table.rolling_radius_difference_mm[middle],
        rtol=0.01,
        atol=1e-9,
    )


@pytest.mark.parametrize("asked", [[3.0], [-8.0, 8.0], [4.0, 6.5, 9.9], [-0.1, 0.1]])
def test_a_shift_has_one_answer_whichever_others_are_asked(asked: list[float], shapes: Any) -> None:
    """Far shifts are reached by walking, so that nothing beyond a fold is ever found."""
    wheelset, track = shapes.wheelset("S1002"), shapes.track("60E1")
    walk = np.arange(-10.0, 10.01, 0.1)
    full = contact_table(wheelset, track, shifts_mm=walk)
    few = contact_table(wheelset, track, shifts_mm=asked)
    at = [int(np.argmin(np.abs(walk - shift))) for shift in asked]
    np.testing.assert_allclose(few.roll_rad, full.roll_rad[at], atol=1e-9)
    np.testing.assert_allclose(few.right.wheel_y_mm, full.right.wheel_y_mm[at], atol=1e-5)


def test_beyond_a_fold_nothing_is_found_however_it_is_asked(shapes: Any) -> None:
    wheelset, track = shapes.wheelset("freight-1-20"), shapes.track("60E1")
    for asked in ([9.0], [0.0, 9.0], [-9.0, 0.0, 9.0]):
        table = contact_table(wheelset, track, shifts_mm=asked)
        assert np.isnan(table.roll_rad[-1])
        assert np.isnan(table.right.wheel_y_mm[-1])
        assert table.right_end == "climbs"
        assert "from 9 mm on" in table.notes[-1]


def test_off_the_rail_is_told_from_climbing(shapes: Any) -> None:
    cone = shapes.cone(0.05, half_width_mm=25.0)
    table = contact_table(
        shapes.wheelset(cone), shapes.track("60E1"), shifts_mm=np.arange(-60.0, 60.5, 0.5)
    )
    assert table.left_end == table.right_end == "off the rail"
    assert np.isnan(table.roll_rad[[0, -1]]).all()
    assert len(table.notes) == 2


def test_radius_and_place_belong_together(table: ContactTable) -> None:
    for side in (table.left, table.right):
        height = np.interp(side.wheel_y_mm, *_lower_side(table.wheelset.right))
        np.testing.assert_allclose(side.wheel_z_mm, height, atol=2e-4)
        np.testing.assert_allclose(side.rolling_radius_mm, 460.0 - side.wheel_z_mm, atol=1e-12)


def _lower_side(outline: Any) -> tuple[np.ndarray, np.ndarray]:
    tip = int(np.argmin(outline.z_mm))
    return outline.y_mm[tip:], outline.z_mm[tip:]


def test_both_bodies_have_one_tangent(table: ContactTable) -> None:
    """Wheel slope, turned by the roll, is the contact angle (no corner on this tread)."""
    y, z = _lower_side(table.wheelset.right)
    slope = np.gradient(z, y)
    calm = np.abs(table.shift_mm) <= 4.0
    for side, roll in ((table.right, table.roll_rad), (table.left, -table.roll_rad)):
        angle = np.arctan(np.interp(side.wheel_y_mm[calm], y, slope)) - roll[calm]
        np.testing.assert_allclose(side.contact_angle_rad[calm], angle, atol=5e-4)


def test_the_second_contact_takes_over_at_the_leap(shapes: Any) -> None:
    """Just before the leap the place after it stands second, with a gap that tends to zero."""
    shifts = np.arange(4.6, 5.05, 0.01)
    table = contact_table(shapes.wheelset("S1002"), shapes.track("60E1"), shifts_mm=shifts)
    leap = int(np.argmax(np.abs(np.diff(table.right.wheel_y_mm))))
    assert np.diff(table.right.wheel_y_mm)[leap] < -8.0
    assert table.right.second_wheel_y_mm[leap] == pytest.approx(
        table.right.wheel_y_mm[leap + 1], abs=0.1
    )
    assert table.right.second_wheel_y_mm[leap + 1] == pytest.approx(
        table.right.wheel_y_mm[leap], abs=0.1
    )
    gaps = table.right.second_gap_mm[leap - 5 : leap + 1]
    assert (np.diff(gaps) < 0.0).all()
    assert 0.0 <= gaps[-1] < 0.01


def test_second_contacts_can_be_left_out(table: ContactTable) -> None:
    bare = contact_table(table.wheelset, table.track, second_contacts=False)
    assert np.isnan(bare.right.second_gap_mm).all()
    np.testing.assert_array_equal(bare.roll_rad, table.roll_rad)


def test_several_tracks_in_order(shapes: Any, table: ContactTable) -> None:
    tracks = [shapes.track("60E1", gauge_mm=gauge) for gauge in (1433.0, 1435.0)]
    first, second = contact_tables(table.wheelset, tracks)
    assert first.track.gauge_mm == 1433.0
    np.testing.assert_array_equal(second.roll_rad, table.roll_rad)


def test_sides_by_name(table: ContactTable) -> None:
    assert table.side("left") is table.left
    assert table.side("right") is table.right
