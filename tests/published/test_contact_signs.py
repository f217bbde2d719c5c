"""Absolute signs: a pairing whose answer no pair of sign errors can bring about.

A cone 1:20 stands on 60E1 rails, its right wheel 0.5 mm larger in radius. Pushing the larger wheel
off its rail evens the radii, so it runs to the left of the centre, which is a negative shift.

Exact place: where both wheels roll on equal radii on mirrored rails there is no roll, so each
contact lies at the same place of its rail and the shift makes up half the difference on either
side: ``0.5 / (2 tan d) = 5 mm`` for tan d = 1/20 [derived].

Published by superposition: on the curve of equal wheels the 0.5 mm is used up at 4.75 mm, with
the exact conicity 0.0526 of a cone with roll: ``0.5 / (2 x 0.0526)`` [wickens-2003]. Both are
tested, each by its own way; they differ because the unequal pair does not roll about x.
"""

from __future__ import annotations

import numpy as np
import pytest

from tapertread.contact import (
    ContactTable,
    TrackShape,
    WheelsetShape,
    contact_table,
    main_line,
    steer_curve,
    steering_reach,
)
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline

SHIFTS_MM = np.linspace(-8.0, 8.0, 129)


def _table(*, left_mm: float, right_mm: float) -> ContactTable:
    y = np.arange(-60.0, 60.05, 0.1)
    cone = Outline(kind="wheel", y_mm=y, z_mm=y / 20.0)
    rail = design("60E1")
    wheelset = WheelsetShape(
        left=cone,
        right=cone,
        left_radius_mm=left_mm,
        right_radius_mm=right_mm,
        back_to_back_mm=1360.0,
    )
    return contact_table(wheelset, TrackShape(left=rail, right=rail), shifts_mm=SHIFTS_MM)


def test_larger_right_wheel_runs_left_of_the_centre() -> None:
    line = main_line(_table(left_mm=460.0, right_mm=460.5))
    assert line is not None
    assert line.stable
    assert line.shift_mm == pytest.approx(-5.0, abs=1e-5)


def test_larger_left_wheel_runs_right_of_the_centre() -> None:
    line = main_line(_table(left_mm=460.5, right_mm=460.0))
    assert line is not None
    assert line.shift_mm == pytest.approx(5.0, abs=1e-5)


def test_there_is_no_roll_where_the_radii_are_equal() -> None:
    table = _table(left_mm=460.0, right_mm=460.5)
    assert np.interp(-5.0, table.shift_mm, table.roll_rad) == pytest.approx(0.0, abs=1e-9)
    difference = table.rolling_radius_difference_mm
    assert np.interp(-5.0, table.shift_mm, difference) == pytest.approx(0.0, abs=1e-6)


def test_superposed_on_the_curve_of_equal_wheels_it_lies_at_4_75_mm() -> None:
    equal = _table(left_mm=460.0, right_mm=460.0)
    place = np.interp(-0.5, equal.rolling_radius_difference_mm, equal.shift_mm)
    assert place == pytest.approx(-4.75, abs=0.005)


def test_larger_right_wheel_helps_in_a_left_curve_and_hurts_in_a_right_one() -> None:
    unequal = steering_reach(_table(left_mm=460.0, right_mm=460.5))
    equal = steering_reach(_table(left_mm=460.0, right_mm=460.0))
    left, right = -600.0, 600.0
    assert (
        steer_curve(unequal, curve_radius_m=left).available_tread_mm
        > steer_curve(equal, curve_radius_m=left).available_tread_mm + 0.4
    )
    assert (
        steer_curve(unequal, curve_radius_m=right).available_tread_mm
        < steer_curve(equal, curve_radius_m=right).available_tread_mm - 0.4
    )


def test_s1002_shifted_to_the_right_rolls_to_the_left() -> None:
    """+3 mm: roll -0.180 mrad, computed apart from this project (exact rigid geometry)."""
    wheel, rail = design("S1002"), design("60E1")
    wheelset = WheelsetShape(
        left=wheel, right=wheel, left_radius_mm=460.0, right_radius_mm=460.0, back_to_back_mm=1360.0
    )
    table = contact_table(wheelset, TrackShape(left=rail, right=rail), shifts_mm=[3.0])
    assert 1000.0 * table.roll_rad[0] == pytest.approx(-0.180, abs=0.0005)
    # The right wheel, toward its flange, rolls on the larger radius and pushes toward the centre.
    assert table.rolling_radius_difference_mm[0] > 0.0
    assert table.right.contact_angle_rad[0] > table.left.contact_angle_rad[0] > 0.0


def test_a_right_curve_has_its_outer_rail_on_the_left() -> None:
    reach = steering_reach(_table(left_mm=460.5, right_mm=460.0))
    assert steer_curve(reach, curve_radius_m=800.0).available_tread_mm == reach.left.tread_mm
    assert steer_curve(reach, curve_radius_m=-800.0).available_tread_mm == reach.right.tread_mm
    assert reach.left.tread_mm > reach.right.tread_mm
