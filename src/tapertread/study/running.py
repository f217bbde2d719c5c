"""Verdicts on how shapes run: steering in curves, conicity and rolling line on straight track."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from tapertread.contact import Steering
from tapertread.contact.records import GaugeRule
from tapertread.limits import LimitSet, Verdict, Word, judge, judge_between
from tapertread.shapes.measured import Measured
from tapertread.study.encounters import Encounter, Meeting, meet, turned_about
from tapertread.study.held import finding
from tapertread.study.meetings import Crossing
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.states import NO_DIAMETER, SectionOnHand, WheelsetOnHand
from tapertread.units import UnitSystem

DIFFERENCE_UNCERTAINTY_MM = 0.07
"""Standard uncertainty that measured outlines leave in a rolling radius difference away from jumps;
the tests hold the invented railway's outlines to it (its noise is up to 0.04 mm)."""

CONICITY_UNCERTAINTY = 0.03
"""Standard uncertainty that measured outlines leave in an equivalent conicity at the amplitudes of
the standard, 2.5 to 4 mm: jumps that noise moves count more than noise itself. The tests hold the
invented railway's outlines to it."""

TELLING_SHARE = 0.25
"""A curve in which new treads give less than this share of what is needed says nothing about worn
ones: rails, gauge or the curve itself ask for the flange (common practice, no source)."""

LEAST_ASKED_MM = 1e-6

COMMON_CAUSE_SHARE = 0.5
"""Where more of the fleet than this exceeds a level, the section is the cause and not a wheelset
(common practice, no source)."""

NOMINAL_GAUGE_BAND_MM = 5.0
"""A gauge that is only nominal may lie this far off (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """What all running verdicts of one survey share."""

    crossing: Crossing
    sections: Mapping[str, SectionOnHand]
    limits: LimitSet
    system: UnitSystem
    gauge_rule: GaugeRule
    common_cause: frozenset[str] = frozenset()
    """Sections whose rails or gauge, and no single wheelset, are the cause of high conicity."""


def with_common_causes(ground: Ground) -> Ground:
    """Return the ground with the sections that are the common cause of high conicity."""
    causes = frozenset(
        name
        for name, met in ground.crossing.by_section.items()
        if _more_than_half(met, ground.sections[name], ground)
        or _even_new_wheels(ground.sections[name], ground)
    )
    return replace(ground, common_cause=causes)


def _more_than_half(met: Sequence[Encounter], section: SectionOnHand, ground: Ground) -> bool:
    share = high_conicity_share(met, section, ground)
    return share is not None and share > COMMON_CAUSE_SHARE


def _even_new_wheels(section: SectionOnHand, ground: Ground) -> bool:
    """Return whether new wheels of a design that runs here exceed the level too."""
    level = conicity_level(section, ground)
    return level is not None and any(
        one.conicity is not None and one.conicity > level
        for (_design, where), one in ground.crossing.new_wheels.items()
        if where == section.name
    )


def conicity_level(section: SectionOnHand, ground: Ground) -> float | None:
    """Return the lowest upper level of conicity at a section's speed, or ``None``."""
    if section.speed_kmh is None:
        return None
    levels = ground.limits.for_quantity("equivalent_conicity", speed_kmh=section.speed_kmh)
    return min((one.value for one in levels if not one.is_lower), default=None)


def worst_conicities(met: Sequence[Encounter]) -> list[float]:
    """Return each wheelset's conicity on a straight section, the worse way round."""
    worst: dict[str, float] = {}
    for one in met:
        if one.steering is None and one.conicity is not None:
            worst[one.wheelset] = max(worst.get(one.wheelset, 0.0), one.conicity)
    return list(worst.values())


def high_conicity_share(
    met: Sequence[Encounter], section: SectionOnHand, ground: Ground
) -> float | None:
    """Return the share of wheelsets above the level at a straight section, or ``None``."""
    level, values = conicity_level(section, ground), worst_conicities(met)
    if level is None or not values:
        return None
    return sum(value > level for value in values) / len(values)


