"""Every fault planted in the invented railways is named, or it is said here why it cannot be."""

import pytest

from tapertread.limits import Word

BY_OUTLINE = {
    "flange-back-worn",
    "burr-on-rim",
    "lip-on-gauge-corner",
    "stylus-ball-not-removed",
    "section-not-square",
    "stitch-step",
    "glint",
    "grease",
    "smoothed-or-extrapolated-end",
    "scale-error",
    "datum-bias",
    "tilt",
    "correlated-noise",
}
"""Faults that an outline shows by itself."""

NOT_SEEN = {
    "lip-on-field-flank": (
        "metal pushed over the field flank looks like the flank of a rail that stands elsewhere; "
        "only a neighbouring section or the campaign before can tell"
    )
}

MISSED = {
    ("us", "MP05", "left", "grease"): (
        "a smear of 0.5 mm on a corner that wear has changed by more: the smear ends as softly as "
        "a worn corner does"
    ),
}
"""Planted, allowed to be missed, and why; a fault that is found after all may leave this list."""


def traps_of(demo, asset, side):
    """Return the names of all traps on an asset's outlines of a side (or any, if empty)."""
    pool = demo.wheelsets if asset in demo.wheelsets else demo.sections
    return {
        trap.name
        for where, outline in pool[asset].sides.items()
        if outline is not None and side in ("", where)
        for trap in outline.traps
    }


def planted(demo, *traps):
    return [
        one
        for one in demo.truth.planted
        if one.campaign == demo.campaign and (not traps or one.trap in traps)
    ]


def test_every_planted_fault_of_an_outline_is_named_on_that_outline(either_demo):
    ours = planted(either_demo, *BY_OUTLINE)
    assert ours
    for one in ours:
        if (either_demo.truth.which, one.asset, one.side, one.trap) in MISSED:
            continue
        assert one.trap in traps_of(either_demo, one.asset, one.side), one


def test_every_kind_of_fault_is_looked_for_somewhere(either_demo):
    known = BY_OUTLINE | set(NOT_SEEN)
    known |= {"sides-swapped", "kilometre-drift"}
    known |= {"missing-diameter", "missing-outline", "nominal-gauge-only"}
    assert {one.trap for one in planted(either_demo)} <= known


def test_marked_and_refused_outlines_are_findings_with_their_reason(either_demo):
    for pool, kind in ((either_demo.wheelsets, "wheel"), (either_demo.sections, "rail")):
        for name, one in pool.items():
            for side, outline in one.sides.items():
                found = [
                    each
                    for each in either_demo.findings(name, "outline_trust")
                    if each.subject.side == side
                ]
                if outline is None:
                    continue
                if outline.trust == "trusted":
                    assert not found
                    continue
                assert [each.subject.kind for each in found] == [kind]
                word = Word.AGAIN if outline.trust == "refused" else Word.WATCH
                assert found[0].word is word
                assert found[0].reason.values["trap"] in found[0].why


def test_nothing_is_concluded_from_a_refused_outline(main_demo):
    (one,) = planted(main_demo, "stylus-ball-not-removed")
    subject = [f for f in main_demo.findings(one.asset) if f.subject.side == one.side]
    assert {f.word for f in subject} == {Word.AGAIN, Word.NOT_ASSESSED}
    steering = main_demo.the(one.asset, "tread_steering_share")
    assert steering.word is Word.NOT_ASSESSED
    assert "cannot be trusted" in steering.why
    assert any(one.asset in each.subject for each in main_demo.assessment.refused)


def test_exchanged_sides_are_seen_by_the_campaign_before_and_nowhere_else(either_demo):
    told = {
        f.subject.asset for f in either_demo.assessment.findings if f.quantity == "sides_swapped"
    }
    assert told == {one.asset for one in planted(either_demo, "sides-swapped")}


def test_drifting_kilometres_are_told_with_their_size(main_demo, us_demo):
    (one,) = planted(main_demo, "kilometre-drift")
    (found,) = [f for f in main_demo.assessment.findings if f.quantity == "kilometre_drift"]
    assert str(found.subject).endswith(one.asset)
    assert found.word is Word.AGAIN
    drifts = [
        abs(section.record.km - main_demo.truth.sections[name, main_demo.campaign].km)
        for name, section in main_demo.sections.items()
    ]
    assert found.verdict.measured.value == pytest.approx(1000.0 * max(drifts), abs=1.0)
    assert 1000.0 * max(drifts) <= one.size
    assert not [f for f in us_demo.assessment.findings if f.quantity == "kilometre_drift"]


def test_what_was_not_measured_is_not_assessed_for_that_reason(either_demo):
    for one in planted(either_demo, "missing-diameter"):
        assert either_demo.the(one.asset, "tread_steering_share").word is Word.NOT_ASSESSED
        assert "diameter" in either_demo.the(one.asset, "tread_steering_share").why
        (wheelset,) = [w for w in either_demo.assessment.wheelsets if w.wheelset == one.asset]
        assert wheelset.measures["diameter_difference_mm"].value is None
    for one in planted(either_demo, "missing-outline"):
        if one.asset in either_demo.wheelsets:
            steering = either_demo.the(one.asset, "tread_steering_share")
            assert steering.word is Word.NOT_ASSESSED
            assert f"no {one.side} outline" in steering.why
        else:
            assert not either_demo.crossing.by_section.get(one.asset)


def test_a_nominal_gauge_is_not_judged_and_the_section_says_so(either_demo):
    ours = planted(either_demo, "nominal-gauge-only")
    assert ours
    for one in ours:
        (section,) = [s for s in either_demo.assessment.sections if s.section == one.asset]
        assert section.measures["gauge_mm"].value is None
        assert any("only nominal" in note for note in section.notes)
        assert {f.word for f in either_demo.findings(one.asset, "gauge_mm")} <= {Word.NOT_ASSESSED}


def test_missing_outlines_are_findings_too(either_demo):
    for one in planted(either_demo, "missing-outline"):
        found = either_demo.the(one.asset, "outline_trust", one.side)
        assert found.word is Word.NOT_ASSESSED
        assert found.reason.code == "outline-missing"
