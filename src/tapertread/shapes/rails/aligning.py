"""Carrying a rail outline into its design's upright axes, by the parts that wheels do not wear.

Web sides and foot hold a rail wherever the outline shows them. A head alone has only its field
flank: that holds it across, but lets it slide up and down along itself, so that the height comes
from the little corner above the flank and is stated with the uncertainty this leaves. Whatever no
unworn part holds is said to be held by nothing, with the reason; the rail is then set by its
running surface, so that contact can be computed but no vertical wear can be read: wear fitted away
is zero by construction [trade-practice].

Definitions are drawn in ``docs/measures-rail.md``.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tapertread.errors import OutlineRefused
from tapertread.shapes.alignment import (
    ORIGIN_UNSURE,
    Aligned,
    Datum,
    Held,
    held_by_origin,
)
from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.cleaning.noise import Noise, NoisePart
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats, Outline
from tapertread.shapes.rails.agreeing import LEAST_AGREEING, disagreement, held_by_nothing
from tapertread.shapes.rails.datum import FIELD_FLANK, Flags, Points, match, points_of, unworn_parts
from tapertread.shapes.rails.faults import bias_traps, fault_traps, lean_traps, section_faults
from tapertread.shapes.rails.fit import (
    LEAST_SCALE_MM,
    Fit,
    Pose,
    merits,
    place,
    settle,
)
from tapertread.shapes.rails.head import head_of
from tapertread.shapes.rails.holding import (
    ACROSS,
    NOT_HELD,
    TURN,
    UP,
    Placement,
    covariance_of,
    holders,
    what_is_held,
    within_limits,
)
from tapertread.shapes.traps import Trap

LEAST_NOISE_MM, LEAST_NOISE_LENGTH_MM = 0.01, 3.0
"""No device is better than this; keeps an exact fit from claiming that anything holds."""

FINEST_STEP_MM = 0.2
SMALLEST_MM, LARGEST_MM = 30.0, 400.0
"""Width of anything that can be the outline of a rail, mm."""

LEAST_CONFIDENCE = 0.9
DEVICE_FAULTS = ("stylus-ball-not-removed", "scale-error", "section-not-square", "stitch-step")


def align_rail(cleaned: Cleaned, *, design: Drawing, datum: Datum = "fit") -> Aligned:
    """Return a cleaned rail outline in its design's upright axes.

    Parameters
    ----------
    cleaned : Cleaned
        Head only, head and web, or a whole section, open or closed; with its noise.
    design : Drawing
        The rail when new, its unworn parts as anchors.
    datum : {"fit", "given"}
        ``fit``: by the unworn parts; ``given``: the file's origin is the design's. In a
        ``track-plane`` outline the turn is then still fitted, since the inclination is in it.

    Returns
    -------
    Aligned
        The outline's frame is ``rail-axis``; from a ``track-plane`` outline the inclination has
        been turned out and is reported as ``turn_rad``.

    Raises
    ------
    OutlineRefused
        If the outline or design is a wheel's, or its size cannot be a rail's.
    """
    return lay_on_design(
        cleaned.outline,
        design=design,
        noise=cleaned.noise,
        datum=datum,
        bridged=cleaned.bridged,
    )


def lay_on_design(
    outline: Outline,
    *,
    design: Drawing,
    noise: Noise,
    datum: Datum = "fit",
    bridged: Flags | None = None,
) -> Aligned:
    """Return an outline whose noise is known in its design's upright axes; see `align_rail`.

    `bridged` marks the points that stand in a gap and were never measured; they hold nothing.

    Raises
    ------
    OutlineRefused
        If the outline or design is a wheel's, or its size cannot be a rail's.
    """
    _check(outline, design)
    at_least = _no_better_than_a_device(noise)
    points = _points(outline, bridged)
    fitted = _fitted(outline, points, design, noise=at_least)
    result = fitted
    if datum == "given":
        result = _as_given(outline, points, design, noise=at_least)
    traps, notes = _what_the_datum_shows(points, fitted, design, noise=at_least, datum=datum)
    wrong = disagreement(
        fitted, outline, fit=lambda other: _mirror_fitted(other, bridged, design, noise=at_least)
    )
    if wrong is not None:
        traps = _refusing(traps, wrong)
        if fitted.confidence < LEAST_AGREEING:
            result = held_by_nothing(_by_running_surface(outline, design), share=fitted.confidence)
    lean = (
        ()
        if wrong
        else lean_traps(
            fitted.turn_rad, held=fitted.turn, frame=outline.frame, given=datum == "given"
        )
    )
    return replace(
        result,
        traps=(*traps, *lean),
        notes=(*result.notes, *notes),
        bridged=bridged,
    )


def _fitted(outline: Outline, points: Points, design: Drawing, *, noise: Noise) -> Aligned:
    """Return the outline aligned by its unworn parts, as far as it shows any."""
    placed = place(points, design, scale_mm=noise.sigma_mm)
    if placed is None:
        return _by_running_surface(outline, design)
    return _held(outline, what_is_held(placed, points, design, noise=noise), design)


def _mirror_fitted(
    mirrored: Outline, bridged: Flags | None, design: Drawing, *, noise: Noise
) -> Aligned:
    points = _points(mirrored, None if bridged is None else bridged[::-1])
    return _fitted(mirrored, points, design, noise=noise)


def _refusing(traps: tuple[Trap, ...], wrong: Trap) -> tuple[Trap, ...]:
    """Return the traps with what makes the outline useless: a device's fault, if one is seen."""
    if wrong.name != "another-design" or not any(trap.name in DEVICE_FAULTS for trap in traps):
        return (*traps, wrong)
    return tuple(
        replace(trap, severity="refuse") if trap.name in DEVICE_FAULTS else trap for trap in traps
    )


