"""Finding single points and small clusters that do not belong to the curve.

A point is suspect where it stands off the chord of its neighbours. A suspect is an outlier only if
the curve continued from its left, from its right and from both sides all miss it: corners, steps
and ends are foretold from one side at least, and stay.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import maximum_filter1d, median_filter
from scipy.sparse.csgraph import connected_components
from scipy.spatial import KDTree

from tapertread.shapes.outline import Floats

LEAST_MM = 0.12
"""Points nearer than this to what their neighbours foretell are never called outliers."""

LEAST_DETOUR_MM = 0.4
"""A point that lies on the curve, but out of turn, makes the path run on and back."""

SPREADS = 6.0
SCATTER_POINTS, LEAST_SCATTER_MM = 7, 0.08
SIDE = 7
PASSES = 12
LEAST_ARC_MM, LEAST_ARC_POINTS, NEAREST = 3.0, 12, 6
NEIGHBOURS_WITHIN, LEAST_STEP_MM = 3.5, 0.1
KEPT_ALONG = 0.5
LONELY_POINTS, LONELY_STEPS, LEAST_LEAP_MM = 3, 4.0, 0.5


def find_outliers(points: Floats) -> NDArray[np.bool_]:
    """Return which of the ordered points (n, 2; mm) are outliers, shape (n,)."""
    kept = np.flatnonzero(~_scattered(points))
    for _ in range(PASSES):
        if kept.size <= 2 * SIDE + 4:
            break
        bad = _worst_suspects(points[kept])
        if not bad.size:
            break
        kept = np.delete(kept, bad)
    kept = kept[~_scattered(points[kept])]
    kept = kept[~_lonely_ends(points[kept])]
    outlier = np.ones(points.shape[0], dtype=bool)
    outlier[kept] = False
    return outlier


def _lonely_ends(points: Floats) -> NDArray[np.bool_]:
    """Return which points lie beyond a leap just before an end: too few to be metal.

    A stray that flies on in the direction of the last piece looks like its continuation.
    """
    steps = np.hypot(*np.diff(points, axis=0).T)
    lonely = np.zeros(points.shape[0], dtype=bool)
    if steps.size < 4 * LONELY_POINTS:
        return lonely
    leap = steps > max(LONELY_STEPS * float(np.median(steps)), LEAST_LEAP_MM)
    first, last = np.flatnonzero(leap[:LONELY_POINTS]), np.flatnonzero(leap[-LONELY_POINTS:])
    if first.size:
        lonely[: first[-1] + 1] = True
    if last.size:
        lonely[-(LONELY_POINTS - last[0]) :] = True
    return lonely


def second_arc(points: Floats, outlier: NDArray[np.bool_]) -> Floats | None:
    """Return outliers that lie on a clean arc beside the rest of the curve, shape (k, 2), mm.

    A curve that runs back over itself, or two curves in one file, make points stand off their
    neighbours in turn though each lies on metal. Outliers of a device scatter; these do not.
    One clean arc with nothing kept along it is metal that strays took with them.
    """
    at = np.flatnonzero(outlier)
    if at.size < LEAST_ARC_POINTS:
        return None
    step = float(np.median(np.hypot(*np.diff(points, axis=0).T)[~outlier[1:]]))
    tree = KDTree(points[at])
    near = tree.sparse_distance_matrix(tree, NEIGHBOURS_WITHIN * max(step, LEAST_STEP_MM))
    count, label = connected_components(near, directed=False)
    arcs = [run for one in range(count) if _is_arc(points[run := at[label == one]])]
    if len(arcs) > 1:
        return np.asarray(points[np.concatenate(arcs)])
    for run in arcs:
        kept_along = int(np.count_nonzero(~outlier[run[0] : run[-1] + 1]))
        if kept_along > KEPT_ALONG * run.size:
            return np.asarray(points[run])
    return None


def _is_arc(points: Floats) -> bool:
    """Return whether points lie close to one another along a line, over more than 3 mm."""
    if points.shape[0] < LEAST_ARC_POINTS or np.ptp(points, axis=0).max() <= LEAST_ARC_MM:
        return False
    near = points[np.asarray(KDTree(points).query(points, k=NEAREST)[1])]
    across = np.linalg.svd(near - near.mean(axis=1, keepdims=True), compute_uv=False)[:, 1]
    return float(np.median(across)) < LEAST_SCATTER_MM * float(np.sqrt(NEAREST))


def _scattered(points: Floats) -> NDArray[np.bool_]:
    """Return which points stand in a stretch that scatters far more than the rest, as glint does.

    Of such a stretch nothing is kept: which of its points are true, nobody can tell.
    """
    offset = chord_offsets(points)
    near = median_filter(offset, size=SCATTER_POINTS, mode="nearest")
    rough = near > max(LEAST_SCATTER_MM, SPREADS * float(np.median(offset)))
    if not rough.any():
        return rough
    return np.asarray(maximum_filter1d(rough, size=SCATTER_POINTS, mode="constant"))


def chord_offsets(points: Floats) -> Floats:
    """Return how far each inner point stands off the chord of its neighbours (mm), ends 0."""
    chord = points[2:] - points[:-2]
    length = np.maximum(np.hypot(*chord.T), 1e-12)
    rest = points[1:-1] - points[:-2]
    offset = np.zeros(points.shape[0])
    offset[1:-1] = np.abs(chord[:, 0] * rest[:, 1] - chord[:, 1] * rest[:, 0]) / length
    along = np.einsum("ij,ij->i", chord, rest) / length
    beyond = np.maximum(np.maximum(-along, along - length), 0.0)
    offset[1:-1] = np.hypot(offset[1:-1], beyond)
    offset[0], offset[-1] = _end_offset(points[:5]), _end_offset(points[:-6:-1])
    return offset


def _end_offset(five: Floats) -> float:
    """Return how far the first of five points is from the line of the other four, mm."""
    along = five[1] - five[4]
    along /= max(float(np.hypot(*along)), 1e-12)
    miss = five[0] - five[1:].mean(axis=0)
    return abs(float(miss[0] * along[1] - miss[1] * along[0]))


def _worst_suspects(points: Floats) -> NDArray[np.intp]:
    """Return the outliers that stand out most among their neighbours, by index."""
    offset = chord_offsets(points)
    limit = max(LEAST_MM, SPREADS * 1.4826 * float(np.median(offset)))
    suspects = np.flatnonzero(maximum_filter1d(offset > 0.6 * limit, size=3, mode="constant"))
    if not suspects.size:
        return suspects
    miss = np.zeros(points.shape[0])
    miss[suspects] = np.maximum(least_miss(points, suspects), _out_of_turn(points)[suspects])
    around = np.lib.stride_tricks.sliding_window_view(np.pad(miss, 2), 5).max(axis=1)
    return np.flatnonzero((miss > limit) & (miss >= around))


def _out_of_turn(points: Floats) -> Floats:
    """Return by how much (mm) each point makes the path run on and back again; 0 if hardly."""
    step = np.hypot(*np.diff(points, axis=0).T)
    detour = np.zeros(points.shape[0])
    detour[1:-1] = 0.5 * (step[:-1] + step[1:] - np.hypot(*(points[2:] - points[:-2]).T))
    detour[detour < max(LEAST_DETOUR_MM, 1.2 * float(np.median(step)))] = 0.0
    return detour


def least_miss(points: Floats, suspects: NDArray[np.intp]) -> Floats:
    """Return the least distance (mm) between suspects and what either side foretells of them.

    The nearest unsuspected points on the left, on the right and on both sides each continue as a
    parabola along their own line; a side that the outline does not have foretells nothing.
    """
    good = np.delete(np.arange(points.shape[0]), suspects)
    place = np.searchsorted(good, suspects)
    left, right = np.arange(-SIDE, 0), np.arange(SIDE)
    sides = (left, right[::-1], np.r_[left[-4:], right[:4]])
    misses = [_miss(points, suspects, good=good, window=place[:, None] + side) for side in sides]
    return np.asarray(np.min(misses, axis=0))


def _miss(
    points: Floats, at: NDArray[np.intp], *, good: NDArray[np.intp], window: NDArray[np.intp]
) -> Floats:
    whole = (window >= 0).all(axis=1) & (window < good.size).all(axis=1)
    miss = np.full(at.size, np.inf)
    if whole.any():
        miss[whole] = _off_parabola(points[good[window[whole]]], points[at[whole]])
    return miss


def _off_parabola(others: Floats, point: Floats) -> Floats:
    """Return how far points (k, 2) lie off the parabolas through their others (k, m, 2), mm."""
    along = others[:, -1] - others[:, 0]
    reach = np.maximum(np.hypot(*along.T), 1e-9)
    along /= reach[:, None]
    rest, target = others - others[:, :1], point - others[:, 0]
    across = np.column_stack([-along[:, 1], along[:, 0]])
    x = np.einsum("kmi,ki->km", rest, along) / reach[:, None]
    v = np.einsum("kmi,ki->km", rest, across)
    at = np.einsum("ki,ki->k", target, along) / reach
    coefficients = _robust_parabola(x, v)
    foretold = np.einsum("ki,ki->k", coefficients, at[:, None] ** np.arange(3))
    return np.asarray(np.abs(np.einsum("ki,ki->k", target, across) - foretold))


def _robust_parabola(x: Floats, v: Floats) -> Floats:
    """Return parabolas (k, 3) through values (k, m), once more without what then stands out."""
    design = x[:, :, None] ** np.arange(3)
    found = _weighted(design, v, np.ones_like(v))
    miss = np.abs(v - np.einsum("kmi,ki->km", design, found))
    typical = np.maximum(np.median(miss, axis=1, keepdims=True), 1e-6)
    return _weighted(design, v, np.where(miss > 3.0 * typical, 1e-4, 1.0))


def _weighted(design: Floats, values: Floats, weights: Floats) -> Floats:
    normal = np.einsum("km,kmi,kmj->kij", weights, design, design) + 1e-9 * np.eye(3)
    right = np.einsum("km,kmi,km->ki", weights, design, values)
    return np.asarray(np.linalg.solve(normal, right[:, :, None])[:, :, 0])
