"""What a device can get wrong, one function a trap: true points in, spoiled points out.

Points stand in the outline's own order and axes. Faults that are metal (a burr, a
lip, a worn flange back) belong to the true shape; faults of tables (swapped sides, drifting
kilometres, missing values) belong to `writing`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tapertread.demo.chance import Chance
from tapertread.shapes.outline import Floats, Kind

STITCH_AT_MM = {"wheel": -8.0, "rail": 3.0}
FACE_BAND_MM = (-14.0, -4.0)
FLANGE_TIP_MM = -55.0
GREASE_HALF_MM = 5.0
GLINTS = 6


@dataclass(frozen=True, slots=True, kw_only=True)
class Seen:
    """Points (n, 2) of one outline as a device sees them, mm, and the stream of its chance."""

    points: Floats
    kind: Kind
    chance: Chance


Spoil = Callable[[Seen, float], Floats]
"""What is seen, and the size of the fault → spoiled points."""


def arc_mm(points: Floats) -> Floats:
    """Return the arc length (mm) of points (n, 2) from the first, shape (n,)."""
    return np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))


def outward(points: Floats, kind: Kind) -> Floats:
    """Return the unit normals (n, 2) that point away from the metal."""
    tangent = np.gradient(points, axis=0)
    tangent /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None]
    right = np.stack((tangent[:, 1], -tangent[:, 0]), axis=1)
    return right if kind == "wheel" else -right


def ball_not_removed(seen: Seen, radius_mm: float) -> Floats:
    """Return the path of the centre of a stylus ball."""
    return seen.points + radius_mm * outward(seen.points, seen.kind)


def not_square(seen: Seen, askew_deg: float) -> Floats:
    """Return the section that a plane askew cuts: wider by 1/cos."""
    return _wider(seen.points, 1.0 / math.cos(math.radians(askew_deg)), 1.0)


def stitched(seen: Seen, step_mm: float) -> Floats:
    """Return points of two sensors, the one on the field side too high."""
    later = seen.points[:, 0] > STITCH_AT_MM[seen.kind]
    spoiled = seen.points.copy()
    spoiled[later, 1] += step_mm
    return spoiled


def glinting(seen: Seen, jump_mm: float) -> Floats:
    """Return points of which a few on the flange root or gauge corner jumped outward."""
    candidates = np.flatnonzero(_on_face(seen.points))
    chosen = candidates[seen.chance.order(candidates.size)[:GLINTS]]
    jumps = jump_mm * (0.6 + 0.8 * seen.chance.uniform(chosen.size))
    spoiled = seen.points.copy()
    spoiled[chosen] += jumps[:, None] * outward(seen.points, seen.kind)[chosen]
    return spoiled


def greasy(seen: Seen, thick_mm: float) -> Floats:
    """Return points over a smear of grease on the face, thickest in its middle."""
    arc = arc_mm(seen.points)
    middle = float(arc[_on_face(seen.points)].mean())
    share = np.clip(np.abs(arc - middle) / GREASE_HALF_MM, 0.0, 1.0)
    smear = thick_mm * (1.0 - share * share) ** 2
    return seen.points + smear[:, None] * outward(seen.points, seen.kind)


def ends_made_up(seen: Seen, length_mm: float) -> Floats:
    """Return points that follow a straight line over a length at both ends."""
    points, arc = seen.points, arc_mm(seen.points)
    spoiled = points.copy()
    for known, inward in ((arc < length_mm, 4), (arc > arc[-1] - length_mm, -4)):
        edge = int(np.flatnonzero(~known)[0 if inward > 0 else -1])
        along = (points[edge] - points[edge + inward]) / (arc[edge] - arc[edge + inward])
        spoiled[known] = points[edge] + (arc[known] - arc[edge])[:, None] * along
    return spoiled


def scaled(seen: Seen, percent: float) -> Floats:
    """Return points of a device whose scale is too large."""
    return _wider(seen.points, 1.0 + percent / 100.0, 1.0 + percent / 100.0)


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


def _wider(points: Floats, across: float, up: float) -> Floats:
    return np.stack((across * points[:, 0], up * points[:, 1]), axis=1)


def _on_face(points: Floats) -> NDArray[np.bool_]:
    """Say which points lie on a wheel's flange face and root, or a rail's gauge corner."""
    y, z = points[:, 0], points[:, 1]
    return (z > FACE_BAND_MM[0]) & (z < FACE_BAND_MM[1]) & (y < 0.0) & (y > FLANGE_TIP_MM)
