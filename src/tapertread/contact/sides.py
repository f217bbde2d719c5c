"""One side made ready for the search: a wheel section hung over a rail section."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np

from tapertread.contact.records import GRID_MM, Floats, TrackShape, WheelsetShape
from tapertread.contact.sections import (
    Section,
    Z,
    flange_face_mm,
    rail_section,
    wheel_section,
)

FULL_SIZE_RADIUS_MM = 200.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Side:
    """One side in its own outward axes.

    Attributes
    ----------
    wheel, rail : Section
        Both on the same grid step.
    wheel_place_mm : float
        Outward place of the wheel's origin from the axle centre.
    radius_mm : float
        Rolling radius at the tape line.
    rail_shift_mm : float
        Outward place of the rail's origin from the track centre.
    arrays : tuple of ndarray
        The same, as the kernel wants it (see `_kernels.gaps`).
    """

    wheel: Section
    rail: Section
    wheel_place_mm: float
    radius_mm: float
    rail_shift_mm: float
    arrays: tuple[Floats, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Lay the arrays out once; many tables may be asked of one side."""
        object.__setattr__(self, "arrays", _kernel_arrays(self))


def _kernel_arrays(side: Side) -> tuple[Floats, ...]:
    wheel, rail = side.wheel, side.rail
    heights = wheel.rows[Z]
    nodes = wheel.first_mm + np.arange(heights.size) * wheel.step_mm
    lever = side.wheel_place_mm + nodes + heights * np.gradient(heights, wheel.step_mm)
    scene = np.array(
        [
            side.wheel_place_mm,
            side.radius_mm,
            wheel.first_mm,
            rail.first_mm + side.rail_shift_mm,
            wheel.step_mm,
        ]
    )
    return tuple(
        np.ascontiguousarray(part)
        for part in (
            heights,
            heights[::2],
            lever[::2],
            rail.rows[Z],
            rail.rows[Z, ::2],
            rail.rows[Z, 1::2],
            scene,
        )
    )


def fitting_grid_mm(wheelset: WheelsetShape) -> float:
    """Return the grid for wheels of this size: `GRID_MM`, and finer in proportion for models."""
    return GRID_MM * min(1.0, wheelset.mean_radius_mm / FULL_SIZE_RADIUS_MM)


def prepare(
    wheelset: WheelsetShape, track: TrackShape, *, yaw_rad: float, grid_mm: float
) -> tuple[Side, Side]:
    """Return right and left side made ready for the search, on one grid (mm)."""
    right, left = (
        _side(wheelset, track, right=right, yaw_rad=yaw_rad, grid_mm=grid_mm)
        for right in (True, False)
    )
    return right, left


def _side(
    wheelset: WheelsetShape, track: TrackShape, *, right: bool, yaw_rad: float, grid_mm: float
) -> Side:
    wheel = wheelset.right if right else wheelset.left
    rail = track.right if right else track.left
    radius = wheelset.right_radius_mm if right else wheelset.left_radius_mm
    rail_grid, gauge_point = rail_section(
        rail, inclination=track.inclination, gauge_rule=track.gauge_rule, step_mm=grid_mm
    )
    place = 0.5 * wheelset.back_to_back_mm + wheel.tape_line_mm
    return Side(
        wheel=wheel_section(wheel, radius_mm=radius, yaw_rad=yaw_rad, step_mm=grid_mm),
        rail=rail_grid,
        wheel_place_mm=place * math.cos(yaw_rad),
        radius_mm=radius,
        rail_shift_mm=0.5 * track.gauge_mm - gauge_point,
    )


def flange_spacing_mm(wheelset: WheelsetShape) -> float | None:
    """Return the distance between the flange faces 10 mm below the treads, mm.

    ``None`` where a wheel has no flange that deep.
    """
    left, right = flange_face_mm(wheelset.left), flange_face_mm(wheelset.right)
    if left is None or right is None:
        return None
    return wheelset.tape_circle_distance_mm + left + right
