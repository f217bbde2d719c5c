"""Laying a measured rail outline onto the unworn parts of its design.

Wear only takes metal away, so a point inside the design may be worn while a point far outside is
noise or dirt: weights fall to zero sooner inward than outward. From many rough placements the one
is kept from which most unworn arc agrees and least metal stands out of the design; from there
Gauss-Newton steps on the distances along the normal settle the rest.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tapertread.shapes.datum_rail import Match, Part, Points, match, unworn_parts
from tapertread.shapes.drawing import Drawing
from tapertread.shapes.noise import Noise
from tapertread.shapes.outline import Floats

TURNS_RAD = np.radians(np.arange(-6.0, 6.1, 1.5))
LARGEST_TURN_RAD = float(np.radians(8.0))
"""A rail that leans more was not measured so; a worn face was taken for the flank."""

WORN_DOWN_MM = (0.0, 4.0, 8.0, 12.0, 16.0)
HEAD_DEPTH_MM = 30.0
COARSE_STEP_MM = 1.2
COARSE_CAPTURES_MM = (8.0, 5.0, 3.0)
FINAL_CAPTURES_MM = (2.0, 1.5, 1.2, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0)
KEPT_STARTS, SAME_POSE_MM = 4, 0.5
AGREES_MM = 0.2
STANDS_OUT_MM = 0.6
INWARD_CUT, OUTWARD_CUT = 4.0, 6.0
"""Distances, in scales, at which a point's weight reaches zero (Tukey's biweight)."""

LEAST_SCALE_MM = 0.02
SETTLED_MM = 1e-9
BIN_MM, TAIL_LENGTHS = 0.25, 7.0
TURN_ARM_MM = 40.0
"""Half a rail head: makes a turn comparable with a shift."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Pose:
    """A movement: turned about the origin (rad), then shifted (mm)."""

    dy_mm: float = 0.0
    dz_mm: float = 0.0
    turn_rad: float = 0.0

    def of(self, points: Points) -> Points:
        """Return the moved points."""
        return points.moved(self.dy_mm, self.dz_mm, turn_rad=self.turn_rad)

    def then(self, step: Floats) -> Pose:
        """Return this movement followed by a small one (dy mm, dz mm, turn rad)."""
        cos, sin = np.cos(step[2]), np.sin(step[2])
        return Pose(
            dy_mm=float(self.dy_mm * cos - self.dz_mm * sin + step[0]),
            dz_mm=float(self.dy_mm * sin + self.dz_mm * cos + step[1]),
            turn_rad=float(self.turn_rad + step[2]),
        )


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


def rough_poses(points: Points, *, turns_rad: Floats = TURNS_RAD) -> list[Pose]:
    """Return placements to start from: several turns, and several depths of wear of the top.

    The field side of the head is set near the design's field side by the outermost point within
    30 mm of the top; `near` fits pull it from there.
    """
    poses = []
    for turn in turns_rad.tolist():
        turned = points.moved(0.0, 0.0, turn_rad=turn)
        top = float(turned.z_mm.max())
        head = turned.z_mm > top - HEAD_DEPTH_MM
        reach = float(turned.y_mm[head].max())
        poses += [Pose(dy_mm=-reach, dz_mm=-top - worn, turn_rad=turn) for worn in WORN_DOWN_MM]
    return poses


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
    stride = max(1, round(COARSE_STEP_MM / max(float(np.median(np.diff(points.arc_mm))), 1e-3)))
    few = points.every(stride)
    half_width = max(max(piece.start[0], piece.end[0]) for piece in design.pieces)
    ranked = []
    for start in rough_poses(few):
        pose = start.then(np.array([half_width, 0.0, 0.0]))
        for capture in COARSE_CAPTURES_MM:
            pose = improved(pose, few, parts, capture_mm=capture, scale_mm=0.25 * capture)[0]
        if abs(pose.turn_rad) <= LARGEST_TURN_RAD:
            ranked.append((merit(pose, few, design), pose))
    ranked.sort(key=lambda entry: -entry[0])
    kept = _distinct([pose for _, pose in ranked])[:KEPT_STARTS]
    settled = (settle(pose, points, parts, scale_mm=scale_mm) for pose in kept)
    fits = [fit for fit in settled if abs(fit.pose.turn_rad) <= LARGEST_TURN_RAD]
    best = max(fits, key=lambda fit: merit(fit.pose, few, design), default=None)
    return best if best is not None and best.weight.any() else None


