"""From a carrier and two ends to an exact piece, or the refusal of one that cannot be walked."""

from __future__ import annotations

import math

from tapertread.errors import Where
from tapertread.shapes.drawing import refusals as refuse
from tapertread.shapes.drawing.carriers import Carrier, Circle, Straight
from tapertread.shapes.drawing.pieces import TURN, Arc, Line, Piece, Point, Polynomial

EMPTY_MM = 1e-9
"""Below this a piece has no length, mm."""

LONGEST_SWEEP_RAD = 1.5 * math.pi
"""An arc that would turn farther has its ends exchanged, rad."""

FARTHEST_MM = 10_000.0
"""A metre-wide section drawn in the wrong unit is still drawn, and named; farther is an error."""


def ahead(carrier: Carrier, first: Point, *, then: Point) -> bool:
    """Return whether a point follows another in the sense of the walk."""
    if isinstance(carrier, Circle):
        return 0.0 < carrier.walked(first, then) < LONGEST_SWEEP_RAD
    heading = carrier.heading(first)
    along = (then[0] - first[0]) * math.cos(heading) + (then[1] - first[1]) * math.sin(heading)
    return along > 0.0


def finished(name: str, carrier: Carrier, *, ends: tuple[Point, Point], where: Where) -> Piece:
    """Return the piece of a carrier between two of its points.

    Raises
    ------
    DrawingRefused
        ``empty-piece``, ``runs-backward`` or ``too-far``.
    """
    start, end = ends
    farthest = max(abs(number) for number in (*start, *end))
    if not farthest <= FARTHEST_MM:
        found = f"a piece that reaches {farthest:g} mm"
        raise refuse.too_far(found, allowed_mm=FARTHEST_MM, where=where)
    if isinstance(carrier, Circle):
        piece: Piece = _arc(name, carrier, ends=ends, where=where)
    else:
        if math.dist(start, end) <= EMPTY_MM:
            raise refuse.empty(where)
        if not ahead(carrier, start, then=end):
            raise refuse.backward(start, end, where=where)
        piece = _straight_or_polynomial(name, carrier, ends=ends)
    if not piece.length_mm <= FARTHEST_MM:
        found = f"a piece {piece.length_mm:g} mm long"
        raise refuse.too_far(found, allowed_mm=FARTHEST_MM, where=where)
    return piece


def _straight_or_polynomial(
    name: str, carrier: Carrier, *, ends: tuple[Point, Point]
) -> Line | Polynomial:
    assert not isinstance(carrier, Circle)
    if isinstance(carrier, Straight):
        return Line(name=name, start=ends[0], end=ends[1])
    return Polynomial(
        name=name,
        coefficients=carrier.coefficients,
        about_mm=carrier.about_mm,
        from_mm=ends[0][0],
        to_mm=ends[1][0],
    )


def _arc(name: str, circle: Circle, *, ends: tuple[Point, Point], where: Where) -> Arc:
    start, end = ends
    sweep = circle.walked(start, end)
    if min(sweep, TURN - sweep) * circle.radius_mm <= EMPTY_MM:
        raise refuse.empty(where)
    if sweep > LONGEST_SWEEP_RAD:
        raise refuse.backward(start, end, where=where)
    return Arc(
        name=name,
        centre=circle.centre,
        radius_mm=circle.radius_mm,
        start_rad=circle.seen(start),
        sweep_rad=circle.turn * sweep,
    )
