"""All findings on one wheelset, on one section, and what inspection saw."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from tapertread.limits import Verdict, Word
from tapertread.limits.conditions import Known
from tapertread.railway import ContactBand, Inspection
from tapertread.shapes.inspect import MeasuredOutline
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Side
from tapertread.study.changes import exchanged_findings
from tapertread.study.held import finding, measures_held
from tapertread.study.line import line_name, not_judged, section_running
from tapertread.study.records import Finding, Reason, Subject, SubjectKind
from tapertread.study.running import Ground, wheelset_running
from tapertread.study.states import SIDES, SectionOnHand, WheelsetOnHand
from tapertread.units import UnitSystem

MODERATE_KINDS = {"coach", "multiple-unit", "metro", "tram"}


def wheelset_findings(wheelset: WheelsetOnHand, ground: Ground) -> list[Finding]:
    """Return every finding on one wheelset: its measures, its outlines, how it runs."""
    subject = Subject(kind="wheelset", asset=wheelset.name, group=wheelset.vehicle.fleet)
    conditions: dict[str, Known] = {
        "diameter_mm": wheelset.mean_diameter_mm,
        "speed_kmh": wheelset.vehicle.maximum_speed_kmh,
        "vehicle_kind": wheelset.vehicle.kind,
    }
    return [
        *measures_held(
            subject,
            wheelset.measures,
            limits=ground.limits,
            conditions=conditions,
            system=ground.system,
        ),
        *_outlines(wheelset.sides, wheelset.refused, subject, kind="wheel", system=ground.system),
        *exchanged_findings(wheelset, subject, system=ground.system),
        *wheelset_running(wheelset, ground),
    ]


def section_findings(
    section: SectionOnHand, ground: Ground, *, bands: Iterable[ContactBand]
) -> list[Finding]:
    """Return every finding on one section: its measures, its outlines, what runs there."""
    subject = Subject(kind="section", asset=section.name, group=line_name(section))
    return [
        *measures_held(
            subject,
            section.measures,
            limits=ground.limits,
            conditions=_section_conditions(section, ground),
            system=ground.system,
        ),
        *_outlines(section.sides, section.refused, subject, kind="rail", system=ground.system),
        *exchanged_findings(section, subject, system=ground.system),
        *section_running(section, ground, bands=bands),
    ]


def _section_conditions(section: SectionOnHand, ground: Ground) -> dict[str, Known]:
    speed = section.speed_kmh
    conditions: dict[str, Known] = {
        "speed_kmh": speed,
        "radius_m": abs(section.curve_radius_m),
        "rail_design": section.record.rail_design,
    }
    if speed is not None and ground.limits.class_speeds:
        conditions["track_class"] = ground.limits.track_class(speed, traffic="freight")
    return conditions


def _outlines(
    sides: Mapping[Side, MeasuredOutline | None],
    refused: Mapping[Side, str],
    subject: Subject,
    *,
    kind: SubjectKind,
    system: UnitSystem,
) -> Iterator[Finding]:
    """Yield a finding for every outline that cannot be used or carries a mark."""
    for side in SIDES:
        about = Subject(kind=kind, asset=subject.asset, side=side, group=subject.group)
        measured = sides[side]
        if measured is None:
            found = refused.get(side)
            if found is not None:
                yield _outline_finding(
                    about, Word.AGAIN, "outline-refused", found, "refused", system
                )
            continue
        if measured.trust == "trusted":
            continue
        severity = "refuse" if measured.trust == "refused" else "mark"
        word = Word.AGAIN if measured.trust == "refused" else Word.WATCH
        names = sorted({trap.name for trap in measured.traps if trap.severity == severity})
        code = "outline-refused" if measured.trust == "refused" else "outline-marked"
        yield _outline_finding(about, word, code, measured.why, ", ".join(names), system)


def _outline_finding(
    about: Subject, word: Word, code: str, found: str, trap: str, system: UnitSystem
) -> Finding:
    verdict = Verdict(word=word, measured=Measured.missing("", found), limit=None, why_not=found)
    return finding(
        about,
        "outline_trust",
        verdict=verdict,
        reason=Reason(code=code, values={"side": about.side, "found": found, "trap": trap}),
        system=system,
    )


def inspections(seen: Iterable[Inspection], ground: Ground) -> Iterator[Finding]:
    """Yield what inspection saw: nothing that a shape can clear."""
    for one in seen:
        about = Subject(
            kind="wheel" if one.subject == "wheel" else "rail", asset=one.asset, side=one.side
        )
        known = one.kind == "crack" and one.length_mm is not None
        yield not_judged(
            about,
            f"inspection_{one.kind}",
            reason=Reason(
                code="inspection-crack" if known else "inspection-finding",
                values={
                    "side": one.side,
                    "subject": one.subject,
                    "length_mm": one.length_mm,
                    "kind": f"{one.kind} ({one.campaign}{', ' + one.note if one.note else ''})",
                },
            ),
            why="a finding of inspection needs a competent person's decision",
            ground=ground,
        )
