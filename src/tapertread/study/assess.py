"""The main job: one survey, from measurements to ranked findings and the pictures that show why."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager

from tapertread._version import __version__
from tapertread.contact.records import GaugeRule
from tapertread.limits import Limit, LimitSet, limit_set, read_limit_set, together, with_overrides
from tapertread.study.assessment import Assessment, PairingPicture
from tapertread.study.crew import Crew
from tapertread.study.drift import drift_findings
from tapertread.study.findings import inspections, section_findings, wheelset_findings
from tapertread.study.ground import Ground, with_common_causes
from tapertread.study.held import ranked
from tapertread.study.measuring import Progress
from tapertread.study.meetings import Crossing, crossing, new_outline
from tapertread.study.onhand import (
    measured_survey,
    refused_files,
    refused_in,
    sections_on_hand,
    wheelsets_on_hand,
)
from tapertread.study.pictures import pictures_of
from tapertread.study.records import Finding
from tapertread.study.remarks import surroundings_of
from tapertread.study.summing import section_state, stretches, wheelset_state
from tapertread.survey import Survey

HOUSE_SET = "house-steering"
VERDICT_SOURCES = ("gum-2008", "jcgm-106-2012")
SMOOTHING_SOURCES = ("netter-1998",)
RUNNING_SOURCES = ("en15302-2021", "klingel-1883", "derived", "trade-practice", "tsi-locpas-2014")
BOTH_WAYS = "vehicles that may run either way round are assessed both ways, and the worse is given"


def assess(
    survey: Survey, *, progress: Progress | None = None, workers: int | None = None
) -> Assessment:
    """Return a survey assessed: every outline measured, every pairing met, every verdict ranked.

    Reading only; nothing in the survey changes.

    Parameters
    ----------
    survey : Survey
        From `tapertread.survey.open_survey`.
    progress : callable, optional
        Told the stage, how many are done and how many there are.
    workers : int, optional
        Processes for outlines and encounters; all cores if left out. The result does not depend on
        it.
    """
    tell = progress or _silent
    clock = _Clock()
    limits = limits_of(survey)
    rule = gauge_rule_of(survey, limits)
    with Crew(workers or os.cpu_count() or 1) as crew:
        with clock.stage("outlines"):
            measured = measured_survey(survey, crew=crew, progress=tell)
        wheelsets = wheelsets_on_hand(survey, measured)
        sections = sections_on_hand(survey, measured)
        with clock.stage("crossing"):
            met = crossing(
                wheelsets,
                sections,
                services=survey.services,
                gauge_rule=rule,
                crew=crew,
                progress=tell,
            )
    ground = with_common_causes(
        Ground(
            crossing=met,
            sections={one.name: one for one in sections},
            limits=limits,
            system=survey.config.units,
            gauge_rule=rule,
        )
    )
    with clock.stage("verdicts"):
        by_wheelset = {one.name: wheelset_findings(one, ground) for one in wheelsets}
        by_section = {
            one.name: section_findings(one, ground, bands=survey.bands()) for one in sections
        }
        every = [one for found in (*by_wheelset.values(), *by_section.values()) for one in found]
        every += drift_findings(sections, system=ground.system)
        findings = ranked([*every, *inspections(survey.inspections(), ground)])
    with clock.stage("pictures"):
        pictures = pictures_of(
            findings, wheelsets={one.name: one for one in wheelsets}, ground=ground
        )
    beside = surroundings_of(survey)
    return Assessment(
        name=survey.name,
        invented=survey.config.invented,
        units=survey.config.units,
        campaigns=tuple(f"{one.campaign} ({one.date})" for one in survey.campaigns),
        wheelsets=tuple(
            wheelset_state(one, by_wheelset[one.name], ground, beside) for one in wheelsets
        ),
        sections=tuple(
            section_state(one, by_section[one.name], ground, beside) for one in sections
        ),
        findings=findings,
        pictures=pictures,
        route=tuple(stretches(survey.routes.values())),
        refused=(*refused_in(measured), *refused_files(survey)),
        limits=_limits_used(findings),
        sources=_sources_used(
            findings,
            designs={
                *(one.vehicle.wheel_design for one in wheelsets),
                *(one.record.rail_design for one in sections),
            },
            met=met,
            pictures=pictures,
        ),
        timings_s=clock.timings,
        notes=tuple(_notes(survey, limits)),
        basis={
            "version": __version__,
            "limits": _hash(str(list(limits))),
            "survey_state": str(survey.as_of),
        },
    )


def _silent(_stage: str, _done: int, _of: int) -> None:
    """Tell nobody."""


class _Clock:
    """Seconds by stage."""

    def __init__(self) -> None:
        self.timings: dict[str, float] = {}

    @contextmanager
    def stage(self, name: str) -> Iterator[None]:
        begin = time.perf_counter()
        yield
        self.timings[name] = round(time.perf_counter() - begin, 3)


def limits_of(survey: Survey) -> LimitSet:
    """Return the limit sets of a survey together, with the user's own values and house levels.

    Raises
    ------
    LimitsRefused
        If a set or an override cannot be used.
    """
    sets = [
        read_limit_set(survey.folder / name) if name.endswith(".toml") else limit_set(name)
        for name in survey.config.limits
    ]
    named = {one.name for one in sets}
    house = [] if HOUSE_SET in named else [limit_set(HOUSE_SET)]
    return with_overrides(together([*sets, *house]), survey.config.overrides)


def gauge_rule_of(survey: Survey, limits: LimitSet) -> GaugeRule:
    """Return where gauge is measured: as the survey says, else its limit set, else European."""
    if survey.config.gauge_rule is not None:
        return survey.config.gauge_rule
    us: GaugeRule = "at-five-eighths-inch"
    return us if limits.gauge_rule == us else "smallest-0-14-mm"


def _limits_used(findings: Sequence[Finding]) -> tuple[Limit, ...]:
    used = {one.limit.id: one.limit for one in findings if one.limit is not None}
    return tuple(used[name] for name in sorted(used))


def _sources_used(
    findings: Sequence[Finding],
    *,
    designs: Iterable[str],
    met: Crossing,
    pictures: Sequence[PairingPicture],
) -> tuple[str, ...]:
    """Return the keys of limits, designs and methods that this very assessment rests on."""
    cited = {one.limit.source for one in findings if one.limit is not None}
    cited.update(VERDICT_SOURCES if findings else ())
    cited.update(RUNNING_SOURCES if met.by_wheelset else ())
    cited.update(SMOOTHING_SOURCES if pictures else ())
    for name in designs:
        outline = new_outline(name)
        cited.update(() if outline is None else outline.origin.sources)
    return tuple(sorted(cited))


def _notes(survey: Survey, limits: LimitSet) -> Iterator[str]:
    yield limits.caution
    if "equivalent_conicity" not in limits.quantities:
        why_not = limits.for_quantity("equivalent_conicity").why_not
        yield f"conicity is shown and not judged: {why_not}"
    if any(one.orientation != "known" for one in survey.vehicles):
        yield BOTH_WAYS
    for route in survey.routes.values():
        for gap in route.gaps:
            yield (
                f"the route {route.line} {route.track} says nothing of km {gap.from_km:.3f} to "
                f"{gap.to_km:.3f}"
            )


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:16]
