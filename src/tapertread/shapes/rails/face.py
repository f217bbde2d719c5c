"""Gauge-face angle: how steep the face is that a wheel flange climbs, by regression."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Floats
from tapertread.shapes.rails.head import gauge_crossing
from tapertread.shapes.rails.job import OUT_OF_REACH, Job

GAUGE_DEPTH_MM = 14.0
FACE_LENGTH_MM = 5.0
LEAST_FACE_MM = 2.5
"""Regression over 5 mm of height, normally from the gauge depth downward; moved up, and if need be
shortened to no less than 2.5 mm, where the worn face ends sooner."""

LOOKED_AT_MM = (9.0, 19.0)
"""Depths below the worn top between which the worn face is looked for, mm."""

WORN_MM = 0.15
HEIGHTS = 401


@dataclass(frozen=True, slots=True, kw_only=True)
class _Face:
    """Points of the gauge face at even steps of arc, from below upward, with their depths, mm."""

    y_mm: Floats
    z_mm: Floats
    depth_mm: Floats

    def cut(self, upper_mm: float, lower_mm: float) -> _Face:
        """Return the part between two depths, mm."""
        inside = (self.depth_mm >= upper_mm - 1e-9) & (self.depth_mm <= lower_mm + 1e-9)
        return _Face(y_mm=self.y_mm[inside], z_mm=self.z_mm[inside], depth_mm=self.depth_mm[inside])


def face_angle(job: Job) -> tuple[Measured, str]:
    """Return the gauge-face angle (deg) from the horizontal of the upright rail, and its note."""
    reason = job.unheld("turn")
    if reason:
        return Measured.missing("deg", reason), ""
    face = _face(job)
    if face is None:
        return Measured.missing("deg", OUT_OF_REACH), ""
    band = face.cut(*_band(job, face))
    angle, off = _regression(band)
    along = np.hypot(band.y_mm - band.y_mm[0], band.z_mm - band.z_mm[0])
    centred = along - along.mean()
    weights = centred / float(centred @ centred)
    measured = Measured.of(
        math.degrees(angle),
        "deg",
        noise=math.degrees(job.noise.of_reading(weights, step_mm=float(along[1] - along[0]))),
        datum=math.degrees(math.sqrt(job.covariance()[2, 2])),
    )
    note = (
        "gauge-face angle from the horizontal of the upright rail, by regression from "
        f"{band.depth_mm.min():.1f} to {band.depth_mm.max():.1f} mm below the worn top"
    )
    bent = off > max(0.1, 3.0 * job.noise.sigma_mm)
    return measured, note + (f"; the face is bent by {off:.2f} mm over it" if bent else "")


def _face(job: Job) -> _Face | None:
    """Return the gauge face between the depths looked at, if it is all there."""
    top, arc = job.head.top_mm, job.head.arc_mm
    upper = gauge_crossing(job.head, top - LOOKED_AT_MM[0])
    lower = gauge_crossing(job.head, top - LOOKED_AT_MM[1])
    if upper is None or lower is None or upper.arc_mm <= lower.arc_mm:
        return None
    if job.gap_between(lower.arc_mm, upper.arc_mm):
        return None
    at = np.linspace(lower.arc_mm, upper.arc_mm, HEIGHTS)
    z = np.interp(at, arc, job.head.z_mm)
    return _Face(y_mm=np.interp(at, arc, job.head.y_mm), z_mm=z, depth_mm=top - z)


def _band(job: Job, face: _Face) -> tuple[float, float]:
    """Return the depths (mm) over which the angle is taken: on the worn face where there is one."""
    usual = (GAUGE_DEPTH_MM, GAUGE_DEPTH_MM + FACE_LENGTH_MM)
    if not job.aligned.across.anchored:
        return usual
    distance = job.design.project(face.y_mm, face.z_mm).distance_mm
    worn = distance < -max(WORN_MM, 3.0 * job.noise.sigma_mm)
    middle = int(np.argmin(np.abs(face.depth_mm - GAUGE_DEPTH_MM)))
    if not worn[middle]:
        return usual
    below = np.flatnonzero(~worn[:middle])
    above = np.flatnonzero(~worn[middle:])
    lower = float(face.depth_mm[below[-1] + 1]) if below.size else usual[1]
    upper = float(face.depth_mm[middle + above[0] - 1]) if above.size else LOOKED_AT_MM[0]
    upper = max(upper, min(GAUGE_DEPTH_MM, lower - FACE_LENGTH_MM))
    return (upper, lower) if lower - upper >= LEAST_FACE_MM else usual


def _regression(face: _Face) -> tuple[float, float]:
    """Return the angle (rad) of the line that lies best through points, and their scatter (mm)."""
    y, z = face.y_mm - face.y_mm.mean(), face.z_mm - face.z_mm.mean()
    angle = 0.5 * math.atan2(2.0 * float(y @ z), float(y @ y - z @ z))
    if angle < 0.0:
        angle += math.pi
    off = z * math.cos(angle) - y * math.sin(angle)
    return angle, float(np.sqrt(np.mean(off * off)))
