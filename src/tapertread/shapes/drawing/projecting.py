"""The nearest places of a chain of pieces to points, with signed distances."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tapertread.shapes.drawing.pieces import Foot, Piece
from tapertread.shapes.outline import Floats

Indices = NDArray[np.intp]

_MEETING_MM = 0.5
"""Gap up to which neighbours share a corner, mm; anchors, which lie apart, share none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Projection:
    """The nearest places of a drawing to some points.

    Attributes
    ----------
    arc_mm : ndarray, shape (n,)
        Arc length of the nearest place, mm; 0 or the whole length for points beyond the ends.
    distance_mm : ndarray, shape (n,)
        Distance, mm, > 0 outside the metal.
    piece : ndarray of int, shape (n,)
        Index of the piece.
    """

    arc_mm: Floats
    distance_mm: Floats
    piece: Indices


def project_on(
    pieces: Sequence[Piece], y_mm: ArrayLike, z_mm: ArrayLike, *, convex_turn: float
) -> Projection:
    """Return the nearest places of pieces laid end to end."""
    y = np.atleast_1d(np.asarray(y_mm, dtype=np.float64))
    z = np.atleast_1d(np.asarray(z_mm, dtype=np.float64))
    feet = [piece.nearest(y, z) for piece in pieces]
    away = np.array([foot.dy_mm**2 + foot.dz_mm**2 for foot in feet])
    best = away.argmin(axis=0)
    each = np.arange(y.size)
    arc, dy, dz, ty, tz = (np.array(rows)[best, each] for rows in zip(*feet, strict=True))
    lengths = np.array([piece.length_mm for piece in pieces])
    ty, tz = _bisected(pieces, lengths, best, Foot(arc, dy, dz, ty, tz))
    starts = np.concatenate(([0.0], np.cumsum(lengths)))[:-1]
    return Projection(
        arc_mm=arc + starts[best],
        distance_mm=np.copysign(np.hypot(dy, dz), -convex_turn * (ty * dz - tz * dy)),
        piece=best,
    )


def _bisected(
    pieces: Sequence[Piece], lengths: Floats, best: Indices, foot: Foot
) -> tuple[Floats, Floats]:
    """Return the tangents that tell inside from outside: at a corner, of both pieces together."""
    ty, tz = foot.ty, foot.tz
    at_start, at_end = foot.arc_mm <= 0.0, foot.arc_mm >= lengths[best]
    for number, (before, after) in enumerate(pairwise(pieces)):
        corner = (at_end & (best == number)) | (at_start & (best == number + 1))
        if corner.any() and math.dist(before.end, after.start) < _MEETING_MM:
            last = before.tangent_rad(np.array([before.length_mm]))[0]
            first = after.tangent_rad(np.zeros(1))[0]
            ty[corner] = np.cos(last) + np.cos(first)
            tz[corner] = np.sin(last) + np.sin(first)
    return ty, tz
