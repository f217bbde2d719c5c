"""A survey made ready: outlines of its last and last but one campaign measured, all at hand."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import islice

from tapertread.errors import RefusedInput, SurveyRefused
from tapertread.railway import Section, Wheelset
from tapertread.shapes.inspect import MeasuredOutline
from tapertread.shapes.outline import Side
from tapertread.study.assessment import RefusedMeasurement
from tapertread.study.crew import Crew
from tapertread.study.jobs import outlines_before, rail_jobs, records_before, wheel_jobs
from tapertread.study.measuring import Job, Measuring, Progress, measure_all
from tapertread.study.states import (
    SIDES,
    Earlier,
    SectionOnHand,
    Sides,
    WheelsetOnHand,
    section_measures,
    wheelset_measures,
)
from tapertread.survey import Survey


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSurvey:
    """Measured wheels and rails as last measured, and as the campaign before found them.

    Attributes
    ----------
    wheels, rails : Measuring
    earlier_wheels, earlier_rails : Measuring
        Of `wheelsets_before` and `sections_before`.
    wheelsets_before, sections_before : mapping of str to record
        By name, what the campaign before the last says; nothing where there was none.
    origin : mapping
        File and line of each outline, by kind, asset and side.
    """

    wheels: Measuring
    rails: Measuring
    earlier_wheels: Measuring
    earlier_rails: Measuring
    wheelsets_before: Mapping[str, Wheelset]
    sections_before: Mapping[str, Section]
    origin: Mapping[tuple[str, str, Side], str]


def measured_survey(survey: Survey, *, crew: Crew, progress: Progress) -> MeasuredSurvey:
    """Return every outline of a survey's latest campaigns and of those before, measured."""
    before_w = records_before(survey, survey.wheelsets(), of=survey.wheelsets)
    before_s = records_before(survey, survey.sections(), of=survey.sections)
    batches = [
        wheel_jobs(survey, survey.wheelsets(), survey.wheel_outlines()),
        rail_jobs(survey, survey.sections(), survey.rail_outlines()),
        wheel_jobs(survey, before_w.values(), outlines_before(before_w, survey.wheel_outlines)),
        rail_jobs(survey, before_s.values(), outlines_before(before_s, survey.rail_outlines)),
    ]
    jobs = [job for batch in batches for job in batch]
    results = iter(measure_all(jobs, crew=crew, progress=progress))
    wheels, rails, old_wheels, old_rails = (
        _sorted_out(batch, list(islice(results, len(batch)))) for batch in batches
    )
    return MeasuredSurvey(
        wheels=wheels,
        rails=rails,
        earlier_wheels=old_wheels,
        earlier_rails=old_rails,
        wheelsets_before=before_w,
        sections_before=before_s,
        origin={
            (job.kind, job.raw.asset, job.raw.side): f"{job.raw.file}, line {job.raw.first_line}"
            for job in (*batches[0], *batches[1])
            if job.raw.side is not None
        },
    )


def _sorted_out(
    jobs: Sequence[Job], results: Sequence[MeasuredOutline | RefusedInput]
) -> Measuring:
    outlines: dict[tuple[str, Side], MeasuredOutline] = {}
    refused: dict[tuple[str, Side], RefusedInput] = {}
    for job, result in zip(jobs, results, strict=True):
        if job.raw.side is None:  # the store keeps no outline without a side
            raise AssertionError(job.raw.record)
        if isinstance(result, MeasuredOutline):
            outlines[job.raw.asset, job.raw.side] = result
        else:
            refused[job.raw.asset, job.raw.side] = result
    return Measuring(outlines=outlines, refused=refused)


