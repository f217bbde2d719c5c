"""How a wheel of the invented railway wears: tread band, planed flange, worn back, rolled lip.

Worn wheels keep the design's axes: what wore away is the distance from the design.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from tapertread.demo.planing import Cap, plateau, rounded_max
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Floats, Outline

POINTS_MM = 0.1
GRID_MM = 0.02
BACK_RADIUS_BEGINS_MM = 0.5
FLANGE_LEVEL_MM = 10.0
ROUNDED_MM = 1.5
CORNER_MM = 14.0
CORNER_TOP_MM = -3.2
WIDE_TREAD_MM = (-31.0, 53.0)
HOLLOW_TREAD_MM = (-22.0, 27.0)
RIM_FACE_MM = 65.0


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelWear:
    """What a wheel has lost, and how.

    Attributes
    ----------
    tread_mm : float
        Depth of tread wear at the tape line.
    hollow : float
        Share (0..1) of it that is a narrow band instead of the whole tread.
    flange_mm : float
        Thickness planed off the flange, 10 mm beyond the worn tread.
    face_deg : float
        Slope of the planed face.
    back_mm : float
        Worn off the flange back by check rails.
    lip_mm : float
        Metal rolled over the rim face.
    """

    tread_mm: float = 0.0
    hollow: float = 0.0
    flange_mm: float = 0.0
    face_deg: float = 70.0
    back_mm: float = 0.0
    lip_mm: float = 0.0


@cache
def new_wheel(name: str) -> Outline:
    """Return the outline of a wheel design with points every 0.1 mm."""
    return design(name, step_mm=POINTS_MM)


def worn_wheel(name: str, wear: WheelWear) -> Outline:
    """Return the outline of a worn wheel in its design's axes, points every 0.1 mm."""
    new = new_wheel(name)
    first = int(np.argmax(new.y_mm > new.y_mm[0] + BACK_RADIUS_BEGINS_MM))
    grid = np.append(np.arange(new.y_mm[first], new.y_mm[-1], GRID_MM), new.y_mm[-1])
    worn = _planed(grid, np.interp(grid, new.y_mm[first:], new.z_mm[first:]), wear)
    y = np.concatenate((new.y_mm[:first], grid))
    z = np.concatenate((new.z_mm[:first], worn))
    tip = int(np.argmin(z))
    y[:tip] += wear.back_mm * _back(z[:tip])
    return new.with_points(y + wear.lip_mm * _lip(y), z).resampled(POINTS_MM)


def cut_depth_mm(name: str, worn: Outline) -> float:
    """Return how far (mm, on the radius) a lathe must go in for the whole design to be cut again.

    The design, pushed inward, must nowhere lie outside the worn wheel between tip and chamfer.
    """
    new = new_wheel(name)
    tip = int(np.argmin(new.z_mm))
    grid = np.arange(new.y_mm[tip] + 1.0, 58.0, GRID_MM)
    worn_tip = int(np.argmin(worn.z_mm))
    have = np.interp(grid, worn.y_mm[worn_tip:], worn.z_mm[worn_tip:])
    want = np.interp(grid, new.y_mm[tip:], new.z_mm[tip:])
    return max(0.0, float(np.max(have - want)))


def _planed(y: Floats, fresh: Floats, wear: WheelWear) -> Floats:
    """Return the running surface (mm): tread worn down, flange face and root planed by a cap."""
    worn = fresh + _tread_mm(y, wear)
    if wear.flange_mm <= 0.0:
        return worn
    cap = _flange_cap(y, fresh, wear)
    return rounded_max(worn, cap.height_mm(y), reach_mm=min(ROUNDED_MM, wear.flange_mm))


def _flange_cap(y: Floats, fresh: Floats, wear: WheelWear) -> Cap:
    """Return the cap of the rails that planed this flange.

    Its top sinks with the tread, and it crosses the line 10 mm beyond the worn tread where the
    flange is as much thinner than new as the wear says.
    """
    tip, root = int(np.argmin(fresh)), int(np.argmax(fresh > -1.0))
    level = wear.tread_mm - FLANGE_LEVEL_MM
    face_y = float(np.interp(-FLANGE_LEVEL_MM, fresh[tip:root], y[tip:root]))
    wanted = face_y - wear.flange_mm
    cap = Cap(
        face_y_mm=wanted,
        face_z_mm=level,
        face_deg=wear.face_deg,
        top_mm=CORNER_TOP_MM + wear.tread_mm,
        top_slope=0.0,
        radius_mm=CORNER_MM,
    )
    near = np.linspace(wanted - 5.0, wanted + 5.0, 1001)
    crossed = float(np.interp(level, cap.height_mm(near), near))
    return replace(cap, face_y_mm=2.0 * wanted - crossed)


def _tread_mm(y: Floats, wear: WheelWear) -> Floats:
    """Return the depth of tread wear (mm) at each y; deepest, and as stated, at the tape line."""
    wide = plateau(y, begin_mm=WIDE_TREAD_MM[0], end_mm=WIDE_TREAD_MM[1], edge_mm=14.0)
    narrow = plateau(y, begin_mm=HOLLOW_TREAD_MM[0], end_mm=HOLLOW_TREAD_MM[1], edge_mm=18.0)
    return wear.tread_mm * ((1.0 - wear.hollow) * wide + wear.hollow * narrow)


def _back(z: Floats) -> Floats:
    """Return how much of the back's wear reaches each height: check rails end above the tread."""
    return plateau(z, begin_mm=-21.0, end_mm=8.0, edge_mm=4.0)


def _lip(y: Floats) -> Floats:
    """Return how far each place is drawn outward by rolling, 0..1, largest at the rim face."""
    share = np.clip((y - (RIM_FACE_MM - 9.0)) / 9.0, 0.0, 1.0)
    return share**3
