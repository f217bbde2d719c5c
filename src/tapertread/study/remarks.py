"""What stands beside wheelsets and sections and no limit judges: grease, fresh cuts, registers."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field

from tapertread.railway import FrictionReading, Lubricator, Treatment
from tapertread.railway.inclination import inclination_slope
from tapertread.shapes.measured import Measured
from tapertread.study.encounters import STRAIGHTER_THAN_M
from tapertread.study.records import Reason
from tapertread.study.sentences import sentence
from tapertread.study.states import SIDES, SectionOnHand, WheelsetOnHand, lean_of
from tapertread.survey import Survey
from tapertread.units import UnitSystem

GREASE_REACH_M = 1500.0
"""So far from its lubricator grease is found on a gauge face (common practice, no source)."""

DRY_FROM = 0.3
"""A gauge face with more friction than this is dry (common practice, no source)."""

SURE = 3.0
LEAST_LEAN_MRAD = 5.0
"""Leans nearer to the register than this are laid and worn so (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What the survey knows beside outlines, as remarks need it."""

    lubricators: tuple[tuple[Lubricator, float], ...] = ()
    """Each with its distance along its own track, m."""
    readings: tuple[FrictionReading, ...] = ()
    treatments: tuple[Treatment, ...] = ()
    dates: dict[str, str] = field(default_factory=dict)
    """Date of each campaign."""
    system: UnitSystem = "metric"


def surroundings_of(survey: Survey) -> Surroundings:
    """Return what a survey knows beside its outlines."""
    placed = [
        (one, route.place_of(one))
        for one in survey.lubricators
        if (route := survey.route_of(one)) is not None
    ]
    return Surroundings(
        lubricators=tuple(placed),
        readings=tuple(survey.friction_readings()),
        treatments=tuple(survey.treatments),
        dates={one.campaign: one.date for one in survey.campaigns},
        system=survey.config.units,
    )


def wheelset_remarks(wheelset: WheelsetOnHand, beside: Surroundings) -> tuple[str, ...]:
    """Return what must be known beside a wheelset's verdicts, as sentences."""
    fresh = _fresh(wheelset.name, wheelset, beside, kind="turning", what="wheelset")
    return tuple(sentence(reason, beside.system) for reason in fresh)


def section_remarks(section: SectionOnHand, beside: Surroundings) -> tuple[str, ...]:
    """Return what must be known beside a section's verdicts, as sentences."""
    reasons = [
        *_dry_lubricators(section, beside),
        *_dry_readings(section, beside.readings),
        *_lean(section),
        *_off_any_route(section),
        *_only_nominal(section),
        *_fresh(section.name, section, beside, kind="grinding", what="rail"),
    ]
    return tuple(sentence(reason, beside.system) for reason in reasons)


def _dry_lubricators(section: SectionOnHand, beside: Surroundings) -> Iterator[Reason]:
    """Yield the lubricators that should grease this curve and do not."""
    if section.distance_m is None or abs(section.curve_radius_m) > STRAIGHTER_THAN_M:
        return
    for one, distance in beside.lubricators:
        same_track = (one.line, one.track) == (section.record.line, section.record.track)
        near = abs(distance - section.distance_m) <= GREASE_REACH_M
        if same_track and near and one.kind == "gauge-face" and one.state in ("empty", "broken"):
            yield Reason(
                code="lubricator-not-working",
                values={"place": f"{one.km:g}", "state": one.state, "section": section.name},
            )


def _dry_readings(section: SectionOnHand, readings: Iterable[FrictionReading]) -> Iterator[Reason]:
    """Yield dry gauge faces of a curve that were read in the section's own campaign."""
    if abs(section.curve_radius_m) > STRAIGHTER_THAN_M:
        return
    for one in readings:
        here = (one.section, one.campaign) == (section.name, section.record.campaign)
        if here and one.place == "gauge-face" and one.friction > DRY_FROM:
            yield Reason(
                code="friction-dry",
                values={
                    "friction": f"{one.friction:.2f}",
                    "place": f"gauge face of the {one.side} rail",
                    "section": section.name,
                },
            )


def _lean(section: SectionOnHand) -> Iterator[Reason]:
    """Yield that both rails lean otherwise than the register says, where their outlines show it."""
    stated = 1000.0 * math.atan(inclination_slope(section.record.inclination))
    known = [
        (one.value - stated, one.uncertainty)
        for one in (lean_of(section.sides[side]) for side in SIDES)
        if one.value is not None and one.uncertainty is not None
    ]
    if len(known) < 2 or len({math.copysign(1.0, off) for off, _ in known}) > 1:
        return
    weights = [1.0 / unsure**2 for _, unsure in known]
    off = sum(w * off for w, (off, _) in zip(weights, known, strict=True)) / sum(weights)
    mean = Measured.of(off, "mrad", datum=math.sqrt(1.0 / sum(weights)))
    if abs(off) > max(LEAST_LEAN_MRAD, SURE * (mean.uncertainty or math.inf)):
        yield Reason(
            code="inclination-differs",
            values={
                "section": section.name,
                "lean_mrad": stated + off,
                "expanded_mrad": mean.expanded,
                "stated": section.record.inclination,
                "stated_mrad": stated,
            },
        )


def _off_any_route(section: SectionOnHand) -> Iterator[Reason]:
    if section.piece is None:
        yield Reason(code="section-off-route", values={"section": section.name})


def _only_nominal(section: SectionOnHand) -> Iterator[Reason]:
    if section.record.gauge_known == "nominal":
        yield Reason(code="gauge-only-nominal", values={"section": section.name})


def _fresh(
    name: str,
    one: WheelsetOnHand | SectionOnHand,
    beside: Surroundings,
    *,
    kind: str,
    what: str,
) -> Iterator[Reason]:
    """Yield that steel was cut between the campaign before and the last."""
    last = beside.dates.get(one.record.campaign, "")
    first = "" if one.earlier is None else one.earlier.date
    for each in beside.treatments:
        if each.asset == name and each.kind == kind and first < each.date <= last:
            yield Reason(code="fresh-cut", values={"subject": what})
