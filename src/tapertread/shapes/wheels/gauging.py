"""Wear measures of a wheel, each with its uncertainty by cause or the reason why it is missing.

Definitions [en15313-2016; recalled], drawn in ``docs/measures-wheel.md``:

* flange height: from the worn tread at the tape line (70 mm from the flange back) to the tip;
* flange thickness: from the flange back to the face 10 mm beyond the tread, or 3/8 in beyond it for
  the US measure [cfr-215];
* flange slope (qR): across, from the face 10 mm beyond the tread to the face 2 mm above the tip;
* flange angle: steepest direction of a line fitted to 2.5 mm of the face [trade-practice];
* tread hollow: largest ``r(b) - r(a)``, b on the field side of a; root, chamfer and lip left out;
* rolled-over lip: what stands out beyond the rim face of the drawing.

Thickness counts from the flange back as it was new, held by all parts that do not wear.
"""

from __future__ import annotations

import math

import numpy as np

from tapertread.shapes.alignment import Aligned
from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.cleaning.smoothing import window
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.measured import Measured
from tapertread.shapes.wheels.datum import wheel_datum
from tapertread.shapes.wheels.job import FLANGE_RADIUS_MM, NOT_REACHED, TREAD_RADIUS_MM, Job
from tapertread.shapes.wheels.measures import WheelMeasures
from tapertread.shapes.wheels.readings import (
    BELOW_TIP_MM,
    GAUGE_LINE_MM,
    GAUGE_LINE_US_MM,
    FaceAngle,
    Place,
)

EDGE_UNSURE_MM = 0.6
MOST_HIDDEN_MM = 3.0
"""Longest gap in a tread, mm, that cannot hide a hollow of its own."""

LEVEL_SPREADS, CHOICE_SHARE = 2.5, 0.6
"""Runs of the face within so many spreads of the steepest cannot be told from it; choosing among
them leaves this share of the noise of one run, by the noise study."""


def gauge_wheel(
    aligned: Aligned,
    *,
    design: Drawing,
    cleaned: Cleaned,
    rim_thickness_mm: float | None = None,
    rim_uncertainty_mm: float | None = None,
    repeatability_mm: float | None = None,
) -> WheelMeasures:
    """Return the wear measures of an aligned wheel outline.

    Parameters
    ----------
    aligned : Aligned
        In the design's axes.
    design : Drawing
        The wheel when new.
    cleaned : Cleaned
        What was aligned, with its noise.
    rim_thickness_mm, rim_uncertainty_mm : float, optional
        Rim thickness as measured apart from the outline, with its standard uncertainty, mm.
    repeatability_mm : float, optional
        Standard deviation of the device's repeat readings, where the survey states it, mm.

    Returns
    -------
    WheelMeasures
    """
    job = Job.of(aligned, cleaned, wheel_datum(design))
    measures = {
        "flange_height_mm": _height(job),
        "flange_thickness_mm": _thickness(job, GAUGE_LINE_MM),
        "flange_thickness_us_mm": _thickness(job, GAUGE_LINE_US_MM),
        "flange_slope_mm": _slope(job),
        "tread_hollow_mm": _hollow(job),
        "rolled_lip_mm": _lip(job),
        "tread_loss_mm": _tread_loss(job),
    }
    if repeatability_mm is not None:
        measures = {
            name: one.widened(repeatability=repeatability_mm) for name, one in measures.items()
        }
    return WheelMeasures(
        **measures,
        flange_angle_deg=_angle(job),
        rim_thickness_mm=_rim(rim_thickness_mm, rim_uncertainty_mm),
        notes=aligned.notes,
    )


def _tread_slope(tape: Place) -> float:
    return tape.tangent[1] / tape.tangent[0]


def _height(job: Job) -> Measured:
    tape, tip = job.tape, job.tip
    reason = job.missing(("tape line", tape), ("flange tip", tip), held=("turn",))
    if reason or tape is None or tip is None:
        return Measured.missing("mm", reason)
    return Measured.of(
        tape.z_mm - tip.z_mm,
        "mm",
        noise=math.hypot(job.noise_mm(tape), job.noise_mm(tip)),
        datum=job.datum_part(-_tread_slope(tape), 0.0, -tip.y_mm),
        sampling=job.sampling(tape, tip),
    )


