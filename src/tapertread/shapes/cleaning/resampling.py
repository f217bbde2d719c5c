"""Even steps of arc: gaps found and bridged, dense points averaged, the way between drawn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import Akima1DInterpolator

from tapertread.shapes.outline import Floats

LEAST_GAP_MM = 1.5
GAP_STEPS = 6.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Gap:
    """A stretch without points, bridged: where it begins and ends (y, z; mm) and how long it is."""

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]

    @property
    def length_mm(self) -> float:
        """Straight distance across, mm."""
        return float(np.hypot(self.to_mm[0] - self.from_mm[0], self.to_mm[1] - self.from_mm[1]))


def find_gaps(points: Floats, *, spacing_mm: float) -> tuple[Gap, ...]:
    """Return the stretches between ordered points (n, 2) far longer than their spacing (mm)."""
    step = np.hypot(*np.diff(points, axis=0).T)
    wide = np.flatnonzero(step > max(LEAST_GAP_MM, GAP_STEPS * spacing_mm))
    return tuple(
        Gap(from_mm=(float(a[0]), float(a[1])), to_mm=(float(b[0]), float(b[1])))
        for a, b in zip(points[wide], points[wide + 1], strict=True)
    )


def resample(points: Floats, *, step_mm: float, spacing_mm: float) -> Floats:
    """Return ordered points (n, 2) at even steps of arc (mm).

    Points denser than half a step are averaged first; the way between is Akima's, which neither
    rings at corners nor cuts them.
    """
    arc = _calm_arc(points, spacing_mm=spacing_mm)
    cell = np.floor(arc / (0.5 * step_mm)).astype(np.intp)
    label = np.concatenate(([0], np.cumsum(np.diff(cell) > 0)))
    count = np.bincount(label)
    knots = np.bincount(label, arc) / count
    values = np.column_stack([np.bincount(label, c) / count for c in points.T])
    size = max(4, round(float(knots[-1] - knots[0]) / step_mm) + 1)
    at = np.linspace(knots[0], knots[-1], size)
    return np.asarray(Akima1DInterpolator(knots, values)(at))


def _calm_arc(points: Floats, *, spacing_mm: float) -> Floats:
    """Return arc length along the points averaged over about 1 mm, strictly rising, mm."""
    half = min(6, round(0.5 / max(spacing_mm, 1e-3)))
    calm = points
    if half:
        padded = np.pad(points, ((half, half), (0, 0)), mode="reflect", reflect_type="odd")
        total = np.cumsum(np.vstack([np.zeros((1, 2)), padded]), axis=0)
        calm = (total[2 * half + 1 :] - total[: -2 * half - 1]) / (2 * half + 1)
        far = np.hypot(*(calm - points).T) > 0.3
        calm[far] = points[far]
    step = np.hypot(*np.diff(calm, axis=0).T)
    return np.concatenate(([0.0], np.cumsum(np.maximum(step, 1e-6))))


def bridged_points(points: Floats, *, gaps: tuple[Gap, ...]) -> NDArray[np.bool_]:
    """Return which points (n, 2) of a resampled curve stand in a gap."""
    inside = np.zeros(points.shape[0], dtype=bool)
    for gap in gaps:
        first, last = (
            int(np.argmin(np.hypot(*(points - np.array(end)).T)))
            for end in (gap.from_mm, gap.to_mm)
        )
        inside[min(first, last) + 1 : max(first, last)] = True
    return inside
