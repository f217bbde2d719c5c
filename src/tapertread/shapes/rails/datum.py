"""The parts of a rail that wheels do not wear, and how a measured outline lies to them.

These are the anchors of a drawing (web sides, foot underside, underside of the head) and the field
flank: where the head's own curve, on the field side, stands steeper than 45°. The flank of a
European rail is almost one straight line, 1:20 from upright; only the piece of corner above it
says how high the rail stands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from tapertread.shapes.drawing.curve import Anchor, Drawing
from tapertread.shapes.drawing.pieces import Piece
from tapertread.shapes.outline import Floats

Flags = NDArray[np.bool_]
Indices = NDArray[np.intp]

FIELD_FLANK = "field flank"
STEEPEST_NORMAL = float(np.sqrt(0.5))
"""The field flank ends where its normal has risen to 45° above the horizontal."""

SAME_WAY = float(np.cos(np.radians(25.0)))
CHORD_HALF_MM = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One unworn part of a design.

    Attributes
    ----------
    name : str
    pieces : tuple of Piece
        Walked with the metal on the right, as an outline is from gauge side to field side.
    steep_only : bool
        Whether only places count whose normal lies within 45° of the horizontal.
    """

    name: str
    pieces: tuple[Piece, ...]
    steep_only: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Points:
    """Points of an outline with their unit tangents, arc lengths and share of the arc.

    Attributes
    ----------
    y_mm, z_mm, ty, tz : ndarray, shape (n,) or (k, n)
        The points once, or in each of `k` placements.
    arc_mm, share_mm : ndarray, shape (n,)
    """

    y_mm: Floats
    z_mm: Floats
    ty: Floats
    tz: Floats
    arc_mm: Floats
    share_mm: Floats

    def moved(
        self, dy_mm: float | Floats, dz_mm: float | Floats, *, turn_rad: float | Floats
    ) -> Points:
        """Return the points turned about the origin (rad), then shifted (mm).

        Movements of shape (k, 1) give the points in `k` placements.
        """
        cos, sin = np.cos(turn_rad), np.sin(turn_rad)
        return Points(
            y_mm=self.y_mm * cos - self.z_mm * sin + dy_mm,
            z_mm=self.y_mm * sin + self.z_mm * cos + dz_mm,
            ty=self.ty * cos - self.tz * sin,
            tz=self.ty * sin + self.tz * cos,
            arc_mm=self.arc_mm,
            share_mm=self.share_mm,
        )

    def every(self, stride: int) -> Points:
        """Return every `stride`-th point, standing for as many."""
        pick = slice(None, None, stride)
        return Points(
            y_mm=self.y_mm[pick],
            z_mm=self.z_mm[pick],
            ty=self.ty[pick],
            tz=self.tz[pick],
            arc_mm=self.arc_mm[pick],
            share_mm=self.share_mm[pick] * stride,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Match:
    """How points lie to the unworn parts.

    Attributes
    ----------
    part : ndarray of int, shape of the points
        Index of the part a point belongs to, -1 for none.
    outward_mm : ndarray, likewise
        Distance along the design's outward normal, > 0 outside the metal; 0 where there is none.
    ny, nz : ndarray, likewise
        Outward unit normal of the design there.
    """

    part: Indices
    outward_mm: Floats
    ny: Floats
    nz: Floats

    @property
    def held(self) -> Flags:
        """Which points belong to a part."""
        return self.part >= 0


@lru_cache(maxsize=32)
def _known_parts(pieces: tuple[Piece, ...], anchors: tuple[Anchor, ...]) -> tuple[Part, ...]:
    """Return the unworn parts of a drawing; every outline of a line asks for the same few."""
    by_name: dict[str, tuple[Piece, ...]] = {}
    for anchor in anchors:
        by_name[anchor.name] = (*by_name.get(anchor.name, ()), anchor.piece)
    parts = [Part(name=name, pieces=owned) for name, owned in by_name.items()]
    field = tuple(piece for piece in pieces if _stands_on_the_field_side(piece))
    return (*parts, Part(name=FIELD_FLANK, pieces=field, steep_only=True))


def unworn_parts(design: Drawing) -> tuple[Part, ...]:
    """Return the unworn parts of a rail's drawing: its anchors by name, then the field flank."""
    return _known_parts(design.pieces, design.anchors)


def _stands_on_the_field_side(piece: Piece) -> bool:
    """Return whether any place of a piece is as steep as the field flank must be."""
    at = np.linspace(0.0, piece.length_mm, 33)
    steep = -np.sin(piece.tangent_rad(at)) >= STEEPEST_NORMAL
    return bool((steep & (piece.point(at)[0] > 0.0)).any())


def points_of(y_mm: Floats, z_mm: Floats) -> Points:
    """Return the points (mm) with tangents by the chord over ±1 mm of arc."""
    steps = np.hypot(np.diff(y_mm), np.diff(z_mm))
    arc = np.concatenate(([0.0], np.cumsum(steps)))
    back, ahead = arc - CHORD_HALF_MM, arc + CHORD_HALF_MM
    ty = np.interp(ahead, arc, y_mm) - np.interp(back, arc, y_mm)
    tz = np.interp(ahead, arc, z_mm) - np.interp(back, arc, z_mm)
    length = np.maximum(np.hypot(ty, tz), 1e-12)
    ends = np.concatenate(([0.0], np.minimum(steps, CHORD_HALF_MM), [0.0]))
    return Points(
        y_mm=y_mm,
        z_mm=z_mm,
        ty=ty / length,
        tz=tz / length,
        arc_mm=arc,
        share_mm=0.5 * (ends[:-1] + ends[1:]),
    )


def match(points: Points, parts: Sequence[Part], *, capture_mm: float) -> Match:
    """Return for each point the part within `capture_mm` that runs the same way, if there is one.

    Points whose foot falls on the end of a piece belong to none: beyond the end nothing is known.
    """
    shape = points.y_mm.shape
    part, outward = np.full(shape, -1, dtype=np.intp), np.zeros(shape)
    ny, nz, nearest = np.zeros(shape), np.ones(shape), np.full(shape, capture_mm)
    for index, one in enumerate(parts):
        for piece in one.pieces:
            inside, left, ty, tz = piece.facing(points.y_mm, points.z_mm)
            away = np.abs(left)
            take = inside & (away <= nearest) & (points.ty * ty + points.tz * tz >= SAME_WAY)
            if one.steep_only:
                take &= np.less_equal(tz, -STEEPEST_NORMAL)
            part[take] = index
            for kept, found in ((outward, left), (nearest, away), (ny, np.negative(tz)), (nz, ty)):
                np.copyto(kept, found, where=take)
    return Match(part=part, outward_mm=outward, ny=ny, nz=nz)
