"""Outlines made ready: curves, curvature, gauge points, envelopes."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tapertread.contact.curves import smooth_curve
from tapertread.contact.sections import (
    ANGLE,
    CURVATURE,
    FLANK_NODES,
    STATION_Y,
    STATION_Z,
    Section,
    Z,
    flange_face_mm,
    rail_section,
    wheel_section,
)
from tapertread.contact.sides import flange_spacing_mm
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Origin, Outline

EUROPE, US = "smallest-0-14-mm", "at-five-eighths-inch"


def _rail(
    outline: Outline, rule: Any = EUROPE, *, inclination: float = 0.0
) -> tuple[Section, float]:
    return rail_section(outline, inclination=inclination, gauge_rule=rule, step_mm=0.2)


def _nodes(section: Section) -> np.ndarray:
    return section.first_mm + section.step_mm * np.arange(section.rows.shape[1])


def test_a_circle_keeps_its_height_angle_and_curvature(shapes: Any) -> None:
    section, _ = _rail(shapes.round_rail(80.0))
    inner = slice(FLANK_NODES + 5, -FLANK_NODES - 5)
    y = _nodes(section)[inner]
    np.testing.assert_allclose(section.rows[Z, inner], np.sqrt(80.0**2 - y**2) - 80.0, atol=2e-6)
    np.testing.assert_allclose(section.rows[ANGLE, inner], -np.arcsin(y / 80.0), atol=1e-5)
    np.testing.assert_allclose(section.rows[CURVATURE, inner], 1.0 / 80.0, rtol=1e-3)


def test_curvature_is_positive_where_a_body_is_convex(shapes: Any) -> None:
    hollow = wheel_section(shapes.arc_wheel(400.0, 0.0), radius_mm=460.0, yaw_rad=0.0, step_mm=0.2)
    assert np.median(hollow.rows[CURVATURE]) == pytest.approx(-1.0 / 400.0, rel=1e-3)
    flange = wheel_section(design("S1002"), radius_mm=460.0, yaw_rad=0.0, step_mm=0.2)
    tip = int(np.argmin(flange.rows[Z]))
    assert flange.rows[CURVATURE, tip] > 0.05


def test_corners_of_arcs_change_curvature_within_the_window() -> None:
    """60E1: 300, then 80, then 13 mm [stock-profile-reconstruction]."""
    section, _ = _rail(design("60E1"))
    y = _nodes(section)
    for place, radius in ((0.0, 300.0), (-17.0, 80.0), (-30.0, 13.0)):
        at = int(np.argmin(np.abs(y - place)))
        assert section.rows[CURVATURE, at] == pytest.approx(1.0 / radius, rel=0.02)


def test_the_running_plane_touches_the_leaning_rail() -> None:
    section, _ = _rail(design("60E1"), inclination=1.0 / 40.0)
    inner = section.rows[Z, FLANK_NODES:-FLANK_NODES]
    assert inner.max() == pytest.approx(0.0, abs=1e-4)
    # leaning inward, the crown of 300 mm is level where it sloped 1:40 outward before
    top = int(np.argmax(section.rows[Z]))
    level = 300.0 * math.sin(math.atan(1.0 / 40.0))
    assert section.rows[STATION_Y, top] == pytest.approx(level, abs=0.2)


def test_stations_lead_back_to_the_outline() -> None:
    outline = design("60E1")
    section, _ = _rail(outline, inclination=1.0 / 40.0)
    inner = slice(FLANK_NODES, -FLANK_NODES)
    y, z = section.rows[STATION_Y, inner], section.rows[STATION_Z, inner]
    lean = math.atan(1.0 / 40.0)
    turned = y * math.cos(lean) - z * math.sin(lean)
    np.testing.assert_allclose(turned, _nodes(section)[inner], atol=1e-3)


def test_gauge_of_a_new_rail_is_the_same_by_both_definitions_but_for_the_side_slope() -> None:
    """The side of a 60E1 is 1:20, so 1.875 mm deeper it is 0.094 mm further out."""
    _, europe = _rail(design("60E1"))
    _, us = _rail(design("60E1"), US)
    assert europe < 0.0
    assert us - europe == pytest.approx(-1.875 / 20.0, abs=0.01)


def test_gauge_of_a_lipped_rail_differs_by_the_lip() -> None:
    """A lip at 10 mm depth is the smallest distance; at 5/8 in it is not met."""
    new = design("60E1")
    lip = 3.0 * np.exp(-(((new.z_mm + 10.0) / 1.5) ** 2)) * (new.y_mm < 0.0)
    lipped = new.with_points(new.y_mm - lip, new.z_mm)
    (_, europe), (_, us) = _rail(lipped), _rail(lipped, US)
    (_, europe_new), (_, us_new) = _rail(new), _rail(new, US)
    reach = float(lipped.y_mm[lipped.z_mm > -14.0].min())
    assert europe == pytest.approx(reach, abs=1e-3)
    assert europe < europe_new - 0.5
    assert us == pytest.approx(us_new, abs=1e-3)


def test_gauge_of_a_worn_rail_is_taken_from_its_worn_top() -> None:
    """3 mm off the top: 14 mm below the worn top is 17 mm below the new one."""
    new = design("60E1")
    keep = new.z_mm < -3.0
    worn = new.with_points(new.y_mm, np.minimum(new.z_mm, -3.0 - 1e-6 * new.y_mm**2))
    _, at = _rail(worn)
    side = (new.y_mm < 0.0) & keep
    assert at == pytest.approx(float(np.interp(-17.0, new.z_mm[side], new.y_mm[side])), abs=0.01)


def test_a_drawn_tube_is_widest_at_its_middle() -> None:
    for radius in (3.0, 10.0):
        tube = design("tube", radius_mm=radius)
        _, at = _rail(tube)
        assert at == pytest.approx(-radius, abs=1e-3)


def test_an_overhang_shows_only_what_can_be_met(shapes: Any) -> None:
    """A lip hides the face below it: from above the rail ends at the lip's edge."""
    new = design("60E1")
    lip = 4.0 * np.exp(-(((new.z_mm + 8.0) / 2.0) ** 2)) * (new.y_mm < 0.0)
    lipped = new.with_points(new.y_mm - lip, new.z_mm)
    section, _ = _rail(lipped)
    heights = section.rows[Z, FLANK_NODES:-FLANK_NODES]
    assert section.hidden_mm > 1.0
    assert _rail(new)[0].hidden_mm < 0.1
    nodes = _nodes(section)[FLANK_NODES:-FLANK_NODES]
    for y, z in zip(lipped.y_mm[::25], lipped.z_mm[::25], strict=True):
        assert z <= np.interp(y, nodes, heights, left=0.0, right=0.0) + 0.05


