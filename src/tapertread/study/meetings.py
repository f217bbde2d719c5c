"""Who meets whom: wheelsets on the sections of the lines their fleets run, and new shapes there."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from tapertread.contact import TrackShape, WheelsetShape
from tapertread.contact.records import GaugeRule
from tapertread.errors import RefusedInput, WrongUsage
from tapertread.railway import Service
from tapertread.shapes.designs import design
from tapertread.shapes.outline import Outline
from tapertread.study.crew import Crew
from tapertread.study.encounters import Encounter, Meeting, meet_all, turned_about
from tapertread.study.measuring import Progress
from tapertread.study.states import SectionOnHand, WheelsetOnHand

NEW = "new "
"""Names of new wheelsets in encounters begin like this, then comes their design."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Crossing:
    """All encounters of one survey.

    Attributes
    ----------
    by_wheelset, by_section : mapping of str to sequence of Encounter
        Encounters of measured wheelsets on measured rails.
    new_wheels : mapping of (design, section) to Encounter
        New wheels on the measured rails.
    all_new : mapping of (design, section) to Encounter
        New wheels on new rails at the route's gauge.
    nowhere : frozenset of str
        Wheelsets of fleets for which no line is named.
    """

    by_wheelset: Mapping[str, Sequence[Encounter]]
    by_section: Mapping[str, Sequence[Encounter]]
    new_wheels: Mapping[tuple[str, str], Encounter]
    all_new: Mapping[tuple[str, str], Encounter]
    nowhere: frozenset[str] = frozenset()


def crossing(
    wheelsets: Sequence[WheelsetOnHand],
    sections: Sequence[SectionOnHand],
    *,
    services: Sequence[Service],
    gauge_rule: GaugeRule,
    crew: Crew,
    progress: Progress,
) -> Crossing:
    """Return every encounter of a fleet with the lines it runs."""
    tracks = {one.name: one.track(gauge_rule=gauge_rule) for one in sections}
    pairs = [
        (wheelset, section)
        for wheelset in wheelsets
        for section in sections_of(wheelset, sections, services=services)
        if tracks[section.name] is not None
    ]
    worn = _told(_worn_meetings(pairs, tracks), crew, progress)
    wheels = _typical_wheels(pairs)
    renewed = {one.name: _new_track(one, gauge_rule=gauge_rule) for one in sections}
    named = {one.name: one for one in sections}
    new = {
        (name, where): _meeting(NEW + name, named[where], shape, tracks)
        for (name, where), shape in wheels.items()
    }
    fresh = {
        (name, where): _meeting(NEW + name, named[where], shape, renewed)
        for (name, where), shape in wheels.items()
        if renewed[where] is not None
    }
    by_wheelset: dict[str, list[Encounter]] = defaultdict(list)
    by_section: dict[str, list[Encounter]] = defaultdict(list)
    for one in worn:
        by_wheelset[one.wheelset].append(one)
        by_section[one.section].append(one)
    return Crossing(
        by_wheelset=by_wheelset,
        by_section=by_section,
        new_wheels=_met(new),
        all_new=_met(fresh),
        nowhere=frozenset(one.name for one in wheelsets if not lines_of(one, services)),
    )


def _told(meetings: Sequence[Meeting], crew: Crew, progress: Progress) -> list[Encounter]:
    """Return the encounters of all meetings; those of one wheelset stay together."""
    batches = [list(batch) for _, batch in groupby(meetings, key=lambda one: one.wheelset)]
    met: list[Encounter] = []
    for some in crew.map(meet_all, batches, chunk=1):
        met += some
        progress("crossing", len(met), len(meetings))
    return met


def sections_of(
    wheelset: WheelsetOnHand, sections: Sequence[SectionOnHand], *, services: Sequence[Service]
) -> list[SectionOnHand]:
    """Return the sections of the lines that a wheelset's fleet runs."""
    lines = lines_of(wheelset, services)
    return [one for one in sections if one.record.line in lines]


def lines_of(wheelset: WheelsetOnHand, services: Sequence[Service]) -> set[str]:
    """Return the lines that a wheelset's fleet runs."""
    fleet = wheelset.vehicle.fleet
    return {one.line for one in services if one.fleet == fleet and one.share > 0.0}


def _met(
    meetings: Mapping[tuple[str, str], Meeting],
) -> dict[tuple[str, str], Encounter]:
    met = meet_all(meetings.values())
    return dict(zip(meetings, met, strict=True))


def _worn_meetings(
    pairs: Sequence[tuple[WheelsetOnHand, SectionOnHand]],
    tracks: Mapping[str, TrackShape | None],
) -> list[Meeting]:
    meetings = []
    for wheelset, section in pairs:
        shape = wheelset.shape()
        if shape is None:
            continue
        meeting = _meeting(wheelset.name, section, shape, tracks)
        meetings.append(meeting)
        if wheelset.vehicle.orientation != "known":
            meetings.append(replace(meeting, wheels=turned_about(shape), turned=True))
    return meetings


def _meeting(
    name: str,
    section: SectionOnHand,
    shape: WheelsetShape,
    tracks: Mapping[str, TrackShape | None],
) -> Meeting:
    track = tracks[section.name]
    if track is None:
        raise AssertionError(section.name)
    return Meeting(
        wheelset=name,
        section=section.name,
        wheels=shape,
        track=track,
        curve_radius_m=section.curve_radius_m,
    )


def _typical_wheels(
    pairs: Sequence[tuple[WheelsetOnHand, SectionOnHand]],
) -> dict[tuple[str, str], WheelsetShape]:
    """Return for each design and section a new wheelset of the usual radius and back-to-back."""
    usual: dict[str, Counter[tuple[float, float]]] = defaultdict(Counter)
    met: dict[tuple[str, str], None] = {}
    for wheelset, section in pairs:
        if (shape := wheelset.shape()) is None:
            continue
        name = wheelset.vehicle.wheel_design
        usual[name][round(shape.mean_radius_mm, -1), round(shape.back_to_back_mm)] += 1
        met[name, section.name] = None
    wheels = {}
    for name, where in met:
        outline = new_outline(name)
        if outline is not None:
            (radius, apart), _count = usual[name].most_common(1)[0]
            wheels[name, where] = WheelsetShape(
                left=outline,
                right=outline,
                left_radius_mm=radius,
                right_radius_mm=radius,
                back_to_back_mm=apart,
            )
    return wheels


def new_outline(name: str) -> Outline | None:
    """Return a design's outline, or ``None`` where no drawing of it is at hand."""
    try:
        return design(name)
    except (WrongUsage, RefusedInput):
        return None


def _new_track(section: SectionOnHand, *, gauge_rule: GaugeRule) -> TrackShape | None:
    outline = new_outline(section.record.rail_design)
    track = section.track(gauge_rule=gauge_rule)
    if outline is None or track is None:
        return None
    gauge = track.gauge_mm if section.piece is None else section.piece.gauge_mm
    return replace(track, left=outline, right=outline, gauge_mm=gauge)
