"""Exact pieces of a drawing: straight, arc and polynomial, each known by its arc length.

A piece is walked from its start to its end. Tangent angles are measured from ``y`` toward ``z``;
curvature is positive where the walk turns from ``y`` toward ``z`` (to the left). Every method takes
and returns arrays of one shape.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.polynomial import polynomial
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Point = tuple[float, float]

TURN = 2.0 * np.pi
_ON_CIRCLE = 1e-9
"""Relative slack with which a place on a circle may lie beyond it: rounding of ten digits."""
_ON_THE_END_MM = 1e-6


class Foot(NamedTuple):
    """The nearest places of a piece to some points.

    Attributes
    ----------
    arc_mm : ndarray, shape (n,)
        Arc length from the start of the piece, mm.
    dy_mm, dz_mm : ndarray, shape (n,)
        From the nearest place to the point, mm.
    ty, tz : ndarray, shape (n,)
        Unit tangent at the nearest place.
    """

    arc_mm: Floats
    dy_mm: Floats
    dz_mm: Floats
    ty: Floats
    tz: Floats


class Facing(NamedTuple):
    """How some points stand over a piece, without regard to what lies beyond its ends.

    Attributes
    ----------
    inside : ndarray of bool
        Whether a normal of the piece, not one of its ends alone, leads to the point.
    left_mm : ndarray
        Distance to the left of the walk, mm.
    ty, tz : ndarray or float
        Unit tangent below the point; one for all where the piece is straight.
    """

    inside: NDArray[np.bool_]
    left_mm: Floats
    ty: Floats | float
    tz: Floats | float


@dataclass(frozen=True, slots=True, kw_only=True)
class Line:
    """A straight piece between two points (mm)."""

    name: str
    start: Point
    end: Point

    @property
    def length_mm(self) -> float:
        """Length, mm."""
        return math.dist(self.start, self.end)

    @property
    def direction(self) -> Point:
        """Unit vector of the walk."""
        length = self.length_mm
        return (self.end[0] - self.start[0]) / length, (self.end[1] - self.start[1]) / length

    def point(self, arc_mm: Floats) -> tuple[Floats, Floats]:
        """Return y and z (mm) at arc lengths (mm)."""
        dy, dz = self.direction
        return self.start[0] + dy * arc_mm, self.start[1] + dz * arc_mm

    def tangent_rad(self, arc_mm: Floats) -> Floats:
        """Return the angle of the walk (rad, -pi..pi) at arc lengths (mm)."""
        dy, dz = self.direction
        return np.full(arc_mm.shape, np.arctan2(dz, dy))

    def curvature_per_mm(self, arc_mm: Floats) -> Floats:
        """Return the curvature (1/mm), zero, at arc lengths (mm)."""
        return np.zeros(arc_mm.shape)

    def nearest(self, y_mm: Floats, z_mm: Floats) -> Foot:
        """Return the nearest places to points (mm)."""
        ty, tz = self.direction
        along_y, along_z = y_mm - self.start[0], z_mm - self.start[1]
        arc = np.clip(along_y * ty + along_z * tz, 0.0, self.length_mm)
        ones = np.ones(arc.shape)
        return Foot(arc, along_y - ty * arc, along_z - tz * arc, ty * ones, tz * ones)

    def facing(self, y_mm: Floats, z_mm: Floats) -> Facing:
        """Return how points (mm, any shape) stand over the piece."""
        ty, tz = self.direction
        from_y, from_z = y_mm - self.start[0], z_mm - self.start[1]
        arc = from_y * ty + from_z * tz
        inside = (arc >= -_ON_THE_END_MM) & (arc <= self.length_mm + _ON_THE_END_MM)
        return Facing(inside, ty * from_z - tz * from_y, ty, tz)

    def z_at(self, y_mm: Floats) -> Floats:
        """Return z (mm) at places y (mm) where the walk goes outward; NaN elsewhere."""
        (y0, z0), (y1, z1) = self.start, self.end
        if y1 <= y0:
            return np.full(y_mm.shape, np.nan)
        z = z0 + (y_mm - y0) * ((z1 - z0) / (y1 - y0))
        return np.where((y_mm >= y0) & (y_mm <= y1), z, np.nan)

    def mirrored(self) -> Line:
        """Return the mirror image about ``y = 0``, walked the other way round."""
        return replace(self, start=(-self.end[0], self.end[1]), end=(-self.start[0], self.start[1]))

    def scaled(self, factor: float) -> Line:
        """Return the piece enlarged about the origin."""
        (y0, z0), (y1, z1) = self.start, self.end
        return replace(self, start=(y0 * factor, z0 * factor), end=(y1 * factor, z1 * factor))


@dataclass(frozen=True, slots=True, kw_only=True)
class Arc:
    """A piece of a circle.

    Attributes
    ----------
    centre : tuple of float
        Centre, mm.
    radius_mm : float
        Radius, mm, > 0.
    start_rad : float
        Angle at which the start is seen from the centre, rad.
    sweep_rad : float
        Angle walked, rad; > 0 from y toward z.
    """

    name: str
    centre: Point
    radius_mm: float
    start_rad: float
    sweep_rad: float

    @property
    def length_mm(self) -> float:
        """Length, mm."""
        return self.radius_mm * abs(self.sweep_rad)

    @property
    def turn(self) -> float:
        """+1 where the walk turns from y toward z, else -1."""
        return 1.0 if self.sweep_rad > 0.0 else -1.0

    @property
    def start(self) -> Point:
        """First point, mm."""
        return self._seen_at(self.start_rad)

    @property
    def end(self) -> Point:
        """Last point, mm."""
        return self._seen_at(self.start_rad + self.sweep_rad)

    def _seen_at(self, angle_rad: float) -> Point:
        return (
            self.centre[0] + self.radius_mm * float(np.cos(angle_rad)),
            self.centre[1] + self.radius_mm * float(np.sin(angle_rad)),
        )

    def point(self, arc_mm: Floats) -> tuple[Floats, Floats]:
        """Return y and z (mm) at arc lengths (mm)."""
        angle = self.start_rad + self.turn * arc_mm / self.radius_mm
        return (
            self.centre[0] + self.radius_mm * np.cos(angle),
            self.centre[1] + self.radius_mm * np.sin(angle),
        )

    def tangent_rad(self, arc_mm: Floats) -> Floats:
        """Return the angle of the walk (rad, -pi..pi) at arc lengths (mm)."""
        angle = self.start_rad + self.turn * (arc_mm / self.radius_mm + np.pi / 2.0)
        return np.arctan2(np.sin(angle), np.cos(angle))

    def curvature_per_mm(self, arc_mm: Floats) -> Floats:
        """Return the signed curvature (1/mm) at arc lengths (mm)."""
        return np.full(arc_mm.shape, self.turn / self.radius_mm)

    def nearest(self, y_mm: Floats, z_mm: Floats) -> Foot:
        """Return the nearest places to points (mm); the start, if a point is the centre."""
        from_y, from_z = y_mm - self.centre[0], z_mm - self.centre[1]
        walked = np.mod(self.turn * (np.arctan2(from_z, from_y) - self.start_rad), TURN)
        sweep = abs(self.sweep_rad)
        past = walked > sweep
        if past.any():
            nearer_start = walked > 0.5 * (sweep + TURN)
            walked = np.where(past, np.where(nearer_start, 0.0, sweep), walked)
        angle = self.start_rad + self.turn * walked
        out_y, out_z = np.cos(angle), np.sin(angle)
        return Foot(
            self.radius_mm * walked,
            from_y - self.radius_mm * out_y,
            from_z - self.radius_mm * out_z,
            -self.turn * out_z,
            self.turn * out_y,
        )

    def facing(self, y_mm: Floats, z_mm: Floats) -> Facing:
        """Return how points (mm, any shape) stand over the piece; none at its centre."""
        from_y, from_z = y_mm - self.centre[0], z_mm - self.centre[1]
        away = np.maximum(np.hypot(from_y, from_z), _ON_THE_END_MM)
        out_y, out_z = from_y / away, from_z / away
        middle = self.start_rad + 0.5 * self.sweep_rad
        half = min(0.5 * abs(self.sweep_rad) + _ON_THE_END_MM / self.radius_mm, math.pi)
        return Facing(
            out_y * math.cos(middle) + out_z * math.sin(middle) >= math.cos(half),
            self.turn * (self.radius_mm - away),
            -self.turn * out_z,
            self.turn * out_y,
        )

    def z_at(self, y_mm: Floats) -> Floats:
        """Return z (mm) at places y (mm) where the walk goes outward; NaN elsewhere."""
        offset = (y_mm - self.centre[0]) / self.radius_mm
        on_circle = np.abs(offset) <= 1.0 + _ON_CIRCLE
        offset = np.clip(offset, -1.0, 1.0)
        angle = -self.turn * np.arccos(offset)
        walked = np.mod(self.turn * (angle - self.start_rad), TURN)
        walked = np.where(walked > TURN - _ON_CIRCLE, 0.0, walked)
        inside = on_circle & (walked <= abs(self.sweep_rad) + _ON_CIRCLE)
        z = self.centre[1] - self.turn * self.radius_mm * np.sqrt(1.0 - offset * offset)
        return np.where(inside, z, np.nan)

    def mirrored(self) -> Arc:
        """Return the mirror image about ``y = 0``, walked the other way round."""
        last = self.start_rad + self.sweep_rad
        return replace(self, centre=(-self.centre[0], self.centre[1]), start_rad=np.pi - last)

    def scaled(self, factor: float) -> Arc:
        """Return the piece enlarged about the origin."""
        y, z = self.centre
        return replace(self, centre=(y * factor, z * factor), radius_mm=self.radius_mm * factor)


_KNOT_STEP_MM = 0.5
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(10)
_FOOT_STEPS = 5
_LENGTH_STEPS = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Polynomial:
    """A piece ``z(y)`` given by coefficients, walked outward.

    Attributes
    ----------
    coefficients : tuple of float
        Ascending, of ``(y - about_mm)``, so that z is in mm.
    about_mm : float
        Place about which the coefficients hold, mm.
    from_mm, to_mm : float
        Range of y, mm, ``from_mm < to_mm``.
    """

    name: str
    coefficients: tuple[float, ...]
    from_mm: float
    to_mm: float
    about_mm: float = 0.0
    _knots: Floats = field(init=False, repr=False, compare=False)
    _heights: Floats = field(init=False, repr=False, compare=False)
    _lengths: Floats = field(init=False, repr=False, compare=False)
    _slope: tuple[float, ...] = field(init=False, repr=False, compare=False)
    _bend: tuple[float, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Tabulate the arc length at knots, between which it is integrated."""
        count = max(9, int(np.ceil((self.to_mm - self.from_mm) / _KNOT_STEP_MM)) + 1)
        knots = np.linspace(self.from_mm, self.to_mm, count)
        slope = polynomial.polyder(np.array(self.coefficients))
        bend = polynomial.polyder(slope)
        put = object.__setattr__
        put(self, "_slope", tuple(float(c) for c in slope))
        put(self, "_bend", tuple(float(c) for c in bend))
        put(self, "_knots", knots)
        put(self, "_heights", self._value(knots, self.coefficients))
        steps = self._length_between(knots[:-1], knots[1:])
        put(self, "_lengths", np.concatenate(([0.0], np.cumsum(steps))))

    def _value(self, y_mm: Floats, coefficients: tuple[float, ...]) -> Floats:
        x = y_mm - self.about_mm
        total = np.full(x.shape, coefficients[-1])
        for coefficient in coefficients[-2::-1]:
            total = total * x + coefficient
        return total

    def _length_between(self, y0_mm: Floats, y1_mm: Floats) -> Floats:
        """Integrate the arc length over short ranges by Gauss's rule."""
        half = 0.5 * (y1_mm - y0_mm)
        middle = 0.5 * (y1_mm + y0_mm)
        slopes = self._value(middle[..., None] + half[..., None] * _NODES, self._slope)
        length: Floats = half * (np.hypot(1.0, slopes) @ _WEIGHTS)
        return length

    @property
    def length_mm(self) -> float:
        """Length, mm."""
        return float(self._lengths[-1])

    @property
    def start(self) -> Point:
        """First point, mm."""
        return self.from_mm, float(self._heights[0])

    @property
    def end(self) -> Point:
        """Last point, mm."""
        return self.to_mm, float(self._heights[-1])

    def slope(self, y_mm: Floats) -> Floats:
        """Return ``dz/dy`` at places y (mm)."""
        return self._value(y_mm, self._slope)

    def arc_at(self, y_mm: Floats) -> Floats:
        """Return the arc length (mm) at places y (mm) of the piece."""
        last = self._knots.size - 2
        knot = np.clip(np.searchsorted(self._knots, y_mm, side="right") - 1, 0, last)
        return self._lengths[knot] + self._length_between(self._knots[knot], y_mm)

    def _y_at(self, arc_mm: Floats) -> Floats:
        y: Floats = np.interp(arc_mm, self._lengths, self._knots)
        for _ in range(_LENGTH_STEPS):
            y = y - (self.arc_at(y) - arc_mm) / np.hypot(1.0, self.slope(y))
        return y

    def point(self, arc_mm: Floats) -> tuple[Floats, Floats]:
        """Return y and z (mm) at arc lengths (mm)."""
        y = self._y_at(np.ravel(arc_mm)).reshape(np.shape(arc_mm))
        return y, self._value(y, self.coefficients)

    def tangent_rad(self, arc_mm: Floats) -> Floats:
        """Return the angle of the walk (rad, -pi..pi) at arc lengths (mm)."""
        return np.arctan(self.slope(self.point(arc_mm)[0]))

    def curvature_per_mm(self, arc_mm: Floats) -> Floats:
        """Return the signed curvature (1/mm) at arc lengths (mm)."""
        y = self.point(arc_mm)[0]
        curvature: Floats = self._value(y, self._bend) / np.hypot(1.0, self.slope(y)) ** 3
        return curvature

    def nearest(self, y_mm: Floats, z_mm: Floats) -> Foot:
        """Return the nearest places to points (mm), by Newton steps from the nearest knot."""
        away = (self._knots - y_mm[..., None]) ** 2 + (self._heights - z_mm[..., None]) ** 2
        knot = away.argmin(axis=-1)
        low = self._knots[np.maximum(knot - 1, 0)]
        high = self._knots[np.minimum(knot + 1, self._knots.size - 1)]
        y = self._knots[knot]
        for _ in range(_FOOT_STEPS):
            lift = self._value(y, self.coefficients) - z_mm
            slope = self.slope(y)
            steepness = 1.0 + slope * slope + lift * self._value(y, self._bend)
            steepness = np.where(steepness > 0.0, steepness, 1.0 + slope * slope)
            y = np.clip(y - (y - y_mm + lift * slope) / steepness, low, high)
        z, slope = self._value(y, self.coefficients), self.slope(y)
        stretch = np.hypot(1.0, slope)
        return Foot(self.arc_at(y), y_mm - y, z_mm - z, 1.0 / stretch, slope / stretch)

    def facing(self, y_mm: Floats, z_mm: Floats) -> Facing:
        """Return how points (mm, any shape) stand over the piece."""
        foot = self.nearest(y_mm, z_mm)
        beyond = foot.dy_mm * foot.ty + foot.dz_mm * foot.tz
        left = foot.ty * foot.dz_mm - foot.tz * foot.dy_mm
        return Facing(np.abs(beyond) <= _ON_THE_END_MM, left, foot.ty, foot.tz)

    def z_at(self, y_mm: Floats) -> Floats:
        """Return z (mm) at places y (mm); NaN outside the piece."""
        inside = (y_mm >= self.from_mm) & (y_mm <= self.to_mm)
        return np.where(inside, self._value(y_mm, self.coefficients), np.nan)

    def mirrored(self) -> Polynomial:
        """Return the mirror image about ``y = 0``, walked the other way round."""
        return replace(
            self,
            coefficients=tuple(c * (-1.0) ** power for power, c in enumerate(self.coefficients)),
            from_mm=-self.to_mm,
            to_mm=-self.from_mm,
            about_mm=-self.about_mm,
        )

    def scaled(self, factor: float) -> Polynomial:
        """Return the piece enlarged about the origin."""
        return replace(
            self,
            coefficients=tuple(
                c * factor ** (1.0 - power) for power, c in enumerate(self.coefficients)
            ),
            from_mm=self.from_mm * factor,
            to_mm=self.to_mm * factor,
            about_mm=self.about_mm * factor,
        )


Piece = Line | Arc | Polynomial
