"""Wear measures read off a true outline by plain geometry, apart from the room that gauges.

A true outline is dense, free of noise and in its design's axes, so that every measure is one
interpolation. Definitions as in the glossary [trade-practice].
"""

from __future__ import annotations

import math

import numpy as np

from tapertread.demo.rails import GAUGE_DEPTH_MM, half_width_mm, new_rail
from tapertread.shapes.outline import Floats, Outline
from tapertread.units import MM_PER_INCH

FLANGE_LEVEL_MM = 10.0
FLANGE_LEVEL_US_MM = 0.375 * MM_PER_INCH
BELOW_TIP_MM = 2.0
REGRESSION_MM = 2.5
FALLS_DEG = 135.0
"""A direction beyond this is a gentle fall, as past the flange tip, and no steep face."""

GAUGE_DEPTH_US_MM = 0.625 * MM_PER_INCH
RIM_FACE_MM = 65.0
FIELD_END_MM = 58.0
FACE_BAND_MM = (14.0, 19.0)


def wheel_measures(worn: Outline) -> dict[str, float]:
    """Return flange height, thickness, slope and angle, hollow, lip and tread loss (mm, deg).

    Thickness counts from the flange back as it was new, whatever check rails took from it since.
    """
    y, z = worn.y_mm, worn.z_mm
    tip = int(np.argmin(z))
    running_y, running_z = y[tip:], z[tip:]
    tread = float(np.interp(0.0, running_y, running_z))
    root = int(np.argmax(running_z > tread - 2.0))
    face_y, face_z = running_y[:root], running_z[:root]

    def on_face(level: float) -> float:
        return float(np.interp(level, face_z, face_y))

    at_10 = on_face(tread - FLANGE_LEVEL_MM)
    return {
        "flange_height_mm": tread - float(z[tip]),
        "flange_thickness_mm": at_10 + worn.tape_line_mm,
        "flange_thickness_us_mm": on_face(tread - FLANGE_LEVEL_US_MM) + worn.tape_line_mm,
        "flange_slope_mm": at_10 - on_face(float(z[tip]) + BELOW_TIP_MM),
        "flange_angle_deg": steepest_deg(face_y, face_z),
        "tread_hollow_mm": hollow_mm(running_y, running_z),
        "rolled_lip_mm": max(0.0, float(y.max()) - RIM_FACE_MM),
        "tread_loss_mm": tread,
    }


def hollow_mm(y: Floats, z: Floats) -> float:
    """Return the largest rise of radius from a place of the tread to one nearer the field, mm."""
    tread = (y > -35.0) & (y < FIELD_END_MM)
    return float(np.max(np.maximum.accumulate(z[tread]) - z[tread]))


def steepest_deg(y: Floats, z: Floats) -> float:
    """Return the steepest rise over 2.5 mm of arc by regression, degrees from the y axis."""
    arc = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(y), np.diff(z)))))
    last = int(np.searchsorted(arc, arc[-1] - REGRESSION_MM))
    ends = np.searchsorted(arc, arc[:last] + REGRESSION_MM)
    slopes = [slope_deg(y[i : j + 1], z[i : j + 1]) for i, j in enumerate(ends.tolist())]
    return max((one for one in slopes if one < FALLS_DEG), default=math.nan)


def slope_deg(y: Floats, z: Floats) -> float:
    """Return the direction of the line nearest to points (0..180 degrees from the y axis)."""
    dy, dz = y - y.mean(), z - z.mean()
    angle = 0.5 * math.atan2(2.0 * float(dy @ dz), float(dy @ dy - dz @ dz))
    return math.degrees(angle) % 180.0


def rail_measures(name: str, worn: Outline) -> dict[str, float]:
    """Return vertical, side, combined and 45° wear (mm), head area lost (%), face angle (deg)."""
    top = float(worn.z_mm.max())
    vertical = -float(np.interp(0.0, worn.y_mm[_crown(worn)], worn.z_mm[_crown(worn)]))
    side = face_mm(worn, level_mm=top - GAUGE_DEPTH_MM) + half_width_mm(name)
    new_us = half_width_mm(name, depth_mm=GAUGE_DEPTH_US_MM)
    new = new_rail(name)
    return {
        "vertical_wear_mm": vertical,
        "side_wear_mm": side,
        "side_wear_new_top_mm": face_mm(worn, level_mm=-GAUGE_DEPTH_MM) + half_width_mm(name),
        "side_wear_us_mm": face_mm(worn, level_mm=top - GAUGE_DEPTH_US_MM) + new_us,
        "combined_wear_mm": vertical + 0.5 * side,
        "wear_45_mm": _wear_45_mm(new, worn),
        "head_area_loss_percent": 100.0 * (1.0 - area_mm2(worn) / area_mm2(new)),
        "gauge_face_angle_deg": _face_deg(worn, top),
    }


def face_mm(worn: Outline, *, level_mm: float) -> float:
    """Return y (mm) of the gauge face at a level: its first crossing on the way up."""
    above = int(np.argmax(worn.z_mm >= level_mm))
    return float(
        np.interp(level_mm, worn.z_mm[above - 1 : above + 1], worn.y_mm[above - 1 : above + 1])
    )


def area_mm2(head: Outline) -> float:
    """Return the area of a head above the ends of its outline, closed by a straight line, mm²."""
    y, z = head.y_mm, head.z_mm
    return 0.5 * abs(float(np.sum(y * np.roll(z, -1) - np.roll(y, -1) * z)))


def _crown(worn: Outline) -> slice:
    """Return the part of a head over which y rises strictly, around its axis."""
    middle = np.flatnonzero(np.abs(worn.y_mm) < 12.0)
    return slice(int(middle[0]), int(middle[-1]) + 1)


def _face_deg(worn: Outline, top: float) -> float:
    depth = top - worn.z_mm
    on_face = (worn.y_mm < 0.0) & (depth >= FACE_BAND_MM[0]) & (depth <= FACE_BAND_MM[1])
    return slope_deg(worn.y_mm[on_face], worn.z_mm[on_face])


def _wear_45_mm(new: Outline, worn: Outline) -> float:
    """Return the distance (mm) along the 45° normal of the new gauge corner to the worn one."""
    corner = int(np.argmax(new.z_mm[: new.z_mm.argmax() + 1] - new.y_mm[: new.z_mm.argmax() + 1]))
    y, z = worn.y_mm - new.y_mm[corner], worn.z_mm - new.z_mm[corner]
    across, along = (y + z) / math.sqrt(2.0), (y - z) / math.sqrt(2.0)
    gauge_side = worn.y_mm < 15.0
    order = np.argsort(across[gauge_side], kind="stable")
    return float(np.interp(0.0, across[gauge_side][order], along[gauge_side][order]))