def _thickness(job: Job, line_mm: float) -> Measured:
    tape = job.tape
    face = None if tape is None else job.running.on_face(tape.z_mm - line_mm)
    reason = job.missing(("tape line", tape), ("flange face", face), held=("across", "turn"))
    if reason or tape is None or face is None:
        return Measured.missing("mm", reason)
    across, turn = _face_levers(face, tape)
    return Measured.of(
        face.y_mm + job.datum.tape_line_mm,
        "mm",
        noise=math.hypot(face.across * job.noise_mm(face), face.cot * job.noise_mm(tape)),
        datum=job.datum_part(across, 0.0, turn),
        sampling=face.across * job.sampling(face),
    )


def _face_levers(face: Place, tape: Place) -> tuple[float, float]:
    """Return how y of the face at a level under the tread follows dy and turn."""
    return 1.0 - face.cot * _tread_slope(tape), -face.z_mm - face.cot * face.y_mm


def _slope(job: Job) -> Measured:
    tape, tip = job.tape, job.tip
    outer = None if tape is None else job.running.on_face(tape.z_mm - GAUGE_LINE_MM)
    inner = None if tip is None else job.running.on_face(tip.z_mm + BELOW_TIP_MM)
    reason = job.missing(
        ("tape line", tape),
        ("flange tip", tip),
        ("flange face", outer),
        ("flange face near its tip", inner),
        held=("turn",),
    )
    if reason or tape is None or tip is None or outer is None or inner is None:
        return Measured.missing("mm", reason)
    across, turn = _face_levers(outer, tape)
    inner_turn = -inner.z_mm - inner.cot * (inner.y_mm - tip.y_mm)
    noise = (
        outer.across * job.noise_mm(outer),
        outer.cot * job.noise_mm(tape),
        inner.across * job.noise_mm(inner),
        inner.cot * job.noise_mm(tip),
    )
    return Measured.of(
        outer.y_mm - inner.y_mm,
        "mm",
        noise=math.hypot(*noise),
        datum=job.datum_part(across - 1.0, 0.0, turn - inner_turn),
        sampling=math.hypot(outer.across * job.sampling(outer), inner.across * job.sampling(inner)),
    )


def _angle(job: Job) -> Measured:
    step = float(np.median(np.diff(job.running.arc_mm)))
    single = job.running.angle() if job.datum.has_flange else None
    reason = job.missing(held=("turn",))
    if single is None:
        return Measured.missing("deg", reason or job.missing(("flange face", None)))
    unsure = _angle_noise_deg(job, single, step_mm=step)
    found = job.running.angle(unsure_deg=LEVEL_SPREADS * unsure) or single
    if job.cleaned.bridged[found.first : found.first + found.size].mean() > 0.3:
        reason = reason or "no points were measured around the flange face"
    if reason:
        return Measured.missing("deg", reason)
    return Measured.of(
        found.value_deg,
        "deg",
        noise=_angle_noise_deg(job, found, step_mm=step),
        choice=CHOICE_SHARE * unsure,
        datum=math.degrees(job.datum_part(0.0, 0.0, 1.0)),
        sampling=math.degrees(job.cleaned.spacing_mm**2 / (8.0 * FLANGE_RADIUS_MM)),
    )


def _angle_noise_deg(job: Job, angle: FaceAngle, *, step_mm: float) -> float:
    """Return the noise of a flange angle (deg): line fit, mean of runs and smoothing together."""
    along = step_mm * (np.arange(angle.size) - 0.5 * (angle.size - 1))
    middle = angle.first + (angle.size + angle.runs) // 2
    half = float(job.cleaned.half_width_mm[min(middle, job.cleaned.half_width_mm.size - 1)])
    mean = np.full(angle.runs, 1.0 / angle.runs)
    smoothing = window(2 * round(half / step_mm) + 1).middle
    weights = np.convolve(np.convolve(along / float(along @ along), mean), smoothing)
    return math.degrees(job.cleaned.noise.of_reading(weights, step_mm=step_mm))


