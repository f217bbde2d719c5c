"""The report of an assessment: order, cautions, limits beside verdicts, nothing left out."""

from dataclasses import replace

import numpy as np
import pytest

from tapertread.errors import SourceUnknown
from tapertread.limits.verdicts import Word
from tapertread.report import assessment_report, page
from tapertread.report.document import (
    Bibliography,
    Caution,
    Figure,
    FindingCard,
    LimitShown,
    Noted,
    Paragraph,
    Table,
    VerdictCount,
)
from tapertread.report.inputs import AssessmentLike
from tapertread.shapes.outline import Origin


@pytest.fixture(scope="module")
def document(assessment):
    return assessment_report(assessment)


def blocks(document, kind):
    return [block for block in document.walk() if isinstance(block, kind)]


def part(document, name):
    (found,) = [section for section in document.sections if section.name == name]
    return found.blocks


def test_the_made_up_assessment_is_what_the_report_asks_for(assessment):
    assert isinstance(assessment, AssessmentLike)


def test_reading_order(document):
    assert [section.name for section in document.sections] == [
        "cautions", "overview", "findings", "line", "fleet", "verdicts", "refused",
        "certainty", "limits", "sources", "making",
    ]  # fmt: skip


def test_an_invented_railway_is_marked_before_anything_else(document, make_assessment):
    first = document.opening[0]
    assert isinstance(first, Caution)
    assert first.banner
    real = assessment_report(make_assessment(invented=False))
    assert not [c for c in blocks(real, Caution) if c.banner]


def test_every_report_warns_that_it_is_no_clearance(make_assessment):
    for invented in (True, False):
        document = assessment_report(make_assessment(invented=invented))
        text = " ".join(item for c in blocks(document, Caution) for item in c.items)
        assert "never a clearance" in text
        assert "authorised persons decide" in text


def test_recalled_limits_and_doubtful_shapes_are_named(make_assessment, table):
    rail = replace(table.track.left, origin=Origin(name="rail X", status="doubtful"))
    bad = replace(table, track=replace(table.track, left=rail))
    base = make_assessment()
    changed = replace(base, pictures=(replace(base.pictures[0], table=bad),))
    (caution,) = part(assessment_report(changed), "cautions")
    assert any("1 of 2 used" in item for item in caution.items)
    assert any("rail X (doubtful)" in item for item in caution.items)


def test_the_gravest_findings_get_cards_in_order(document, assessment):
    cards = blocks(document, FindingCard)
    assert [c.rank for c in cards] == [1, 2, 3, 4]
    assert [c.name for c in cards] == [f.id for f in assessment.findings]
    assert all(c.why for c in cards)


def test_a_finding_with_a_pairing_shows_cross_section_and_curve(document):
    card = blocks(document, FindingCard)[0]
    section, curve = card.figures
    assert len(section.panels) == 4
    assert "Rolling radius difference" in curve.panels[0]
    assert "280 m left" in section.caption


def test_a_shift_without_contact_is_said_and_nothing_is_moved(make_assessment, table):
    roll = np.where(np.arange(table.roll_rad.size) == 24, np.nan, table.roll_rad)
    base = make_assessment()
    lost = replace(base.pictures[0], table=replace(table, roll_rad=roll), shift_index=24)
    document = assessment_report(replace(base, pictures=(lost,)))
    card = blocks(document, FindingCard)[0]
    assert card.note == "No cross-section is drawn: no stable contact at 4 mm shift."
    assert len(card.figures) == 1, "the curve is still there"
    assert card.note in page(document)


def test_a_finding_without_pairing_or_value_shows_no_picture(document):
    assert blocks(document, FindingCard)[3].figures == ()


def test_more_findings_than_cards_are_told_and_tabled(make_assessment):
    base = make_assessment()
    one = base.findings[1]
    many = tuple(
        replace(one, id=f"F1{k:02d}", subject=replace(one.subject, asset=f"W{k:02d}"))
        for k in range(20)
    )
    document = assessment_report(replace(base, findings=many, pictures=()))
    assert len(blocks(document, FindingCard)) == 8
    texts = [b.text for b in part(document, "findings") if isinstance(b, Paragraph)]
    assert any("12 more" in text for text in texts)
    (table,) = part(document, "verdicts")
    assert len(table.rows) == 20


def test_an_asset_has_one_card_and_keeps_every_row(make_assessment):
    base = make_assessment()
    same = tuple(replace(base.findings[1], id=f"F1{k:02d}") for k in range(3))
    document = assessment_report(replace(base, findings=same, pictures=()))
    assert [card.name for card in blocks(document, FindingCard)] == ["F100"]
    (table,) = part(document, "verdicts")
    assert len(table.rows) == 3


def test_every_verdict_stands_beside_limit_edition_and_status(document, assessment):
    (table,) = part(document, "verdicts")
    assert isinstance(table, Table)
    assert len(table.rows) == len(assessment.findings)
    for row, finding in zip(table.rows, assessment.findings, strict=True):
        assert finding.word in row
        shown = [c for c in row if isinstance(c, Noted) and isinstance(c.cell, LimitShown)]
        if finding.limit is not None:
            (cell,) = shown
            assert cell.cell.limit is finding.limit
            assert finding.limit.edition in cell.note
            assert "[" in cell.note
        assert finding.why in row


def test_counts_add_up(document, assessment):
    wheelsets, sections = blocks(document, VerdictCount)
    assert wheelsets.total == len(assessment.wheelsets)
    assert sections.total == len(assessment.sections)
    assert {w for w, _ in wheelsets.counts} == set(Word)


def test_the_bibliography_holds_used_sources_and_those_of_limits(document):
    (found,) = blocks(document, Bibliography)
    assert [s.key for s in found.sources] == ["en15313-2016", "klingel-1883", "trade-practice"]


def test_an_unknown_source_is_refused(make_assessment):
    with pytest.raises(SourceUnknown, match="nobody-1900"):
        assessment_report(make_assessment(sources=("nobody-1900",)))


def test_uncertainty_names_its_main_cause(document):
    table = next(b for b in part(document, "certainty") if isinstance(b, Table))
    causes = {row[0]: row[4] for row in table.rows}
    assert causes["flange thickness"] == "datum"
    assert causes["rim thickness"] == ""


def test_each_line_is_drawn_on_its_own(make_assessment, stretches):
    other = tuple(replace(s, line="Valley line") for s in stretches)
    document = assessment_report(make_assessment(route=(*stretches, *other)))
    figures = part(document, "line")
    assert len(figures) == 2
    assert all(isinstance(f, Figure) and f.wide for f in figures)
    assert "Valley line" in figures[1].caption


def test_an_empty_survey_still_makes_a_whole_report(make_assessment):
    document = assessment_report(
        make_assessment(
            campaigns=(), wheelsets=(), sections=(), findings=(), pictures=(), route=(),
            refused=(), limits=(), sources=(), timings_s={}, notes=(),
        )
    )  # fmt: skip
    text = page(document)
    for words in ("no route", "no wheelset", "no verdict to show", "Every measurement"):
        assert words in text


def test_us_surveys_are_shown_in_us_units(make_assessment):
    document = assessment_report(make_assessment(units="us"))
    assert document.units == "us"
    assert 'data-units="us"' in page(document)
    card = blocks(document, FindingCard)[0]
    assert " in " in card.figures[0].caption


def test_the_model_holds_no_markup_but_pictures(document):
    for block in document.walk():
        if isinstance(block, Paragraph):
            assert "<" not in block.text