def wheelset_running(wheelset: WheelsetOnHand, ground: Ground) -> list[Finding]:
    """Return the running verdicts of one wheelset; one that says why, where it has no shape."""
    subject = Subject(kind="wheelset", asset=wheelset.name, group=wheelset.vehicle.fleet)
    met = [one for one in ground.crossing.by_wheelset.get(wheelset.name, ()) if not one.problem]
    if not met:
        return [_no_running(subject, wheelset, ground)]
    found = (
        _steering(subject, wheelset, met, ground),
        _conicity(subject, wheelset, met, ground),
        _rolling_line(subject, wheelset, met, ground),
    )
    return [one for one in found if one is not None]


def _no_running(subject: Subject, wheelset: WheelsetOnHand, ground: Ground) -> Finding:
    """Return the finding that says why a wheelset meets no track."""
    reason = _why_nowhere(wheelset, ground)
    why = str(reason.values["why_not"])
    verdict = Verdict(
        word=Word.NOT_ASSESSED, measured=Measured.missing("", why), limit=None, why_not=why
    )
    return finding(
        subject, "tread_steering_share", verdict=verdict, reason=reason, system=ground.system
    )


def _why_nowhere(wheelset: WheelsetOnHand, ground: Ground) -> Reason:
    why = wheelset.why_no_shape()
    code = "no-diameter" if why == NO_DIAMETER else "no-side-outline"
    if not why and wheelset.name in ground.crossing.nowhere:
        code, why = "no-service", "no line is named for its fleet"
    elif not why:
        met = ground.crossing.by_wheelset.get(wheelset.name, ())
        problems = [one.problem for one in met if one.problem]
        why = problems[0] if problems else "no section of the lines it runs can be met"
    return Reason(code=code, values={"why_not": why, "fleet": wheelset.vehicle.fleet})


@dataclass(frozen=True, slots=True, kw_only=True)
class _Curve:
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


def _curve(met: Encounter, wheelset: WheelsetOnHand, ground: Ground) -> _Curve | None:
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
    return _Curve(
        met=met,
        steering=met.steering,
        new_mm=new_mm,
        share=Measured.of(share, "", **{name: part / asked for name, part in parts.items()}),
    )


def _steering(
    subject: Subject, wheelset: WheelsetOnHand, met: Sequence[Encounter], ground: Ground
) -> Finding | None:
    curves = [curve for one in met if (curve := _curve(one, wheelset, ground))]
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


def gauge_part_mm(section: SectionOnHand) -> float:
    """Return the standard uncertainty of a section's gauge, mm; that of a nominal one is wide."""
    if section.record.gauge_known == "nominal":
        return 0.5 * NOMINAL_GAUGE_BAND_MM
    return section.record.gauge_uncertainty_mm or 0.0


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


def _steering_reason(curve: _Curve, verdict: Verdict, *, everywhere_free: bool) -> Reason:
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


def _conicity(
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
    speed = _speed_of(wheelset, section)
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
        "equivalent_conicity", speed_kmh=_speed_of(wheelset, section)
    )
    low, high = min(known), max(known)
    ends = (
        Measured.of(low, "", outlines=CONICITY_UNCERTAINTY),
        Measured.of(high, "", outlines=CONICITY_UNCERTAINTY),
    )
    return judge_between(ends, choice), low, high


def _speed_of(wheelset: WheelsetOnHand, section: SectionOnHand) -> float | None:
    """Return how fast a wheelset runs on a section, km/h: as line and vehicle allow."""
    speeds = [v for v in (section.speed_kmh, wheelset.vehicle.maximum_speed_kmh) if v is not None]
    return min(speeds, default=None)


def _rolling_line(
    subject: Subject, wheelset: WheelsetOnHand, met: Sequence[Encounter], ground: Ground
) -> Finding | None:
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
