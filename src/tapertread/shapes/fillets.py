"""The arc that touches two carriers.

An arc of radius ``R`` turning left (``turn = +1``) has its centre ``R`` to the left of both of its
neighbours, one turning right ``R`` to the right: so a fillet's centre lies where the neighbours'
offset curves meet, and tangency has the right sense by construction [derived]. Lines and circles
are solved in closed form, polynomials by halving.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np

from tapertread.shapes.carriers import Carrier, Circle, Graph, Straight
from tapertread.shapes.pieces import Point

_ROUNDING = 1e-9
_SCAN = 801
_HALVINGS = 80


class Fillet(NamedTuple):
    """An arc touching two carriers: centre, first and last point, mm."""

    centre: Point
    start: Point
    end: Point


def fillets(first: Carrier, second: Carrier, *, radius_mm: float, turn: float) -> list[Fillet]:
    """Return the arcs of a radius (mm) and sense that touch two carriers in walking order.

    Parameters
    ----------
    first, second : Straight, Circle or Graph
        Carriers before and after the arc; at most one of them a polynomial.
    radius_mm : float
        Radius of the arc, mm.
    turn : float
        +1 where the arc turns from y toward z, else -1.

    Returns
    -------
    list of Fillet
        None, one or several; the drawing's ends decide between them.
    """
    reach = turn * radius_mm
    if isinstance(first, Graph):
        return [
            Fillet(centre, _touch(first, centre, reach, y), _touch(second, centre, reach))
            for y, centre in _beside_graph(first, second, reach)
        ]
    if isinstance(second, Graph):
        return [
            Fillet(centre, _touch(first, centre, reach), _touch(second, centre, reach, y))
            for y, centre in _beside_graph(second, first, reach)
        ]
    return [
        Fillet(centre, _touch(first, centre, reach), _touch(second, centre, reach))
        for centre in _centres(first, second, reach)
    ]


def _touch(carrier: Carrier, centre: Point, reach: float, y_mm: float = math.nan) -> Point:
    """Return where a fillet of signed radius `reach` (> 0 left) touches a carrier."""
    if isinstance(carrier, Graph):
        return y_mm, carrier.value(y_mm)
    if isinstance(carrier, Straight):
        ty, tz = carrier.unit
        return centre[0] + reach * tz, centre[1] - reach * ty
    away = reach - carrier.turn * carrier.radius_mm
    scale = reach / away
    return (
        centre[0] - (centre[0] - carrier.centre[0]) * scale,
        centre[1] - (centre[1] - carrier.centre[1]) * scale,
    )


def _centres(first: Straight | Circle, second: Straight | Circle, reach: float) -> list[Point]:
    """Return where the offset curves of two lines or circles meet."""
    if isinstance(first, Straight):
        moved = _beside(first, reach)
        if isinstance(second, Straight):
            place = moved.crossing(_beside(second, reach))
            return [] if place is None else [place]
        return _line_meets_circle(moved, second.centre, _offset_radius(second, reach))
    if isinstance(second, Straight):
        return _centres(second, first, reach)
    return _circles_meet(
        first.centre, _offset_radius(first, reach), second.centre, _offset_radius(second, reach)
    )


def _beside(line: Straight, reach: float) -> Straight:
    ty, tz = line.unit
    return Straight((line.through[0] - reach * tz, line.through[1] + reach * ty), line.angle_rad)


def _offset_radius(circle: Circle, reach: float) -> float:
    return abs(circle.turn * circle.radius_mm - reach)


def _line_meets_circle(line: Straight, centre: Point, radius_mm: float) -> list[Point]:
    foot = line.project(centre)
    rest = radius_mm**2 - (foot[0] - centre[0]) ** 2 - (foot[1] - centre[1]) ** 2
    if rest < 0.0 or radius_mm < _ROUNDING:
        return []
    half = math.sqrt(rest)
    ty, tz = line.unit
    return [(foot[0] + sign * half * ty, foot[1] + sign * half * tz) for sign in (-1.0, 1.0)]


def _circles_meet(centre: Point, radius_mm: float, other: Point, other_mm: float) -> list[Point]:
    apart = math.hypot(other[0] - centre[0], other[1] - centre[1])
    if apart < _ROUNDING or min(radius_mm, other_mm) < _ROUNDING:
        return []
    uy, uz = (other[0] - centre[0]) / apart, (other[1] - centre[1]) / apart
    along = 0.5 * (apart + (radius_mm - other_mm) * (radius_mm + other_mm) / apart)
    rest = radius_mm**2 - along**2
    if rest < 0.0:
        return []
    half = math.sqrt(rest)
    foot = centre[0] + along * uy, centre[1] + along * uz
    return [(foot[0] - sign * half * uz, foot[1] + sign * half * uy) for sign in (-1.0, 1.0)]


def _beside_graph(graph: Graph, other: Carrier, reach: float) -> list[tuple[float, Point]]:
    """Return places y and fillet centres beside a polynomial, found by halving."""
    if isinstance(other, Graph):
        return []

    def centre(y_mm: float) -> Point:
        slope = graph.slope(y_mm)
        stretch = math.hypot(1.0, slope)
        return y_mm - reach * slope / stretch, graph.value(y_mm) + reach / stretch

    def miss(y_mm: float) -> float:
        place = centre(y_mm)
        if isinstance(other, Straight):
            return other.left_of(place) - reach
        apart = math.hypot(place[0] - other.centre[0], place[1] - other.centre[1])
        return apart - _offset_radius(other, reach)

    return [(y, centre(y)) for y in _zeros(miss, graph.from_mm, graph.to_mm)]


def _zeros(function: Callable[[float], float], low: float, high: float) -> list[float]:
    """Return the zeros of a function between two places, by a scan and halving."""
    places = np.linspace(low, high, _SCAN)
    values = [function(float(place)) for place in places]
    found = []
    for left, right, f_left, f_right in zip(
        places[:-1], places[1:], values[:-1], values[1:], strict=True
    ):
        if f_left == 0.0:
            found.append(float(left))
        elif f_left * f_right < 0.0:
            found.append(_halved(function, float(left), float(right)))
    return found


def _halved(function: Callable[[float], float], low: float, high: float) -> float:
    sign = math.copysign(1.0, function(low))
    for _ in range(_HALVINGS):
        middle = 0.5 * (low + high)
        if sign * function(middle) > 0.0:
            low = middle
        else:
            high = middle
    return 0.5 * (low + high)
