"""Shapes of the contact tests: circles and cones whose contact has a closed form, and worn ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pytest

from tapertread.contact import TrackShape, WheelsetShape
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline

GAUGE_DEPTH_MM = 14.0


@dataclass(frozen=True, kw_only=True)
class Shapes:
    """Makers of outlines and pairings; lengths mm, angles rad."""

    spacing_mm: float = 0.1

    def cone(self, angle_rad: float, *, half_width_mm: float = 60.0) -> Outline:
        """Return a wheel that is a cone without a flange."""
        y = np.arange(-half_width_mm, half_width_mm + 1e-9, self.spacing_mm)
        return Outline(kind="wheel", y_mm=y, z_mm=y * np.tan(angle_rad))

    def arc_wheel(
        self, radius_mm: float, angle_rad: float, *, half_width_mm: float = 40.0
    ) -> Outline:
        """Return a hollow wheel: a circle through the origin with this slope there."""
        y = np.arange(-half_width_mm, half_width_mm + 1e-9, self.spacing_mm)
        y = y[np.abs(y - radius_mm * np.sin(angle_rad)) < 0.99 * radius_mm]
        drop = np.sqrt(radius_mm**2 - (y - radius_mm * np.sin(angle_rad)) ** 2)
        return Outline(kind="wheel", y_mm=y, z_mm=drop - radius_mm * np.cos(angle_rad))

    def round_rail(self, radius_mm: float) -> Outline:
        """Return a rail that is a circle about (0, -radius), deep enough to take its gauge."""
        reach = np.arccos(1.0 - min(GAUGE_DEPTH_MM + 2.0, radius_mm) / radius_mm)
        angle = np.linspace(-reach, reach, int(2.0 * reach * radius_mm / self.spacing_mm) + 1)
        return Outline(
            kind="rail", y_mm=radius_mm * np.sin(angle), z_mm=radius_mm * (np.cos(angle) - 1.0)
        )

    def round_track(
        self, radius_mm: float, angle_rad: float, *, half_spacing_mm: float
    ) -> TrackShape:
        """Return round rails on which wheels of this angle stand at this half contact spacing."""
        rail = self.round_rail(radius_mm)
        depth = min(GAUGE_DEPTH_MM, radius_mm)
        gauge_point = -np.sqrt(radius_mm**2 - (radius_mm - depth) ** 2)
        axis = half_spacing_mm + radius_mm * np.sin(angle_rad)
        return TrackShape(
            left=rail, right=rail, gauge_mm=float(2.0 * (axis + gauge_point)), inclination=0.0
        )

    def wheelset(
        self,
        right: Outline | str,
        left: Outline | str | None = None,
        *,
        radius_mm: float = 460.0,
        right_larger_mm: float = 0.0,
        tape_circle_mm: float = 1500.0,
    ) -> WheelsetShape:
        """Return a wheelset; names are those of designs."""
        right = design(right) if isinstance(right, str) else right
        left = right if left is None else design(left) if isinstance(left, str) else left
        return WheelsetShape(
            left=left,
            right=right,
            left_radius_mm=radius_mm,
            right_radius_mm=radius_mm + right_larger_mm,
            back_to_back_mm=tape_circle_mm - left.tape_line_mm - right.tape_line_mm,
        )

    def track(
        self, right: Outline | str, left: Outline | str | None = None, **options: Any
    ) -> TrackShape:
        """Return a track; options as in `TrackShape`."""
        right = design(right) if isinstance(right, str) else right
        left = right if left is None else design(left) if isinstance(left, str) else left
        return TrackShape(left=left, right=right, **options)

    def worn(
        self, outline: Outline, *, seed: int, wear_mm: float, shortest_mm: float = 6.0
    ) -> Outline:
        """Return an outline with smooth random wear, waves no shorter than `shortest_mm`."""
        random = np.random.default_rng(seed)
        rate, start = (
            random.uniform(0.0, 1.0 / shortest_mm, 12),
            random.uniform(0.0, 2.0 * np.pi, 12),
        )
        waves = np.cos(2.0 * np.pi * rate * outline.y_mm[:, None] + start).sum(axis=1) / np.sqrt(
            6.0
        )
        return outline.with_points(outline.y_mm, outline.z_mm + wear_mm * waves)


@pytest.fixture(scope="session")
def shapes() -> Shapes:
    return Shapes()


@pytest.fixture(scope="session")
def fine_shapes() -> Callable[[float], Shapes]:
    """Return a maker of shapes with another spacing of points (mm)."""
    return lambda spacing_mm: Shapes(spacing_mm=spacing_mm)
