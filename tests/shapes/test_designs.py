"""The shipped designs: complete, honest about their status, and well drawn."""

from __future__ import annotations

import json
import math

import numpy as np
import pytest

import tapertread.shapes as room
from tapertread.errors import DrawingRefused, RefusedInput, WrongUsage
from tapertread.shapes import designs
from tapertread.shapes.designs import (
    all_designs,
    design,
    design_drawing,
    design_info,
    design_names,
)
from tapertread.sources import source

WHEELS = {
    "S1002": "closed",
    "cone-1-40": "constructed",
    "freight-1-20": "constructed",
    "cylinder": "constructed",
    "cone-steep": "constructed",
    "gentle": "constructed",
    "hollow-worn": "constructed",
    "cylinder-no-flange": "constructed",
    "cone-steep-no-flange": "constructed",
    "gentle-no-flange": "constructed",
    "hollow-worn-no-flange": "constructed",
}
RAILS = {
    "60E1": "closed",
    "54E1": "closed",
    "tube": "constructed",
    "49E1": "doubtful",
    "136RE-8": "doubtful",
    "136RE-10": "doubtful",
    "136RE-14": "doubtful",
    "132RE": "doubtful",
    "119RE": "doubtful",
    "115RE-A": "doubtful",
    "115RE-B": "doubtful",
}
NOT_FOUND = {
    "EN 13715 1/40",
    "EPS",
    "P8",
    "AAR-1B",
    "AAR 1:20",
    "AAR-2A",
    "APTA 1:20 and 1:40",
    "60E2",
    "50E6",
    "141RE",
}
FLANGED = ("S1002", "cone-1-40", "freight-1-20", "cylinder", "cone-steep", "gentle", "hollow-worn")
ALL = [*WHEELS, *RAILS]


def test_the_list_is_complete() -> None:
    assert set(design_names("wheel")) == set(WHEELS)
    assert set(design_names("rail")) == set(RAILS)
    assert set(design_names()) == set(ALL)
    assert {name for name, info in all_designs().items() if not info.buildable} == NOT_FOUND
    assert all_designs() is designs.DESIGNS


def test_wheels_come_first_and_the_surest_of_each_kind() -> None:
    names = design_names()
    assert names[0] == "S1002"
    assert names.index("hollow-worn-no-flange") < names.index("54E1") < names.index("tube")
    assert names.index("136RE-8") < names.index("136RE-10")
    assert list(all_designs())[-1] in NOT_FOUND


@pytest.mark.parametrize(("name", "status"), [*WHEELS.items(), *RAILS.items()])
def test_each_design_carries_its_status_source_and_note(name: str, status: str) -> None:
    info = design_info(name)
    outline = design(name)
    assert info.status == status == outline.origin.status
    assert outline.origin.name == name
    assert info.note == outline.origin.note
    assert len(info.note) > 40
    assert info.sources == outline.origin.sources
    assert [source(key).key for key in info.sources] == list(info.sources)
    assert json.loads(json.dumps(info.to_dict()))["buildable"] is True


@pytest.mark.parametrize("name", [name for name, status in RAILS.items() if status == "doubtful"])
def test_doubt_shows_in_the_label(name: str) -> None:
    assert design(name).origin.label == f"{name} (doubtful)" == design_info(name).label


def test_sure_designs_carry_no_doubt() -> None:
    assert [design_info(name).label for name in WHEELS] == list(WHEELS)


@pytest.mark.parametrize("name", sorted(NOT_FOUND))
def test_profiles_without_geometry_are_listed_and_never_built(name: str) -> None:
    info = design_info(name)
    assert info.status == "not found"
    assert info.reason
    assert [source(key).key for key in info.sources] == list(info.sources)
    with pytest.raises(DrawingRefused) as refusal:
        design(name)
    assert refusal.value.code == "not-buildable"
    assert info.reason in refusal.value.found


@pytest.mark.parametrize("name", ALL)
def test_each_design_is_drawn_smoothly(name: str) -> None:
    """Steps below 2e-4 mm everywhere (S1002's digits); kinks only at the rim's chamfer."""
    drawing = design_drawing(name)
    for junction in drawing.junctions:
        assert junction.step_mm < 2e-4
        assert abs(junction.kink_deg) < (60.0 if junction.after == "chamfer" else 3e-4)


