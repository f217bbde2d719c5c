"""What every assessment promises, held on both invented railways."""

import json
import math

import pytest

from tapertread.limits import Word
from tapertread.report import assessment_report, write_html
from tapertread.sources import all_sources
from tapertread.study.held import CRACK
from tapertread.study.pictures import pictures_of

CONTRACT = {
    "survey",
    "wheelsets",
    "sections",
    "findings",
    "plan",
    "report",
    "timings_s",
    "sources",
    "notes",
}
FINDING = {
    "id",
    "subject",
    "verdict",
    "measured",
    "uncertainty",
    "limit",
    "unit",
    "edition",
    "source",
    "why",
}


def every_number(value):
    if isinstance(value, dict):
        for one in value.values():
            yield from every_number(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from every_number(one)
    elif isinstance(value, float):
        yield value


def test_every_wheelset_and_section_of_the_last_campaign_appears(either_demo):
    truth, last = either_demo.truth, either_demo.campaign
    assert {one.wheelset for one in either_demo.assessment.wheelsets} == {
        name for name, campaign in truth.wheelsets if campaign == last
    }
    assert {one.section for one in either_demo.assessment.sections} == {
        name for name, campaign in truth.sections if campaign == last
    }
    assert {one.campaign for one in either_demo.assessment.wheelsets} == {last}


def test_the_word_of_each_is_the_gravest_of_its_findings(either_demo):
    assessed = either_demo.assessment
    for name, word in [
        *((one.wheelset, one.word) for one in assessed.wheelsets),
        *((one.section, one.word) for one in assessed.sections),
    ]:
        words = [
            one.word
            for one in either_demo.findings(name)
            if not one.quantity.startswith("inspection_")
        ]
        assert word is min(words, key=lambda each: each.gravity), name


def test_findings_are_ranked_and_named_once(either_demo):
    found = either_demo.assessment.findings
    assert [one.rank for one in found] == list(range(1, len(found) + 1))
    assert len({one.id for one in found}) == len(found)
    gravities = [one.word.gravity for one in found if one.quantity != CRACK]
    assert gravities == sorted(gravities)
    for crack in (one for one in found if one.quantity == CRACK):
        before = {one.word for one in found[: crack.rank - 1] if one.quantity != CRACK}
        assert before <= {Word.OUT}  # no shape clears a crack, so hardly anything stands before it


def test_json_is_strict_and_keeps_its_contract(either_demo):
    plain = either_demo.assessment.to_dict()
    again = json.loads(json.dumps(plain, allow_nan=False))
    assert set(again) >= CONTRACT
    assert again["plan"] is None
    assert any(note.startswith("plan:") for note in again["notes"])
    assert again["report"] == {"html": None, "pdf": None}
    for finding in again["findings"]:
        assert set(finding) >= FINDING
        assert finding["why"].endswith(".")


def test_a_verdict_names_limit_edition_and_source_or_says_why_it_cannot(either_demo):
    for one in either_demo.assessment.findings:
        measured, limit = one.verdict.measured, one.limit
        if one.word in (Word.OUT, Word.ACT) or (
            one.word in (Word.WATCH, Word.SOUND) and one.quantity != "outline_trust"
        ):
            assert limit is not None, one.id
            assert limit.edition, one.id
            assert limit.source in all_sources(), one.id
            assert measured.value is not None, one.id
            assert measured.expanded is not None, one.id
        elif one.quantity == "outline_trust":
            assert one.verdict.why_not, one.id
        else:
            assert one.word in (Word.AGAIN, Word.NOT_ASSESSED), one.id
            assert one.verdict.why_not or measured.reason, one.id


def test_no_nan_and_no_infinity_reaches_a_verdict(either_demo):
    plain = either_demo.assessment.to_dict()
    assert all(math.isfinite(one) for one in every_number(plain))
    for one in either_demo.assessment.findings:
        value, unsure = one.verdict.measured.value, one.verdict.measured.uncertainty
        assert value is None or math.isfinite(value), one.id
        assert unsure is None or math.isfinite(unsure), one.id


def test_limits_and_sources_used_are_the_ones_listed(either_demo):
    assessed = either_demo.assessment
    used = {one.limit.id for one in assessed.findings if one.limit is not None}
    assert {one.id for one in assessed.limits} == used
    assert {one.source for one in assessed.limits} <= set(assessed.sources)


def test_reading_changes_no_byte_of_the_survey(either_demo):
    assert either_demo.bytes_before == either_demo.bytes_after


def test_pictures_belong_to_findings_and_stand_on_contact(either_demo):
    assessed = either_demo.assessment
    known = {one.id: one for one in assessed.findings}
    assert len(assessed.pictures) >= 5
    for picture in assessed.pictures:
        assert picture.finding_id in known
        assert math.isfinite(float(picture.table.roll_rad[picture.shift_index]))


def test_a_picture_of_a_section_shows_the_wheelset_that_the_finding_names(main_demo):
    ours = [
        one
        for one in main_demo.assessment.findings
        if one.subject.kind == "section" and one.against and one.word is Word.ACT
    ]
    assert ours
    drawn = pictures_of(ours, wheelsets=main_demo.wheelsets, ground=main_demo.ground())
    assert [one.finding_id for one in drawn] == [one.id for one in ours]
    for one, picture in zip(ours, drawn, strict=True):
        named = main_demo.wheelsets[one.against].shape()
        assert picture.table.wheelset.mean_radius_mm == pytest.approx(named.mean_radius_mm)


def test_the_report_says_invented_cautions_and_every_finding(either_demo, tmp_path):
    page = tmp_path / "report.html"
    write_html(assessment_report(either_demo.assessment), page)
    text = page.read_text(encoding="utf-8")
    assert "never a clearance to run" in text
    assert "Invented railway" in text
    assert either_demo.assessment.findings[0].subject.asset in text


def test_wear_since_the_campaign_before_goes_one_way(main_demo):
    """Metal does not come back (common practice, no source), unless it was turned or renewed."""
    truth, now = main_demo.truth, main_demo.campaign
    checked = 0
    for one in main_demo.assessment.wheelsets:
        if truth.wheelsets[one.wheelset, now].event or main_demo.findings(
            one.wheelset, "sides_swapped"
        ):
            continue
        for side in ("left", "right"):
            change = one.changes.get(f"flange_thickness_mm.{side}")
            if change is not None and not main_demo.findings(one.wheelset, "outline_trust"):
                assert change.value <= 3.0 * change.uncertainty, one.wheelset
                checked += 1
    assert checked > 60


def test_changes_are_now_minus_before(main_demo):
    """Against the truth of both campaigns, for wear of rails that were not touched."""
    before, now = main_demo.truth.campaigns
    errors, inside = [], []
    for one in main_demo.assessment.sections:
        for side in ("left", "right"):
            planted = main_demo.truth.planted_on(one.section, campaign=now, side=side)
            planted += main_demo.truth.planted_on(one.section, campaign=before, side=side)
            change = one.changes.get(f"side_wear_mm.{side}")
            if change is None or planted:
                continue
            truth = [
                main_demo.truth.sections[one.section, when].rail(side).measures["side_wear_mm"]
                for when in (before, now)
            ]
            errors.append(abs(change.value - (truth[1] - truth[0])))
            inside.append(errors[-1] < 1.645 * change.uncertainty)
    assert len(errors) > 50
    assert sorted(errors)[int(0.95 * len(errors))] < 0.25
    assert 0.80 < sum(inside) / len(inside) <= 1.0
