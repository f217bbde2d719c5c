"""The arc that touches two carriers.

An arc of radius ``R`` turning left (``turn = +1``) has its centre ``R`` to the left of both of its
neighbours, one turning right ``R`` to the right: so a fillet's centre lies where the neighbours'
offset curves meet, and tangency has the right sense by construction [derived]. Lines and circles
are solved in closed form, polynomials by halving.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from tapertread.shapes.drawing.carriers import Carrier, Circle, Graph, Straight
from tapertread.shapes.drawing.pieces import Point

_ROUNDING = 1e-9
_SCAN = 801
_HALVINGS = 80


class Fillet(NamedTuple):
    """An arc touching two carriers: centre, first and last point, mm."""

    centre: Point
    start: Point
    end: Point


def fillets(first: Carrier, second: Carrier, *, reach_mm: float) -> list[Fillet]:
    """Return the arcs of a signed radius that touch two carriers in walking order.

    Parameters
    ----------
    first, second : Straight, Circle or Graph
        Carriers before and after the arc; at most one of them a polynomial.
    reach_mm : float
        Signed radius of the arc, mm, > 0 where it turns from y toward z.

    Returns
    -------
    list of Fillet
        None, one or several; the drawing's ends decide between them.
    """
    if isinstance(first, Graph):
        return [
            Fillet(centre, _on_graph(first, y), _touch(second, centre, reach_mm=reach_mm))
            for y, centre in _beside_graph(first, second, reach_mm=reach_mm)
        ]
    if isinstance(second, Graph):
        return [
            Fillet(centre, _touch(first, centre, reach_mm=reach_mm), _on_graph(second, y))
            for y, centre in _beside_graph(second, first, reach_mm=reach_mm)
        ]
    return [
        Fillet(centre, *(_touch(side, centre, reach_mm=reach_mm) for side in (first, second)))
        for centre in _centres(first, second, reach_mm=reach_mm)
    ]


def _on_graph(graph: Graph, y_mm: float) -> Point:
    return y_mm, graph.value(y_mm)


def _touch(carrier: Carrier, centre: Point, *, reach_mm: float) -> Point:
    """Return where a fillet about a centre touches a line or circle."""
    if isinstance(carrier, Straight):
        ty, tz = carrier.unit
        return centre[0] + reach_mm * tz, centre[1] - reach_mm * ty
    assert isinstance(carrier, Circle)
    scale = reach_mm / (reach_mm - carrier.reach_mm)
    return (
        centre[0] - (centre[0] - carrier.centre[0]) * scale,
        centre[1] - (centre[1] - carrier.centre[1]) * scale,
    )


def _centres(
    first: Straight | Circle, second: Straight | Circle, *, reach_mm: float
) -> list[Point]:
    """Return where the offset curves of two lines or circles meet."""
    if isinstance(first, Circle):
        if isinstance(second, Circle):
            return _circles_meet(_inset(first, reach_mm), _inset(second, reach_mm))
        return _line_meets_circle(_beside(second, reach_mm), _inset(first, reach_mm))
    moved = _beside(first, reach_mm)
    if isinstance(second, Circle):
        return _line_meets_circle(moved, _inset(second, reach_mm))
    place = moved.crossing(_beside(second, reach_mm))
    return [] if place is None else [place]


def _beside(line: Straight, reach_mm: float) -> Straight:
    ty, tz = line.unit
    through = line.through[0] - reach_mm * tz, line.through[1] + reach_mm * ty
    return Straight(through, line.angle_rad)


def _inset(circle: Circle, reach_mm: float) -> Circle:
    return Circle(circle.centre, circle.reach_mm - reach_mm)


def _line_meets_circle(line: Straight, circle: Circle) -> list[Point]:
    foot = line.project(circle.centre)
    rest = circle.radius_mm**2 - math.dist(foot, circle.centre) ** 2
    if rest < 0.0 or circle.radius_mm < _ROUNDING:
        return []
    half = math.sqrt(rest)
    ty, tz = line.unit
    return [(foot[0] + sign * half * ty, foot[1] + sign * half * tz) for sign in (-1.0, 1.0)]


def _circles_meet(first: Circle, second: Circle) -> list[Point]:
    apart = math.dist(first.centre, second.centre)
    radius, other = first.radius_mm, second.radius_mm
    if apart < _ROUNDING or min(radius, other) < _ROUNDING:
        return []
    uy = (second.centre[0] - first.centre[0]) / apart
    uz = (second.centre[1] - first.centre[1]) / apart
    along = 0.5 * (apart + (radius - other) * (radius + other) / apart)
    rest = radius**2 - along**2
    if rest < 0.0:
        return []
    half = math.sqrt(rest)
    foot = first.centre[0] + along * uy, first.centre[1] + along * uz
    return [(foot[0] - sign * half * uz, foot[1] + sign * half * uy) for sign in (-1.0, 1.0)]


def _beside_graph(graph: Graph, other: Carrier, *, reach_mm: float) -> list[tuple[float, Point]]:
    """Return places y and fillet centres beside a polynomial, found by halving."""
    if isinstance(other, Graph):
        return []

    def centre(y_mm: float) -> Point:
        slope = graph.slope(y_mm)
        stretch = math.hypot(1.0, slope)
        return y_mm - reach_mm * slope / stretch, graph.value(y_mm) + reach_mm / stretch

    def miss(y_mm: float) -> float:
        if isinstance(other, Straight):
            return other.left_of(centre(y_mm)) - reach_mm
        return math.dist(centre(y_mm), other.centre) - _inset(other, reach_mm).radius_mm

    places = [float(place) for place in np.linspace(graph.from_mm, graph.to_mm, _SCAN)]
    return [(y, centre(y)) for y in _zeros(miss, places)]


def _zeros(function: Callable[[float], float], places: Sequence[float]) -> list[float]:
    """Return the zeros of a function found between neighbouring places, by halving."""
    found = []
    for low, high in pairwise(places):
        if function(low) * function(high) < 0.0:
            found.append(_halved(function, (low, high)))
    return found


def _halved(function: Callable[[float], float], bracket: tuple[float, float]) -> float:
    low, high = bracket
    sign = math.copysign(1.0, function(low))
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if sign * function(middle) > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
