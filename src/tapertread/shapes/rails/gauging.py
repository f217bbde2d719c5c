"""Wear measures of a rail: vertical, side, combined, at 45°, head area, gauge-face angle.

All are read in the design's upright axes (not in the track plane) and drawn in
``docs/measures-rail.md``:

* **vertical wear**: how far the outline lies below the design's top, on the design axis;
* **side wear**: how far the gauge face has gone in, at 14 mm below the *worn* top, below the *new*
  top, and at 5/8 in below the worn top (US). The new half width is always that of the design at
  that depth below the *new* top, as a gauge set to the new rail knows it, so that the first two
  differ by vertical wear times the tangent of the worn face's angle from the vertical;
* **combined wear**: vertical wear and half the side wear below the worn top;
* **wear at 45°**: along the normal of the gauge corner where that stands at 45°;
* **head area lost**: in percent of the design's head area above a stated depth;
* **gauge-face angle**: from the horizontal of the upright rail, by regression over a stated length.

Common practice, no source, except where a limit set says otherwise [trade-practice]. Where the
worn top is the highest place of the outline, the gauge a person lays on the rail rests on it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from tapertread.shapes.alignment import Aligned
from tapertread.shapes.cleaning.noise import Noise, NoisePart
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.measured import Measured, Measures
from tapertread.shapes.rails.area import area_loss
from tapertread.shapes.rails.face import GAUGE_DEPTH_MM, face_angle
from tapertread.shapes.rails.head import Crossing, Head, crossing, gauge_crossing
from tapertread.shapes.rails.job import Job, read_along
from tapertread.units import MM_PER_INCH

GAUGE_DEPTH_US_MM = 0.625 * MM_PER_INCH
RAY_45_RAD = math.radians(135.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class RailMeasures(Measures):
    """Wear measures of one rail, each a value with its uncertainty or the reason why not.

    Attributes
    ----------
    vertical_wear_mm : Measured
        Below the design's top, on its axis.
    side_wear_mm, side_wear_new_top_mm, side_wear_us_mm : Measured
        14 mm below the worn top, 14 mm below the new top, 5/8 in below the worn top.
    combined_wear_mm : Measured
        Vertical wear and half of `side_wear_mm`.
    wear_45_mm : Measured
        Along the 45° normal of the gauge corner.
    head_area_loss_percent : Measured
        Of the design's head area above the depth stated in `notes`.
    gauge_face_angle_deg : Measured
        From the horizontal of the upright rail.
    notes : tuple of str
        Depths, lengths and reservations that go with the values.
    """

    vertical_wear_mm: Measured
    side_wear_mm: Measured
    side_wear_new_top_mm: Measured
    side_wear_us_mm: Measured
    combined_wear_mm: Measured
    wear_45_mm: Measured
    head_area_loss_percent: Measured
    gauge_face_angle_deg: Measured


def gauge_rail(
    aligned: Aligned,
    *,
    design: Drawing,
    noise_mm: float,
    correlation_mm: float,
    repeatability_mm: float | None = None,
    noise: Noise | None = None,
    spacing_mm: float | None = None,
    area_depth_mm: float | None = None,
) -> RailMeasures:
    """Return the wear measures of an aligned rail outline.

    Parameters
    ----------
    aligned : Aligned
        In the design's upright axes.
    design : Drawing
        The rail when new.
    noise_mm, correlation_mm : float
        Standard deviation of a point along its normal (mm), and the distance over which the
        correlation falls to 1/e (mm).
    repeatability_mm : float, optional
        Standard deviation of the device's repeat readings, where the survey states it, mm.
    noise : Noise, optional
        The noise in full; replaces `noise_mm` and `correlation_mm`.
    spacing_mm : float, optional
        Distance of the points as measured, mm; that of the outline where it is not given.
    area_depth_mm : float, optional
        Depth below the design's top down to which head area counts, mm; the whole depth of the
        drawing's head where it is not given.

    Returns
    -------
    RailMeasures
    """
    part = NoisePart(variance_mm2=noise_mm * noise_mm, length_mm=correlation_mm)
    model = noise or Noise(parts=(part,))
    job = Job.of(aligned, design, noise=model, spacing_mm=spacing_mm)
    area, area_note = area_loss(job, depth_mm=area_depth_mm)
    angle, angle_note = face_angle(job)
    side = _side_wear(job, GAUGE_DEPTH_MM, below_new_top=False)
    vertical = _vertical_wear(job)
    measures = {
        "vertical_wear_mm": vertical,
        "side_wear_mm": side,
        "side_wear_new_top_mm": _side_wear(job, GAUGE_DEPTH_MM, below_new_top=True),
        "side_wear_us_mm": _side_wear(job, GAUGE_DEPTH_US_MM, below_new_top=False),
        "combined_wear_mm": _combined(vertical, side),
        "wear_45_mm": _wear_45(job),
    }
    if repeatability_mm is not None:
        measures = {k: one.widened(repeatability=repeatability_mm) for k, one in measures.items()}
    notes = (*aligned.notes, area_note, angle_note, _SHAPE_NOTE)
    return RailMeasures(
        **measures,
        head_area_loss_percent=area,
        gauge_face_angle_deg=angle,
        notes=tuple(note for note in notes if note),
    )


_SHAPE_NOTE = (
    "wear is against the drawing: how far the new rail was rolled off its drawing is not in these "
    "uncertainties"
)


def _on_axis(head: Head) -> Crossing | None:
    return crossing(head, (0.0, 0.0), outward_rad=0.5 * math.pi, reach_mm=40.0)


def _vertical_wear(job: Job) -> Measured:
    reason = job.unheld("up")
    if reason:
        return Measured.missing("mm", reason)

    def reading(head: Head) -> float | None:
        at = _on_axis(head)
        return None if at is None else -at.at_mm

    return read_along(job, _on_axis(job.head), reading)


def _side_wear(job: Job, depth_mm: float, *, below_new_top: bool) -> Measured:
    needed = ("across", "turn", "up") if below_new_top else ("across", "turn")
    reason = job.unheld(*needed) or ("" if below_new_top else job.top_hidden())
    if reason:
        return Measured.missing("mm", reason)
    new = gauge_crossing(job.new, -depth_mm)
    if new is None:
        return Measured.missing("mm", "the drawing's gauge face does not reach this depth")
    half_width = new.at_mm

    def face(head: Head) -> Crossing | None:
        return gauge_crossing(head, (0.0 if below_new_top else head.top_mm) - depth_mm)

    def reading(head: Head) -> float | None:
        at = face(head)
        return None if at is None else half_width - at.at_mm

    at = face(job.head)
    lean = 0.0 if at is None else math.sqrt(1.0 / max(at.normal_share, 0.1) ** 2 - 1.0)
    return read_along(job, at, reading, top_lean=0.0 if below_new_top else lean)


def _combined(vertical: Measured, side: Measured) -> Measured:
    if vertical.value is None or side.value is None:
        return Measured.missing("mm", vertical.reason or side.reason)
    parts = dict(vertical.parts)
    for cause, part in side.parts:
        parts[cause] = math.hypot(parts.get(cause, 0.0), 0.5 * part)
    return Measured.of(vertical.value + 0.5 * side.value, "mm", **parts)


def _wear_45(job: Job) -> Measured:
    reason = job.unheld("across", "up", "turn")
    if reason:
        return Measured.missing("mm", reason)
    corner = _corner_at_45(job.new)
    if corner is None:
        return Measured.missing("mm", "the drawing's gauge corner has no place at 45°")

    def cut(head: Head) -> Crossing | None:
        return crossing(head, corner, outward_rad=RAY_45_RAD, reach_mm=25.0)

    def reading(head: Head) -> float | None:
        at = cut(head)
        return None if at is None else -at.at_mm

    return read_along(job, cut(job.head), reading)


def _corner_at_45(new: Head) -> tuple[float, float] | None:
    """Return the place of the design's gauge corner whose normal stands at 45°, mm."""
    y, z = new.y_mm[: new.highest + 1], new.z_mm[: new.highest + 1]
    lead = z - y
    best = int(np.argmax(lead))
    if best in (0, y.size - 1):
        return None
    return float(y[best]), float(z[best])
