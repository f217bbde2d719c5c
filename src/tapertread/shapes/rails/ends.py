"""Ends of a rail outline that run straighter than the device could have measured them.

A flank is drawn straight, and an outline computed from a drawing has no scatter anywhere: there a
straight end tells nothing, whatever noise the bends of the curve seem to have.
"""

from __future__ import annotations

import math

import numpy as np

from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.outline import Floats
from tapertread.shapes.traps import Trap

END_MM, TOO_STRAIGHT_MM, TOO_STRAIGHT_SHARE = 8.0, 0.0005, 0.05
"""Over 8 mm the noise of a device bends any end by more than half the last digit of its file."""

LAG_MM, LEAST_SCATTER_MM = 0.8, 0.002


def end_traps(cleaned: Cleaned) -> tuple[Trap, ...]:
    """Return ends that run straighter than the noise of the device allows: made up, or smoothed."""
    points = np.column_stack((cleaned.sampled.y_mm, cleaned.sampled.z_mm))
    arc = cleaned.sampled.arc_mm
    if _scatter_mm(points, arc) < LEAST_SCATTER_MM:
        return ()
    too_straight = min(TOO_STRAIGHT_MM, TOO_STRAIGHT_SHARE * cleaned.noise_mm)
    traps = []
    for word, end in (("gauge", arc < END_MM), ("field", arc > arc[-1] - END_MM)):
        off = np.linalg.svd(points[end] - points[end].mean(axis=0), compute_uv=False)[1]
        scatter = float(off) / math.sqrt(np.count_nonzero(end))
        if scatter < too_straight:
            found = (
                f"the last {END_MM:g} mm on the {word} side lie on one straight line within "
                f"{scatter:.4f} mm, where the noise is {cleaned.noise_mm:.3f} mm"
            )
            traps.append(Trap(name="smoothed-or-extrapolated-end", severity="mark", found=found))
    return tuple(traps)


def _scatter_mm(points: Floats, arc: Floats) -> float:
    """Return how far points usually scatter, by fourth differences: no smooth curve has any, mm."""
    inner = points[(arc > END_MM) & (arc < arc[-1] - END_MM)]
    lag = max(1, round(LAG_MM / float(np.median(np.diff(arc)))))
    if inner.shape[0] <= 4 * lag:
        return 0.0
    fourth = sum(
        weight * inner[k * lag : inner.shape[0] - (4 - k) * lag]
        for k, weight in enumerate((1.0, -4.0, 6.0, -4.0, 1.0))
    )
    return float(np.median(np.hypot(*np.asarray(fourth).T))) / math.sqrt(70.0)
