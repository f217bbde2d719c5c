"""The head of a rail outline, and places read from it: levels, rays, areas.

A head runs from low on the gauge face over the running surface to low on the field flank. It may
overhang: a level can be crossed more than once, and what counts is the outermost crossing, which a
gauge would touch.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tapertread.shapes.outline import Floats, Outline

LONGEST_STEP_MM = 2.5
"""Two neighbours farther apart than this have a gap between them, which nothing is read from."""

CLOSED_WITHIN_MM = 5.0
TOP_HALF_WIDTH_MM = 5.0
CHORD_HALF_MM = 1.0


@dataclass(frozen=True, kw_only=True)
class Head:
    """Points of a rail head in order from gauge side to field side; without slots, to remember.

    Attributes
    ----------
    y_mm, z_mm : ndarray, shape (n,)
        Points, mm.
    highest : int
        Index of the highest point.
    """

    y_mm: Floats
    z_mm: Floats
    highest: int

    @cached_property
    def arc_mm(self) -> Floats:
        """Arc length from the first point, mm, shape (n,)."""
        steps = np.hypot(np.diff(self.y_mm), np.diff(self.z_mm))
        return np.concatenate(([0.0], np.cumsum(steps)))

    @property
    def step_mm(self) -> float:
        """Median distance of neighbours, mm."""
        return float(np.median(np.hypot(np.diff(self.y_mm), np.diff(self.z_mm))))

    @cached_property
    def top_mm(self) -> float:
        """Height of the running surface at its highest place, mm.

        A parabola over ±5 mm takes the noise off, so that it is not the highest noise peak.
        """
        about = self.y_mm[self.highest]
        near = np.abs(self.y_mm - about) <= TOP_HALF_WIDTH_MM
        near &= self.z_mm > self.z_mm[self.highest] - TOP_HALF_WIDTH_MM
        x, z = self.y_mm[near] - about, self.z_mm[near]
        if x.size < 4 or np.ptp(x) < TOP_HALF_WIDTH_MM:
            return float(self.z_mm[self.highest])
        bend, slope, height = np.polyfit(x, z, 2)
        low, high = float(x.min()), float(x.max())
        places = [low, high, 0.0]
        if bend < 0.0:
            places.append(float(np.clip(-0.5 * slope / bend, low, high)))
        return float(max(np.polyval((bend, slope, height), place) for place in places))

    def normal(self, arc_mm: float) -> tuple[float, float]:
        """Return the outward normal of the chord over ±1 mm of arc about a place (mm)."""
        arc = self.arc_mm
        ends = np.clip((arc_mm - CHORD_HALF_MM, arc_mm + CHORD_HALF_MM), 0.0, arc[-1])
        dy, dz = np.diff(np.interp(ends, arc, self.y_mm)), np.diff(np.interp(ends, arc, self.z_mm))
        length = math.hypot(dy[0], dz[0])
        return -float(dz[0]) / length, float(dy[0]) / length

    def moved(self, dy_mm: float, dz_mm: float, *, turn_rad: float) -> Head:
        """Return the head turned about the design's origin (rad), then shifted (mm)."""
        cos, sin = np.cos(turn_rad), np.sin(turn_rad)
        y = self.y_mm * cos - self.z_mm * sin + dy_mm
        z = self.y_mm * sin + self.z_mm * cos + dz_mm
        return Head(y_mm=y, z_mm=z, highest=int(np.argmax(z)))


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """Where a line meets an outline.

    Attributes
    ----------
    at_mm : float
        Place along the line, mm.
    arc_mm : float
        Arc length of the place on the head, mm.
    normal_share : float
        Cosine between the line and the outline's normal, 0..1: noise along the normal moves the
        crossing by its inverse.
    gap_mm : float
        Distance of the two points it was read between, mm.
    """

    at_mm: float
    arc_mm: float
    normal_share: float
    gap_mm: float


def head_of(outline: Outline, *, depth_mm: float) -> Head:
    """Return the head of a rail outline in its design's upright axes.

    Parameters
    ----------
    outline : Outline
        Head only, head and web, or a whole section, open or closed.
    depth_mm : float
        How far below the design's top the head reaches, mm, > 0.
    """
    y, z = _opened_at_the_bottom(outline)
    highest = int(np.argmax(z))
    low = np.flatnonzero(z < -depth_mm)
    first = int(low[low < highest].max(initial=-1)) + 1
    last = int(low[low > highest].min(initial=z.size))
    y, z = y[first:last], z[first:last]
    if y.size > 1 and y[0] > y[-1]:
        y, z = y[::-1], z[::-1]
    return Head(y_mm=y, z_mm=z, highest=int(np.argmax(z)))


