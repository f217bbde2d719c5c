"""Whether an outline crosses itself."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from tapertread.shapes.outline import Floats

LEAST_LOOP_MM = 1.0
"""Smaller loops are noise, not a fault of the outline."""


def loops_mm(points: Floats, *, least_mm: float = LEAST_LOOP_MM) -> list[tuple[float, float]]:
    """Return where a curve (n, 2; even steps, mm) crosses itself: arc of both passes, mm.

    Only loops of more than `least_mm` of arc count.
    """
    step = np.hypot(*np.diff(points, axis=0).T)
    arc = np.concatenate(([0.0], np.cumsum(step)))
    middle = 0.5 * (points[1:] + points[:-1])
    pairs = KDTree(middle).query_pairs(float(step.max()) * 1.001, output_type="ndarray")
    far = np.abs(arc[pairs[:, 0]] - arc[pairs[:, 1]]) > least_mm
    first, second = np.sort(pairs[far], axis=1).T
    crossing = _cross(points, first=first, second=second)
    found = zip(arc[first[crossing]], arc[second[crossing]], strict=True)
    return [(float(one), float(other)) for one, other in found]


def _cross(
    points: Floats, *, first: NDArray[np.intp], second: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Return whether the segments that begin at two sets of points properly cross."""
    a, b, c, d = points[first], points[first + 1], points[second], points[second + 1]
    splits_second = _turn(a, b, c) * _turn(a, b, d) < 0.0
    splits_first = _turn(c, d, a) * _turn(c, d, b) < 0.0
    return np.asarray(splits_second & splits_first)


def _turn(a: Floats, b: Floats, c: Floats) -> Floats:
    u, v = b - a, c - a
    return np.asarray(u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0])
