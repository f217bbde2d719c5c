"""How a rail of the invented railway wears: side, top, flattened and crushed crown, shoulder, lip.

Worn rails keep the design's upright axes. The gauge side has negative y.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import numpy as np

from tapertread.demo.planing import Cap, plateau, rounded_max, rounded_min
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Floats, Outline

POINTS_MM = 0.1
GRID_MM = 0.01
GAUGE_DEPTH_MM = 14.0
ROUNDED_MM = 0.6
STONES_AT_MM = (-32.0, -30.0, -28.0, -25.0, -20.0, -15.0, -8.0, 0.0, 8.0, 15.0, 18.0, 22.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RailWear:
    """What a rail has lost, and how.

    Attributes
    ----------
    top_mm : float
        Depth worn off the running band, on the axis.
    band_mm : tuple of float
        Where the band begins and ends.
    side_mm : float
        Depth cut into the gauge face, 14 mm below the new top.
    face_deg : float
        Slope of the cut face from the horizontal.
    corner_mm : float
        Radius of the corner between cut face and top.
    flat_mm : float
        Depth to which a flat band is pressed into the crown.
    flat_slope : float
        Slope of that flat, > 0 where it falls to the field.
    lip_mm : float
        Metal pushed out over the gauge face.
    field_lip_mm : float
        Metal pushed out over the field flank.
    tip_mm : float
        How deep below the top the flange tips reach.
    """

    top_mm: float = 0.0
    band_mm: tuple[float, float] = (-24.0, 22.0)
    side_mm: float = 0.0
    face_deg: float = 84.0
    corner_mm: float = 13.0
    flat_mm: float = 0.0
    flat_slope: float = 0.0
    lip_mm: float = 0.0
    field_lip_mm: float = 0.0
    tip_mm: float = 29.0


@cache
def new_rail(name: str) -> Outline:
    """Return the outline of a rail design's head with points every 0.1 mm."""
    return design(name, step_mm=POINTS_MM)


def worn_rail(name: str, wear: RailWear) -> Outline:
    """Return the outline of a worn head in its design's upright axes, points every 0.1 mm."""
    grid, z = _fresh(name)
    z = z - wear.top_mm * plateau(
        grid, begin_mm=wear.band_mm[0], end_mm=wear.band_mm[1], edge_mm=16.0
    )
    if wear.flat_mm > 0.0:
        flat = -wear.flat_mm - wear.flat_slope * grid
        z = rounded_min(z, flat, reach_mm=0.15)
    if wear.side_mm > 0.0:
        path = _flange_path_mm(name, grid, wear)
        z = rounded_min(z, path, reach_mm=min(ROUNDED_MM, wear.side_mm))
    return _lipped(new_rail(name).with_points(grid, z).resampled(POINTS_MM), wear)


def ground_rail(name: str, worn: Outline, *, depth_mm: float) -> Outline:
    """Return a head ground toward its design's crown, `depth_mm` below the worn axis (mm).

    Each stone works a flat facet; where it would have to add metal the worn shape stays.
    """
    grid, fresh = _fresh(name)
    worn_z = np.interp(grid, *_single_valued(worn))
    level = float(np.interp(0.0, grid, worn_z)) - depth_mm
    at = np.array(STONES_AT_MM)
    height = np.interp(at, grid, fresh)
    slope = (np.interp(at + 0.05, grid, fresh) - np.interp(at - 0.05, grid, fresh)) / 0.1
    facets = height[:, None] + slope[:, None] * (grid[None, :] - at[:, None])
    stones = np.min(facets, axis=0) + level
    return new_rail(name).with_points(grid, np.minimum(worn_z, stones)).resampled(POINTS_MM)


@cache
def _fresh(name: str) -> tuple[Floats, Floats]:
    new = new_rail(name)
    last = float(new.y_mm[-1])
    grid = np.append(np.arange(new.y_mm[0], last, GRID_MM), last)
    return grid, np.interp(grid, new.y_mm, new.z_mm)


def _single_valued(outline: Outline) -> tuple[Floats, Floats]:
    """Return the outline's points with y never falling, which lips would make it do."""
    return np.maximum.accumulate(outline.y_mm), outline.z_mm


def half_width_mm(name: str, *, depth_mm: float = GAUGE_DEPTH_MM) -> float:
    """Return how far the new gauge face lies from the axis at a depth below the top, mm."""
    new = new_rail(name)
    crown = int(np.argmax(new.z_mm))
    return -float(np.interp(-depth_mm, new.z_mm[: crown + 1], new.y_mm[: crown + 1]))


def _flange_path_mm(name: str, grid: Floats, wear: RailWear) -> Floats:
    """Return the lowest places that the flanges swept, mm, at each y."""
    cap = Cap(
        face_y_mm=wear.side_mm - half_width_mm(name),
        face_z_mm=-GAUGE_DEPTH_MM,
        face_deg=wear.face_deg,
        top_mm=0.4 - wear.top_mm,
        top_slope=0.02,
        radius_mm=wear.corner_mm,
    )
    tips = np.full(grid.shape, -wear.tip_mm)
    return rounded_max(cap.height_mm(grid), tips, reach_mm=4.0)


def _lipped(outline: Outline, wear: RailWear) -> Outline:
    if wear.lip_mm == 0.0 and wear.field_lip_mm == 0.0:
        return outline
    y, z = outline.y_mm, outline.z_mm
    gauge = np.where(y < 0.0, _bulge(z, at_mm=-13.0, long_mm=5.0), 0.0)
    field = np.where(y > 0.0, _bulge(z, at_mm=-11.0, long_mm=6.0), 0.0)
    pushed = y - wear.lip_mm * gauge + wear.field_lip_mm * field
    return outline.with_points(pushed, z).resampled(POINTS_MM)


def _bulge(z: Floats, *, at_mm: float, long_mm: float) -> Floats:
    """Return a smooth bulge of height 1 and of finite reach around a height."""
    share = np.clip(np.abs(z - at_mm) / long_mm, 0.0, 1.0)
    return (1.0 - share * share) ** 2
