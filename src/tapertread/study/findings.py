"""All findings on one wheelset, on one section, and what inspection saw."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from tapertread.limits import Verdict, Word
from tapertread.limits.conditions import Known
from tapertread.railway import ContactBand, Inspection
from tapertread.shapes.inspect import MeasuredOutline
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Side
from tapertread.study.changes import exchanged_findings
from tapertread.study.ground import Ground
from tapertread.study.held import finding, measures_held
from tapertread.study.line import line_name, not_judged, section_running
from tapertread.study.records import Finding, Reason, Subject, SubjectKind
from tapertread.study.running import wheelset_running
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
        *_outlines(
            _Seen(
                sides=wheelset.sides,
                refused=wheelset.refused,
                subject=subject,
                kind="wheel",
                campaign=wheelset.record.campaign,
                system=ground.system,
            )
        ),
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
        *_outlines(
            _Seen(
                sides=section.sides,
                refused=section.refused,
                subject=subject,
                kind="rail",
                campaign=section.record.campaign,
                system=ground.system,
            )
        ),
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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Seen:
    """The outlines of one wheelset or section, and where their findings belong."""

    sides: Mapping[Side, MeasuredOutline | None]
    refused: Mapping[Side, str]
    subject: Subject
    kind: SubjectKind
    campaign: str
    system: UnitSystem


def _outlines(seen: _Seen) -> Iterator[Finding]:
    """Yield a finding for every outline that is missing, cannot be used, or carries a mark."""
    for side in SIDES:
        measured = seen.sides[side]
        if measured is None and side in seen.refused:
            found = seen.refused[side]
            yield _outline_finding(
                seen, side, Word.AGAIN, Reason(code="outline-refused", values={"found": found})
            )
        elif measured is None:
            yield _outline_finding(seen, side, Word.NOT_ASSESSED, Reason(code="outline-missing"))
        elif measured.trust != "trusted":
            yield _spoiled(seen, side, measured)


def _spoiled(seen: _Seen, side: Side, measured: MeasuredOutline) -> Finding:
    refused = measured.trust == "refused"
    severity = "refuse" if refused else "mark"
    names = sorted({trap.name for trap in measured.traps if trap.severity == severity})
    return _outline_finding(
        seen,
        side,
        Word.AGAIN if refused else Word.WATCH,
        Reason(
            code="outline-refused" if refused else "outline-marked",
            values={"found": measured.why, "trap": ", ".join(names)},
        ),
    )


def _outline_finding(seen: _Seen, side: Side, word: Word, reason: Reason) -> Finding:
    values = {"side": side, "campaign": seen.campaign, "trap": "refused", **reason.values}
    why = str(values.get("found", f"no {side} outline was measured in campaign {seen.campaign}"))
    subject = seen.subject
    return finding(
        Subject(kind=seen.kind, asset=subject.asset, side=side, group=subject.group),
        "outline_trust",
        verdict=Verdict(word=word, measured=Measured.missing("", why), limit=None, why_not=why),
        reason=Reason(code=reason.code, values=values),
        system=seen.system,
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