def test_flanks_fall_away_outside_the_outline() -> None:
    section, _ = _rail(design("60E1"))
    left, right = section.rows[Z, : FLANK_NODES + 1], section.rows[Z, -FLANK_NODES - 1 :]
    assert (np.diff(left) > 3.9).all()
    assert (np.diff(right) < -3.9).all()


def test_yaw_zero_leaves_a_wheel_where_it_is() -> None:
    wheel = design("S1002")
    straight = wheel_section(wheel, radius_mm=460.0, yaw_rad=0.0, step_mm=0.2)
    nearly = wheel_section(wheel, radius_mm=460.0, yaw_rad=1e-9, step_mm=0.2)
    tip = int(np.argmin(straight.rows[Z]))
    offset = round((straight.first_mm - nearly.first_mm) / 0.2)
    beyond = slice(tip, straight.rows.shape[1] - 1)
    moved = slice(tip + offset, straight.rows.shape[1] - 1 + offset)
    np.testing.assert_allclose(nearly.rows[Z, moved], straight.rows[Z, beyond], atol=1e-6)


def test_repeated_points_do_not_matter() -> None:
    outline = design("60E1")
    twice = outline.with_points(np.repeat(outline.y_mm, 2), np.repeat(outline.z_mm, 2))
    one, other = smooth_curve(outline), smooth_curve(twice)
    np.testing.assert_allclose(one.y_mm, other.y_mm, atol=1e-9)


def test_sections_are_remembered_by_points_not_by_object() -> None:
    outline = design("54E1")
    same = replace(outline, origin=replace(outline.origin, name="the same again"))
    assert _rail(outline)[0] is _rail(same)[0]
    other = outline.with_points(outline.y_mm, outline.z_mm * 1.0001)
    assert _rail(outline)[0] is not _rail(other)[0]


def test_a_wheel_never_takes_the_section_of_a_rail() -> None:
    y = np.linspace(-30.0, 30.0, 200)
    rail = Outline(kind="rail", y_mm=y, z_mm=-(y**2) / 50.0)
    wheel = replace(rail, kind="wheel")
    assert wheel_section(wheel, radius_mm=460.0, yaw_rad=0.0, step_mm=0.2) is not _rail(rail)[0]


@pytest.mark.parametrize("name", ["S1002", "cone-1-40", "freight-1-20", "hollow-worn", "gentle"])
def test_the_flange_face_is_where_the_drawing_has_it(name: str) -> None:
    """Beside the drawing itself, in steps of 0.01 mm and straight between them."""
    fine = design(name, step_mm=0.01)
    tip = int(np.argmin(fine.z_mm))
    drawn = np.interp(-10.0, fine.z_mm[tip:], fine.y_mm[tip:])
    assert flange_face_mm(design(name)) == pytest.approx(drawn, abs=1e-3)


def test_a_wheel_without_a_flange_has_no_face() -> None:
    assert flange_face_mm(design("cylinder-no-flange")) is None


def test_flange_spacing_of_s1002(shapes: Any) -> None:
    """Two flanges of 32.5 mm and 1360 mm between: 1425 mm [uic-510-2]."""
    assert flange_spacing_mm(shapes.wheelset("S1002")) == pytest.approx(1425.0, abs=1e-3)
    assert flange_spacing_mm(shapes.wheelset("cylinder-no-flange")) is None
    assert flange_spacing_mm(shapes.wheelset("S1002", "cylinder-no-flange")) is None


def test_a_measured_rail_is_not_taken_for_whole(shapes: Any) -> None:
    tube = shapes.round_rail(10.0)
    drawn = replace(tube, origin=Origin(name="tube", status="constructed"))
    assert _rail(drawn)[1] == pytest.approx(-10.0, abs=1e-3)
    with pytest.raises(Exception, match="rail-too-shallow"):
        _rail(tube)
