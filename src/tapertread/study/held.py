"""Measures held against limits: from a measured value to a finding."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace

from tapertread.limits import LimitSet, Verdict, Word, judge
from tapertread.limits.conditions import Known
from tapertread.shapes.measured import Measured
from tapertread.study.records import Finding, Reason, Subject
from tapertread.study.sentences import sentence, verdict_reason
from tapertread.units import UnitSystem

BY_WHEELSET = frozenset({"diameter_difference_mm", "back_to_back_mm", "active_flange_spacing_mm"})


CRACK = "inspection_crack"
"""Quantity of a crack that inspection saw."""


def finding(
    subject: Subject,
    quantity: str,
    *,
    verdict: Verdict,
    reason: Reason,
    system: UnitSystem,
    against: str = "",
) -> Finding:
    """Return a finding with its sentence; its id follows from subject and quantity."""
    parts = (subject.kind, subject.asset, subject.side, quantity)
    name = "-".join(part for part in parts if part != "both")
    return Finding(
        id=re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-"),
        subject=subject,
        quantity=quantity,
        verdict=verdict,
        reason=reason,
        why=sentence(reason, system),
        against=against,
    )


def against_limits(
    subject: Subject,
    quantity: str,
    *,
    measured: Measured,
    limits: LimitSet,
    conditions: Mapping[str, Known],
    system: UnitSystem,
) -> Finding | None:
    """Return the finding on one measure, or ``None`` where the limit sets say nothing of it."""
    if quantity not in limits.quantities:
        return None
    choice = limits.for_quantity(quantity, new_value=None, **conditions)
    if not choice and not choice.needs:
        return None
    verdict = judge(measured, choice)
    return finding(
        subject,
        quantity,
        verdict=verdict,
        reason=verdict_reason(quantity, verdict),
        system=system,
    )


def measures_held(
    subject: Subject,
    measures: Mapping[str, Measured],
    *,
    limits: LimitSet,
    conditions: Mapping[str, Known],
    system: UnitSystem,
) -> list[Finding]:
    """Return the findings on all measures of a wheelset or a section.

    Measures named ``….left`` and ``….right`` belong to one wheel or rail of the subject.
    """
    one_side = {"wheelset": "wheel", "section": "rail"}
    found = []
    for name, measured in measures.items():
        quantity, _, side = name.partition(".")
        about = subject
        if side in ("left", "right"):
            about = Subject(
                kind="wheel" if one_side[subject.kind] == "wheel" else "rail",
                asset=subject.asset,
                side="left" if side == "left" else "right",
                group=subject.group,
            )
        found.append(
            against_limits(
                about,
                quantity,
                measured=measured,
                limits=limits,
                conditions=conditions,
                system=system,
            )
        )
    return [one for one in found if one is not None]


def ranked(findings: Sequence[Finding]) -> tuple[Finding, ...]:
    """Return findings in the order in which they ask for attention, each with its rank from 1.

    First the gravity of the word, then how far beyond the limit relative to the limit's size, then
    the subject's name. A crack seen by inspection stands right after what is out of limit: no shape
    clears it.
    """
    ordered = sorted(findings, key=lambda one: (_gravity(one), -_excess(one), one.id))
    return tuple(replace(one, rank=at) for at, one in enumerate(ordered, start=1))


def _gravity(one: Finding) -> float:
    return Word.OUT.gravity + 0.5 if one.quantity == CRACK else one.word.gravity


def _excess(one: Finding) -> float:
    limit, value = one.verdict.limit, one.verdict.measured.value
    if limit is None or value is None:
        return 0.0
    size = abs(limit.value) or 1.0
    away = (value - limit.value) / size
    return -away if limit.is_lower else away


def gravest_word(findings: Sequence[Finding]) -> Word:
    """Return the gravest word of some findings; nothing found is not assessed."""
    return min(
        (one.word for one in findings), key=lambda word: word.gravity, default=Word.NOT_ASSESSED
    )