def _opened_at_the_bottom(outline: Outline) -> tuple[Floats, Floats]:
    """Return the points; a closed curve is rolled so that it starts at its lowest point."""
    y, z = outline.y_mm, outline.z_mm
    ends_apart = float(np.hypot(y[0] - y[-1], z[0] - z[-1]))
    if ends_apart > CLOSED_WITHIN_MM:
        return y, z
    start = -int(np.argmin(z))
    return np.roll(y, start), np.roll(z, start)


def crossing(
    head: Head,
    start: tuple[float, float],
    *,
    outward_rad: float,
    reach_mm: float = 30.0,
    up_to: int | None = None,
) -> Crossing | None:
    """Return the outermost crossing of a line with the outline, or ``None``.

    Parameters
    ----------
    start : tuple of float
        Point of the line (mm) at which ``at_mm`` is zero.
    outward_rad : float
        Direction of the line out of the metal, from y toward z, rad.
    reach_mm : float
        How far into and out of the metal a crossing is looked for, mm.
    up_to : int, optional
        Index of the last point that counts.
    """
    cos, sin = math.cos(outward_rad), math.sin(outward_rad)
    part = slice(None) if up_to is None else slice(up_to + 1)
    from_y, from_z = head.y_mm[part] - start[0], head.z_mm[part] - start[1]
    along, across = from_y * cos + from_z * sin, from_z * cos - from_y * sin
    segment = np.flatnonzero((across[:-1] < 0.0) != (across[1:] < 0.0))
    if not segment.size:
        return None
    share = across[segment] / (across[segment] - across[segment + 1])
    at = along[segment] + share * (along[segment + 1] - along[segment])
    at = np.where(np.abs(at) <= reach_mm, at, -np.inf)
    best = int(np.argmax(at))
    if not math.isfinite(at[best]):
        return None
    arc, low = head.arc_mm, int(segment[best])
    step = float(arc[low + 1] - arc[low])
    place = float(arc[low] + share[best] * step)
    normal_y, normal_z = head.normal(place)
    return Crossing(
        at_mm=float(at[best]),
        arc_mm=place,
        normal_share=abs(normal_y * cos + normal_z * sin),
        gap_mm=step,
    )


def gauge_crossing(head: Head, level_mm: float) -> Crossing | None:
    """Return the outermost place on the gauge face at a level (mm, in z), or ``None``.

    ``at_mm`` is the distance from the design axis toward the gauge side, mm.
    """
    return crossing(
        head, (0.0, level_mm), outward_rad=math.pi, reach_mm=math.inf, up_to=head.highest
    )


def area_above_mm2(head: Head, level_mm: float) -> float:
    """Return the area (mm²) between the head and a level (mm), by the polygon of its points.

    The head must reach down to the level on both sides; an overhanging lip counts as metal.
    """
    y, z = _cut_at(head.y_mm, head.z_mm, level_mm)
    return 0.5 * abs(float(np.dot(y, np.roll(z, -1)) - np.dot(z, np.roll(y, -1))))


def _cut_at(y: Floats, z: Floats, level_mm: float) -> tuple[Floats, Floats]:
    """Return the polygon of everything above a level, ends interpolated onto it."""
    above = np.flatnonzero(z > level_mm)
    first, last = int(above[0]), int(above[-1])
    ends_y, ends_z = [], []
    for inside, outside in ((first, first - 1), (last, last + 1)):
        if 0 <= outside < z.size:
            share = (level_mm - z[inside]) / (z[outside] - z[inside])
            ends_y.append(y[inside] + share * (y[outside] - y[inside]))
        else:
            ends_y.append(y[inside])
        ends_z.append(level_mm)
    middle = slice(first, last + 1)
    return (
        np.concatenate(([ends_y[0]], y[middle], [ends_y[1]])),
        np.concatenate(([ends_z[0]], np.maximum(z[middle], level_mm), [ends_z[1]])),
    )
