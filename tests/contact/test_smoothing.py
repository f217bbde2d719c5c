"""Softened jumps: equal to rigid contact elsewhere, and tending to it as the depth shrinks."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tapertread.contact import ContactTable, contact_table, smoothed_difference_mm


@pytest.fixture(scope="module")
def table(shapes: Any) -> ContactTable:
    return contact_table(
        shapes.wheelset("S1002"),
        shapes.track("60E1"),
        shifts_mm=np.arange(-5.5, 5.51, 0.05),
    )


def test_it_crosses_a_jump_in_one_sense(table: ContactTable) -> None:
    smooth = smoothed_difference_mm(table)
    jump = (table.shift_mm > 4.5) & (table.shift_mm < 5.2)
    assert (np.diff(smooth[jump]) > 0.0).all()
    rigid = table.rolling_radius_difference_mm[jump]
    assert rigid[0] < smooth[jump][0] < smooth[jump][-1] < rigid[-1]
    assert np.diff(smooth[jump]).max() < 0.5 * np.diff(rigid).max()


def test_it_tends_to_rigid_contact_as_the_depth_shrinks(table: ContactTable) -> None:
    rigid = table.rolling_radius_difference_mm
    apart = []
    for depth in (0.05, 0.005, 0.0005):
        smooth = smoothed_difference_mm(table, approach_mm=depth)
        apart.append(float(np.median(np.abs(smooth - rigid))))
    assert apart[0] > apart[1] > apart[2]
    assert apart[2] < 0.005


def test_it_is_the_rigid_curve_away_from_the_jumps(table: ContactTable) -> None:
    """S1002 leaps at the centre and near 4.75 mm; in between, places bear alone."""
    calm = (np.abs(table.shift_mm) > 1.4) & (np.abs(table.shift_mm) < 4.3)
    smooth = smoothed_difference_mm(table, approach_mm=0.001)
    np.testing.assert_allclose(smooth[calm], table.rolling_radius_difference_mm[calm], atol=0.003)


def test_a_cone_is_not_changed(shapes: Any) -> None:
    """Symmetric weights about one place on a straight tread leave its radius as it is."""
    table = contact_table(
        shapes.wheelset(shapes.cone(0.05)),
        shapes.round_track(300.0, 0.05, half_spacing_mm=750.0),
        shifts_mm=np.linspace(-4.0, 4.0, 9),
    )
    np.testing.assert_allclose(
        smoothed_difference_mm(table), table.rolling_radius_difference_mm, atol=1e-3
    )


def test_it_is_as_odd_as_the_rigid_curve(table: ContactTable) -> None:
    smooth = smoothed_difference_mm(table)
    np.testing.assert_allclose(smooth, -smooth[::-1], atol=1e-6)


def test_where_nothing_stands_nothing_is_smoothed(shapes: Any) -> None:
    table = contact_table(shapes.wheelset("freight-1-20"), shapes.track("60E1"))
    smooth = smoothed_difference_mm(table)
    np.testing.assert_array_equal(np.isnan(smooth), np.isnan(table.roll_rad))
    assert np.isnan(smooth).any()


def test_the_table_it_comes_from_keeps_its_yaw(table: ContactTable) -> None:
    turned = contact_table(table.wheelset, table.track, shifts_mm=table.shift_mm, yaw_rad=0.02)
    straight = replace(turned, yaw_rad=0.0)
    assert not np.allclose(smoothed_difference_mm(turned), smoothed_difference_mm(straight))
