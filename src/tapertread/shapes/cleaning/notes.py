"""What cleaning says: refusals, steps done, and the traps it met."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from tapertread.errors import OutlineRefused
from tapertread.shapes.cleaning.crossings import loops_mm
from tapertread.shapes.cleaning.noise import Noise
from tapertread.shapes.cleaning.outliers import second_arc
from tapertread.shapes.cleaning.resampling import Gap
from tapertread.shapes.cleaning.smoothing import Smoothed
from tapertread.shapes.outline import Floats, Outline
from tapertread.shapes.traps import Trap

LEAST_POINTS = 25
MOST_OUTLIERS = 0.2


def refuse_few(points: Floats) -> None:
    """Refuse too few points (n, 2) to be a curve."""
    if points.shape[0] < LEAST_POINTS:
        raise OutlineRefused(
            "too-few-points",
            f"an outline of {points.shape[0]} different points",
            allowed=f"at least {LEAST_POINTS} points along the curve",
            todo="give the whole measured curve",
        )


def refuse_outliers(points: Floats, outlier: NDArray[np.bool_]) -> None:
    """Refuse ordered points (n, 2) of which too many are outliers, or a whole arc of metal is."""
    share = float(outlier.mean())
    if share > MOST_OUTLIERS:
        raise OutlineRefused(
            "too-many-outliers",
            f"{share:.0%} of the points do not belong to any one curve",
            allowed=f"at most {MOST_OUTLIERS:.0%}",
            todo="measure again with a clean surface and device",
        )
    arc = second_arc(points, outlier)
    if arc is not None:
        raise OutlineRefused(
            "self-crossing",
            f"a curve that runs back over itself: {arc.shape[0]} points lie on clean arcs beside "
            f"the rest of it, from y = {arc[:, 0].min():.1f} to {arc[:, 0].max():.1f} mm",
            allowed="one simple curve, its points on one arc",
            todo="check that the file holds one outline only, then measure again",
        )


def refuse_crossing(outline: Outline) -> None:
    """Refuse a curve that crosses itself in a loop of more than 1 mm of arc."""
    loops = loops_mm(np.column_stack([outline.y_mm, outline.z_mm]))
    if loops:
        first, second = loops[0]
        at = int(np.searchsorted(outline.arc_mm, first))
        raise OutlineRefused(
            "self-crossing",
            f"a curve that crosses itself at y = {outline.y_mm[at]:.1f} mm, "
            f"z = {outline.z_mm[at]:.1f} mm in a loop of {second - first:.1f} mm",
            allowed="one simple curve; loops up to 1 mm of arc are taken for noise",
            todo="check that the file holds one outline only, then measure again",
        )


def steps(
    duplicates: int, *, reordered: bool, strays: Floats, step_mm: float, smoothed: Smoothed
) -> tuple[str, ...]:
    """Return what was done, in order, leaving out what was not needed."""
    widest = float(smoothed.half_width_mm.max())
    done = [
        "points put into curve order" if reordered else "",
        f"{duplicates} duplicate points left out" if duplicates else "",
        f"{strays.shape[0]} outliers left out" if strays.size else "",
        f"resampled every {step_mm:g} mm of arc",
        f"smoothed by local cubics up to ±{widest:.1f} mm wide" if widest > 0.0 else "",
    ]
    return tuple(step for step in done if step)


def outlier_traps(strays: Floats) -> tuple[Trap, ...]:
    """Return what to say of outliers (k, 2) left out."""
    if not strays.size:
        return ()
    places = ", ".join(f"({y:.1f}, {z:.1f})" for y, z in strays[:3])
    more = " …" if strays.shape[0] > 3 else ""
    found = f"{strays.shape[0]} points off the curve left out, at (y, z) = {places}{more} mm"
    return (Trap(name="outliers", severity="note", found=found),)


def gap_traps(gaps: tuple[Gap, ...]) -> tuple[Trap, ...]:
    """Return what to say of gaps."""
    return tuple(
        Trap(
            name="gap",
            severity="note",
            found=f"no points over {gap.length_mm:.1f} mm from (y, z) = "
            f"({gap.from_mm[0]:.1f}, {gap.from_mm[1]:.1f}) mm to "
            f"({gap.to_mm[0]:.1f}, {gap.to_mm[1]:.1f}) mm",
            size_mm=gap.length_mm,
        )
        for gap in gaps
    )


def noise_traps(noise: Noise) -> tuple[Trap, ...]:
    """Return what to say of noise that hangs together."""
    if noise.sigma_mm < 0.01 or noise.correlation_mm < 1.0:
        return ()
    found = (
        f"noise of {noise.sigma_mm:.3f} mm that hangs together over "
        f"{noise.correlation_mm:.1f} mm of arc and is not averaged away"
    )
    return (Trap(name="correlated-noise", severity="note", found=found, size_mm=noise.sigma_mm),)