def wheelsets_on_hand(survey: Survey, measured: MeasuredSurvey) -> list[WheelsetOnHand]:
    """Return the wheelsets of the latest campaign with their measured outlines."""
    vehicles = {one.vehicle: one for one in survey.vehicles}
    made = []
    for record in survey.wheelsets():
        sides = _sides(record.wheelset, measured.wheels)
        made.append(
            WheelsetOnHand(
                record=record,
                vehicle=vehicles[record.vehicle],
                sides=sides,
                refused=_refused_sides(record.wheelset, measured.wheels),
                measures=wheelset_measures(record, sides),
                earlier=_wheelset_before(survey, record.wheelset, measured),
            )
        )
    return made


def sections_on_hand(survey: Survey, measured: MeasuredSurvey) -> list[SectionOnHand]:
    """Return the sections of the latest campaign with their measured outlines and their curve."""
    made = []
    for record in survey.sections():
        sides = _sides(record.section, measured.rails)
        radius, distance = _place(survey, record)
        made.append(
            SectionOnHand(
                record=record,
                piece=survey.piece_of(record),
                sides=sides,
                refused=_refused_sides(record.section, measured.rails),
                curve_radius_m=radius,
                distance_m=distance,
                measures=section_measures(record, sides),
                earlier=_section_before(survey, record.section, measured),
            )
        )
    return made


def _wheelset_before(survey: Survey, name: str, measured: MeasuredSurvey) -> Earlier | None:
    record = measured.wheelsets_before.get(name)
    if record is None:
        return None
    sides = _sides(name, measured.earlier_wheels)
    return Earlier(
        campaign=record.campaign,
        date=_date(survey, record.campaign),
        measures=wheelset_measures(record, sides),
    )


def _section_before(survey: Survey, name: str, measured: MeasuredSurvey) -> Earlier | None:
    record = measured.sections_before.get(name)
    if record is None:
        return None
    sides = _sides(name, measured.earlier_rails)
    return Earlier(
        campaign=record.campaign,
        date=_date(survey, record.campaign),
        measures=section_measures(record, sides),
        km=record.km,
    )


def _date(survey: Survey, campaign: str) -> str:
    return next(one.date for one in survey.campaigns if one.campaign == campaign)


def _place(survey: Survey, record: Section) -> tuple[float, float | None]:
    """Return curve radius (m, > 0 right) and distance (m) of a section; straight off any route."""
    route = survey.route_of(record)
    if route is None:
        return math.inf, None
    try:
        distance = route.place_of(record)
        curvature = float(route.curvature_per_m(distance))
    except SurveyRefused:
        return math.inf, None
    return (math.inf if curvature == 0.0 else 1.0 / curvature), distance


def _sides(asset: str, measuring: Measuring) -> Sides:
    return {side: measuring.outlines.get((asset, side)) for side in SIDES}


def _refused_sides(asset: str, measuring: Measuring) -> dict[Side, str]:
    return {
        side: f"{fault.found} ({fault.code})"
        for side in SIDES
        if (fault := measuring.refused.get((asset, side))) is not None
    }


def refused_in(measured: MeasuredSurvey) -> Iterator[RefusedMeasurement]:
    """Yield what was refused among the outlines, and why."""
    for kind, part in (("wheel", measured.wheels), ("rail", measured.rails)):
        for (asset, side), fault in part.refused.items():
            yield RefusedMeasurement(
                subject=f"{kind} {asset} {side}", reason=str(fault), where=str(fault.where)
            )
        for (asset, side), outline in part.outlines.items():
            if outline.trust == "refused":
                yield RefusedMeasurement(
                    subject=f"{kind} {asset} {side}",
                    reason=outline.why,
                    where=measured.origin[kind, asset, side],
                )


def refused_files(survey: Survey) -> Iterator[RefusedMeasurement]:
    """Yield what imports refused, as the store keeps it."""
    for one in survey.refusals():
        place = ", ".join(
            part
            for part in (one.file, None if one.line is None else f"line {one.line}")
            if part is not None
        )
        yield RefusedMeasurement(subject=f"file {one.file}", reason=one.why, where=place)