def _hollow(job: Job) -> Measured:
    found = job.running.hollow()
    if found is None:
        return Measured.missing(
            "mm", NOT_REACHED.format(place="tread on both sides of the tape line")
        )
    value, inner, outer = found
    reason = job.missing(held=("turn",)) or _hidden_tread(job)
    if reason:
        return Measured.missing("mm", reason)
    noise = job.cleaned.point_noise_mm
    width = float(job.running.points[outer, 0] - job.running.points[inner, 0])
    return Measured.of(
        value,
        "mm",
        noise=math.hypot(float(noise[inner]), float(noise[outer])),
        datum=job.datum_part(0.0, 0.0, width),
        sampling=math.hypot(
            job.cleaned.spacing_mm**2 / (8.0 * TREAD_RADIUS_MM), _edge_unsure_mm(job, outer)
        ),
    )


def _hidden_tread(job: Job) -> str:
    """Return which gap may hide the lowest or highest place of the tread, or nothing."""
    gap = job.longest_gap(job.running.tread() or slice(0, 0))
    if gap is None or gap[0] <= MOST_HIDDEN_MM:
        return ""
    return f"no points were measured over {gap[0]:.1f} mm of the tread round y = {gap[1]:.1f} mm"


def _edge_unsure_mm(job: Job, outer: int) -> float:
    """Return what not knowing the edge of the tread better than 0.6 mm does to a hollow, mm."""
    tread = job.running.tread()
    reach = round(1.0 / float(np.median(np.diff(job.running.arc_mm))))
    if tread is None or outer < tread.stop - 1 - reach:
        return 0.0
    run = job.running.points[outer] - job.running.points[max(0, outer - reach)]
    return EDGE_UNSURE_MM * abs(float(run[1])) / max(float(np.hypot(*run)), 1e-9)


def _lip(job: Job) -> Measured:
    points = job.running.points
    outermost = int(np.argmax(points[:, 0]))
    reason = job.missing(held=("across", "turn"))
    if not reason and points[outermost, 0] < job.datum.rim_face_mm - 1.0:
        reason = NOT_REACHED.format(place="rim face")
    gap = job.longest_gap(slice(outermost, outermost + 1))
    if not reason and gap is not None and gap[0] > MOST_HIDDEN_MM:
        reason = "no points were measured around the edge of the rim"
    if reason:
        return Measured.missing("mm", reason)
    return Measured.of(
        max(0.0, float(points[outermost, 0]) - job.datum.rim_face_mm),
        "mm",
        noise=float(job.cleaned.point_noise_mm[outermost]),
        datum=job.datum_part(1.0, 0.0, -float(points[outermost, 1])),
        sampling=job.cleaned.spacing_mm / 8.0,
    )


def _tread_loss(job: Job) -> Measured:
    held = job.aligned.tread_height
    reason = job.missing(("tape line", job.tape))
    if not reason and (held is None or not held.anchored):
        reason = held.reason if held is not None else "nothing says where the tread was when new"
    if reason or held is None or job.tape is None or job.aligned.tread_height_mm is None:
        return Measured.missing("mm", reason)
    noise = job.noise_mm(job.tape)
    datum = math.sqrt(max(0.0, held.uncertainty**2 - noise**2))
    return Measured.of(
        job.aligned.tread_height_mm,
        "mm",
        noise=noise,
        datum=datum,
        sampling=job.sampling(job.tape),
    )


def _rim(thickness_mm: float | None, uncertainty_mm: float | None) -> Measured:
    if thickness_mm is None:
        return Measured.missing("mm", "rim thickness is not in an outline and was not given")
    if uncertainty_mm is None:
        return Measured(value=thickness_mm, unit="mm", reason="given without its uncertainty")
    return Measured.of(thickness_mm, "mm", given=uncertainty_mm)
