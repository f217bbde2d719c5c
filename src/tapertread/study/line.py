"""Verdicts on sections of line: what their rails allow, and what the fleet does there."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from tapertread.limits import Verdict, Word, judge
from tapertread.railway import ContactBand
from tapertread.shapes.measured import Measured
from tapertread.study.curving import LEAST_ASKED_MM
from tapertread.study.encounters import Encounter, worst_steering
from tapertread.study.ground import (
    CONICITY_UNCERTAINTY,
    DIFFERENCE_UNCERTAINTY_MM,
    Ground,
    conicity_level,
    gauge_part_mm,
    high_conicity_share,
    worst_conicities,
)
from tapertread.study.held import finding
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.states import SectionOnHand

BAND_READING_MM = 2.0
"""Standard uncertainty of a contact band read by eye with a rule (common practice, no source)."""


NEAR_LEVEL = CONICITY_UNCERTAINTY
"""Conicities this near to a level may lie on either side of it; half of them count as the expanded
uncertainty of a share."""


def section_running(
    section: SectionOnHand, ground: Ground, *, bands: Iterable[ContactBand]
) -> list[Finding]:
    """Return the running verdicts of one section."""
    subject = Subject(kind="section", asset=section.name, group=line_name(section))
    met = [one for one in ground.crossing.by_section.get(section.name, ()) if not one.problem]
    found = [_rails(subject, section, ground), _fleet_conicity(subject, section, met, ground)]
    found += [_band(section, band, met, ground) for band in bands if band.section == section.name]
    return [one for one in found if one is not None]


def line_name(section: SectionOnHand) -> str:
    """Return line and track as a person names them."""
    return f"{section.record.line} {section.record.track}"


def flange_share(met: Sequence[Encounter]) -> float | None:
    """Return the share of wheelsets that need their flange in a curve; ``None`` off curves.

    A wheelset that may stand either way round counts by its worse way.
    """
    free: dict[str, bool] = {}
    for one in met:
        if one.steering is not None:
            now = one.steering.flange_free_by_shape
            free[one.wheelset] = free.get(one.wheelset, True) and now
    return None if not free else 1.0 - sum(free.values()) / len(free)


def _usual_design(section: SectionOnHand, ground: Ground) -> str | None:
    """Return the wheel design that most new-wheel encounters of this section have."""
    names = Counter(name for name, where in ground.crossing.new_wheels if where == section.name)
    return names.most_common(1)[0][0] if names else None


def _rails(subject: Subject, section: SectionOnHand, ground: Ground) -> Finding | None:
    name = _usual_design(section, ground)
    if name is None:
        return None
    worn = ground.crossing.new_wheels.get((name, section.name))
    new = ground.crossing.all_new.get((name, section.name))
    if worn is None or new is None or worn.steering is None or new.steering is None:
        return None
    needed = new.steering.needed_difference_mm
    given = max(new.steering.available_tread_mm, LEAST_ASKED_MM)
    asked = min(needed, given)
    share = min(worn.steering.available_tread_mm / asked, 1.0)
    measured = Measured.of(
        share,
        "",
        outlines=DIFFERENCE_UNCERTAINTY_MM / asked,
        leap=worn.leap_mm / asked,
        play=0.5 * gauge_part_mm(section) * worn.slope / asked,
    )
    verdict = judge(measured, ground.limits.for_quantity("rail_steering_share"))
    code = "rail-steers-like-new" if verdict.word is Word.SOUND else "rail-takes-steering"
    reason = Reason(
        code=code,
        values={
            "section": section.name,
            "curve_radius_m": section.curve_radius_m,
            "available_difference_mm": worn.steering.available_tread_mm,
            "new_difference_mm": given,
        },
    )
    worst = worst_steering(ground.crossing.by_section.get(section.name, ()))
    return finding(
        subject,
        "rail_steering_share",
        verdict=verdict,
        reason=reason,
        system=ground.system,
        against="" if worst is None else worst.wheelset,
    )


def _fleet_conicity(
    subject: Subject, section: SectionOnHand, met: Sequence[Encounter], ground: Ground
) -> Finding | None:
    share = high_conicity_share(met, section, ground)
    level = conicity_level(section, ground)
    if share is None or level is None:
        return None
    values = worst_conicities(met)
    near = sum(abs(value - level) < NEAR_LEVEL for value in values) / len(values)
    measured = Measured.of(share, "", near_the_level=0.25 * near)
    verdict = judge(measured, ground.limits.for_quantity("high_conicity_share"))
    return finding(
        subject,
        "high_conicity_share",
        verdict=verdict,
        reason=Reason(
            code=(
                "section-conicity-share"
                if section.name in ground.common_cause
                else "section-conicity-some"
            ),
            values={
                "section": section.name,
                "high_share": share,
                "speed_kmh": section.speed_kmh,
            },
        ),
        system=ground.system,
        against=_highest(met),
    )


def _highest(met: Sequence[Encounter]) -> str:
    """Return the wheelset of the highest conicity on a straight section."""
    known = [one for one in met if one.conicity is not None]
    return max(known, key=lambda one: one.conicity or 0.0).wheelset if known else ""


def _band(
    section: SectionOnHand, band: ContactBand, met: Sequence[Encounter], ground: Ground
) -> Finding | None:
    """Return whether the band seen on a rail lies where contact was computed: the trust meter."""
    places = [one.rail_place_mm[band.side] for one in met if one.rail_place_mm is not None]
    if not places or band.campaign != section.record.campaign:
        return None
    low, high = min(places), max(places)
    away = max(low - band.centre_mm, band.centre_mm - high, 0.0)
    measured = Measured.of(away, "mm", reading=BAND_READING_MM)
    choice = ground.limits.for_quantity("band_offset_mm")
    verdict = judge(measured, choice)
    agrees = verdict.word is Word.SOUND
    values: Mapping[str, float | str | None] = {
        "side": band.side,
        "section": section.name,
        "offset_mm": away,
        "tolerance_mm": choice[0].value,
    }
    return finding(
        Subject(kind="rail", asset=section.name, side=band.side, group=line_name(section)),
        "band_offset_mm",
        verdict=verdict,
        reason=Reason(code="band-agrees" if agrees else "band-disagrees", values=dict(values)),
        system=ground.system,
    )


def not_judged(
    subject: Subject, quantity: str, *, reason: Reason, why: str, ground: Ground
) -> Finding:
    """Return a finding that only a competent person can judge."""
    verdict = Verdict(
        word=Word.NOT_ASSESSED, measured=Measured.missing("", why), limit=None, why_not=why
    )
    return finding(subject, quantity, verdict=verdict, reason=reason, system=ground.system)
