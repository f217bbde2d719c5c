"""What a report rests on: every verdict, what was left out, how sure, limits, sources, making."""

from __future__ import annotations

import platform
from collections import Counter
from collections.abc import Sequence

import numpy as np

from tapertread._version import __version__
from tapertread.limits.verdicts import Limit, Word
from tapertread.report.document import (
    Bibliography,
    Block,
    Bullets,
    Cell,
    Column,
    Details,
    LimitShown,
    Noted,
    Paragraph,
    Quantity,
    Table,
)
from tapertread.report.figures.words import measure_words
from tapertread.report.inputs import AssessmentLike
from tapertread.report.values import count_text, limit_place, status_text
from tapertread.sources import bibliography
from tapertread.study.records import Finding


def verdict_table(assessment: AssessmentLike) -> tuple[Block, ...]:
    """Return all verdicts as one table that can be searched and sorted."""
    columns = (
        Column(title="subject"),
        Column(title="measure"),
        Column(title="verdict"),
        Column(title="measured", number=True),
        Column(title="limit"),
        Column(title="why", prose=True),
    )
    rows = tuple(_verdict_row(finding) for finding in assessment.findings)
    caption = (
        f"{count_text(len(rows), 'verdict')}, gravest first. Uncertainties are expanded (k = 2)."
    )
    return (Table(caption=caption, columns=columns, rows=rows, sortable=True, filterable=True),)


def _verdict_row(finding: Finding) -> tuple[Cell, ...]:
    measured = finding.verdict.measured
    limit = finding.limit
    place = "" if limit is None else f"{limit_place(limit)} [{status_text(limit.status)}]"
    return (
        Noted(cell=str(finding.subject), note=finding.subject.group),
        measure_words(finding.quantity),
        finding.word,
        Quantity(
            value=measured.value,
            unit=measured.unit,
            expanded=measured.expanded,
            reason=measured.reason,
        ),
        "none" if limit is None else Noted(cell=LimitShown(limit=limit), note=place),
        finding.why,
    )


def what_was_refused(assessment: AssessmentLike) -> tuple[Block, ...]:
    """Return the measurements that were not used, each with its reason and place."""
    if not assessment.refused:
        return (Paragraph(text="Every measurement of the survey was used."),)
    rows = tuple((r.subject, r.reason, r.where) for r in assessment.refused)
    columns = (Column(title="measurement"), Column(title="why"), Column(title="where"))
    left_out = count_text(len(rows), "measurement")
    caption = f"{left_out} not used, but kept in the survey all the same."
    return (Table(caption=caption, columns=columns, rows=rows, sortable=True),)


def how_sure(assessment: AssessmentLike) -> tuple[Block, ...]:
    """Return the uncertainty of each measure, its main cause, and what stayed open."""
    by_quantity: dict[str, list[Finding]] = {}
    for finding in assessment.findings:
        by_quantity.setdefault(finding.quantity, []).append(finding)
    rows = tuple(_sure_row(name, found) for name, found in sorted(by_quantity.items()))
    columns = (
        Column(title="measure"),
        Column(title="verdicts", number=True),
        Column(title="median ± (k = 2)", number=True),
        Column(title="largest ± (k = 2)", number=True),
        Column(title="main cause"),
        Column(title="measure again", number=True),
        Column(title="not assessed", number=True),
    )
    opening = Paragraph(
        text="A value is compared with its limit together with its expanded uncertainty (k = 2, "
        "about 95 %). Where the limit lies within it the word is measure again; where a measure is "
        "missing the word is not assessed."
    )
    return (opening, Table(caption="Uncertainty by measure", columns=columns, rows=rows))


def _sure_row(quantity: str, found: Sequence[Finding]) -> tuple[Cell, ...]:
    measured = [finding.verdict.measured for finding in found]
    known = [m.expanded for m in measured if m.value is not None and m.expanded is not None]
    unit = measured[0].unit
    missing = "no uncertainty stated"
    causes = Counter(max(m.parts, key=lambda part: part[1])[0] for m in measured if m.parts)
    words = [finding.word for finding in found]
    return (
        measure_words(quantity),
        str(len(found)),
        Quantity(value=float(np.median(known)) if known else None, unit=unit, reason=missing),
        Quantity(value=max(known) if known else None, unit=unit, reason=missing),
        causes.most_common(1)[0][0] if causes else "",
        str(words.count(Word.AGAIN)),
        str(words.count(Word.NOT_ASSESSED)),
    )


def limits_used(assessment: AssessmentLike) -> tuple[Block, ...]:
    """Return every limit that was applied, with edition, clause, source and status."""
    columns = (
        Column(title="measure"),
        Column(title="allowed", number=True),
        Column(title="level"),
        Column(title="where it stands"),
        Column(title="source"),
        Column(title="how far seen"),
    )
    rows = tuple(_limit_row(limit) for limit in assessment.limits)
    used = count_text(len(rows), "limit or level", "limits and levels")
    caption = f"{used}. Each can be overridden in the survey."
    return (Table(caption=caption, columns=columns, rows=rows, sortable=True),)


def _limit_row(limit: Limit) -> tuple[Cell, ...]:
    return (
        measure_words(limit.quantity),
        LimitShown(limit=limit),
        limit.level,
        limit_place(limit),
        limit.source,
        status_text(limit.status),
    )


def sources_used(assessment: AssessmentLike) -> tuple[Block, ...]:
    """Return the bibliography of what this run really used, limits included."""
    keys = [*assessment.sources, *(limit.source for limit in assessment.limits)]
    return (Bibliography(sources=tuple(bibliography(keys))),)


def how_made(assessment: AssessmentLike) -> tuple[Block, ...]:
    """Return versions, timings and what a reader must know about this run."""
    total = sum(assessment.timings_s.values())
    opening = Paragraph(
        text=f"Made by tapertread {__version__} with Python {platform.python_version()} in "
        f"{total:.1f} s. Dates are those of the campaigns."
    )
    notes = (Bullets(items=tuple(assessment.notes)),) if assessment.notes else ()
    rows = tuple((stage, f"{seconds:.2f}") for stage, seconds in assessment.timings_s.items())
    columns = (Column(title="stage"), Column(title="seconds", number=True))
    table = Table(caption="Time by stage", columns=columns, rows=rows)
    details = (Details(summary="Time by stage", blocks=(table,)),) if rows else ()
    return (opening, *notes, *details)