def _distinct(poses: Sequence[Pose]) -> list[Pose]:
    """Return the poses that lie more than 0.5 mm, over a head, off every one before."""
    kept: list[Pose] = []
    for one in poses:
        apart = (
            abs(one.dy_mm - other.dy_mm)
            + abs(one.dz_mm - other.dz_mm)
            + abs(one.turn_rad - other.turn_rad) * TURN_ARM_MM
            for other in kept
        )
        if all(distance > SAME_POSE_MM for distance in apart):
            kept.append(one)
    return kept


def merit(pose: Pose, points: Points, design: Drawing) -> float:
    """Return the unworn arc (mm) that agrees, less twice the arc that stands out of the design."""
    moved = pose.of(points)
    matched = match(moved, unworn_parts(design), capture_mm=AGREES_MM)
    nearest = design.project(moved.y_mm, moved.z_mm)
    on_head = (nearest.arc_mm > 0.0) & (nearest.arc_mm < design.length_mm)
    stands_out = on_head & (nearest.distance_mm > STANDS_OUT_MM)
    return float(moved.share_mm[matched.held].sum() - 2.0 * moved.share_mm[stands_out].sum())


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
    for capture in itertools.chain(FINAL_CAPTURES_MM, itertools.repeat(1.0, 20)):
        used = max(scale, 0.25 * capture if capture > 1.0 else scale)
        pose, moved_by = improved(pose, points, parts, capture_mm=capture, scale_mm=used, free=free)
        if capture <= 1.0 and moved_by < SETTLED_MM:
            break
    moved = pose.of(points)
    matched = match(moved, parts, capture_mm=1.0)
    return Fit(pose=pose, points=moved, matched=matched, weight=weights(matched, moved, scale))


def improved(
    pose: Pose,
    points: Points,
    parts: Sequence[Part],
    *,
    capture_mm: float,
    scale_mm: float,
    free: Sequence[int] = (0, 1, 2),
) -> tuple[Pose, float]:
    """Return the pose after one Gauss-Newton step, and how far (mm) it moved the head."""
    moved = pose.of(points)
    matched = match(moved, parts, capture_mm=capture_mm)
    held = matched.held
    if not free or np.count_nonzero(held) < 3:
        return pose, 0.0
    columns = jacobian(matched, moved)[held][:, list(free)]
    scales = np.array([1.0, 1.0, 1.0 / TURN_ARM_MM])[list(free)]
    weight = np.sqrt(weights(matched, moved, scale_mm)[held])
    step = np.zeros(3)
    # A direction that nothing holds keeps still: small singular values are left out.
    solved = np.linalg.lstsq(
        columns * scales * weight[:, None], -matched.outward_mm[held] * weight, rcond=1e-3
    )[0]
    step[list(free)] = solved * scales
    return pose.then(step), float(np.abs(step * (1.0, 1.0, TURN_ARM_MM)).max())


def jacobian(matched: Match, points: Points) -> Floats:
    """Return how the outward distance of each point changes with dy, dz (mm) and turn (rad).

    The turn is about the design's origin; shape (n, 3).
    """
    lever = matched.nz * points.y_mm - matched.ny * points.z_mm
    return np.stack((matched.ny, matched.nz, lever), axis=1)


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
    """Return the covariance, shape (3, 3), of the placement that correlated noise causes.

    Correlated parts are summed over even bins of arc, white ones point by point.
    """
    white = sum(part.variance_mm2 for part in noise.parts if part.length_mm <= 0.0)
    smooth = Noise(parts=tuple(part for part in noise.parts if part.length_mm > 0.0))
    covariance: Floats = white * (follow @ follow.T)
    if not smooth.parts:
        return covariance
    bins = np.round(points.arc_mm / BIN_MM).astype(np.intp)
    binned = np.stack([np.bincount(bins, row, minlength=bins[-1] + 1) for row in follow])
    longest = TAIL_LENGTHS * max(part.length_mm for part in smooth.parts)
    lags = min(binned.shape[1], 1 + round(longest / BIN_MM))
    shares = smooth.covariance(BIN_MM * np.arange(lags))
    covariance = covariance + shares[0] * (binned @ binned.T)
    for lag in range(1, lags):
        overlap = binned[:, lag:] @ binned[:, :-lag].T
        covariance += shares[lag] * (overlap + overlap.T)
    return covariance
