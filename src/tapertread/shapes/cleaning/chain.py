"""From the points a device wrote to a curve that can be measured, with a record of what was done.

The chain: duplicates, unit, order, outliers, gaps, even arc length, kind, noise, smoothing, stylus
ball, self-crossing. What cannot be a wheel or a rail is refused by name; everything else is dealt
with, counted and said.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tapertread.shapes.cleaning.noise import Noise, estimate_noise
from tapertread.shapes.cleaning.notes import (
    gap_traps,
    noise_traps,
    outlier_traps,
    refuse_crossing,
    refuse_few,
    refuse_outliers,
    steps,
)
from tapertread.shapes.cleaning.ordering import curve_order, unique_points
from tapertread.shapes.cleaning.orientation import (
    gauge_side_first,
    refuse_wrong_shape,
    refuse_wrong_unit,
)
from tapertread.shapes.cleaning.outliers import find_outliers
from tapertread.shapes.cleaning.resampling import Gap, bridged_points, find_gaps, resample
from tapertread.shapes.cleaning.smoothing import find_corners, smooth
from tapertread.shapes.cleaning.stylus import into_metal, without_ball
from tapertread.shapes.outline import Floats, Outline
from tapertread.shapes.traps import Trap

QUIET_RADIUS_MM = 40.0
NOISE_STEP_MM = 0.4


@dataclass(frozen=True, slots=True, kw_only=True)
class Cleaned:
    """An outline made ready for measuring.

    Attributes
    ----------
    outline : Outline
        Even arc steps, from gauge side to field side, smoothed as far as the noise asks.
    sampled : Outline
        The same points before smoothing (ball taken off all the same).
    noise : Noise
        Noise along the normal, as estimated.
    point_noise_mm : ndarray, shape (n,)
        Standard noise left in each point of `outline`, mm.
    half_width_mm : ndarray, shape (n,)
        Half width over which each point was smoothed, mm.
    bridged : ndarray of bool, shape (n,)
        Points that stand in a gap and were never measured.
    spacing_mm : float
        Typical distance of the points as measured, mm.
    removed : int
        Points left out: duplicates and outliers.
    strays : ndarray, shape (k, 2)
        The outliers, as measured, mm.
    gaps : tuple of Gap
    steps, notes : tuple of str
        What was done, in order; what the reader should know.
    traps : tuple of Trap
    """

    outline: Outline
    sampled: Outline
    noise: Noise
    point_noise_mm: Floats
    half_width_mm: Floats
    bridged: NDArray[np.bool_]
    spacing_mm: float
    removed: int
    strays: Floats = field(default_factory=lambda: np.empty((0, 2)))
    gaps: tuple[Gap, ...] = ()
    steps: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()
    traps: tuple[Trap, ...] = ()

    @property
    def noise_mm(self) -> float:
        """Standard noise of one measured point along the normal, mm."""
        return self.noise.sigma_mm

    @property
    def correlation_mm(self) -> float:
        """Length over which the noise hangs together (correlation down to 1/e), mm."""
        return self.noise.correlation_mm


def clean(outline: Outline, *, stylus_radius_mm: float = 0.0, step_mm: float = 0.2) -> Cleaned:
    """Clean an outline whose points may stand in any order.

    Parameters
    ----------
    outline : Outline
        Points as read, in millimetres and in its own side's axes, at any origin and tilt.
    stylus_radius_mm : float
        Radius of the ball whose centre was recorded, mm; 0 where the metal itself was.
    step_mm : float
        Step of arc of the result, mm.

    Returns
    -------
    Cleaned

    Raises
    ------
    OutlineRefused
        ``too-few-points``, ``wrong-unit``, ``straight-line``, ``too-many-outliers``,
        ``wrong-kind``, ``mirrored-outline``, ``self-crossing``.
    """
    raw = np.column_stack([outline.y_mm, outline.z_mm])
    points, duplicates = unique_points(raw)
    refuse_few(points)
    refuse_wrong_unit(points)
    order = curve_order(points)
    points = gauge_side_first(points[order])
    outlier = find_outliers(points)
    refuse_outliers(points, outlier)
    strays, points = points[outlier], points[~outlier]
    spacing = float(np.median(np.hypot(*np.diff(points, axis=0).T)))
    gaps = find_gaps(points, spacing_mm=spacing)
    sampled = resample(points, step_mm=step_mm, spacing_mm=spacing)
    bridged = bridged_points(sampled, gaps=gaps)
    corners = find_corners(sampled, step_mm=step_mm)
    noise = _noise(sampled, bridged=bridged, corners=corners, spacing_mm=spacing, step_mm=step_mm)
    smoothed = smooth(sampled, noise=noise, step_mm=step_mm, corners=corners)
    result = Cleaned(
        outline=outline.with_points(*smoothed.points.T),
        sampled=outline.with_points(*sampled.T),
        noise=noise,
        point_noise_mm=smoothed.left_mm,
        half_width_mm=smoothed.half_width_mm,
        bridged=bridged,
        spacing_mm=spacing,
        removed=duplicates + int(outlier.sum()),
        strays=strays,
        gaps=gaps,
        steps=steps(
            duplicates,
            reordered=bool((np.diff(order) < 0).any()),
            strays=strays,
            step_mm=step_mm,
            smoothed=smoothed,
        ),
        traps=(*outlier_traps(strays), *gap_traps(gaps), *noise_traps(noise)),
    )
    if stylus_radius_mm:
        result = _ball_off(result, radius_mm=stylus_radius_mm, step_mm=step_mm)
    refuse_crossing(result.outline)
    refuse_wrong_shape(_points(result.outline), kind=outline.kind)
    return result


def _noise(
    points: Floats,
    *,
    bridged: NDArray[np.bool_],
    corners: list[int],
    spacing_mm: float,
    step_mm: float,
) -> Noise:
    """Estimate the noise where the curve is nearly straight, measured and away from corners."""
    quiet = (np.abs(_curvature(points, step_mm=step_mm)) < 1.0 / QUIET_RADIUS_MM) & ~bridged
    near = round(1.5 / step_mm)
    for corner in corners:
        quiet[max(0, corner - near) : corner + near + 1] = False
    every = max(1, round(max(NOISE_STEP_MM, spacing_mm) / step_mm))
    return estimate_noise(points[::every], quiet=quiet[::every], step_mm=every * step_mm)


def _curvature(points: Floats, *, step_mm: float) -> Floats:
    """Return the curvature over about 8 mm of arc, 1/mm, shape (n,)."""
    reach = min(round(4.0 / step_mm), (points.shape[0] - 1) // 2)
    padded = np.pad(points, ((reach, reach), (0, 0)), mode="edge")
    before, after = padded[: -2 * reach], padded[2 * reach :]
    chord, sag = after - before, points - 0.5 * (before + after)
    length = np.maximum(np.hypot(*chord.T), 1e-9)
    return np.asarray(8.0 * (chord[:, 1] * sag[:, 0] - chord[:, 0] * sag[:, 1]) / length**3)


def _ball_off(cleaned: Cleaned, *, radius_mm: float, step_mm: float) -> Cleaned:
    """Return the cleaned outline with the stylus ball taken off, at even steps of arc again."""
    smooth_points, sampled = _points(cleaned.outline), _points(cleaned.sampled)
    kind = cleaned.outline.kind
    kept, metal = without_ball(smooth_points, radius_mm=radius_mm, kind=kind)
    rough = (sampled + radius_mm * into_metal(smooth_points, kind=kind))[kept]
    arc = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(metal, axis=0).T))))
    at = np.linspace(0.0, arc[-1], max(4, round(arc[-1] / step_mm) + 1))
    carried = (cleaned.point_noise_mm, cleaned.half_width_mm, cleaned.bridged)
    rows = np.column_stack([metal, rough, *(each[kept] for each in carried)])
    even = np.column_stack([np.interp(at, arc, column) for column in rows.T])
    return replace(
        cleaned,
        outline=cleaned.outline.with_points(even[:, 0], even[:, 1]),
        sampled=cleaned.sampled.with_points(even[:, 2], even[:, 3]),
        point_noise_mm=even[:, 4],
        half_width_mm=even[:, 5],
        bridged=even[:, 6] > 0.5,
        steps=(*cleaned.steps, f"stylus ball of {radius_mm:g} mm radius taken off"),
    )


def _points(outline: Outline) -> Floats:
    return np.column_stack([outline.y_mm, outline.z_mm])
