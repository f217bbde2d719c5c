"""The result of an assessment: what was measured, found and drawn, as plain frozen records."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from tapertread.contact import ContactTable, FlangeContact, RollingLine, Steering
from tapertread.contact.records import Floats
from tapertread.limits import Limit, Word
from tapertread.shapes.measured import Measured
from tapertread.shapes.outline import Outline
from tapertread.sources import bibliography
from tapertread.study.records import Finding
from tapertread.units import UnitSystem

PLAN_LATER = "a plan of turning, grinding and friction is not built yet"
PDF_LATER = "a PDF report is not built yet; the HTML report prints well"


@dataclass(frozen=True, slots=True, kw_only=True)
class WheelsetState:
    """One wheelset of the latest campaign: measures by name (sides as ``.left``, ``.right``).

    ``changes`` are now minus the campaign before, where there was one; ``notes`` are sentences.
    """

    wheelset: str
    fleet: str
    vehicle: str
    campaign: str
    word: Word
    measures: Mapping[str, Measured]
    traps: tuple[str, ...] = ()
    changes: Mapping[str, Measured] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SectionState:
    """One section of line of the latest campaign; ``distance_km`` from the start of its track.

    ``changes`` are now minus the campaign before, where there was one; ``notes`` are sentences.
    """

    section: str
    line: str
    km: float
    distance_km: float
    campaign: str
    curve_radius_m: float
    speed_kmh: float
    word: Word
    measures: Mapping[str, Measured]
    traps: tuple[str, ...] = ()
    changes: Mapping[str, Measured] = field(default_factory=dict)
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StretchOfLine:
    """A length of line on which curvature and cant run linearly."""

    line: str
    start_km: float
    end_km: float
    start_curvature_per_km: float
    end_curvature_per_km: float
    start_cant_mm: float
    end_cant_mm: float
    speed_kmh: float


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignOutlines:
    """New outlines that belong to a picture, in the order of its sides."""

    left_wheel: Outline | None = None
    right_wheel: Outline | None = None
    left_rail: Outline | None = None
    right_rail: Outline | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PairingPicture:
    """What is drawn beside one finding; the shift drawn is ``table.shift_mm[shift_index]``."""

    finding_id: str
    table: ContactTable
    curve_radius_m: float
    shift_index: int
    steering: Steering | None
    flange: FlangeContact | None
    rolling_lines: Sequence[RollingLine]
    smoothed_mm: Floats | None
    designs: DesignOutlines


@dataclass(frozen=True, slots=True, kw_only=True)
class RefusedMeasurement:
    """A measurement that was not used: of what, why, and where it stands in the files."""

    subject: str
    reason: str
    where: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Assessment:
    """One survey, assessed. Findings are ranked, gravest first; `sources` are bibliography keys."""

    name: str
    invented: bool
    units: UnitSystem
    campaigns: tuple[str, ...]
    wheelsets: tuple[WheelsetState, ...]
    sections: tuple[SectionState, ...]
    findings: tuple[Finding, ...]
    pictures: tuple[PairingPicture, ...]
    route: tuple[StretchOfLine, ...]
    refused: tuple[RefusedMeasurement, ...]
    limits: tuple[Limit, ...]
    sources: tuple[str, ...]
    timings_s: Mapping[str, float]
    notes: tuple[str, ...] = ()
    basis: Mapping[str, str] = field(default_factory=dict)
    """Hashes of limits, code and survey state that this assessment rests on."""

    def counts(self) -> dict[str, int]:
        """Return how many findings bear each verdict word."""
        return {word.value: sum(f.word is word for f in self.findings) for word in Word}

    def to_dict(self) -> dict[str, object]:
        """Return plain values for JSON; what is missing is ``None`` with a line in ``notes``."""
        return {
            "survey": self.name,
            "invented": self.invented,
            "campaigns": list(self.campaigns),
            "wheelsets": [_wheelset(one) for one in self.wheelsets],
            "sections": [_section(one) for one in self.sections],
            "findings": [finding_dict(one) for one in self.findings],
            "counts": self.counts(),
            "refused": [
                {"subject": one.subject, "why": one.reason, "where": one.where}
                for one in self.refused
            ],
            "plan": None,
            "report": {"html": None, "pdf": None},
            "timings_s": dict(self.timings_s),
            "sources": [
                {"key": one.key, "text": str(one), "status": one.status}
                for one in bibliography(self.sources)
            ],
            "basis": dict(self.basis),
            "notes": [*self.notes, f"plan: {PLAN_LATER}", f"report.pdf: {PDF_LATER}"],
        }


def finding_dict(finding: Finding) -> dict[str, object]:
    """Return one finding as plain values for JSON."""
    measured, limit = finding.verdict.measured, finding.verdict.limit
    return {
        "id": finding.id,
        "rank": finding.rank,
        "subject": str(finding.subject),
        "kind": finding.subject.kind,
        "asset": finding.subject.asset,
        "side": finding.subject.side,
        "group": finding.subject.group,
        "quantity": finding.quantity,
        "verdict": finding.word.value,
        "measured": _finite(measured.value),
        "uncertainty": _finite(measured.expanded),
        "unit": measured.unit,
        "limit": None if limit is None else limit.value,
        "sense": None if limit is None else limit.sense,
        "level": None if limit is None else limit.level,
        "edition": None if limit is None else limit.edition,
        "clause": None if limit is None else limit.clause,
        "source": None if limit is None else limit.source,
        "status": None if limit is None else limit.status,
        "against": finding.against,
        "reason": {"code": finding.reason.code, "values": _plain(finding.reason.values)},
        "why": finding.why,
    }


def _finite(value: float | None) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)


def _plain(values: Mapping[str, float | str | None]) -> dict[str, float | str | None]:
    return {
        name: (value if isinstance(value, str) else _finite(value))
        for name, value in values.items()
    }


def _measures(measures: Mapping[str, Measured]) -> dict[str, object]:
    return {name: one.to_dict() for name, one in measures.items()}


def _wheelset(one: WheelsetState) -> dict[str, object]:
    return {
        "wheelset": one.wheelset,
        "fleet": one.fleet,
        "vehicle": one.vehicle,
        "campaign": one.campaign,
        "verdict": one.word.value,
        "measures": _measures(one.measures),
        "changes": _measures(one.changes),
        "traps": list(one.traps),
        "notes": list(one.notes),
    }


def _section(one: SectionState) -> dict[str, object]:
    return {
        "section": one.section,
        "line": one.line,
        "km": one.km,
        "distance_km": one.distance_km,
        "campaign": one.campaign,
        "curve_radius_m": _finite(one.curve_radius_m),
        "speed_kmh": one.speed_kmh,
        "verdict": one.word.value,
        "measures": _measures(one.measures),
        "changes": _measures(one.changes),
        "traps": list(one.traps),
        "notes": list(one.notes),
    }
