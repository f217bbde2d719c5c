"""What cannot be aligned or gauged as a rail is refused by name, or said to be unknown."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from tapertread.errors import OutlineRefused
from tapertread.shapes.cleaning.chain import clean
from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Outline
from tapertread.shapes.rails.aligning import align_rail, lay_on_design
from tapertread.shapes.rails.drift import kilometre_drift
from tapertread.shapes.rails.gauging import gauge_rail

SILENT = Noise()


@pytest.fixture(scope="module")
def rail() -> Drawing:
    return design_drawing("60E1")


def test_a_wheel_is_not_laid_on_a_rail(rail: Drawing) -> None:
    wheel = design_drawing("S1002")
    with pytest.raises(OutlineRefused) as refusal:
        lay_on_design(wheel.outline(0.2), design=rail, noise=SILENT)
    assert refusal.value.code == "wrong-kind"
    with pytest.raises(OutlineRefused) as refusal:
        lay_on_design(rail.outline(0.2), design=wheel, noise=SILENT)
    assert refusal.value.code == "wrong-kind"
    assert "design" in refusal.value.found


def test_a_wheel_declared_a_rail_is_refused_by_its_shape(rail: Drawing) -> None:
    disguised = replace(design_drawing("S1002").outline(0.2), kind="rail")
    with pytest.raises(OutlineRefused) as refusal:
        align_rail(clean(disguised), design=rail)
    assert refusal.value.code in ("wrong-kind", "mirrored-outline")


@pytest.mark.parametrize("factor", [1.0 / 25.4, 25.4, 1e-3, 10.0])
def test_another_unit_cannot_be_a_rail(rail: Drawing, factor: float) -> None:
    outline = rail.outline(0.2)
    scaled = outline.with_points(outline.y_mm * factor, outline.z_mm * factor)
    with pytest.raises(OutlineRefused) as refusal:
        lay_on_design(scaled, design=rail, noise=SILENT)
    assert refusal.value.code == "wrong-unit"
    assert "mm" in refusal.value.allowed


def test_half_a_head_is_too_narrow(rail: Drawing) -> None:
    half = rail.outline(0.2).cut(-40.0, -10.0)
    with pytest.raises(OutlineRefused) as refusal:
        lay_on_design(half, design=rail, noise=SILENT)
    assert "both sides" in refusal.value.todo


def crown(rail: Drawing) -> Outline:
    """Return a running surface without flank, web or foot."""
    return rail.outline(0.2).cut(-34.0, 30.0)


def test_a_running_surface_alone_holds_nothing(rail: Drawing) -> None:
    aligned = lay_on_design(crown(rail).moved(dy_mm=50.0, dz_mm=7.0), design=rail, noise=SILENT)
    assert not aligned.across.anchored
    assert not aligned.up.anchored
    assert aligned.confidence == 0.0
    measures = gauge_rail(aligned, design=rail, noise_mm=0.0, correlation_mm=0.0)
    for name, one in measures.measured().items():
        assert one.value is None, name
        assert one.reason
    assert not any(
        isinstance(value, float) and math.isnan(value) for value in measures.to_dict().values()
    )


def test_an_unknown_inclination_is_refused_where_the_datum_is_given(rail: Drawing) -> None:
    leaning = replace(crown(rail).moved(turn_rad=math.atan(1.0 / 40.0)), frame="track-plane")
    with pytest.raises(OutlineRefused) as refusal:
        lay_on_design(leaning, design=rail, noise=SILENT, datum="given")
    assert refusal.value.code == "inclination-unknown"
    assert "fit" in refusal.value.todo


def test_a_rail_lying_on_its_side_is_not_bent_into_place(rail: Drawing) -> None:
    lying = rail.outline(0.2).moved(turn_rad=math.radians(40.0))
    aligned = lay_on_design(lying, design=rail, noise=SILENT)
    assert abs(aligned.turn_rad) <= math.radians(8.0)
    assert not aligned.up.anchored


def test_kilometres_without_measures_are_refused() -> None:
    km = np.arange(20.0)
    with pytest.raises(ValueError, match="kilometres"):
        kilometre_drift(km, km[:5], km_b=km, measure_b=km)
