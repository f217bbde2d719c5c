"""Traps on the surface of a rail outline: what lies on it, or what a device made of it.

A wheel shapes the gauge side of a rail to its own throat, which is hollow: so the rail there is
convex, worn or new. A pocket between the outline and its hull therefore shows something that
stands out: metal rolled over into a lip, grease, or light thrown back by a polished corner. Which
of them it is, an outline alone can only suggest [trade-practice].

Not detectable in one outline, and not claimed: grease lying evenly over a face (it reads as less
wear); a sensor step hidden in a corner; an end extrapolated with made-up noise.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass, replace

import numpy as np

from tapertread.shapes.alignment import Aligned
from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats
from tapertread.shapes.rails.datum import points_of
from tapertread.shapes.rails.ends import end_traps
from tapertread.shapes.rails.gauging import RailMeasures
from tapertread.shapes.rails.head import Head, head_of
from tapertread.shapes.traps import Trap, TrapName

LEAST_POCKET_MM = 0.2
NOISE_FACTOR = 5.0
LOOKED_AT_MM = 25.0
"""Depth below the worn top down to which pockets count, mm: lower, the tips of the flanges leave a
ledge on a deeply worn face."""

BELOW_TOP_MM = 1.5
UNDERCUT_MM = 0.15
CORNER_MM = (1.0, 16.0)
"""Depths below the worn top between which a polished gauge corner throws light back, mm."""

SCATTERED, LEAST_SCATTER_MM = 4.0, 0.05
"""Scatter of the corner over that of the rest, and in mm, from which it is taken for glint."""

LEAST_STRAYS = 3

STEP_PLACES_MM, STEP_WINDOW_MM = np.arange(-17.0, 17.01, 0.25), 6.0
LEAST_STEP_MM = 0.15
STEP_CERTAIN, STEP_CLEAR = 6.0, 0.2
"""A step must exceed six times the noise, and what scatters about the fit be a fifth of it."""

SWAPPED_LOSS_MM = 1.0

GAUGE_SIDE = (
    "side_wear_mm",
    "side_wear_new_top_mm",
    "side_wear_us_mm",
    "combined_wear_mm",
    "wear_45_mm",
    "head_area_loss_percent",
    "gauge_face_angle_deg",
)


def rail_traps(aligned: Aligned, *, cleaned: Cleaned, design: Drawing) -> tuple[Trap, ...]:
    """Return every trap found in a rail outline, those found on the way included.

    Parameters
    ----------
    aligned : Aligned
        From `align_rail`.
    cleaned : Cleaned
        What it was aligned from.
    design : Drawing
        The rail when new.
    """
    depth = -max(design.pieces[0].start[1], design.pieces[-1].end[1])
    head = head_of(aligned.outline, depth_mm=depth)
    sampled = cleaned.sampled.moved(
        dy_mm=aligned.dy_mm, dz_mm=aligned.dz_mm, turn_rad=aligned.turn_rad
    )
    rough = head_of(sampled, depth_mm=depth)
    found = (
        _glint(aligned, cleaned, head, rough),
        _standing_out(head, noise_mm=cleaned.noise_mm),
        _stitched(head, noise_mm=cleaned.noise_mm),
        _swapped(aligned, head, design),
        *end_traps(cleaned),
    )
    return (*cleaned.traps, *aligned.traps, *(trap for trap in found if trap is not None))


def widened_by(measures: RailMeasures, traps: tuple[Trap, ...]) -> RailMeasures:
    """Return the measures with those that a marked trap spoils widened by its size.

    A fault of a size that may or may not act on a measure adds its size / √3 (mm measures only).
    """
    for trap in traps:
        if trap.severity != "mark" or trap.size_mm is None:
            continue
        changes = {
            name: one.widened(trap=trap.size_mm / math.sqrt(3.0))
            for name, one in measures.measured().items()
            if name in trap.spoils and one.unit == "mm"
        }
        measures = replace(measures, **changes)  # type: ignore[arg-type]
    return measures


@dataclass(frozen=True, slots=True, kw_only=True)
class _Bump:
    """Something that stands out: its place, how far, and how deep it undercuts the face."""

    y_mm: float
    z_mm: float
    size_mm: float
    undercut_mm: float


def _glint(aligned: Aligned, cleaned: Cleaned, head: Head, rough: Head) -> Trap | None:
    """Return a gauge corner from which points were thrown off, or that scatters."""
    size, found = 0.0, ""
    thrown = _thrown_off(aligned, cleaned, head)
    if thrown.size >= LEAST_STRAYS:
        size = float(thrown.max())
        found = f"{thrown.size} points lie up to {size:.2f} mm off the gauge corner; left out"
    scatter = _corner_scatter(rough)
    if scatter >= LEAST_SCATTER_MM:
        size = max(size, scatter)
        found = found or f"the gauge corner scatters by {scatter:.2f} mm, far more than the rest"
    if not found:
        return None
    found += ", as polish throws light back"
    return Trap(name="glint", severity="mark", found=found, spoils=GAUGE_SIDE, size_mm=size)


def _thrown_off(aligned: Aligned, cleaned: Cleaned, head: Head) -> Floats:
    """Return how far (mm) the points left out near the gauge corner lie off the head."""
    cos, sin = math.cos(aligned.turn_rad), math.sin(aligned.turn_rad)
    y = cleaned.strays[:, 0] * cos - cleaned.strays[:, 1] * sin + aligned.dy_mm
    z = cleaned.strays[:, 0] * sin + cleaned.strays[:, 1] * cos + aligned.dz_mm
    apart = np.hypot(y[:, None] - head.y_mm, z[:, None] - head.z_mm)
    nearest = apart.argmin(axis=1) if apart.size else np.zeros(0, dtype=np.intp)
    depth = head.z_mm.max() - head.z_mm[nearest]
    corner = (head.y_mm[nearest] < 0.0) & (depth > CORNER_MM[0]) & (depth < CORNER_MM[1])
    return np.asarray(apart.min(axis=1)[corner]) if apart.size else np.zeros(0)


def _standing_out(head: Head, *, noise_mm: float) -> Trap | None:
    """Return the largest bump on the gauge side, by the name it most likely deserves."""
    bump = _bump(head, least_mm=max(LEAST_POCKET_MM, NOISE_FACTOR * noise_mm))
    if bump is None:
        return None
    place = f"{bump.size_mm:.2f} mm, {head.top_mm - bump.z_mm:.1f} mm below the worn top"
    name: TrapName = "grease"
    found = f"something soft in outline, as grease is, stands out of the gauge face by {place}"
    if bump.undercut_mm >= max(UNDERCUT_MM, NOISE_FACTOR * noise_mm):
        name = "lip-on-gauge-corner"
        found = f"metal rolled over, or a lump of grease, stands out of the gauge side by {place}"
    return Trap(name=name, severity="mark", found=found, spoils=GAUGE_SIDE, size_mm=bump.size_mm)


def _bump(head: Head, *, least_mm: float) -> _Bump | None:
    """Return what stands out beside the deepest pocket between the gauge side and its hull."""
    side = slice(0, head.highest + 1)
    y, z = head.y_mm[side], head.z_mm[side]
    kept = (z > z.max() - LOOKED_AT_MM) & (z < z.max() - BELOW_TOP_MM)
    y, z = y[kept], z[kept]
    if y.size < 10:
        return None
    corners = _upper_left_hull(y, z)
    pockets = []
    for first, last in itertools.pairwise(corners):
        chord_y, chord_z = y[last] - y[first], z[last] - z[first]
        inside = slice(first, last + 1)
        depth = (chord_y * (z[inside] - z[first]) - chord_z * (y[inside] - y[first])) / (
            math.hypot(chord_y, chord_z)
        )
        pockets.append((float(-depth.min()), first, last))
    deepest, first, last = max(pockets)
    if deepest < least_mm:
        return None
    tip = last if _falls_back(y, last) else first
    return _Bump(
        y_mm=float(y[tip]),
        z_mm=float(z[tip]),
        size_mm=deepest,
        undercut_mm=float(np.max(np.maximum.accumulate(y) - y)),
    )


def _falls_back(y: Floats, tip: int) -> bool:
    """Return whether the way up to a tip goes outward, as it does under a lip."""
    return bool(y[: tip + 1].max() - y[tip] > 0.5 * UNDERCUT_MM)


def _upper_left_hull(y: Floats, z: Floats) -> list[int]:
    """Return the corners of the hull on the outer (left) side of a walk from below upward."""
    hull: list[int] = []
    for index in range(y.size):
        while len(hull) >= 2:
            a, b = hull[-2], hull[-1]
            turn = (y[b] - y[a]) * (z[index] - z[a]) - (z[b] - z[a]) * (y[index] - y[a])
            if turn < 0.0:
                break
            hull.pop()
        hull.append(index)
    return hull


def _corner_scatter(rough: Head) -> float:
    """Return the scatter (mm) of the gauge corner beyond what the rest of the head has."""
    off = np.abs(_waviness(rough.y_mm, rough.z_mm))
    depth = rough.z_mm.max() - rough.z_mm
    corner = (rough.y_mm < 0.0) & (depth > CORNER_MM[0]) & (depth < CORNER_MM[1])
    rest = ~corner & (depth < 25.0)
    if corner.sum() < 10 or rest.sum() < 10:
        return 0.0
    loud, usual = (float(np.quantile(off[part], 0.8)) for part in (corner, rest))
    return loud if loud > SCATTERED * usual else 0.0


def _waviness(y: Floats, z: Floats) -> Floats:
    """Return how far points lie off their neighbours ±0.6 mm away, less what 3 mm around do, mm."""
    points = points_of(y, z)
    arc = points.arc_mm
    middle_y = 0.5 * (np.interp(arc - 0.6, arc, y) + np.interp(arc + 0.6, arc, y))
    middle_z = 0.5 * (np.interp(arc - 0.6, arc, z) + np.interp(arc + 0.6, arc, z))
    off = (z - middle_z) * points.ty - (y - middle_y) * points.tz
    half = max(1, round(3.0 / max(float(np.median(np.diff(arc))), 1e-3)))
    padded = np.pad(off, half, mode="reflect")
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * half + 1)
    bare: Floats = off - np.median(around, axis=1)
    return bare


def _stitched(head: Head, *, noise_mm: float) -> Trap | None:
    """Return a step across the crown, as two sensors that do not join leave it."""
    near = np.abs(head.y_mm) <= 24.0
    y, z = head.y_mm[near], head.z_mm[near]
    if y.size < 40 or not (np.diff(y) > 0.0).all():
        return None
    sizes, off = _steps_mm(y, z)
    clear = np.where(off < STEP_CLEAR * np.abs(sizes), np.abs(sizes), 0.0)
    best = int(np.argmax(clear))
    size, place = float(sizes[best]), float(STEP_PLACES_MM[best])
    if clear[best] < max(LEAST_STEP_MM, STEP_CERTAIN * noise_mm):
        return None
    found = f"a step of {size:+.2f} mm across the crown at y = {place:.1f} mm"
    spoils = (*GAUGE_SIDE, "vertical_wear_mm")
    return Trap(name="stitch-step", severity="mark", found=found, spoils=spoils, size_mm=abs(size))


def _steps_mm(y: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Return the step (mm) in a cubic over ±6 mm about each place, and the scatter (mm) about it.

    The scatter is infinite where a place has too few points about it.
    """
    first = np.searchsorted(y, STEP_PLACES_MM - STEP_WINDOW_MM, side="left")
    last = np.searchsorted(y, STEP_PLACES_MM + STEP_WINDOW_MM, side="right")
    at = first[:, None] + np.arange((last - first).max())
    inside = at < last[:, None]
    at = np.minimum(at, y.size - 1)
    x = (y[at] - STEP_PLACES_MM[:, None]) / STEP_WINDOW_MM
    columns = np.stack((np.ones(x.shape), x, x * x, x**3, np.where(x > 0.0, 0.5, -0.5)), axis=-1)
    columns *= inside[..., None]
    height = np.where(inside, z[at], 0.0)[..., None]
    across = np.swapaxes(columns, -1, -2)
    fitted = np.linalg.pinv(across @ columns, rcond=1e-12, hermitian=True) @ (across @ height)
    count = last - first
    scatter = np.sqrt(((height - columns @ fitted) ** 2).sum(axis=(1, 2)) / np.maximum(count, 1))
    nearest = np.where(inside, np.abs(x), np.inf).min(axis=1)
    told = (count >= 20) & (nearest <= 0.2)
    return fitted[:, 4, 0], np.where(told, scatter, np.inf)


def _swapped(aligned: Aligned, head: Head, design: Drawing) -> Trap | None:
    """Return whether the field corner is worn as only a gauge corner is."""
    if not (aligned.across.anchored and aligned.turn.anchored):
        return None
    if any(trap.name == "mirrored-outline" for trap in aligned.traps):
        return None
    distance = design.project(head.y_mm, head.z_mm).distance_mm
    corner = (head.z_mm < -8.0) & (head.z_mm > -20.0)
    gauge = distance[corner & (head.y_mm < 0.0)]
    field = distance[corner & (head.y_mm > 0.0)]
    if not (gauge.size and field.size):
        return None
    lost_gauge, lost_field = -float(np.median(gauge)), -float(np.median(field))
    if lost_field < SWAPPED_LOSS_MM or lost_field < 3.0 * lost_gauge:
        return None
    found = (
        f"the field side is worn by {lost_field:.1f} mm and the gauge side by {lost_gauge:.1f} mm: "
        "left and right may be swapped, or the rail was turned round"
    )
    return Trap(
        name="sides-swapped",
        severity="mark",
        found=found,
        spoils=GAUGE_SIDE,
        size_mm=lost_field,
    )
