"""Wheelsets, sections and route as the assessment carries them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from tapertread.railway import Route
from tapertread.shapes.measured import Measured
from tapertread.study.assessment import SectionState, StretchOfLine, WheelsetState
from tapertread.study.changes import changes_since
from tapertread.study.ground import Ground
from tapertread.study.held import gravest_word
from tapertread.study.line import flange_share, line_name
from tapertread.study.records import Finding
from tapertread.study.remarks import Surroundings, section_remarks, wheelset_remarks
from tapertread.study.states import SectionOnHand, Sides, WheelsetOnHand
from tapertread.study.straights import conicity_of

RUNNING = (
    "tread_steering_share",
    "equivalent_conicity",
    "play_used_share",
    "rail_steering_share",
    "high_conicity_share",
)


def wheelset_state(
    wheelset: WheelsetOnHand, found: Sequence[Finding], ground: Ground, beside: Surroundings
) -> WheelsetState:
    """Return a wheelset with its measures, those of its running included."""
    conicity = conicity_of(wheelset, ground)
    unjudged = {} if conicity is None else {"equivalent_conicity": conicity}
    return WheelsetState(
        wheelset=wheelset.name,
        fleet=wheelset.vehicle.fleet,
        vehicle=wheelset.vehicle.vehicle,
        campaign=wheelset.record.campaign,
        word=gravest_word(found),
        measures={**wheelset.measures, **unjudged, **_running(found)},
        traps=_traps(wheelset.sides),
        changes=changes_since(wheelset.measures, wheelset.earlier),
        notes=wheelset_remarks(wheelset, beside),
    )


def section_state(
    section: SectionOnHand, found: Sequence[Finding], ground: Ground, beside: Surroundings
) -> SectionState:
    """Return a section with its measures, those of what runs there included."""
    measures = {**section.measures, **_running(found)}
    share = flange_share(ground.crossing.by_section.get(section.name, ()))
    if share is not None:
        measures["flange_share"] = Measured(value=share, unit="")
    distance = section.record.km if section.distance_m is None else section.distance_m / 1000.0
    return SectionState(
        section=section.name,
        line=line_name(section),
        km=section.record.km,
        distance_km=distance,
        campaign=section.record.campaign,
        curve_radius_m=section.curve_radius_m,
        speed_kmh=section.speed_kmh or 0.0,
        word=gravest_word(found),
        measures=measures,
        traps=_traps(section.sides),
        changes=changes_since(section.measures, section.earlier),
        notes=section_remarks(section, beside),
    )


def _running(found: Sequence[Finding]) -> dict[str, Measured]:
    return {one.quantity: one.verdict.measured for one in found if one.quantity in RUNNING}


def _traps(sides: Sides) -> tuple[str, ...]:
    return tuple(
        f"{side}: {trap.name} ({trap.found})"
        for side, measured in sides.items()
        if measured is not None
        for trap in measured.traps
    )


def stretches(routes: Iterable[Route]) -> Iterator[StretchOfLine]:
    """Yield the pieces of every route in the order of their distance."""
    for route in routes:
        for at, piece in enumerate(route.pieces):
            begin, end = route.curvature_ends_per_m[at]
            raised = route.left_raised_ends_mm[at]
            hand = -1.0 if begin + end < 0.0 else 1.0
            yield StretchOfLine(
                line=f"{route.line} {route.track}",
                start_km=float(route.from_m[at]) / 1000.0,
                end_km=float(route.to_m[at]) / 1000.0,
                start_curvature_per_km=1000.0 * float(begin),
                end_curvature_per_km=1000.0 * float(end),
                start_cant_mm=hand * float(raised[0]),
                end_cant_mm=hand * float(raised[1]),
                speed_kmh=piece.speed_kmh,
            )
