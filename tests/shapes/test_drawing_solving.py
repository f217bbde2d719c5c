"""What a drawing leaves open is solved: against closed forms of plane geometry and shapely."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import LineString, Point

from tapertread.shapes.drawing.carriers import Carrier, Circle, Graph, Straight, place_on
from tapertread.shapes.drawing.curve import Drawing, drawing_from_text, read_drawing
from tapertread.shapes.drawing.fillets import fillets
from tapertread.shapes.drawing.pieces import Arc, Line, Polynomial

HEAD = """
drawing = 1
name = "test"
kind = "{kind}"
units = "mm"
{extra}
"""


def drawn(pieces: str, *, kind: str = "rail", extra: str = "") -> Drawing:
    if kind == "wheel" and "tape_line" not in extra:
        extra += "\ntape_line_mm = 70.0"
    return drawing_from_text(HEAD.format(kind=kind, extra=extra) + pieces)


CORNER = """
[[piece]]
name = "gauge side"
type = "line"
from = [-30.0, -30.0]
angle_deg = {angle}
[[piece]]
name = "corner"
type = "arc"
curve = "convex"
radius = {radius}
[[piece]]
name = "top"
type = "line"
through = [0.0, 0.0]
slope = 0.0
to_y = 40.0
"""


@given(angle=st.floats(60.0, 95.0), radius=st.floats(1.0, 15.0))
@settings(max_examples=40, deadline=None)
def test_a_fillet_between_lines_has_the_textbook_tangent_length(
    angle: float, radius: float
) -> None:
    """Tangent length of a fillet = R tan(turn / 2) (plane geometry)."""
    drawing = drawn(CORNER.format(angle=angle, radius=radius))
    meeting = -30.0 + 30.0 / math.tan(math.radians(angle))
    tangent_length = radius * math.tan(math.radians(angle) / 2.0)
    corner = drawing.piece("corner")
    assert isinstance(corner, Arc)
    assert corner.end == pytest.approx((meeting + tangent_length, 0.0), abs=1e-9)
    assert math.dist(corner.start, (meeting, 0.0)) == pytest.approx(tangent_length, abs=1e-9)
    assert corner.sweep_rad == pytest.approx(-math.radians(angle), abs=1e-12)


def touches(carrier: Carrier, centre: tuple[float, float], radius: float) -> None:
    """Check by shapely that a circle touches a carrier without crossing it."""
    if isinstance(carrier, Straight):
        ty, tz = carrier.unit
        y, z = carrier.through
        line = LineString([(y - 2e3 * ty, z - 2e3 * tz), (y + 2e3 * ty, z + 2e3 * tz)])
        assert line.distance(Point(centre)) == pytest.approx(radius, abs=1e-8)
    elif isinstance(carrier, Circle):
        apart = Point(centre).distance(Point(carrier.centre))
        assert min(
            abs(apart - radius - carrier.radius_mm), abs(apart - abs(radius - carrier.radius_mm))
        ) == pytest.approx(0.0, abs=1e-8)
    else:
        assert carrier.from_mm is not None
        y = np.linspace(carrier.from_mm, carrier.to_mm, 20001)
        z = np.polynomial.polynomial.polyval(y - carrier.about_mm, carrier.coefficients)
        assert np.hypot(y - centre[0], z - centre[1]).min() == pytest.approx(radius, abs=1e-6)


PARABOLA = Graph(coefficients=(0.0, 0.02, -0.004), about_mm=0.0, from_mm=-20.0, to_mm=20.0)


@pytest.mark.parametrize("turn", [1.0, -1.0])
@pytest.mark.parametrize(
    ("first", "second", "radius"),
    [
        (Straight((0.0, 0.0), 1.2), Straight((5.0, 1.0), 0.05), 13.0),
        (Straight((-40.0, -20.0), 1.3), Circle((0.0, -300.0), -300.0), 10.0),
        (Circle((0.0, -300.0), -300.0), Straight((36.0, -14.3), -1.5), 13.0),
        (Circle((7.5, -80.0), -80.0), Circle((45.0, -25.0), -20.0), 13.0),
        (Circle((-55.0, -16.0), 12.0), Circle((-26.0, -16.4), -13.0), 30.0),
        (Straight((-30.0, -30.0), 1.3), PARABOLA, 9.0),
        (PARABOLA, Straight((30.0, -8.0), -1.3), 9.0),
        (PARABOLA, Circle((24.0, -10.0), -8.0), 5.0),
    ],
)
def test_fillets_touch_both_neighbours_in_walking_sense(
    first: Carrier, second: Carrier, radius: float, turn: float
) -> None:
    for fillet in fillets(first, second, reach_mm=turn * radius):
        circle = Circle(fillet.centre, turn * radius)
        for carrier, place in ((first, fillet.start), (second, fillet.end)):
            assert math.dist(place, fillet.centre) == pytest.approx(radius, abs=1e-9)
            assert math.dist(carrier.project(place), place) < 1e-9
            bend = circle.heading(place) - carrier.heading(place)
            assert math.cos(bend) == pytest.approx(1.0, abs=1e-12)
            if not isinstance(carrier, Graph):
                touches(carrier, fillet.centre, radius)


@pytest.mark.parametrize(
    ("first", "second", "turn", "count"),
    [
        (Straight((0.0, 0.0), 1.2), Straight((5.0, 1.0), 0.05), -1.0, 1),
        (Circle((0.0, -300.0), -300.0), Straight((36.0, -14.3), -1.5), -1.0, 2),
        (Circle((7.5, -80.0), -80.0), Circle((45.0, -25.0), -20.0), -1.0, 2),
        (Straight((-30.0, -30.0), 1.3), PARABOLA, -1.0, 1),
        (Straight((0.0, 0.0), 0.3), Straight((0.0, 5.0), 0.3), 1.0, 0),
        (Circle((0.0, 0.0), 5.0), Circle((90.0, 0.0), 5.0), 1.0, 0),
        (PARABOLA, PARABOLA, 1.0, 0),
    ],
)
def test_how_many_fillets_there_are(
    first: Carrier, second: Carrier, turn: float, count: int
) -> None:
    assert len(fillets(first, second, reach_mm=turn * 10.0)) == count


SIDE = """
[[piece]]
name = "side"
type = "line"
through = [31.0, -30.0]
slope = "-20:1"
to_z = -30.0
"""
CORNER_9 = """
[[piece]]
name = "corner"
type = "arc"
curve = "convex"
radius = 9.0
"""


def test_a_fillet_beside_a_polynomial_leaves_no_kink() -> None:
    crown = """
    [[piece]]
    name = "crown"
    type = "polynomial"
    coefficients = [0.0, 0.0, -0.004]
    from_y = -25.0
    to_y = 30.0
    """
    drawing = drawn(crown + CORNER_9 + SIDE)
    corner = drawing.piece("corner")
    assert isinstance(corner, Arc)
    touches(
        Graph(coefficients=(0.0, 0.0, -0.004), about_mm=0.0, from_mm=-25.0, to_mm=30.0),
        corner.centre,
        9.0,
    )
    for junction in drawing.junctions:
        assert junction.step_mm < 1e-9
        assert abs(junction.kink_deg) < 1e-9


def test_a_polynomial_after_a_fillet_is_cut_by_it() -> None:
    gauge_side = """
    [[piece]]
    name = "gauge side"
    type = "line"
    from = [-31.0, -30.0]
    slope = "20:1"
    """
    crown = """
    [[piece]]
    name = "crown"
    type = "polynomial"
    coefficients = [0.0, 0.0, -0.004]
    from_y = -30.0
    to_y = 25.0
    """
    drawing = drawn(gauge_side + CORNER_9 + crown)
    mirrored = drawn(
        crown.replace("to_y = 25.0", "to_y = 30.0").replace("from_y = -30.0", "from_y = -25.0")
        + CORNER_9
        + SIDE
    )
    assert drawing.length_mm == pytest.approx(mirrored.length_mm, abs=1e-9)
    assert max(abs(junction.kink_deg) for junction in drawing.junctions) < 1e-9


def test_a_compound_curve_closes_on_its_free_number() -> None:
    """Crown, shoulder and corner tangent to the side: one free number, here the first junction.

    The corner's centre is where two offset curves meet; closed form by the law of cosines.
    """
    pieces = """
    [[piece]]
    name = "crown"
    type = "arc"
    curve = "convex"
    radius = 300.0
    centre = [0.0, -300.0]
    from = [0.0, 0.0]
    to_y = 12.0
    [[piece]]
    name = "shoulder"
    type = "arc"
    curve = "convex"
    radius = 80.0
    tangent = true
    [[piece]]
    name = "corner"
    type = "arc"
    curve = "convex"
    radius = 13.0
    """
    side = SIDE.replace('"-20:1"', "-20.0").replace("[31.0, -30.0]", "[36.0, -14.3]")
    drawing = drawn(pieces + side, extra="mirror = true")
    shoulder, corner = drawing.piece("shoulder"), drawing.piece("corner")
    assert isinstance(shoulder, Arc)
    assert isinstance(corner, Arc)
    sine = 12.0 / 300.0
    centre = (220.0 * sine, -300.0 + 220.0 * math.sqrt(1.0 - sine**2))
    assert shoulder.centre == pytest.approx(centre, abs=1e-9)
    assert math.dist(corner.centre, centre) == pytest.approx(80.0 - 13.0, abs=1e-9)
    normal = (20.0 / math.sqrt(401.0), 1.0 / math.sqrt(401.0))
    off_side = (corner.centre[0] - 36.0) * normal[0] + (corner.centre[1] + 14.3) * normal[1]
    assert off_side == pytest.approx(-13.0, abs=1e-9)


TREAD = """
[[piece]]
name = "tread"
type = "taper"
slope = "1:20"
through = [0.0, 0.0]
from_y = -20.0
{end}
"""


def test_straight_pieces_meet_where_they_cross() -> None:
    chamfer = """
    [[piece]]
    type = "line"
    through = [60.0, 5.0]
    angle_deg = 45.0
    to_y = 65.0
    """
    drawing = drawn(TREAD.format(end="") + chamfer, kind="wheel")
    expected_y = (60.0 - 5.0) / (1.0 - 0.05)
    assert drawing.pieces[0].end == pytest.approx((expected_y, expected_y / 20.0), abs=1e-9)
    assert drawing.junctions[0].step_mm < 1e-12


def test_a_piece_ends_where_the_next_says_it_begins() -> None:
    line = """
    [[piece]]
    type = "line"
    from = [30.0, 1.5]
    to = [60.0, 4.0]
    """
    drawing = drawn(TREAD.format(end="") + line, kind="wheel")
    assert drawing.pieces[0].end == pytest.approx((30.0, 1.5))


@pytest.mark.parametrize("curve", ["convex", "concave"])
def test_an_arc_between_two_points_is_the_shorter_one(curve: str) -> None:
    arc = f"""
    [[piece]]
    name = "arc"
    type = "arc"
    radius = 40.0
    curve = "{curve}"
    to = [60.0, 4.0]
    """
    drawing = drawn(TREAD.format(end="to_y = 20.0") + arc, kind="wheel")
    piece = drawing.piece("arc")
    assert isinstance(piece, Arc)
    chord = math.dist((20.0, 1.0), (60.0, 4.0))
    assert piece.length_mm == pytest.approx(80.0 * math.asin(chord / 80.0), abs=1e-9)
    assert (piece.sweep_rad > 0.0) == (curve == "convex")


@pytest.mark.parametrize(
    ("end", "expected"),
    [
        ("to_y = 8.0", (8.0, -10.0 + 6.0)),
        ("to_z = -4.0", (8.0, -4.0)),
        ("to_angle_deg = -53.13010235415598", (8.0, -4.0)),
        ("to = [8.0, -4.0]", (8.0, -4.0)),
    ],
)
def test_an_arc_ends_at_a_place_an_angle_or_a_point(
    end: str, expected: tuple[float, float]
) -> None:
    """Radius 10, offset 8, height 6: the 3-4-5 triangle."""
    crown = f"""
    [[piece]]
    type = "arc"
    curve = "convex"
    radius = 10.0
    centre = [0.0, -10.0]
    from = [0.0, 0.0]
    {end}
    """
    assert drawn(crown, extra="mirror = true").pieces[0].end == pytest.approx(expected, abs=1e-9)


def test_a_circle_is_met_first_where_the_walk_comes_first() -> None:
    circle = Circle((0.0, 0.0), 5.0)
    low, high = (3.0, -4.0), (3.0, 4.0)
    assert place_on(circle, y_mm=3.0, after=(0.0, -5.0)) == pytest.approx(low)
    assert place_on(circle, y_mm=3.0, after=(5.0, 0.0)) == pytest.approx(high)
    assert place_on(circle, y_mm=3.0) == pytest.approx(low)
    assert place_on(circle, z_mm=4.0, after=(5.0, 0.0)) == pytest.approx(high)
    assert place_on(circle, z_mm=4.0, after=(0.0, 5.0)) == pytest.approx((-3.0, 4.0))
    assert place_on(circle, z_mm=4.0) == pytest.approx(high)
    assert place_on(circle, y_mm=5.1) is None
    assert place_on(circle, z_mm=-5.1) is None
    assert place_on(circle) is None


def test_places_that_do_not_exist_on_straight_or_polynomial_pieces() -> None:
    upright, level = Straight((1.0, 0.0), math.pi / 2.0), Straight((0.0, 1.0), 0.0)
    assert place_on(upright, y_mm=2.0) is None
    assert place_on(level, z_mm=2.0) is None
    assert place_on(level, angle_rad=0.0) is None
    assert place_on(PARABOLA, z_mm=0.0) is None
    assert level.crossing(Straight((0.0, 2.0), 0.0)) is None


def test_inches_and_millimetres_draw_the_same() -> None:
    metric = read_drawing(Path("examples/own-drawing-wheel.toml"))
    inch = drawing_from_text(_in_inches(metric))
    assert inch.length_mm == pytest.approx(metric.length_mm, rel=1e-12)
    arc = np.linspace(0.0, metric.length_mm, 101)
    for ours, theirs in zip(inch.point(arc), metric.point(arc), strict=True):
        assert ours == pytest.approx(theirs, abs=1e-9)
    assert inch.tape_line_mm == pytest.approx(60.0)


def _in_inches(drawing: Drawing) -> str:
    """Write a drawing of lines and arcs with every length in inches, by two points or a centre."""
    lines = [
        'drawing = 1\nname = "inch twin"\nkind = "wheel"\nunits = "in"',
        f"tape_line_in = {drawing.tape_line_mm / 25.4!r}",
    ]
    for piece in drawing.pieces:
        (y0, z0), (y1, z1) = (tuple(v / 25.4 for v in p) for p in (piece.start, piece.end))
        lines.append(f"[[piece]]\nfrom = [{y0!r}, {z0!r}]\nto = [{y1!r}, {z1!r}]")
        if isinstance(piece, Arc):
            centre_y, centre_z = (v / 25.4 for v in piece.centre)
            lines.append(f'type = "arc"\nradius = {piece.radius_mm / 25.4!r}')
            lines.append(f"centre = [{centre_y!r}, {centre_z!r}]")
            lines.append(f'curve = "{"convex" if piece.sweep_rad > 0 else "concave"}"')
        else:
            lines.append('type = "line"')
    return "\n".join(lines)


def test_polynomials_in_inches_give_inches() -> None:
    """At y = 1 in a coefficient of -0.1 gives z = -0.1 in = -2.54 mm, by hand."""
    crown = """
    [[piece]]
    type = "polynomial"
    coefficients = [0.0, 0.0, -0.1]
    about_y = 0.0
    from_y = -1.0
    to_y = 1.0
    """
    drawing = drawing_from_text(HEAD.format(kind="rail", extra="").replace("mm", "in") + crown)
    assert drawing.z_at(25.4)[0] == pytest.approx(-2.54, abs=1e-12)
    assert drawing.z_at(12.7)[0] == pytest.approx(-0.635, abs=1e-12)


def test_a_polynomial_about_another_place() -> None:
    crown = """
    [[piece]]
    type = "polynomial"
    coefficients = [-0.4, 0.08, -0.004]
    about_y = -10.0
    from_y = -20.0
    to_y = 20.0
    """
    drawing = drawn(crown)
    piece = drawing.pieces[0]
    assert isinstance(piece, Polynomial)
    y = np.linspace(-20.0, 20.0, 9)
    assert drawing.z_at(y) == pytest.approx(-0.004 * y**2, abs=1e-12)
    assert piece.mirrored().z_at(-y) == pytest.approx(-0.004 * y**2, abs=1e-12)


def test_a_level_crown_becomes_one_piece_across_the_axis() -> None:
    top = """
    [[piece]]
    name = "top"
    type = "line"
    from = [0.0, 0.0]
    to = [20.0, 0.0]
    """
    side = """
    [[piece]]
    name = "side"
    type = "line"
    to = [24.0, -30.0]
    """
    drawing = drawn(top + side, extra="mirror = true")
    assert [piece.name for piece in drawing.pieces] == ["gauge-side side", "top", "side"]
    assert isinstance(drawing.pieces[1], Line)
    assert drawing.pieces[1].start == pytest.approx((-20.0, 0.0))


def test_a_pointed_crown_keeps_its_kink_at_the_axis() -> None:
    roof = """
    [[piece]]
    name = "roof"
    type = "line"
    from = [0.0, 0.0]
    slope = "-1:20"
    to_y = 30.0
    """
    drawing = drawn(roof, extra="mirror = true")
    (ridge,) = drawing.junctions
    assert ridge.kink_deg == pytest.approx(-2.0 * math.degrees(math.atan(0.05)))
    assert ridge.curvature_step_per_mm == 0.0


def test_settling_does_not_depend_on_what_is_known_first() -> None:
    """The first piece of a chain may follow from the second."""
    whole = drawn(CORNER.format(angle=80.0, radius=8.0))
    corner = whole.piece("corner")
    assert isinstance(corner, Arc)
    explicit = f"""
    [[piece]]
    type = "line"
    from = [-30.0, -30.0]
    angle_deg = 80.0
    [[piece]]
    type = "arc"
    curve = "convex"
    radius = 8.0
    centre = [{corner.centre[0]!r}, {corner.centre[1]!r}]
    from = [{corner.start[0]!r}, {corner.start[1]!r}]
    [[piece]]
    type = "line"
    from = [{corner.end[0]!r}, {corner.end[1]!r}]
    to = [40.0, 0.0]
    """
    assert drawn(explicit).length_mm == pytest.approx(whole.length_mm, abs=1e-9)
