"""A drawing evaluated: points, angles, outlines and projections, against scipy and shapely."""

from __future__ import annotations

import time

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad
from shapely import LineString, distance, points

from tapertread.shapes.designs import design_drawing, design_names
from tapertread.shapes.drawing.curve import Drawing, drawing_from_text
from tapertread.shapes.drawing.pieces import Polynomial

ALL = [*design_names("wheel"), *design_names("rail")]


@pytest.fixture(scope="module")
def s1002() -> Drawing:
    return design_drawing("S1002")


@pytest.fixture(scope="module")
def rail() -> Drawing:
    return design_drawing("60E1")


def polyline(drawing: Drawing, step_mm: float) -> LineString:
    outline = drawing.outline(step_mm)
    return LineString(np.column_stack((outline.y_mm, outline.z_mm)))


def scattered(drawing: Drawing, *, spread_mm: float, count: int = 500) -> np.ndarray:
    rng = np.random.default_rng(20)
    y, z = drawing.point(rng.uniform(0.0, drawing.length_mm, count))
    return np.column_stack((y, z)) + rng.normal(0.0, spread_mm, (count, 2))


@pytest.mark.parametrize("name", ALL)
def test_tangent_is_the_derivative_of_the_point(name: str) -> None:
    drawing = design_drawing(name)
    arc = np.linspace(0.0, drawing.length_mm, 203)[1:-1]
    y1, z1 = drawing.point(arc + 1e-5)
    y0, z0 = drawing.point(arc - 1e-5)
    angle = drawing.tangent_rad(arc)
    assert np.hypot(y1 - y0, z1 - z0) == pytest.approx(np.full(arc.shape, 2e-5), rel=1e-4)
    assert np.cos(angle) == pytest.approx((y1 - y0) / 2e-5, abs=1e-4)
    assert np.sin(angle) == pytest.approx((z1 - z0) / 2e-5, abs=1e-4)


@pytest.mark.parametrize("name", ["S1002", "60E1", "hollow-worn"])
def test_curvature_is_the_turn_of_the_tangent(name: str) -> None:
    drawing = design_drawing(name)
    junctions = np.array([j.arc_mm for j in drawing.junctions])
    arc = np.linspace(0.0, drawing.length_mm, 301)[1:-1]
    arc = arc[np.abs(arc[:, None] - junctions).min(axis=1) > 1e-3]
    turn = drawing.tangent_rad(arc + 1e-4) - drawing.tangent_rad(arc - 1e-4)
    sense = 1.0 if drawing.kind == "wheel" else -1.0
    assert drawing.curvature_per_mm(arc) == pytest.approx(sense * turn / 2e-4, abs=1e-7)


def test_convex_metal_has_positive_curvature(s1002: Drawing, rail: Drawing) -> None:
    tip, throat, crown = (
        drawing.curvature_per_mm(np.mean(drawing.arc_range(name)))[0]
        for drawing, name in ((s1002, "tip"), (s1002, "throat"), (rail, "crown"))
    )
    assert (tip, throat, crown) == pytest.approx((1.0 / 12.0, -1.0 / 13.0, 1.0 / 300.0))


def test_length_of_a_polynomial_agrees_with_scipy(s1002: Drawing) -> None:
    for name in ("root", "tread"):
        piece = s1002.piece(name)
        assert isinstance(piece, Polynomial)
        derived = np.polynomial.Polynomial(piece.coefficients).deriv()
        length, _ = quad(lambda y, f=derived: np.hypot(1.0, f(y)), piece.from_mm, piece.to_mm)
        assert piece.length_mm == pytest.approx(length, rel=1e-12)


def test_polynomial_points_lie_where_their_arc_length_says(s1002: Drawing) -> None:
    begin, end = s1002.arc_range("tread")
    arc = np.linspace(begin, end, 97)[1:-1]
    y, z = s1002.point(arc)
    back = s1002.project(y, z)
    assert back.arc_mm == pytest.approx(arc, abs=1e-9)
    assert s1002.z_at(y) == pytest.approx(z, abs=1e-12)


@pytest.mark.parametrize("name", ALL)
def test_outline_has_a_point_on_each_junction(name: str) -> None:
    drawing = design_drawing(name)
    outline = drawing.outline(0.37)
    ends = [drawing.pieces[0].start, *(piece.end for piece in drawing.pieces)]
    for y, z in ends:
        away = np.hypot(outline.y_mm - y, outline.z_mm - z)
        assert away.min() < 2e-4  # S1002's polynomials meet the throat within 1.2e-4 mm
    steps = np.hypot(np.diff(outline.y_mm), np.diff(outline.z_mm))
    assert steps.max() <= 0.37 + 1e-9
    assert outline.origin == drawing.origin


def test_outline_bends_little_from_point_to_point(s1002: Drawing) -> None:
    sharp = s1002.scaled(0.1)
    angles = sharp.tangent_rad(sharp.arcs_for(1.0))
    smooth = np.abs(np.diff(np.unwrap(angles)))
    assert np.sort(smooth)[-2] < 0.0201  # all but the 41 degree chamfer


