"""Faults on the surface of a wheel's outline: steps, scatter, layers, made-up ends, rolled rims."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import KDTree

from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.cleaning.smoothing import find_corners
from tapertread.shapes.outline import Floats, Outline
from tapertread.shapes.wheels.datum import WORN, WheelDatum
from tapertread.shapes.wheels.fit import Pose
from tapertread.shapes.wheels.readings import Running

SIDE_MM, NEAR_SIDE_MM, SKIP_MM = 1.2, 0.5, 0.2
SHARPNESS = 0.7
LEAST_STEP_MM, STEP_SPREADS = 0.15, 6.0
GLINT_OFF_MM = 0.15
GLINT_POINTS, GLINT_REACH_MM, GLINT_UP_TO_MM = 4, 8.0, -15.0
LEAST_LAYER_MM, LAYER_SPREADS, LAYER_ARC_MM = 0.2, 5.0, 2.0
LEAST_POCKET_MM = 0.4
"""Worn faces may have a shallow hollow of their own above the tip [trade-practice]."""

FACE_ABOVE_TIP_MM, FACE_BELOW_TREAD_MM = 3.0, 13.0
END_MM, TOO_SMOOTH, LEAST_SCATTER_MM = 3.0, 0.08, 0.004


@dataclass(frozen=True, slots=True, kw_only=True)
class Found:
    """A fault of the surface: size and place (y, z), all mm."""

    size_mm: float
    y_mm: float
    z_mm: float


def find_step(cleaned: Cleaned, *, aligned: Outline) -> Found | None:
    """Return the largest step across the curve that noise does not explain, in design axes.

    At each place the means over 1.2 mm on either side are compared, less what the slopes beyond
    them foretell. Over 0.5 mm a step is as high, while a kink or a tight bend has almost gone.
    Corners, gaps and ends are left out. `aligned` gives the place.
    """
    points = _points(cleaned)
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    skip = max(1, round(max(SKIP_MM, 0.5 * cleaned.spacing_mm) / step))
    wide, near = (max(2, round(side / step)) for side in (SIDE_MM, NEAR_SIDE_MM))
    far = _jumps(points, side=wide, skip=skip)
    close = _jumps(points, side=near, skip=skip)
    inner = _open_places(cleaned, points, reach=2 * wide + skip, step_mm=step)
    if inner.sum() < 20:
        return None
    jump = np.where(far * close > 0.0, np.minimum(np.abs(far), np.abs(close) / SHARPNESS), 0.0)
    usual = 1.4826 * float(np.median(np.abs(far[inner])))
    at = int(np.argmax(np.where(inner, jump, 0.0)))
    if jump[at] < max(LEAST_STEP_MM, STEP_SPREADS * usual):
        return None
    y, z = float(aligned.y_mm[at]), float(aligned.z_mm[at])
    return Found(size_mm=abs(float(far[at])), y_mm=y, z_mm=z)


def _open_places(
    cleaned: Cleaned, points: Floats, *, reach: int, step_mm: float
) -> NDArray[np.bool_]:
    """Return where a step can be looked for: away from ends, corners and gaps."""
    use = np.ones(points.shape[0], dtype=bool)
    use[:reach], use[-reach:] = False, False
    for corner in find_corners(points, step_mm=step_mm):
        use[max(0, corner - reach) : corner + reach] = False
    return use & ~_near(cleaned.bridged, reach)


def _jumps(points: Floats, *, side: int, skip: int) -> Floats:
    """Return `step_across` at every point, 0 near the ends."""
    reach = 2 * side + skip
    jumps = np.zeros(points.shape[0])
    inner = step_across(points, side=side, skip=skip)
    jumps[reach : reach + inner.size] = inner
    return jumps


def step_across(points: Floats, *, side: int, skip: int) -> Floats:
    """Return the step across a curve (n, 2) at its inner points, mm; zero on lines and circles.

    Four means over `side` points lie along the curve, `skip` points left out in the middle; the
    outer two tell the direction.
    """
    total = np.cumsum(np.vstack([np.zeros((1, 2)), points]), axis=0)
    mean = (total[side:] - total[:-side]) / side
    count = points.shape[0] - 2 * (2 * side + skip)
    starts = (0, side, 2 * (side + skip), 3 * side + 2 * skip)
    outer_left, left, right, outer_right = (mean[start : start + count] for start in starts)
    along = (left - outer_left) + (outer_right - right)
    along = along / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
    across = right - left
    return np.asarray(along[:, 0] * across[:, 1] - along[:, 1] * across[:, 0])


def find_glint(cleaned: Cleaned, pose: Pose, *, running: Running) -> Found | None:
    """Return the largest cluster of strays round flange and root, where polish throws light.

    Points left out only because they stood among strays, on the curve, do not count.
    """
    strays = pose.of(cleaned.strays)
    strays = strays[strays[:, 0] < GLINT_UP_TO_MM]
    if strays.shape[0] < GLINT_POINTS:
        return None
    apart, nearest = (np.asarray(one) for one in KDTree(running.points).query(strays))
    beyond_back = running.arc_mm[nearest] > running.arc_mm[running.lowest] - GLINT_REACH_MM
    off = (apart > GLINT_OFF_MM) & beyond_back
    arc = running.arc_mm[nearest[off]]
    crowd = (np.abs(np.subtract.outer(arc, arc)) < 0.5 * GLINT_REACH_MM).sum(axis=1)
    if not crowd.size or crowd.max() < GLINT_POINTS:
        return None
    at = int(np.argmax(crowd))
    size = float(apart[off][np.abs(arc - arc[at]) < 0.5 * GLINT_REACH_MM].max())
    y, z = strays[off][at]
    return Found(size_mm=size, y_mm=float(y), z_mm=float(z))


def find_layer(running: Running, datum: WheelDatum, *, noise_mm: float) -> Found | None:
    """Return what stands on the flange face or root: beyond the new design, or as a bump.

    A worn face is straight or convex from the tip up to 12 mm under the tread: a pocket between it
    and its hull shows a layer, as grease is.
    """
    for found, least_mm in (
        (_beyond_new(running, datum), LEAST_LAYER_MM),
        (_pocket(running), LEAST_POCKET_MM),
    ):
        if found is not None and found.size_mm >= max(least_mm, LAYER_SPREADS * noise_mm):
            return found
    return None


def _beyond_new(running: Running, datum: WheelDatum) -> Found | None:
    """Return where, over 2 mm of arc, face or root stand out farthest of the new design."""
    tape = running.tape()
    points = running.points
    if tape is None:
        return None
    flank = np.arange(points.shape[0]) > running.lowest
    flank &= points[:, 0] < GLINT_UP_TO_MM
    matched = datum.match(points[flank])
    out = np.where(matched.part == WORN, matched.outward_mm, -np.inf)
    size = max(1, round(LAYER_ARC_MM / float(np.median(np.diff(running.arc_mm)))))
    if out.size <= size:
        return None
    steady = np.lib.stride_tricks.sliding_window_view(out, size).min(axis=1)
    at = int(np.argmax(steady))
    if not np.isfinite(steady[at]):
        return None
    y, z = points[flank][at]
    return Found(size_mm=float(out[at : at + size].max()), y_mm=float(y), z_mm=float(z))


def _pocket(running: Running) -> Found | None:
    """Return the deepest pocket between the flange face and its convex hull."""
    tape, tip = running.tape(), running.tip()
    if tape is None or tip is None:
        return None
    low = running.on_face(tip.z_mm + FACE_ABOVE_TIP_MM)
    high = running.on_face(tape.z_mm - FACE_BELOW_TREAD_MM)
    if low is None or high is None or high.index - low.index < 10:
        return None
    points = running.points[low.index : high.index + 1]
    corners = hull_of(points)
    depth = np.zeros(points.shape[0])
    for first, last in pairwise(corners):
        chord = points[last] - points[first]
        rest = points[first : last + 1] - points[first]
        across = chord[0] * rest[:, 1] - chord[1] * rest[:, 0]
        depth[first : last + 1] = across / max(float(np.hypot(*chord)), 1e-9)
    at = int(np.argmax(depth))
    y, z = points[at]
    return Found(size_mm=float(depth[at]), y_mm=float(y), z_mm=float(z))


def hull_of(points: Floats) -> list[int]:
    """Return the indices of a chain's points that its convex hull on the right-hand side keeps."""
    kept: list[int] = []
    rows = points.tolist()
    for index, (y, z) in enumerate(rows):
        while len(kept) >= 2:
            (y0, z0), (y1, z1) = rows[kept[-2]], rows[kept[-1]]
            if (y1 - y0) * (z - z0) - (z1 - z0) * (y - y0) > 0.0:
                break
            kept.pop()
        kept.append(index)
    return kept


