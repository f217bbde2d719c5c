"""What changed since the campaign before, what cannot have, and kilometres that drift."""

from dataclasses import replace

import numpy as np
import pytest

from tapertread.limits import Word
from tapertread.shapes.measured import Measured
from tapertread.study.changes import (
    FLANGE,
    SIDE_OF_RAIL,
    changes_since,
    exchanged_findings,
    sides_exchanged,
)
from tapertread.study.drift import drift_by_name, drift_by_pattern, drift_findings
from tapertread.study.records import Subject
from tapertread.study.states import Earlier, SectionOnHand, WheelsetOnHand

NOTHING = {"left": None, "right": None}


def both(quantity, left, right, unsure=0.05):
    return {
        f"{quantity}.left": Measured.of(left, "mm", noise=unsure),
        f"{quantity}.right": Measured.of(right, "mm", noise=unsure),
    }


def earlier(measures, km=None):
    return Earlier(campaign="before", date="2030-04-01", measures=measures, km=km)


def test_changes_are_now_minus_before_with_both_uncertainties():
    now, before = both("flange_thickness_mm", 30.0, 29.0), both("flange_thickness_mm", 30.5, 29.0)
    changes = changes_since(now, earlier(before))
    assert changes["flange_thickness_mm.left"].value == pytest.approx(-0.5)
    assert changes["flange_thickness_mm.left"].uncertainty == pytest.approx(0.05 * np.sqrt(2.0))


def test_no_campaign_before_no_changes():
    assert changes_since(both("flange_thickness_mm", 30.0, 29.0), None) == {}


def test_what_one_campaign_lacks_has_no_change():
    now = both("side_wear_mm", 3.0, 0.2)
    before = {"side_wear_mm.left": Measured.missing("mm", "a gap")}
    assert changes_since(now, earlier(before)) == {}
    bare = {"side_wear_mm.left": Measured(value=2.0, unit="mm")}
    change = changes_since(now, earlier(bare))["side_wear_mm.left"]
    assert change.value == pytest.approx(1.0)
    assert change.uncertainty is None


@pytest.mark.parametrize(
    ("now", "before", "told"),
    [
        ((31.9, 26.0), (26.4, 32.0), True),  # what the left had, the right has
        ((26.0, 31.9), (26.4, 32.0), False),  # ordinary wear
        ((32.4, 32.4), (26.4, 32.0), False),  # turned: both gained or kept
        ((31.9, 30.0), (26.4, 32.0), False),  # exchanged, the left would have gained 3.6 mm
        ((31.95, 31.8), (31.8, 32.0), False),  # too alike to tell
    ],
)
def test_exchanged_flanges(now, before, told):
    quantity = "flange_thickness_mm"
    assert sides_exchanged(both(quantity, *now), both(quantity, *before), wear=FLANGE) is told


@pytest.mark.parametrize(
    ("now", "before", "told"),
    [
        ((0.3, 9.0), (8.5, 0.2), True),
        ((9.0, 0.3), (8.5, 0.2), False),
        ((0.0, 0.3), (8.5, 0.2), False),  # the left rail was renewed
    ],
)
def test_exchanged_rails(now, before, told):
    quantity = "side_wear_mm"
    assert sides_exchanged(both(quantity, *now), both(quantity, *before), wear=SIDE_OF_RAIL) is told


def test_exchanging_needs_all_four_readings():
    quantity = "flange_thickness_mm"
    now, before = both(quantity, 31.9, 26.0), both(quantity, 26.4, 32.0)
    lacking = {**before, f"{quantity}.left": Measured.missing("mm", "refused")}
    bare = {**before, f"{quantity}.left": Measured(value=26.4, unit="mm")}
    for each in (lacking, bare, {}):
        assert not sides_exchanged(now, each, wear=FLANGE)


def test_exchanged_sides_are_a_finding_that_asks_to_measure_again(vehicle, wheelset_record):
    quantity = "flange_thickness_mm"
    one = WheelsetOnHand(
        record=wheelset_record(),
        vehicle=vehicle(),
        sides=NOTHING,
        measures=both(quantity, 31.9, 26.0),
        earlier=earlier(both(quantity, 26.4, 32.0)),
    )
    subject = Subject(kind="wheelset", asset="W1")
    (found,) = exchanged_findings(one, subject, system="metric")
    assert found.word is Word.AGAIN
    assert "exchanged" in found.why
    assert "before" in found.why
    assert exchanged_findings(replace(one, earlier=None), subject, system="metric") == []


@pytest.fixture
def section(section_record):
    def make(name, km, before_km, wear=0.0, before=0.0):
        return SectionOnHand(
            record=section_record(section=name, km=km),
            piece=None,
            sides=NOTHING,
            measures=both("side_wear_mm", wear, 0.0),
            earlier=earlier(both("side_wear_mm", before, 0.0), km=before_km),
        )

    return make


def test_sections_that_keep_their_place_do_not_drift(section):
    members = [section(f"S{at}", float(at), float(at) + 0.001) for at in range(6)]
    assert drift_by_name(members) is None
    assert list(drift_findings(members, system="metric")) == []


def test_a_counter_that_runs_ahead_is_told_by_the_names_of_sections(section):
    members = [section(f"S{at}", at * 1.002, float(at)) for at in range(1, 11)]
    drift = drift_by_name(members)
    assert drift.shift_km == pytest.approx(0.02)
    assert drift.from_km == pytest.approx(3 * 1.002)  # the first beyond 5 m
    (found,) = drift_findings(members, system="metric")
    assert found.word is Word.AGAIN
    assert str(found.subject) == "line L 1"
    assert "20 m ahead of" in found.why


def test_sections_moved_to_either_side_are_no_drift(section):
    members = [section(f"S{at}", at + 0.02 * (-1.0) ** at, float(at)) for at in range(8)]
    assert drift_by_name(members) is None


def test_two_sections_do_not_make_a_drift(section):
    members = [section("A", 1.02, 1.0), section("B", 2.02, 2.0), section("C", 3.0, 3.0)]
    assert drift_by_name(members) is None


def test_sections_without_names_in_common_are_told_by_their_pattern(section):
    """The same wear along a kilometre, 40 m further on in the second campaign."""
    places = np.arange(0.0, 2.0, 0.02)
    pattern = np.interp(
        np.arange(-1.0, 3.0, 0.01),
        np.arange(-1.0, 3.0, 0.1),
        np.random.default_rng(5).uniform(0.0, 6.0, 40),
    )
    wear = np.interp(places, np.arange(-1.0, 3.0, 0.01), pattern)
    later = np.interp(places - 0.04, np.arange(-1.0, 3.0, 0.01), pattern)
    members = [
        section(f"S{at}", float(km), float(km), wear=1.1 * float(b), before=float(a))
        for at, (km, a, b) in enumerate(zip(places, wear, later, strict=True))
    ]
    assert drift_by_name(members) is None
    drift = drift_by_pattern(members)
    assert drift.shift_km == pytest.approx(0.04, abs=0.005)
    (found,) = drift_findings(members, system="metric")
    assert "pattern" in found.why


def test_a_first_campaign_cannot_drift(section):
    members = [replace(section("A", 1.0, 1.0), earlier=None)]
    assert list(drift_findings(members, system="metric")) == []
