"""Pieces one by one: nearest places and heights against brute force, crossings against shapely."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import minimize_scalar
from shapely import LineString

from tapertread.shapes.drawing.checks import first_crossing
from tapertread.shapes.drawing.junctions import junctions_of
from tapertread.shapes.drawing.pieces import Arc, Line, Piece, Polynomial
from tapertread.shapes.drawing.projecting import project_on

WAVE = Polynomial(
    name="wave", coefficients=(0.3, -0.2, 0.01, 0.002), from_mm=-12.0, to_mm=9.0, about_mm=1.0
)
PIECES: list[Piece] = [
    Line(name="slope", start=(-3.0, 2.0), end=(9.0, -4.0)),
    Line(name="upright", start=(-3.0, 2.0), end=(-3.0, -9.0)),
    Arc(name="left", centre=(1.0, 2.0), radius_mm=7.0, start_rad=2.0, sweep_rad=1.9),
    Arc(name="right", centre=(1.0, 2.0), radius_mm=7.0, start_rad=2.0, sweep_rad=-1.9),
    Arc(name="most", centre=(0.0, 0.0), radius_mm=5.0, start_rad=0.4, sweep_rad=4.5),
    WAVE,
]


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
@given(y=st.floats(-20.0, 20.0), z=st.floats(-20.0, 20.0))
@settings(max_examples=40, deadline=None)
def test_the_foot_is_the_nearest_place(piece: Piece, y: float, z: float) -> None:
    foot = piece.nearest(np.array([y]), np.array([z]))
    found = math.hypot(foot.dy_mm[0], foot.dz_mm[0])
    at_y, at_z = piece.point(foot.arc_mm)
    assert (y - at_y[0], z - at_z[0]) == pytest.approx((foot.dy_mm[0], foot.dz_mm[0]), abs=1e-9)
    assert math.hypot(foot.ty[0], foot.tz[0]) == pytest.approx(1.0)
    many_y, many_z = piece.point(np.linspace(0.0, piece.length_mm, 1501))
    assert found <= np.hypot(many_y - y, many_z - z).min() + 1e-9


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
def test_the_foot_agrees_with_a_minimiser(piece: Piece) -> None:
    """Bounded scalar minimisation by scipy, from near the place found."""

    def away(arc: float) -> float:
        y, z = piece.point(np.array([arc]))
        return math.hypot(y[0] - 4.0, z[0] - 6.5)

    found = piece.nearest(np.array([4.0]), np.array([6.5]))
    bounds = (max(0.0, found.arc_mm[0] - 1.0), min(piece.length_mm, found.arc_mm[0] + 1.0))
    best = minimize_scalar(away, bounds=bounds, method="bounded", options={"xatol": 1e-10})
    assert math.hypot(found.dy_mm[0], found.dz_mm[0]) <= best.fun + 1e-8
    assert found.arc_mm[0] == pytest.approx(best.x, abs=1e-4)


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
@given(share=st.floats(0.01, 0.99), left=st.floats(-1.5, 1.5))
@settings(max_examples=40, deadline=None)
def test_a_point_on_a_normal_faces_the_piece(piece: Piece, share: float, left: float) -> None:
    """Set off along the normal of a known place, in an array of any shape; beyond an end, not."""
    arc = np.array([[0.0, share * piece.length_mm]])
    (y, z), tangent = piece.point(arc), piece.tangent_rad(arc)
    start_y, start_z = np.cos(tangent[0, 0]), np.sin(tangent[0, 0])
    y, z = y - left * np.sin(tangent), z + left * np.cos(tangent)
    found = piece.facing(y - [[0.01 * start_y, 0.0]], z - [[0.01 * start_z, 0.0]])
    assert found.inside.tolist() == [[False, True]]
    assert found.left_mm[0, 1] == pytest.approx(left, abs=1e-9)
    ty, tz = (np.broadcast_to(one, arc.shape)[0, 1] for one in (found.ty, found.tz))
    assert (ty, tz) == pytest.approx((np.cos(tangent[0, 1]), np.sin(tangent[0, 1])), abs=1e-9)


def test_the_centre_of_an_arc_has_its_radius_as_distance() -> None:
    arc = PIECES[2]
    assert isinstance(arc, Arc)
    foot = arc.nearest(np.array([arc.centre[0]]), np.array([arc.centre[1]]))
    assert math.hypot(foot.dy_mm[0], foot.dz_mm[0]) == pytest.approx(arc.radius_mm)
    assert 0.0 <= foot.arc_mm[0] <= arc.length_mm


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
def test_heights_are_those_of_points_walked_outward(piece: Piece) -> None:
    arc = np.linspace(0.0, piece.length_mm, 60)
    y, z = piece.point(arc)
    outward = np.cos(piece.tangent_rad(arc)) > 1e-6
    assert piece.z_at(y[outward]) == pytest.approx(z[outward], abs=1e-8)
    assert np.isnan(piece.z_at(np.array([-25.0, 25.0]))).all()


def test_an_upright_line_has_no_height() -> None:
    assert np.isnan(PIECES[1].z_at(np.array([-3.0]))).all()


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
def test_ends_are_where_the_walk_begins_and_ends(piece: Piece) -> None:
    y, z = piece.point(np.array([0.0, piece.length_mm]))
    assert (y[0], z[0]) == pytest.approx(piece.start, abs=1e-9)
    assert (y[1], z[1]) == pytest.approx(piece.end, abs=1e-9)


@pytest.mark.parametrize("piece", PIECES, ids=lambda piece: piece.name)
@pytest.mark.parametrize("factor", [0.1, 3.0])
def test_scaling_enlarges_about_the_origin(piece: Piece, factor: float) -> None:
    arc = np.linspace(0.0, piece.length_mm, 23)
    large = piece.scaled(factor)
    for ours, theirs in zip(large.point(factor * arc), piece.point(arc), strict=True):
        assert ours == pytest.approx(factor * theirs, abs=1e-8)
    assert large.curvature_per_mm(factor * arc) == pytest.approx(
        piece.curvature_per_mm(arc) / factor, abs=1e-8
    )


def test_polynomial_curvature_is_the_textbook_formula() -> None:
    """Curvature z'' / (1 + z'²)^1.5 by numpy's own polynomial class."""
    curve = np.polynomial.Polynomial(WAVE.coefficients)
    y = np.linspace(-11.0, 8.0, 31)
    slope, bend = curve.deriv()(y - 1.0), curve.deriv(2)(y - 1.0)
    assert WAVE.curvature_per_mm(WAVE.arc_at(y)) == pytest.approx(bend / (1 + slope**2) ** 1.5)


def test_junctions_tell_step_kink_and_curvature() -> None:
    """A level line, then a left arc of 7 mm turned by 30 degrees and set off by 3-4-5."""
    line = Line(name="line", start=(-10.0, 0.0), end=(0.0, 0.0))
    lean = math.radians(30.0)
    centre = (0.3 - 7.0 * math.sin(lean), 0.4 + 7.0 * math.cos(lean))
    arc = Arc(name="arc", centre=centre, radius_mm=7.0, start_rad=lean - math.pi / 2, sweep_rad=1.0)
    (junction,) = junctions_of([line, arc])
    assert junction.to_dict() == pytest.approx(
        {
            "before": "line",
            "after": "arc",
            "y_mm": 0.0,
            "z_mm": 0.0,
            "arc_mm": 10.0,
            "step_mm": 0.5,
            "kink_deg": 30.0,
            "curvature_step_per_mm": 1.0 / 7.0,
        }
    )


def test_pieces_that_lie_apart_share_no_corner() -> None:
    """Beyond the end of a piece its own tangent says what is inside, not its neighbour's."""
    down = Line(name="web", start=(8.0, -90.0), end=(8.0, -110.0))
    back = Line(name="foot", start=(75.0, -172.0), end=(-75.0, -172.0))
    found = project_on([down, back], [9.0, 7.0], [-111.0, -111.0], convex_turn=-1.0)
    assert found.distance_mm == pytest.approx([math.sqrt(2.0), -math.sqrt(2.0)])


def test_a_corner_is_judged_by_both_of_its_pieces() -> None:
    """In the quarter beyond a right-angled corner all points are air, whichever side is nearest."""
    level = Line(name="level", start=(-10.0, 0.0), end=(0.0, 0.0))
    down = Line(name="down", start=(0.0, 0.0), end=(0.0, -10.0))
    found = project_on([level, down], [0.5, 1.0, 2.0], [2.0, 1.0, 0.5], convex_turn=-1.0)
    assert np.all(found.distance_mm > 0.0)
    assert found.arc_mm == pytest.approx(np.full(3, 10.0))


@given(
    st.lists(st.tuples(st.integers(-9, 9), st.integers(-9, 9)), min_size=4, max_size=9, unique=True)
)
@settings(max_examples=150, deadline=None)
def test_crossings_agree_with_shapely(corners: list[tuple[int, int]]) -> None:
    """What crosses in the open inside of two links, shapely calls not simple."""
    rng = np.random.default_rng(3)
    points = np.array(corners, dtype=float) + rng.normal(0.0, 1e-3, (len(corners), 2))
    crossing = first_crossing(points[:, 0], points[:, 1])
    chain = LineString(points)
    assert (crossing is None) == chain.is_simple
    if crossing is not None:
        nearest = np.sort(
            [
                LineString(points[i : i + 2]).distance(_point(crossing))
                for i in range(len(points) - 1)
            ]
        )
        assert nearest[1] < 1e-9


def _point(place: tuple[float, float]) -> LineString:
    return LineString([place, (place[0] + 1e-12, place[1])])


def test_crossings_are_found_across_blocks_of_links() -> None:
    """A long spiral of 900 links whose last link goes back through all turns."""
    turn = np.linspace(0.0, 12.0 * math.pi, 900)
    y, z = (10.0 + turn) * np.cos(turn), (10.0 + turn) * np.sin(turn)
    assert first_crossing(y, z) is None
    assert first_crossing(np.append(y, 0.0), np.append(z, 1.0)) is not None
