"""Verdicts on wheelsets on straight track: conicity and rolling line."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from tapertread.limits import Verdict, Word, judge, judge_between
from tapertread.shapes.measured import Measured
from tapertread.study.encounters import Encounter, Meeting, meet, turned_about
from tapertread.study.ground import (
    CONICITY_UNCERTAINTY,
    DIFFERENCE_UNCERTAINTY_MM,
    NOMINAL_GAUGE_BAND_MM,
    Ground,
    speed_of,
)
from tapertread.study.held import finding
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.states import SectionOnHand, WheelsetOnHand


def conicity_finding(
    subject: Subject, wheelset: WheelsetOnHand, met: Sequence[Encounter], ground: Ground
) -> Finding | None:
    """Return the verdict on conicity, or ``None`` where the limit sets in use say nothing of it."""
    usual = _usual_conicity(_own_straights(met, ground))
    if usual is None or "equivalent_conicity" not in ground.limits.quantities:
        return None
    return _conicity_on(subject, wheelset, usual, ground)


def conicity_of(wheelset: WheelsetOnHand, ground: Ground) -> Measured | None:
    """Return a wheelset's usual conicity, judged or not; ``None`` without a straight."""
    met = [one for one in ground.crossing.by_wheelset.get(wheelset.name, ()) if not one.problem]
    usual = _usual_conicity(_own_straights(met, ground))
    return None if usual is None else _conicity_measured(usual, ground.sections[usual.section])


def _own_straights(met: Sequence[Encounter], ground: Ground) -> list[Encounter]:
    """Return the straights on which a wheelset answers for itself, or all where there is none."""
    straight = [one for one in met if one.steering is None]
    return [one for one in straight if one.section not in ground.common_cause] or straight


