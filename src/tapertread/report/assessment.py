"""The report of one assessed survey: what is said, in which order, for people who decide.

First what it is and what it is not, then the headline numbers and the gravest findings with their
pictures, then line, fleet and every verdict, and at the end all that it rests on.
"""

from __future__ import annotations

from collections.abc import Sequence

from tapertread.limits.verdicts import Word
from tapertread.report.cards import finding_card
from tapertread.report.document import (
    Block,
    Caution,
    Columns,
    Document,
    Figure,
    KeyNumber,
    KeyNumbers,
    Paragraph,
    Section,
    VerdictCount,
)
from tapertread.report.figures import LinePicture, fleet_picture, line_strips
from tapertread.report.grounds import (
    how_made,
    how_sure,
    limits_used,
    sources_used,
    verdict_table,
    what_was_refused,
)
from tapertread.report.inputs import AssessmentLike, SectionLike, WheelsetLike
from tapertread.study.records import one_for_each_asset

TOP_FINDINGS = 8
"""So many findings get a card with pictures; the table holds all."""

CAUTIONS = (
    "This report supports decisions; it takes none. It is never a clearance to run a vehicle or to "
    "open a track.",
    "Local rules, the owner's standards and licensed or authorised persons decide.",
    "A verdict holds for the outlines as measured, with the limits and editions named beside it. "
    "Read your own copy of each limit before relying on it.",
    "Steering is judged by shape alone: springs, cant deficiency and traction can still press a "
    "flange against a rail.",
)


def assessment_report(assessment: AssessmentLike) -> Document:
    """Return the report of an assessment.

    Parameters
    ----------
    assessment : AssessmentLike
        What was found; see `tapertread.report.inputs`.

    Returns
    -------
    Document
        Ready for any writer.
    """
    sections = (
        Section(name="cautions", title="Before you read", blocks=(_cautions(assessment),)),
        Section(name="overview", title="At a glance", blocks=_overview(assessment)),
        Section(name="findings", title="Gravest findings", blocks=_findings(assessment)),
        Section(name="line", title="The line", blocks=_lines(assessment)),
        Section(name="fleet", title="The fleet", blocks=_fleet(assessment)),
        Section(name="verdicts", title="Every verdict", blocks=verdict_table(assessment)),
        Section(name="refused", title="Not used", blocks=what_was_refused(assessment)),
        Section(name="certainty", title="How sure", blocks=how_sure(assessment)),
        Section(name="limits", title="Limits used", blocks=limits_used(assessment)),
        Section(name="sources", title="Sources", blocks=sources_used(assessment)),
        Section(name="making", title="How it was made", blocks=how_made(assessment)),
    )
    return Document(
        title=assessment.name,
        subtitle=_subtitle(assessment),
        opening=_opening(assessment),
        sections=sections,
        units=assessment.units,
    )


def _subtitle(assessment: AssessmentLike) -> str:
    campaigns = list(assessment.campaigns)
    if not campaigns:
        return "Wheels and rails, assessed"
    earlier = f"; earlier campaigns: {', '.join(campaigns[:-1])}" if campaigns[:-1] else ""
    return f"Wheels and rails, assessed from the campaign {campaigns[-1]}{earlier}"


def _opening(assessment: AssessmentLike) -> tuple[Block, ...]:
    what = Paragraph(
        tone="lead",
        text="Every measured wheel and rail was cleaned, set against its design and gauged; every "
        "wheelset was put on the track it runs on, to see where it touches, how it steers and "
        "whether it needs its flange. Each verdict stands beside its measured value, how sure that "
        "is, the limit it was held to, and the reason in one sentence.",
    )
    if not assessment.invented:
        return (what,)
    banner = Caution(
        title="Invented railway",
        items=(
            "This survey is made up to show the work. No wheel, rail, line or fleet in it exists.",
        ),
        banner=True,
    )
    return (banner, what)


