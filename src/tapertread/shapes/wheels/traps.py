"""Every trap of a wheel outline by its name: what a device, a worn datum or dirt made of it.

What one outline cannot show is not claimed: a scale error or a skew section where no rim is seen
(they spread flange and tread alike, as wear or another design would); grease or glint lying evenly
on a worn face (it reads as less wear); a step between sensors that runs along the curve; a flange
back worn over its whole height on an outline that ends before the rim. Device repeatability, where
the survey states it, stands for these [trade-practice].
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from tapertread.shapes.alignment import Aligned, Datum
from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.cleaning.stylus import into_metal
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats
from tapertread.shapes.traps import Severity, Trap
from tapertread.shapes.wheels.agreeing import another_design
from tapertread.shapes.wheels.datum import BACK, TIP, WheelDatum, wheel_datum
from tapertread.shapes.wheels.faults import Fault, find_faults
from tapertread.shapes.wheels.fit import Pose, WheelFit, fit_wheel
from tapertread.shapes.wheels.measures import WheelMeasures
from tapertread.shapes.wheels.readings import GAUGE_LINE_MM, Running
from tapertread.shapes.wheels.surface import find_glint, find_layer, find_made_up_ends, find_step

FLANGE = (
    "flange_height_mm",
    "flange_thickness_mm",
    "flange_thickness_us_mm",
    "flange_slope_mm",
    "flange_angle_deg",
)
THICKNESS = ("flange_thickness_mm", "flange_thickness_us_mm")
FACE = (*THICKNESS, "flange_slope_mm", "flange_angle_deg")
LEVELLED = (*FLANGE, "tread_hollow_mm")
EVERY = (*FLANGE, "tread_hollow_mm", "rolled_lip_mm", "tread_loss_mm")

LEAST_BALL_MM = 0.3
THICKER_THAN_NEW_MM = 0.8
BALLS_MM = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0)
LEAST_BACK_MM, MOST_BACK_MM, BACK_ARC_MM = 0.3, 5.0, 5.0
LEAST_SEEN_MM = 2.0
LEAST_BURR_MM = 0.4
LEAST_SCALE, SKEW_FROM = 0.0022, 0.006
"""Scale and skew look alike. A calibrated device is not wrong by more than 0.6 %; a larger stretch
is laid to the section, 6° and more askew [trade-practice]."""

LEAST_BIAS_MM, LEAST_TILT_RAD, SPREADS = 0.15, math.radians(0.2), 3.0
NEAR_ITS_ORIGIN_MM = 3.0


def wheel_traps(
    aligned: Aligned, *, fit: WheelFit, cleaned: Cleaned, design: Drawing, datum: Datum
) -> tuple[Trap, ...]:
    """Return every trap found in a wheel outline, those found on the way included.

    Parameters
    ----------
    aligned, fit : Aligned, WheelFit
        Both from `align_on`.
    cleaned : Cleaned
        What was aligned.
    design : Drawing
        The wheel when new.
    datum : {"fit", "given"}
        As it was aligned.
    """
    prepared = wheel_datum(design)
    found = [*cleaned.traps, *aligned.traps]
    if prepared.has_flange:
        found += _ball_by_trial(fit, prepared, cleaned) or _fault_traps(fit, prepared, cleaned)
        found += _back_not_seen(aligned, fit)
        found += _datum_traps(fit, datum=datum)
    running = Running.of(np.column_stack([aligned.outline.y_mm, aligned.outline.z_mm]))
    glint = list(_glint_trap(aligned, cleaned, running=running))
    displaced = any(trap.severity != "note" for trap in (*found, *glint))
    layer = [] if displaced else list(_layer_trap(aligned, running, cleaned, datum=prepared))
    stepped = [] if layer or glint else list(_step_trap(aligned, cleaned))
    return (*found, *glint, *layer, *stepped, *_end_traps(cleaned))


def _fault_traps(fit: WheelFit, datum: WheelDatum, cleaned: Cleaned) -> Iterator[Trap]:
    faults = find_faults(fit, datum, noise=cleaned.noise)
    wrong = another_design(fit, datum, cleaned=cleaned, faults=faults)
    if wrong is not None:
        yield wrong
        return
    for fault in faults:
        trap = _fault_trap(fault)
        if trap is not None:
            yield trap
    if not {fault.name for fault in faults} & {"ball", "across", "back"}:
        yield from _worn_back(fit, noise_mm=cleaned.noise_mm)


def _ball_by_trial(fit: WheelFit, datum: WheelDatum, cleaned: Cleaned) -> list[Trap]:
    """Find a ball too large for its signature to be small: a flange thicker than new gives it away.

    Balls of several radii are taken off; the one after which the unworn parts agree is named.
    """
    seen, new = (_thickness_mm(points, datum) for points in (fit.points, datum.points))
    if seen is None or new is None or seen - new < THICKER_THAN_NEW_MM or fit.confidence > 0.9:
        return []
    points = np.column_stack([cleaned.outline.y_mm, cleaned.outline.z_mm])[~cleaned.bridged]
    inward = into_metal(points, kind="wheel")
    trials = {
        radius: fit_wheel(points + radius * inward, datum, noise=cleaned.noise)
        for radius in BALLS_MM
    }
    best = max(trials, key=lambda radius: trials[radius].confidence)
    agrees = trials[best].confidence > max(0.85, fit.confidence + 0.1)
    return [_ball(best, 0.25)] if agrees and trials[best].arc_of(TIP) > LEAST_SEEN_MM else []


def _thickness_mm(points: Floats, datum: WheelDatum) -> float | None:
    running = Running.of(points)
    tape = running.tape()
    face = None if tape is None else running.on_face(tape.z_mm - GAUGE_LINE_MM)
    return None if face is None else face.y_mm + datum.tape_line_mm


def _fault_trap(fault: Fault) -> Trap | None:
    """Return the trap that a fault of some size deserves, or ``None`` below what matters."""
    size, unsure = fault.size, fault.uncertainty
    if fault.name == "ball" and size >= LEAST_BALL_MM:
        return _ball(size, unsure)
    if fault.name in ("across", "scale") and abs(size) >= LEAST_SCALE:
        return _stretched(size, unsure)
    if fault.name == "back" and size >= LEAST_BACK_MM:
        return _back(size)
    if fault.name == "rim" and size >= LEAST_BURR_MM:
        found = f"metal stands {size:.2f} mm out of the drawing at the rim: a burr or a rolled lip"
        return Trap(name="burr-on-rim", severity="note", found=found, size_mm=size)
    return None


def _ball(size: float, unsure: float) -> Trap:
    off = f"{size:.2f} ± {2.0 * unsure:.2f} mm"
    return Trap(
        name="stylus-ball-not-removed",
        severity="refuse",
        found=f"back, tip and rim stand {off} off the drawing all round: a stylus "
        f"ball of about that radius was not taken off; state stylus_radius_mm",
        spoils=EVERY,
        size_mm=size,
    )


def _stretched(share: float, unsure: float) -> Trap:
    spread = f"{100.0 * share:+.2f} ± {200.0 * unsure:.2f} %"
    text = f"{spread} wider from back to rim than drawn"
    if share >= SKEW_FROM:
        angle = math.degrees(math.acos(1.0 / (1.0 + share)))
        found = f"{text}: as from a section {angle:.0f}° askew"
        return Trap(
            name="section-not-square",
            severity="mark",
            found=found,
            spoils=(*FACE, "rolled_lip_mm"),
            size_mm=share * 70.0,
        )
    found = f"{text}: scale of the device, a section slightly askew, or another rim width"
    return Trap(
        name="scale-error", severity="mark", found=found, spoils=EVERY, size_mm=abs(share) * 70.0
    )


def _back(size: float) -> Trap:
    return Trap(
        name="flange-back-worn",
        severity="mark",
        found=f"the flange back lies {size:.2f} mm inside the drawing, as check rails wear it: "
        "thickness counts from the back as new, a back-to-back reading there is too large",
        spoils=(*THICKNESS, "back_to_back_mm", "active_flange_spacing_mm"),
        size_mm=size,
    )


def _worn_back(fit: WheelFit, *, noise_mm: float) -> Iterator[Trap]:
    """Find a flange back of which only a part is worn: more than 5 mm of it lies inside."""
    on_back = fit.points[fit.matched.part == BACK]
    inward = -fit.matched.outward_mm[fit.matched.part == BACK]
    if not on_back.size:
        return
    step = float(np.median(np.diff(fit.arc_mm)))
    deep = (inward > max(LEAST_BACK_MM, 4.0 * noise_mm)) & (inward < MOST_BACK_MM)
    if deep.sum() * step >= BACK_ARC_MM:
        yield _back(float(np.median(inward[deep])))


def _back_not_seen(aligned: Aligned, fit: WheelFit) -> Iterator[Trap]:
    """Say that a thickness counts from a flange back which nobody has measured."""
    step = float(np.median(np.diff(fit.arc_mm)))
    on_back = (fit.matched.part == BACK) & (np.abs(fit.matched.outward_mm) < MOST_BACK_MM)
    if not aligned.across.anchored or on_back.sum() * step > LEAST_SEEN_MM:
        return
    yield Trap(
        name="flange-back-not-seen",
        severity="mark",
        found=f"the flange back was not seen and is taken from the design, held by "
        f"{aligned.across.by}: how far check rails have worn it is not known",
        spoils=(*THICKNESS, "back_to_back_mm", "active_flange_spacing_mm"),
    )


def _datum_traps(fit: WheelFit, *, datum: Datum) -> Iterator[Trap]:
    """Compare the file's own axes with those that the unworn parts hold."""
    pose = fit.pose
    off = max(abs(pose.dy_mm), abs(pose.dz_mm))
    if fit.confidence < 0.5 or (datum == "fit" and off > NEAR_ITS_ORIGIN_MM):
        return
    severity: Severity = "mark" if datum == "given" else "note"
    unsure = np.sqrt(np.diag(fit.covariance))
    for word, value, spread, spoils in (
        ("across", pose.dy_mm, unsure[0], THICKNESS),
        ("up", pose.dz_mm, unsure[1], ("tread_loss_mm",)),
    ):
        if abs(value) > max(LEAST_BIAS_MM, SPREADS * spread):
            found = f"the file's origin lies {abs(value):.2f} mm off the design's, {word}"
            yield Trap(
                name="datum-bias",
                severity=severity,
                found=f"{found}; {'measures follow the file' if datum == 'given' else 'taken out'}",
                spoils=spoils,
                size_mm=abs(value),
            )
    if abs(pose.turn_rad) > max(LEAST_TILT_RAD, SPREADS * float(unsure[2])):
        found = f"the file is tilted by {math.degrees(abs(pose.turn_rad)):.2f}°"
        yield Trap(
            name="tilt",
            severity=severity,
            found=f"{found}; {'measures follow the file' if datum == 'given' else 'taken out'}",
            spoils=LEVELLED,
            size_mm=abs(pose.turn_rad) * 70.0,
        )


