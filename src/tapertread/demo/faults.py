"""What a device can get wrong, one function a trap: true points in, spoiled points out.

Points have shape (n, 2), mm, in the outline's own order and axes. Faults that are metal (a burr, a
lip, a worn flange back) belong to the true shape; faults of tables (swapped sides, drifting
kilometres, missing values) belong to `writing`.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from tapertread.demo.chance import Chance
from tapertread.demo.plan import FaultPlan
from tapertread.shapes.outline import Floats, Kind

STITCH_AT_MM = {"wheel": -8.0, "rail": 3.0}
FACE_BAND_MM = (-14.0, -4.0)
GREASE_HALF_MM = 5.0
GLINTS = 6

Spoil = Callable[[Floats, FaultPlan, Kind, Chance], Floats]


def arc_mm(points: Floats) -> Floats:
    """Return the arc length (mm) of points (n, 2) from the first, shape (n,)."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))


def outward(points: Floats, kind: Kind) -> Floats:
    """Return the unit normals (n, 2) that point away from the metal."""
    tangent = np.gradient(points, axis=0)
    tangent /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None]
    right = np.stack((tangent[:, 1], -tangent[:, 0]), axis=1)
    return right if kind == "wheel" else -right


def ball_not_removed(points: Floats, fault: FaultPlan, kind: Kind, chance: Chance) -> Floats:
    """Return the path of the centre of a stylus ball of radius ``size`` (mm)."""
    return points + fault.size * outward(points, kind)


def not_square(points: Floats, fault: FaultPlan, kind: Kind, chance: Chance) -> Floats:
    """Return the section that a plane askew by ``size`` (deg) cuts: wider by 1/cos."""
    return points * np.array([1.0 / math.cos(math.radians(fault.size)), 1.0])


def stitched(points: Floats, fault: FaultPlan, kind: Kind, chance: Chance) -> Floats:
    """Return points of two sensors, the field one too high by ``size`` (mm)."""
    later = points[:, 0] > STITCH_AT_MM[kind]
    return points + np.stack((np.zeros(later.size), np.where(later, fault.size, 0.0)), axis=1)


def glinting(points: Floats, fault: FaultPlan, kind: Kind, chance: Chance) -> Floats:
    """Return points of which some on the flange root or gauge corner jumped about ``size`` (mm)."""
    candidates = np.flatnonzero(_on_face(points))
    chosen = candidates[chance.order(candidates.size)[:GLINTS]]
    jump = fault.size * (0.6 + 0.8 * chance.uniform(chosen.size))
    spoiled = points.copy()
    spoiled[chosen] += jump[:, None] * outward(points, kind)[chosen]
    return spoiled


def greasy(points: Floats, fault: FaultPlan, kind: Kind, chance: Chance) -> Floats:
    """Return points over a smear of grease up to ``size`` (mm) thick on the face."""
    arc = arc_mm(points)
    middle = float(arc[_on_face(points)].mean())
    share = np.clip(np.abs(arc - middle) / GREASE_HALF_MM, 0.0, 1.0)
    thick = fault.size * (1.0 - share * share) ** 2
    return points + thick[:, None] * outward(points, kind)


def ends_made_up(points: Floats, fault: FaultPlan, kind: Kind, chance: Chance) -> Floats:
    """Return points whose last ``size`` (mm) at both ends follow a straight line instead."""
    arc = arc_mm(points)
    spoiled = points.copy()
    for known in (arc < fault.size, arc > arc[-1] - fault.size):
        edge = int(np.flatnonzero(~known)[0 if known[0] else -1])
        inside = edge + (4 if known[0] else -4)
        slope = (points[edge] - points[inside]) / (arc[edge] - arc[inside])
        spoiled[known] = points[edge] + (arc[known] - arc[edge])[:, None] * slope
    return spoiled


def scaled(points: Floats, fault: FaultPlan, kind: Kind, chance: Chance) -> Floats:
    """Return points of a device whose scale is off by ``size`` (percent)."""
    return points * (1.0 + fault.size / 100.0)


SPOILS: dict[str, Spoil] = {
    "stylus-ball-not-removed": ball_not_removed,
    "section-not-square": not_square,
    "stitch-step": stitched,
    "glint": glinting,
    "grease": greasy,
    "smoothed-or-extrapolated-end": ends_made_up,
    "scale-error": scaled,
}
"""Traps that change the points themselves; the others change noise, placing or tables."""


def _on_face(points: Floats) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Say which points lie on the flange face and root of a wheel, or the gauge corner of a rail."""
    tip_or_top = points[:, 1] > FACE_BAND_MM[0]
    return (
        tip_or_top
        & (points[:, 1] < FACE_BAND_MM[1])
        & (points[:, 0] < 0.0)
        & (np.abs(points[:, 0]) < 55.0)
    )
