"""Laying a measured rail outline onto the unworn parts of its design.

Wear only takes metal away, so a point inside the design may be worn while a point far outside is
noise or dirt: weights fall to zero sooner inward than outward. Gauss-Newton steps on the distances
along the normal lead from many rough placements, all at once and with few points, to a handful of
distinct ones. The one with which most unworn arc agrees and least metal stands out of the design is
then settled with every point.

Placements that are tried side by side are rows of an array, shape (k, 3): dy, dz (mm), turn (rad).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.fft import next_fast_len
from scipy.linalg import matmul_toeplitz

from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats
from tapertread.shapes.rails.datum import Match, Part, Points, match, unworn_parts

TURNS_RAD = np.radians(np.arange(-6.0, 6.1, 1.5))
LARGEST_TURN_RAD = float(np.radians(8.0))
"""A rail that leans more was not measured so; a worn face was taken for the flank."""

WORN_DOWN_MM = np.array([0.0, 4.0, 8.0, 12.0, 16.0])
HEAD_DEPTH_MM = 30.0
COARSE_STEP_MM, MOST_COARSE_POINTS = 1.2, 200
COARSE_CAPTURES_MM = (8.0, 5.0, 3.0)
CLOSER_CAPTURES_MM = (2.0, 1.5, 1.2, 1.0)
FINAL_CAPTURES_MM = (2.0, 1.5, 1.2, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0)
SAME_POSE_MM = 0.5
AGREES_MM = 0.2
STANDS_OUT_MM = 0.6
INWARD_CUT, OUTWARD_CUT = 4.0, 6.0
"""Distances, in scales, at which a point's weight reaches zero (Tukey's biweight)."""

LEAST_SCALE_MM = 0.02
SETTLED_MM = 1e-7
BIN_MM = 0.25
TURN_ARM_MM = 40.0
"""Half a rail head: makes a turn comparable with a shift."""

UNITS = np.array([1.0, 1.0, 1.0 / TURN_ARM_MM])
"""A millimetre of each movement."""

LEAST_HELD = 3
WEAKEST = 1e-6
"""Directions held by less than this share of what holds the best one count as held by nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A movement: turned about the origin (rad), then shifted (mm)."""

    dy_mm: float = 0.0
    dz_mm: float = 0.0
    turn_rad: float = 0.0

    @classmethod
    def from_row(cls, row: Floats) -> Pose:
        """Return the movement that a row of an array of placements holds."""
        dy, dz, turn = row.tolist()
        return cls(dy_mm=dy, dz_mm=dz, turn_rad=turn)

    @property
    def row(self) -> Floats:
        """The movement as one row of an array of placements, shape (1, 3)."""
        return np.array([[self.dy_mm, self.dz_mm, self.turn_rad]])

    def of(self, points: Points) -> Points:
        """Return the moved points."""
        return points.moved(self.dy_mm, self.dz_mm, turn_rad=self.turn_rad)


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """A placement on the unworn parts.

    Attributes
    ----------
    pose : Pose
    points : Points
        The moved points.
    matched : Match
    weight : ndarray, shape (n,)
        Weight of each point, mm of arc; 0 where it holds nothing.
    """

    pose: Pose
    points: Points
    matched: Match
    weight: Floats


def place(points: Points, design: Drawing, *, scale_mm: float) -> Fit | None:
    """Return the best placement on the unworn parts, or ``None`` where nothing of them is seen.

    Parameters
    ----------
    points : Points
        As in the file.
    design : Drawing
        The rail when new.
    scale_mm : float
        Scale of the noise, mm.
    """
    parts = unworn_parts(design)
    few = _few(points)
    tried = rough_placements(few, design)
    for capture in COARSE_CAPTURES_MM:
        tried = improved(tried, few, parts, capture_mm=capture, scale_mm=0.25 * capture)[0]
    tried = _distinct(_possible(tried))
    for capture in CLOSER_CAPTURES_MM:
        used = max(scale_mm, LEAST_SCALE_MM, 0.25 * capture)
        tried = improved(tried, few, parts, capture_mm=capture, scale_mm=used)[0]
    tried = _possible(tried)
    if not tried.size:
        return None
    best = Pose.from_row(tried[np.argmax(merits(tried, few, design))])
    fit = settle(best, points, parts, scale_mm=scale_mm)
    return fit if fit.weight.any() and abs(fit.pose.turn_rad) <= LARGEST_TURN_RAD else None


def _few(points: Points) -> Points:
    """Return as many of the points as it takes to tell rough placements apart."""
    step = max(float(np.median(np.diff(points.arc_mm))), 1e-3)
    return points.every(
        max(1, round(COARSE_STEP_MM / step), math.ceil(points.arc_mm.size / MOST_COARSE_POINTS))
    )


def rough_placements(points: Points, design: Drawing) -> Floats:
    """Return placements to start from, shape (k, 3): several turns, and depths of wear of the top.

    The field side of the head is set near the design's by the outermost point within 30 mm of the
    top; near fits pull it from there.
    """
    half_width = max(max(piece.start[0], piece.end[0]) for piece in design.pieces)
    turned = points.moved(0.0, 0.0, turn_rad=TURNS_RAD[:, None])
    top = turned.z_mm.max(axis=1, keepdims=True)
    head = turned.z_mm > top - HEAD_DEPTH_MM
    reach = np.where(head, turned.y_mm, -np.inf).max(axis=1, keepdims=True)
    columns = np.broadcast_arrays(half_width - reach, -top - WORN_DOWN_MM, TURNS_RAD[:, None])
    return np.stack(columns, axis=-1).reshape(-1, 3)


def _possible(poses: Floats) -> Floats:
    """Return the placements in which the rail does not lean too much."""
    return poses[np.abs(poses[:, 2]) <= LARGEST_TURN_RAD]


def _distinct(poses: Floats) -> Floats:
    """Return the placements that lie more than 0.5 mm, over a head, off every one before."""
    apart = np.abs((poses[:, None] - poses) / UNITS).sum(axis=-1)
    kept: list[int] = []
    for index, row in enumerate(apart):
        if (row[kept] > SAME_POSE_MM).all():
            kept.append(index)
    return poses[kept]


def laid(points: Points, poses: Floats) -> Points:
    """Return the points in each of several placements (k, 3), shape (k, n)."""
    dy, dz, turn = poses.T[:, :, None]
    return points.moved(dy, dz, turn_rad=turn)


def merits(poses: Floats, points: Points, design: Drawing) -> Floats:
    """Return, for each placement (k, 3), how well the unworn parts agree, shape (k,).

    That is the unworn arc (mm) that agrees, less twice the arc that stands out of the design.
    """
    moved = laid(points, poses)
    agrees = match(moved, unworn_parts(design), capture_mm=AGREES_MM).held
    nearest = design.project(moved.y_mm.ravel(), moved.z_mm.ravel())
    on_head = (nearest.arc_mm > 0.0) & (nearest.arc_mm < design.length_mm)
    stands_out = (on_head & (nearest.distance_mm > STANDS_OUT_MM)).reshape(agrees.shape)
    return np.asarray((agrees - 2.0 * stands_out) @ moved.share_mm)


def settle(
    pose: Pose,
    points: Points,
    parts: Sequence[Part],
    *,
    scale_mm: float,
    free: Sequence[int] = (0, 1, 2),
) -> Fit:
    """Return the placement after Gauss-Newton steps that ends where nothing moves any more.

    `free` lists the movements that may change: 0 dy, 1 dz, 2 turn.
    """
    scale = max(scale_mm, LEAST_SCALE_MM)
    row = pose.row
    for capture in itertools.chain(FINAL_CAPTURES_MM, itertools.repeat(1.0, 20)):
        used = max(scale, 0.25 * capture if capture > 1.0 else scale)
        row, by = improved(row, points, parts, capture_mm=capture, scale_mm=used, free=free)
        if capture <= 1.0 and by[0] < SETTLED_MM:
            break
    settled = Pose.from_row(row[0])
    moved = settled.of(points)
    matched = match(moved, parts, capture_mm=1.0)
    return Fit(pose=settled, points=moved, matched=matched, weight=weights(matched, moved, scale))


def improved(
    poses: Floats,
    points: Points,
    parts: Sequence[Part],
    *,
    capture_mm: float,
    scale_mm: float,
    free: Sequence[int] = (0, 1, 2),
) -> tuple[Floats, Floats]:
    """Return placements (k, 3) after one Gauss-Newton step, and how far (mm, (k,)) each moved.

    A direction that nothing holds keeps still, and so does a placement that meets hardly a part.
    """
    moved = laid(points, poses)
    matched = match(moved, parts, capture_mm=capture_mm)
    movements = list(free)
    columns = jacobian(matched, moved)[..., movements] * UNITS[movements]
    weighted = np.swapaxes(columns * weights(matched, moved, scale_mm)[..., None], -1, -2)
    follows = np.linalg.pinv(weighted @ columns, rcond=WEAKEST, hermitian=True)
    step = np.zeros(poses.shape)
    step[:, movements] = -(follows @ (weighted @ matched.outward_mm[..., None]))[..., 0]
    step[np.count_nonzero(matched.held, axis=-1) < LEAST_HELD] = 0.0
    return _then(poses, step * UNITS), np.abs(step).max(axis=-1)


def _then(poses: Floats, steps: Floats) -> Floats:
    """Return placements followed by small movements, both of shape (k, 3)."""
    dy, dz, turn = poses.T
    cos, sin = np.cos(steps[:, 2]), np.sin(steps[:, 2])
    turned = np.stack((dy * cos - dz * sin, dy * sin + dz * cos, turn), axis=-1)
    return turned + steps


def jacobian(matched: Match, points: Points) -> Floats:
    """Return how the outward distance of each point changes with dy, dz (mm) and turn (rad).

    The turn is about the design's origin; the shape of the points and three columns.
    """
    lever = matched.nz * points.y_mm - matched.ny * points.z_mm
    return np.stack((matched.ny, matched.nz, lever), axis=-1)


def weights(matched: Match, points: Points, scale_mm: float) -> Floats:
    """Return the weight of each point (mm of arc) by Tukey's biweight, one-sided as wear is."""
    cut = np.where(matched.outward_mm < 0.0, INWARD_CUT, OUTWARD_CUT) * scale_mm
    share = np.clip(matched.outward_mm / cut, -1.0, 1.0)
    return np.where(matched.held, (1.0 - share * share) ** 2 * points.share_mm, 0.0)