@pytest.mark.parametrize("name", ALL)
def test_each_design_stands_at_its_origin(name: str) -> None:
    assert design_drawing(name).z_at(0.0)[0] == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize("name", list(WHEELS))
def test_wheels_go_from_an_upright_back_to_the_rim(name: str) -> None:
    outline = design(name)
    assert outline.kind == "wheel"
    assert outline.tape_line_mm == 70.0
    assert outline.y_mm[:2] == pytest.approx([-70.0, -70.0])
    assert outline.z_mm[1] < outline.z_mm[0]
    assert outline.y_mm[-1] == pytest.approx(65.0)


@pytest.mark.parametrize(
    ("name", "height_mm", "words"),
    [
        ("cone-1-40", 28.0, "height 28 mm"),
        ("cylinder", 28.0, "28 mm high"),
        ("cone-steep", 28.0, "28 mm high"),
        ("gentle", 28.0, "28 mm high"),
        ("freight-1-20", 25.4, "1 in high"),
        ("hollow-worn", 33.4, "33.4 mm beyond"),
    ],
)
def test_flange_heights_are_as_their_notes_say(name: str, height_mm: float, words: str) -> None:
    assert -design(name, step_mm=0.01).z_mm.min() == pytest.approx(height_mm, abs=1e-4)
    assert words in design_info(name).note


@pytest.mark.parametrize("name", FLANGED)
def test_flange_thickness_fits_standard_gauge(name: str) -> None:
    """22 to 33 mm in service by TSI LOC&PAS for diameters above 840 mm (MEMORY)."""
    drawing = design_drawing(name)
    y = np.linspace(-50.0, -25.0, 25001)
    thickness = drawing.tape_line_mm + float(np.interp(-10.0, drawing.z_at(y), y))
    assert 22.0 < thickness < 33.0


@pytest.mark.parametrize(
    ("name", "slope"),
    [("cone-1-40", 1 / 40), ("freight-1-20", 1 / 20), ("cylinder", 0.0), ("cone-steep", 1 / 7)],
)
def test_tapers_are_as_their_names_say(name: str, slope: float) -> None:
    drawing = design_drawing(name)
    begin, end = drawing.arc_range("tread")
    assert np.tan(drawing.tangent_rad([begin, 0.5 * (begin + end)])) == pytest.approx(slope)


def test_freight_flange_stands_at_75_degrees_over_a_tenth_of_an_inch() -> None:
    """APTA SS-M-015-06 asks 72 degrees over at least 0.1 in; this one is steeper and longer."""
    drawing = design_drawing("freight-1-20")
    begin, end = drawing.arc_range("face")
    assert end - begin > 2.54
    assert math.degrees(drawing.tangent_rad(begin + 1.0)[0]) == pytest.approx(75.0)


def test_gentle_is_progressive() -> None:
    """Its slope falls all the way from the throat to the field side, never below 1:60."""
    drawing = design_drawing("gentle")
    begin, _ = drawing.arc_range("tread")
    _, end = drawing.arc_range("field taper")
    slopes = np.tan(drawing.tangent_rad(np.linspace(begin, end - 1e-6, 200)))
    assert np.all(np.diff(slopes) < 1e-12)
    assert slopes[-1] == pytest.approx(1 / 60)
    assert np.tan(drawing.tangent_rad(drawing.project(0.0, 0.0).arc_mm)[0]) == pytest.approx(0.04)


@pytest.mark.parametrize("name", ["hollow-worn", "hollow-worn-no-flange"])
def test_hollow_worn_is_hollow_by_3_6_mm(name: str) -> None:
    """Largest fall of the tread toward the field side, by the definition of hollow."""
    y = np.linspace(-20.0, 60.0, 8001)
    z = design_drawing(name).z_at(y)
    assert (np.maximum.accumulate(z) - z).max() == pytest.approx(3.6, abs=0.05)


@pytest.mark.parametrize(
    "name", ["S1002", "cone-1-40", "freight-1-20", "cylinder", "cone-steep", "gentle"]
)
def test_new_treads_are_not_hollow(name: str) -> None:
    y = np.linspace(-20.0, 60.0, 8001)
    z = design_drawing(name).z_at(y)
    assert (np.maximum.accumulate(z) - z).max() == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("of", ["cylinder", "cone-steep", "gentle", "hollow-worn"])