@pytest.mark.parametrize("name", ["S1002", "60E1"])
def test_linear_resampling_converges_with_order_2(name: str) -> None:
    """Chords of a smooth curve miss it by step² x curvature / 8 (Taylor's theorem).

    Steps stay below 0.02 rad x 12 mm, where outlines are refined by themselves.
    """
    drawing = design_drawing(name)
    exact = drawing.outline(0.0137)
    on_curve = points(np.column_stack((exact.y_mm, exact.z_mm)))
    steps = np.array([0.2, 0.1, 0.05])
    errors = [np.sqrt(np.mean(distance(polyline(drawing, step), on_curve) ** 2)) for step in steps]
    order = np.diff(np.log(errors)) / np.diff(np.log(steps))
    assert order == pytest.approx(np.full(2, 2.0), abs=0.1)


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("spread_mm", [0.05, 2.0])
def test_distance_agrees_with_shapely(name: str, spread_mm: float) -> None:
    """Against a polyline of 0.01 mm links, whose sagitta on an edge of 3 mm is 4.2e-6 mm.

    S1002 steps by 1.2e-4 mm between throat and root: the polyline bridges, the pieces do not.
    """
    drawing = design_drawing(name)
    cloud = scattered(drawing, spread_mm=spread_mm)
    ours = drawing.project(cloud[:, 0], cloud[:, 1])
    theirs = distance(polyline(drawing, 0.01), points(cloud))
    assert np.abs(ours.distance_mm) == pytest.approx(theirs, abs=6e-5 if name == "S1002" else 1e-5)
    y, z = drawing.point(ours.arc_mm)
    away = np.hypot(cloud[:, 0] - y, cloud[:, 1] - z)
    assert away == pytest.approx(np.abs(ours.distance_mm), abs=2e-4 if name == "S1002" else 1e-6)


@pytest.mark.parametrize("name", ALL)
def test_sign_tells_metal_from_air(name: str) -> None:
    """Points moved along the outward normal come back with the distance moved and its sign."""
    drawing = design_drawing(name)
    arc = np.linspace(0.0, drawing.length_mm, 151)
    y, z = drawing.point(arc)
    angle = drawing.tangent_rad(arc)
    out = 1.0 if drawing.kind == "wheel" else -1.0
    for moved in (-0.02, 0.02):
        here = drawing.project(y + out * moved * np.sin(angle), z - out * moved * np.cos(angle))
        assert here.distance_mm == pytest.approx(np.full(arc.shape, moved), abs=2e-4)
        assert np.all(np.sign(here.distance_mm) == np.sign(moved))


def test_a_point_off_a_convex_corner_is_outside(s1002: Drawing) -> None:
    corner = next(j for j in s1002.junctions if j.after == "chamfer")
    assert corner.kink_deg == pytest.approx(45.0 - np.degrees(np.arctan(0.066666667)), abs=1e-6)
    toward = np.radians(np.linspace(-85.0, -46.0, 14))
    off = s1002.project(corner.y_mm + np.cos(toward), corner.z_mm + np.sin(toward))
    assert off.distance_mm == pytest.approx(np.ones(14), abs=1e-9)
    inside = s1002.project(corner.y_mm + 0.5 * np.cos(2.0), corner.z_mm + 0.5 * np.sin(2.0))
    assert inside.distance_mm[0] < 0.0


def test_points_beyond_the_ends_stay_at_the_ends(rail: Drawing) -> None:
    (y0, z0), (y1, z1) = rail.pieces[0].start, rail.pieces[-1].end
    beyond = rail.project([y0, y1], [z0 - 3.0, z1 - 4.0])
    assert beyond.arc_mm == pytest.approx([0.0, rail.length_mm])
    assert np.abs(beyond.distance_mm) == pytest.approx([3.0, 4.0])


@given(y=st.floats(-80.0, 80.0), z=st.floats(-50.0, 40.0), name=st.sampled_from(["S1002", "60E1"]))
@settings(max_examples=60, deadline=None)
def test_no_place_of_the_curve_is_nearer(y: float, z: float, name: str) -> None:
    drawing = design_drawing(name)
    found = abs(drawing.project(y, z).distance_mm[0])
    curve_y, curve_z = drawing.point(np.linspace(0.0, drawing.length_mm, 2001))
    assert found <= np.hypot(curve_y - y, curve_z - z).min() + 1e-9


def test_projecting_500_points_takes_milliseconds(s1002: Drawing) -> None:
    """Aligning projects dozens of times; 0.8 ms were measured, the rest is for a busy machine."""
    cloud = scattered(s1002, spread_mm=0.5)
    times = []
    for _ in range(20):
        begun = time.perf_counter()
        s1002.project(cloud[:, 0], cloud[:, 1])
        times.append(time.perf_counter() - begun)
    assert min(times) < 5e-3


@pytest.mark.parametrize("name", [*design_names("rail")])
def test_rails_are_mirror_symmetric(name: str) -> None:
    rail = design_drawing(name)
    arc = np.linspace(0.0, rail.length_mm, 401)
    y, z = rail.point(arc)
    assert y == pytest.approx(-y[::-1], abs=1e-9)
    assert z == pytest.approx(z[::-1], abs=1e-9)
    assert rail.curvature_per_mm(arc[200:201]) == pytest.approx(rail.curvature_per_mm(arc[199:200]))