def _what_the_datum_shows(
    points: Points, fitted: Aligned, design: Drawing, *, noise: Noise, datum: Datum
) -> tuple[tuple[Trap, ...], tuple[str, ...]]:
    """Return the device's faults that the unworn parts give away, and what they cannot show."""
    laid = points.moved(fitted.dy_mm, fitted.dz_mm, turn_rad=fitted.turn_rad)
    traps, notes = fault_traps(section_faults(laid, design, noise=noise))
    if datum == "fit":
        return traps, notes
    biased, blind = bias_traps(fitted)
    return (*traps, *biased), (*notes, *blind)


def _points(outline: Outline, bridged: Flags | None) -> Points:
    """Return the measured points of an outline, no closer than devices tell apart."""
    kept = np.ones(outline.y_mm.shape, dtype=bool) if bridged is None else ~bridged
    points = points_of(outline.y_mm[kept], outline.z_mm[kept])
    return points.every(max(1, round(FINEST_STEP_MM / float(np.median(np.diff(points.arc_mm))))))


def _check(outline: Outline, design: Drawing) -> None:
    for what, kind in (("outline", outline.kind), ("design", design.kind)):
        if kind != "rail":
            raise OutlineRefused(
                "wrong-kind",
                f"the {what} of a {kind} where a rail belongs",
                allowed="the outline and the design of a rail",
                todo="state the kind that was measured",
            )
    width = float(np.ptp(outline.y_mm))
    if not SMALLEST_MM <= width <= LARGEST_MM:
        raise OutlineRefused(
            "wrong-unit",
            f"a rail {width:.4g} mm wide",
            allowed=f"{SMALLEST_MM:g} to {LARGEST_MM:g} mm from one side to the other",
            todo="check the unit; a head must be measured on both sides",
        )


def _no_better_than_a_device(noise: Noise) -> Noise:
    """Return the noise, or that of the best device if it is lower."""
    if noise.sigma_mm >= LEAST_NOISE_MM:
        return noise
    part = NoisePart(variance_mm2=LEAST_NOISE_MM**2, length_mm=LEAST_NOISE_LENGTH_MM)
    return Noise(parts=(part,))


def _held(outline: Outline, placement: Placement, design: Drawing) -> Aligned:
    """Return the alignment with what holds each movement."""
    fit, pose = placement.fit, placement.fit.pose
    if not placement.free:
        return _by_running_surface(outline, design)
    across, up, turn = holders(placement, design)
    moved = outline.moved(dy_mm=pose.dy_mm, dz_mm=pose.dz_mm, turn_rad=pose.turn_rad)
    confidence = _confidence(fit, design, scale_mm=placement.noise.sigma_mm)
    return Aligned(
        outline=replace(moved, frame="rail-axis" if turn.anchored else outline.frame),
        dy_mm=pose.dy_mm,
        dz_mm=pose.dz_mm,
        turn_rad=pose.turn_rad,
        across=across,
        up=up,
        turn=turn,
        confidence=confidence,
        notes=(*placement.notes, *_reservations(up, confidence)),
        covariance=_as_rows(placement.covariance),
    )


