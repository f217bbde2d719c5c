"""Wear measures against closed forms and an independent polygon library."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from shapely import box

from tapertread.shapes.alignment import Aligned, Held
from tapertread.shapes.cleaning.noise import Noise, NoisePart
from tapertread.shapes.designs import design_drawing
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Outline
from tapertread.shapes.rails.aligning import lay_on_design
from tapertread.shapes.rails.gauging import RailMeasures, gauge_rail
from tapertread.shapes.reading.outlines import read_outlines
from tapertread.units import MM_PER_INCH

SILENT = Noise()
HALF_WIDTH_14_MM = 35.9815
"""Half width of a new 60E1 14 mm below its top [stock-profile-reconstruction]."""

WEARS = [
    (0.0, 0.0, 70.0),
    (5.0, 0.0, 70.0),
    (0.0, 4.0, 70.0),
    (3.0, 6.0, 65.0),
    (8.0, 12.0, 60.0),
    (1.0, 3.0, 80.0),
]


def as_placed(outline: Outline, **held: Held) -> Aligned:
    exact = Held(by="the design's own axes", uncertainty=0.0)
    known = {"across": exact, "up": exact, "turn": exact, **held}
    return Aligned(outline=outline, dy_mm=0.0, dz_mm=0.0, turn_rad=0.0, confidence=1.0, **known)


def gauged(outline: Outline, design: Drawing, *, noise_mm: float = 0.0) -> RailMeasures:
    return gauge_rail(as_placed(outline), design=design, noise_mm=noise_mm, correlation_mm=3.0)


@pytest.mark.parametrize("name", ["60E1", "54E1"])
def test_a_new_rail_has_lost_nothing(name: str) -> None:
    drawing = design_drawing(name)
    measures = gauged(drawing.outline(0.05), drawing).measured()
    angle = measures.pop("gauge_face_angle_deg")
    assert set(measures) == {
        "vertical_wear_mm",
        "side_wear_mm",
        "side_wear_new_top_mm",
        "side_wear_us_mm",
        "combined_wear_mm",
        "wear_45_mm",
        "head_area_loss_percent",
    }
    # Chords 0.05 mm long leave 2e-5 mm out of the 13 mm corner.
    assert all(abs(one.value) < 1e-4 for one in measures.values() if one.value is not None)
    assert None not in [one.value for one in measures.values()]
    # Side 1:20 from upright; the first 0.3 mm of the band are still corner.
    assert angle.value == pytest.approx(math.degrees(math.atan(20.0)), abs=0.02)


@pytest.mark.parametrize(("vertical_mm", "side_mm", "face_deg"), WEARS)
def test_planted_wear_is_read_by_the_closed_forms(
    worn_rail: Callable[..., Any],
    rail_60e1: Drawing,
    vertical_mm: float,
    side_mm: float,
    face_deg: float,
) -> None:
    worn = worn_rail(vertical_mm=vertical_mm, side_mm=side_mm, face_deg=face_deg, extent="head")
    measures = gauged(worn.outline, rail_60e1)
    assert measures.vertical_wear_mm.value == pytest.approx(vertical_mm, abs=1e-3)
    # An unworn face leans 1:20, so that below a lowered top it stands farther out than the new one.
    lean = 1.0 / math.tan(math.radians(face_deg)) if side_mm else 1.0 / 20.0
    side = side_mm - vertical_mm * lean
    assert measures.side_wear_new_top_mm.value == pytest.approx(side_mm, abs=1e-3)
    assert measures.side_wear_mm.value == pytest.approx(side, abs=5e-3)
    assert measures.combined_wear_mm.value == pytest.approx(vertical_mm + 0.5 * side, abs=5e-3)
    if side_mm:
        assert measures.gauge_face_angle_deg.value == pytest.approx(face_deg, abs=0.02)


@pytest.mark.parametrize(("vertical_mm", "side_mm", "face_deg"), WEARS[2:])
def test_worn_and_new_top_differ_by_vertical_wear_times_the_lean(
    worn_rail: Callable[..., Any],
    rail_60e1: Drawing,
    vertical_mm: float,
    side_mm: float,
    face_deg: float,
) -> None:
    """[trade-practice]: vertical wear x tan(face angle from vertical)."""
    worn = worn_rail(vertical_mm=vertical_mm, side_mm=side_mm, face_deg=face_deg, extent="head")
    measures = gauged(worn.outline, rail_60e1)
    assert measures.side_wear_mm.value is not None
    assert measures.side_wear_new_top_mm.value is not None
    differ = measures.side_wear_new_top_mm.value - measures.side_wear_mm.value
    expected = vertical_mm * math.tan(math.radians(90.0 - face_deg))
    assert differ == pytest.approx(expected, abs=1e-3)


@pytest.mark.parametrize(("vertical_mm", "side_mm", "face_deg"), WEARS)
@pytest.mark.parametrize("extent", ["head", "whole"])
def test_head_area_agrees_with_a_polygon_library(
    worn_rail: Callable[..., Any],
    rail_60e1: Drawing,
    vertical_mm: float,
    side_mm: float,
    face_deg: float,
    extent: str,
) -> None:
    worn = worn_rail(vertical_mm=vertical_mm, side_mm=side_mm, face_deg=face_deg, extent=extent)
    loss = gauged(worn.outline, rail_60e1).head_area_loss_percent
    if loss.value is None:
        assert extent == "head"
        assert "ends on a worn place" in loss.reason
    else:
        # 0.2 mm chords round the 13 mm corner off by 0.003 % of the head.
        assert loss.value == pytest.approx(worn.area_loss_percent, abs=5e-3)


@pytest.mark.parametrize("depth_mm", [14.0, 25.0])
def test_head_area_above_another_depth(
    worn_rail: Callable[..., Any], rail_60e1: Drawing, depth_mm: float
) -> None:
    worn = worn_rail(vertical_mm=2.0, side_mm=5.0, extent="head")
    above = box(-100.0, -depth_mm, 100.0, 100.0)
    new = worn.head_new.intersection(above).area
    expected = 100.0 * (1.0 - worn.head_worn.intersection(above).area / new)
    measures = gauge_rail(
        as_placed(worn.outline),
        design=rail_60e1,
        noise_mm=0.0,
        correlation_mm=0.0,
        area_depth_mm=depth_mm,
    )
    assert measures.head_area_loss_percent.value == pytest.approx(expected, abs=0.01)
    assert any(f"above {depth_mm:g} mm" in note for note in measures.notes)


@pytest.mark.parametrize("depth_mm", [-1.0, 0.0, 60.0])
def test_no_area_above_a_depth_the_drawing_lacks(
    worn_rail: Callable[..., Any], rail_60e1: Drawing, depth_mm: float
) -> None:
    measures = gauge_rail(
        as_placed(worn_rail(extent="head").outline),
        design=rail_60e1,
        noise_mm=0.0,
        correlation_mm=0.0,
        area_depth_mm=depth_mm,
    )
    assert measures.head_area_loss_percent.value is None
    assert "37.3 mm deep" in measures.head_area_loss_percent.reason


@pytest.mark.parametrize("cut_mm", [0.5, 3.0, 8.0])
def test_wear_at_45_is_the_depth_of_a_cut_across_the_corner(
    rail_60e1: Drawing, cut_mm: float
) -> None:
    """A 45° cut a known depth below the tangent at 45° of the 13 mm corner."""
    outline = rail_60e1.outline(0.02)
    centre_y, centre_z, radius = -23.016220, -14.949189, 13.0
    reach = (-outline.y_mm + centre_y + outline.z_mm - centre_z) / math.sqrt(2.0)
    over = np.maximum(reach - (radius - cut_mm), 0.0) / math.sqrt(2.0)
    cut = outline.with_points(outline.y_mm + over, outline.z_mm - over)
    assert gauged(cut, rail_60e1).wear_45_mm.value == pytest.approx(cut_mm, abs=2e-3)


def test_the_us_depth_is_five_eighths_of_an_inch(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    """5/8 in below the rail top, as 49 CFR 213.53 measures gauge [cfr-213]."""
    worn = worn_rail(vertical_mm=2.0, side_mm=6.0, face_deg=70.0, extent="head")
    depth = 0.625 * MM_PER_INCH
    lean = 1.0 / math.tan(math.radians(70.0))
    face = -HALF_WIDTH_14_MM + 6.0 - (2.0 + depth - 14.0) * lean
    new = -36.0 - (depth - 14.3) / 20.0
    measured = gauged(worn.outline, rail_60e1).side_wear_us_mm
    assert measured.value == pytest.approx(face - new, abs=2e-3)


def test_measures_do_not_depend_on_origin_tilt_or_units(
    worn_rail: Callable[..., Any], rail_60e1: Drawing, tmp_path: Path
) -> None:
    worn = worn_rail(vertical_mm=3.0, side_mm=5.0, extent="head and web")
    inches = np.column_stack((worn.outline.y_mm, worn.outline.z_mm)) / MM_PER_INCH
    file = tmp_path / "rail.csv"
    np.savetxt(file, inches, delimiter=",", header="y_in,z_in", comments="", fmt="%.7f")
    in_inches = read_outlines(file, kind="rail").outlines[0].outline
    results = []
    for outline in (
        worn.outline,
        worn.outline.moved(dy_mm=40.0, dz_mm=-80.0, turn_rad=0.04),
        in_inches,
    ):
        aligned = lay_on_design(outline, design=rail_60e1, noise=SILENT)
        measures = gauge_rail(aligned, design=rail_60e1, noise_mm=0.0, correlation_mm=0.0)
        results.append([one.value for one in measures.measured().values()])
    assert results[1] == pytest.approx(results[0], abs=1e-3)
    assert results[2] == pytest.approx(results[0], abs=1e-3)


def test_the_worn_face_gives_its_angle_where_the_scar_is_short(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    """1.5 mm of side wear at 70° ends about 5 mm lower: 14 to 19 mm would mix worn and new."""
    worn = worn_rail(side_mm=1.5, face_deg=70.0, extent="head")
    measures = gauged(worn.outline, rail_60e1)
    assert measures.gauge_face_angle_deg.value == pytest.approx(70.0, abs=0.1)


def test_uncertainties_name_their_causes(worn_rail: Callable[..., Any], rail_60e1: Drawing) -> None:
    worn = worn_rail(vertical_mm=3.0, side_mm=5.0, extent="head")
    noise = Noise(parts=(NoisePart(variance_mm2=0.03**2, length_mm=3.0),))
    aligned = lay_on_design(worn.outline, design=rail_60e1, noise=noise)
    measures = gauge_rail(
        aligned, design=rail_60e1, noise_mm=0.03, correlation_mm=3.0, repeatability_mm=0.1
    )
    vertical = dict(measures.vertical_wear_mm.parts)
    assert set(vertical) == {"noise", "datum", "sampling", "repeatability"}
    assert vertical["repeatability"] == 0.1
    # At the axis the datum is as unsure as the rail is held up.
    assert vertical["datum"] == pytest.approx(aligned.up.uncertainty, rel=0.01)
    assert 0.0 < vertical["noise"] <= 0.03
    side = dict(measures.side_wear_mm.parts)
    assert side["datum"] < vertical["datum"]


def test_coarser_points_leave_more_out(worn_rail: Callable[..., Any], rail_60e1: Drawing) -> None:
    worn = worn_rail(vertical_mm=1.0, side_mm=3.0, extent="head")
    fine, coarse = (
        gauge_rail(
            as_placed(worn.outline),
            design=rail_60e1,
            noise_mm=0.0,
            correlation_mm=0.0,
            spacing_mm=spacing,
        )
        for spacing in (0.1, 1.0)
    )
    assert dict(coarse.side_wear_mm.parts)["sampling"] > 10.0 * (
        dict(fine.side_wear_mm.parts)["sampling"] + 1e-6
    )


UNHELD = Held(by="", uncertainty=math.inf, reason="nothing says how high the rail stands")


def test_wear_that_was_fitted_away_is_missing(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    worn = worn_rail(vertical_mm=5.0, side_mm=5.0, extent="head")
    measures = gauge_rail(
        as_placed(worn.outline, up=UNHELD), design=rail_60e1, noise_mm=0.0, correlation_mm=0.0
    )
    for name in (
        "vertical_wear_mm",
        "side_wear_new_top_mm",
        "combined_wear_mm",
        "wear_45_mm",
        "head_area_loss_percent",
    ):
        assert measures.measured()[name].value is None
        assert measures.measured()[name].reason == UNHELD.reason
    assert measures.side_wear_mm.value is not None
    answer = measures.to_dict()
    assert answer["vertical_wear_mm"] is None
    assert any(note.startswith("vertical_wear_mm: nothing") for note in answer["notes"])  # type: ignore[attr-defined]


@pytest.mark.parametrize(("missing", "kept"), [("across", "vertical_wear_mm"), ("turn", "")])
def test_each_freedom_takes_its_measures_with_it(
    worn_rail: Callable[..., Any], rail_60e1: Drawing, missing: str, kept: str
) -> None:
    worn = worn_rail(vertical_mm=5.0, side_mm=5.0, extent="head")
    held = {missing: replace(UNHELD, reason=f"no {missing}")}
    measures = gauge_rail(
        as_placed(worn.outline, **held), design=rail_60e1, noise_mm=0.0, correlation_mm=0.0
    )
    assert measures.side_wear_mm.reason == f"no {missing}"
    assert (measures.gauge_face_angle_deg.value is None) == (missing == "turn")
    if kept:
        assert measures.measured()[kept].value is not None


def test_a_gap_over_the_top_hides_what_a_gauge_would_rest_on(
    worn_rail: Callable[..., Any], rail_60e1: Drawing
) -> None:
    outline = worn_rail(vertical_mm=2.0, side_mm=4.0).outline
    kept = (outline.y_mm < -5.0) | (outline.y_mm > 8.0)
    kept |= outline.z_mm < -50.0
    found = gauged(outline.with_points(outline.y_mm[kept], outline.z_mm[kept]), rail_60e1)
    for name in ("side_wear_mm", "side_wear_us_mm", "combined_wear_mm"):
        assert found.measured()[name].value is None, name
        assert "gap" in found.measured()[name].reason, name
    assert found.side_wear_new_top_mm.value == pytest.approx(4.0, abs=0.1)


@pytest.mark.parametrize(
    ("hide", "gone"),
    [
        (lambda y, z: (abs(y) < 2.0) & (z > -10.0), "vertical_wear_mm"),
        (lambda y, z: (y < 0.0) & (z < -12.0) & (z > -17.5), "side_wear_mm"),
        (lambda y, z: (y < -26.0) & (z > -9.0), "wear_45_mm"),
    ],
)
def test_nothing_is_read_across_a_gap(
    rail_60e1: Drawing, hide: Callable[..., Any], gone: str
) -> None:
    outline = rail_60e1.outline(0.1)
    hidden = hide(outline.y_mm, outline.z_mm)
    with_gap = outline.with_points(outline.y_mm[~hidden], outline.z_mm[~hidden])
    measures = gauged(with_gap, rail_60e1).measured()
    assert measures[gone].value is None
    assert "gap" in measures[gone].reason
    assert "gap" in measures["head_area_loss_percent"].reason
    bridged = gauge_rail(
        replace(as_placed(outline), bridged=hidden),
        design=rail_60e1,
        noise_mm=0.0,
        correlation_mm=0.0,
    )
    assert bridged.measured()[gone].value is None


def test_a_face_not_measured_has_no_side_wear(rail_60e1: Drawing) -> None:
    outline = rail_60e1.outline(0.1)
    seen = (outline.y_mm > 0.0) | (outline.z_mm > -10.0)
    short = outline.with_points(outline.y_mm[seen], outline.z_mm[seen])
    measures = gauged(short, rail_60e1)
    assert measures.side_wear_mm.value is None
    assert "does not reach" in measures.side_wear_mm.reason
    assert measures.gauge_face_angle_deg.value is None
    assert measures.vertical_wear_mm.value is not None
