"""Rail measures against figures of standards and an independent quadrature."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import quad

from tapertread.shapes.alignment import Aligned, Held
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.outline import Outline
from tapertread.shapes.rails.face import GAUGE_DEPTH_MM
from tapertread.shapes.rails.gauging import GAUGE_DEPTH_US_MM, gauge_rail
from tapertread.shapes.rails.head import area_above_mm2, gauge_crossing, head_of


@pytest.mark.parametrize(
    ("name", "half_width_mm"),
    # Closed from R300, R80, R13 and the 1:20 side [stock-profile-reconstruction].
    [("60E1", 35.9815), ("54E1", 34.9946)],
)
def test_half_width_at_the_gauge_depth(name: str, half_width_mm: float) -> None:
    head = head_of(design_drawing(name).outline(0.02), depth_mm=37.0)
    found = gauge_crossing(head, -GAUGE_DEPTH_MM)
    assert found is not None
    assert found.at_mm == pytest.approx(half_width_mm, abs=1e-4)


def test_gauge_depths_are_those_of_the_rules() -> None:
    """0 to 14 mm below the top (EBO section 5 [ebo-2012]); 5/8 in (49 CFR 213.53 [cfr-213])."""
    assert GAUGE_DEPTH_MM == 14.0
    assert pytest.approx(5.0 / 8.0 * 25.4) == GAUGE_DEPTH_US_MM


@pytest.mark.parametrize(("name", "width_mm"), [("60E1", 72.0), ("54E1", 70.0)])
def test_head_width_where_the_corner_meets_the_side(name: str, width_mm: float) -> None:
    """Head widths 72 and 70 mm of EN 13674-1 [en13674-1], at the end of the 13 mm corner."""
    drawing = design_drawing(name)
    depth = {"60E1": 14.3, "54E1": 14.1}[name]
    found = gauge_crossing(head_of(drawing.outline(0.02), depth_mm=37.0), -depth)
    assert found is not None
    assert 2.0 * found.at_mm == pytest.approx(width_mm, abs=1e-3)


def half_width_60e1(z: float) -> float:
    """Half width (mm) of the 60E1 head at a height by its arcs as published, not by the package.

    R300 to z = -0.174405, R80 to -2.302574, R13 to -14.3, side 1:20 [stock-profile-reconstruction].
    """
    if z > -0.174405:
        return math.sqrt(300.0**2 - (z + 300.0) ** 2)
    if z > -2.302574:
        return 7.500548 + math.sqrt(80.0**2 - (z + 80.127897) ** 2)
    if z > -14.3:
        return 23.016220 + math.sqrt(13.0**2 - (z + 14.949189) ** 2)
    return 36.0 - (z + 14.3) / 20.0


@pytest.mark.parametrize("depth_mm", [2.0, 14.0, 30.0, 37.3])
def test_head_area_agrees_with_quadrature(depth_mm: float) -> None:
    """Adaptive quadrature of the published arcs (scipy) against the polygon of the outline."""
    breaks = [one for one in (-14.3, -2.302574, -0.174405) if one > -depth_mm]
    area = 2.0 * quad(half_width_60e1, -depth_mm, 0.0, points=breaks, limit=200)[0]
    head = head_of(design_drawing("60E1").outline(0.02), depth_mm=38.0)
    assert area_above_mm2(head, -depth_mm) == pytest.approx(area, rel=2e-6)


def test_a_head_lowered_as_a_whole_loses_the_area_quadrature_says() -> None:
    """A flat cut 4 mm below the top: the area above it, over the area of the head."""
    drawing = design_drawing("60E1")
    outline = drawing.outline(0.02)
    cut: Outline = outline.with_points(outline.y_mm, np.minimum(outline.z_mm, -4.0))
    exact = Held(by="the design's own axes", uncertainty=0.0)
    aligned = Aligned(
        outline=cut,
        dy_mm=0.0,
        dz_mm=0.0,
        turn_rad=0.0,
        across=exact,
        up=exact,
        turn=exact,
        confidence=1.0,
    )
    gone = quad(half_width_60e1, -4.0, 0.0, points=[-2.302574, -0.174405])[0]
    whole = quad(half_width_60e1, -37.3, 0.0, points=[-14.3, -2.302574, -0.174405])[0]
    measures = gauge_rail(aligned, design=drawing, noise_mm=0.0, correlation_mm=0.0)
    assert measures.head_area_loss_percent.value == pytest.approx(100.0 * gone / whole, abs=1e-3)
    assert measures.vertical_wear_mm.value == pytest.approx(4.0, abs=1e-6)
