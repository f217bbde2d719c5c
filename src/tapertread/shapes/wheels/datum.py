"""The parts of a wheel that rails do not wear, and how a measured outline lies to them.

These are the flange back, the flange from its back round the tip, and the rim chamfer with the rim
face above it. The last few millimetres of the tread before the chamfer hold too, but with less
trust: rails of some turnouts and lines reach them.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from tapertread.shapes.cleaning.stylus import tangents
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats

Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]

BACK, TIP, TREAD_END, CHAMFER, RIM_FACE = range(5)
WORN = -1
PART_NAMES = ("flange back", "flange tip", "field end of the tread", "rim chamfer", "rim face")

FITS_WITHIN_MM = (0.0, 0.0, 0.03, 0.01, 0.1)
"""Standard deviation by which a part as a whole may lie off its drawing, mm: turning tolerance,
small knocks and wear that is not called wear [trade-practice]."""

PAST_THE_TIP_MM = 2.0
TREAD_END_MM = 7.0
CHAMFER_TURN_RAD = np.radians(20.0)
BEYOND_MM = 40.0
STEP_MM = 0.1
LEAST_FLANGE_MM = 12.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelDatum:
    """A wheel design prepared for laying outlines on it.

    Attributes
    ----------
    points, outward : ndarray, shape (n, 2)
        The design, its back and rim face continued, and unit normals out of the metal.
    part : ndarray of int, shape (n,)
        Part that each point belongs to; ``WORN`` where rails wear.
    tape_line_mm, rim_face_mm, tip_y_mm, tip_z_mm : float
        Places of the design, mm.
    has_flange : bool
        Whether the design has a flange to measure.
    length_mm : ndarray, shape (5,)
        Arc of each part, mm.
    """

    points: Floats
    outward: Floats
    part: Indices
    tape_line_mm: float
    rim_face_mm: float
    tip_y_mm: float
    tip_z_mm: float
    has_flange: bool
    tree: KDTree = field(repr=False)

    def match(self, points: Floats) -> Match:
        """Return how points (k, 2; mm) lie to the design."""
        at = np.asarray(self.tree.query(points)[1], dtype=np.intp)
        normal = self.outward[at]
        away = np.einsum("ij,ij->i", points - self.points[at], normal)
        return Match(at=at, part=self.part[at], outward_mm=away, normal=normal)


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """How points lie to a design: nearest place, its part, distance out of the metal, normal."""

    at: Indices
    part: Indices
    outward_mm: Floats
    normal: Floats


@lru_cache(maxsize=32)
def wheel_datum(design: Drawing) -> WheelDatum:
    """Return a wheel design prepared, once, for laying outlines on it."""
    fine = design.outline(STEP_MM)
    drawn = np.column_stack([fine.y_mm, fine.z_mm])
    back = drawn[0] + np.outer(np.arange(BEYOND_MM, 0.0, -STEP_MM), [0.0, 1.0])
    rim = drawn[-1] + np.outer(np.arange(STEP_MM, BEYOND_MM, STEP_MM), [0.0, 1.0])
    points = np.vstack([back, drawn, rim])
    along = tangents(points)
    part = _parts(points, along)
    part[-rim.shape[0] :] = RIM_FACE
    tip = int(np.argmin(points[:, 1]))
    return WheelDatum(
        points=points,
        outward=np.column_stack([along[:, 1], -along[:, 0]]),
        part=part,
        tape_line_mm=fine.tape_line_mm,
        rim_face_mm=float(drawn[-1, 0]),
        tip_y_mm=float(points[tip, 0]),
        tip_z_mm=float(points[tip, 1]),
        has_flange=bool(points[tip, 1] < -LEAST_FLANGE_MM and points[tip, 0] < -20.0),
        tree=KDTree(points),
    )


def _parts(points: Floats, along: Floats) -> Indices:
    """Return the part of each point of a design, told by its shape alone."""
    arc = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    part = np.full(points.shape[0], WORN, dtype=np.intp)
    tip = int(np.argmin(points[:, 1]))
    upright = np.flatnonzero(along[:tip, 1] > -np.cos(np.radians(1.0)))
    back_end = int(upright[0]) if upright.size else 0
    part[:back_end] = BACK
    part[back_end : int(np.searchsorted(arc, arc[tip] + PAST_THE_TIP_MM))] = TIP
    heading = np.unwrap(np.arctan2(along[:, 1], along[:, 0]))
    turn = np.abs(heading[8:] - heading[:-8])
    last = np.flatnonzero((turn > CHAMFER_TURN_RAD) & (points[4:-4, 0] > 0.0))
    if last.size:
        corner = int(last[0]) + 8
        part[int(np.searchsorted(arc, arc[corner] - TREAD_END_MM)) : corner - 6] = TREAD_END
        part[corner - 6 : corner] = WORN
        part[corner:] = CHAMFER
    return part
