"""Verdicts on wheelsets in curves: what their treads give of what is asked of them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tapertread.contact import Steering
from tapertread.limits import Verdict, Word, judge
from tapertread.shapes.measured import Measured
from tapertread.study.encounters import Encounter
from tapertread.study.ground import (
    DIFFERENCE_UNCERTAINTY_MM,
    Ground,
    gauge_part_mm,
)
from tapertread.study.held import finding
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.states import WheelsetOnHand

TELLING_SHARE = 0.25
"""A curve in which new treads give less than this share of what is needed says nothing about worn
ones: rails, gauge or the curve itself ask for the flange (common practice, no source)."""

LEAST_ASKED_MM = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True)
class Curve:
    """One curve that a wheelset meets: what it gives against what is asked or new treads give.

    The share ends at 1, where all that is asked is given, and at -1, where as much is given the
    wrong way.
    """

    met: Encounter
    steering: Steering
    new_mm: float
    share: Measured

    @property
    def tells(self) -> bool:
        """Whether new treads would steer here, so that worn ones can be blamed."""
        return self.new_mm >= TELLING_SHARE * self.steering.needed_difference_mm

    @property
    def at_best(self) -> float:
        """The share at the upper end of its expanded uncertainty."""
        return (self.share.value or 0.0) + (self.share.expanded or 0.0)


def curve_of(met: Encounter, wheelset: WheelsetOnHand, ground: Ground) -> Curve | None:
    """Return what a wheelset gives in one curve, or ``None`` where it runs straight."""
    if met.steering is None:
        return None
    needed = met.steering.needed_difference_mm
    new = ground.crossing.new_wheels.get((wheelset.vehicle.wheel_design, met.section))
    new_mm = needed
    if new is not None and new.steering is not None:
        new_mm = max(new.steering.available_tread_mm, LEAST_ASKED_MM)
    asked = min(needed, new_mm)
    share = max(min(met.steering.available_tread_mm / asked, 1.0), -1.0)
    parts = _share_parts(met, wheelset, ground)
    return Curve(
        met=met,
        steering=met.steering,
        new_mm=new_mm,
        share=Measured.of(share, "", **{name: part / asked for name, part in parts.items()}),
    )


def steering_finding(
    subject: Subject, wheelset: WheelsetOnHand, met: Sequence[Encounter], ground: Ground
) -> Finding | None:
    """Return the verdict on steering in the curve that says it surest; ``None`` without one."""
    curves = [curve for one in met if (curve := curve_of(one, wheelset, ground))]
    if not curves:
        return None
    telling = [one for one in curves if one.tells] or curves
    worst = min(telling, key=lambda one: (one.at_best, -one.steering.needed_difference_mm))
    verdict = judge(worst.share, ground.limits.for_quantity("tread_steering_share"))
    sharpest = max(curves, key=lambda one: one.steering.needed_difference_mm)
    free = all(one.steering.flange_free_by_shape for one in curves)
    if verdict.word is Word.SOUND:
        worst = sharpest
    return finding(
        subject,
        "tread_steering_share",
        verdict=verdict,
        reason=_steering_reason(worst, verdict, everywhere_free=free),
        system=ground.system,
        against=worst.met.section,
    )


def _share_parts(met: Encounter, wheelset: WheelsetOnHand, ground: Ground) -> dict[str, float]:
    """Return standard uncertainties of what treads give, mm: by outlines, play and diameters."""
    flanges = [
        wheelset.measures[f"flange_thickness_mm.{side}"].uncertainty
        for side in ("left", "right")
        if f"flange_thickness_mm.{side}" in wheelset.measures
    ]
    gauge = gauge_part_mm(ground.sections[met.section])
    play = 0.5 * math.sqrt(sum(part * part for part in (gauge, *flanges) if part is not None))
    diameter = wheelset.record.diameter_uncertainty_mm or 0.0
    return {
        "outlines": DIFFERENCE_UNCERTAINTY_MM,
        "leap": met.leap_mm,
        "play": met.slope * play,
        "diameters": math.sqrt(0.5) * diameter,
    }


def _steering_reason(curve: Curve, verdict: Verdict, *, everywhere_free: bool) -> Reason:
    word = verdict.word
    values: dict[str, float | str | None] = {
        "curve_radius_m": curve.steering.curve_radius_m,
        "section": curve.met.section,
        "needed_difference_mm": curve.steering.needed_difference_mm,
        "available_difference_mm": curve.steering.available_tread_mm,
        "available_with_root_mm": curve.steering.available_with_root_mm,
        "new_difference_mm": curve.new_mm,
        "why_not": verdict.why_not,
    }
    if word is Word.AGAIN:
        code = "curve-unsure"
    elif curve.steering.reversal is not None and curve.steering.available_tread_mm < -0.005:
        code = "curve-steers-wrong-way"
    elif word in (Word.ACT, Word.WATCH, Word.OUT):
        code = "curve-worn-treads"
    elif everywhere_free:
        code = "flange-free"
    else:
        code = "curve-like-new"
    return Reason(code=code, values=values)