@pytest.mark.parametrize("name", ["S1002", "60E1", "gentle"])
def test_mirroring_twice_changes_nothing(name: str) -> None:
    for piece in design_drawing(name).pieces:
        again = piece.mirrored().mirrored()
        assert again.start == pytest.approx(piece.start, abs=1e-12)
        assert again.end == pytest.approx(piece.end, abs=1e-12)
        assert again.length_mm == pytest.approx(piece.length_mm, rel=1e-12)
        y, z = piece.point(np.array([0.3 * piece.length_mm]))
        mirror_y, mirror_z = piece.mirrored().point(np.array([0.7 * piece.length_mm]))
        assert (mirror_y[0], mirror_z[0]) == pytest.approx((-y[0], z[0]), abs=1e-9)


def test_scaling_keeps_the_shape(s1002: Drawing) -> None:
    model = s1002.scaled(0.1)
    arc = np.linspace(0.0, s1002.length_mm, 77)
    assert model.length_mm == pytest.approx(0.1 * s1002.length_mm)
    assert model.tape_line_mm == pytest.approx(7.0)
    assert model.tangent_rad(0.1 * arc[:-1]) == pytest.approx(s1002.tangent_rad(arc[:-1]), abs=1e-6)
    assert model.point(0.1 * arc)[1] == pytest.approx(0.1 * s1002.point(arc)[1], abs=1e-9)


@pytest.mark.parametrize("factor", [0.0, -1.0, float("nan")])
def test_no_scale_but_a_positive_one(s1002: Drawing, factor: float) -> None:
    with pytest.raises(ValueError, match="scale"):
        s1002.scaled(factor)


def test_z_at_is_empty_off_the_running_part(s1002: Drawing, rail: Drawing) -> None:
    assert np.isnan(s1002.z_at([-70.1, 65.1])).all()
    assert np.isnan(rail.z_at([-40.0, 40.0])).all()
    assert not np.isnan(s1002.z_at([-70.0, 65.0])).any()


def test_arc_lengths_beyond_the_drawing_are_refused(rail: Drawing) -> None:
    with pytest.raises(ValueError, match="beyond the drawing"):
        rail.point([rail.length_mm + 0.01])
    with pytest.raises(ValueError, match="beyond the drawing"):
        rail.tangent_rad([-0.01])
    with pytest.raises(ValueError, match="beyond the drawing"):
        rail.curvature_per_mm([np.nan])


def test_pieces_are_found_by_name_only(rail: Drawing) -> None:
    with pytest.raises(KeyError):
        rail.piece("flange")
    with pytest.raises(ValueError, match="a step of"):
        rail.outline(0.0)


def test_anchors_project_with_the_same_sign(rail: Drawing) -> None:
    """0.5 mm of scale on the web and below the foot is outside, on both sides."""
    found = rail.project_on_anchors([8.75, -8.75, 40.0, -40.0], [-105, -105, -172.5, -172.5])
    assert found.distance_mm == pytest.approx(np.full(4, 0.5))
    names = [rail.anchors[index].name for index in found.piece]
    assert names == ["web", "web", "foot underside", "foot underside"]
    assert {anchor.status for anchor in rail.anchors} == {"VERIFIED"}


def test_a_wheel_has_no_anchor(s1002: Drawing) -> None:
    with pytest.raises(ValueError, match="no anchor"):
        s1002.project_on_anchors([0.0], [0.0])


STEPPED = """
drawing = 1
name = "stepped"
kind = "wheel"
units = "mm"
tape_line_mm = 70.0
{extra}
[[piece]]
type = "line"
from = [-40.0, 0.0]
to = [20.0, 0.0]
[[piece]]
type = "line"
from = [20.0, {step}]
to = [60.0, {step}]
"""


def test_an_allowed_step_keeps_both_of_its_ends() -> None:
    drawing = drawing_from_text(STEPPED.format(extra="allow_step = true", step=0.5))
    (junction,) = drawing.junctions
    assert (junction.step_mm, junction.kink_deg) == pytest.approx((0.5, 0.0))
    outline = drawing.outline(1.0)
    at_step = outline.z_mm[np.abs(outline.y_mm - 20.0) < 1e-9]
    assert at_step == pytest.approx([0.0, 0.5])


def test_a_step_below_a_micrometre_is_one_point() -> None:
    drawing = drawing_from_text(STEPPED.format(extra="", step=0.0005))
    outline = drawing.outline(1.0)
    assert np.count_nonzero(np.abs(outline.y_mm - 20.0) < 1e-9) == 1
    assert drawing.junctions[0].to_dict()["step_mm"] == pytest.approx(0.0005)


def test_a_stated_tolerance_lets_a_larger_step_pass() -> None:
    drawing = drawing_from_text(STEPPED.format(extra="tolerance_mm = 0.6", step=0.5))
    assert drawing.junctions[0].step_mm == pytest.approx(0.5)
