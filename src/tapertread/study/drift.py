"""Kilometres that drift between campaigns, line by line.

Posts do not walk. Sections that are known by name show the drift of a counter directly; where few
keep their name, the pattern of wear along the line does (`shapes.rails.drift`).
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from tapertread.limits import Verdict, Word
from tapertread.shapes.measured import Measured
from tapertread.shapes.rails.drift import kilometre_drift
from tapertread.study.held import finding
from tapertread.study.line import line_name
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.states import SectionOnHand
from tapertread.units import UnitSystem

LEAST_DRIFT_KM = 0.005
"""Sections are found again within about this far (common practice, no source)."""

LEAST_SECTIONS = 3
PATTERNS = ("side_wear_mm.left", "side_wear_mm.right", "vertical_wear_mm.left")


@dataclass(frozen=True, slots=True, kw_only=True)
class Drift:
    """How far the kilometres of the last campaign ran off those before, km; > 0 is ahead."""

    shift_km: float
    uncertainty_km: float
    from_km: float
    to_km: float
    how: str


def drift_findings(sections: Sequence[SectionOnHand], *, system: UnitSystem) -> Iterator[Finding]:
    """Yield a finding for every line whose kilometres drifted since the campaign before."""
    lines: dict[str, list[SectionOnHand]] = defaultdict(list)
    for one in sections:
        if one.earlier is not None:
            lines[line_name(one)].append(one)
    for name, members in lines.items():
        drift = drift_by_name(members) or drift_by_pattern(members)
        if drift is not None:
            yield _finding(name, members[0], drift, system)


def drift_by_name(sections: Sequence[SectionOnHand]) -> Drift | None:
    """Return the largest drift that sections of the same name show, or ``None``."""
    moved = [
        (one.record.km, one.record.km - one.earlier.km)
        for one in sections
        if one.earlier is not None and one.earlier.km is not None
    ]
    far = [(km, shift) for km, shift in moved if abs(shift) > LEAST_DRIFT_KM]
    same_way = len({math.copysign(1.0, shift) for _, shift in far}) == 1
    if len(far) < LEAST_SECTIONS or not same_way:
        return None
    return Drift(
        shift_km=max((shift for _, shift in far), key=abs),
        uncertainty_km=LEAST_DRIFT_KM,
        from_km=min(km for km, _ in far),
        to_km=max(km for km, _ in far),
        how="sections of the same name lie apart",
    )


def drift_by_pattern(sections: Sequence[SectionOnHand]) -> Drift | None:
    """Return the drift that makes the wear of both campaigns most alike, or ``None``."""
    for name in PATTERNS:
        now = [(one.record.km, _value(one.measures.get(name))) for one in sections]
        before = [
            (one.earlier.km, _value(one.earlier.measures.get(name)))
            for one in sections
            if one.earlier is not None and one.earlier.km is not None
        ]
        if not now or not before:
            return None
        later, first = np.array(now).T, np.array(before).T
        found = kilometre_drift(first[0], first[1], km_b=later[0], measure_b=later[1])
        if found.shift_km is None or found.uncertainty_km is None:
            continue
        if abs(found.shift_km) > max(LEAST_DRIFT_KM, 3.0 * found.uncertainty_km):
            return Drift(
                shift_km=found.shift_km,
                uncertainty_km=found.uncertainty_km,
                from_km=float(later[0].min()),
                to_km=float(later[0].max()),
                how="the pattern of wear lies apart",
            )
    return None


def _value(measured: Measured | None) -> float:
    return math.nan if measured is None or measured.value is None else measured.value


def _finding(name: str, first: SectionOnHand, drift: Drift, system: UnitSystem) -> Finding:
    campaign = first.record.campaign
    why = f"kilometre-drift: {drift.how} by up to {1000.0 * drift.shift_km:.0f} m"
    measured = Measured.of(
        1000.0 * drift.shift_km, "m", finding_a_section=1000.0 * drift.uncertainty_km
    )
    return finding(
        Subject(kind="line", asset=name, group=name),
        "kilometre_drift",
        verdict=Verdict(word=Word.AGAIN, measured=measured, limit=None, why_not=why),
        reason=Reason(
            code="kilometre-drift",
            values={
                "campaign": campaign,
                "drift_m": abs(1000.0 * drift.shift_km),
                "way": "ahead of" if drift.shift_km > 0.0 else "behind",
                "from_km": drift.from_km,
                "to_km": drift.to_km,
                "found": drift.how,
            },
        ),
        system=system,
    )