def influence(fit: Fit, *, free: Sequence[int] = (0, 1, 2)) -> Floats | None:
    """Return by how much the placement follows a displacement of each point along its normal.

    Shape (3, n): dy, dz (mm/mm) and turn (rad/mm); ``None`` where the free movements are not all
    held.
    """
    columns = jacobian(fit.matched, fit.points)[:, list(free)]
    normal = columns.T @ (fit.weight[:, None] * columns)
    scale = 1.0 / np.sqrt(np.maximum(np.diag(normal), 1e-30))
    scaled = normal * np.outer(scale, scale)
    if not fit.weight.any() or np.linalg.cond(scaled) > 1e10:
        return None
    follow = np.zeros((3, fit.weight.size))
    inverse = np.linalg.inv(scaled) * np.outer(scale, scale)
    follow[list(free)] = -inverse @ (columns * fit.weight[:, None]).T
    return follow


def spread(follow: Floats, points: Points, *, noise: Noise) -> Floats:
    """Return the covariance, shape (k, k), that noise causes in readings that follow it (k, n).

    Correlated parts are summed over even bins of arc, white ones point by point.
    """
    white = sum(part.variance_mm2 for part in noise.parts if part.length_mm <= 0.0)
    smooth = Noise(parts=tuple(part for part in noise.parts if part.length_mm > 0.0))
    covariance: Floats = white * (follow @ follow.T)
    if not smooth.parts:
        return covariance
    bins = np.round(points.arc_mm / BIN_MM).astype(np.intp)
    binned = np.stack([np.bincount(bins, row, minlength=bins[-1] + 1) for row in follow])
    count = binned.shape[1]
    lags = next_fast_len(2 * count - 1, real=True) - count + 1  # more than needed are quicker
    shares = smooth.covariance(BIN_MM * np.arange(lags, dtype=np.float64))
    return covariance + binned @ matmul_toeplitz((shares, shares[:count]), binned.T)[:count]