def _cautions(assessment: AssessmentLike) -> Caution:
    recalled = sum(limit.status == "MEMORY" for limit in assessment.limits)
    items = list(CAUTIONS)
    if recalled:
        items.append(
            "Limits recalled from memory are marked so; check them first: "
            f"{recalled} of {len(assessment.limits)} used."
        )
    doubtful = sorted(_doubtful_shapes(assessment))
    if doubtful:
        items.append(f"Shapes of doubtful figures are used: {', '.join(doubtful)}.")
    return Caution(title="Cautions", items=tuple(items))


def _doubtful_shapes(assessment: AssessmentLike) -> set[str]:
    shapes = [
        shape
        for picture in assessment.pictures
        for shape in (
            picture.table.wheelset.left,
            picture.table.wheelset.right,
            picture.table.track.left,
            picture.table.track.right,
        )
    ]
    return {shape.origin.label for shape in shapes if shape.origin.status == "doubtful"}


def _overview(assessment: AssessmentLike) -> tuple[Block, ...]:
    words = [finding.word for finding in assessment.findings]
    numbers = KeyNumbers(
        numbers=(
            KeyNumber(label="wheelsets assessed", value=str(len(assessment.wheelsets))),
            KeyNumber(label="sections assessed", value=str(len(assessment.sections))),
            KeyNumber(label="out of limit", value=str(words.count(Word.OUT)), note="verdicts"),
            KeyNumber(label="to act on", value=str(words.count(Word.ACT)), note="verdicts"),
            KeyNumber(
                label="to measure again",
                value=str(words.count(Word.AGAIN)),
                note="within the uncertainty of a limit",
            ),
            KeyNumber(label="measurements not used", value=str(len(assessment.refused))),
        )
    )
    counts = Columns(
        blocks=(
            _count("wheelsets", assessment.wheelsets),
            _count("sections of line", assessment.sections),
        )
    )
    return (numbers, counts)


def _count(subject: str, records: Sequence[WheelsetLike] | Sequence[SectionLike]) -> VerdictCount:
    words = [record.word for record in records]
    ranked = sorted(Word, key=lambda word: word.gravity)
    return VerdictCount(subject=subject, counts=tuple((word, words.count(word)) for word in ranked))


def _findings(assessment: AssessmentLike) -> tuple[Block, ...]:
    top = one_for_each_asset(assessment.findings)[:TOP_FINDINGS]
    if not top:
        return (Paragraph(text="There is no verdict to show."),)
    more = len(assessment.findings) - len(top)
    rest = f"; {more} more stand in the table of every verdict" if more else ""
    opening = Paragraph(text=f"The gravest of each wheelset and section, ranked{rest}.")
    pictures = {picture.finding_id: picture for picture in assessment.pictures}
    cards = [
        finding_card(finding, pictures.get(finding.id), rank=rank, system=assessment.units)
        for rank, finding in enumerate(top, start=1)
    ]
    return (opening, *cards)


def _lines(assessment: AssessmentLike) -> tuple[Block, ...]:
    names = list(dict.fromkeys(stretch.line for stretch in assessment.route))
    if not names:
        return (Paragraph(text="The survey holds no route."),)
    return tuple(_line(assessment, name) for name in names)


def _line(assessment: AssessmentLike, name: str) -> Figure:
    picture = LinePicture(
        stretches=[stretch for stretch in assessment.route if stretch.line == name],
        sections=[section for section in assessment.sections if section.line == name],
        limits=assessment.limits,
    )
    return Figure(
        panels=(line_strips(picture, system=assessment.units),),
        caption=f"{name} along its length: how it bends and leans, how fast it is run, the verdict "
        "of every measured section, and its wear. Bars are expanded uncertainties (k = 2).",
        wide=True,
    )


def _fleet(assessment: AssessmentLike) -> tuple[Block, ...]:
    if not assessment.wheelsets:
        return (Paragraph(text="The survey holds no wheelset."),)
    svg = fleet_picture(assessment.wheelsets, limits=assessment.limits, system=assessment.units)
    caption = (
        "Every wheelset with its gravest verdict, gravest first within each fleet; the arrowheads "
        "point to the side of their wheel."
    )
    return (Figure(panels=(svg,), caption=caption, wide=True),)
