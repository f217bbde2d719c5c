"""Worn rails whose truth is known, built by an independent polygon library."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import pytest
from shapely import Polygon, box

from tapertread.shapes.designs import design_drawing
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Origin, Outline

Extent = Literal["head", "head and web", "whole"]
HEAD_DEPTH_MM = 37.3
FAR_MM = 400.0
HALF_WIDTH_14_MM = 35.9815
"""Of a new 60E1, 14 mm below its top: [stock-profile-reconstruction]."""


@dataclass(frozen=True, kw_only=True)
class WornRail:
    """A worn 60E1: what the polygons say about it."""

    outline: Outline
    vertical_mm: float
    side_at_new_top_mm: float
    face_deg: float
    head_worn: Polygon
    head_new: Polygon

    @property
    def side_at_worn_top_mm(self) -> float:
        """Side wear 14 mm below the worn top by the closed form."""
        lean = 1.0 / np.tan(np.radians(self.face_deg))
        return self.side_at_new_top_mm - self.vertical_mm * float(lean)

    @property
    def area_loss_percent(self) -> float:
        """Share of the head area lost above 37.3 mm."""
        return 100.0 * (1.0 - self.head_worn.area / self.head_new.area)


@pytest.fixture(scope="session")
def rail_60e1() -> Drawing:
    return design_drawing("60E1")


@pytest.fixture(scope="session")
def worn_rail(rail_60e1: Drawing) -> Callable[..., WornRail]:
    """Return a function that wears a 60E1 by a lowered crown and a straight worn face."""
    new = rail_60e1.outline(0.02)
    section = _section(new.y_mm, new.z_mm)

    def wear(
        *,
        vertical_mm: float = 0.0,
        side_mm: float = 0.0,
        face_deg: float = 70.0,
        extent: Extent = "whole",
        step_mm: float = 0.2,
    ) -> WornRail:
        left = section
        if vertical_mm > 0.0:
            left = left.intersection(_below_crown(vertical_mm))
        if side_mm > 0.0:
            left = left.intersection(_field_of_face(side_mm - HALF_WIDTH_14_MM, face_deg))
        head = box(-FAR_MM, -HEAD_DEPTH_MM, FAR_MM, FAR_MM)
        return WornRail(
            outline=_walked(left, extent=extent, step_mm=step_mm),
            vertical_mm=vertical_mm,
            side_at_new_top_mm=side_mm,
            face_deg=face_deg,
            head_worn=left.intersection(head),
            head_new=section.intersection(head),
        )

    return wear


def _section(y: np.ndarray, z: np.ndarray) -> Polygon:
    """Return a whole section: the head of the drawing, a web and a foot of the verified sizes."""
    below = [(8.25, -60.0), (8.25, -140.0), (75.0, -160.0), (75.0, -172.0)]
    field = list(zip(y, z, strict=True)) + below
    return Polygon(field + [(0.0, -172.0)] + [(-one, other) for one, other in reversed(below)])


def _below_crown(vertical_mm: float) -> Polygon:
    """Return everything below the 300 mm crown lowered by the vertical wear."""
    y = np.linspace(-120.0, 120.0, 24001)
    crown = -vertical_mm - 300.0 + np.sqrt(300.0**2 - y * y)
    return Polygon([(-120.0, -FAR_MM), *zip(y, crown, strict=True), (120.0, -FAR_MM)])


def _field_of_face(face_y_at_14_mm: float, face_deg: float) -> Polygon:
    """Return everything on the field side of a worn face through a place 14 mm below the top."""
    up = np.array([np.cos(np.radians(face_deg)), np.sin(np.radians(face_deg))])
    through = np.array([face_y_at_14_mm, -14.0])
    corners = [through - FAR_MM * up, through + FAR_MM * up]
    outward = FAR_MM * 2.0 * np.array([up[1], -up[0]])
    return Polygon([*corners, corners[1] + outward, corners[0] + outward])


def _walked(section: Polygon, *, extent: Extent, step_mm: float) -> Outline:
    """Return the section's edge from gauge side to field side, as far down as is measured."""
    ring = np.array(section.exterior.coords)[:-1]
    if section.exterior.is_ccw:
        ring = ring[::-1]
    middle_of_foot = int(np.argmin(ring[:, 1] + 1e-3 * np.abs(ring[:, 0])))
    ring = np.roll(ring, -middle_of_foot, axis=0)
    ring = np.vstack((ring, ring[:1])) if extent == "whole" else ring
    lowest = {"head": -HEAD_DEPTH_MM + 0.3, "head and web": -125.0, "whole": -FAR_MM}[extent]
    dense = _even(ring, 0.5 * step_mm)
    kept = np.flatnonzero(dense[:, 1] >= lowest)
    run = dense[kept[0] : kept[-1] + 1]
    # The rail lies on its foot: devices leave the middle of the underside out.
    run = run[(run[:, 1] > -170.0) | (np.abs(run[:, 0]) > 5.0)]
    points = _even(run, step_mm)
    return Outline(
        kind="rail", y_mm=points[:, 0], z_mm=points[:, 1], origin=Origin(name="worn 60E1")
    )


def _even(points: np.ndarray, step_mm: float) -> np.ndarray:
    """Return points along the edge at most a step apart, every corner kept."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    pieces = [
        np.linspace(a, b, max(2, int(np.ceil(step / step_mm)) + 1))[:-1]
        for a, b, step in zip(points[:-1], points[1:], steps, strict=True)
        if step > 1e-9
    ]
    return _thinned(np.vstack((*pieces, points[-1:])), step_mm)


def _thinned(points: np.ndarray, step_mm: float) -> np.ndarray:
    """Drop points closer than half a step to the one kept before, as a device would."""
    kept = [0]
    arc = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))))
    for index in range(1, len(arc)):
        if arc[index] - arc[kept[-1]] >= 0.5 * step_mm or index == len(arc) - 1:
            kept.append(index)
    return points[kept]


@pytest.fixture(scope="session")
def with_rail_noise() -> Callable[..., Outline]:
    """Return a function that displaces an outline along its normal by correlated noise."""

    def displace(
        outline: Outline, *, seed: int, sigma_mm: float, length_mm: float = 3.0
    ) -> Outline:
        rng = np.random.default_rng(seed)
        arc = outline.arc_mm
        # First-order autoregression at uneven steps: correlation exp(-distance/length) exactly.
        noise = np.empty(arc.size)
        noise[0] = rng.standard_normal()
        keep = np.exp(-np.diff(arc) / length_mm)
        for index, share in enumerate(keep):
            noise[index + 1] = share * noise[index] + np.sqrt(1.0 - share**2) * (
                rng.standard_normal()
            )
        ty, tz = np.gradient(outline.y_mm, arc), np.gradient(outline.z_mm, arc)
        size = np.hypot(ty, tz)
        return replace(
            outline,
            y_mm=outline.y_mm - sigma_mm * noise * tz / size,
            z_mm=outline.z_mm + sigma_mm * noise * ty / size,
        )

    return displace
