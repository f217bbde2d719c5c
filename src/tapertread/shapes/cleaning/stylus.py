"""Taking the ball of a stylus off: what was recorded is its centre, one radius off the metal."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tapertread.shapes.outline import Floats, Kind


def tangents(points: Floats) -> Floats:
    """Return unit tangents of a curve (n, 2), shape (n, 2)."""
    step = np.gradient(points, axis=0)
    return np.asarray(step / np.maximum(np.hypot(*step.T), 1e-12)[:, None])


def into_metal(points: Floats, *, kind: Kind) -> Floats:
    """Return unit normals into the metal of a curve run from gauge to field side, shape (n, 2).

    Metal lies to the left of a wheel's curve and to the right of a rail's.
    """
    along = tangents(points)
    left = np.column_stack([-along[:, 1], along[:, 0]])
    return left if kind == "wheel" else -left


def without_ball(
    points: Floats, *, radius_mm: float, kind: Kind
) -> tuple[NDArray[np.bool_], Floats]:
    """Return which points of a ball's centre curve (n, 2) touched metal, and the metal there, mm.

    Where the ball is too large for a hollow of the metal its centre turns on the spot and the
    offset curve runs back; that part is dropped, for the ball never touched there.
    """
    moved = points + radius_mm * into_metal(points, kind=kind)
    ahead = np.einsum("ij,ij->i", np.diff(moved, axis=0), np.diff(points, axis=0)) > 0.0
    kept = np.concatenate(([True], ahead)) & np.concatenate((ahead, [True]))
    return kept, np.asarray(moved[kept])