def test_no_flange_twins_share_the_tread(of: str) -> None:
    y = np.linspace(-18.0, 65.0, 400)
    twin = design_drawing(f"{of}-no-flange")
    assert twin.z_at(y) == pytest.approx(design_drawing(of).z_at(y), abs=1e-9)
    assert twin.outline().z_mm.min() > -10.0


@pytest.mark.parametrize("radius_mm", [2.5, 10.0, 25.0])
def test_the_tube_has_the_radius_asked_for(radius_mm: float) -> None:
    drawing = design_drawing("tube", radius_mm=radius_mm)
    assert drawing.curvature_per_mm([0.0, 1.0]) == pytest.approx(1.0 / radius_mm)
    outline = design("tube", radius_mm=radius_mm)
    away = np.hypot(outline.y_mm, outline.z_mm + radius_mm)
    assert away == pytest.approx(np.full(away.shape, radius_mm), abs=1e-9)
    assert np.ptp(outline.y_mm) == pytest.approx(2.0 * radius_mm)


@pytest.mark.parametrize("name", ["60E1", "54E1"])
def test_rail_anchors_come_from_verified_sizes(name: str) -> None:
    """Height 172 or 159 mm, foot 150 or 140 mm, web 16.5 or 16 mm (EN 13674-1:2011 tables)."""
    height, foot, web = {"60E1": (172.0, 150.0, 16.5), "54E1": (159.0, 140.0, 16.0)}[name]
    anchors = design_drawing(name).anchors
    ends = {
        part: np.array([p for a in anchors if a.name == part for p in (a.piece.start, a.piece.end)])
        for part in ("web", "foot underside")
    }
    assert np.ptp(ends["web"][:, 0]) == pytest.approx(web)
    assert np.ptp(ends["foot underside"][:, 0]) == pytest.approx(foot)
    assert ends["foot underside"][:, 1] == pytest.approx(np.full(4, -height))
    assert {anchor.status for anchor in anchors} == {"VERIFIED"}


@pytest.mark.parametrize("name", ["49E1", "tube"])
def test_rails_without_verified_sizes_have_no_anchor(name: str) -> None:
    assert design_drawing(name).anchors == ()


def test_the_step_of_an_outline_can_be_asked_for() -> None:
    outline = design("60E1", step_mm=1.0)
    assert np.hypot(np.diff(outline.y_mm), np.diff(outline.z_mm)).max() <= 1.0
    assert outline.y_mm.size < design("60E1").y_mm.size


@pytest.mark.parametrize(
    ("asked", "meant"),
    [("s1003", "S1002"), ("S1003", "S1002"), ("60e", "60E1"), ("hollow_worn", "hollow-worn")],
)
def test_an_unknown_name_is_refused_with_near_ones(asked: str, meant: str) -> None:
    with pytest.raises(RefusedInput) as refusal:
        design(asked)
    assert refusal.value.code == "unknown-design"
    assert meant in refusal.value.todo


@pytest.mark.parametrize("name", design_names())
def test_a_name_in_other_letters_is_the_same_design(name: str) -> None:
    assert design_info(name.lower()) == design_info(name.upper()) == design_info(name)
    assert design_drawing(name.lower()) is design_drawing(name)


def test_a_name_like_no_other_is_refused_with_the_list() -> None:
    with pytest.raises(DrawingRefused, match="drawing file") as refusal:
        design_info("xyzzy")
    assert "S1002" in refusal.value.allowed


@pytest.mark.parametrize(
    ("name", "options"),
    [
        ("S1002", {"radius_mm": 10.0}),
        ("tube", {"diameter_mm": 10.0}),
        ("tube", {"radius_mm": 0.0}),
        ("tube", {"radius_mm": -3.0}),
        ("tube", {"radius_mm": math.inf}),
        ("tube", {"radius_mm": math.nan}),
    ],
)
def test_wrong_options_are_wrong_usage(name: str, options: dict[str, float]) -> None:
    with pytest.raises(WrongUsage):
        design(name, **options)


def test_the_room_offers_its_names_lazily() -> None:
    for name in room.__all__:
        assert getattr(room, name) is not None
    with pytest.raises(AttributeError):
        room.wheel  # noqa: B018
    with pytest.raises(AttributeError):
        designs.NO_SUCH  # noqa: B018
