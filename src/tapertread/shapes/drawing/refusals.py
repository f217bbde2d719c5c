"""What a drawing can say that cannot be drawn: one refusal each, for `draughting`."""

from __future__ import annotations

from tapertread.errors import DrawingRefused, Where
from tapertread.shapes.drawing.pieces import Point


def stated_twice(keys: list[str], where: Where) -> DrawingRefused:
    """Return the refusal of a piece that states one thing in several ways."""
    return DrawingRefused(
        "stated-twice",
        f"{' and '.join(keys)} in one piece",
        allowed="one of them",
        todo="keep the one the drawing shows",
        where=where,
    )


def no_range(where: Where) -> DrawingRefused:
    """Return the refusal of a polynomial without its range."""
    return DrawingRefused(
        "end-not-stated",
        "a polynomial without the range in which it holds",
        allowed="to_y, and from_y where nothing or a fillet precedes it",
        todo="state both from the drawing",
        where=where,
    )


def off_curve(point: Point, *, off_mm: float, tolerance_mm: float, where: Where) -> DrawingRefused:
    """Return the refusal of an end that lies off the curve it should end."""
    return DrawingRefused(
        "end-off-curve",
        f"an end at y {point[0]:.4f}, z {point[1]:.4f} mm, {off_mm:.4f} mm off the curve that it "
        "should end",
        allowed=f"ends within {tolerance_mm:g} mm of the curve",
        todo="correct centre, radius, slope or end, or leave the end to be solved",
        where=where,
    )


def radius_too_small(*, radius_mm: float, chord_mm: float, where: Where) -> DrawingRefused:
    """Return the refusal of an arc whose ends are farther apart than its diameter."""
    return DrawingRefused(
        "radius-too-small",
        f"a radius of {radius_mm:.4f} mm between ends {chord_mm:.4f} mm apart",
        allowed="a radius of at least half the distance of the ends",
        todo="correct the radius or the ends",
        where=where,
    )


def not_reached(key: str, value: float, *, where: Where) -> DrawingRefused:
    """Return the refusal of an end at a place that the piece never reaches."""
    return DrawingRefused(
        "end-not-reached",
        f"{key} = {value:g}, which this piece never reaches",
        allowed="an end on the line, circle or polynomial itself",
        todo="correct this end, or the centre, radius or slope",
        where=where,
    )


def too_little(missing: str, where: Where) -> DrawingRefused:
    """Return the refusal of a piece that nothing determines."""
    return DrawingRefused(
        "too-little-stated",
        f"a piece of which the drawing does not say {missing}",
        allowed="pieces that follow from what they and their neighbours say",
        todo="state from, to, to_y, to_z, through, slope, angle_deg, centre or tangent = true",
        where=where,
    )


def empty(where: Where) -> DrawingRefused:
    """Return the refusal of a piece without length."""
    return DrawingRefused(
        "empty-piece",
        "a piece without length",
        allowed="pieces that begin and end at different places",
        todo="remove it or correct its ends",
        where=where,
    )


def backward(start: Point, end: Point, *, where: Where) -> DrawingRefused:
    """Return the refusal of a piece that ends behind its beginning."""
    return DrawingRefused(
        "runs-backward",
        f"a piece whose end (y {end[0]:.3f}, z {end[1]:.3f} mm) lies behind its beginning "
        f"(y {start[0]:.3f}, z {start[1]:.3f} mm)",
        allowed="pieces in order from the gauge side to the field side",
        todo="exchange its ends, correct its angle, or change convex and concave",
        where=where,
    )


def too_far(found: str, *, allowed_mm: float, where: Where) -> DrawingRefused:
    """Return the refusal of a piece that leaves the neighbourhood of its origin."""
    return DrawingRefused(
        "too-far",
        found,
        allowed=f"pieces within {allowed_mm:g} mm of the origin, and no longer than that",
        todo="check its ends, its sense and the drawing's units",
        where=where,
    )


def fillet_alone(where: Where) -> DrawingRefused:
    """Return the refusal of a fillet that has no two known neighbours."""
    return DrawingRefused(
        "fillet-without-neighbours",
        "an arc given by its radius alone, at an end of the drawing or beside another such arc",
        allowed="a fillet between two pieces that are known without it",
        todo="give its centre, or tangent = true with an end",
        where=where,
    )


def fillet_bound(where: Where) -> DrawingRefused:
    """Return the refusal of a fillet whose neighbour says where they meet."""
    return DrawingRefused(
        "stated-twice",
        "an arc given by its radius alone beside a piece that already says where they meet",
        allowed="one of both: the fillet solved, or the end stated",
        todo="remove the neighbour's end, or give the arc its centre",
        where=where,
    )


def no_fillet(before: str, after: str, *, where: Where) -> DrawingRefused:
    """Return the refusal of a fillet that does not fit between its neighbours."""
    return DrawingRefused(
        "no-fillet",
        f"no arc of this radius and sense that is tangent to {before} and to {after}",
        allowed="a radius that fits between both neighbours",
        todo="correct the radius, change convex and concave, or correct the neighbours",
        where=where,
    )
