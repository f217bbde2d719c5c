"""Carrying a wheel outline into its design's axes, by the parts that rails do not wear.

The flange back and the rim fix a wheel across and its turn. Height has two meanings that are kept
apart: ``z = 0`` is the *worn* tread at the tape line, from which all flange measures start; how far
that tread has sunk below the design's is known only where flange tip or rim chamfer are seen, for
they do not wear, or from the file's own origin [trade-practice].
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from tapertread.errors import OutlineRefused
from tapertread.shapes.alignment import (
    ORIGIN_UNSURE,
    THE_ORIGIN,
    Aligned,
    Datum,
    Held,
    held_by_origin,
)
from tapertread.shapes.cleaning.chain import Cleaned
from tapertread.shapes.drawing.curve import Drawing
from tapertread.shapes.outline import Floats
from tapertread.shapes.wheels.datum import (
    BACK,
    CHAMFER,
    PART_NAMES,
    TIP,
    WORN,
    WheelDatum,
    wheel_datum,
)
from tapertread.shapes.wheels.fit import WheelFit, fit_wheel
from tapertread.shapes.wheels.readings import Place, Running

HELD_WITHIN_MM, HELD_WITHIN_RAD = 0.5, math.radians(0.6)
LEAST_HOLD_MM = 2.0
LEAST_CONFIDENCE = 0.2


def align_wheel(cleaned: Cleaned, *, design: Drawing, datum: Datum = "fit") -> Aligned:
    """Return a cleaned wheel outline in its design's axes, z = 0 at the worn tread's tape line.

    Parameters
    ----------
    cleaned : Cleaned
        With its noise; at any origin and tilted by up to about 20° where the datum is fitted.
    design : Drawing
        The wheel when new.
    datum : {"fit", "given"}
        ``fit``: by the unworn parts; ``given``: the file's origin is the design's.

    Returns
    -------
    Aligned
        Where nothing unworn holds a movement, `Held` says so and the outline is set by its flange
        tip and the lie of its tread.

    Raises
    ------
    OutlineRefused
        If the outline or the design is a rail's.
    """
    return align_on(cleaned, design=design, datum=datum)[0]


def align_on(
    cleaned: Cleaned, *, design: Drawing, datum: Datum = "fit"
) -> tuple[Aligned, WheelFit]:
    """Return the alignment with the fit to the unworn parts behind it, for whoever judges both."""
    _check(cleaned, design)
    prepared = wheel_datum(design)
    points = np.column_stack([cleaned.outline.y_mm, cleaned.outline.z_mm])
    fit = fit_wheel(points[~cleaned.bridged], prepared, noise=cleaned.noise)
    aligned = _as_given(cleaned, fit) if datum == "given" else _fitted(cleaned, fit, prepared)
    return replace(aligned, bridged=cleaned.bridged), fit


def _check(cleaned: Cleaned, design: Drawing) -> None:
    for what, kind in (("outline", cleaned.outline.kind), ("design", design.kind)):
        if kind != "wheel":
            raise OutlineRefused(
                "wrong-kind",
                f"the {what} of a {kind} where a wheel belongs",
                allowed="the outline and the design of a wheel",
                todo="state the kind that was measured",
            )


def _fitted(cleaned: Cleaned, fit: WheelFit, datum: WheelDatum) -> Aligned:
    outline = replace(cleaned.outline, tape_line_mm=datum.tape_line_mm)
    pose = fit.pose
    moved = outline.moved(dy_mm=pose.dy_mm, dz_mm=pose.dz_mm, turn_rad=pose.turn_rad)
    tape = Running.of(np.column_stack([moved.y_mm, moved.z_mm])).tape()
    sunk = None if tape is None else tape.z_mm
    return Aligned(
        outline=moved.moved(dz_mm=-(sunk or 0.0)),
        dy_mm=pose.dy_mm,
        dz_mm=pose.dz_mm - (sunk or 0.0),
        turn_rad=pose.turn_rad,
        across=_across(fit),
        up=_up(cleaned, tape),
        turn=_turn(fit),
        confidence=fit.confidence,
        notes=_notes(fit),
        covariance=_rows(fit.covariance),
        tread_height=_tread_height(cleaned, fit, tape),
        tread_height_mm=sunk,
    )


def _as_given(cleaned: Cleaned, fit: WheelFit) -> Aligned:
    """Return the outline as its file places it, only its worn tread set to z = 0."""
    tape = Running.of(np.column_stack([cleaned.outline.y_mm, cleaned.outline.z_mm])).tape()
    sunk = None if tape is None else tape.z_mm
    origin = held_by_origin()
    noise = 0.0 if tape is None else float(cleaned.point_noise_mm[tape.index])
    return Aligned(
        outline=cleaned.outline.moved(dz_mm=-(sunk or 0.0)),
        dy_mm=0.0,
        dz_mm=-(sunk or 0.0),
        turn_rad=0.0,
        across=origin,
        up=_up(cleaned, tape),
        turn=origin,
        confidence=fit.confidence,
        notes=(ORIGIN_UNSURE,),
        covariance=_rows(np.zeros((3, 3))),
        tread_height=Held(by=THE_ORIGIN, uncertainty=noise),
        tread_height_mm=sunk,
    )


def _rows(covariance: Floats) -> tuple[tuple[float, float, float], ...]:
    return tuple((float(a), float(b), float(c)) for a, b, c in covariance)


def _named(fit: WheelFit, parts: tuple[int, ...] = ()) -> str:
    wanted = parts or tuple(range(len(PART_NAMES)))
    return " and ".join(PART_NAMES[part] for part in wanted if fit.arc_of(part) > LEAST_HOLD_MM)


def _unsure(fit: WheelFit, which: int) -> float:
    value = float(fit.covariance[which, which])
    return math.sqrt(value) if value >= 0.0 else math.inf


def _across(fit: WheelFit) -> Held:
    unsure = _unsure(fit, 0)
    reason = _why_not(fit) or (
        "" if unsure <= HELD_WITHIN_MM else "no flange back, flange tip or rim holds it across"
    )
    return Held(by="" if reason else _named(fit), uncertainty=unsure, reason=reason)


def _turn(fit: WheelFit) -> Held:
    unsure = _unsure(fit, 2)
    reason = _why_not(fit) or (
        "" if unsure <= HELD_WITHIN_RAD else "too little of flange back and rim is seen to level it"
    )
    return Held(by="" if reason else _named(fit), uncertainty=unsure, reason=reason)


def _why_not(fit: WheelFit) -> str:
    """Return why the fit holds nothing at all, or nothing."""
    if fit.confidence < LEAST_CONFIDENCE:
        return (
            f"only {fit.confidence:.0%} of flange back, tip and rim agree with the design: "
            "another design, or parts worn that should not be"
        )
    return ""


def _up(cleaned: Cleaned, tape: Place | None) -> Held:
    if tape is None:
        return Held(by="", uncertainty=math.inf, reason="the outline has no point at the tape line")
    return Held(by="tape line", uncertainty=float(cleaned.point_noise_mm[tape.index]))


def _tread_height(cleaned: Cleaned, fit: WheelFit, tape: Place | None) -> Held:
    """Return what says how far the tread has sunk at the tape line."""
    if tape is None:
        return _up(cleaned, tape)
    by = _named(fit, (TIP, CHAMFER))
    if _why_not(fit) or not by:
        reason = _why_not(fit) or (
            "neither flange tip nor rim chamfer is seen as drawn; state the diameters when new "
            "and now instead"
        )
        return Held(by="", uncertainty=math.inf, reason=reason)
    slope = tape.tangent[1] / tape.tangent[0]
    lever = np.array([-slope, 1.0, 0.0])
    noise = float(cleaned.point_noise_mm[tape.index])
    unsure = math.sqrt(float(lever @ fit.covariance @ lever) + noise * noise)
    return Held(by=by, uncertainty=unsure)


def _notes(fit: WheelFit) -> tuple[str, ...]:
    seen = {int(part) for part in np.unique(fit.matched.part) if part != WORN}
    notes = [
        f"{PART_NAMES[part]} stands elsewhere than the rest foretells and holds nothing"
        for part in sorted(fit.without & seen)
    ]
    if BACK not in seen:
        notes.append("the flange back was not seen: thickness counts from that of the design")
    elif fit.arc_of(BACK) <= LEAST_HOLD_MM:
        notes.append("the flange back does not hold the wheel; thickness rests on tip and rim")
    return tuple(notes)
