"""Distance from a target template, place by place across the head."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

from tapertread.errors import OutlineRefused
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Outline
from tapertread.shapes.rails.template import template_distance

RANGE = {"y_from_mm": -30.0, "y_to_mm": 25.0}


def circle(radius_mm: float, *, reach_rad: float = 1.2) -> Outline:
    """Return a round head about (0, -300): circles lie apart by the difference of their radii."""
    angle = np.linspace(-reach_rad, reach_rad, 4001)
    return Outline(
        kind="rail", y_mm=radius_mm * np.sin(angle), z_mm=radius_mm * np.cos(angle) - 300.0
    )


def test_a_rail_lies_nowhere_off_its_own_template(rail_60e1: Drawing) -> None:
    result = template_distance(rail_60e1.outline(0.05), template=rail_60e1, **RANGE)
    assert np.abs(result.distance_mm).max() < 1e-6
    assert result.largest_mm.value == pytest.approx(0.0, abs=1e-6)
    assert result.share_within.value == 100.0
    assert result.y_mm[0] == -30.0
    assert result.y_mm[-1] == 25.0


@pytest.mark.parametrize("apart_mm", [0.4, -0.7, 2.0])
def test_two_circles_about_one_centre_lie_their_radii_apart(apart_mm: float) -> None:
    result = template_distance(circle(300.0 + apart_mm), template=circle(300.0), **RANGE)
    assert result.distance_mm == pytest.approx(np.full(result.y_mm.size, apart_mm), abs=1e-3)
    assert result.largest_mm.value == pytest.approx(abs(apart_mm), abs=1e-3)
    assert result.rms_mm.value == pytest.approx(abs(apart_mm), abs=1e-3)
    assert result.share_within.value == (100.0 if abs(apart_mm) < 0.5 else 0.0)


def test_lifting_takes_vertical_wear_out_of_the_comparison(rail_60e1: Drawing) -> None:
    lowered = rail_60e1.outline(0.05).moved(dz_mm=-3.0)
    placed = template_distance(lowered, template=rail_60e1, y_from_mm=-15.0, y_to_mm=15.0)
    lifted = template_distance(
        lowered, template=rail_60e1, y_from_mm=-15.0, y_to_mm=15.0, lay="on-top"
    )
    assert placed.largest_mm.value == pytest.approx(3.0, abs=0.01)
    assert lifted.largest_mm.value == pytest.approx(0.0, abs=1e-5)
    assert lifted.lifted_mm == pytest.approx(3.0)


def test_the_share_is_that_of_the_width(rail_60e1: Drawing) -> None:
    """One half raised by a step of 1 mm: half of the width lies within 0.5 mm."""
    outline = rail_60e1.outline(0.05)
    raised = outline.with_points(
        outline.y_mm, outline.z_mm + np.where(outline.y_mm > 0.0, 1.0, 0.0)
    )
    result = template_distance(
        raised, template=rail_60e1, y_from_mm=-10.0, y_to_mm=10.0, tolerance_mm=0.5
    )
    assert result.share_within.value == pytest.approx(50.0, abs=1.0)
    assert result.rms_mm.value == pytest.approx(math.sqrt(0.5), abs=0.02)


def test_noise_is_carried(rail_60e1: Drawing) -> None:
    outline = rail_60e1.outline(0.05).moved(dz_mm=0.48)
    result = template_distance(outline, template=rail_60e1, noise_mm=0.05, **RANGE)
    assert result.largest_mm.uncertainty == 0.05
    assert result.share_within.uncertainty is not None
    assert result.share_within.uncertainty > 1.0


def test_a_place_without_metal_leaves_no_number(rail_60e1: Drawing) -> None:
    outline = rail_60e1.outline(0.1)
    seen = np.abs(outline.y_mm - 10.0) > 3.0
    holed = outline.with_points(outline.y_mm[seen], outline.z_mm[seen])
    result = template_distance(holed, template=rail_60e1, **RANGE)
    assert result.largest_mm.value is None
    assert result.rms_mm.value is None
    assert "places across the head" in result.share_within.reason
    assert np.isnan(result.distance_mm).sum() > 10
    answer = json.loads(json.dumps(result.to_dict(), allow_nan=False))
    assert None in answer["distance_mm"]


@pytest.mark.parametrize(("low", "high"), [(10.0, -10.0), (-80.0, 0.0), (0.0, 80.0), (5.0, 5.0)])
def test_a_range_the_template_lacks_is_refused(rail_60e1: Drawing, low: float, high: float) -> None:
    with pytest.raises(OutlineRefused, match="template-range") as refusal:
        template_distance(rail_60e1.outline(0.1), template=rail_60e1, y_from_mm=low, y_to_mm=high)
    assert "37.15" in refusal.value.allowed