def _usual_conicity(met: Sequence[Encounter]) -> Encounter | None:
    """Return the encounter of middle conicity; where most have none, the first of those.

    A single high value belongs to the section, which is judged by all that runs there; a wheelset
    is judged by what it does on the line [trade-practice].
    """
    known = sorted(
        (one for one in met if one.conicity is not None), key=lambda one: one.conicity or 0.0
    )
    unknown = [one for one in met if one.conicity is None]
    if len(unknown) > len(known):
        return unknown[0]
    return known[len(known) // 2] if known else None


def _conicity_on(
    subject: Subject, wheelset: WheelsetOnHand, met: Encounter, ground: Ground
) -> Finding:
    section = ground.sections[met.section]
    speed = speed_of(wheelset, section)
    choice = ground.limits.for_quantity("equivalent_conicity", speed_kmh=speed)
    measured = _conicity_measured(met, section)
    verdict = judge(measured, choice)
    values: dict[str, float | str | None] = {
        "section": met.section,
        "amplitude_mm": met.amplitude_mm,
        "conicity": met.conicity,
        "speed_kmh": speed,
        "limit_conicity": None if verdict.limit is None else verdict.limit.value,
        "why_not": (met.conicity_reason or verdict.why_not).removeprefix("not assessed: "),
    }
    code = _conicity_code(met, verdict.word)
    if section.record.gauge_known == "nominal" and met.conicity is not None:
        verdict, values["low_conicity"], values["high_conicity"] = _over_nominal_gauge(
            wheelset, met, ground
        )
        code = "nominal-conicity-band" if verdict.word is Word.AGAIN else code
    return finding(
        subject,
        "equivalent_conicity",
        verdict=verdict,
        reason=Reason(code=code, values=values),
        system=ground.system,
        against=met.section,
    )


def _conicity_measured(met: Encounter, section: SectionOnHand) -> Measured:
    if met.conicity is None:
        return Measured.missing("", met.conicity_reason.removeprefix("not assessed: "))
    gauge = section.record.gauge_uncertainty_mm or 0.0
    return Measured.of(
        met.conicity,
        "",
        outlines=CONICITY_UNCERTAINTY,
        gauge=met.conicity * gauge / (2.0 * met.amplitude_mm),
    )


def _conicity_code(met: Encounter, word: Word) -> str:
    if met.conicity is None:
        return "conicity-diverges" if "diverges" in met.conicity_reason else "conicity-undefined"
    if word is Word.SOUND:
        return "conicity-sound"
    return "conicity-undefined" if word is Word.NOT_ASSESSED else "conicity-too-high"


def _over_nominal_gauge(
    wheelset: WheelsetOnHand, met: Encounter, ground: Ground
) -> tuple[Verdict, float, float]:
    """Return the verdict over the band in which a nominal gauge may lie, and its ends.

    A gauge so tight that the wheelset would not fit is none that it runs on, and is left out.
    """
    section = ground.sections[met.section]
    shape, track = wheelset.shape(), section.track(gauge_rule=ground.gauge_rule)
    if shape is None or track is None or met.conicity is None:
        raise AssertionError(met)
    wheels = turned_about(shape) if met.turned else shape
    known = [met.conicity]
    for off in (-NOMINAL_GAUGE_BAND_MM, NOMINAL_GAUGE_BAND_MM):
        one = meet(
            Meeting(
                wheelset=met.wheelset,
                section=met.section,
                wheels=wheels,
                track=replace(track, gauge_mm=track.gauge_mm + off),
                curve_radius_m=met.curve_radius_m,
            )
        )
        known += [] if one.conicity is None else [one.conicity]
    choice = ground.limits.for_quantity(
        "equivalent_conicity", speed_kmh=speed_of(wheelset, section)
    )
    low, high = min(known), max(known)
    ends = (
        Measured.of(low, "", outlines=CONICITY_UNCERTAINTY),
        Measured.of(high, "", outlines=CONICITY_UNCERTAINTY),
    )
    return judge_between(ends, choice), low, high


def line_finding(
    subject: Subject, wheelset: WheelsetOnHand, met: Sequence[Encounter], ground: Ground
) -> Finding | None:
    """Return the verdict on how far off centre it rolls; ``None`` without a rolling line."""
    straight = [one for one in met if one.play_used_share is not None]
    if not straight:
        return None
    usual = sorted(straight, key=lambda one: one.play_used_share or 0.0)[len(straight) // 2]
    share = usual.play_used_share or 0.0
    per_mm = share / max(abs(usual.line_mm or 0.0), 1e-3)
    diameter = wheelset.record.diameter_uncertainty_mm or 0.0
    moved = DIFFERENCE_UNCERTAINTY_MM + 0.5 * math.sqrt(2.0) * diameter
    slope = 2.0 * max(usual.conicity or 0.1, 0.02)
    measured = Measured.of(share, "", outlines=per_mm * moved / slope)
    verdict = judge(measured, ground.limits.for_quantity("play_used_share"))
    return finding(
        subject,
        "play_used_share",
        verdict=verdict,
        reason=_line_reason(wheelset, usual, verdict.word),
        system=ground.system,
        against=usual.section,
    )


def _line_reason(wheelset: WheelsetOnHand, met: Encounter, word: Word) -> Reason:
    line = met.line_mm or 0.0
    toward = (
        ("right" if line > 0.0 else "left")
        if not met.turned
        else ("left" if line > 0.0 else "right")
    )
    left, right = wheelset.record.left_diameter_mm, wheelset.record.right_diameter_mm
    difference = 0.0 if left is None or right is None else right - left
    by_diameter = difference != 0.0 and ("left" if difference > 0.0 else "right") == toward
    values: dict[str, float | str | None] = {
        "rolling_line_mm": abs(line),
        "flange_side": toward,
        "smaller_side": "left" if difference > 0.0 else "right",
        "diameter_difference_mm": abs(difference),
        "clearance_mm": None
        if met.clearance_mm is None
        else max(0.5 * met.clearance_mm - abs(line), 0.0),
    }
    if word in (Word.SOUND, Word.WATCH):
        return Reason(code="off-centre-within-play", values=values)
    return Reason(
        code="off-centre-by-diameter" if by_diameter else "off-centre-by-shape", values=values
    )