def _step_trap(aligned: Aligned, cleaned: Cleaned) -> Iterator[Trap]:
    step = find_step(cleaned, aligned=aligned.outline)
    if step is not None:
        place = f"at (y, z) = ({step.y_mm:.1f}, {step.z_mm:.1f}) mm"
        yield Trap(
            name="stitch-step",
            severity="mark",
            found=f"the curve jumps by {step.size_mm:.2f} mm {place}, as between two sensors",
            spoils=EVERY,
            size_mm=step.size_mm,
        )


def _glint_trap(aligned: Aligned, cleaned: Cleaned, *, running: Running) -> Iterator[Trap]:
    pose = Pose(dy_mm=aligned.dy_mm, dz_mm=aligned.dz_mm, turn_rad=aligned.turn_rad)
    glint = find_glint(cleaned, pose, running=running)
    if glint is not None:
        yield Trap(
            name="glint",
            severity="mark",
            found=f"points scatter by up to {glint.size_mm:.2f} mm round (y, z) = "
            f"({glint.y_mm:.1f}, {glint.z_mm:.1f}) mm, as polish throws light back; left out",
            spoils=FACE,
            size_mm=glint.size_mm,
        )


def _layer_trap(
    aligned: Aligned, running: Running, cleaned: Cleaned, *, datum: WheelDatum
) -> Iterator[Trap]:
    if not datum.has_flange or not aligned.across.anchored:
        return
    sunk = np.array([[0.0, aligned.tread_height_mm or 0.0]])
    layer = find_layer(
        replace(running, points=running.points + sunk), datum, noise_mm=cleaned.noise_mm
    )
    if layer is not None:
        yield Trap(
            name="grease",
            severity="mark",
            found=f"something stands {layer.size_mm:.2f} mm out of flange face or root round "
            f"(y, z) = ({layer.y_mm:.1f}, {layer.z_mm:.1f}) mm, as grease does",
            spoils=FACE,
            size_mm=layer.size_mm,
        )


def _end_traps(cleaned: Cleaned) -> Iterator[Trap]:
    for end, share in find_made_up_ends(cleaned):
        yield Trap(
            name="smoothed-or-extrapolated-end",
            severity="mark",
            found=f"the {end} end scatters {share:.0%} as much as the rest: smoothed or made up",
            spoils=("tread_hollow_mm", "rolled_lip_mm") if end == "field" else THICKNESS,
        )


def widened_by_traps(measures: WheelMeasures, traps: tuple[Trap, ...]) -> WheelMeasures:
    """Return the measures with those that a marked trap spoils widened by its size.

    A fault of a size that may or may not act on a measure adds its size / √3 (mm measures only).
    """
    for trap in traps:
        if trap.severity != "mark" or trap.size_mm is None or trap.name == "flange-back-worn":
            continue
        part = trap.size_mm / math.sqrt(3.0)
        changes = {
            name: one.widened(trap=part)
            for name, one in measures.measured().items()
            if name in trap.spoils and one.unit == "mm"
        }
        measures = replace(measures, **changes)  # type: ignore[arg-type]
    return measures
