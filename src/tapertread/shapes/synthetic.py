"""Spoiling an outline on purpose, with known truth: every way in which a device or a datum can lie.

Each takes an outline in its design's axes, gauge side first, and returns a spoiled one. All
chance comes from the generator given, so that every case can be made again. Tests and the invented
railway use them; nothing that measures does.
"""

from __future__ import annotations

from typing import Literal

import numpy as np
from numpy.random import Generator

from tapertread.shapes.cleaning.noise import Fall, correlation
from tapertread.shapes.cleaning.stylus import into_metal
from tapertread.shapes.outline import Floats, Outline

End = Literal["gauge", "field"]


def points_of(outline: Outline) -> Floats:
    """Return the points of an outline, shape (n, 2), mm."""
    return np.column_stack([outline.y_mm, outline.z_mm])


def displaced(outline: Outline, outward_mm: Floats) -> Outline:
    """Return the outline with each point moved out of the metal along the normal, mm, (n,)."""
    points = points_of(outline)
    normal = into_metal(points, kind=outline.kind)
    return outline.with_points(*(points - np.asarray(outward_mm)[:, None] * normal).T)


def correlated(
    arc_mm: Floats, rng: Generator, *, sigma_mm: float, length_mm: float, fall: Fall
) -> Floats:
    """Return normal noise at places along an arc whose correlation falls with distance, mm."""
    spread = correlation(np.subtract.outer(arc_mm, arc_mm), length_mm=length_mm, fall=fall)
    values, vectors = np.linalg.eigh(spread)
    chance = rng.standard_normal(arc_mm.size) * np.sqrt(np.clip(values, 0.0, None))
    return np.asarray(sigma_mm * (vectors @ chance))


def with_noise(
    outline: Outline,
    rng: Generator,
    *,
    sigma_mm: float,
    length_mm: float = 3.0,
    fall: Fall = "exponential",
) -> Outline:
    """Return the outline with noise along its normal that hangs together over a length, mm."""
    noise = correlated(outline.arc_mm, rng, sigma_mm=sigma_mm, length_mm=length_mm, fall=fall)
    return displaced(outline, noise)


def with_outliers(outline: Outline, rng: Generator, *, count: int, size_mm: float) -> Outline:
    """Return the outline with single points thrown off by `size_mm` in any direction."""
    points = points_of(outline)
    hit = rng.choice(points.shape[0], count, replace=False)
    way = rng.uniform(0.0, 2.0 * np.pi, count)
    points[hit] += size_mm * np.column_stack([np.cos(way), np.sin(way)])
    return outline.with_points(*points.T)


def with_gap(outline: Outline, *, at_mm: float, length_mm: float) -> Outline:
    """Return the outline without the points over a length of arc around a place of it, mm."""
    kept = np.abs(outline.arc_mm - at_mm) > 0.5 * length_mm
    return outline.with_points(outline.y_mm[kept], outline.z_mm[kept])


def shuffled(outline: Outline, rng: Generator) -> Outline:
    """Return the outline with its points in any order."""
    order = rng.permutation(outline.y_mm.size)
    return outline.with_points(outline.y_mm[order], outline.z_mm[order])


def with_glint(
    outline: Outline, rng: Generator, *, at_mm: float, length_mm: float, size_mm: float
) -> Outline:
    """Return the outline with points scattered outward, as a polished corner throws light back."""
    near = np.abs(outline.arc_mm - at_mm) < 0.5 * length_mm
    thrown = np.where(near, rng.uniform(0.3, 1.0, near.size) * size_mm, 0.0)
    return displaced(outline, thrown)


def with_grease(
    outline: Outline, *, at_mm: float, length_mm: float, thickness_mm: float
) -> Outline:
    """Return the outline with a soft layer on it over a length of arc, thickest in the middle."""
    return displaced(outline, thickness_mm * hump(outline.arc_mm, at_mm, half_mm=0.5 * length_mm))


def hump(place_mm: Floats, middle_mm: float, *, half_mm: float) -> Floats:
    """Return a raised cosine: 1 in the middle, 0 beyond the half width, smooth between."""
    share = np.clip(np.abs(place_mm - middle_mm) / half_mm, 0.0, 1.0)
    return np.asarray(0.5 * (1.0 + np.cos(np.pi * share)))


def with_ball(outline: Outline, *, radius_mm: float) -> Outline:
    """Return the path of a stylus ball's centre along the outline, mm."""
    return displaced(outline, np.full(outline.y_mm.size, radius_mm))


def not_square(outline: Outline, *, angle_rad: float) -> Outline:
    """Return the outline of a section that stands askew: stretched across by 1/cos."""
    return outline.with_points(outline.y_mm / np.cos(angle_rad), outline.z_mm)


def scaled(outline: Outline, *, factor: float) -> Outline:
    """Return the outline as a wrongly scaled device gives it."""
    return outline.with_points(outline.y_mm * factor, outline.z_mm * factor)


def mirrored(outline: Outline) -> Outline:
    """Return the outline with y the wrong way round."""
    return outline.with_points(-outline.y_mm, outline.z_mm)


def stitched(outline: Outline, *, at_mm: float, dy_mm: float, dz_mm: float) -> Outline:
    """Return the outline of two sensors of which the second, from a place on, is shifted, mm."""
    second = outline.arc_mm > at_mm
    return outline.with_points(outline.y_mm + dy_mm * second, outline.z_mm + dz_mm * second)


def with_straight_end(outline: Outline, *, end: End, length_mm: float) -> Outline:
    """Return the outline with its last length of arc replaced by a straight line, mm."""
    arc, points = outline.arc_mm, points_of(outline)
    made_up = arc < length_mm if end == "gauge" else arc > arc[-1] - length_mm
    known = np.flatnonzero(~made_up)
    near = known[:12] if end == "gauge" else known[-12:]
    for column in (0, 1):
        slope, level = np.polyfit(arc[near], points[near, column], 1)
        points[made_up, column] = level + slope * arc[made_up]
    return outline.with_points(*points.T)


def with_burr(outline: Outline, *, size_mm: float, length_mm: float = 4.0) -> Outline:
    """Return a wheel's outline whose rim edge is drawn outward over its last length of arc, mm."""
    left = np.clip(1.0 - (outline.arc_mm[-1] - outline.arc_mm) / length_mm, 0.0, 1.0)
    return outline.with_points(outline.y_mm + size_mm * left**2, outline.z_mm)


def with_loop(outline: Outline, *, at_mm: float, radius_mm: float) -> Outline:
    """Return the outline with a whole circle inserted at a place, so that it crosses itself, mm."""
    arc, points = outline.arc_mm, points_of(outline)
    at = int(np.searchsorted(arc, at_mm))
    along = points[at + 1] - points[at]
    start = np.arctan2(along[1], along[0]) - 0.5 * np.pi
    turn = start + np.linspace(0.0, 2.0 * np.pi * 1.1, max(12, round(30.0 * radius_mm)))
    middle = points[at] - radius_mm * np.array([np.cos(start), np.sin(start)])
    circle = middle + radius_mm * np.column_stack([np.cos(turn), np.sin(turn)])
    return outline.with_points(*np.vstack([points[:at], circle, points[at + 1 :]]).T)
