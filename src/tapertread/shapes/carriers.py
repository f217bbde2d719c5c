"""What the pieces of a drawing lie on, and the arc that touches two of them.

A carrier is an endless line, a whole circle or a polynomial, each with the sense in which it is
walked. An arc of radius ``R`` turning left (``turn = +1``) has its centre ``R`` to the left of both
of its neighbours, one turning right ``R`` to the right: so a fillet's centre lies where the
neighbours' offset curves meet, and tangency has the right sense by construction [derived].
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from tapertread.shapes.pieces import TURN, Point

_SAME = 1e-12
_ROUNDING = 1e-9
_SCAN = 801
_HALVINGS = 80


class Fillet(NamedTuple):
    """An arc touching two carriers: centre, first and last point, mm."""

    centre: Point
    start: Point
    end: Point


@dataclass(frozen=True, slots=True)
class Straight:
    """An endless line through a point, walked at an angle (rad) from y toward z."""

    through: Point
    angle_rad: float

    @property
    def unit(self) -> Point:
        """Unit vector of the walk."""
        return math.cos(self.angle_rad), math.sin(self.angle_rad)

    def project(self, point: Point) -> Point:
        """Return the foot of the perpendicular from a point (mm)."""
        ty, tz = self.unit
        along = (point[0] - self.through[0]) * ty + (point[1] - self.through[1]) * tz
        return self.through[0] + along * ty, self.through[1] + along * tz

    def heading(self, point: Point) -> float:
        """Return the angle of the walk (rad) at a point, here the same everywhere."""
        return self.angle_rad + 0.0 * point[0]

    def at_y(self, y_mm: float) -> Point | None:
        """Return the point at y (mm), or ``None`` on an upright line."""
        ty, tz = self.unit
        if abs(ty) < _SAME:
            return None
        return y_mm, self.through[1] + (y_mm - self.through[0]) * tz / ty

    def at_z(self, z_mm: float) -> Point | None:
        """Return the point at z (mm), or ``None`` on a level line."""
        ty, tz = self.unit
        if abs(tz) < _SAME:
            return None
        return self.through[0] + (z_mm - self.through[1]) * ty / tz, z_mm

    def left_of(self, point: Point) -> float:
        """Return how far a point lies to the left of the walk, mm."""
        ty, tz = self.unit
        return ty * (point[1] - self.through[1]) - tz * (point[0] - self.through[0])

    def crossing(self, other: Straight) -> Point | None:
        """Return where two lines cross, or ``None`` if they are parallel."""
        (ay, az), (by, bz) = self.unit, other.unit
        cross = ay * bz - az * by
        if abs(cross) < _SAME:
            return None
        dy, dz = other.through[0] - self.through[0], other.through[1] - self.through[1]
        along = (dy * bz - dz * by) / cross
        return self.through[0] + along * ay, self.through[1] + along * az


@dataclass(frozen=True, slots=True)
class Circle:
    """A whole circle, walked from y toward z (`turn` = 1) or the other way (-1)."""

    centre: Point
    radius_mm: float
    turn: float

    def seen(self, point: Point) -> float:
        """Return the angle (rad) at which a point is seen from the centre."""
        return math.atan2(point[1] - self.centre[1], point[0] - self.centre[0])

    def at(self, angle_rad: float) -> Point:
        """Return the point seen from the centre at an angle (rad)."""
        return (
            self.centre[0] + self.radius_mm * math.cos(angle_rad),
            self.centre[1] + self.radius_mm * math.sin(angle_rad),
        )

    def walked(self, start: Point, end: Point) -> float:
        """Return the angle (rad, 0..2 pi) walked from one point to another."""
        return (self.turn * (self.seen(end) - self.seen(start))) % TURN

    def project(self, point: Point) -> Point:
        """Return the nearest point of the circle (mm)."""
        return self.at(self.seen(point))

    def heading(self, point: Point) -> float:
        """Return the angle of the walk (rad) at a point."""
        return self.seen(point) + self.turn * math.pi / 2.0

    def _first(self, angles: tuple[float, float], after: Point | None) -> Point:
        """Return the first of two places reached after a point; without one, the first angle."""
        if after is None:
            return self.at(angles[0])
        places = [self.at(angle) for angle in angles]
        return min(places, key=lambda place: (self.walked(after, place) - _ROUNDING) % TURN)

    def at_y(self, y_mm: float, after: Point | None = None) -> Point | None:
        """Return the first point at y (mm), where the walk goes outward if nothing precedes it."""
        offset = (y_mm - self.centre[0]) / self.radius_mm
        if abs(offset) > 1.0 + _ROUNDING:
            return None
        outward = -self.turn * math.acos(max(-1.0, min(1.0, offset)))
        return self._first((outward, -outward), after)

    def at_z(self, z_mm: float, after: Point | None = None) -> Point | None:
        """Return the first point at z (mm), where the walk rises if nothing precedes it."""
        offset = (z_mm - self.centre[1]) / self.radius_mm
        if abs(offset) > 1.0 + _ROUNDING:
            return None
        right = math.asin(max(-1.0, min(1.0, offset)))
        rising, falling = (right, math.pi - right) if self.turn > 0.0 else (math.pi - right, right)
        return self._first((rising, falling), after)

    def at_heading(self, angle_rad: float) -> Point:
        """Return the point where the walk has an angle (rad)."""
        return self.at(angle_rad - self.turn * math.pi / 2.0)


@dataclass(frozen=True, slots=True)
class Graph:
    """A polynomial ``z(y)`` of ascending coefficients of ``(y - about)``, between two places."""

    coefficients: tuple[float, ...]
    about_mm: float
    from_mm: float | None
    to_mm: float

    def value(self, y_mm: float) -> float:
        """Return z (mm) at y (mm)."""
        return float(np.polynomial.polynomial.polyval(y_mm - self.about_mm, self.coefficients))

    def slope(self, y_mm: float) -> float:
        """Return ``dz/dy`` at y (mm)."""
        derived = np.polynomial.polynomial.polyder(np.array(self.coefficients))
        return float(np.polynomial.polynomial.polyval(y_mm - self.about_mm, derived))

    def project(self, point: Point) -> Point:
        """Return the point at the same y (mm): a graph is joined where its range begins."""
        return point[0], self.value(point[0])

    def heading(self, point: Point) -> float:
        """Return the angle of the walk (rad) at a point."""
        return math.atan(self.slope(point[0]))


Carrier = Straight | Circle | Graph


def place_on(
    carrier: Carrier,
    *,
    y_mm: float | None = None,
    z_mm: float | None = None,
    angle_rad: float | None = None,
    after: Point | None = None,
) -> Point | None:
    """Return the point of a carrier at y, at z (mm) or where the walk has an angle (rad).

    On a circle it is the first such point after `after`. ``None`` where the carrier has none: a
    level line has no place at z, a polynomial is bounded by y alone, only circles turn.
    """
    if isinstance(carrier, Circle):
        if y_mm is not None:
            return carrier.at_y(y_mm, after)
        if z_mm is not None:
            return carrier.at_z(z_mm, after)
        return None if angle_rad is None else carrier.at_heading(angle_rad)
    if isinstance(carrier, Graph):
        return None if y_mm is None else (y_mm, carrier.value(y_mm))
    if y_mm is not None:
        return carrier.at_y(y_mm)
    return None if z_mm is None else carrier.at_z(z_mm)


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
    if isinstance(other, Graph) or graph.from_mm is None:
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
