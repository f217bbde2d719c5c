"""What the pieces of a drawing lie on.

A carrier is an endless line, a whole circle or a polynomial, each with the sense in which it is
walked.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tapertread.shapes.drawing.pieces import TURN, Point

_SAME = 1e-12
_ROUNDING = 1e-9


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
    """A whole circle of signed radius (mm): > 0 is walked from y toward z, < 0 the other way."""

    centre: Point
    reach_mm: float

    @property
    def radius_mm(self) -> float:
        """Radius, mm, > 0."""
        return abs(self.reach_mm)

    @property
    def turn(self) -> float:
        """+1 if walked from y toward z, else -1."""
        return math.copysign(1.0, self.reach_mm)

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

    def at_y(self, y_mm: float, *, after: Point | None = None) -> Point | None:
        """Return the first point at y (mm), where the walk goes outward if nothing precedes it."""
        offset = (y_mm - self.centre[0]) / self.radius_mm
        if abs(offset) > 1.0 + _ROUNDING:
            return None
        outward = -self.turn * math.acos(max(-1.0, min(1.0, offset)))
        return self._first((outward, -outward), after)

    def at_z(self, z_mm: float, *, after: Point | None = None) -> Point | None:
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


@dataclass(frozen=True, slots=True, kw_only=True)
class Graph:
    """A polynomial ``z(y)`` of ascending coefficients of ``(y - about)``, between two places."""

    coefficients: tuple[float, ...]
    about_mm: float
    from_mm: float
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
            return carrier.at_y(y_mm, after=after)
        if z_mm is not None:
            return carrier.at_z(z_mm, after=after)
        return None if angle_rad is None else carrier.at_heading(angle_rad)
    if isinstance(carrier, Graph):
        return None if y_mm is None else (y_mm, carrier.value(y_mm))
    if y_mm is not None:
        return carrier.at_y(y_mm)
    return None if z_mm is None else carrier.at_z(z_mm)
