"""A survey's latest campaign made ready: every outline measured, wheelsets and sections at hand."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from tapertread.errors import RefusedInput, SurveyRefused
from tapertread.railway import Section, Wheelset
from tapertread.shapes.inspect import Alongside, MeasuredOutline
from tapertread.shapes.outline import Side
from tapertread.shapes.raw_outline import RawOutline
from tapertread.study.assessment import RefusedMeasurement
from tapertread.study.measuring import Job, Measuring, Progress, measure_all
from tapertread.study.states import (
    SIDES,
    SectionOnHand,
    Sides,
    WheelsetOnHand,
    section_measures,
    wheelset_measures,
)
from tapertread.survey import Survey


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasuredSurvey:
    """Measured wheels and rails of the latest campaigns."""

    wheels: Measuring
    rails: Measuring
    origin: Mapping[tuple[str, str, Side], str]
    """File and line of each outline, by kind, asset and side."""


def measured_survey(survey: Survey, *, workers: int, progress: Progress) -> MeasuredSurvey:
    """Return every outline of a survey's latest campaigns, measured."""
    repeat = {one.campaign: one.repeatability_mm for one in survey.campaigns}
    wheels, rails = survey.wheel_outlines(), survey.rail_outlines()
    vehicles = {one.vehicle: one for one in survey.vehicles}
    jobs = [
        Job(
            kind="wheel",
            raw=wheels[one.wheelset, side],
            design=vehicles[one.vehicle].wheel_design,
            alongside=_beside(wheels[one.wheelset, side], repeat, rim=_rim(one, side)),
        )
        for one in survey.wheelsets()
        for side in SIDES
        if (one.wheelset, side) in wheels
    ]
    count = len(jobs)
    jobs += [
        Job(
            kind="rail",
            raw=rails[one.section, side],
            design=one.rail_design,
            alongside=_beside(rails[one.section, side], repeat),
        )
        for one in survey.sections()
        for side in SIDES
        if (one.section, side) in rails
    ]
    results = measure_all(jobs, workers=workers, progress=progress)
    return MeasuredSurvey(
        wheels=_sorted_out(jobs[:count], results[:count]),
        rails=_sorted_out(jobs[count:], results[count:]),
        origin={
            (job.kind, job.raw.asset, job.raw.side): f"{job.raw.file}, line {job.raw.first_line}"
            for job in jobs
            if job.raw.side is not None
        },
    )


def _rim(record: Wheelset, side: Side) -> float | None:
    return record.left_rim_thickness_mm if side == "left" else record.right_rim_thickness_mm


def _beside(
    raw: RawOutline, repeat: Mapping[str, float | None], *, rim: float | None = None
) -> Alongside:
    known = raw.repeatability_mm
    return Alongside(
        stylus_radius_mm=raw.stylus_radius_mm,
        repeatability_mm=repeat.get(raw.campaign) if known is None else known,
        rim_thickness_mm=rim,
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
            )
        )
    return made


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
