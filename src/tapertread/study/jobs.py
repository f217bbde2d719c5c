"""What there is to measure: the outlines of a survey, each with what is known beside it."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TypeVar

from tapertread.railway import Section, Wheelset
from tapertread.shapes.inspect import Alongside
from tapertread.shapes.outline import Side
from tapertread.shapes.reading.raw_outline import RawOutline
from tapertread.study.measuring import Job
from tapertread.study.states import (
    SIDES,
)
from tapertread.survey import Survey

M = TypeVar("M", Wheelset, Section)


def records_before(
    survey: Survey, last: Sequence[M], *, of: Callable[[str], list[M]]
) -> dict[str, M]:
    """Return what the campaign before its last says of each wheelset or section, by name."""
    rank = {one.campaign: at for at, one in enumerate(survey.campaigns)}
    newest = {_name(one): rank[one.campaign] for one in last}
    found: dict[str, M] = {}
    for campaign in reversed(survey.campaigns):
        for one in of(campaign.campaign):
            if rank[one.campaign] < newest[_name(one)]:
                found.setdefault(_name(one), one)
    return dict(sorted(found.items()))


def _name(record: Wheelset | Section) -> str:
    return record.wheelset if isinstance(record, Wheelset) else record.section


def outlines_before(
    before: Mapping[str, Wheelset] | Mapping[str, Section],
    outlines: Callable[[str], dict[tuple[str, Side], RawOutline]],
) -> dict[tuple[str, Side], RawOutline]:
    """Return the outlines of the campaigns that the earlier records are of."""
    return {
        key: raw
        for campaign in sorted({one.campaign for one in before.values()})
        for key, raw in outlines(campaign).items()
        if key[0] in before and before[key[0]].campaign == campaign
    }


def wheel_jobs(
    survey: Survey, records: Iterable[Wheelset], outlines: Mapping[tuple[str, Side], RawOutline]
) -> list[Job]:
    """Return the wheel outlines to measure of some wheelsets, both sides in turn."""
    vehicles = {one.vehicle: one for one in survey.vehicles}
    repeat = _repeatabilities(survey)
    return [
        Job(
            kind="wheel",
            raw=outlines[one.wheelset, side],
            design=vehicles[one.vehicle].wheel_design,
            alongside=_beside(outlines[one.wheelset, side], repeat, record=one, side=side),
        )
        for one in records
        for side in SIDES
        if _of_its_campaign(outlines.get((one.wheelset, side)), one)
    ]


def rail_jobs(
    survey: Survey, records: Iterable[Section], outlines: Mapping[tuple[str, Side], RawOutline]
) -> list[Job]:
    """Return the rail outlines to measure of some sections, both sides in turn."""
    repeat = _repeatabilities(survey)
    return [
        Job(
            kind="rail",
            raw=outlines[one.section, side],
            design=one.rail_design,
            alongside=_beside(outlines[one.section, side], repeat),
        )
        for one in records
        for side in SIDES
        if _of_its_campaign(outlines.get((one.section, side)), one)
    ]


def _of_its_campaign(raw: RawOutline | None, record: Wheelset | Section) -> bool:
    """Return whether an outline belongs to the readings beside it.

    An outline of an earlier campaign says nothing of what was turned or ground since.
    """
    return raw is not None and raw.campaign == record.campaign


def _repeatabilities(survey: Survey) -> dict[str, float | None]:
    return {one.campaign: one.repeatability_mm for one in survey.campaigns}


def _beside(
    raw: RawOutline,
    repeat: Mapping[str, float | None],
    *,
    record: Wheelset | None = None,
    side: Side = "left",
) -> Alongside:
    """Return what the survey knows of an outline beside its points."""
    known = raw.repeatability_mm
    rim = None
    if record is not None:
        left, right = record.left_rim_thickness_mm, record.right_rim_thickness_mm
        rim = left if side == "left" else right
    return Alongside(
        stylus_radius_mm=raw.stylus_radius_mm,
        repeatability_mm=repeat.get(raw.campaign) if known is None else known,
        rim_thickness_mm=rim,
        rim_uncertainty_mm=None if record is None else record.rim_thickness_uncertainty_mm,
    )