def find_made_up_ends(cleaned: Cleaned) -> tuple[tuple[str, float], ...]:
    """Return the ends (``gauge``, ``field``) that scatter far less than the rest, with the share.

    Scatter is that of fourth differences of neighbouring measured points, over 3 mm of arc.
    """
    points = _points(cleaned)
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    lag = max(1, round(max(0.4, cleaned.spacing_mm) / step))
    off = np.hypot(*_fourth(points, lag).T)
    size = max(8, round(END_MM / step))
    if off.size < 6 * size:
        return ()
    blocks = off[: off.size // size * size].reshape(-1, size)
    scatter = np.median(blocks, axis=1)
    usual = float(np.median(scatter[1:-1]))
    if usual < LEAST_SCATTER_MM:
        return ()
    shares = (("gauge", np.median(off[:size]) / usual), ("field", np.median(off[-size:]) / usual))
    return tuple((end, float(share)) for end, share in shares if share < TOO_SMOOTH)


def _fourth(points: Floats, lag: int) -> Floats:
    last = points.shape[0] - 4 * lag
    at = [points[k * lag : k * lag + last] for k in range(5)]
    return np.asarray(at[0] - 4.0 * at[1] + 6.0 * at[2] - 4.0 * at[3] + at[4])


def _near(flags: NDArray[np.bool_], reach: int) -> NDArray[np.bool_]:
    """Return which places have a marked one within reach."""
    padded = np.pad(flags, reach)
    return np.asarray(np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1).any(axis=1))


def _points(cleaned: Cleaned) -> Floats:
    return np.column_stack([cleaned.sampled.y_mm, cleaned.sampled.z_mm])