def _reservations(up: Held, confidence: float) -> tuple[str, ...]:
    """Return what a reader must know of how the rail was placed."""
    notes = []
    if up.by == FIELD_FLANK:
        notes.append(
            "the height rests on the corner above the field flank alone; metal worn or moved there "
            "is not in its uncertainty"
        )
    if confidence < LEAST_CONFIDENCE:
        notes.append(f"only {confidence:.0%} of the unworn parts agree with the fit")
    return tuple(notes)


def _confidence(fit: Fit, design: Drawing, *, scale_mm: float) -> float:
    """Return the share of the datum's arc that agrees within three times the noise."""
    near = match(fit.points, unworn_parts(design), capture_mm=3.0)
    agrees = near.held & (np.abs(near.outward_mm) <= 3.0 * max(scale_mm, LEAST_SCALE_MM))
    whole = float(fit.points.share_mm[near.held].sum())
    return float(fit.points.share_mm[agrees].sum()) / whole if whole > 0.0 else 0.0


def _as_rows(covariance: Floats) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(a), float(b), float(c)) for a, b, c in covariance)


def _by_running_surface(outline: Outline, design: Drawing) -> Aligned:
    """Return the outline set by its top and the middle of its head, held by nothing."""
    top = float(outline.z_mm.max())
    head = outline.z_mm > top - 14.0
    middle = 0.5 * float(outline.y_mm[head].max() + outline.y_mm[head].min())
    moved = outline.moved(dy_mm=-middle, dz_mm=-top)
    lifted = moved.moved(dz_mm=-head_of(moved, depth_mm=_head_depth_mm(design)).top_mm)
    unheld = [Held(by="", uncertainty=math.inf, reason=reason) for reason in NOT_HELD]
    return Aligned(
        outline=lifted,
        dy_mm=-middle,
        dz_mm=float(lifted.z_mm[0] - outline.z_mm[0]),
        turn_rad=0.0,
        across=unheld[ACROSS],
        up=unheld[UP],
        turn=unheld[TURN],
        confidence=0.0,
        notes=("the rail was set by its top and the middle of its head",),
    )


def _head_depth_mm(design: Drawing) -> float:
    return -max(design.pieces[0].start[1], design.pieces[-1].end[1])


def _as_given(outline: Outline, points: Points, design: Drawing, *, noise: Noise) -> Aligned:
    """Return the outline as its file places it; only an inclination is turned out."""
    by_file, note = held_by_origin(), ORIGIN_UNSURE
    if outline.frame == "rail-axis":
        fit = settle(Pose(), points, unworn_parts(design), scale_mm=noise.sigma_mm, free=())
        return Aligned(
            outline=outline,
            dy_mm=0.0,
            dz_mm=0.0,
            turn_rad=0.0,
            across=by_file,
            up=by_file,
            turn=by_file,
            confidence=_confidence(fit, design, scale_mm=noise.sigma_mm),
            notes=(note,),
            covariance=_as_rows(np.zeros((3, 3))),
        )
    return _inclination_turned_out(outline, points, design, noise=noise, held=by_file, note=note)


def _inclination_turned_out(
    outline: Outline, points: Points, design: Drawing, *, noise: Noise, held: Held, note: str
) -> Aligned:
    """Return an outline in the track plane turned upright about the file's origin."""
    fits = [
        settle(
            Pose(turn_rad=-lean),
            points,
            unworn_parts(design),
            scale_mm=noise.sigma_mm,
            free=(TURN,),
        )
        for lean in (0.0, 1.0 / 40.0, 1.0 / 20.0)
    ]
    poses = np.concatenate([one.pose.row for one in fits])
    fit = fits[int(np.argmax(merits(poses, points, design)))]
    covariance = covariance_of(fit, (TURN,), noise)
    if covariance is None or not within_limits(covariance, (TURN,)):
        raise OutlineRefused(
            "inclination-unknown",
            "a track-plane outline in which nothing shows how the rail leans",
            allowed="a field flank, web or foot of some length, or a rail-axis outline",
            todo="align it by fit, or measure farther down",
        )
    placement = Placement(fit=fit, free=(TURN,), covariance=covariance, noise=noise, notes=(note,))
    return replace(_held(outline, placement, design), across=held, up=held)
